"""A control chart: check runs in their order against centre and limits; what fired is marked and said.

Takes a `StandardCharts` and shows one of its charts; asks nobody, computes nothing but where things go."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFont, QKeyEvent, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from benchapp.actions.checks import ChartLine
from benchapp.window import theme


class CheckPlot(QWidget):
    """See the module. Left and Right walk from run to run; `walked` says where."""

    walked = Signal(int)
    """Index of the check run at hand, from 0."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.graphics = pg.GraphicsLayoutWidget(self)
        self.graphics.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.graphics.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)  # Tab would stop at a nameless picture
        self.graphics.setAccessibleName("Control chart")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Control chart: arrow keys walk from check run to check run")
        column = QVBoxLayout(self)
        column.setContentsMargins(3, 3, 3, 3)
        column.addWidget(self.graphics)
        self.lines: tuple[ChartLine, ...] = ()
        self.when: tuple[str, ...] = ()
        self.unit = ""
        self.at = -1
        self._items: list = []
        self._centre_words: pg.TextItem | None = None
        self.main = self.graphics.addPlot(row=0, col=0, enableMenu=False)
        self.main.ctrlMenu.setParent(self.graphics)  # made even when not wanted; without an owner it would stay behind
        self.main.ctrlMenu.hide()
        self.main.hideButtons()
        self.main.setMouseEnabled(x=False, y=False)
        for name in ("left", "bottom"):
            self.main.getAxis(name).enableAutoSIPrefix(False)
        self.graphics.scene().sigMouseClicked.connect(self._clicked)
        theme.WhenSeen(self, self.restyle)
        self.restyle()

    # --- showing ------------------------------------------------------------------------------------------------------

    def show_lines(self, lines: Sequence[ChartLine], when: Sequence[str], unit: str) -> None:
        """Shows these lines (one, or the two sides of a CUSUM); `when` names each run."""
        self.lines, self.when, self.unit = tuple(lines), tuple(when), unit
        self.at = len(self.when) - 1
        self._draw()

    def restyle(self) -> None:
        """Takes the colours and sizes of the theme in force."""
        look = theme.current()
        self.graphics.setBackground(QColor(look.paper))
        font = QFont(QApplication.font())
        font.setPointSizeF(look.points * 0.95)
        for name in ("left", "bottom"):
            axis = self.main.getAxis(name)
            axis.setPen(_pen(look.line, look.line_px))
            axis.setTextPen(QColor(look.ink))
            axis.setTickFont(font)
            axis.setStyle(tickLength=-6, tickTextOffset=6)
        self.main.getAxis("left").setWidth(round(look.points * 7.5))
        self.main.getAxis("bottom").setHeight(round(look.points * 2.2))
        self.main.showGrid(x=False, y=True, alpha=0.10 if look.name == "sunlight" else 0.18)
        self._draw()

    def _draw(self) -> None:
        for item in self._items:
            self.main.removeItem(item)
        self._items, self._centre_words = [], None
        look = theme.current()
        if not self.lines:
            return
        x = np.arange(len(self.when), dtype=float)
        for number, line in enumerate(self.lines):
            self._draw_line(line, x, look.series[number * 2])
        self._draw_limits(self.lines[0], len(x))
        step = max(1, -(-len(x) // 4))
        self.main.getAxis("bottom").setTicks([[(float(n), self.when[n][:10]) for n in range(0, len(x), step)]])
        style = {"color": look.ink, "font-size": f"{look.points:.1f}pt"}
        self.main.setLabel("left", self.unit, **style)
        self.main.setXRange(-0.5, max(len(x) - 0.5, 1.0), padding=0.01)
        low, high = _range(self.lines)
        self.main.setYRange(low, high, padding=0.08)
        self._ring()

    def _draw_line(self, line: ChartLine, x: np.ndarray, colour: str) -> None:
        look = theme.current()
        y = np.array(line.values, dtype=float)
        known = np.isfinite(y)
        self._add(pg.PlotCurveItem(x[known], y[known], pen=_pen(colour, 1.6 * look.scale)), 10)
        fired = np.zeros(len(y), dtype=bool)
        fired[list({index for index, _ in line.fired})] = True
        plain = known & ~fired
        size = 7.0 * look.scale * (1.3 if look.large else 1.0)
        for keep, symbol, ink, times in ((plain, "o", colour, 1.0), (known & fired, "d", look.trouble, 1.9)):
            if keep.any():
                dots = pg.ScatterPlotItem(
                    x=x[keep], y=y[keep], symbol=symbol, size=size * times, pen=_pen(ink, 1.5), brush=QColor(ink)
                )
                self._add(dots, 20)

    def _draw_limits(self, line: ChartLine, count: int) -> None:
        look = theme.current()
        ends = np.array([-0.5, max(count - 0.5, 1.0)])
        for value, name, colour, dash, below in (
            (line.centre, line.centre_name, look.quiet, (1, 3), 1),
            (line.upper, "limit", look.ceiling, (7, 4), 0),  # its words stand inside, below it
            (line.lower, "limit", look.ceiling, (7, 4), 1),
        ):
            if value is None or not isfinite(value):
                continue
            self._add(pg.PlotCurveItem(ends, np.array([value, value]), pen=_pen(colour, 2.0 * look.scale, dash)), 2)
            text = pg.TextItem(f"{name} {value:.3g}", color=colour, anchor=(0, below))
            font = QFont(QApplication.font())
            font.setPointSizeF(look.points * 0.88)
            text.setFont(font)
            back = QColor(look.paper)
            back.setAlphaF(0.75)
            text.fill = QBrush(back)
            text.setPos(-0.45, value)
            self._add(text, 5)
            if name == line.centre_name:
                self._centre_words = text
        self._leave_out()

    def _leave_out(self) -> None:
        """A low chart has room for the words of its limits only; the centre is read at the axis."""
        if self._centre_words is not None:
            self._centre_words.setVisible(self.height() > theme.current().points * 12)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._leave_out()

    def _add(self, item, z: float) -> None:
        item.setZValue(z)
        self.main.addItem(item, ignoreBounds=True)
        self._items.append(item)

    # --- the run at hand ----------------------------------------------------------------------------------------------

    def _ring(self) -> None:
        """Rings the check run at hand."""
        look = theme.current()
        if not 0 <= self.at < len(self.when):
            return
        values = [line.values[self.at] for line in self.lines if isfinite(line.values[self.at])]
        if values:
            size = 18.0 * look.scale
            ring = pg.ScatterPlotItem(
                x=[float(self.at)] * len(values), y=values, size=size, pen=_pen(look.ink, 2.0), brush=QBrush()
            )
            self._add(ring, 40)

    def walk(self, to: int) -> None:
        """Goes to this check run; stops at the ends."""
        if self.when:
            self.at = min(max(to, 0), len(self.when) - 1)
            self._draw()
            self.walked.emit(self.at)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        last = len(self.when) - 1
        to = {
            Qt.Key.Key_Left: self.at - 1,
            Qt.Key.Key_Right: self.at + 1,
            Qt.Key.Key_Home: 0,
            Qt.Key.Key_End: last,
        }.get(Qt.Key(event.key()))
        if to is None:
            super().keyPressEvent(event)
        else:
            self.walk(to)

    def _clicked(self, event) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self.when:
            self.setFocus()
            self.walk(round(self.main.getViewBox().mapSceneToView(event.scenePos()).x()))

    def focusInEvent(self, event) -> None:
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event) -> None:
        super().focusOutEvent(event)
        self.update()

    def paintEvent(self, _event) -> None:
        """The edge says where the keyboard is."""
        painter = QPainter(self)
        look = theme.current()
        painter.setPen(QPen(QColor(look.accent if self.hasFocus() else look.grid), 2 * look.line_px))
        painter.drawRect(self.rect())
        painter.end()


def _pen(colour: str, width: float, dash: tuple[int, ...] = ()) -> QPen:
    made = QPen(QColor(colour), width)
    made.setCosmetic(True)
    if dash:
        made.setDashPattern(list(dash))
    return made


def _range(lines: Sequence[ChartLine]) -> tuple[float, float]:
    """What the upright axis must show."""
    values = [v for line in lines for v in line.values if isfinite(v)]
    values += [v for line in lines for v in (line.lower, line.centre, line.upper) if v is not None and isfinite(v)]
    low, high = min(values), max(values)
    return (low, high) if high > low else (low - 1.0, high + 1.0)

"""The plot of each kind of evidence against build hours: corrected power, leak-down per cylinder, wear rate."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPen
from PySide6.QtWidgets import QApplication, QSizePolicy, QVBoxLayout, QWidget

from benchapp.actions.breakin import BreakInLook, curve_of, leak_labels, leak_lines, wear_bars
from benchapp.window import theme
from benchapp.window.trend import looks


class EvidencePlot(QWidget):
    """A small plot with hours below. Subclasses draw in `draw(look)` with the helpers here."""

    name = ""
    left = ""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.graphics = pg.GraphicsLayoutWidget(self)
        self.graphics.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.graphics.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)  # Tab would stop at a nameless picture
        self.graphics.setAccessibleName(self.name)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.graphics)
        # a picture would like to be as large as it is: a page that scrolls would then never shrink again
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.main = self.graphics.addPlot(row=0, col=0, enableMenu=False)
        self.main.ctrlMenu.setParent(self.graphics)  # made even when not wanted; without an owner it stays behind
        self.main.ctrlMenu.hide()
        self.main.hideButtons()
        self.main.setMouseEnabled(x=False, y=False)
        for name in ("left", "bottom"):
            self.main.getAxis(name).enableAutoSIPrefix(False)
        self.setAccessibleName(self.name)
        self.look: BreakInLook | None = None
        self._items: list = []
        self._words: pg.TextItem | None = None
        theme.WhenSeen(self, self.restyle)
        self.restyle()

    def show_look(self, look: BreakInLook) -> None:
        """Shows the evidence of a build."""
        self.look = look
        self.restyle()

    def restyle(self) -> None:
        """Takes colours and sizes of the theme in force and draws anew."""
        now = theme.current()
        self.graphics.setBackground(QColor(now.paper))
        font = QFont(QApplication.font())
        font.setPointSizeF(now.points * 0.95)
        style = {"color": now.ink, "font-size": f"{now.points:.1f}pt"}
        for name in ("left", "bottom"):
            axis = self.main.getAxis(name)
            axis.setPen(self.pen(now.line, now.line_px))
            axis.setTextPen(QColor(now.ink))
            axis.setTickFont(font)
            axis.setStyle(tickLength=-6, tickTextOffset=6)
        self.main.getAxis("left").setWidth(round(now.points * 6.5))
        self.main.getAxis("bottom").setHeight(round(now.points * 4.8))
        self.main.setLabel("left", self.left, **style)
        self.main.setLabel("bottom", "Build hours [h]", **style)
        self.main.showGrid(x=True, y=True, alpha=0.10 if now.name == "sunlight" else 0.18)
        for item in self._items:
            self.main.removeItem(item)
        self._items, self._words = [], None
        if self.look is not None:
            self.setAccessibleDescription(self.draw(self.look))

    def draw(self, look: BreakInLook) -> str:
        """Draws; gives what the plot says in words for a screen reader."""
        raise NotImplementedError

    # --- helpers ------------------------------------------------------------------------------------------------------

    def pen(self, colour: str, width: float, dash: tuple[int, ...] = ()) -> QPen:
        made = QPen(QColor(colour), width)
        made.setCosmetic(True)
        made.setCapStyle(Qt.PenCapStyle.FlatCap)
        if dash:
            made.setDashPattern(list(dash))
        return made

    def add(self, item, z: float = 0.0) -> None:
        item.setZValue(z)
        self.main.addItem(item, ignoreBounds=True)
        self._items.append(item)

    def dots(self, x, y, style: looks.Style, hollow: bool = False) -> None:
        brush = QBrush(QColor(theme.current().paper)) if hollow else QBrush(style.colour)
        pen = self.pen(style.colour.name(), 1.6 * theme.current().scale)
        self.add(
            pg.ScatterPlotItem(
                x=np.asarray(x, dtype=float), y=np.asarray(y, dtype=float), symbol=style.symbol,
                size=looks.symbol_px() * 1.25, pen=pen, brush=brush,
            ),
            20,
        )  # fmt: skip

    def curve(self, x, y, pen: QPen, z: float = 10) -> pg.PlotCurveItem:
        made = pg.PlotCurveItem(np.asarray(x, dtype=float), np.asarray(y, dtype=float), pen=pen)
        self.add(made, z)
        return made

    def band(self, x, low, high) -> None:
        edge = self.pen(theme.current().predicted, 1.2)
        first, second = self.curve(x, low, edge, -9), self.curve(x, high, edge, -9)
        colour = QColor(theme.current().predicted)
        colour.setAlphaF(0.35)
        self.add(pg.FillBetweenItem(first, second, brush=QBrush(colour)), -10)

    def text(self, words: str, x: float, y: float, anchor: tuple[float, float], colour: str = "") -> None:
        made = pg.TextItem(words, color=QColor(colour or theme.current().quiet), anchor=anchor)
        font = QFont(QApplication.font())
        font.setPointSizeF(theme.current().points * 0.9)
        made.setFont(font)
        made.setPos(x, y)
        self.add(made, 30)

    def nothing(self, words: str) -> str:
        """Says in the middle that there is nothing to draw yet."""
        self.main.setXRange(0, 1, padding=0)
        self.main.setYRange(0, 1, padding=0)
        made = pg.TextItem(words, color=QColor(theme.current().quiet), anchor=(0.5, 0.5))
        made.setFont(QFont(QApplication.font()))
        made.setPos(0.5, 0.5)
        self.add(made, 30)
        self._words = made
        self._wrap()
        return words

    def _wrap(self) -> None:
        if self._words is not None:
            self._words.setTextWidth(max(160, self.width() * 0.6))

    def resizeEvent(self, event) -> None:
        """The words in an empty plot take the room that there is."""
        super().resizeEvent(event)
        self._wrap()

    def fit(self, x, y, zero: bool) -> None:
        """Room for these points; with `zero` the values begin there."""
        xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        low, high = (min(0.0, ys.min()) if zero else ys.min()), ys.max()
        room = max(high - low, 1e-6 * max(abs(high), 1.0))
        self.main.setXRange(max(0.0, xs.min()) if not zero else 0.0, max(xs.max(), xs.min() + 0.1), padding=0.08)
        self.main.setYRange(low, high + 0.12 * room, padding=0.05)

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        painter.setPen(QPen(theme.colour("grid"), theme.current().line_px))
        painter.drawRect(self.rect())
        painter.end()


class PowerPlot(EvidencePlot):
    """Corrected power with the saturating fit and the pull-to-pull noise about it."""

    name = "Plot: corrected power"
    left = "Power [kW]"

    def draw(self, look: BreakInLook) -> str:
        state = look.state
        x, y = state.corrected_h, state.corrected_kw
        if not len(x):
            return self.nothing("No pull yet that can be compared. Add pulls (Ctrl+D).")
        style = looks.Style(0)
        ys = list(y)
        found = curve_of(look)
        if found is not None:
            self.band(found.hours, found.low, found.high)
            self.curve(found.hours, found.middle, self.pen(style.colour.name(), theme.current().line_px * 1.4))
            ys += [*found.low, *found.high]
        self.dots(x, y, style)
        self.fit([*x, *(found.hours if found is not None else ())], ys, zero=False)
        return f"{len(x)} pulls, {look.standard}; the last at {x[-1]:.2f} h with {y[-1]:.1f} kW."


class LeakPlot(EvidencePlot):
    """Leak-down of each cylinder; tests of another tester or pressure are not joined."""

    name = "Plot: leak-down per cylinder"
    left = "Leak-down [%]"

    def draw(self, look: BreakInLook) -> str:
        lines = leak_lines(look)
        if not lines:
            return self.nothing("No leak-down yet. Add one (Ctrl+Shift+K).")
        xs, ys = [], []
        for slot, line in enumerate(lines):
            style = looks.Style(slot)
            for part in line.joined:
                self.curve([p[0] for p in part], [p[1] for p in part], style.pen())
            self.dots(line.hours, line.percents, style)
            xs += line.hours
            ys += line.percents
        for words, hours, percent in leak_labels(lines):
            self.text(f"{words}  ", hours, percent, (1.0, 0.5))
        self.fit(xs, ys, zero=True)
        return "; ".join(f"cylinder {line.cylinder} {line.percents[-1]:.1f} %" for line in lines)


class WearPlot(EvidencePlot):
    """Wear rate of each interval as a bar over its hours, with its error and the running-in curve."""

    name = "Plot: wear rate"
    left = "Wear metal [mg/h]"

    def draw(self, look: BreakInLook) -> str:
        bars, curve = wear_bars(look)
        if not bars:
            return self.nothing("No wear rate yet. A sample with its hours and fill gives one.")
        style = looks.Style(1)
        for bar in bars:
            self.curve([bar.start_h, bar.end_h], [bar.rate] * 2, self.pen(style.colour.name(), 4))
            middle = bar.middle_h
            self.curve([middle] * 2, [bar.low, bar.high], self.pen(style.colour.name(), 1.6))
        if curve is not None:
            self.curve(*curve, self.pen(theme.current().ink, theme.current().line_px, (6, 3)))
        tops = [bar.high for bar in bars]
        self.fit([bars[0].start_h, bars[-1].end_h], [0.0, *tops], zero=True)
        return "; ".join(f"{bar.start_h:.1f} to {bar.end_h:.1f} h: {bar.rate:.3g} mg/h" for bar in bars)

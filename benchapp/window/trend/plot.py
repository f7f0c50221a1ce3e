"""The plot: lines against hours with ceiling and expected band, above it a lane of calls and a lane of events.

Takes a `Series` and shows it; asks nobody, computes nothing but where things go on the screen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPen
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from benchapp.actions import series as data
from benchapp.window import theme
from benchapp.window.trend import arrays, looks, words

LANES = {"calls": 2.0, "oil": 1.0, "events": 0.0}
OIL_EVENTS = ("fill", "top-up")
DENSE = 600
"""Points of a line from which on its dashes and heavy pen are given up."""


@dataclass(slots=True)
class _Drawn:
    """What is on the plot for one line. `entries` are the indices of the points that can be drawn [m]."""

    line: data.Line
    style: looks.Style
    x: arrays.Floats
    y: arrays.Floats
    entries: np.ndarray
    inside: pg.PlotCurveItem
    across: pg.PlotCurveItem
    full: pg.ScatterPlotItem | None
    hollow: pg.ScatterPlotItem | None

    @property
    def scatters(self) -> list[pg.ScatterPlotItem]:
        return [item for item in (self.full, self.hollow) if item is not None]


class TrendPlot(QWidget):
    """See the module."""

    hovered = Signal(str, int)
    """The pointer is on this entry of this line."""
    clicked = Signal(str, int)
    event_hovered = Signal(str)
    """The pointer is on a call or an event: what it says."""

    def __init__(self, parent: QWidget | None = None, *, staged: bool = False) -> None:
        """`staged`: whoever makes it goes through `pieces`."""
        super().__init__(parent)
        self.graphics = pg.GraphicsLayoutWidget(self)
        self.graphics.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.graphics.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)  # Tab would stop at a nameless picture
        self.graphics.setAccessibleName("Plot")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Plot: arrow keys walk from sample to sample")
        column = QVBoxLayout(self)
        column.setContentsMargins(3, 3, 3, 3)
        column.addWidget(self.graphics)
        self.series = data.Series("", "", data.PPM)
        self.front = ""
        self.across_instruments = False
        self.dots = 1.0
        """Dots of the picture for one on the screen: pens are given in dots."""
        self._styles: dict[str, looks.Style] = {}
        self._drawn: dict[str, _Drawn] = {}
        self._extras: list = []
        self._front_items: list = []
        self._marks: list[tuple[float, float, str]] = []
        self._mark_at = 0
        self._picked: tuple[str, int] = ("", -1)
        if not staged:
            for _ in self.pieces():
                pass

    def pieces(self) -> Iterator[None]:
        """Makes the plots, with a `yield` wherever the window may have a turn."""
        self.lane = self.graphics.addPlot(row=0, col=0, enableMenu=False)
        yield
        self.main = self.graphics.addPlot(row=1, col=0, enableMenu=False)
        yield
        self._make_plots()
        self.restyle()
        yield

    # --- making -------------------------------------------------------------------------------------------------------

    def _pen(self, colour: str | QColor, width: float, dash: tuple[int, ...] = ()) -> QPen:
        made = QPen(QColor(colour), width * self.dots)
        made.setCosmetic(True)
        made.setCapStyle(Qt.PenCapStyle.FlatCap)
        if dash:
            made.setDashPattern(list(dash))
        return made

    def _make_plots(self) -> None:
        for plot in (self.lane, self.main):
            plot.ctrlMenu.setParent(self.graphics)  # made even when not wanted; without an owner it would stay behind
            plot.ctrlMenu.hide()
            plot.hideButtons()
        scene = self.graphics.scene()
        scene.sigMouseMoved.connect(self._moved)
        scene.sigMouseClicked.connect(self._scene_clicked)
        self.lane.setXLink(self.main)
        self.lane.setMouseEnabled(x=True, y=False)
        self.main.setMouseEnabled(x=True, y=False)
        self.lane.setYRange(-0.55, 2.5, padding=0)
        self.lane.hideAxis("bottom")
        self.lane.getAxis("left").setTicks([[(place, word) for word, place in LANES.items()]])
        for name in ("left", "bottom"):
            self.main.getAxis(name).enableAutoSIPrefix(False)
            self.main.getAxis(name).setStyle(maxTickLevel=1)  # the finest lines of the grid are a quarter of each pan
        self._cursor = pg.InfiniteLine(angle=90, movable=False)
        self._ring = pg.ScatterPlotItem(useCache=False)
        self.main.addItem(self._cursor, ignoreBounds=True)
        self.main.addItem(self._ring, ignoreBounds=True)
        self._tag = pg.TextItem("", anchor=(0, 1))
        self.main.addItem(self._tag, ignoreBounds=True)
        self._tag.setZValue(80)
        self._cursor.setZValue(-5)
        self._ring.setZValue(60)

    def restyle(self) -> None:
        """Takes the colours and sizes of the theme in force."""
        look = theme.current()
        self.graphics.setBackground(QColor(look.paper))
        font = QFont(QApplication.font())
        font.setPointSizeF(look.points * 0.95)
        metrics_px = round(look.points * 1.9)
        for plot in (self.lane, self.main):
            for name in ("left", "bottom"):
                axis = plot.getAxis(name)
                axis.setPen(self._pen(look.line, look.line_px))
                axis.setTextPen(QColor(look.ink))
                axis.setTickFont(font)
                axis.setStyle(tickLength=-6, tickTextOffset=6)
            plot.getAxis("left").setWidth(round(metrics_px * 4.6))
        self.lane.setFixedHeight(round(metrics_px * 4.7))
        self.main.getAxis("bottom").setHeight(round(metrics_px * 2.5))
        self.main.showGrid(x=True, y=True, alpha=0.10 if look.name == "sunlight" else 0.18)
        self._cursor.setPen(self._pen(look.quiet, 1, (2, 3)))
        self.show_series(self.series, self._styles, self.front, keep_range=True)

    # --- showing ------------------------------------------------------------------------------------------------------

    def show_series(
        self, series: data.Series, styles: dict[str, looks.Style], front: str, *, keep_range: bool = False
    ) -> None:
        """Shows a series in place of what was there; `front` is the line whose ceiling and band are drawn.

        `keep_range` keeps the hours in view; values always fit."""
        picked = self._picked
        self._clear()
        self.series, self._styles, self.front = series, dict(styles), front
        for line in series.lines:
            self._draw_line(line)
        self._draw_front()
        self._draw_marks()
        self._label()
        if keep_range:
            self._fit_y()
        else:
            self.show_all()
        self.mark(*picked)

    def set_front(self, name: str) -> None:
        """Brings a line to the front: heavier, with its ceiling, band and intervals."""
        if name == self.front:
            return
        before, self.front = self.front, name
        for changed in (before, name):
            if changed in self._drawn:
                self._dress(self._drawn[changed])
        self._draw_front()
        self._fit_y()
        self.mark(*self._picked)

    def set_across_instruments(self, across: bool) -> None:
        """Joins readings of different instruments as read, or keeps them apart."""
        self.across_instruments = across
        self.show_series(self.series, self._styles, self.front, keep_range=True)

    def _clear(self) -> None:
        for drawn in self._drawn.values():
            for item in (drawn.inside, drawn.across, *drawn.scatters):
                self.main.removeItem(item)
        for plot, item in self._extras:
            plot.removeItem(item)
        self._clear_front()
        self._drawn, self._extras = {}, []

    def _clear_front(self) -> None:
        for item in self._front_items:
            self.main.removeItem(item)
        self._front_items = []

    def _add(self, item, plot, z: float) -> None:
        """Adds a mark; what the axes show is set by hand, so none of them has a say in it."""
        item.setZValue(z)
        plot.addItem(item, ignoreBounds=True)
        self._extras.append((plot, item))

    def _add_front(self, item, z: float):
        item.setZValue(z)
        self.main.addItem(item, ignoreBounds=True)
        self._front_items.append(item)
        return item

    def _draw_line(self, line: data.Line) -> None:
        style = self._styles.get(line.name, looks.Style(0))
        x, y = arrays.floats(line.x), arrays.floats(line.y)
        keep = arrays.drawn(x, y)
        inside, across = arrays.joined(line.apart, keep, across_instruments=self.across_instruments)
        entries = np.flatnonzero(keep)
        hollow = np.array(line.hollow, dtype=bool)[keep] if line.hollow else np.zeros(0, dtype=bool)
        x, y = x[keep], y[keep]
        curves = [pg.PlotCurveItem(x, y, connect=how, skipFiniteCheck=True) for how in (inside, across)]
        scatters = []
        for which, brush in ((~hollow, QBrush(style.colour)), (hollow, QBrush(QColor(theme.current().paper)))):
            dots = (x[which], y[which], entries[which], style, brush, line.name)
            scatters.append(self._scatter(*dots) if which.any() else None)
        drawn = _Drawn(line, style, x, y, entries, *curves, *scatters)
        self._dress(drawn)
        for item in (*curves, *drawn.scatters):
            self.main.addItem(item, ignoreBounds=True)
        self._drawn[line.name] = drawn

    def _dress(self, drawn: _Drawn) -> None:
        """The line in front is heavier and lies over the others."""
        front, dense = drawn.line.name == self.front, bool(drawn.x.size > DENSE)
        drawn.inside.setPen(drawn.style.pen(front, False, dense, self.dots))
        drawn.across.setPen(drawn.style.pen(front, True, dense, self.dots))
        for scatter in drawn.scatters:
            if scatter.opts["size"] != self._dot_px(drawn.line.name):  # each setting draws all its dots anew
                scatter.setSize(self._dot_px(drawn.line.name))
        for item in (drawn.inside, drawn.across, *drawn.scatters):
            item.setZValue(20.0 if front else 10.0)

    def _dot_px(self, line: str) -> float:
        """Size of a line's dots [px]: larger in front."""
        return looks.symbol_px() * (1.25 if line == self.front else 1.0)

    def _scatter(self, x, y, entries, style, brush, line_name: str) -> pg.ScatterPlotItem:
        return pg.ScatterPlotItem(
            x=x,
            y=y,
            data=entries,
            symbol=style.symbol,
            pen=self._pen(style.colour, 1.6 * theme.current().scale),
            brush=brush,
            size=self._dot_px(line_name),
            useCache=self.dots == 1.0,
        )

    def _draw_front(self) -> None:
        self._clear_front()
        drawn = self._drawn.get(self.front)
        if drawn is None:
            return
        self._draw_band(drawn)
        self._draw_intervals(drawn)
        self._draw_ceiling(drawn.line)
        self._draw_reach(drawn)

    def _draw_band(self, drawn: _Drawn) -> None:
        """What was expected, filled and edged; never across a rebuild."""
        line = drawn.line
        x, low, high = (arrays.floats(column) for column in (line.x, line.band_low, line.band_high))
        keep = arrays.drawn(x, low, high)
        for span in self.series.spans:
            inside = keep & np.array([build == span.build for build in line.builds], dtype=bool)
            for run in _runs(inside, low, high, steps=line.kind == data.OIL):
                self._fill_band(span, x[run], low[run], high[run])

    def _fill_band(self, span: data.Span, xs: arrays.Floats, lows: arrays.Floats, highs: arrays.Floats) -> None:
        if xs.size == 1 or xs[-1] <= xs[0]:
            half = max(span.end - span.start, 1.0) * 0.012
            xs, lows, highs = np.array([xs[0] - half, xs[0] + half]), lows[[0, 0]], highs[[0, 0]]
        edge = self._pen(theme.current().predicted, 1.5)
        curves = [self._add_front(pg.PlotCurveItem(xs, ys, pen=edge), -9) for ys in (lows, highs)]
        colour = QColor(theme.current().predicted)
        colour.setAlphaF(0.35)
        self._add_front(pg.FillBetweenItem(*curves, brush=QBrush(colour)), -10)

    def _draw_intervals(self, drawn: _Drawn) -> None:
        line = drawn.line
        low, high = arrays.floats(line.low)[drawn.entries], arrays.floats(line.high)[drawn.entries]
        known = arrays.drawn(low, high)
        if not known.any():
            return
        x, y = drawn.x[known], drawn.y[known]
        below, above = np.maximum(y - low[known], 0.0), np.maximum(high[known] - y, 0.0)
        pen = self._pen(drawn.style.colour, 1.5 * theme.current().scale)
        self._add_front(pg.ErrorBarItem(x=x, y=y, top=above, bottom=below, beam=0.0, pen=pen), 12)

    def _ceilings(self, line: data.Line) -> list[tuple[data.Span, float]]:
        """The last ceiling known in each build [ppm]."""
        found = []
        for span in self.series.spans:
            known = [c for c, b in zip(line.ceiling, line.builds, strict=True) if b == span.build and c is not None]
            if known:
                found.append((span, known[-1]))
        return found

    def _draw_ceiling(self, line: data.Line) -> None:
        look = theme.current()
        for span, ceiling in self._ceilings(line):
            ends = np.array([span.start, max(span.end, span.start + 0.1)]), np.array([ceiling, ceiling])
            self._add_front(pg.PlotCurveItem(*ends, pen=self._pen(look.ceiling, 2.2 * look.scale, (7, 4))), -4)
            text = pg.TextItem(
                words.ceiling_words(line, ceiling),
                color=look.ceiling,
                anchor=(0, 0 if _over(line, span, ceiling) else 1),
            )
            text.setFont(_font(0.9))
            back = QColor(look.paper)
            back.setAlphaF(0.8)
            text.fill = QBrush(back)
            text.setPos(span.start, ceiling)
            self._add_front(text, 5)

    def _draw_reach(self, drawn: _Drawn) -> None:
        """When the limit is met: a diamond on it, its 90 % interval as a bar along it, dotted from the last value."""
        reach = drawn.line.reach
        if reach is None or reach.x is None or reach.y is None or not drawn.x.size:
            return
        look, end = theme.current(), self._end_of(reach)
        pen = self._pen(look.ceiling, 3.2 * look.scale)
        bar = np.array([max(reach.low or 0.0, float(drawn.x[-1])), end]), np.array([reach.y, reach.y])
        self._add_front(pg.PlotCurveItem(*bar, pen=pen), 6)
        way = np.array([float(drawn.x[-1]), reach.x]), np.array([float(drawn.y[-1]), reach.y])
        self._add_front(pg.PlotCurveItem(*way, pen=self._pen(drawn.style.colour, 1.5 * look.scale, (1, 3))), 6)
        place = np.array([reach.x]), np.array([reach.y])
        spot = pg.ScatterPlotItem(*place, symbol="d", size=looks.symbol_px() * 1.6, pen=pen, brush=QColor(look.paper))
        self._add_front(spot, 7)

    @staticmethod
    def _end_of(reach: data.Reach) -> float:
        """Where the bar of a reach ends [h]: without an end of its own it goes on a little."""
        middle, low = reach.x or 0.0, reach.low or 0.0
        return reach.high if reach.high is not None else middle + max(middle - low, 1.0)

    def _draw_marks(self) -> None:
        look, series = theme.current(), self.series
        size = look.mark_px * 0.82
        spots = [
            {
                "pos": (mark.x, LANES["calls"]),
                "symbol": looks.CALLS.get(mark.call, looks.EVENTS["hold"]),
                "brush": QBrush(QColor(look.call_colour(mark.call))),
                "data": f"{mark.call}: sample {mark.sample}. {mark.sentence}",
            }
            for mark in series.calls
        ]
        rows = _rows(series.events)
        spots += [
            {
                "pos": (event.x, row),
                "symbol": looks.EVENTS[event.kind],
                "brush": QBrush(QColor(look.trouble if event.kind == "hold" else look.ink)),
                "data": f"{event.text} ({event.x:.1f} h)",
            }
            for event, row in zip(series.events, rows, strict=True)
        ]
        self._marks = [(*spot["pos"], spot["data"]) for spot in spots]
        self._mark_at = len(self._marks)
        if spots:
            item = pg.ScatterPlotItem(spots=spots, size=size, pen=pg.mkPen(None), useCache=self.dots == 1.0)
            self._add(item, self.lane, 5)
        self._hairlines({"fill", "instrument", "change"}, self._pen(look.quiet, 1.0, (1, 4)))
        self._hairlines({"rebuild"}, self._pen(look.line, 2.0 * look.scale))

    def _hairlines(self, kinds: set[str], pen: QPen) -> None:
        """Upright lines over the whole plot where such events were."""
        places = sorted({event.x for event in self.series.events if event.kind in kinds})
        if places:
            ticks = pg.VTickGroup(places, yrange=[0, 1])
            ticks.setPen(pen)
            self._add(ticks, self.main, -8)

    def _label(self) -> None:
        look = theme.current()
        style = {"color": look.ink, "font-size": f"{look.points:.1f}pt"}
        self.main.setLabel("left", words.axis_words(self.series), **style)
        self.main.setLabel("bottom", words.hours_words(self.series), **style)

    # --- range --------------------------------------------------------------------------------------------------------

    def show_all(self) -> None:
        """The whole build (or engine) and everything on it."""
        spans = self.series.spans
        start, end = (spans[0].start, max(spans[-1].end, spans[0].start + 1.0)) if spans else (0.0, 1.0)
        front = self._drawn.get(self.front)
        if front is not None and front.line.reach is not None and front.line.reach.x is not None:
            room = end + 0.6 * (end - start)
            end = min(max(end, front.line.reach.x, self._end_of(front.line.reach)), room)
        self.main.setXRange(start, end, padding=0.03)
        self._fit_y()

    def _fit_y(self) -> None:
        columns = [drawn.y for drawn in self._drawn.values()]
        drawn = self._drawn.get(self.front)
        ceiling = None
        if drawn is not None:
            columns += [arrays.floats(drawn.line.high), arrays.floats(drawn.line.band_high)]
            ceiling = max([value for _, value in self._ceilings(drawn.line)], default=None)
        low = min([float(column.min()) for column in columns[: len(self._drawn)] if column.size] + [0.0])
        self.main.setYRange(low, arrays.top_of(columns, ceiling), padding=0.02)

    def zoom(self, factor: float) -> None:
        """Closer (below 1) or farther (above 1) round the picked point, or the middle."""
        name, entry = self._picked
        centre = None
        if name in self._drawn:
            centre = QPointF(self._drawn[name].line.x[entry] or 0.0, 0.0)
        self.main.getViewBox().scaleBy(x=factor, center=centre)

    # --- the picked point ---------------------------------------------------------------------------------------------

    def entries(self, name: str) -> np.ndarray:
        """Indices of the entries of a line that are on the plot, in order."""
        return self._drawn[name].entries if name in self._drawn else np.zeros(0, dtype=np.int64)

    def mark(self, name: str, entry: int) -> None:
        """Rings an entry and stands the cursor on it; ('', -1) takes both away."""
        drawn = self._drawn.get(name)
        here = drawn is not None and entry in drawn.entries
        for item in (self._cursor, self._ring, self._tag):
            item.setVisible(here)
        self._picked = (name, entry) if here else ("", -1)
        if not here:
            return
        x, y = float(drawn.line.x[entry]), float(drawn.line.y[entry])
        self._cursor.setPos(x)
        ring = self._pen(theme.current().ink, 2.0 * theme.current().scale)
        self._ring.setData(
            x=np.array([x]), y=np.array([y]), size=looks.symbol_px() * 2.2, pen=ring, brush=QBrush(), symbol="o"
        )
        self._bring_into_view(x)
        self._say_beside(x, y, words.tag_words(drawn.line, entry))

    def _say_beside(self, x: float, y: float, text: str) -> None:
        """A small card beside a point, on the side where there is room."""
        look = theme.current()
        (left, right), (low, high) = self.main.viewRange()
        self._tag.setText(text, color=look.ink)
        self._tag.setFont(_font(0.95))
        self._tag.fill, self._tag.border = QBrush(QColor(look.paper)), self._pen(look.line, 1.0)
        self._tag.setAnchor((1.06 if x > (left + right) / 2 else -0.06, -0.25 if y > (low + high) / 2 else 1.25))
        self._tag.setPos(x, y)
        self._tag.setVisible(True)

    def _bring_into_view(self, x: float) -> None:
        left, right = self.main.viewRange()[0]
        if not left <= x <= right:
            half = (right - left) / 2
            self.main.setXRange(x - half, x + half, padding=0)

    @property
    def picked(self) -> tuple[str, int]:
        """Line and entry with the ring, or ('', -1)."""
        return self._picked

    def scene_pos(self, name: str, entry: int) -> QPointF:
        """Where an entry is on the plot, in pixels of `graphics`."""
        line = self._drawn[name].line
        point = self.main.getViewBox().mapViewToScene(QPointF(float(line.x[entry]), float(line.y[entry])))
        return QPointF(self.graphics.mapFromScene(point))

    # --- pointer ------------------------------------------------------------------------------------------------------

    def _moved(self, at: QPointF) -> None:
        name, entry = self._nearest(at)
        if name:
            self.hovered.emit(name, entry)
            return
        text = self._marks_at(at)
        if text:
            self._say_mark(self._hours_at(at), text)

    def _say_mark(self, x: float, text: str) -> None:
        self._say_beside(x, self.main.viewRange()[1][1], text)
        self.event_hovered.emit(text)

    def walk_marks(self, step: int) -> None:
        """Reads the calls and events one after another, in order of hours; stops at the ends."""
        order = sorted(self._marks)
        if not order:
            return
        self._mark_at = min(max(self._mark_at + step, 0), len(order) - 1)
        x, _, text = order[self._mark_at]
        self._bring_into_view(x)
        self._say_mark(x, text)

    def _scene_clicked(self, event) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            name, entry = self._nearest(event.scenePos())
            if name:
                self.clicked.emit(name, entry)

    def _nearest(self, at: QPointF) -> tuple[str, int]:
        """The drawn point nearest to a place on the scene, within a finger's or a pointer's reach; ('', -1)."""
        box = self.main.getViewBox()
        best, found = _reach_px() ** 2, ("", -1)
        if not box.sceneBoundingRect().contains(at):
            return found
        for name, drawn in self._drawn.items():
            if not drawn.x.size:
                continue
            x, y = _on_scene(box, drawn.x, drawn.y)
            away = (x - at.x()) ** 2 + (y - at.y()) ** 2
            place = int(np.argmin(away))
            if away[place] < best or (away[place] == best and name == self.front):
                best, found = float(away[place]), (name, int(drawn.entries[place]))
        return found

    def _marks_at(self, at: QPointF) -> str:
        """What the calls and events at a place on the scene say."""
        box = self.lane.getViewBox()
        if not self._marks or not box.sceneBoundingRect().contains(at):
            return ""
        xs, ys = (arrays.floats(column) for column in zip(*((x, y) for x, y, _ in self._marks), strict=True))
        x, y = _on_scene(box, xs, ys)
        near = (x - at.x()) ** 2 + (y - at.y()) ** 2 < _reach_px() ** 2
        return "\n".join(self._marks[place][2] for place in np.flatnonzero(near))

    def _hours_at(self, at: QPointF) -> float:
        return float(self.main.getViewBox().mapSceneToView(at).x())

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


def _runs(inside: arrays.Flags, low: arrays.Floats, high: arrays.Floats, *, steps: bool) -> list[np.ndarray]:
    """Entries of a band that hang together; `steps`: a band whose levels change begins anew (another oil's limits)."""
    entries = np.flatnonzero(inside)
    if not entries.size or not steps:
        return [entries] if entries.size else []
    changes = np.flatnonzero((np.diff(low[entries]) != 0) | (np.diff(high[entries]) != 0)) + 1
    return np.split(entries, changes)


def _over(line: data.Line, span: data.Span, ceiling: float) -> bool:
    """True where the line begins above its ceiling: the ceiling's name then stands below."""
    begin = span.start + (span.end - span.start) / 3
    early = [y for x, y in zip(line.x, line.y, strict=True) if x is not None and y is not None and x <= begin]
    return sum(y > ceiling for y in early) * 2 > len(early)


def _reach_px() -> float:
    """How near a pointer or a finger must come [px]."""
    return (20.0 if theme.current().large else 12.0) * theme.current().scale


def _on_scene(box: pg.ViewBox, x: arrays.Floats, y: arrays.Floats) -> tuple[arrays.Floats, arrays.Floats]:
    """Places of points of a plot on its scene [px]."""
    (left, right), (low, high) = box.viewRange()
    rect = box.sceneBoundingRect()
    across = rect.left() + (x - left) / (right - left) * rect.width()
    down = rect.bottom() - (y - low) / (high - low) * rect.height()
    return across, down


SPREAD = {1: (0.0,), 2: (0.25, -0.25)}
"""Heights in a lane for so many events of one hour; more than two take turns on three heights."""


def _rows(events: tuple[data.Event, ...]) -> list[float]:
    """Height of each event in its lane: those of one hour stand one below the other, or they would hide each other."""
    places = [(event.x, "oil" if event.kind in OIL_EVENTS else "events") for event in events]
    together = Counter(places)
    seen: Counter[tuple[float, str]] = Counter()
    rows = []
    for place in places:
        heights = SPREAD.get(together[place], (0.36, 0.0, -0.36))
        rows.append(LANES[place[1]] + heights[seen[place] % len(heights)])
        seen[place] += 1
    return rows


def _font(share: float) -> QFont:
    made = QFont(QApplication.font())
    made.setPointSizeF(theme.current().points * share)
    return made

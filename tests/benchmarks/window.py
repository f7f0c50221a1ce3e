"""The window: what the person's thread spends, in its own processor time; drawing beside bare pyqtgraph."""

from __future__ import annotations

import dataclasses
import itertools
import shutil
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pyqtgraph as pg
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtWidgets import QApplication, QWidget

from benchapp.actions import series as data
from benchapp.actions import sheets
from benchapp.actions.bench import Bench
from benchapp.sheet.page import write_pdf
from benchapp.window import ahead, settings
from benchapp.window.app import application
from benchapp.window.fleet.view import FleetView
from benchapp.window.session import Session
from benchapp.window.trend import looks
from benchapp.window.trend.plot import TrendPlot
from tests.benchmarks.measure import Row, by_turns
from tests.window import fakes
from tests.window.trend_fakes import TrendBench, long_engine

SIZE = (1280, 800)


def ready(folder: Path) -> QApplication:
    """The application, with settings in a folder of their own."""
    settings.settings_file = partial(Path, folder / "window.ini")
    settings.data_folder = partial(Path, folder / "data")
    return application(["benchmarks"])


def own(job: Callable[[], object]) -> float:
    """Processor time that this thread spends on a job and the events that follow from it [s]."""
    start = time.thread_time()
    job()
    QApplication.processEvents()
    return time.thread_time() - start


def let_go(*widgets: QWidget) -> None:
    for widget in widgets:
        widget.close()
        widget.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


# --- the fleet -------------------------------------------------------------------------------------------------------


def fleet_view(engines: int = 500, times: int = 3) -> list[Row]:
    """500 engines: opening the view, sorting it by each column, filtering letter by letter."""
    bench = fakes.FakeBench(fakes.fleet(engines))
    bench.calls_of = _kept(bench.calls_of)
    opened, whole, sorted_, filtered = [], [], [], []
    for _ in range(times):
        session = Session()
        session.use(bench)
        view, longest, together = _opened(session)
        opened.append(longest)
        whole.append(together)
        head = view.table.horizontalHeader()
        sorted_.append(
            max(own(partial(_sort, view, column)) for column in range(head.count()) if not head.isSectionHidden(column))
        )
        filtered.append(max(own(partial(_filter, view, text)) for text in ("e", "e1", "e12", "e1", "")))
        let_go(view)
        session.close()
    remains = {
        "open": f"the longest of its pieces, each in a turn of its own, together {min(whole) * 1e3:.0f} ms: one row "
        "record an engine, its texts for the filter, Qt's table and the detail of the first engine",
        "sort": "the slowest column: one key an engine, then painting what is in sight",
        "filter": "the slowest letter: texts are held lower-cased; the first match is picked and its detail shown",
    }
    return [
        Row(f"fleet view of {engines}: {name}", "-", f"{min(took) * 1e3:.0f} ms", "-", min(took) * 1e3, 50.0, "ms",
            remains[name])
        for name, took in (("open", opened), ("sort", sorted_), ("filter", filtered))
    ]  # fmt: skip


def _kept(calls_of):
    held: dict[str, tuple] = {}

    def known(engine: str) -> tuple:
        if engine not in held:
            held[engine] = calls_of(engine)
        return held[engine]

    return known


def _opened(session: Session) -> tuple[FleetView, float, float]:
    """The view made as the window makes it, and what its longest piece and all of them spent [s]."""
    view = FleetView(session, staged=True)
    view.resize(*SIZE)
    took = []
    left = itertools.chain(iter(view.build_next, False), view.fill())
    going = True
    while going:
        start = time.thread_time()
        going = next(left, left) is not left
        QApplication.processEvents()
        took.append(time.thread_time() - start)
    took.append(own(view.show))
    return view, max(took), sum(took)


def _sort(view: FleetView, column: int) -> None:
    view.table.sortByColumn(column, Qt.SortOrder.AscendingOrder)
    view.table.viewport().repaint()


def _filter(view: FleetView, text: str) -> None:
    view.filter.setText(text)
    view.table.viewport().repaint()


# --- trends ----------------------------------------------------------------------------------------------------------


def trend(samples: int = 5000, times: int = 5) -> Row:
    """Six lines of 5,000 samples, panned ten times, beside pyqtgraph's own plot of the same arrays and marks."""
    bench = TrendBench()
    bench._fleet = dataclasses.replace(bench.fleet(), engines=(long_engine(samples),))
    bench.calls_of = lambda _name: ()
    names = [choice.name for choice in data.choices(bench, "Long", "", data.PPM)][:6]
    series = data.of(bench, "Long", "", data.PPM, names)
    styles = {name: looks.Style(place) for place, name in enumerate(names)}
    ours = TrendPlot()
    ours.resize(*SIZE)
    ours.show_series(series, styles, names[0])
    ours.show()
    bare = pg.GraphicsLayoutWidget()
    bare.resize(*SIZE)
    plain = bare.addPlot()
    plain.setMouseEnabled(x=True, y=False)
    for name in names:
        line = next(line for line in series.lines if line.name == name)
        style = styles[name]
        plain.plot(
            list(line.x), list(line.y), pen=pg.mkPen(style.colour), symbol=style.symbol,
            symbolSize=looks.symbol_px(), symbolBrush=pg.mkBrush(style.colour),
        )  # fmt: skip
    bare.show()
    QApplication.processEvents()
    for plot, view in ((ours.main, ours.graphics), (plain, bare)):
        _pan(plot, view.viewport())
    a, b = by_turns(
        lambda: own(partial(_pan, ours.main, ours.graphics.viewport())),
        lambda: own(partial(_pan, plain, bare.viewport())),
        times,
    )
    let_go(ours, bare)
    return Row(
        f"trend of {samples:,} samples x 6 lines: a step of panning", "bare pyqtgraph, the same arrays and marks",
        f"{a * 100:.1f} ms", f"{b * 100:.1f} ms", a / b, 1.5, "x",
        "pyqtgraph's own marks and lines; ours adds the lane of calls and events and a second curve a line",
    )  # fmt: skip


def _pan(plot: pg.PlotItem, viewport: QWidget) -> None:
    for step in range(10):
        plot.setXRange(50.0 + 5.0 * step, 150.0 + 5.0 * step, padding=0)
        viewport.repaint()


# --- the sheet -------------------------------------------------------------------------------------------------------


_LOADED_AHEAD = ("benchapp.oil.sample", "chemicals.viscosity")


def sheet(demo: Path, folder: Path, times: int = 5) -> list[Row]:
    """The page of a demo sample with a reason on it, from its call to a PDF on the disk.

    Of what it needs, the window loads the library for oils ahead while nobody waits: it is told apart."""
    path = Path(shutil.copy(demo, folder / "sheet.bench"))
    with Bench.open(path, who="speed") as bench:
        engine = bench.fleet().engines[0].name
        code = max(bench.calls_of(engine), key=lambda call: len(call.reasons)).sample
        assert set(_LOADED_AHEAD) <= set(ahead.USED_LATER)
        loading = own(lambda: ahead.load(_LOADED_AHEAD))
        first = own(lambda: sheets.content(bench, code))
        content = sheets.content(bench, code)
        pdf = min(own(lambda: write_pdf(content, folder / "sheet.pdf")) for _ in range(times))
        words = min(own(lambda: sheets.content(bench, code)) for _ in range(times))
    total = (pdf + words) * 1e3
    return [
        Row("sheet to PDF", "-", f"{total:.0f} ms", "-", total, 200.0, "ms",
            f"{words * 1e3:.0f} ms for its words and plots' series, {pdf * 1e3:.0f} ms to lay out and write the page; "
            "what could turn the call is known already: the window asks it in the pool thread"),
        Row("... that nobody asked about before", "-", f"{(first + pdf) * 1e3:.0f} ms", "-", (first + pdf) * 1e3,
            200.0, "ms", "the build judged again at the limits of each uncertain input (beyond the agreed rows); where "
            f"the window has not loaded {' and '.join(_LOADED_AHEAD)} ahead, {loading * 1e3:.0f} ms more"),
    ]  # fmt: skip

"""Makes the README's pictures from the demo: `.venv/bin/python -m demo.pictures [FOLDER]` (default resources/pictures).

Every picture is the program's own window or page, drawn offscreen from the demo bench file; nothing is painted by hand.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

SIZE = (1360, 860)
LOOKS = {"sunlight": ("sunlight", False), "dark": ("dark", False), "large": ("sunlight", True)}
ENGINE, SAMPLE = "LK-01", "LK-01-2-010"
OILY = "LK-16-1-010"
"""A sample whose oil is thinned by petrol."""
ENGINE_OF = {"breakin": "LK-13", "change": "LK-02"}
"""Engines whose story is told best by another view."""


def settle(app, session) -> None:
    """Lets the window draw and the judging in the background finish."""
    from PySide6.QtCore import QEventLoop, QTimer

    for _ in range(600):
        loop = QEventLoop()
        QTimer.singleShot(50, loop.quit)
        loop.exec()
        if not session.busy and not (session.bench and session.bench.engines_to_judge()) and not _working(app):
            break
    app.sendPostedEvents()


def _working(app) -> bool:
    """Whether a call is still being worked out on the screen."""
    from benchapp.window.entry.call_panel import CallPanel

    panels = [each for each in app.allWidgets() if isinstance(each, CallPanel) and each.isVisible()]
    return any(each.call is None for each in panels)


def grab(window, folder: Path, name: str) -> None:
    path = folder / f"{name}.png"
    window.grab().save(str(path))
    print(path)


def views(folder: Path, bench_path: Path, looks: dict[str, tuple[str, bool]]) -> None:
    """Each view of the rail, in each look."""
    from benchapp.window import app as window_app
    from benchapp.window import settings
    from benchapp.window.main_window import MainWindow, apply_look
    from benchapp.window.session import Session
    from benchapp.window.views import in_rail

    app = window_app.application(["pictures"])
    session = Session()
    window = MainWindow(session)
    window.resize(*SIZE)
    window.show()
    settle(app, session)
    grab(window, folder, "first-start")
    window.open_path(str(bench_path))
    settle(app, session)
    settle(app, session)
    for look, (theme, large) in looks.items():
        settings.keep("look/theme", theme)
        settings.keep("look/large", large)
        apply_look()
        for entry in in_rail():
            window.show_view(entry.key)
            session.select(ENGINE_OF.get(entry.key, ENGINE))
            if entry.key == "entry":
                session.open_sample(SAMPLE)
            settle(app, session)
            grab(window, folder, entry.key if look == "sunlight" else f"{entry.key}-{look}")
        oil_page(app, session, window, folder, "oil" if look == "sunlight" else f"oil-{look}")
    session.close()
    window.close()


def oil_page(app, session, window, folder: Path, name: str) -> None:
    """The page "Oil and film"."""
    from benchapp.window.oil.dialog import OilFilmDialog

    dialog = OilFilmDialog(session, window, OILY)
    dialog.resize(1120, 900)
    dialog.show()
    settle(app, session)
    grab(dialog, folder, name)
    dialog.close()


def page(folder: Path, bench_path: Path) -> None:
    """The sheet as the printer would get it."""
    from benchapp.actions import sheets
    from benchapp.actions.bench import Bench

    bench = Bench.open(bench_path, who="demo")
    try:
        pdf = folder / "sheet.pdf"
        sheets.write_pdf(bench, SAMPLE, pdf)
    finally:
        bench.close()
    tool = shutil.which("pdftoppm")
    if tool is None:
        print(f"{pdf} (no pdftoppm here: no picture of it)")
        return
    subprocess.run([tool, "-r", "90", "-png", "-singlefile", str(pdf), str(folder / "sheet")], check=True)  # noqa: S603
    pdf.unlink()
    print(folder / "sheet.png")


def main(arguments: list[str]) -> int:
    folder = Path(arguments[0]) if arguments else Path(__file__).parent.parent / "resources" / "pictures"
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as work:
        os.environ["XDG_CONFIG_HOME"] = work  # the person's own settings stay as they are
        from .build import build

        bench_path = Path(work) / "Larkfield (invented).bench"
        build(bench_path)
        views(folder, bench_path, LOOKS)
        page(folder, bench_path)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

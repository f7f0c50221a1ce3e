"""`python3 -m tests` runs every test of the project once: no folder is forgotten, none runs twice."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests import __main__ as starter
from tests.__main__ import PURE, RUNS, SPEED

ROOT = Path(__file__).resolve().parents[1]


def takes(folders: list[str], told: list[str], file: str) -> bool:
    """Whether a run that is given these folders, and told this, comes to this file."""
    inside = [folder for folder in folders or ["tests"] if file.startswith(folder + "/")]
    left_out = [word.removeprefix("--ignore=") for word in told if word.startswith("--ignore=")]
    return bool(inside) and not any(file.startswith(folder + "/") for folder in left_out)


FILES = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py"))


def test_every_file_of_tests_is_in_one_run() -> None:
    assert len(FILES) > 100
    runs = {file: [name for name, folders, told, _ in RUNS if takes(folders, told, file)] for file in FILES}
    assert {file: names for file, names in runs.items() if len(names) != 1} == {}


def test_a_file_that_is_forgotten_would_be_seen() -> None:
    assert not any(takes(folders, told, "other/test_x.py") for _, folders, told, _ in RUNS)
    assert not takes([], ["--ignore=tests/wear"], "tests/wear/test_x.py")
    assert takes([], ["--ignore=tests/wear"], "tests/wearing/test_x.py")


@pytest.mark.parametrize("folder", [*PURE, *SPEED])
def test_a_folder_with_a_run_of_its_own_is_there(folder: str) -> None:
    assert any(file.startswith(folder + "/") for file in FILES)


def test_what_pytest_is_told() -> None:
    (_, pure, told_pure, seen_pure), (_, _, told_others, seen_others), (_, speed, told_speed, _) = RUNS
    assert (pure, speed) == (PURE, SPEED)
    assert "tests/without_qt.ini" in told_pure
    assert seen_pure == {"BENCH_WITHOUT_QT": "1"}
    assert [f"--ignore={folder}" for folder in [*PURE, *SPEED]] == [each for each in told_others if "--ignore" in each]
    assert "tests/without_qt.ini" not in told_others
    assert seen_others == {}
    assert "-n" in told_others
    assert "-n" not in told_speed


def test_checks_beside_the_tests_say_all_they_have_to_say_and_fail(capfdbinary) -> None:
    checks = (("good", ["-c", "print('all well')"]), ("bad", ["-c", "import sys; print('a wall broken'); sys.exit(3)"]))
    beside = [(name, starter.begin(ROOT, sys.executable, command)) for name, command in checks]
    assert starter.finished(beside) == ["bad"]
    said = capfdbinary.readouterr().out.decode("utf-8")
    assert said.split("\n")[:4] == ["== good", "all well", "== bad", "a wall broken"]


def test_what_tests_write_lies_in_memory_only_where_there_is_room(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(starter, "IN_MEMORY", str(tmp_path))
    monkeypatch.setattr(starter, "ROOM", 0)
    kept = Path(starter.kept_in())
    assert kept.is_dir()
    assert kept.parent == tmp_path
    monkeypatch.setattr(starter, "ROOM", 2**62)
    assert starter.kept_in() is None
    monkeypatch.setattr(starter, "IN_MEMORY", str(tmp_path / "nowhere"))
    assert starter.kept_in() is None


@pytest.mark.parametrize("room", ["torture", "benchfile"])
def test_a_room_that_asks_about_the_disk_is_on_one(room) -> None:
    import importlib

    from tests import on_disk

    assert importlib.import_module(f"tests.{room}.conftest").tmp_path is on_disk.tmp_path


def test_no_test_of_a_pure_room_is_left_out_where_qt_is_missing() -> None:
    words = ("importorskip", "qtbot", "qapp", "PySide6")
    files = [file for file in FILES if any(file.startswith(folder + "/") for folder in PURE)]
    assert {file: word for file in files for word in words if word in (ROOT / file).read_text("utf-8")} == {}

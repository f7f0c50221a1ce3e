"""The command line, as the contract says: what it prints, where, with which exit code, and never a traceback."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from benchapp import __version__, cli
from benchapp.actions import run, sample, workbook
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem
from benchapp.records import Flip, Run
from tests.actions.making import a_sample

TABLE = "Sample\tMg [ppm]\tZn [ppm]\nS-1\t12,5\t1100\nW-1\t<1\t900*\nMean\t1\t2\n"


@pytest.fixture
def path(furnished, tmp_path):
    return Path(shutil.copy(furnished, tmp_path / "team.bench"))


@pytest.fixture
def tell(capsys):
    """Runs a command: (exit code, standard output, standard error)."""

    def run_command(*arguments):
        code = cli.main([str(each) for each in arguments])
        said = capsys.readouterr()
        assert "Traceback" not in said.out + said.err
        return code, said.out, said.err

    return run_command


def table(tmp_path, text=TABLE):
    made = tmp_path / "results.txt"
    made.write_text(text, encoding="utf-8")
    return made


def test_new(tell, tmp_path):
    target = tmp_path / "new.bench"
    assert tell("new", target) == (0, f"{target}\n", "")
    code, out, err = tell("new", target)
    assert (code, out) == (1, "")
    assert "already" in err


def test_unload_and_load(tell, path, tmp_path):
    code, out, err = tell("unload", path, tmp_path / "x.xlsx")
    assert (code, err) == (0, "")
    assert "Samples: 3\n" in out
    tell("new", tmp_path / "two.bench")
    code, out, err = tell("load", tmp_path / "two.bench", tmp_path / "x.xlsx")
    assert (code, err) == (0, "")
    assert "Engines: 1\n" in out
    with Bench.open(path, read_only=True) as one, Bench.open(tmp_path / "two.bench", read_only=True) as two:
        assert one.fleet() == two.fleet()


def test_load_tells_every_problem(tell, path, tmp_path):
    import openpyxl

    with Bench.open(path) as bench:
        workbook.unload(bench, tmp_path / "x.xlsx")
    book = openpyxl.load_workbook(tmp_path / "x.xlsx")
    for row in (2, 3, 4):
        book["Runs"].cell(row, 5).value = "three"
    book.save(tmp_path / "x.xlsx")
    tell("new", tmp_path / "two.bench")
    code, out, err = tell("load", tmp_path / "two.bench", tmp_path / "x.xlsx")
    assert (code, out) == (1, "")
    assert err.count("sheet “Runs”, row") == 3
    assert "3 problems. Nothing was loaded." in err


# --- paste


def test_paste_as_json(tell, path, tmp_path):
    code, out, err = tell("paste", path, table(tmp_path), "--instrument", "Bench disc", "--json")
    said = json.loads(out)
    assert (code, err) == (0, "")
    assert list(said)[:4] == ["taken", "problems", "left_out", "committed"]
    assert said["committed"] is True
    assert said["taken"][0] == {
        **said["taken"][0],
        "sample": "S-1", "measurand": "Mg", "value": 12.5, "unit": "ppm", "qualifier": None, "replicate": 1,
    }  # fmt: skip
    assert said["left_out"][0]["label"] == "Mean"
    with Bench.open(path, read_only=True) as bench:
        assert [w.sample.code for w in sample.waiting(bench)] == ["W-1"]


def test_paste_dry_run_writes_nothing(tell, path, tmp_path):
    before = path.read_bytes()
    code, out, err = tell("paste", path, table(tmp_path), "--dry-run", "--json")
    assert (code, err) == (0, "")
    assert json.loads(out)["committed"] is False
    assert path.read_bytes() == before


def test_paste_with_problems(tell, path, tmp_path):
    bad = table(tmp_path, "Sample\tMg\tFe\nS-1\tOVR\t99\nW-2\t3\t4\n")
    code, out, err = tell("paste", path, bad, "--json")
    said = json.loads(out)
    assert (code, said["committed"]) == (1, False)
    assert {(p["row"], p["column"], p["cell"]) for p in said["problems"]} == {(2, "Mg", "OVR"), (2, "Fe", "99")}
    assert all(p["reason"] for p in said["problems"])
    assert "2 problems. Nothing was written." in err
    code, out, err = tell("paste", path, bad, "--dry-run")
    assert code == 1
    assert "dry run" in err
    assert "row 2, Fe, '99': sample S-1 has Fe 11 ppm already" in out
    code, out, err = tell("paste", path, bad, "--take-the-rest", "--json")
    assert (code, json.loads(out)["committed"]) == (0, True)
    assert "The rest was taken" in err
    assert {t["measurand"] for t in json.loads(out)["taken"]} == {"Mg", "Fe"}


def test_paste_from_standard_input(tell, path, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(TABLE.encode())))
    code, out, _ = tell("paste", path, "-")
    assert code == 0
    assert out.startswith("4 readings of 2 samples taken.\n")
    assert "left out: row 4, Mean" in out


def test_paste_of_nothing(tell, path, tmp_path):
    code, _, err = tell("paste", path, table(tmp_path, "Sample\tMg\n"))
    assert code == 1
    assert "no reading to take" in err


def test_paste_with_a_mapping(tell, path, tmp_path):
    from benchapp.intake.paste import interpret
    from benchapp.intake.read import read_text

    mapping = tmp_path / "m.json"
    mapping.write_text(interpret(read_text(TABLE)).mapping.to_json(), encoding="utf-8")
    assert tell("paste", path, table(tmp_path), "--mapping", mapping)[0] == 0
    code, _, err = tell("paste", path, table(tmp_path), "--mapping", tmp_path / "no.json")
    assert code == 1
    assert "no.json cannot be read" in err


def test_paste_for_an_engine(tell, path, tmp_path):
    code, _, err = tell("paste", path, table(tmp_path), "--engine", "E-7")
    assert code == 1
    assert "no engine 'E-7'" in err


# --- call, sheet


def test_call_as_json(tell, path):
    code, out, err = tell("call", path, "--json")
    said = json.loads(out)
    assert (code, err) == (0, "")
    assert [(c["engine"], c["build"], c["sample"]) for c in said["calls"]] == [
        ("E-1", 1, "S-1"), ("E-1", 1, "S-2"), ("E-1", 1, "S-3"),
    ]  # fmt: skip
    each = json.loads(tell("call", path, "--as-of", "each", "--json")[1])
    assert len(each["calls"]) == 3
    one = json.loads(tell("call", path, "--sample", "S-2", "--json")[1])
    assert [c["sample"] for c in one["calls"]] == ["S-2"]
    then = json.loads(tell("call", path, "--as-of", "2026-05-09", "--json")[1])
    assert [c["sample"] for c in then["calls"]] == ["S-1", "S-2"]


def test_one_sample_says_which_inputs_would_turn_its_call(tell, path, monkeypatch):
    """Of a whole fleet nobody waits for it."""
    from benchapp.actions import call

    asked = []
    flip = Flip("fuel", "leaded instead of not known", "Run")
    monkeypatch.setattr(call, "flips_in", lambda fleet, *which: asked.append(which) or (flip,))
    one = json.loads(tell("call", path, "--sample", "S-2", "--json")[1])["calls"][0]
    assert one["flips"] == [{"what": flip.what, "at": flip.at, "call": flip.call}]
    assert asked == [("E-1", "1", "S-2")]
    assert all(c["flips"] == [] for c in json.loads(tell("call", path, "--json")[1])["calls"])
    tell("call", path, "--sample", "S-2", "--as-of", "each", "--json")
    assert len(asked) == 1, "judged with what was known then, it would be turned by what came later"


def test_call_as_a_table(tell, path):
    code, out, err = tell("call", path, "--engine", "E-1")
    assert code == 0
    lines = out.splitlines()
    assert lines[0].split()[:3] == ["engine", "build", "sample"]
    assert len(lines) == 4
    assert "advice" in err


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--engine", "E-7"], "no engine 'E-7'"),
        (["--sample", "S-77"], "no sample S-77"),
        (["--as-of", "soon"], "neither 'each' nor a date"),
        (["--sample", "S-3", "--as-of", "2026-05-06"], "S-3 has no call"),
    ],
)
def test_call_refused(tell, path, arguments, says):
    code, out, err = tell("call", path, *arguments, "--json")
    assert (code, out) == (1, "")
    assert says in err


def test_a_call_does_not_need_the_lock(tell, path):
    with Bench.open(path):
        code, _, err = tell("call", path, "--json")
    assert (code, err) == (0, "")


def test_sheet(tell, path, tmp_path, qapp):
    target = tmp_path / "page.pdf"
    code, out, err = tell("sheet", path, "--sample", "S-2", "-o", target, "--paper", "Letter")
    assert (code, out, err) == (0, f"{target}\n", "")
    assert target.read_bytes().startswith(b"%PDF")
    assert tell("sheet", path, "--sample", "S-77", "-o", target)[0] == 1


def test_the_day_and_labels(tell, path, tmp_path, qapp):
    target = tmp_path / "page.pdf"
    assert tell("day", path, "-o", target) == (0, f"{target}\n", "")
    assert target.read_bytes().startswith(b"%PDF")
    said = tell("labels", path, "--sample", "S-2", "--engine", "E-1", "--next", "2", "--card", "-o", target)
    assert said == (0, f"{target}\n", "")
    assert b"/Count 2" in target.read_bytes()
    code, _, err = tell("labels", path, "-o", tmp_path / "none.pdf")
    assert code == 1
    assert "no label to write" in err
    assert not (tmp_path / "none.pdf").exists()


def test_what_waits(tell, path):
    code, out, err = tell("due", path)
    assert (code, out) == (0, "")
    assert "Nothing waits" in err
    with Bench.open(path) as bench:
        engine = bench.fleet().engines[0]
        run.add(bench, engine.name, engine.builds[-1].number, Run("race", 99.0))
    code, out, err = tell("due", path)
    assert code == 0
    assert out.startswith(f"sample due\t{engine.name}\t\t")
    assert "1 to deal with" in err


# --- safety


def test_verify(tell, path):
    code, out, err = tell("verify", path)
    assert (code, err) == (0, "")
    assert out.startswith("Sound")
    import sqlite3

    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("UPDATE readings SET value = value + 1")
    connection.close()
    code, out, err = tell("verify", path)
    assert code == 1
    assert "sample S-1 is not as it was saved" in out
    assert "restore" in err


def test_backup_restore_and_list(tell, path, tmp_path):
    code, out, _ = tell("backup", path)
    made = Path(out.strip())
    assert code == 0
    assert made.is_file()
    assert str(made) in tell("backup", path, "--list")[1]
    (tmp_path / "stick").mkdir()
    assert Path(tell("backup", path, "--to", tmp_path / "stick")[1].strip()).parent == tmp_path / "stick"
    with Bench.open(path) as bench:
        run.add(bench, "E-1", "1", Run("race", 7.0))
    code, out, err = tell("restore", path, "--from", made)
    assert (code, out) == (0, f"{path}\n")
    assert "is kept as team set aside" in err
    with Bench.open(path, read_only=True) as bench:
        assert 7.0 not in {r.hours for r in bench.build("E-1", "1").runs}
    assert tell("restore", path)[0] == 0
    assert tell("restore", tmp_path / "no.bench")[0] == 1


def test_merge(tell, path, tmp_path):
    other = tmp_path / "other.bench"
    with Bench.open(path) as bench:
        bench.file.copy_out(other)
    for file, fe in ((path, 50.0), (other, 60.0)):
        with Bench.open(file, who=file.stem) as bench:
            sample.confirm(bench, "E-1", "1", a_sample("S-1", 3.0, fe), correct=True)
            run.add(bench, "E-1", "1", Run("race", fe))
    code, out, err = tell("merge", path, other)
    assert code == 0
    assert "run: 1 new or changed" in out
    assert "edited in both files: sample S-1" in out
    assert "(shown until you choose): Fe: 60, ppm, 1" in out
    assert "1 edited in both files" in err
    assert tell("merge", path, other)[1].startswith("Nothing new.\n")
    assert tell("merge", path, path)[0] == 1


def test_a_file_that_is_in_use_is_not_written(tell, path, tmp_path):
    with Bench.open(path, who="Ann"):
        code, out, err = tell("paste", path, table(tmp_path))
        assert (code, out) == (1, "")
        assert "open elsewhere already (Ann on this computer" in err


def left_elsewhere(path) -> None:
    from benchapp.benchfile.lock import lock_path

    said = {"who": "Cy", "host": "another-laptop", "pid": 1, "since": "2026-05-03T10:00:00+00:00"}
    lock_path(path).write_text(json.dumps(said), encoding="utf-8")


def test_a_lock_left_elsewhere_is_named_with_the_way_to_take_it_over(tell, path, tmp_path):
    left_elsewhere(path)
    code, _, err = tell("paste", path, table(tmp_path))
    assert code == 1
    assert "Cy on another-laptop" in err
    assert "add --take-over" in err
    code, _, err = tell("paste", path, table(tmp_path), "--take-over")
    assert code == 0
    assert "checked in full" in err
    assert "--take-over" not in tell("paste", path, table(tmp_path))[2]  # the lock was given back


@pytest.mark.parametrize("command", ["load", "sheet", "merge", "backup"])
def test_what_writes_may_take_over(tell, path, tmp_path, command):
    workbook_ = tmp_path / "x.xlsx"
    tell("unload", path, workbook_)
    with Bench.open(path) as bench:
        bench.file.copy_out(tmp_path / "other.bench")
    more = {"load": [workbook_], "sheet": ["--sample", "S-1", "-o", tmp_path / "x.pdf"],
            "merge": [tmp_path / "other.bench"]}.get(command, [])  # fmt: skip
    left_elsewhere(path)
    assert tell(command, path, *more, "--take-over")[0] == 0
    with Bench.open(path) as bench:
        assert not bench.read_only


def test_a_restore_over_a_lock_left_elsewhere(tell, path):
    made = tell("backup", path)[1].strip()
    left_elsewhere(path)
    code, _, err = tell("restore", path, "--from", made)
    assert code == 1
    assert "add --take-over" in err
    assert "Nothing was changed" in err
    assert tell("restore", path, "--from", made, "--take-over")[0] == 0


def test_notices_are_told(tell, path):
    from benchapp.benchfile.lock import lock_path

    lock_path(path).write_text("{")
    code, _, err = tell("backup", path)
    assert code == 0
    assert "not closed properly last time" in err


# --- demo, window, the rest


def test_demo(tell, tmp_path, monkeypatch):
    from benchapp.actions import demo

    class Builder:
        @staticmethod
        def build(target, _progress):
            Bench.create(target, who="demo").close()

    monkeypatch.setattr(demo, "_builder", lambda: Builder)
    target = tmp_path / "deep" / "demo.bench"
    assert tell("demo", target, "--no-window") == (0, f"{target}\n", "")
    opened = []
    monkeypatch.setattr(cli, "_window", lambda path: opened.append(path) or 0)
    target.unlink()
    assert tell("demo", target)[0] == 0
    assert opened == [target]


def test_demo_never_replaces_own_work(tell, path):
    code, _, err = tell("demo", path, "--no-window")
    assert code == 1
    assert "is not a demo" in err
    with Bench.open(path, who="x"):
        code, _, err = tell("demo", path, "--no-window")
        assert code == 1
        assert "is in use" in err


def test_open(tell, path, monkeypatch):
    opened = []
    monkeypatch.setattr(cli, "_window", lambda file, take_over=False: opened.append((file, take_over)) or 0)
    assert tell("open", path)[0] == 0
    assert tell("open", path, "--take-over")[0] == 0
    assert tell("open")[0] == 0
    assert tell()[0] == 0
    assert opened == [(path, False), (path, True), (None, False), (None, False)]


def test_a_window_without_its_libraries(tell, monkeypatch):
    monkeypatch.setitem(sys.modules, "benchapp.window.app", None)
    code, _, err = tell("open")
    assert code == 1
    assert "--self-check" in err


def test_version_and_self_check(tell):
    assert tell("--version") == (0, f"benchapp {__version__}\n", "")
    code, out, _ = tell("--self-check")
    assert code in (0, 1)
    for word in ("Python", "SQLite", "PySide6", "resources:", "log folder:"):
        assert word in out


def test_self_check_tells_what_is_missing(tell, monkeypatch):
    monkeypatch.setattr(cli, "_LIBRARIES", ("no-such-library",))
    monkeypatch.setattr(cli, "_qt_problem", lambda: "does not load (libX is missing)")
    code, out, err = tell("--self-check")
    assert code == 1
    assert "no-such-library is missing" in out
    assert "Qt: does not load (libX is missing)" in out
    assert "install it" in err


@pytest.mark.parametrize("arguments", [["fly"], ["new"], ["sheet", "x.bench"], ["call", "x", "--fast"]])
def test_wrong_use_is_two(tell, arguments):
    code, out, err = tell(*arguments)
    assert (code, out) == (2, "")
    assert "usage:" in err


@pytest.mark.parametrize(
    "command", ["load", "unload", "paste", "call", "sheet", "verify", "backup", "restore", "merge"]
)
def test_a_file_that_is_not_there(tell, tmp_path, command):
    more = {"sheet": ["--sample", "S", "-o", "x.pdf"], "load": ["x.xlsx"], "unload": ["x.xlsx"], "paste": ["t.csv"],
            "merge": ["y.bench"]}.get(command, [])  # fmt: skip
    code, out, err = tell(command, tmp_path / "no.bench", *more)
    assert (code, out) == (1, "")
    assert err.strip()


def test_the_unexpected_is_one_sentence_and_a_log(tell, path, tmp_path, monkeypatch):
    import platformdirs

    monkeypatch.setattr(platformdirs, "user_log_path", lambda *_, **__: tmp_path)

    def breaks(*_, **__):
        raise RuntimeError("boom")

    monkeypatch.setattr(Bench, "open", breaks)
    code, out, err = tell("verify", path)
    assert (code, out) == (1, "")
    assert err.startswith("Something went wrong that this program did not expect (RuntimeError).")
    assert "boom" in (tmp_path / "errors.log").read_text()
    monkeypatch.setattr(platformdirs, "user_log_path", lambda *_, **__: tmp_path / "no")
    assert tell("verify", path)[0] == 1


def test_stopped_by_the_person(tell, path, monkeypatch):
    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(Bench, "open", stopped)
    code, _, err = tell("verify", path)
    assert code == 1
    assert "nothing is half-written" in err


def test_text_from_outside_does_not_drive_the_terminal(tell, monkeypatch, path):
    def refused(*_, **__):
        raise BenchProblem("a\x1b[2Jb\u202ec", "m", "d")

    monkeypatch.setattr(Bench, "open", refused)
    assert tell("verify", path)[2] == "a?[2Jb?c\nm\nd\n"


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from benchapp import cli; cli.main(['--help']); "
        "heavy = {'numpy', 'pandas', 'scipy', 'PySide6', 'pyqtgraph', 'openpyxl', 'sqlite3', 'sqlite_utils'}; "
        "sys.stderr.write(' '.join(sorted(heavy & set(sys.modules))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Race Oil Bench" in done.stdout
    assert done.stderr == ""


def test_as_a_module():
    done = subprocess.run([sys.executable, "-m", "benchapp", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout == f"benchapp {__version__}\n"

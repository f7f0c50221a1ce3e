"""The faults, each as a function that tries it some rounds and counts what went wrong. `python -m tests.torture` runs
the long form and prints the table; the tests run a few rounds of each.

A round that finds the smallest loss, half-write or unnoticed change counts it; nothing is forgiven.
"""

from __future__ import annotations

import contextlib
import gzip
import itertools
import os
import random
import select
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from benchapp.actions import engine, paste, run, safety, sample, workbook
from benchapp.actions.bench import Bench
from benchapp.benchfile import copies
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.problems import BenchProblem
from benchapp.records import Reading, Run, Sample
from tests.actions.making import a_family, a_sample
from tests.benchfile.making import state
from tests.torture.made import BATCH, batch_workbook, small_bench, tiny_pages

ROOT = Path(__file__).parent.parent.parent


@dataclass
class Row:
    """One line of the table."""

    kind: str
    rounds: int = 0
    losses: int = 0
    half_writes: int = 0
    unnoticed: int = 0
    notes: dict[str, int] = field(default_factory=dict)
    details: list[str] = field(default_factory=list)

    @property
    def wrong(self) -> int:
        return self.losses + self.half_writes + self.unnoticed

    def note(self, what: str) -> None:
        self.notes[what] = self.notes.get(what, 0) + 1


# --- the process is killed


def kill_nine(folder: Path, rounds: int, seed: int = 1, kinds: str = "") -> Row:
    """Kills a writing process at a random moment; opens the file again and looks for all that was acknowledged."""
    row, chance, path, acknowledged, n = Row("kill -9 while writing"), random.Random(seed), None, [], 0
    for each in range(rounds):
        if each % 40 == 0:
            place = folder / f"file {each}"
            place.mkdir(parents=True)
            path, acknowledged, n = small_bench(place), [], 0
        said, cut = _write_and_kill(path, n, chance, kinds)
        acknowledged += said
        n += len(said) + 1
        row.rounds += 1
        row.note("killed within a write" if cut else "killed between writes")
        _look(path, acknowledged, row)
        for left in path.parent.glob("*.xlsx"):
            left.unlink()
    return row


def _write_and_kill(path: Path, first: int, chance: random.Random, kinds: str) -> tuple[list[tuple[str, int]], bool]:
    command = [sys.executable, "-m", "tests.torture.writer", str(path), str(first), *([kinds] if kinds else [])]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == b"ready"
        lines = [process.stdout.readline() for _ in range(chance.randint(0, 6))]
        select.select([process.stdout], [], [], chance.uniform(0, 0.05))  # into the middle of the next write
        process.send_signal(signal.SIGKILL)
        rest = process.stdout.read()
    text = (b"".join(lines) + rest).decode()
    said = [(line.split()[0], int(line.split()[1])) for line in text.splitlines() if line.endswith(tuple("0123456789"))]
    return said, (path.with_name(path.name + "-journal")).exists()


def _look(path: Path, acknowledged: list[tuple[str, int]], row: Row) -> None:
    """Everything acknowledged is there, every batch is whole, the file is sound, and so is every backup."""
    with Bench.open(path, who="looker") as bench:
        if bench.read_only or not bench.notices:
            row.unnoticed += 1
            row.details.append(f"opened {bench.why_read_only or 'without a word about the stop'}")
        found = bench.file.verify()
        if found:
            row.losses += 1
            row.details.append(found[0])
        build = bench.build("E-1", "1")
        samples = {each.code: each for each in build.samples}
        codes = sample.codes(bench)
        runs: dict[str, int] = {}
        for each in build.runs:
            runs[each.notes] = runs.get(each.notes, 0) + 1
        for kind, n in acknowledged:
            if not _there(bench, kind, n, samples, codes, runs):
                row.losses += 1
                row.details.append(f"lost {kind} {n}")
        pasted: dict[str, int] = {}
        for code in codes:
            if code.startswith("P-"):
                pasted[code.split("-")[1]] = pasted.get(code.split("-")[1], 0) + 1
        halves = [n for n in pasted.values() if n != BATCH] + [n for note, n in runs.items() if note and n != BATCH]
        halves += [1 for each in samples.values() if each.code.startswith("K-") and len(each.readings) != 6]
        row.half_writes += len(halves)
    for kept in copies.backups_in(copies.backup_folder(path), path.stem):
        if copies.look_through(kept.path):
            row.losses += 1
            row.details.append(f"unsound backup {kept.path.name}")


def _there(bench: Bench, kind: str, n: int, samples, codes, runs) -> bool:
    match kind:
        case "confirm":
            return f"K-{n}" in samples and samples[f"K-{n}"].readings[0].value == float(n)
        case "correct":
            return f"K-{n}" in samples and samples[f"K-{n}"].readings[0].value == n + 0.5
        case "paste":
            return all(f"P-{n}-{i}" in codes for i in range(BATCH))
        case "load":
            return runs.get(f"batch {n}") == BATCH
        case "draft":
            return bench.file.draft(f"draft-{n}") == f'{{"n": {n}}}'
        case "undo":
            return all(run.kind != f"undone {n}" for run in bench.build("E-1", "1").runs)
        case _:
            return True


# --- the disk is full, or read-only


@contextlib.contextmanager
def tiny_disk(folder: Path, megabytes: int) -> Iterator[Path | None]:
    """A small disk of its own (Linux, superuser), or None where none can be had."""
    folder.mkdir(parents=True, exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(folder)]
    try:
        mounted = subprocess.run(command, capture_output=True, check=False).returncode == 0
    except OSError:
        mounted = False
    try:
        yield folder if mounted else None
    finally:
        if mounted:
            subprocess.run(["umount", "-l", str(folder)], capture_output=True, check=False)


def _confirm(bench: Bench) -> None:
    readings = tuple(Reading(element, 1.0) for element in ELEMENTS)
    sample.confirm(bench, "E-1", "1", Sample("D-1", "F1", 5.0, 5.0, readings=readings))


def _paste(bench: Bench) -> None:
    rows = "".join(f"D-{n}\t1\t2\t3\t4\n" for n in range(40))
    paste.take(bench, interpret(read_text("Sample\tFe\tCu\tPb\tSn\n" + rows)))


ELEMENTS = ("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn", "Si", "Na", "K", "B", "Mo", "Ca", "Mg", "Zn", "P")

STEPS = {
    "confirm": _confirm,
    "paste": _paste,
    "run": lambda bench: run.add(bench, "E-1", "1", Run("race", 1.0)),
    "undo": lambda bench: bench.undo(),
    "draft": lambda bench: bench.file.keep_draft("d", "x" * 3000),
    "backup": safety.backup,
}


def disk_full(folder: Path, steps: int, stride: int = 1) -> Row:
    """Each kind of write with ever less room left; then again with room. `steps` of 4 kB each."""
    row = Row("disk full at each step")
    template = small_bench(folder)
    with tiny_disk(folder / "disk", 4) as disk:
        if disk is None:
            row.note("no small disk can be made here: page limit instead")
        for name, step in STEPS.items():
            for kilobytes in range(0, 4 * steps, 4 * stride):
                row.rounds += 1
                with _nearly_full(disk, template, kilobytes) as (path, make_room):
                    _try_full(path, name, step, make_room, row)
    return row


@contextlib.contextmanager
def _nearly_full(disk: Path | None, template: Path, kilobytes: int) -> Iterator[tuple[Path, object]]:
    """A fresh bench file on the disk; `make_room(False)` leaves so many kB, `make_room(True)` frees the disk."""
    place = (disk or template.parent) / "d"
    place.mkdir(exist_ok=True)
    path = place / "team.bench"
    path.write_bytes(template.read_bytes())
    filler = place / "filler"

    def make_room(bench: Bench, room: bool) -> None:
        if disk is None:
            with bench.file.reading() as connection:
                pages = connection.execute("PRAGMA page_count").fetchone()[0] + kilobytes // 4
                connection.execute(f"PRAGMA max_page_count = {10**9 if room else pages}")
            return
        filler.unlink(missing_ok=True)
        if not room:
            left = os.statvfs(place)
            filler.write_bytes(b"\0" * max(0, left.f_bavail * left.f_frsize - kilobytes * 1024))

    try:
        yield path, make_room
    finally:
        for each in sorted(place.rglob("*"), reverse=True):
            each.rmdir() if each.is_dir() else each.unlink()


def _try_full(path: Path, name: str, step, make_room, row: Row) -> None:
    bench = Bench.open(path, who="Ann")
    try:
        before, backups = state(bench.file), len(safety.backups(path))
        make_room(bench, False)
        try:
            step(bench)
        except BenchProblem as problem:
            row.note("refused")
            if not (problem.means and problem.do):
                row.unnoticed += 1
            if state(bench.file) != before or len(safety.backups(path)) != backups:
                row.half_writes += 1
                row.details.append(f"{name}: refused, yet something changed")
        else:
            row.note("done")
        make_room(bench, True)
        if bench.file.verify():
            row.losses += 1
            row.details.append(f"{name}: {bench.file.verify()[0]}")
        if name == "confirm":
            run.add(bench, "E-1", "1", Run("race", 2.0))  # it goes on where there is room again
    finally:
        bench.close()
    with Bench.open(path) as again:
        if again.damaged or again.file.verify():
            row.losses += 1
            row.details.append(f"{name}: unsound after opening again")


def read_only_medium(folder: Path, rounds: int) -> Row:
    """The file on a disk that cannot be written: it opens, reads, says why, and refuses every write in words."""
    row = Row("read-only medium")
    template = small_bench(folder)
    with Bench.open(template, read_only=True) as bench:
        want = state(bench.file)
    with tiny_disk(folder / "stick", 4) as disk:
        place = disk or folder / "plain"
        place.mkdir(exist_ok=True)
        path = place / "team.bench"
        path.write_bytes(template.read_bytes())
        if disk is not None:
            subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True, capture_output=True)
        else:
            path.chmod(0o444)
            row.note("no small disk can be made here: write-protected file instead")
        for _ in range(rounds):
            row.rounds += 1
            with Bench.open(path) as bench:
                row.unnoticed += not bench.why_read_only
                row.losses += state(bench.file) != want
                for name, step in STEPS.items():
                    try:
                        step(bench)
                    except BenchProblem:
                        row.note("refused")
                    else:
                        row.note("done")
                        row.half_writes += name != "backup"
        path.chmod(0o644) if disk is None else None
    return row


# --- a second instance


def second_instance(folder: Path, rounds: int) -> Row:
    """While another process writes, this one opens: read-only, with a sentence, and sees only whole writes."""
    row, path = Row("second instance"), small_bench(folder)
    command = [sys.executable, "-m", "tests.torture.writer", str(path), "0", "confirm,paste,load"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdout is not None
        process.stdout.readline()
        for _ in range(rounds):
            row.rounds += 1
            process.stdout.readline()
            try:
                bench = Bench.open(path)
            except BenchProblem as problem:
                row.note(f"not now: {problem.what[:40]}")
                continue
            with bench:
                if "open elsewhere" not in bench.why_read_only:
                    row.unnoticed += 1
                    row.details.append(f"why: {bench.why_read_only!r}")
                with contextlib.suppress(BenchProblem):
                    _confirm(bench)
                    row.losses += 1
                try:
                    codes = [code.split("-")[1] for code in sample.codes(bench) if code.startswith("P-")]
                except BenchProblem as problem:
                    row.note(f"not now: {problem.what[:40]}")
                    continue
                row.half_writes += any(codes.count(n) != BATCH for n in set(codes))
        process.send_signal(signal.SIGKILL)
    with Bench.open(path) as bench:
        if bench.file.verify():
            row.losses += 1
    return row


# --- single bits


def bit_flips(folder: Path, flips: int, seed: int = 2) -> Row:
    """Flips one bit of the closed file: noticed at start or by verify, or without any effect. 0: one in every byte."""
    row, chance = Row("single bit flips"), random.Random(seed)
    path = tiny_pages(small_bench(folder))
    with Bench.open(path, read_only=True) as bench:
        want, fleet = state(bench.file), bench.fleet()
    sound = path.read_bytes()
    copy = folder / "flipped.bench"
    places = range(len(sound)) if flips == 0 else sorted(chance.sample(range(len(sound)), flips))
    for place in places:
        row.rounds += 1
        data = bytearray(sound)
        data[place] ^= 1 << chance.randrange(8)
        copy.write_bytes(data)
        outcome = _flipped(copy, want, fleet)
        row.note(outcome)
        if outcome == "UNNOTICED":
            row.unnoticed += 1
            row.details.append(f"byte {place}")
    return row


def _flipped(copy: Path, want, fleet) -> str:
    try:
        bench = Bench.open(copy, read_only=True)
    except BenchProblem:
        return "refused at start"
    with bench:
        if bench.damaged:
            return "noticed at start"
        try:
            same = bench.fleet() == fleet and state(bench.file) == want
        except BenchProblem:
            return "noticed on reading"
        if bench.fleet() != fleet:
            return "UNNOTICED"
        if bench.file.verify():
            return "noticed by verify"
        return "harmless" if same else "UNNOTICED"


# --- hostile files


HOSTILE = {
    "trigger": "CREATE TRIGGER t AFTER INSERT ON samples BEGIN DELETE FROM readings; END",
    "view": "CREATE VIEW v AS SELECT * FROM samples",
    "view in place of a table": "ALTER TABLE photos RENAME TO p ;; CREATE VIEW photos AS SELECT * FROM p",
    "more tables": "CREATE TABLE more (x)",
    "virtual table": "CREATE VIRTUAL TABLE v USING fts5(x)",
    "expression index": "CREATE INDEX i ON samples (abs(build_h))",
    "partial index": "CREATE INDEX i ON samples (code) WHERE void = ''",
    "lost table": "DROP TABLE photos",
    "another application": "PRAGMA application_id = 1",
    "from the future": "PRAGMA user_version = 99",
    "rewritten schema": "PRAGMA writable_schema = ON ;; "
    "UPDATE sqlite_master SET sql = replace(sql, 'STRICT', '') WHERE name = 'samples'",
    "huge cell": "UPDATE samples SET notes = hex(zeroblob(20000000))",
    "text in a number": "PRAGMA ignore_check_constraints = ON ;; UPDATE readings SET qualifier = 'x'",
    "not UTF-8": "UPDATE samples SET notes = CAST(x'ff80' AS TEXT)",
    "a changed value": "UPDATE readings SET value = value + 1",
    "an orphan": "PRAGMA foreign_keys = OFF ;; DELETE FROM builds",
}  # fmt: skip


def hostile_files(folder: Path) -> Row:
    """Files made to hurt: opened, and offered for merging. Each is refused or read-only, and nothing of it comes in."""
    row = Row("hostile bench files")
    for name, statements in HOSTILE.items():
        row.rounds += 1
        path = small_bench(folder, "hostile.bench")
        connection = sqlite3.connect(path, isolation_level=None)
        for statement in statements.split(" ;; "):
            connection.execute(statement)
        connection.close()
        try:
            with Bench.open(path) as bench:
                row.unnoticed += not bench.damaged
                row.note("read-only" if bench.damaged else f"UNNOTICED {name}")
                if not bench.damaged:
                    row.details.append(f"opened: {name}")
        except BenchProblem:
            row.note("refused")
        mine = small_bench(folder, "mine.bench")
        with Bench.open(mine) as bench:
            before = state(bench.file)
            try:
                safety.merge(bench, path)
            except BenchProblem:
                row.note("not merged")
            else:
                row.unnoticed += 1
                row.details.append(f"merged: {name}")
            row.losses += state(bench.file) != before
    return row


# --- the clock


def clock_backwards(folder: Path, rounds: int) -> Row:
    """Entries made with a clock that jumps about: order, undo and chain hold, and the next start says so."""
    row, chance, path = Row("clock going backwards"), random.Random(3), small_bench(folder)
    with Bench.open(path) as bench:
        for n in range(rounds):
            row.rounds += 1
            bench.do(f"step {n}", _dated(n, f"{chance.randint(1990, 2090)}-01-01T00:00:00.000+00:00"))
            row.losses += bench.undo_label != f"step {n}"
        row.losses += len(bench.file.verify())
        bench.do("from the future", _dated(rounds, "2999-01-01T00:00:00.000+00:00"))
    with Bench.open(path) as bench:
        row.unnoticed += not any("clock is behind" in notice for notice in bench.notices)
        for n in reversed(range(rounds)):
            bench.undo()
            row.losses += bench.undo_label != f"step {n}"
    return row


def _dated(n: int, at: str):
    def body(step) -> None:
        step.at = at
        step.put("oil", f"oil {n}", {"name": f"oil {n}"})

    return body


# --- half a workbook


def bad_workbooks(folder: Path, rounds: int) -> Row:
    """A workbook with one bad cell somewhere: nothing of it is taken."""
    from openpyxl import load_workbook

    row, chance = Row("workbooks with one bad cell"), random.Random(4)
    path = small_bench(folder)
    with Bench.open(path) as bench:
        before = state(bench.file)
        for n in range(rounds):
            row.rounds += 1
            made = batch_workbook(folder, n)
            book = load_workbook(made)
            page = book["Runs"]
            page.cell(chance.randint(2, BATCH + 1), chance.choice([1, 2, 5, 6])).value = chance.choice(
                ["<", "12,4,1", "nobody", "=1+1", "1e400", "-5", "NaN"]
            )
            book.save(made)
            try:
                workbook.load(bench, made)
            except BenchProblem:
                row.note("refused")
            else:
                row.half_writes += 1
                row.details.append(f"taken: workbook {n}")
            row.half_writes += state(bench.file) != before
            made.unlink()
    return row


# --- two laptops, old files, fuzzed pastes


DEEDS = ("run", "fe", "void", "car", "new", "undo", "engine")


def do(bench: Bench, what: str, n: int) -> None:
    """One thing a person may do on a laptop of their own; nothing where it is not possible."""
    match what:
        case "run":
            run.add(bench, "E-1", "1", Run("race", n / 4))
        case "fe" if f"S-{n}" in sample.codes(bench):
            sample.confirm(bench, "E-1", "1", a_sample(f"S-{n}", 3.0 * n, 10.0 + n), correct=True)
        case "void" if f"S-{n}" in sample.codes(bench):
            sample.void(bench, f"S-{n}", "test")
        case "car":
            engine.edit(bench, "E-1", car=f"Car {n}")
        case "new" if f"N-{n}" not in sample.codes(bench):
            sample.confirm(bench, "E-1", "1", a_sample(f"N-{n}", 4.0 + n, 20.0))
        case "undo" if bench.undo_label:
            bench.undo()
        case "engine" if f"E-{n}" not in {each.name for each in bench.fleet().engines}:
            engine.add(bench, f"E-{n}", a_family(bench))


def laptops(folder: Path, many: int) -> list[Path]:
    """Copies of one small bench file."""
    base = small_bench(folder, "base.bench")
    return [Path(shutil.copyfile(base, folder / f"laptop {n}.bench")) for n in range(many)]


def merge_orders(folder: Path, rounds: int, seed: int = 5) -> Row:
    """Three laptops with random histories, merged in every order: each must come to the same, and hold every run."""
    row, chance = Row("two and three laptops merged"), random.Random(seed)
    for each in range(rounds):
        place = folder / f"round {each}"
        place.mkdir()
        paths, runs = laptops(place, 3), 0
        for n, path in enumerate(paths):
            with Bench.open(path, who=f"person {n}") as bench:
                before = len(bench.build("E-1", "1").runs)
                for _ in range(chance.randint(0, 6)):
                    do(bench, chance.choice(DEEDS), chance.randint(1, 3))
                runs += len(bench.build("E-1", "1").runs) - before
        results = []
        for order in itertools.permutations(range(3)):
            row.rounds += 1
            first, *others = [Path(shutil.copyfile(paths[n], place / f"{order} {n}.bench")) for n in order]
            with Bench.open(first, who="Merger") as bench:
                for other in others:
                    safety.merge(bench, other)
                row.losses += len(bench.file.verify()) + (len(bench.build("E-1", "1").runs) != before + runs)
                # which version stands first only says which file is "this" one
                shown = [(c.key, c.shown, sorted(v.key for v in c.versions)) for c in safety.conflicts(bench)]
                results.append((state(bench.file), shown))
                row.note("with conflicts" if shown else "without conflicts")
        row.unnoticed += sum(result != results[0] for result in results)
        shutil.rmtree(place)
    return row


def released_files(folder: Path) -> Row:
    """One file of every released version: opened, brought up to date, checked; and left alone when only read."""
    row = Row("old schema versions")
    for kept in sorted((ROOT / "tests" / "benchfile" / "released").glob("*.gz")):
        row.rounds += 1
        path = folder / "old.bench"
        path.write_bytes(gzip.decompress(kept.read_bytes()))
        before = path.read_bytes()
        with Bench.open(path, read_only=True) as bench:
            want = bench.fleet()
        row.half_writes += path.read_bytes() != before
        with Bench.open(path) as bench:
            row.losses += bench.fleet() != want or bool(bench.file.verify())
    return row


PIECES = (
    "",
    "S-1",
    "S-2",
    "Fe",
    "Cu [ppm]",
    "Zn",
    "KV40",
    "12,4",
    "1.5",
    "<1",
    "ND",
    "OVR",
    "12,4,1",
    "=1+1",
    "Mean",
    "Blank",
    "Check 50 ppm",
    "6.1 J",
    "\u202eS-3",
    "\x00",
    "nan",
    "1e400",
    "Sample",
    "ID",
    "0.0012",
    "E-1",
    "2026-05-03",
    "x" * 5000,
)


def fuzzed_pastes(folder: Path, rounds: int, seed: int = 6) -> Row:
    """Random tables taken into a file: in words or whole, and what is refused leaves no trace."""
    row, chance, path = Row("fuzzed pastes"), random.Random(seed), small_bench(folder)
    with Bench.open(path) as bench:
        before = state(bench.file)
        for n in range(rounds):
            row.rounds += 1
            head = ["Sample", *chance.choices(PIECES[3:7], k=chance.randint(0, 3))] if chance.random() < 0.7 else []
            body = [chance.choices(PIECES, k=chance.randint(0, 5)) for _ in range(chance.randint(0, 5))]
            text = "\n".join("\t".join(cells) for cells in [head, *body])
            label = bench.undo_label
            try:
                taken = paste.take(bench, interpret(read_text(text)), take_the_rest=chance.random() < 0.5)
            except BenchProblem:
                row.note("refused")
                row.half_writes += bench.undo_label != label
            else:
                row.note("taken")
                if taken.changed.nouns:
                    bench.undo()
            if n % 100 == 99:
                row.losses += len(bench.file.verify())
        visible = [each for each in state(bench.file)["samples"] if not each[4]]
        row.half_writes += len(visible) != len(before["samples"])
    return row

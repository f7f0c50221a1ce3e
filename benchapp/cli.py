"""The same jobs without a window: `benchapp …`. Results go to stdout, messages to stderr.

Exit codes: 0 done; 1 the data has a problem (stated, nothing half-written); 2 wrong use. Nothing heavy is imported
before the command is known (for `--help` not even argparse, which doubles the start), and no traceback ever reaches a
user.
"""

from __future__ import annotations

import sys

from benchapp.problems import BenchProblem

TYPE_CHECKING = False  # type checkers take it as true; importing it from `typing` costs a tenth of a start
if TYPE_CHECKING:
    import argparse
    import datetime as dt
    from collections.abc import Callable, Sequence
    from pathlib import Path
    from typing import Any

    from benchapp.actions.bench import Bench
    from benchapp.records import Call

DONE, PROBLEM, WRONG_USE = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command; returns the exit code."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given in (["-h"], ["--help"]):
        print(help_text(), end="")
        return DONE
    try:
        parsed = _parser().parse_args(given)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else WRONG_USE
    run: Callable[[argparse.Namespace], int] = parsed.run
    return _guarded(run, parsed)


def _guarded(run: Callable[[argparse.Namespace], int], parsed: argparse.Namespace) -> int:
    """Runs a command; whatever goes wrong becomes sentences."""
    try:
        code = run(parsed)
        sys.stdout.flush()
    except BenchProblem as problem:
        for sentence in (problem.what, problem.means, problem.do):
            _say(sentence)
        return PROBLEM
    except KeyboardInterrupt:
        _say("Stopped. What was saved before is safe; nothing is half-written.")
        return PROBLEM
    except BrokenPipeError:
        return _pipe_closed()
    except Exception as error:  # noqa: BLE001  the last net: a user never sees a traceback
        _say(_unknown(error))
        return PROBLEM
    return code


def _pipe_closed() -> int:
    """The reader of our output went away (`| head`): nothing more can be said."""
    import os

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return PROBLEM


def _unknown(error: Exception) -> str:
    """One sentence, and the details in a log file for whoever looks after the program."""
    where = ""
    try:
        import traceback

        from platformdirs import user_log_path

        log = user_log_path("race-oil-bench", appauthor=False, ensure_exists=True) / "errors.log"
        with log.open("a", encoding="utf-8") as out:
            out.write("".join(traceback.format_exception(error)) + "\n")
        where = f" Details are in {log}."
    except OSError:
        pass
    return (
        f"Something went wrong that this program did not expect ({type(error).__name__}). What was saved before is "
        f"safe; nothing is half-written. Try again; if it happens again, report it.{where}"
    )


def _say(sentence: str) -> None:
    """A message for the person."""
    print(_printable(sentence), file=sys.stderr)


def _print(text: str) -> None:
    """A result. Where the terminal cannot show a sign, a question mark stands for it."""
    encoding = sys.stdout.encoding or "utf-8"
    print(text.encode(encoding, "replace").decode(encoding))


def _printable(text: str) -> str:
    """Text from outside without control characters (they could drive the terminal), in the terminal's own signs."""
    shown = "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in text)
    encoding = sys.stderr.encoding or "utf-8"
    return shown.encode(encoding, "replace").decode(encoding)


# --- what can be asked ------------------------------------------------------------------------------------------------


COMMANDS = {
    "open": "open a bench file in the window",
    "new": "make an empty bench file",
    "load": "load a whole-bench workbook, all or nothing",
    "unload": "write the whole bench as a workbook",
    "paste": "take a table of results, all or nothing",
    "call": "print the calls",
    "checks": "may the instruments be trusted today; what a failed check holds",
    "sheet": "print the page of a sample as PDF",
    "day": "print all cars and their calls as PDF",
    "labels": "print bottle labels with QR codes as PDF",
    "due": "list what waits: samples due, not measured, without an engine, held; parts near the end of life",
    "verify": "check structure, integrity and audit chain",
    "backup": "make a checked copy",
    "restore": "put a kept copy in the place of the bench file",
    "merge": "take in what another bench file has",
    "demo": "build the demo bench file and open it",
}
OPTIONS = {
    "-h, --help": "show this help",
    "--version": "print the version",
    "--self-check": "print versions, missing libraries, where things are",
}


def help_text() -> str:
    """What `benchapp --help` prints."""
    return (
        "usage: benchapp [-h] [--version] [--self-check] COMMAND ...\n\n"
        "Race Oil Bench: from a race engine's oil sample to a call on paper.\n\n"
        f"commands (benchapp COMMAND --help says more):\n{_listed(COMMANDS)}\n"
        f"options:\n{_listed(OPTIONS)}\n"
        "Without a command the window opens. A call is advice: qualified people decide whether a car\ngoes out.\n"
    )


def _listed(words: dict[str, str]) -> str:
    return "".join(f"  {name:<14}{meaning}\n" for name, meaning in words.items())


def _parser() -> argparse.ArgumentParser:
    import argparse
    from pathlib import Path

    from benchapp import __version__

    class Whole(argparse.ArgumentParser):
        def format_help(self) -> str:
            return help_text()

    parser = Whole(prog="benchapp")
    parser.add_argument("--version", action="version", version=f"benchapp {__version__}")
    parser.add_argument("--self-check", action="store_true")
    parser.set_defaults(run=_no_command)
    commands = parser.add_subparsers(metavar="COMMAND", parser_class=argparse.ArgumentParser)

    def command(name: str, run: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        words = COMMANDS[name]
        sub = commands.add_parser(name, description=words[0].upper() + words[1:] + ".")
        sub.set_defaults(run=run)
        return sub

    def file(sub: argparse.ArgumentParser, words: str = "the bench file") -> None:
        sub.add_argument("file", metavar="FILE", type=Path, help=words)

    def take_over(sub: argparse.ArgumentParser) -> None:
        sub.add_argument(
            "--take-over", action="store_true",
            help="disregard the lock that another computer left: only where that computer is off, or has the file "
            "closed",
        )  # fmt: skip

    sub = command("open", _open)
    sub.add_argument("file", metavar="FILE", type=Path, nargs="?", help="the bench file (none: the last one)")
    take_over(sub)
    sub = command("new", _new)
    file(sub, "the bench file to make")
    sub = command("load", _load)
    file(sub)
    take_over(sub)
    sub.add_argument("workbook", metavar="WORKBOOK", type=Path, help="the workbook to load (xlsx, ods)")
    sub = command("unload", _unload)
    file(sub)
    sub.add_argument("workbook", metavar="WORKBOOK", type=Path, help="the workbook to write (.xlsx)")
    sub = command("paste", _paste)
    file(sub)
    take_over(sub)
    sub.add_argument("table", metavar="TABLE", help="xlsx, xls, ods, csv, tsv or txt; - reads standard input")
    sub.add_argument("--engine", metavar="E", help="the engine that the samples are of")
    sub.add_argument("--instrument", metavar="I", help="the instrument that the results are from")
    sub.add_argument("--mapping", metavar="M", type=Path, help="a mapping (JSON) in place of the remembered one")
    sub.add_argument("--decimal", choices=[".", ","], help="the decimal sign, where the table does not tell")
    sub.add_argument("--take-the-rest", action="store_true", help="take what has no problem")
    sub.add_argument("--dry-run", action="store_true", help="only show what would be taken")
    sub.add_argument("--json", action="store_true", help="print JSON")
    sub = command("call", _call)
    file(sub)
    sub.add_argument("--engine", metavar="E", help="only this engine")
    sub.add_argument("--sample", metavar="S", help="only this sample")
    sub.add_argument(
        "--as-of", metavar="EACH", help="each: every sample with only what was known then; or a date (ISO 8601)"
    )
    sub.add_argument("--json", action="store_true", help="print JSON")
    sub = command("checks", _checks)
    file(sub)
    sub.add_argument("--json", action="store_true", help="print JSON")
    sub = command("sheet", _sheet)
    file(sub)
    take_over(sub)
    sub.add_argument("--sample", metavar="S", required=True, help="the sample")
    sub.add_argument("-o", "--output", metavar="OUT.pdf", type=Path, required=True, help="the PDF to write")
    sub.add_argument("--paper", choices=["A4", "Letter"], default="A4", help="paper size (A4)")
    sub = command("day", _day)
    file(sub)
    sub.add_argument("-o", "--output", metavar="OUT.pdf", type=Path, required=True, help="the PDF to write")
    sub.add_argument("--paper", choices=["A4", "Letter"], default="A4", help="paper size (A4)")
    sub = command("labels", _labels)
    file(sub)
    sub.add_argument("--sample", metavar="S", action="append", default=[], help="this sample (may be given often)")
    sub.add_argument("--engine", metavar="E", help="the engine whose next bottles get labels")
    sub.add_argument("--next", metavar="N", type=int, default=6, help="how many next bottles of the engine (6)")
    sub.add_argument("--first", metavar="N", type=int, default=1, help="first free place on the sheet (1)")
    sub.add_argument("--card", action="store_true", help="the sampling card too")
    sub.add_argument("-o", "--output", metavar="OUT.pdf", type=Path, required=True, help="the PDF to write")
    papers = ["A4", "Letter", "single label"]
    sub.add_argument("--paper", choices=papers, default="A4", help="sheet of labels, or one label a page (A4)")
    sub = command("due", _due)
    file(sub)
    sub = command("verify", _verify)
    file(sub)
    sub = command("backup", _backup)
    file(sub)
    take_over(sub)
    sub.add_argument("--to", metavar="FOLDER", type=Path, help="into this folder (a stick) instead of beside the file")
    sub.add_argument("--list", action="store_true", help="only list the kept copies")
    sub = command("restore", _restore)
    file(sub)
    take_over(sub)
    sub.add_argument(
        "--from", dest="source", metavar="BACKUP", type=Path, help="this copy (none: the newest that checks out)"
    )
    sub = command("merge", _merge)
    file(sub)
    take_over(sub)
    sub.add_argument("other", metavar="OTHER", type=Path, help="the other bench file")
    sub = command("demo", _demo)
    sub.add_argument("file", metavar="FILE", type=Path, nargs="?", help="where (none: the program's data folder)")
    sub.add_argument("--no-window", action="store_true", help="only build it")
    return parser


# --- the commands -----------------------------------------------------------------------------------------------------


def _no_command(parsed: argparse.Namespace) -> int:
    if parsed.self_check:
        return _self_check()
    return _window(None)


def _open(parsed: argparse.Namespace) -> int:
    return _window(parsed.file, parsed.take_over)


def _window(path: Path | None, take_over: bool = False) -> int:
    try:
        from benchapp.window.app import run
    except ImportError as error:
        raise BenchProblem(
            f"The window cannot open: a library is missing ({error}).",
            "Nothing was changed; all commands without a window still work.",
            "Run benchapp --self-check; it says what to install.",
        ) from error
    return int(run(None if path is None else str(path), take_over) or DONE)


def _bench(path: Path, read_only: bool = False, take_over: bool = False) -> Bench:
    """Opens the bench file and says what there is to know about it."""
    from benchapp.actions import safety
    from benchapp.actions.bench import Bench

    bench = Bench.open(path, read_only=read_only, take_over=take_over)
    for notice in bench.notices:
        _say(notice)
    if bench.read_only and not read_only:
        _say(bench.why_read_only)
        if not bench.damaged and safety.left_by(path):
            _say(TAKE_OVER_HINT)
    return bench


TAKE_OVER_HINT = (
    "Where that computer is off, or has the file closed, add --take-over: the file is then checked in full and its "
    "lock taken over. Two that write at once can spoil it."
)


def _new(parsed: argparse.Namespace) -> int:
    from benchapp.actions.bench import Bench

    Bench.create(parsed.file).close()
    _print(str(parsed.file))
    return DONE


def _load(parsed: argparse.Namespace) -> int:
    from benchapp.actions import workbook

    with _bench(parsed.file, take_over=parsed.take_over) as bench:
        try:
            loaded = workbook.load(bench, parsed.workbook)
        except workbook.WorkbookRefused as refused:
            for problem in refused.problems:
                _say(workbook.said(problem))
            count = len(refused.problems)
            _say(f"{count} problem{'s' if count != 1 else ''}. {refused.means} {refused.do}")
            return PROBLEM
    for notice in loaded.kept_as_notes:
        _say(notice)
    _counts(loaded.counts)
    return DONE


def _counts(counts: dict[str, int]) -> None:
    for name, count in counts.items():
        _print(f"{name}: {count}")


def _unload(parsed: argparse.Namespace) -> int:
    from benchapp.actions import workbook

    with _bench(parsed.file, read_only=True) as bench:
        _counts(workbook.unload(bench, parsed.workbook))
    return DONE


def _paste(parsed: argparse.Namespace) -> int:
    import json

    from benchapp.actions import paste

    with _bench(parsed.file, read_only=parsed.dry_run, take_over=parsed.take_over) as bench:
        result = _interpreted(bench, parsed)
        against = paste.conflicts(bench, result, parsed.engine, parsed.instrument)
        problems = (*result.problems, *against)
        committed = False
        nothing = not result.taken and not paste.check_runs(result, parsed.instrument, bench.fleet().standards)
        if not parsed.dry_run and not nothing and (not problems or parsed.take_the_rest):
            paste.take(bench, result, parsed.engine, parsed.instrument, take_the_rest=parsed.take_the_rest)
            committed = True
        standards = bench.fleet().standards
        runs = len(paste.check_runs(result, parsed.instrument, standards))
        left = paste.checks_left(result, parsed.instrument, standards)
        if parsed.json:
            _print(json.dumps(_paste_json(result, against, committed), ensure_ascii=False, indent=1))
        else:
            _paste_words(result, problems, committed)
            if runs:
                _print(f"{runs} check readings {'taken' if committed else 'read'}.")
    for why in left:
        _say(_printable(why))
    if problems or nothing:
        _say(_paste_end(len(problems), committed, parsed.dry_run))
    return DONE if committed or (parsed.dry_run and not problems and not nothing) else PROBLEM


def _interpreted(bench: Bench, parsed: argparse.Namespace) -> Any:
    from pathlib import Path

    from benchapp.actions import paste
    from benchapp.intake.mapping import PasteMapping
    from benchapp.intake.paste import interpret
    from benchapp.intake.read import read_bytes, read_file

    if parsed.table == "-":
        table = read_bytes(sys.stdin.buffer.read(), "standard input")
    else:
        table = read_file(Path(parsed.table))
    mapping = None
    if parsed.mapping:
        mapping = PasteMapping.from_json(_text_of(parsed.mapping))
    elif parsed.instrument:
        mapping = paste.mapping_for(bench, parsed.instrument)
    return interpret(table, mapping, parsed.decimal)


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BenchProblem(f"{path} cannot be read.", "Nothing was taken.", "Check the name of the mapping.") from error


def _paste_json(result: Any, against: Any, committed: bool) -> dict[str, Any]:
    out: dict[str, Any] = result.to_json(committed)
    barred = {(problem.row, problem.column_number, problem.column) for problem in against}
    rows = [
        taken
        for taken, reading in zip(out["taken"], result.taken, strict=True)
        if (reading.row, reading.column, reading.measurand) not in barred
    ]
    more = [
        {"row": problem.row, "column": problem.column, "cell": problem.cell, "reason": problem.reason}
        for problem in against
    ]
    return {**out, "taken": rows, "problems": [*out["problems"], *more], "committed": committed}


def _paste_words(result: Any, problems: Any, committed: bool) -> None:
    samples = sorted({reading.sample for reading in result.taken})
    done = "taken" if committed else "read"
    _print(f"{len(result.taken)} readings of {len(samples)} samples {done}.")
    for problem in problems:
        _print(
            _printable(f"row {problem.row}, {problem.column or '(whole row)'}, {problem.cell[:60]!r}: {problem.reason}")
        )
    for left in result.left_out:
        _print(_printable(f"left out: row {left.row}, {left.label}: {left.reason}"))
    for notice in result.notices:
        _say(notice)


def _paste_end(problems: int, committed: bool, dry_run: bool) -> str:
    if not problems:
        return "There is no reading to take in this table. Nothing was written. Look at what was left out, and why."
    count = f"{problems} problem{'s' if problems != 1 else ''}."
    if committed:
        return f"{count} The rest was taken. Correct these cells and paste them again."
    if dry_run:
        return f"{count} Nothing was written: this was a dry run."
    return f"{count} Nothing was written. Correct these cells, or add --take-the-rest to take what has no problem."


def _checks(parsed: argparse.Namespace) -> int:
    import datetime as dt
    import json

    from benchapp.actions import checks

    now = dt.datetime.now()  # noqa: DTZ005  (local, as entered)
    with _bench(parsed.file, read_only=True) as bench:
        looks = [
            checks.describe(bench.fleet(), bench.library, name, now) for name in checks.instruments_of(bench.fleet())
        ]
    if parsed.json:
        _print(json.dumps({"instruments": [checks.as_json(look) for look in looks]}, ensure_ascii=False, indent=1))
        return DONE
    for look in looks:
        _print(_printable(f"{look.row.name}: {look.row.word}. {look.row.why}"))
        for text in look.warnings:
            _print(_printable(f"  {text}"))
        for row in look.held:
            _print(_printable(f"  held: {row.sample} of {row.engine}. {row.why}"))
    return DONE


def _call(parsed: argparse.Namespace) -> int:
    with _bench(parsed.file, read_only=True) as bench:
        calls = _calls(bench, parsed)
        if parsed.sample and not calls:
            bench.find_sample(parsed.sample)  # says what is wrong with it, where something is
            raise BenchProblem(
                f"Sample {parsed.sample} has no call.", "It cannot be judged yet.", "Complete it, or check --engine."
            )
    if parsed.json:
        import json

        from benchapp.actions import call_text
        from benchapp.actions.call import rule_version

        _print(json.dumps(call_text.document(calls, rule_version()), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        _call_table(calls)
    return DONE


def _calls(bench: Bench, parsed: argparse.Namespace) -> tuple[Call, ...]:
    from dataclasses import replace

    from benchapp.actions import call

    fleet, engines = bench.fleet(), None
    if parsed.engine:
        engines = {bench.engine(parsed.engine).name}
    elif parsed.sample:
        engines = {bench.find_sample(parsed.sample)[0].name}
    each = (parsed.as_of or "").strip().lower() == "each"
    if parsed.as_of and not each:
        fleet = call.as_of(fleet, _moment(parsed.as_of))
    calls = call.judge(fleet, engines, each=each)
    told = tuple(one for one in calls if parsed.sample in (None, one.sample))
    if parsed.json and parsed.sample and not each:  # a fifth of a second each: for one sample, not for a fleet
        told = tuple(replace(c, flips=call.flips_in(fleet, c.engine, c.build, c.sample)) for c in told)
    return told


def _moment(text: str) -> Any:
    """A date or moment; a date alone means its end."""
    import datetime as dt

    try:
        moment = dt.datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise BenchProblem(
            f"--as-of {text!r} is neither 'each' nor a date.", "Nothing was judged.", "Write it as 2026-05-31."
        ) from None
    return moment if len(text) > 10 else moment + dt.timedelta(days=1, microseconds=-1)


def _call_table(calls: Sequence[Call]) -> None:
    head = ("engine", "build", "sample", "hours", "call", "next sample", "basis", "bearing on")
    rows = [
        (
            call.engine,
            call.build,
            call.sample,
            f"{call.build_h:.1f}",
            call.call,
            f"{call.next_sample_h:.1f} h",
            call.basis,
            f"HELD: {call.held}" if call.held else (call.reasons[0].text if call.reasons else ""),
        )
        for call in calls
    ]
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head) - 1)]
    for row in [head, *rows]:
        _print(_printable("  ".join([*(text.ljust(width) for text, width in zip(row, widths, strict=False)), row[-1]])))
    _say("A call is advice from an oil sample; qualified people decide whether a car goes out.")


def _sheet(parsed: argparse.Namespace) -> int:
    from benchapp.actions import sheets

    with _bench(parsed.file, take_over=parsed.take_over) as bench:
        written = sheets.write_pdf(bench, parsed.sample, parsed.output, parsed.paper)
    _print(str(written))
    return DONE


def _now() -> dt.datetime:
    import datetime as dt

    return dt.datetime.now().replace(microsecond=0)  # noqa: DTZ005  (the person's own clock)


def _day(parsed: argparse.Namespace) -> int:
    from benchapp.actions import day

    with _bench(parsed.file, read_only=True) as bench:
        written = day.write_pdf(bench, str(parsed.output), _now(), parsed.paper)
    _print(written)
    return DONE


def _labels(parsed: argparse.Namespace) -> int:
    from benchapp.actions import labels

    with _bench(parsed.file, read_only=True) as bench:
        made = labels.of_samples(bench, parsed.sample)
        if parsed.engine:
            made += labels.of_next(bench, parsed.engine, parsed.next)
        written = labels.write_pdf(bench, made, parsed.output, parsed.paper, parsed.first - 1, with_card=parsed.card)
    _print(str(written))
    return DONE


def _due(parsed: argparse.Namespace) -> int:
    from benchapp.actions import due, sample

    with _bench(parsed.file, read_only=True) as bench:
        calls = {call.engine: call for call in bench.calls()}
        rows = due.due(bench.fleet(), calls, sample.waiting(bench), _now())
    for row in rows:
        _print("\t".join(map(_printable, (row.kind, row.engine, row.sample, row.text))))
    _say(f"{len(rows)} to deal with" if rows else "Nothing waits.")
    return DONE


def _verify(parsed: argparse.Namespace) -> int:
    from benchapp.actions import safety

    with _bench(parsed.file, read_only=True) as bench:
        found = safety.verify(bench)
    for line in found:
        _print(_printable(line))
    if found:
        _say(
            f"{parsed.file.name} is damaged. Do not work on it: restore the last backup (benchapp restore "
            f"{parsed.file.name}), then look through what was entered since."
        )
        return PROBLEM
    _print("Sound: structure, references, hashes and audit chain.")
    return DONE


def _backup(parsed: argparse.Namespace) -> int:
    from benchapp.actions import safety

    if parsed.list:
        for kept in safety.backups(parsed.file):
            _print(f"{kept.made_at}  {kept.size:>12}  {kept.path}")
        return DONE
    with _bench(parsed.file, take_over=parsed.take_over) as bench:
        made = safety.backup(bench, parsed.to)
    _print(str(made.path))
    return DONE


def _restore(parsed: argparse.Namespace) -> int:
    from benchapp.actions import safety

    if not parsed.take_over and safety.left_by(parsed.file):
        _say(TAKE_OVER_HINT)
    aside = safety.restore(parsed.file, parsed.source, take_over=parsed.take_over)
    _print(str(parsed.file))
    if aside != parsed.file:
        _say(f"What was there before is kept as {aside.name}.")
    return DONE


def _merge(parsed: argparse.Namespace) -> int:
    from benchapp.actions import safety

    with _bench(parsed.file, take_over=parsed.take_over) as bench:
        merged = safety.merge(bench, parsed.other)
    for kind, count in sorted(merged.came_in.items()):
        _print(f"{kind.replace('_', ' ')}: {count} new or changed")
    if not merged.came_in:
        _print("Nothing new.")
    for remark in merged.remarks:
        _say(remark)
    for conflict in merged.conflicts:
        _print(_printable(f"edited in both files: {conflict.what}"))
        for version in conflict.versions:
            said = ", ".join(f"{name}: {value or '(blank)'}" for name, value in version.values)
            mark = " (shown until you choose)" if version.key == conflict.shown else ""
            _print(_printable(f"    {version.who}, {version.at[:16].replace('T', ' ')} UTC{mark}: {said}"))
    if merged.conflicts:
        _say(f"{len(merged.conflicts)} edited in both files: choose in the window; nothing is lost meanwhile.")
    return DONE


def _demo(parsed: argparse.Namespace) -> int:
    from benchapp.actions import demo

    path = parsed.file
    if path is None:
        from platformdirs import user_data_path

        path = user_data_path("race-oil-bench", appauthor=False, ensure_exists=True) / "demo.bench"
    built = demo.build(path)
    _print(str(built))
    return DONE if parsed.no_window else _window(built)


# --- self-check -------------------------------------------------------------------------------------------------------

_LIBRARIES = ("PySide6_Essentials", "pyqtgraph", "numpy", "pandas", "scipy", "sqlite-utils", "openpyxl",
              "python-calamine", "defusedxml", "platformdirs", "chemicals", "segno")  # fmt: skip
_SYSTEM = ("GL", "EGL", "xkbcommon", "dbus-1", "fontconfig", "glib-2.0", "xcb-cursor", "xcb-icccm", "xcb-keysyms",
           "xcb-image", "xcb-render-util", "xcb-shape", "xcb-xinerama", "xkbcommon-x11")  # fmt: skip


def _self_check() -> int:
    """Versions, what is missing, where things are. 0 when nothing is missing that the window needs."""
    import ctypes.util
    import os
    import platform
    from importlib import metadata

    from platformdirs import user_data_path, user_log_path

    from benchapp import __version__
    from benchapp.benchfile.file import sqlite_version
    from benchapp.library import resources_dir

    missing = []
    _print(f"benchapp {__version__}")
    _print(f"Python {platform.python_version()} on {platform.platform()}")
    _print(f"SQLite {sqlite_version()}")
    for name in _LIBRARIES:
        try:
            _print(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            missing.append(name)
            _print(f"{name} is missing")
    if sys.platform.startswith("linux"):
        absent = [f"lib{name}" for name in _SYSTEM if ctypes.util.find_library(name) is None]
        _print(f"system libraries not found: {', '.join(absent) or 'none'}")
        shown = os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY") or "none"
        _print(f"display: {shown}; QT_QPA_PLATFORM: {os.environ.get('QT_QPA_PLATFORM') or 'not set'}")
    problem = _qt_problem()
    _print(f"Qt: {problem or 'loads'}")
    _print(f"resources: {resources_dir()}")
    _print(f"data folder: {user_data_path('race-oil-bench', appauthor=False)}")
    _print(f"log folder: {user_log_path('race-oil-bench', appauthor=False)}")
    if missing or problem:
        _say("Something is missing: install it, then run benchapp --self-check again.")
        return PROBLEM
    return DONE


def _qt_problem() -> str:
    """Why Qt does not load, or ''. Looked at in a process of its own: a missing library can end the process."""
    import subprocess

    code = "from PySide6 import QtCore, QtGui, QtWidgets; print(QtCore.qVersion())"
    done = subprocess.run(  # noqa: S603  our own interpreter, our own words
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    if done.returncode == 0:
        return ""
    lines = done.stderr.strip().splitlines()
    return f"does not load ({lines[-1] if lines else 'no reason given'})"

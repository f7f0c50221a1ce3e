"""Verbs that keep the bench file safe: backup, restore, merge, verify, copy out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress

if TYPE_CHECKING:
    from benchapp.benchfile.copies import Kept
    from benchapp.benchfile.kinds import Content
    from benchapp.benchfile.write import Write


@dataclass(frozen=True, slots=True)
class Backup:
    """A kept copy: where, when it was made (ISO 8601, UTC), its size [bytes]."""

    path: Path
    made_at: str
    size: int


@dataclass(frozen=True, slots=True)
class Version:
    """One of the versions of a row that two people edited: `key` to choose it, who, when, and its values in words."""

    key: str
    who: str
    at: str
    values: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Conflict:
    """A row that was edited in two files: what it is in words, its versions side by side (the one that was in this file
    first stands first), the one shown now.

    `values` of all versions have the same names in the same order; only those that differ are listed."""

    key: str
    what: str
    versions: tuple[Version, ...]
    shown: str


@dataclass(frozen=True, slots=True)
class Merged:
    """`came_in`: kind -> rows new or changed. `remarks`: things a person should look at, in words."""

    changed: Changed
    came_in: dict[str, int]
    conflicts: tuple[Conflict, ...]
    remarks: tuple[str, ...]


def _backup(kept: Kept) -> Backup:
    size = kept.path.stat().st_size if kept.path.exists() else 0
    return Backup(kept.path, kept.made_at.isoformat(timespec="seconds"), size)


def backup(bench: Bench, folder: str | Path | None = None, progress: Progress = NOBODY) -> Backup:
    """Makes a checked copy now (beside the file, and in the second folder if one is set; `folder`: only there)."""
    return _backup(bench.file.back_up(Path(folder) if folder else None, progress))


def backup_if_due(bench: Bench, progress: Progress = NOBODY) -> Backup | None:
    """For a timer: a copy if something changed and the last is 30 minutes old. None if there was nothing to do."""
    from benchapp.benchfile.file import BACKUP_EVERY

    kept = bench.file.back_up_if_changed(BACKUP_EVERY, progress)
    return None if kept is None else _backup(kept)


def backups(path: str | Path, second: str = "") -> tuple[Backup, ...]:
    """Kept copies of a bench file, the newest first (works for a file that cannot be opened); with those in the
    `second` folder, if it is there."""
    from benchapp.benchfile.copies import backup_folder, backups_in

    place = Path(path)
    kept = backups_in(backup_folder(place), place.stem)
    if second:
        kept += backups_in(Path(second), place.stem)
    return tuple(_backup(each) for each in sorted(kept, key=lambda each: each.made_at, reverse=True))


def check_file(path: str | Path, progress: Progress = NOBODY) -> tuple[str, ...]:
    """Full check of a bench file or backup by its path, for a worker: what was found, in words; () is good.

    Never raises BenchProblem: a file that is none at all is a finding too."""
    try:
        return look_for_damage(path, progress)
    except BenchProblem as problem:
        return (problem.what,)


def look_for_damage(path: str | Path, progress: Progress = NOBODY) -> tuple[str, ...]:
    """As `check_file`. Raises BenchProblem where the file could not be looked at, which is no damage."""
    from benchapp.benchfile.copies import look_through_live

    return tuple(look_through_live(Path(path), progress))


def stop_writing(bench: Bench, found: Sequence[str]) -> None:
    """Makes an open bench read-only at once, for what a check found (in words, at least one): damage must not grow."""
    bench.file.stop_writing(found)


def left_by(path: str | Path) -> str:
    """Who left a lock on another computer that `Bench.open(take_over=True)` may disregard, in words; '' for none."""
    from benchapp.benchfile.lock import left_elsewhere

    holder = left_elsewhere(Path(path))
    return holder.words() if holder else ""


def restore(
    path: str | Path,
    backup_path: str | Path | None = None,
    who: str = "",
    take_over: bool = False,
    progress: Progress = NOBODY,
) -> Path:
    """Puts a kept copy (None: the newest that checks out) in the place of a closed bench file.

    `take_over` disregards a lock that another computer left; without it such a file counts as open there.
    What was there is kept beside it under another name. Returns where that is (or `path` if nothing was there)."""
    from benchapp.benchfile import copies
    from benchapp.benchfile.lock import user_name

    target = Path(path)
    chosen = Path(backup_path) if backup_path else None
    aside = copies.restore(target, chosen, dt.datetime.now(dt.UTC), who or user_name(), take_over, progress)
    return aside or target


def second_folder(bench: Bench) -> str:
    """The second backup folder (a USB stick), or ''."""
    return bench.file.setting("second_folder")


def set_second_folder(bench: Bench, folder: str) -> None:
    """Sets or clears ('') the second backup folder."""
    if folder and not Path(folder).is_dir():
        raise BenchProblem(
            f"There is no folder {folder}.",
            "Backups stay beside the bench file only.",
            "Plug in the stick, or choose another.",
        )
    bench.file.set_setting("second_folder", folder)


def merge(bench: Bench, other: str | Path, progress: Progress = NOBODY) -> Merged:
    """Takes in what another bench file has (a backup is made first). Merging twice, or in another order, changes
    nothing. Rows edited in both are shown side by side: `conflicts`."""
    from benchapp.benchfile import merge as merge_

    other_path = Path(other)
    if not bench.read_only:
        bench.file.back_up_if_changed(progress=progress)
    outcome = merge_.merge(bench.file, other_path, progress)
    label = f"Merge {other_path.name}"
    changed = Changed(frozenset(outcome.came_in), outcome.engines, label)
    if outcome.came_in:
        bench.told(Changed(changed.nouns | {"family"}, changed.engines, label))
    return Merged(changed, outcome.came_in, conflicts(bench), outcome.remarks)


def conflicts(bench: Bench) -> tuple[Conflict, ...]:
    """Rows whose two edits a person has not chosen between yet."""
    from benchapp.benchfile import merge as merge_

    out = []
    builds = {id_: content["number"] for id_, content in bench.file.find("build")}
    for conflict in merge_.conflicts(bench.file):
        said = [_said(head.content, builds) for head in conflict.heads]
        names = list(dict.fromkeys(name for each in said for name in each))
        differ = [name for name in names if len({each.get(name, "") for each in said}) > 1]
        versions = [
            Version(head.version, head.who, head.at, tuple((name, each.get(name, "")) for name in differ))
            for head, each in zip(conflict.heads, said, strict=True)
        ]
        versions.sort(key=lambda version: version.key != conflict.here)
        out.append(Conflict(conflict.document, conflict.words, tuple(versions), conflict.shown))
    return tuple(out)


def _said(content: Content, builds: Mapping[str, str]) -> dict[str, str]:
    """A document's values in words."""
    out = {}
    for name, value in content.items():
        if name == "rows":
            for row in value:
                out[str(row[0])] = ", ".join(_value(each) for each in row[1:] if each not in (None, ""))
        elif name == "void":
            out["withdrawn"] = str(value)
        elif name == "build_id":
            out["build"] = builds.get(value, "") if value else "waiting"
        elif not name.endswith("_id"):
            out[name.replace("_", " ")] = _value(value)
    return out


def _value(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def choose(bench: Bench, conflict: str, version: str) -> Changed:
    """Settles a conflict (its `key`) for one version (its `key`); undoable."""
    from benchapp.benchfile import merge as merge_

    found = next((each for each in merge_.conflicts(bench.file) if each.document == conflict), None)
    head = next((each for each in found.heads if each.version == version), None) if found else None
    if found is None or head is None:
        raise BenchProblem(
            "This has been settled already.", "Nothing was changed.", "Look at the list of conflicts again."
        )

    def body(write: Write) -> None:
        write.put(found.kind, found.document, head.content)
        write.nouns.add("family")  # several engines may rest on it: everything is read anew

    return bench.do(f"Settle {found.words}", body, {engine.name for engine in bench.fleet().engines})


def verify(bench: Bench) -> tuple[str, ...]:
    """Full check: structure, integrity, references, hashes, audit chain. What was found, in words; () is good."""
    return bench.file.verify()


def copy_out(bench: Bench, path: str | Path, progress: Progress = NOBODY) -> Path:
    """A checked copy of the bench file for another laptop or a USB stick. Raises BenchProblem if something is there."""
    return bench.file.copy_out(Path(path), progress)

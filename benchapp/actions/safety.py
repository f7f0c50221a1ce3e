"""Verbs that keep the bench file safe: backup, restore, merge, verify, copy out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed


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
    """A row that was edited in two files: what it is in words, its versions side by side, the one shown now."""

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


def backup(bench: Bench, folder: str | Path | None = None) -> Backup:
    """Makes a checked copy now (beside the file, and in the second folder if one is set)."""
    raise NotImplementedError


def backup_if_due(bench: Bench) -> Backup | None:
    """For a timer: a copy if something changed and the last is 30 minutes old. None if there was nothing to do."""
    raise NotImplementedError


def backups(path: str | Path) -> tuple[Backup, ...]:
    """Kept copies of a bench file, the newest first (works for a file that cannot be opened)."""
    raise NotImplementedError


def restore(path: str | Path, backup_path: str | Path | None = None) -> Path:
    """Puts a kept copy (None: the newest that checks out) in the place of a closed bench file.

    What was there is kept beside it under another name. Returns where that is (or `path` if nothing was there)."""
    raise NotImplementedError


def second_folder(bench: Bench) -> str:
    """The second backup folder (a USB stick), or ''."""
    raise NotImplementedError


def set_second_folder(bench: Bench, folder: str) -> None:
    """Sets or clears ('') the second backup folder."""
    raise NotImplementedError


def merge(bench: Bench, other: str | Path) -> Merged:
    """Takes in what another bench file has (a backup is made first). Merging twice, or in another order, changes
    nothing. Rows edited in both are shown side by side: `conflicts`."""
    raise NotImplementedError


def conflicts(bench: Bench) -> tuple[Conflict, ...]:
    """Rows whose two edits a person has not chosen between yet."""
    raise NotImplementedError


def choose(bench: Bench, conflict: str, version: str) -> Changed:
    """Settles a conflict (its `key`) for one version (its `key`); undoable."""
    raise NotImplementedError


def verify(bench: Bench) -> tuple[str, ...]:
    """Full check: structure, integrity, references, hashes, audit chain. What was found, in words; () is good."""
    raise NotImplementedError


def copy_out(bench: Bench, path: str | Path) -> Path:
    """A checked copy of the bench file for another laptop or a USB stick. Raises BenchProblem if something is there."""
    raise NotImplementedError

"""Verbs for drafts: what is being typed or pasted, kept on the disk so that a crash loses nothing.

Drafts are not part of the data: no undo, no audit, not merged. In a read-only bench they are kept in memory only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchapp.actions.bench import Bench


def keep(bench: Bench, key: str, data: Mapping[str, Any]) -> None:
    """Keeps `data` (anything JSON can say) under `key`, replacing what was there. On the disk when this returns."""
    raise NotImplementedError


def get(bench: Bench, key: str) -> dict[str, Any] | None:
    """The draft under `key`, or None."""
    raise NotImplementedError


def drop(bench: Bench, key: str) -> None:
    """Forgets the draft under `key` (nothing happens if there is none)."""
    raise NotImplementedError


def keys(bench: Bench) -> tuple[str, ...]:
    """Keys of all drafts, the latest first."""
    raise NotImplementedError

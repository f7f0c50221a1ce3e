"""Verbs for drafts: what is being typed or pasted, kept on the disk so that a crash loses nothing.

Drafts are not part of the data: no undo, no audit, not merged. In a read-only bench they are kept in memory only."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from weakref import WeakKeyDictionary

from benchapp.actions.bench import Bench

_in_memory: WeakKeyDictionary[Bench, dict[str, str]] = WeakKeyDictionary()


def keep(bench: Bench, key: str, data: Mapping[str, Any]) -> None:
    """Keeps `data` (anything JSON can say) under `key`, replacing what was there. On the disk when this returns."""
    text = json.dumps(data, ensure_ascii=False)
    if bench.read_only:
        memory = _in_memory.setdefault(bench, {})
        memory.pop(key, None)
        memory[key] = text
    else:
        bench.file.keep_draft(key, text)


def get(bench: Bench, key: str) -> dict[str, Any] | None:
    """The draft under `key`, or None."""
    text = _in_memory.get(bench, {}).get(key) if bench.read_only else bench.file.draft(key)
    if text is None:
        return None
    data = json.loads(text)
    return data if isinstance(data, dict) else None


def drop(bench: Bench, key: str) -> None:
    """Forgets the draft under `key` (nothing happens if there is none)."""
    if bench.read_only:
        _in_memory.get(bench, {}).pop(key, None)
    else:
        bench.file.drop_draft(key)


def keys(bench: Bench) -> tuple[str, ...]:
    """Keys of all drafts, the latest first."""
    if bench.read_only:
        return tuple(reversed(_in_memory.get(bench, {})))
    return bench.file.draft_names()

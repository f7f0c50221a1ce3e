"""Products of arrays in memory that is used again and again, one room for each name and shape (and thread)."""

from __future__ import annotations

import threading

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_ROOMS = threading.local()


def room(name: str, shape: tuple[int, ...]) -> Array:
    """Working memory that is used again: fresh pages cost more than the products that fill them."""
    rooms: dict[tuple[str, tuple[int, ...]], Array] = _ROOMS.__dict__.setdefault("rooms", {})
    kept = rooms.get((name, shape))
    if kept is None:
        if len(rooms) > 60:
            rooms.clear()
        kept = rooms[name, shape] = np.empty(shape)
    return kept


_BLOCK = 512
"""Columns multiplied at once: above half a million multiplications the library fetches itself fresh pages each time,
which was measured to cost twenty times the product."""


def product(name: str, left: Array, right: Array) -> Array:
    """left @ right in working memory."""
    out = room(name, (len(left), right.shape[1]))
    for start in range(0, right.shape[1], _BLOCK):
        part = slice(start, start + _BLOCK)
        np.matmul(left, right[:, part], out=out[:, part])
    return out

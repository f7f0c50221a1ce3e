"""Drawings in place of photos for the demo's findings: drawn by code, small; each says itself that it is invented."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.float64]
"""Rows × columns × (red, green, blue), 0 to 1."""

WIDTH, HEIGHT = 420, 280

_LETTERS = {
    "I": "0111 0010 0010 0010 0111", "N": "1001 1101 1011 1001 1001", "V": "1001 1001 1001 0110 0110",
    "E": "1111 1000 1110 1000 1111", "T": "1111 0110 0110 0110 0110", "D": "1110 1001 1001 1001 1110",
}  # fmt: skip
"""Letters of four by five dots."""


def png(shows: str) -> bytes:
    """The drawing of that name as a PNG file. Raises KeyError for one that there is not."""
    picture = DRAWINGS[shows](np.random.default_rng(len(shows)))
    _write_invented(picture)
    return _encoded(np.clip(picture * 255.0, 0, 255).astype(np.uint8))


def _grid() -> tuple[Picture, Picture]:
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    return x / WIDTH, y / HEIGHT


def _grey(level: Picture) -> Picture:
    return np.repeat(level[:, :, None], 3, axis=2)


def _blot(
    picture: Picture, x: float, y: float, wide: float, high: float, turn: float, colour: tuple[float, ...]
) -> None:
    """A flake: an ellipse of one colour, lit from above."""
    xs, ys = _grid()
    dx, dy = (xs - x) * WIDTH / HEIGHT, ys - y
    u, v = dx * np.cos(turn) + dy * np.sin(turn), dy * np.cos(turn) - dx * np.sin(turn)
    inside = (u / wide) ** 2 + (v / high) ** 2 < 1
    light = 1.0 + 0.35 * (v[inside] / high)[:, None]
    picture[inside] = np.array(colour) * light


def _pleats(rng: np.random.Generator) -> Picture:
    """A filter cut open and laid flat, with copper-coloured flakes."""
    xs, _ = _grid()
    picture = _grey(0.72 + 0.12 * np.sin(xs * 60.0)) * np.array([1.0, 0.96, 0.86])
    for _ in range(70):
        size = rng.uniform(0.006, 0.02)
        _blot(picture, rng.uniform(0, 1), rng.uniform(0, 0.85), size, size * rng.uniform(0.3, 0.8),
              rng.uniform(0, 3.1), (0.72, 0.42, 0.22))  # fmt: skip
    return picture


def _shell(_rng: np.random.Generator) -> Picture:
    """A bearing shell whose overlay is through to the lining."""
    xs, ys = _grid()
    picture = _grey(0.35 + 0.45 * np.sin(np.pi * np.clip((ys - 0.12) / 0.66, 0, 1)))
    picture[(ys < 0.12) | (ys > 0.78)] = 0.16
    worn = ((xs - 0.55) / 0.3) ** 2 + ((ys - 0.45) / 0.2) ** 2 < 1
    picture[worn] = picture[worn] * np.array([1.05, 0.68, 0.42])
    lines = (np.sin(ys * 400.0) > 0.9) & (xs > 0.2)
    picture[lines] *= 0.85
    return picture


def _bore(rng: np.random.Generator) -> Picture:
    """A bore with vertical scores across the hone marks."""
    xs, ys = _grid()
    picture = _grey(0.55 + 0.05 * np.sin((xs + ys) * 180.0) + 0.05 * np.sin((xs - ys) * 180.0))
    picture *= (0.65 + 0.5 * np.sin(np.pi * xs))[:, :, None]
    for at in rng.uniform(0.35, 0.6, 9):
        picture[:, int(at * WIDTH) : int(at * WIDTH) + 3] *= 0.55
    return picture


def _spring(_rng: np.random.Generator) -> Picture:
    """A valve spring, broken between two coils."""
    xs, ys = _grid()
    picture = _grey(0.86 - 0.1 * ys)
    for coil in range(7):
        at = 0.14 + 0.1 * coil + (0.05 if coil > 3 else 0.0)
        wire = np.abs(ys - at - 0.05 * (xs - 0.5)) < 0.022
        wire &= (np.abs(xs - 0.5) < 0.22) & ~((coil == 3) & (xs > 0.55))
        picture[wire] = _grey(0.35 + 0.3 * np.cos((xs - 0.5) * 6.0))[wire]
    return picture


DRAWINGS: dict[str, Callable[[np.random.Generator], Picture]] = {
    "flakes in a filter": _pleats,
    "a worn shell": _shell,
    "a scored bore": _bore,
    "a broken spring": _spring,
}


def _write_invented(picture: Picture) -> None:
    """The word INVENTED on a bar across the foot."""
    dot, left, top = 5, 14, HEIGHT - 38
    picture[HEIGHT - 48 :] = 0.1
    for place, letter in enumerate("INVENTED"):
        for row, dots in enumerate(_LETTERS[letter].split()):
            for column, on in enumerate(dots):
                if on == "1":
                    x, y = left + (place * 5 + column) * dot, top + row * dot
                    picture[y : y + dot, x : x + dot] = 0.95


def _encoded(pixels: NDArray[np.uint8]) -> bytes:
    """Pixels as a PNG file (8 bit RGB, no filter)."""
    rows = b"".join(b"\0" + row.tobytes() for row in pixels)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", WIDTH, HEIGHT, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body

"""A picture file from outside: what it is, how large, refused kindly. Nothing is decoded here, only its head is read.

What decodes a picture later asks this first: a few kilobytes can claim billions of pixels. A file's name says nothing:
only what is in it counts.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from benchapp.problems import BenchProblem

JPEG, PNG = "jpeg", "png"

LARGEST_FILE = 40 * 1024 * 1024
"""A camera's own file may be so large [bytes]; chosen above what cameras of today write as JPEG."""
LARGEST_KEPT = 4 * 1024 * 1024
"""What is kept in the bench file [bytes]: every backup carries it along."""
MOST_PIXELS = 120_000_000
LONGEST_SIDE = 20_000
MOST_SCANS = 64
"""A progressive JPEG may ask a decoder to go over all its pixels again and again; real ones have about ten scans."""

_WHY = "Nothing was added."
_DO = "Take a JPEG or PNG straight from the camera, or save the picture anew as JPEG."
_STARTS_OF_FRAMES = frozenset({0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF})
_WITHOUT_LENGTH = frozenset({0x01, *range(0xD0, 0xD9)})


@dataclass(frozen=True, slots=True)
class PhotoHead:
    """`kind` 'jpeg' or 'png'; width and height [px] as the file claims them."""

    kind: str
    width: int
    height: int


def look(data: bytes, most_bytes: int = LARGEST_FILE) -> PhotoHead:
    """What a picture is, by its content. Raises BenchProblem where it is none, too large, or claims too much."""
    if len(data) > most_bytes:
        raise BenchProblem(
            f"The picture has {len(data) / 1e6:.0f} MB; {most_bytes / 1e6:.0f} MB is the most that is taken.", _WHY, _DO
        )
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        head = _png(data)
    elif data.startswith(b"\xff\xd8\xff"):
        head = _jpeg(data)
    else:
        raise BenchProblem("This is neither a JPEG nor a PNG picture, whatever its name says.", _WHY, _DO)
    if head is None or not (head.width and head.height):
        raise BenchProblem("The picture is damaged: its size cannot be read.", _WHY, _DO)
    if head.width * head.height > MOST_PIXELS or max(head.width, head.height) > LONGEST_SIDE:
        raise BenchProblem(
            f"The picture claims {head.width} × {head.height} pixels: more than a camera takes.", _WHY, _DO
        )
    if head.kind == JPEG and data.count(b"\xff\xda") > MOST_SCANS:
        raise BenchProblem("The picture is built so that opening it would take for ever.", _WHY, _DO)
    return head


def _png(data: bytes) -> PhotoHead | None:
    if len(data) < 33 or data[12:16] != b"IHDR":
        return None
    width, height = struct.unpack(">II", data[16:24])
    return PhotoHead(PNG, width, height)


def _jpeg(data: bytes) -> PhotoHead | None:
    """Walks from marker to marker until the frame says its size."""
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            return None
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte
            at += 1
            continue
        if marker in _WITHOUT_LENGTH:
            at += 2
            continue
        if marker in (0xD9, 0xDA):  # the end, or the pixels, before any size
            return None
        length = struct.unpack(">H", data[at + 2 : at + 4])[0]
        if marker in _STARTS_OF_FRAMES:
            if at + 9 > len(data):
                return None
            height, width = struct.unpack(">HH", data[at + 5 : at + 9])
            return PhotoHead(JPEG, width, height)
        if length < 2:
            return None
        at += 2 + length
    return None

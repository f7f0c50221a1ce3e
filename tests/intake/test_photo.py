"""Pictures from outside: known by what is in them, refused kindly, never decoded before their head is read."""

from __future__ import annotations

import contextlib
import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.intake import photo
from benchapp.problems import BenchProblem


def png(width: int = 4, height: int = 3) -> bytes:
    """A whole grey PNG; its head may claim another size than its pixels have."""
    rows = b"".join(b"\0" + b"\x80" * min(width, 64) for _ in range(min(height, 64)))

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def jpeg_head(width: int, height: int, marker: int = 0xC0, before: bytes = b"") -> bytes:
    """The beginning of a JPEG up to its frame."""
    frame = struct.pack(">BBHBHHB", 0xFF, marker, 11, 8, height, width, 1) + b"\x01\x11\x00"
    return b"\xff\xd8\xff\xe0\x00\x04ab" + before + frame + b"\xff\xda\x00\x02"


@pytest.mark.parametrize("marker", [0xC0, 0xC1, 0xC2])
def test_a_jpeg_is_known_by_its_frame(marker):
    assert photo.look(jpeg_head(4000, 3000, marker)) == photo.PhotoHead("jpeg", 4000, 3000)


def test_what_stands_before_the_frame_is_walked_over():
    exif = b"\xff\xff\xe1\x00\x08Exif\0\0" + b"\xff\xd0" + b"\xff\xc4\x00\x04\x01\x02"
    assert photo.look(jpeg_head(640, 480, before=exif)).width == 640


def test_a_png_is_known_by_its_head():
    assert photo.look(png(640, 480)) == photo.PhotoHead("png", 640, 480)


REFUSED = {
    "neither a JPEG nor a PNG": [b"", b"GIF89a", b"<svg/>", b"MZ" * 50, b"%PDF-1.7", b"RIFF0000WEBP"],
    "size cannot be read": [
        png()[:20], png(0, 5), b"\xff\xd8\xff\xe0\x00", b"\xff\xd8\xff\xd9\x00\x02",
        b"\xff\xd8\xff\xe0\x00\x00" + b"\0" * 40, b"\xff\xd8\xff\xe0\x00\x04ab" + b"\0" * 40, jpeg_head(0, 0),
        b"\xff\xd8\xff\xe0\x00\x04ab\xff\xc0\x00\x0b", b"\x89PNG\r\n\x1a\n" + b"x" * 60,
    ],
    "more than a camera takes": [png(60_000, 60_000), png(25_000, 3), jpeg_head(65_535, 65_535)],
    "take for ever": [jpeg_head(100, 100, 0xC2) + b"\xff\xda\x00\x02" * 80],
    "is the most that is taken": [jpeg_head(9, 9) + b"\0" * (photo.LARGEST_FILE + 1)],
}  # fmt: skip


@pytest.mark.parametrize(("said", "data"), [(said, data) for said, many in REFUSED.items() for data in many])
def test_what_is_no_picture_or_claims_too_much_is_refused_in_three_sentences(said, data):
    with pytest.raises(BenchProblem, match=said) as caught:
        photo.look(data)
    assert caught.value.means == "Nothing was added."
    assert "JPEG" in caught.value.do


@given(st.binary(max_size=200))
def test_any_bytes_behind_a_good_beginning_are_read_or_refused(data):
    for start in (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"):
        with contextlib.suppress(BenchProblem):
            assert photo.look(start + data).width > 0

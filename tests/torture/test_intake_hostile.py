"""Hostile and damaged tables: refused in words, in bounded memory, before anything is believed."""

from __future__ import annotations

import io
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest
import xlwt

from benchapp.intake import limits
from benchapp.intake.read import read_bytes, read_file
from benchapp.intake.workbook import read_workbook
from benchapp.problems import BenchProblem

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def honest_parts() -> dict[str, bytes]:
    book = openpyxl.Workbook()
    book.active["A1"], book.active["B1"], book.active["A2"], book.active["B2"] = "Sample", "Fe", "A", 1.5
    out = io.BytesIO()
    book.save(out)
    with zipfile.ZipFile(out) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def sheet(body: str) -> bytes:
    return f'<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="{MAIN}"><sheetData>{body}</sheetData></worksheet>'.encode()  # noqa: E501


SHEET = "xl/worksheets/sheet1.xml"
BOMB = b'<!DOCTYPE w [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'


def changed(**parts: bytes) -> bytes:
    every = honest_parts()
    every.update({name.replace("__", "/"): content for name, content in parts.items()})
    return packed(every)


def test_the_honest_file_is_read() -> None:
    assert read_bytes(packed(honest_parts()), "a.xlsx").rows[1] == ("A", "1.5")


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"xl/vbaProject.bin": b"x"}, "holds macros"),
        (
            {"[Content_Types].xml": b"<Types>application/vnd.ms-excel.sheet.macroEnabled.main+xml</Types>"},
            "holds macros",
        ),
        ({"xl/externalLinks/externalLink1.xml": b"<x/>"}, "links to other files"),
        ({"xl/connections.xml": b"<x/>"}, "links to other files"),
        ({SHEET: b'<?xml version="1.0"?>' + BOMB + b"<w/>"}, "XML entities"),
        ({"xl/sharedStrings.xml": b'<?xml version="1.0"?>' + BOMB + b"<w>&b;</w>"}, "XML entities"),
        ({SHEET: '<?xml version="1.0" encoding="UTF-16"?><w/>'.encode("utf-16")}, "unusual encoding"),
        ({SHEET: b'<?xml version="1.0" encoding="UTF-7"?><w/>'}, "unusual encoding"),
        ({SHEET: sheet('<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')}, "at most 20,000 rows"),
        ({SHEET: sheet('<row r="1"><c r="XFD1"><v>1</v></c></row>')}, "300 columns"),
        ({SHEET: sheet("<row/>" * 20_001)}, "at most 20,000 rows"),
        (
            {SHEET: sheet('<row r="1"><c r="A1" t="inlineStr"><is><t>' + "x" * 5_000 + "</t></is></c></row>")},
            "4,096 characters",
        ),
        ({"xl/workbook.xml": b"<workbook"}, "damaged"),
        ({"xl/_rels/workbook.xml.rels": b"not xml"}, "damaged"),
    ],
)
def test_hostile_xlsx(parts: dict[str, bytes], words: str) -> None:
    with pytest.raises(BenchProblem, match=words) as caught:
        read_bytes(packed({**honest_parts(), **parts}), "a.xlsx")
    assert "taken over" in caught.value.means
    assert caught.value.do


def test_more_kinds_of_refusal(tmp_path: Path) -> None:
    for data, words in [
        (b"PK\x03\x04 rubbish", "damaged"),
        (packed({"a.txt": b"x"}), "damaged"),
        (packed({"xl/workbook.bin": b"x"}), "binary workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"x" * 600, "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "_VBA_PROJECT".encode("utf-16-le"), "holds macros"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"), "password"),
        (b"PK\x03\x04" + b"0" * 10_000_001, "at most 10 MB"),
    ]:
        with pytest.raises(BenchProblem, match=words):
            read_bytes(data, "a.xlsx")
        (tmp_path / "b.xlsx").write_bytes(data)
        with pytest.raises(BenchProblem):
            read_workbook(tmp_path / "b.xlsx")


def test_an_encrypted_or_doubled_zip_entry_is_refused() -> None:
    data = bytearray(packed(honest_parts()))
    at = data.find(b"PK\x01\x02")
    data[at + 8] |= 1
    with pytest.raises(BenchProblem, match="password"):
        read_bytes(bytes(data), "a.xlsx")


def test_stray_cells_in_xls() -> None:
    book = xlwt.Workbook()
    lone = book.add_sheet("S")
    lone.write(0, 0, "Sample")
    lone.write(60_000, 0, "far")
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(BenchProblem, match="at most 20,000 rows"):
        read_bytes(out.getvalue(), "a.xls")


ODS_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '  # noqa: E501
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0">'  # noqa: E501
    '<office:body><office:spreadsheet><table:table table:name="S">'
)
ODS_TAIL = "</table:table></office:spreadsheet></office:body></office:document-content>"


def ods(body: str, **more: bytes) -> bytes:
    return packed(
        {
            "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
            "content.xml": (ODS_HEAD + body + ODS_TAIL).encode(),
            **more,
        }
    )


def test_hostile_ods() -> None:
    cell = '<table:table-cell table:number-columns-repeated="16384" office:value-type="float" office:value="1"><text:p>1</text:p></table:table-cell>'  # noqa: E501
    for data, words in [
        (ods(f'<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>'), "at most 20,000 rows"),
        (ods(f"<table:table-row>{cell}</table:table-row>"), "300 columns"),
        (ods('<table:table-source xlink="x"/>'), "links to other files"),
        (ods("", **{"Basic/Standard/script.xml": b"<x/>"}), "holds macros"),
    ]:
        with pytest.raises(BenchProblem, match=words):
            read_bytes(data, "a.ods")


LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (1_500_000_000, 1_500_000_000))
from benchapp.intake.read import read_file
from benchapp.problems import BenchProblem
try:
    read_file(sys.argv[1])
except BenchProblem as problem:
    print("refused:", problem.what)
"""


def in_little_memory(path: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(path)],
        capture_output=True,
        text=True,
        timeout=60,
        cwd=Path(__file__).parents[2],
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="memory limit of a process")
@pytest.mark.parametrize("kind", ["zeros", "many", "lying", "entities", "repeat"])
def test_bombs_in_little_memory(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "bomb.xlsx"
    if kind == "zeros":
        path.write_bytes(packed({**honest_parts(), SHEET: sheet("<row/>") + b" " * 210_000_000}))
    elif kind == "many":
        path.write_bytes(packed({**honest_parts(), **{f"xl/media/{n}": b"\0" * 9_000_000 for n in range(25)}}))
    elif kind == "lying":
        # a part that claims to be short: what is unpacked must be what was checked
        data = bytearray(packed({**honest_parts(), SHEET: sheet("<row/>") + b" " * 60_000_000}))
        size = (len(sheet("<row/>")) + 60_000_000).to_bytes(4, "little")
        while (at := data.find(size)) >= 0:
            data[at : at + 4] = (2_000).to_bytes(4, "little")
        path.write_bytes(bytes(data))
    elif kind == "entities":
        levels = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
        path.write_bytes(
            packed({**honest_parts(), SHEET: f'<!DOCTYPE x [<!ENTITY l0 "ha">{levels}]><x>&l9;</x>'.encode()})
        )
    else:
        cell = '<table:table-cell table:number-columns-repeated="16384" office:value-type="float" office:value="1"/>'
        path.write_bytes(ods(f'<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>' * 50))
    assert path.stat().st_size < limits.FILE_BYTES
    assert in_little_memory(path).startswith("refused:")


def test_flipped_bytes_never_escape_as_anything_else(tmp_path: Path) -> None:
    """Every 37th byte of small xlsx and xls files turned over: a table or a sentence, nothing else."""
    book = xlwt.Workbook()
    lone = book.add_sheet("S")
    lone.write(0, 0, "Sample")
    lone.write(0, 1, 1.5)
    out = io.BytesIO()
    book.save(out)
    for data in (packed(honest_parts()), out.getvalue()):
        for at in range(0, len(data), 37):
            broken = bytearray(data)
            broken[at] ^= 0xFF
            try:
                read_bytes(bytes(broken), "x")
            except BenchProblem as problem:
                assert problem.means  # noqa: PT017 - a sentence or a table, both are right


def test_a_file_on_disk_that_is_too_big(tmp_path: Path) -> None:
    path = tmp_path / "big.csv"
    path.write_bytes(b"a," * 6_000_000)
    with pytest.raises(BenchProblem, match="at most 10 MB"):
        read_file(path)

"""Six exports to practise pasting, each in a shape, encoding and file format of its own. Every number in them is
invented.

`write_exports(folder)` writes them and hands back their paths. The traits are those of real exports: titles over the
head, units and wavelengths in rows of their own, decimal commas, UTF-16, replicates with means, samples across, long
tables, check standards, blanks, and marks for what was not detected."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

ELEMENTS = ("Fe", "Cr", "Pb", "Cu", "Sn", "Al", "Ni", "Si", "B", "Na", "Mg", "Ca", "P", "Zn", "Mo")
_TYPICAL_PPM = (18, 2, 4, 9, 2, 6, 1.5, 7, 90, 5, 15, 2400, 1250, 1350, 60)
_LINES_NM = (
    "259.9",
    "267.7",
    "220.3",
    "324.7",
    "283.9",
    "396.1",
    "231.6",
    "251.6",
    "249.7",
    "589.0",
    "279.5",
    "317.9",
    "213.6",
    "213.8",
    "281.6",
)
_NAMES = (
    "Iron",
    "Chromium",
    "Lead",
    "Copper",
    "Tin",
    "Aluminium",
    "Nickel",
    "Silicon",
    "Boron",
    "Sodium",
    "Magnesium",
    "Calcium",
    "Phosphorus",
    "Zinc",
    "Molybdenum",
)

ONLY_FOR_TESTS = ("odf", "odf.opendocument", "xlwt")
"""Writers of two old kinds of spreadsheet: an installed program has none, and its demo leaves those files out."""

DEFAULT_CODES = tuple(f"T1-{n:03d}" for n in range(1, 7))


def write_exports(folder: str | Path, codes: Sequence[str] = DEFAULT_CODES, seed: int = 7) -> list[Path]:
    """Write the exports into `folder` (made if needed), six where all writers are there.

    `codes` are the sample codes used in each of them."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    jobs = (
        ("1 wide with titles and units.xlsx", _wide_xlsx),
        ("2 semicolons and decimal commas.csv", _comma_csv),
        ("3 replicates in UTF-16.txt", _replicates_utf16),
        ("4 samples across.ods", _across_ods),
        ("5 one reading a row.xls", _long_xls),
        ("6 with checks and blanks.txt", _checks_txt),
    )
    paths = []
    for number, (name, write) in enumerate(jobs):
        path = folder / name
        try:
            write(path, list(codes), random.Random(seed + number))
        except ModuleNotFoundError as missing:
            if missing.name not in ONLY_FOR_TESTS:
                raise
            continue
        paths.append(path)
    return paths


def _readings(rng: random.Random) -> list[float]:
    """One sample's invented readings [ppm], one decimal below 10, whole above 100."""
    values = [typical * rng.uniform(0.7, 1.3) for typical in _TYPICAL_PPM]
    return [round(v, 1) if v < 100 else float(round(v)) for v in values]


def _wide_xlsx(path: Path, codes: list[str], rng: random.Random) -> None:
    """Titles in merged cells, wear and additive groups, a unit row, two viscosities, `<1` as text."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Results"
    sheet["A1"] = "Oil bench results (invented for practice)"
    sheet.merge_cells("A1:H1")
    sheet["A2"] = "Instrument: rotating disc, session of the day"
    sheet["D4"], sheet["K4"] = "Wear metals", "Additives"
    sheet.append([])
    heads = ["Sample ID", "Engine", "Hours on oil", *ELEMENTS, "Visc @ 40 °C", "Visc @ 100 °C", "Remarks"]
    row = 5
    for column, head in enumerate(heads, 1):
        sheet.cell(row, column, head)
        if column > 3:
            sheet.cell(row + 1, column, "ppm" if head in ELEMENTS else "mm²/s" if head.startswith("Visc") else "")
    for number, code in enumerate(codes):
        values: list[object] = [v if v >= 1.5 else "<1.5" for v in _readings(rng)]
        line = [
            code,
            f"E{number % 3 + 1}",
            round(rng.uniform(3, 14), 1),
            *values,
            round(rng.uniform(88, 99), 1),
            round(rng.uniform(13, 15), 2),
            "",
        ]
        for column, value in enumerate(line, 1):
            cell = sheet.cell(row + 2 + number, column, value)  # type: ignore[arg-type]
            if column == 1:
                cell.number_format = "@"
    book.save(path)


def _comma_csv(path: Path, codes: list[str], rng: random.Random) -> None:
    """Semicolons, decimal commas, a point for thousands, µ and ° in Windows-1252, a trailing total."""
    lines = ["Sample;" + ";".join(f"{e} (µg/g)" for e in ELEMENTS) + ";KV40 (mm²/s)"]
    totals = [0.0] * len(ELEMENTS)
    for code in codes:
        values = _readings(rng)
        totals = [a + b for a, b in zip(totals, values, strict=True)]
        lines.append(";".join([code, *map(_comma, values), _comma(rng.uniform(88, 99))]))
    lines.append(";".join(["Total", *map(_comma, totals), ""]))
    path.write_bytes(("\r\n".join(lines) + "\r\n").encode("cp1252"))


def _comma(value: float) -> str:
    return f"{value:,.1f}".replace(",", " ").replace(".", ",").replace(" ", ".")


def _replicates_utf16(path: Path, codes: list[str], rng: random.Random) -> None:
    """Tabs, UTF-16 with its mark; three burns a sample, then mean, SD and relative SD."""
    lines = [
        "Burns of the day (invented)",
        "",
        "\t".join(["Sample", "Rep", *(f"{e} {w}" for e, w in zip(ELEMENTS, _LINES_NM, strict=True))]),
        "\t".join(["", "", *["ppm"] * len(ELEMENTS)]),
    ]
    for code in codes[:4]:
        centre = _readings(rng)
        burns = [[round(v * rng.gauss(1, 0.03), 2) for v in centre] for _ in range(3)]
        for number, burn in enumerate(burns, 1):
            lines.append("\t".join([code, str(number), *(f"{v:.2f}" for v in burn)]))
        means = [sum(b[k] for b in burns) / 3 for k in range(len(ELEMENTS))]
        spread = [(sum((b[k] - means[k]) ** 2 for b in burns) / 2) ** 0.5 for k in range(len(ELEMENTS))]
        lines.append("\t".join([code, "Avg", *(f"{v:.2f}" for v in means)]))
        lines.append("\t".join([code, "SD", *(f"{v:.2f}" for v in spread)]))
        lines.append("\t".join([code, "%RSD", *(f"{100 * s / m:.1f}" for s, m in zip(spread, means, strict=True))]))
    path.write_bytes(("\r\n".join(lines) + "\r\n").encode("utf-16"))


def _across_ods(path: Path, codes: list[str], rng: random.Random) -> None:
    """Elements by name down, samples across, the unit in a column of its own."""
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    columns = [_readings(rng) for _ in codes]
    rows: list[list[object]] = [["Samples of the weekend (invented)"], [], ["Element", "Unit", *codes]]
    for k, name in enumerate(_NAMES):
        rows.append([name, "mg/kg", *(c[k] if c[k] >= 1.5 else "ND" for c in columns)])
    rows.append(["TBN", "mg KOH/g", *(round(rng.uniform(5, 8), 2) for _ in codes)])
    rows.append(["Water", "ppm", *(float(rng.randint(150, 900)) for _ in codes)])
    document = OpenDocumentSpreadsheet()
    table = Table(name="Across")
    for row in rows:
        line = TableRow()
        for value in row:
            if isinstance(value, float):
                cell = TableCell(valuetype="float", value=value)
            else:
                cell = TableCell(valuetype="string")
            cell.addElement(P(text=str(value)))
            line.addElement(cell)
        table.addElement(line)
    document.spreadsheet.addElement(table)
    document.save(str(path))


def _long_xls(path: Path, codes: list[str], rng: random.Random) -> None:
    """One reading a row, with its unit; the old binary format."""
    import xlwt

    book = xlwt.Workbook()
    sheet = book.add_sheet("Readings")
    rows: list[list[object]] = [["Sample No", "Analyte", "Result", "Units", "Sampling date", "Operator"]]
    for number, code in enumerate(codes):
        day = f"2026-04-{10 + number:02d}"
        for element, value in zip(ELEMENTS, _readings(rng), strict=True):
            rows.append([code, element, value if value >= 1.2 else "< LOD", "mg/kg", day, "- - -"])
        rows.append([code, "Viscosity @ 100 °C", round(rng.uniform(13, 15), 2), "cSt", day, "- - -"])
        rows.append([code, "Fuel dilution", round(rng.uniform(0.2, 3.0), 1), "%", day, "- - -"])
    for i, row in enumerate(rows):
        for j, value in enumerate(row):
            sheet.write(i, j, value)
    book.save(str(path))


def _checks_txt(path: Path, codes: list[str], rng: random.Random) -> None:
    """Comma-separated TXT with row codes: calibration, blank and check rows between the samples; marks, words, ±
    columns."""
    some = ELEMENTS[:8]
    heads = ["Type", "Label", "Date", "Time", "Operator"]
    for element in some:
        heads += [f"{element} (ppm)", f"{element} ±"]
    lines = [",".join(heads)]
    clock = 8 * 60

    def add(kind: str, label: str, values: Sequence[str]) -> None:
        nonlocal clock
        clock += 4
        cells = [kind, label, "2026-04-18", f"{clock // 60:02d}:{clock % 60:02d}", "- - -"]
        for value in values:
            cells += [value, f"{rng.uniform(0.1, 0.6):.1f}" if value[:1].isdigit() else ""]
        lines.append(",".join(cells))

    def around(nominal: float) -> list[str]:
        return [f"{nominal * rng.gauss(1, 0.02):.1f}" for _ in some]

    add("CL", "Cal 0", around(0.1))
    add("CL", "Cal 100 ppm", around(100))
    add("BL", "Blank oil", ["<0.5"] * len(some))
    add("CK", "Check 50 ppm", around(50))
    for number, code in enumerate(codes):
        values = [f"{v:.1f}" for v in _readings(rng)[: len(some)]]
        values[6] = "ND" if number % 2 else "<1.0"
        if number == 1:
            values[2] += "*"
        if number == 2:
            values[4] += " J"
        if number == 3:
            values[5] = "OVR"
        if number == 4:
            values[3] = "n/a"
        add("RD", code, values)
    add("CK", "Check 50 ppm", around(50))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")

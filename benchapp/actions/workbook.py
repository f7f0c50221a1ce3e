"""Verbs for whole-bench workbooks."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.benchfile.content import clean, id_from, new_id
from benchapp.benchfile.kinds import KINDS
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress
from benchapp.records import Oil

if TYPE_CHECKING:
    from benchapp.benchfile.kinds import Content
    from benchapp.benchfile.write import Write
    from benchapp.intake.workbook import SheetRow, WorkbookProblem, WorkbookTables


@dataclass(frozen=True, slots=True)
class Loaded:
    """`counts`: sheet name -> rows taken. `kept_as_notes`: what a person should know (unknown columns kept as notes,
    samples waiting for an engine, …), in words."""

    changed: Changed
    counts: dict[str, int]
    kept_as_notes: tuple[str, ...]


class WorkbookRefused(BenchProblem):
    """A workbook with problems; `problems` lists them all."""

    def __init__(self, name: str, problems: Iterable[WorkbookProblem]) -> None:
        self.problems = tuple(problems)
        first = "; ".join(said(problem) for problem in self.problems[:3])
        more = f"; and {len(self.problems) - 3} more" if len(self.problems) > 3 else ""
        count = len(self.problems)
        super().__init__(
            f"{name} has {count} problem{'s' if count != 1 else ''}: {first}{more}.",
            "Nothing was loaded.",
            "Correct the workbook and load it again.",
        )


def said(problem: WorkbookProblem) -> str:
    """A problem in words, with sheet, row, column and cell."""
    where = f"sheet “{problem.sheet}”, row {problem.row}"
    if problem.column:
        where += f", {problem.column}"
    if problem.cell:
        where += f" ({problem.cell[:40]!r})"
    return f"{where}: {problem.reason}"


# --- load -------------------------------------------------------------------------------------------------------------


def load(bench: Bench, path: str | Path, progress: Progress = NOBODY) -> Loaded:
    """Loads a whole-bench workbook: all or nothing, one undoable step, a backup before it.

    Rows are matched by their names (engine, build, fill, sample, …): what is there already is corrected, what is equal
    is left alone. Raises WorkbookRefused listing every problem with sheet, row and column."""
    from benchapp.intake.workbook import read_workbook

    progress.step("Reading the workbook")
    tables = read_workbook(Path(path))
    if tables.problems:
        raise WorkbookRefused(Path(path).name, tables.problems)
    progress.step("Comparing it with what is there")
    plan = _Plan(bench, tables)
    plan.make()
    if plan.problems:
        raise WorkbookRefused(Path(path).name, plan.problems)
    bench.file.back_up_if_changed(progress=progress)

    def body(write: Write) -> None:
        for number, (noun, document, content) in enumerate(plan.puts):
            if number % 256 == 0:
                progress.step("Writing", number / len(plan.puts))
            write.put(noun, document, content)

    changed = bench.do(f"Load workbook {Path(path).name}", body, plan.engine_names)
    return Loaded(changed, dict(tables.counts), (*tables.notices, *plan.notices))


class _Plan:
    """What a workbook's rows come to in documents, worked out before anything is written."""

    def __init__(self, bench: Bench, tables: WorkbookTables) -> None:
        self.bench, self.tables = bench, tables
        self.puts: list[tuple[str, str, Content]] = []
        self.problems: list[WorkbookProblem] = []
        self.notices: list[str] = []
        self.engine_names: set[str] = set()
        self._there = {noun: dict(bench.file.all_of(noun)) for noun in KINDS if noun != "issued_call"}
        self._engines: dict[str, str] = dict(bench.file.engine_ids())
        self._builds: dict[tuple[str, str], str] = {}
        self._fills: dict[str, dict[str, float]] = defaultdict(dict)
        """Build id -> fill name -> its build hours."""

    def make(self) -> None:
        self._materials()
        self._families()
        self._oils()
        self._instruments()
        self._engine_rows()
        self._build_rows()
        self._fill_rows()
        self._events()
        self._samples()
        self._check_runs()
        self._standards()
        self._cards()
        self._measurements()
        self._of_oils()
        self._bearings()

    # --- helpers

    def problem(self, sheet: str, row: SheetRow | Any, column: str, reason: str) -> None:
        from benchapp.intake.workbook import WorkbookProblem

        values = getattr(row, "values", {})
        cell = values.get(column) if isinstance(values, Mapping) else ""
        self.problems.append(WorkbookProblem(sheet, row.row, column, 0, "" if cell is None else str(cell), reason))

    def _named(self, noun: str, *names: Any) -> str:
        """Id of the thing of that name: the one that is there, else the one that its name gives."""
        columns = KINDS[noun].names
        for document, content in self._index(noun).get(names, ()):
            if all(content[column] == name for column, name in zip(columns, names, strict=True)):
                return document
        document = id_from(noun, *names)
        if noun in ("engine", "build"):  # also one that was withdrawn keeps its id, and what belonged to it
            return new_id() if self.bench.file.get(noun, document) is not None else document
        return new_id() if document in self._there[noun] else document

    def _index(self, noun: str) -> dict[tuple[Any, ...], list[tuple[str, Content]]]:
        cache: dict[str, Any] = self.__dict__.setdefault("_indexes", {})
        if noun not in cache:
            index: dict[tuple[Any, ...], list[tuple[str, Content]]] = defaultdict(list)
            for document, content in self._there[noun].items():
                index[tuple(content[column] for column in KINDS[noun].names)].append((document, content))
            cache[noun] = index
        return cache[noun]

    def put(self, noun: str, document: str, content: Content) -> None:
        """Plans a document; what the workbook does not say of one that is there (rows, notes) stays."""
        held = self._there[noun].get(document)
        self.puts.append((noun, document, {**held, **content} if held else content))

    # --- what engines are made of

    def _materials(self) -> None:
        grouped = _by(self.tables.materials, "id")
        for id_, rows in grouped.items():
            first = rows[0]
            shares = [
                [row["element"], row["nominal_pct"], row["min_pct"] or 0.0, _upper(row), row["source"],
                 row["status"] or "own"]
                for row in rows
                if row["element"]
            ]  # fmt: skip
            self.put(
                "material",
                self._named("material", id_),
                {
                    "name": id_,
                    "title": first["name"] or id_,
                    "family_group": first["group"],
                    "used_for": first["used_for"],
                    "density_g_cm3": first["density_g_cm3"],
                    "density_status": "own" if first["density_g_cm3"] is not None else "",
                    "notes": _notes(first),
                    "rows": shares,
                },
            )
        self._material_ids = set(self.bench.materials()) | set(grouped)

    def _families(self) -> None:
        parts: dict[str, list[SheetRow]] = defaultdict(list)
        for row in self.tables.family_parts:
            self._need_material("Family parts", row)
            parts[row["family"]].append(row)
        library = self.bench.library.families
        listed = set()
        for row in self.tables.families:
            name = row["family"]
            listed.add(name)
            content: Content = {"name": name, "layout": row["layout"], "sump_l": row["sump_l"], "notes": row["notes"]}
            if name in parts:
                content["rows"] = [_part(part) for part in parts[name]]
            elif name in library and name not in self._own_families():
                content["rows"] = [documents.part_row(part) for part in library[name].parts]
            self.put("family", self._named("family", name), content)
        for name, rows in parts.items():
            if name in listed:
                continue
            known = self.bench.families().get(name)
            if known is None:
                self.problem("Family parts", rows[0], "family", f"there is no family {name}")
                continue
            content = documents.of_family(known) if name not in self._own_families() else {"name": name}
            self.put("family", self._named("family", name), {**content, "rows": [_part(part) for part in rows]})
        self._family_names = set(self.bench.families()) | listed

    def _own_families(self) -> set[str]:
        return {content["name"] for content in self._there["family"].values()}

    def _need_material(self, sheet: str, row: SheetRow, removable: bool = False) -> None:
        if row["material"] not in self._material_ids and not (removable and row["material"].casefold() == "none"):
            self.problem(sheet, row, "material", f"there is no material {row['material']} in the materials table")

    def _oils(self) -> None:
        for row in self.tables.oils:
            content = {name: row[name] for name in ("kind", "sae_grade", "density_15c_kg_l", "kv40_cst", "kv100_cst",
                                                    "hths_mpas", "tbn", "tan")}  # fmt: skip
            rows = [[element, ppm] for element, ppm in sorted(row.elements.items())]
            notes = row.get("notes") if row.get("notes") is not None else _notes(row)
            name = row["oil"]
            self.put("oil", self._named("oil", name), {**content, "name": name, "notes": notes, "rows": rows})
        self._oil_names = set(self.bench.fleet().oils) | {row["oil"] for row in self.tables.oils}

    def _instruments(self) -> None:
        grouped = _by(self.tables.instruments, "instrument")
        for name, rows in grouped.items():
            lines = []
            for row in rows:
                if not row["element"]:
                    continue
                if any(row[column] is None for column in ("a_ppm", "b", "limit_ppm")):
                    self.problem("Instruments", row, "element", "a noise line needs a_ppm, b and limit_ppm")
                    continue
                lines.append([row["element"], row["a_ppm"], row["b"], row["limit_ppm"], row.get("origin") or "own"])
            self.put(
                "instrument",
                self._named("instrument", name),
                {"name": name, "kind": rows[0]["kind"], "method": rows[0]["method"], "notes": _notes(rows[0]),
                 "rows": lines},
            )  # fmt: skip

    # --- engines

    def _engine_rows(self) -> None:
        for row in self.tables.engines:
            name = row["engine"]
            if row["family"] not in self._family_names:
                self.problem(
                    "Engines",
                    row,
                    "family",
                    f"there is no family {row['family']} on sheet “Families” nor in the library",
                )
            document = self._engines.get(name) or self._named("engine", name)
            self._engines[name] = document
            self.engine_names.add(name)
            self.put(
                "engine", document, {"name": name, "family": row["family"], "car": row["car"], "notes": row["notes"]}
            )

    def _build_rows(self) -> None:
        for document, content in self._there["build"].items():
            self._builds[content["engine_id"], content["number"]] = document
        parts: dict[tuple[str, str], list[SheetRow]] = defaultdict(list)
        for row in self.tables.build_parts:
            self._need_material("Build parts", row, removable=True)
            parts[row["engine"], row["build"]].append(row)
        listed = set()
        for row in self.tables.builds:
            engine = self._engines.get(row["engine"])
            if engine is None:
                self.problem("Builds", row, "engine", f"there is no engine {row['engine']}")
                continue
            key = (engine, row["build"])
            document = self._builds.get(key) or self._named("build", *key)
            self._builds[key] = document
            self.engine_names.add(row["engine"])
            listed.add((row["engine"], row["build"]))
            content: Content = {
                "engine_id": engine,
                "number": row["build"],
                "built_on": documents.moment_text(row["built_on"]),
                "sump_l": row["sump_l"],
                "notes": row["notes"],
            }
            own = parts.get((row["engine"], row["build"]))
            if own is not None:
                content["rows"] = [_part(part) for part in own]
            self.put("build", document, content)
        for (engine_name, number), rows in parts.items():
            if (engine_name, number) in listed:
                continue
            build = self._build("Build parts", rows[0])
            if build:
                self.put("build", build, {"rows": [_part(part) for part in rows]})

    def _build(self, sheet: str, row: SheetRow) -> str:
        """Id of the row's build, or '' and a problem."""
        engine = self._engines.get(row["engine"])
        if engine is None:
            self.problem(sheet, row, "engine", f"there is no engine {row['engine']}")
            return ""
        build = self._builds.get((engine, row["build"]))
        if build is None:
            self.problem(sheet, row, "build", f"engine {row['engine']} has no build {row['build'] or '(blank)'}")
            return ""
        self.engine_names.add(row["engine"])
        return build

    def _fill_rows(self) -> None:
        for content in self._there["fill"].values():
            self._fills[content["build_id"]][content["name"]] = content["build_h"]
        unknown = set()
        for row in self.tables.fills:
            build = self._build("Fills", row)
            if not build:
                continue
            self._fills[build][row["fill"]] = row["build_h"]
            if row["oil"] not in self._oil_names:
                unknown.add(row["oil"])
            changed = row["filter_changed"]
            self.put(
                "fill",
                self._named("fill", build, row["fill"]),
                {
                    "build_id": build,
                    "name": row["fill"],
                    "oil": row["oil"],
                    "build_h": row["build_h"],
                    "volume_l": row["volume_l"],
                    "filled_at": documents.moment_text(row["filled_at"]),
                    "drain_before": row["drain_before"],
                    "filter_changed": None if changed is None else int(changed),
                    "notes": _notes(row),
                },
            )
        self.notices += [
            f"Oil {oil} is filled but not on sheet “Oils”: what it holds when fresh is unknown."
            for oil in sorted(unknown)
        ]

    # --- events

    def _events(self) -> None:
        places: Counter[str] = Counter()
        for content in self._there["run"].values():
            places[content["build_id"]] = max(places[content["build_id"]], content["place"])
        for sheet, noun, rows in (
            ("Top-ups", "top_up", self.tables.top_ups),
            ("Runs", "run", self.tables.runs),
            ("Pulls", "pull", self.tables.pulls),
            ("Leak-down", "leak_down", self.tables.leak_downs),
            ("Filter cuts", "filter_cut", self.tables.filter_cuts),
            ("Changes", "change", self.tables.changes),
            ("Findings", "finding", self.tables.findings),
            ("Oil pressure", "oil_pressure", self.tables.oil_pressures),
            ("Fitted parts", "fitting", self.tables.fittings),
        ):
            matcher = _Matcher(noun, self._there[noun])
            for row in rows:
                build = self._build(sheet, row)
                if not build:
                    continue
                if noun == "top_up" and row["fill"] not in self._fills[build]:
                    self.problem(sheet, row, "fill", f"the build has no fill {row['fill']}")
                    continue
                content = _event_content(noun, row, build)
                document, held = matcher.match(content)
                if noun == "run":
                    places[build] += 0 if held else 1
                    content["place"] = held["place"] if held else places[build]
                if not held or held != clean(noun, {**held, **content}):
                    self.put(noun, document, content)

    def _check_runs(self) -> None:
        matcher = _Matcher("check_run", self._there["check_run"])
        for row in self.tables.check_runs:
            content = {name: row[name] for name in ("instrument", "standard", "element", "expected_ppm", "found_ppm")}
            content |= {"run_at": documents.moment_text(row["run_at"]), "notes": _notes(row)}
            document, held = matcher.match(content)
            if not held or held != clean("check_run", {**held, **content}):
                self.put("check_run", document, content)

    def _standards(self) -> None:
        for name, rows in _by(self.tables.standards, "standard").items():
            first = rows[0]
            content = {
                "name": name,
                "kind": first["kind"] or "standard",
                "lot": first["lot"],
                "expires_on": documents.moment_text(first["expires_on"]),
                "notes": first["notes"],
                "rows": [[row["element"], row["ppm"]] for row in self._filled("Standards", rows, "ppm")],
            }
            self.put("standard", self._named("standard", name), content)

    def _cards(self) -> None:
        for name, rows in _by(self.tables.instrument_elements, "instrument").items():
            content = {
                "instrument": name,
                "due_on": documents.moment_text(rows[0]["due_on"]),
                "due_for": rows[0]["due_for"],
                "notes": _notes(rows[0]),
                "rows": [[row["element"], row["unit"] or "ppm", row["detects_from"]] for row in rows if row["element"]],
            }
            self.put("instrument_card", self._named("instrument_card", name), content)

    def _filled(self, sheet: str, rows: list[SheetRow], column: str) -> list[SheetRow]:
        """The rows that name an element; one without its number is a problem."""
        named = [row for row in rows if row["element"]]
        for row in named:
            if row[column] is None:
                self.problem(sheet, row, column, f"{row['element']} has no {column}")
        return [row for row in named if row[column] is not None]

    def _measurements(self) -> None:
        matcher = _Matcher("measurement", self._there["measurement"])
        for row in self.tables.measurements:
            content = {"sample": row["sample"], "measured_at": documents.moment_text(row["measured_at"])}
            document, held = matcher.match({**content, "notes": _notes(row)})
            if not held:
                self.put("measurement", document, {**content, "notes": _notes(row)})

    # --- oils and bearings beside their records

    def _of_oils(self) -> None:
        """Limits, fresh values and bench blends of oils, checked as when a person enters them."""
        from benchapp.actions import oil_card
        from benchapp.records import FuelBlend, OilLimit

        limits = [
            ("Oil limits", "oil_limit", row, OilLimit(row["limit"], row["watch"], row["done"], row["why"]))
            for row in self.tables.oil_limits
        ]
        blends = [
            ("Fuel blends", "fuel_blend", row,
             FuelBlend(row["fuel"], row["fuel_ml"], row["oil_ml"], row["kv_cst"], row["at_c"]))
            for row in self.tables.fuel_blends
        ]  # fmt: skip
        for sheet, noun, row, record in (*limits, *blends):
            known = self._oil_as_loaded(sheet, row)
            if known is None:
                continue
            if isinstance(record, OilLimit):
                self._tried(sheet, row, "limit", lambda: oil_card.check(known, [record], {}, ()))  # noqa: B023
                content = documents.of_oil_limit(record, row["oil"])
            else:
                self._tried(sheet, row, "kv_cst", lambda: oil_card.check(known, (), {}, [record]))  # noqa: B023
                content = documents.of_fuel_blend(record, row["oil"])
            self._put_named(noun, content, row)
        for row in self.tables.fresh_values:
            if (known := self._oil_as_loaded("Fresh values", row)) is not None:
                fresh = {row["property"]: row["value"]}
                self._tried("Fresh values", row, "value", lambda: oil_card.check(known, (), fresh, ()))  # noqa: B023
                self._put_named("fresh_value", documents.of_fresh_value(*next(iter(fresh.items())), row["oil"]), row)

    def _put_named(self, noun: str, content: Content, row: SheetRow) -> None:
        names = [content[column] for column in KINDS[noun].names]
        self.put(noun, self._named(noun, *names), {**content, "notes": row["notes"]})

    def _oil_as_loaded(self, sheet: str, row: SheetRow) -> Oil | None:
        """The oil of a row as it stands after loading, or None and a problem."""
        name = row["oil"]
        loaded = next((each for each in self.tables.oils if each["oil"] == name), None)
        if loaded is not None:
            return Oil(name, kv40_cst=loaded["kv40_cst"], kv100_cst=loaded["kv100_cst"])
        known = self.bench.fleet().oils.get(name)
        if known is None:
            self.problem(sheet, row, "oil", f"there is no oil {name} on sheet “Oils” nor in this bench file")
        return known

    def _tried(self, sheet: str, row: SheetRow, column: str, check: Callable[[], None]) -> None:
        """Runs a check; what it refuses is a problem of the row."""
        try:
            check()
        except BenchProblem as refused:
            self.problem(sheet, row, column, f"{refused.what} {refused.means}")

    def _bearings(self) -> None:
        from benchapp.actions import bearing
        from benchapp.records import OwnBearing

        for row in self.tables.bearings:
            build = self._build("Bearings", row)
            if not build:
                continue
            numbers = ("diameter_mm", "length_mm", "clearance_mm", "roughness_um")
            own = OwnBearing(
                row["bearing"], *(row[name] for name in numbers), row["load_case"], row["load_n"], row["speed_rpm"]
            )
            self._tried("Bearings", row, "bearing", lambda: bearing.check(own))  # noqa: B023
            self._put_named("bearing", documents.of_bearing(own, build), row)

    # --- samples

    def _samples(self) -> None:
        readings: dict[str, list[Any]] = defaultdict(list)
        for reading in self.tables.results:
            readings[reading.sample].append(
                [reading.measurand, reading.value, reading.unit, reading.qualifier or "", reading.replicate,
                 reading.mark]
            )  # fmt: skip
        for row in self.tables.samples:
            self._sample(row, readings.pop(row["sample"], []))
        for code, rows in readings.items():
            document = self._named("sample", code)
            held = self._there["sample"].get(document)
            if held is None:
                self.notices.append(
                    f"Sample {code} has results but no row on sheet “Samples”: it waits for its engine."
                )
                self.put("sample", document, {"code": code, "build_id": None, "break_in": 0, "rows": _joined([], rows)})
            else:
                self.put("sample", document, {"rows": _joined(held["rows"], rows)})

    def _sample(self, row: SheetRow, rows: list[Any]) -> None:
        code = row["sample"]
        build: str | None = None
        if row["engine"]:
            build = self._build("Samples", row)
            if not build:
                return
        fill, build_h = row["fill"], row["build_h"]
        if build is not None:
            fill, build_h = self._place(row, build)
        document = self._named("sample", code)
        held = self._there["sample"].get(document)
        before = row["before_top_up"]
        self.put(
            "sample",
            document,
            {
                "build_id": build,
                "code": code,
                "fill": fill,
                "build_h": build_h,
                "oil_h": row["oil_h"],
                "taken_at": documents.moment_text(row["taken_at"]),
                "drawn": row["drawn"],
                "before_top_up": None if before is None else int(before),
                "instrument": row["instrument"],
                "break_in": int(bool(row["break_in"])),
                "notes": row["notes"],
                "hold": row.get("hold") or "",
                "rows": _joined(held["rows"] if held else [], rows),
            },
        )

    def _place(self, row: SheetRow, build: str) -> tuple[str, float | None]:
        """Fill and build hours of a sample; what is blank follows from the other, and a notice says so."""
        fills, code = self._fills[build], row["sample"]
        fill, build_h, oil_h = row["fill"], row["build_h"], row["oil_h"]
        if fill and fill not in fills:
            self.problem("Samples", row, "fill", f"the build has no fill {fill}")
            return fill, build_h
        if build_h is None and fill and oil_h is not None:
            build_h = fills[fill] + oil_h
            self.notices.append(f"Sample {code}: build hours taken as {build_h:g} h, from its fill and oil hours.")
        if build_h is None:
            self.problem("Samples", row, "build_h", "a sample of an engine needs build_h (or its fill and oil_h)")
            return fill, build_h
        if not fill:
            earlier = [(hours, name) for name, hours in fills.items() if hours <= build_h]
            if not earlier:
                self.problem("Samples", row, "fill", "no fill of this build had begun at these build hours")
                return fill, build_h
            fill = max(earlier)[1]
            self.notices.append(f"Sample {code}: fill taken as {fill}, the one in use at {build_h:g} h.")
        return fill, build_h


def _by(rows: Iterable[SheetRow], column: str) -> dict[str, list[SheetRow]]:
    """Rows by a name, in order."""
    out: dict[str, list[SheetRow]] = defaultdict(list)
    for row in rows:
        out[row[column]].append(row)
    return out


def _upper(row: SheetRow) -> float:
    for column in ("max_pct", "nominal_pct"):
        if row[column] is not None:
            return float(row[column])
    return 100.0


def _notes(row: SheetRow) -> str:
    """Unknown columns of a sheet without notes, as notes."""
    return "; ".join(text if name.lower() == "notes" else f"{name}: {text}" for name, text in row.extra.items())


def _part(row: SheetRow) -> list[Any]:
    return [row["part"], row["material"], row["role"], row.get("area_cm2"), row.get("thickness_um"), _notes(row)]


def _joined(held: list[Any], new: list[Any]) -> list[Any]:
    """Readings as they are, with the workbook's in their place."""
    rows = {(row[0], row[4]): row for row in held}
    rows.update({(row[0], row[4]): row for row in new})
    return documents.ordered(rows.values())


def _event_content(noun: str, row: SheetRow, build: str) -> Content:
    content: Content = {"build_id": build}
    for name, _ in KINDS[noun].columns:
        if name in ("void", "build_id", "place", "notes"):
            continue
        value = row.get(name)
        content[name] = documents.moment_text(value) if name == "started_at" else value
    content["notes"] = row.get("notes") if "notes" in row.values else _notes(row)
    return content


class _Matcher:
    """Finds, for an event of the workbook, the one that is there: equal first, else the one its names give."""

    def __init__(self, noun: str, there: Mapping[str, Content]) -> None:
        self._noun, self._there = noun, there
        self._equal: dict[str, list[str]] = defaultdict(list)
        for document, content in there.items():
            self._equal[self._key(content)].append(document)
        self._seen: Counter[tuple[Any, ...]] = Counter()
        self._used: set[str] = set()

    def _key(self, content: Content) -> str:
        whole = clean(self._noun, {**content, "void": ""})
        return repr([value for name, value in sorted(whole.items()) if name != "place"])

    def match(self, content: Content) -> tuple[str, Content | None]:
        for document in self._equal.get(self._key(content), ()):
            if document not in self._used:
                self._used.add(document)
                return document, self._there[document]
        names = tuple(content[name] for name in KINDS[self._noun].names)
        if self._noun == "run" and not content["started_at"]:
            names = (*names, self._key(content))  # nothing says which of the runs there it would correct: one more
        while True:
            self._seen[names] += 1
            document = id_from(self._noun, *names, self._seen[names])
            if document not in self._used:
                self._used.add(document)
                return document, self._there.get(document)


# --- unload -----------------------------------------------------------------------------------------------------------


def unload(bench: Bench, path: str | Path, progress: Progress = NOBODY) -> dict[str, int]:
    """Writes the whole bench as a workbook (sheet name -> rows); loading it into an empty file gives the same bench.

    Photos are pictures and stay in the bench file: where there are some, their number is told under PHOTOS_STAY."""
    from benchapp.actions import photo
    from benchapp.sheet.workbook import write_workbook

    target = Path(path)
    if target.exists() and target.resolve() == bench.path.resolve():
        raise BenchProblem(
            "The workbook cannot have the bench file's own name.", "Nothing was written.", "Choose another name."
        )
    progress.step("Gathering what the bench holds")
    sheets = tables_of(bench)
    write_workbook(target, sheets, progress)
    counts = {name: len(rows) for name, (_, rows) in sheets.items() if rows}
    photos = photo.count(bench)
    return {**counts, PHOTOS_STAY: photos} if photos else counts


PHOTOS_STAY = "Photos (they stay in the bench file, a workbook holds none)"
Sheets = dict[str, tuple[list[str], list[list[Any]]]]


def tables_of(bench: Bench) -> Sheets:
    """The whole bench as the contract's sheets, in its order, then our own."""
    return _Unload(bench).sheets()


class _Unload:
    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.all = {noun: bench.file.all_of(noun) for noun in KINDS if noun not in ("issued_call", "paste_mapping")}
        names = {id_: name for name, id_ in bench.file.engine_ids().items()}
        self.builds = {
            id_: (names[content["engine_id"]], content["number"])
            for id_, content in self.all["build"]
            if content["engine_id"] in names
        }
        self.out: Sheets = {}

    def sheets(self) -> Sheets:
        from benchapp.intake.workbook import SHEETS

        for spec in SHEETS:
            columns = [column.name for column in spec.columns]
            getattr(self, f"_{spec.attribute}")(spec.sheet, columns)
        return {
            name: (columns, rows)
            for name, (columns, rows) in self.out.items()
            if rows or not any(spec.extension and spec.sheet == name for spec in SHEETS)
        }

    def _add(
        self, sheet: str, columns: list[str], rows: Iterable[Mapping[str, Any]], optional: Iterable[str] = ()
    ) -> None:
        """A sheet of `rows`; `optional` columns (and notes that are not listed) stand only where one is filled."""
        listed = list(rows)
        kept = [
            column
            for column in columns
            if column not in optional or any(row.get(column) not in (None, "") for row in listed)
        ]
        if "notes" not in kept and any(row.get("notes") for row in listed):
            kept.append("notes")
        self.out[sheet] = (kept, [[row.get(column) for column in kept] for row in listed])

    def _rows_of(self, noun: str) -> Iterable[dict[str, Any]]:
        """Documents that belong to a build which is there, with its engine and number."""
        for _, content in self.all[noun]:
            if content["build_id"] in self.builds:
                engine, build = self.builds[content["build_id"]]
                yield {**content, "engine": engine, "build": build}

    def _families(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, ({**content, "family": content["name"]} for _, content in self.all["family"]))

    def _family_parts(self, sheet: str, columns: list[str]) -> None:
        rows = (
            {"family": content["name"], **_part_of(row)} for _, content in self.all["family"] for row in content["rows"]
        )
        self._add(sheet, columns, rows, ("area_cm2", "thickness_um"))

    def _engines(self, sheet: str, columns: list[str]) -> None:
        names = {id_: name for name, id_ in self.bench.file.engine_ids().items()}
        self._add(sheet, columns, ({**content, "engine": names[id_]} for id_, content in self.all["engine"]))

    def _builds(self, sheet: str, columns: list[str]) -> None:
        rows = [
            {
                **content,
                "engine": self.builds[id_][0],
                "build": content["number"],
                "built_on": _moment(content["built_on"]),
            }
            for id_, content in self.all["build"]
            if id_ in self.builds
        ]
        self._add(sheet, columns, rows)

    def _build_parts(self, sheet: str, columns: list[str]) -> None:
        rows = (
            {"engine": self.builds[id_][0], "build": self.builds[id_][1], **_part_of(row)}
            for id_, content in self.all["build"]
            if id_ in self.builds
            for row in content["rows"]
        )
        self._add(sheet, columns, rows, ("area_cm2", "thickness_um"))

    def _oils(self, sheet: str, columns: list[str]) -> None:
        elements = list(dict.fromkeys(row[0] for _, content in self.all["oil"] for row in content["rows"]))
        head = [column for column in columns if column != "notes"]
        rows = (
            {**content, "oil": content["name"], **dict(map(tuple, content["rows"]))} for _, content in self.all["oil"]
        )
        self._add(sheet, head + elements, rows)

    def _fills(self, sheet: str, columns: list[str]) -> None:
        rows = (
            {**row, "fill": row["name"], "filled_at": _moment(row["filled_at"]),
             "filter_changed": _flag(row["filter_changed"])}
            for row in self._rows_of("fill")
        )  # fmt: skip
        self._add(sheet, columns, rows)

    def _top_ups(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("top_up"))

    def _runs(self, sheet: str, columns: list[str]) -> None:
        rows = sorted(self._rows_of("run"), key=lambda row: row["place"])
        moved = ({**row, "started_at": _moment(row["started_at"])} for row in rows)
        self._add(sheet, columns, moved, KINDS["run"].added)

    def _samples(self, sheet: str, columns: list[str]) -> None:
        rows = []
        for _, content in self.all["sample"]:
            if content["build_id"] is not None and content["build_id"] not in self.builds:
                continue
            engine, build = self.builds.get(content["build_id"], ("", ""))
            rows.append(
                {
                    **content,
                    "sample": content["code"],
                    "engine": engine,
                    "build": build,
                    "taken_at": _moment(content["taken_at"]),
                    "before_top_up": _flag(content["before_top_up"]),
                    "break_in": _flag(content["break_in"]),
                }
            )
        self._add(sheet, columns, rows, ("hold",))

    def _results(self, sheet: str, columns: list[str]) -> None:
        measurands: dict[str, None] = {}
        lines: dict[tuple[str, int], dict[str, Any]] = {}
        for _, content in self.all["sample"]:
            if content["build_id"] is not None and content["build_id"] not in self.builds:
                continue
            for measurand, value, _, qualifier, replicate, mark in content["rows"]:
                measurands.setdefault(measurand)
                key = (content["code"], replicate)
                line = lines.setdefault(key, {"sample": content["code"], "replicate": replicate})
                line[measurand] = _reading(value, qualifier, mark)
        ordered = sorted(lines.values(), key=lambda line: line["replicate"] > 1)
        head = ["sample", *(["replicate"] if any(line["replicate"] > 1 for line in ordered) else [])]
        self._add(sheet, [*head, *measurands], ordered)

    def _pulls(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("pull"))

    def _leak_downs(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("leak_down"), ("tester", "pressure_kpa"))

    def _filter_cuts(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("filter_cut"), KINDS["filter_cut"].added)

    def _changes(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("change"))

    def _check_runs(self, sheet: str, columns: list[str]) -> None:
        rows = ({**content, "run_at": _moment(content["run_at"])} for _, content in self.all["check_run"])
        self._add(sheet, columns, rows)

    def _materials(self, sheet: str, columns: list[str]) -> None:
        rows = []
        for _, content in self.all["material"]:
            head = {
                "id": content["name"],
                "name": content["title"],
                "group": content["family_group"],
                "used_for": content["used_for"],
                "density_g_cm3": content["density_g_cm3"],
                "notes": content["notes"],
            }
            names = ("element", "nominal_pct", "min_pct", "max_pct", "source", "status")
            rows += [{**head, **dict(zip(names, row, strict=True))} for row in content["rows"]] or [head]
        self._add(sheet, columns, rows)

    def _instruments(self, sheet: str, columns: list[str]) -> None:
        rows = []
        for _, content in self.all["instrument"]:
            head = {
                "instrument": content["name"],
                "kind": content["kind"],
                "method": content["method"],
                "notes": content["notes"],
            }
            names = ("element", "a_ppm", "b", "limit_ppm", "origin")
            rows += [{**head, **dict(zip(names, row, strict=True))} for row in content["rows"]] or [head]
        self._add(sheet, columns, rows)

    def _findings(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("finding"), KINDS["finding"].added)

    def _oil_pressures(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("oil_pressure"))

    def _fittings(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, self._rows_of("fitting"))

    def _standards(self, sheet: str, columns: list[str]) -> None:
        rows = []
        for _, content in self.all["standard"]:
            head = {**content, "standard": content["name"], "expires_on": _moment(content["expires_on"])}
            rows += [{**head, "element": element, "ppm": ppm} for element, ppm in content["rows"]] or [head]
        self._add(sheet, columns, rows)

    def _instrument_elements(self, sheet: str, columns: list[str]) -> None:
        rows = []
        for _, content in self.all["instrument_card"]:
            head = {**content, "due_on": _moment(content["due_on"])}
            names = ("element", "unit", "detects_from")
            rows += [{**head, **dict(zip(names, row, strict=True))} for row in content["rows"]] or [head]
        self._add(sheet, columns, rows)

    def _oil_limits(self, sheet: str, columns: list[str]) -> None:
        rows = ({**content, "limit": content["limit_name"]} for _, content in self._of_known_oils("oil_limit"))
        self._add(sheet, columns, rows, ("notes",))

    def _fresh_values(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, (content for _, content in self._of_known_oils("fresh_value")), ("notes",))

    def _fuel_blends(self, sheet: str, columns: list[str]) -> None:
        self._add(sheet, columns, (content for _, content in self._of_known_oils("fuel_blend")), ("notes",))

    def _of_known_oils(self, noun: str) -> list[tuple[str, Content]]:
        """What belongs to an oil that is there; of a withdrawn one nothing is written."""
        oils = {content["name"] for _, content in self.all["oil"]}
        return [(id_, content) for id_, content in self.all[noun] if content["oil"] in oils]

    def _bearings(self, sheet: str, columns: list[str]) -> None:
        rows = ({**row, "bearing": row["name"]} for row in self._rows_of("bearing"))
        self._add(sheet, columns, rows, ("notes",))

    def _measurements(self, sheet: str, columns: list[str]) -> None:
        rows = ({**content, "measured_at": _moment(content["measured_at"])} for _, content in self.all["measurement"])
        self._add(sheet, columns, rows)


def _part_of(row: list[Any]) -> dict[str, Any]:
    return dict(zip(("part", "material", "role", "area_cm2", "thickness_um", "notes"), row, strict=True))


def _moment(text: str) -> str:
    """A stored moment as the workbook writes it: the date alone at midnight."""
    if not text:
        return ""
    moment = dt.datetime.fromisoformat(text)
    return moment.date().isoformat() if moment.time() == dt.time() else moment.isoformat()


def _flag(value: int | None) -> bool | None:
    return None if value is None else bool(value)


def _reading(value: float | None, qualifier: str, mark: str) -> Any:
    """A reading as a cell: a number where it is one, else as it is written ('<1', 'ND', '6.1 J')."""
    if value is None:
        return f"ND {mark}".strip()
    if not qualifier and not mark:
        return value
    return f"{qualifier}{_plain(value)} {mark}".strip()


def _plain(value: float) -> str:
    """All digits without an exponent; never three behind the point, which could be read as thousands."""
    text = format(Decimal(repr(value)), "f")
    return text + "0" if "." in text and len(text.partition(".")[2]) == 3 else text


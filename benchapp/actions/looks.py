"""Read-only looks at the bench for the views: frozen rows, nothing written, nothing cached.

What needs only the fleet takes the fleet, so that a worker thread may ask; what needs the open file takes the bench.
Hours are running hours [h], ages days [d], shares fractions of one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from benchapp.actions import findings, parts
from benchapp.records import Build, Call, Engine, Family, Fill, Fitting, Fleet, Material, Moment, OilPressure, Part

Entry = tuple[float, Moment | None, str, str, tuple[Any, ...]]
"""One line of the log: build hours [h], when, kind, text, the records behind it."""

# --- one row an engine ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FleetRow:
    """One engine as the fleet shows it. `call` is that of the last sample of the current build, or None."""

    engine: str
    family: str
    car: str
    build: str
    """Number of the current build, '' without one."""
    build_h: float | None
    call: Call | None
    sample: str
    """Code of the last sample of the current build, or ''."""
    sampled_at: Moment | None
    age_d: float | None
    """Days since the last sample was taken [d]."""
    since_h: float | None
    """Hours run since the last sample [h]."""
    next_h: float | None
    """Hours after which the call asks for the next sample [h]."""
    due: bool
    """The hours for the next sample have been run."""
    reason: str
    """The strongest reason, or what stands in its place."""


def fleet_rows(
    fleet: Fleet, calls: Mapping[str, Call], now: Moment, judging: Iterable[str] = ()
) -> tuple[FleetRow, ...]:
    """One row an engine, in order of the fleet. `calls`: engine -> its latest call; `judging`: engines under way."""
    under_way = frozenset(judging)
    return tuple(_fleet_row(each, calls.get(each.name), now, each.name in under_way) for each in fleet.engines)


def _fleet_row(engine: Engine, call: Call | None, now: Moment, judging: bool) -> FleetRow:
    build = engine.builds[-1] if engine.builds else None
    if build is None:
        return FleetRow(
            engine.name,
            engine.family,
            engine.car,
            "",
            None,
            None,
            "",
            None,
            None,
            None,
            None,
            False,
            "No build yet: add one",
        )
    hours = build_hours(build)
    last = build.samples[-1] if build.samples else None
    if last is None:
        return FleetRow(
            engine.name,
            engine.family,
            engine.car,
            build.number,
            hours,
            None,
            "",
            None,
            None,
            None,
            None,
            False,
            "No sample yet",
        )
    if call is not None and (call.build != build.number or call.sample != last.code):
        call = None  # judged before this sample came in
    since = max(0.0, hours - last.build_h)
    age = (now - last.taken_at).total_seconds() / 86400 if last.taken_at else None
    next_h = call.next_sample_h if call else None
    due = next_h is not None and since > 0 and since >= next_h
    return FleetRow(
        engine.name,
        engine.family,
        engine.car,
        build.number,
        hours,
        call,
        last.code,
        last.taken_at,
        age,
        since,
        next_h,
        due,
        strongest(call) if call else ("Being judged…" if judging else "Could not be judged"),
    )


def strongest(call: Call) -> str:
    """The strongest reason of a call in words; held results and a clean sample say so."""
    if call.held:
        return f"Held: {call.held}"
    return capital(call.reasons[0].text) if call.reasons else "Nothing found"


def capital(text: str) -> str:
    """A text with a capital letter in front, the rest as it is ("Al" and "Pb" stay what they are)."""
    return text[:1].upper() + text[1:]


def build_hours(build: Build) -> float:
    """Running hours of a build so far [h]: its runs added up, or the furthest entry where that is more."""
    dated: list[float] = [sum(run.hours for run in build.runs)]
    for kind in (
        build.fills,
        build.top_ups,
        build.samples,
        build.pulls,
        build.leak_downs,
        build.filter_cuts,
        build.changes,
        build.findings,
        build.oil_pressures,
        build.fittings,
    ):
        dated.extend(entry.build_h for entry in kind)
    return max(dated)


def latest_calls(bench: Any) -> dict[str, Call]:
    """Engine -> call of the last sample of its current build, for the engines that are judged, now or before the file
    was last closed. Computes nothing."""
    waiting = bench.engines_to_judge()
    found = {name: call for name, call in bench.kept_calls().items() if call is not None}
    for engine in bench.fleet().engines:
        if engine.name in waiting or not engine.builds:
            continue
        current = [call for call in bench.calls_of(engine.name) if call.build == engine.builds[-1].number]
        if current:
            found[engine.name] = current[-1]
    return found


def next_to_judge(bench: Any, first: str = "") -> frozenset[str]:
    """Engines to judge next: those of one family, that of engine `first` before others; empty where all are judged."""
    waiting = bench.engines_to_judge()
    families = {engine.name: engine.family for engine in bench.fleet().engines if engine.name in waiting}
    if not families:
        return frozenset()
    family = families.get(first) or next(iter(families.values()))
    return frozenset(name for name, its in families.items() if its == family)


# --- one engine -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part of a build with its material and where both come from."""

    part: str
    role: str
    material_id: str
    material: str
    sure: str
    """'verified' (read in its source), 'from memory', 'own entry' or a mixture in words."""
    origin: str
    """'family' or 'this build'."""
    layer: str
    """Area and thickness in words, or ''."""
    about: str
    """The material in plain lines: each element, its tolerance, its source."""
    shown_by: str
    """The elements that show it, the largest share first."""
    use: str = ""
    """What it has run since it was fitted, in words, or ''."""
    life_share: float | None = None
    """That as a share of its life, or None."""
    use_in_full: str = ""
    fitting: Fitting | None = None


@dataclass(frozen=True, slots=True)
class SampleRow:
    """One sample of an engine, with its call where there is one."""

    code: str
    build: str
    fill: str
    taken_at: Moment | None
    build_h: float
    oil_h: float | None
    call: str
    reason: str
    readings: int
    break_in: bool
    remark: str
    """'held', 'superseded', 'break-in' in words, or ''."""


@dataclass(frozen=True, slots=True)
class LogRow:
    """One entry of an engine's log: what happened at which build hours, in words."""

    key: str
    build: str
    build_h: float
    at: Moment | None
    kind: str
    text: str
    records: tuple[Any, ...] = ()
    """What was entered: one record, or those that were entered together (a leak-down, oil pressures)."""
    photos: tuple[Any, ...] = ()
    """`actions.photo.Photo` of this entry."""


@dataclass(frozen=True, slots=True)
class EngineLook:
    """All that the detail pane says of an engine besides its call."""

    engine: str
    family: str
    car: str
    notes: str
    build: str
    built_on: Moment | None
    build_h: float | None
    sump: str
    """Sump oil in words: how much and where it is from."""
    oil: str
    """The oil in the engine now and its hours, in words."""
    parts: tuple[PartRow, ...]
    samples: tuple[SampleRow, ...]
    """All builds, the newest first."""
    log: tuple[LogRow, ...]
    """All builds, the newest first."""


def describe(
    fleet: Fleet,
    engine: str,
    calls: Iterable[Call] = (),
    materials: Mapping[str, Material] | None = None,
    families: Mapping[str, Family] | None = None,
    photos: Mapping[Any, tuple[Any, ...]] | None = None,
) -> EngineLook | None:
    """Everything about one engine in frozen rows, or None where there is none of that name.

    `calls`: those of its samples. `materials`, `families`: in place of the fleet's own (with the library's). `photos`:
    (number of the build, entry) -> its photos."""
    found = next((each for each in fleet.engines if each.name == engine), None)
    if found is None:
        return None
    known = materials if materials is not None else fleet.materials
    family = (families if families is not None else fleet.families).get(found.family)
    build = found.builds[-1] if found.builds else None
    by_code = {call.sample: call for call in calls}
    return EngineLook(
        engine=found.name,
        family=found.family,
        car=found.car,
        notes=found.notes,
        build=build.number if build else "",
        built_on=build.built_on if build else None,
        build_h=build_hours(build) if build else None,
        sump=_sump(build, family),
        oil=_oil_now(build),
        parts=_with_uses(part_rows(build.parts, known, family), parts.of_engine(fleet, engine)) if build else (),
        samples=tuple(
            _sample_row(b, s, by_code.get(s.code)) for b in reversed(found.builds) for s in reversed(b.samples)
        ),
        log=tuple(line for b in reversed(found.builds) for line in _log(b, by_code, photos or {})),
    )


def _with_uses(rows: Iterable[PartRow], uses: Iterable[parts.PartUse]) -> tuple[PartRow, ...]:
    """Parts with what they have run; parts that were fitted and have no material in the list stand in front."""
    left = list(uses)
    out = []
    for row in rows:
        mine = [use for use in left if use.part.strip().casefold() == row.part.strip().casefold()]
        left = [use for use in left if use not in mine]
        out.append(_with_use(row, mine[0]) if mine else row)
        left += mine[1:]
    front = []
    for use in left:
        name = f"{use.part}, {use.piece}" if use.piece else use.part
        front.append(_with_use(PartRow(name, "", "", "not among the materials", "", "fitted", "", "", ""), use))
    return (*front, *out)


def _with_use(row: PartRow, use: parts.PartUse) -> PartRow:
    return replace(
        row, use=use.words(), life_share=use.share, use_in_full=use.all_words(), fitting=use.fitting,
    )  # fmt: skip


def _sump(build: Build | None, family: Family | None) -> str:
    if build is not None and build.sump_l is not None:
        own = family is None or family.sump_l != build.sump_l
        return f"{build.sump_l:g} L" + (" (this build's own)" if own else " (from the family)")
    if family is not None and family.sump_l is not None:
        return f"{family.sump_l:g} L (from the family)"
    return "not known: rates cannot be computed until it is"


def _oil_now(build: Build | None) -> str:
    if build is None or not build.fills:
        return "no fill entered"
    fill = build.fills[-1]
    return f"{fill.oil}, {max(0.0, build_hours(build) - fill.build_h):.1f} h"


def part_rows(parts: Iterable[Part], materials: Mapping[str, Material], family: Family | None) -> Iterable[PartRow]:
    """Parts with their materials in words. A part equal to the family's comes from the family."""
    of_family = set(family.parts) if family else set()
    for part in parts:
        material = materials.get(part.material)
        yield PartRow(
            part=part.name,
            role=part.role,
            material_id=part.material,
            material=material.name if material else f"{part.material} (not in the list)",
            sure=sureness(material) if material else "unknown",
            origin="family" if part in of_family else "this build",
            layer=_layer(part),
            about=about_material(material) if material else f"No material has the id {part.material}.",
            shown_by=_main_elements(material) if material else "",
        )


def _layer(part: Part) -> str:
    area = f"{part.area_cm2:g} cm²" if part.area_cm2 is not None else ""
    thick = f"{part.thickness_um:g} µm" if part.thickness_um is not None else ""
    return ", ".join(filter(None, (area, thick)))


def _main_elements(material: Material, most: int = 4) -> str:
    """Elements of half a percent and more that a bench can read, the largest first."""
    shares = [(share.nominal_pct, share.element) for share in material.shares if (share.nominal_pct or 0.0) >= 0.5]
    return " ".join([element for _, element in sorted(shares, reverse=True) if element not in UNREAD][:most])


UNREAD = frozenset({"C", "O", "N", "F", "S"})
STATUS_WORDS = {"verified": "verified", "memory": "from memory", "own": "own entry"}


def sureness(material: Material) -> str:
    """How sure a material's shares are, in words: one status, or a mixture."""
    found = {share.status for share in material.shares}
    words = [STATUS_WORDS.get(status, status) for status in ("verified", "memory", "own") if status in found]
    return " / ".join(words) if words else "no elements"


def about_material(material: Material) -> str:
    """A material in plain lines: name, id and use, then each element with its range, source and status."""
    lines = [f"{material.name} ({material.id})"]
    if material.used_for:
        lines.append(material.used_for)
    lines.extend(_share_line(share) for share in material.shares)
    if material.density_g_cm3 is not None:
        status = STATUS_WORDS.get(material.density_status, material.density_status)
        lines.append(f"Density {material.density_g_cm3:g} g/cm³" + (f", {status}" if status else ""))
    return "\n".join(lines)


def _share_line(share: Any) -> str:
    span = f"{share.min_pct:g} to {share.max_pct:g} %"
    value = (
        f"{share.element} {share.nominal_pct:g} % ({span})"
        if share.nominal_pct is not None
        else (f"{share.element} at most {share.max_pct:g} %")
    )
    source = f" · {share.source}" if share.source else ""
    return f"{value} · {STATUS_WORDS.get(share.status, share.status)}{source}"


def _sample_row(build: Build, sample: Any, call: Call | None) -> SampleRow:
    remarks = [
        "break-in" if sample.break_in else "",
        "held" if sample.hold or (call is not None and call.held) else "",
        "superseded" if call is not None and call.superseded else "",
    ]
    return SampleRow(
        sample.code,
        build.number,
        sample.fill,
        sample.taken_at,
        sample.build_h,
        sample.oil_h,
        call.call if call else "",
        strongest(call) if call else "",
        len(sample.readings),
        sample.break_in,
        ", ".join(filter(None, remarks)),
    )


def _log(build: Build, calls: Mapping[str, Call], photos: Mapping[Any, tuple[Any, ...]]) -> list[LogRow]:
    """Everything that was entered of a build, the newest first."""
    rows: list[Entry] = [(fill.build_h, fill.filled_at, "Fill", _fill_words(fill), (fill,)) for fill in build.fills]
    rows.extend((each.build_h, None, "Top-up", _top_up_words(each), (each,)) for each in build.top_ups)
    hours = 0.0
    for run in build.runs:
        hours += run.hours
        rows.append((hours, run.started_at, "Run", _run_words(run), (run,)))
    rows.extend((each.build_h, each.taken_at, "Sample", _sample_words(each, calls), (each,)) for each in build.samples)
    rows.extend((each.build_h, None, "Change", _colon(each.kind, each.notes), (each,)) for each in build.changes)
    rows.extend((cut.build_h, None, _cut_word(cut), _filter_words(cut), (cut,)) for cut in build.filter_cuts)
    rows.extend((each.build_h, None, "Pull", _pull_words(each), (each,)) for each in build.pulls)
    rows.extend(_leak_down_rows(build))
    rows.extend(_pressure_rows(build))
    rows.extend((each.build_h, None, "Part", _fitting_words(each), (each,)) for each in build.fittings)
    rows.extend((seen.build_h, None, "Finding", _finding_words(seen), (seen,)) for seen in build.findings)
    rows.sort(key=_log_order, reverse=True)
    return [
        LogRow(f"{build.number}/{number}", build.number, *row, photos.get((build.number, row[4][0]), ()))
        for number, row in enumerate(rows)
    ]


def _log_order(row: Entry) -> tuple[float, str]:
    return row[0], row[1].isoformat() if row[1] else ""


def _cut_word(cut: Any) -> str:
    return "Magnet" if cut.taken_from == "magnet" else "Filter cut"


def _finding_words(seen: Any) -> str:
    return _colon(findings.words(seen), ", ".join(filter(None, (seen.measured, seen.notes))))


def _fitting_words(fitting: Fitting) -> str:
    words = [f"{fitting.part}{f', {fitting.piece}' if fitting.piece else ''}: {fitting.act}"]
    if fitting.used_before:
        words.append(f"had run {fitting.used_before:g} {fitting.life_unit or 'h'} before")
    if fitting.life is not None:
        words.append(f"life {fitting.life:g} {fitting.life_unit or 'h'}")
    return ", ".join((*words, *filter(None, (fitting.notes,))))


def pressure_words(one: OilPressure) -> str:
    """One oil pressure in words."""
    at = [f"{one.rpm:.0f} rpm" if one.rpm is not None else ""]
    at.append(f"oil {one.oil_temp_c:g} °C" if one.oil_temp_c is not None else "")
    where = ", ".join(filter(None, at))
    return f"{one.pressure_kpa:.4g} kPa" + (f" at {where}" if where else "")


def _pressure_rows(build: Build) -> list[Entry]:
    tests: dict[tuple[float, str, str], list[OilPressure]] = {}
    for one in build.oil_pressures:
        tests.setdefault((one.build_h, one.gauge, one.notes), []).append(one)
    return [
        (at_h, None, "Oil pressure", _colon("; ".join(map(pressure_words, many)), notes), tuple(many))
        for (at_h, _, notes), many in tests.items()
    ]


def _colon(head: str, more: str) -> str:
    return f"{head}: {more}" if more else head


def _pull_words(pull: Any) -> str:
    return f"{pull.pull}: {pull.power_kw:g} kW as read"


def _top_up_words(top: Any) -> str:
    return f"{top.litres:g} L into fill {top.fill}"


def _fill_words(fill: Fill) -> str:
    volume = f", {fill.volume_l:g} L" if fill.volume_l is not None else ""
    drain = f", drained {fill.drain_before} before" if fill.drain_before not in ("", "none") else ""
    new_filter = ", new filter" if fill.filter_changed else ""
    return f"{fill.name}: {fill.oil}{volume}{drain}{new_filter}"


def _sample_words(sample: Any, calls: Mapping[str, Call]) -> str:
    call = calls.get(sample.code)
    if call is not None:
        return f"{sample.code}: {call.call}"
    return sample.code if sample.readings else f"{sample.code}: not measured yet"


def _run_words(run: Any) -> str:
    words = [f"{run.kind}, {run.hours:g} h"]
    if run.max_rpm is not None:
        words.append(f"to {run.max_rpm:.0f} rpm")
    if run.oil_temp_c is not None:
        words.append(f"oil {run.oil_temp_c:g} °C")
    natives = ((run.distance_km, "km"), (run.laps, "laps"), (run.starts, "starts"))
    words.extend(f"{amount:g} {unit}" for amount, unit in natives if amount is not None)
    words.extend(filter(None, (run.fuel, run.notes)))
    return ", ".join(words)


def _filter_words(cut: Any) -> str:
    words = []
    if cut.ferrous:
        words.append(f"magnetic {cut.ferrous}")
    if cut.non_ferrous:
        words.append(f"not magnetic {cut.non_ferrous}")
    if cut.largest_mm is not None:
        words.append(f"largest {cut.largest_mm:g} mm")
    words.extend(filter(None, (cut.form, cut.colour, cut.size_class, cut.notes)))
    return ", ".join(words) or "nothing noted"


def _leak_down_rows(build: Build) -> list[Entry]:
    tests: dict[tuple[Any, ...], list[Any]] = {}
    for leak in build.leak_downs:
        tests.setdefault((leak.build_h, leak.tester, leak.pressure_kpa), []).append(leak)
    return [(many[0].build_h, None, "Leak-down", _leak_words(many), tuple(many)) for many in tests.values()]


def _leak_words(many: Iterable[Any]) -> str:
    return ", ".join(f"{one.cylinder}: {one.percent:g} %" for one in many)




# --- what can be told apart -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TellApart:
    """Which sources this bench can tell apart in these parts, before any sample exists."""

    with_what: str
    """The elements it was asked with, and why these, in words."""
    groups: tuple[tuple[str, ...], ...]
    """Sources that stay together; a group of one stands alone."""
    words: tuple[str, ...]
    """The findings, a sentence each."""
    elements: Mapping[str, tuple[str, ...]]
    """Source -> the elements that show it, the largest share first."""


def tell_apart(
    parts: Iterable[Part],
    materials: Mapping[str, Material],
    measured: tuple[str, ...] = (),
    background_ppm: Mapping[str, float] | None = None,
    kind: str = "",
) -> TellApart:
    """Asks `metallurgy.separation` for these parts. Pure; some tens of milliseconds, so ask in the background.

    `measured`: elements that this bench has measured, () for all that a bench of this `kind` reads. `background_ppm`:
    fresh oil, whose additives hide wear [mg/kg]. Raises BenchProblem for a part of an unknown material."""
    from benchapp.library import load_library
    from benchapp.metallurgy.separation import HARD_TO_READ, separation
    from benchapp.metallurgy.signature import signature

    library = load_library()
    wear = [other for other in library.non_wear.values() if other.in_calls]
    whole = signature(tuple(parts), materials, non_wear=wear)
    asked = measured or tuple(e for e in whole.elements if e not in HARD_TO_READ)
    noise = library.noise_for(kind)
    found = separation(whole, noise, measured=asked, background_ppm=background_ppm)
    why = "measured so far" if measured else "that a bench usually reads; no sample yet"
    return TellApart(
        with_what=f"{len(found.elements)} elements {why}: {', '.join(found.elements)}",
        groups=found.groups,
        words=found.words(),
        elements={source: _shown_by(whole, j, found.elements) for j, source in enumerate(whole.names)},
    )


def _shown_by(whole: Any, column: int, elements: tuple[str, ...]) -> tuple[str, ...]:
    """Elements of one column from half a percent on, the largest first."""
    shares = [(whole.A[i, column], element) for i, element in enumerate(whole.elements) if element in elements]
    return tuple(element for share, element in sorted(shares, reverse=True) if share >= 0.005)


def measured_elements(fleet: Fleet, engine: str) -> tuple[str, ...]:
    """Elements measured in this engine's samples, else in any sample of the fleet; () where there is no sample."""
    own = next((each for each in fleet.engines if each.name == engine), None)
    for engines in ((own,) if own else (), fleet.engines):
        seen: dict[str, None] = {}
        for each in engines:
            for build in each.builds:
                for sample in build.samples:
                    seen.update(dict.fromkeys(r.measurand for r in sample.readings if is_element(r.measurand)))
        if seen:
            return tuple(seen)
    return ()


def is_element(measurand: str) -> bool:
    """True for a chemical symbol of the library."""
    from benchapp.library import load_library

    return measurand in load_library().elements


def tell_apart_engine(fleet: Fleet, engine: str, materials: Mapping[str, Material]) -> TellApart | None:
    """`tell_apart` for the current build of an engine with what its samples measured and its oil holds; None without
    a build. Pure. Raises BenchProblem for a part of an unknown material."""
    found = next((each for each in fleet.engines if each.name == engine), None)
    if found is None or not found.builds:
        return None
    build = found.builds[-1]
    oil = fleet.oils.get(build.fills[-1].oil) if build.fills else None
    kind = next(
        (fleet.instruments[s.instrument].kind for s in reversed(build.samples) if s.instrument in fleet.instruments), ""
    )
    return tell_apart(build.parts, materials, measured_elements(fleet, engine), oil.fresh_ppm if oil else None, kind)


def shares_trouble(shares: tuple[Any, ...]) -> str:
    """What is wrong with a material's shares taken together, in words, or '' [wt %]."""
    if not shares:
        return "A material needs at least one element."
    symbols = [share.element for share in shares]
    doubles = sorted({symbol for symbol in symbols if symbols.count(symbol) > 1})
    if doubles:
        return f"{doubles[0]} stands in two rows. Keep one."
    for share in shares:
        if share.min_pct > share.max_pct:
            return f"{share.element}: the lowest share {share.min_pct:g} % is above the highest {share.max_pct:g} %."
        if share.nominal_pct is not None and not share.min_pct <= share.nominal_pct <= share.max_pct:
            span = f"{share.min_pct:g} to {share.max_pct:g} %"
            return f"{share.element}: the share {share.nominal_pct:g} % is outside its own range, {span}."
        if share.max_pct <= 0:
            return f"{share.element}: the highest share is 0 %. Leave the element out."
    least = sum(share.min_pct for share in shares)
    if least > 100.0 + 1e-9:
        return f"The lowest shares add up to {least:g} %: more than there is."
    usual = sum(share.nominal_pct for share in shares if share.nominal_pct is not None)
    if usual > 101.0:
        return f"The usual shares add up to {usual:g} %: more than there is."
    return ""

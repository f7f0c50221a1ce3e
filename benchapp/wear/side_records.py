"""What the spectrometer cannot see: filter cuts, leak-downs and oil pressures, and how much they weigh in a call.

Figures for the filter follow the pattern of published aircraft-piston advice (up to 5 small pieces: run; 10 to 20: look
again soon; 45 to 60, or larger than 1/16 in: inspect). They are patterns, not limits of a race engine, and stand in the
call table. Leak-down: rise over the build's own first test on one tester. Oil pressure: fall below this build's own
usual value at the same speed and warmth, on the same oil and gauge; a bearing that opens its clearance shows there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from benchapp.records import CALL_WORDS, Build, FilterCut, LeakDown, Material, OilPressure, Reason
from benchapp.wear.look import Look
from benchapp.wear.pointing import Aim, of_groups, of_metal
from benchapp.wear.rules import Rules
from benchapp.wear.suspect import Suspect

RUN, SHORT, LOOK, _ = CALL_WORDS
FILTER, LEAK, PRESSURE = "filter", "leak-down", "oil pressure"
"""What the reasons are about."""

_WORD_COUNTS = {
    "none": 0, "no": 0, "clean": 0, "nil": 0, "-": 0, "n": 0, "few": 5, "some": 12, "fuzz": 3, "several": 12, "y": 12,
    "yes": 12, "many": 50, "lots": 50, "heavy": 50, "flakes": 15, "chunks": 60, "chips": 40,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Weight:
    """At least this call, for this reason."""

    call: str
    reason: Reason
    metal: str = ""
    """Of a filter or magnet: 'ferrous' or 'other'. Which parts are of it, the look tells (`pointed`)."""


def pieces(text: str) -> float | None:
    """How many pieces a filter entry means: a count, or a word; None where it says nothing."""
    text = text.strip().lower()
    if not text:
        return None
    number = re.match(r"[<>~≈]?\s*(\d+(?:[.,]\d+)?)", text)
    if number:
        return float(number.group(1).replace(",", "."))
    said = (count for word, count in _WORD_COUNTS.items() if re.search(rf"(^|\W){re.escape(word)}($|\W)", text))
    return next((float(count) for count in said), None)


def weights(
    build: Build, materials: Mapping[str, Material], since_h: float, now_h: float, rules: Rules
) -> tuple[Weight | None, ...]:
    """What the side records of a build ask for at a sample drawn at `now_h`, the one before it at `since_h` [h]."""
    cuts = [cut for cut in build.filter_cuts if since_h < cut.build_h <= now_h]
    tests = [test for test in build.leak_downs if test.build_h <= now_h]
    seals = of_groups(build, materials, rules.table["leak_down"]["groups"])
    pressures = pressure_weight(build, materials, now_h, rules)
    return filter_weight(cuts, rules, _run_in_until(build, now_h, rules)), leak_weight(tests, rules, seals), pressures


def _run_in_until(build: Build, now_h: float, rules: Rules) -> float:
    """Until when what a filter holds is run-in debris [h]: the filter that a build was started with, and all up to its
    last break-in sample (of those drawn by `now_h`)."""
    changed = sorted(fill.build_h for fill in build.fills if fill.filter_changed is not False)[1:]
    samples = [sample.build_h for sample in build.samples if sample.break_in and sample.build_h <= now_h]
    ends = max([changed[0] if changed else math.inf, *samples]) + rules.number("filter", "run_in_slack_h")
    return min(ends, rules.number("filter", "run_in_until_h"))


def filter_weight(cuts: Sequence[FilterCut], rules: Rules, run_in_until_h: float = -1.0) -> Weight | None:
    """The heaviest filter cut of an interval, or None where all were clean. `run_in_until_h`: until when
    pieces are run-in debris, of which it takes more to act on."""
    best: Weight | None = None
    for cut in cuts:
        found = _one_cut(cut, rules, "run_in_" if cut.build_h <= run_in_until_h else "")
        if found and (best is None or CALL_WORDS.index(found.call) > CALL_WORDS.index(best.call)):
            best = found
    return best


def _one_cut(cut: FilterCut, rules: Rules, which: str) -> Weight | None:
    """`which`: 'run_in_' for a filter of the run-in, as the table has it."""
    ferrous, other = pieces(cut.ferrous) or 0.0, pieces(cut.non_ferrous) or 0.0
    most = max(ferrous, other)
    least_mm = rules.number("filter", "look_mm") if cut.size_class == "large" else 0.0
    largest = cut.largest_mm or least_mm
    kind = "magnetic" if ferrous >= other else "non-magnetic"
    large = most > 0 and largest >= rules.number("filter", "look_mm")
    if large or most >= rules.number("filter", f"{which}look_pieces"):
        call = LOOK
    elif most >= rules.number("filter", f"{which}stint_pieces"):
        call = SHORT
    else:
        return None
    size = f", the largest {cut.largest_mm:g} mm" if cut.largest_mm else f", {cut.size_class}" * bool(cut.size_class)
    seen = " ".join(filter(None, (cut.colour, kind, cut.form or "metal")))
    note = f" ({cut.notes})" if cut.notes else ""
    what = "The magnet" if cut.taken_from == "magnet" else "The filter cut open"
    held = f"{what} at {cut.build_h:g} h held {seen}{size}{note}"
    text = f"{held}: too large for the spectrometer to see."
    look = "look where such metal comes from: magnetic means steel or iron, non-magnetic means bearings or pistons"
    change = "A clean filter after the next stint."
    reason = Reason("", (), "other", text, None, look, change, FILTER)
    return Weight(call, reason, "ferrous" if kind == "magnetic" else "other")


def pointed(
    weights: Sequence[Weight | None],
    look: Look,
    suspects: Sequence[Suspect],
    build: Build,
    materials: Mapping[str, Material],
) -> tuple[Weight | None, ...]:
    """The same weights, what a filter held led back to the parts of such metal, the suspected first."""
    found = []
    for weight in weights:
        if weight and weight.metal:
            source, parts = of_metal(weight.metal == "ferrous", look, suspects, build, materials)
            weight = replace(weight, reason=replace(weight.reason, source=source, parts=parts))
        found.append(weight)
    return tuple(found)


def leak_weight(tests: Sequence[LeakDown], rules: Rules, seals: Aim = ("", ())) -> Weight | None:
    """The cylinder that leaks most more than in its first test of this build; None where none does. `seals`: the parts
    that seal a cylinder."""
    worst: tuple[float, LeakDown, LeakDown] | None = None
    for last in tests:
        mine = [test for test in tests if _comparable(test, last)]
        if last is not mine[-1] or len(mine) < 2:
            continue
        rise = last.percent - mine[0].percent
        if worst is None or rise > worst[0]:
            worst = (rise, mine[0], last)
    if worst is None or worst[0] < rules.number("leak_down", "rise_points"):
        return None
    if worst[2].percent < rules.number("leak_down", "least_percent"):
        return None
    _, first, last = worst
    text = f"Cylinder {last.cylinder} leaks {last.percent:g} %, it was {first.percent:g} % at {first.build_h:g} h."
    look = "listen where the air goes: filler (rings, bore), intake or exhaust (valves), radiator (head gasket)"
    change = "A second test, warm, on the same tester."
    return Weight(SHORT, Reason(*seals, "other", text, None, look, change, LEAK))


def _comparable(one: LeakDown, other: LeakDown) -> bool:
    """The same cylinder on the same tester at the same pressure."""
    same = (one.cylinder, one.tester, one.pressure_kpa)
    return same == (other.cylinder, other.tester, other.pressure_kpa)


# --- oil pressure


def pressure_weight(build: Build, materials: Mapping[str, Material], now_h: float, rules: Rules) -> Weight | None:
    """The last pressures of a build against its own usual ones; None where none fell or none can be compared.

    Only the latest entry counts: a newer one that is as usual ends the matter. Compared are entries of the same gauge
    and the same oil whose speed and warmth differ by no more than the call table allows."""
    known = [each for each in build.oil_pressures if each.build_h <= now_h]
    worst: tuple[float, float, OilPressure] | None = None
    for last in (each for each in known if each.build_h == known[-1].build_h):
        earlier = (each for each in known if each.build_h < last.build_h)
        before = [each.pressure_kpa for each in earlier if _alike(each, last, build, rules)]
        if len(before) < rules.number("oil_pressure", "history"):
            continue
        usual = median(before)
        fall = 1.0 - last.pressure_kpa / usual if usual > 0 else 0.0
        if worst is None or fall > worst[0]:
            worst = (fall, usual, last)
    if worst is None or worst[0] < rules.number("oil_pressure", "stint_fall"):
        return None
    call = LOOK if worst[0] >= rules.number("oil_pressure", "look_fall") else SHORT
    return Weight(call, _pressure_reason(*worst, build, materials, rules))


def _pressure_reason(
    fall: float, usual: float, last: OilPressure, build: Build, materials: Mapping[str, Material], rules: Rules
) -> Reason:
    at = "".join(
        (
            f" at {last.rpm:.0f} rpm" if last.rpm is not None else "",
            f", oil {last.oil_temp_c:g} °C" if last.oil_temp_c is not None else "",
        )
    )
    phrase = rules.words.of("oil pressure")
    said = phrase.what[:1].upper() + phrase.what[1:]
    below = f"{100 * fall:.0f} % below this build's usual {usual:.0f} kPa"
    text = f"Oil pressure at {last.build_h:g} h was {last.pressure_kpa:.0f} kPa{at}: {below}. {said}."
    held_by = of_groups(build, materials, rules.table["oil_pressure"]["groups"])
    change = "A second reading at the same speed and warmth on another gauge; viscosity and fuel in the oil."
    return Reason(*held_by, "other", text, None, "; then ".join(phrase.look), change, PRESSURE)


def _alike(one: OilPressure, other: OilPressure, build: Build, rules: Rules) -> bool:
    """Same gauge, same oil, and speed and warmth near enough to compare."""
    if (one.gauge, _oil_at(build, one.build_h)) != (other.gauge, _oil_at(build, other.build_h)):
        return False
    if (one.rpm is None) != (other.rpm is None) or (one.oil_temp_c is None) != (other.oil_temp_c is None):
        return False
    speed = max(rules.number("oil_pressure", "same_rpm"), rules.number("oil_pressure", "same_speed") * (other.rpm or 0))
    warm = rules.number("oil_pressure", "same_temp_c")
    return (
        abs((one.rpm or 0.0) - (other.rpm or 0.0)) <= speed
        and abs((one.oil_temp_c or 0.0) - (other.oil_temp_c or 0.0)) <= warm
    )


def _oil_at(build: Build, build_h: float) -> str:
    """The oil that was in the engine at these build hours, '' where no fill says so."""
    return next((fill.oil for fill in reversed(build.fills) if fill.build_h <= build_h), "")


def raised(call: str, *weights: Weight | None) -> str:
    """The call, raised to what the records ask for; two records that each ask for a short stint ask for a look."""
    asked = [weight.call for weight in weights if weight]
    if asked.count(SHORT) >= 2 or (SHORT in asked and call == SHORT):
        asked.append(LOOK)
    return max([call, *asked], key=CALL_WORDS.index)

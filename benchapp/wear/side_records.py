"""What the spectrometer cannot see: filter cuts and leak-downs, and how much they weigh in a call.

Figures for the filter follow the pattern of published aircraft-piston advice (up to 5 small pieces: run; 10 to 20: look
again soon; 45 to 60, or larger than 1/16 in: inspect). They are patterns, not limits of a race engine, and stand in the
call table. Leak-down: rise over the build's own first test on one tester.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from benchapp.records import CALL_WORDS, FilterCut, LeakDown, Reason
from benchapp.wear.rules import Rules

RUN, SHORT, LOOK, _ = CALL_WORDS

_WORD_COUNTS = {
    "none": 0, "no": 0, "clean": 0, "nil": 0, "-": 0, "n": 0, "few": 5, "some": 12, "fuzz": 3, "several": 12, "y": 12,
    "yes": 12, "many": 50, "lots": 50, "heavy": 50, "flakes": 15, "chunks": 60, "chips": 40,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Weight:
    """At least this call, for this reason."""

    call: str
    reason: Reason


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


def filter_weight(cuts: Sequence[FilterCut], rules: Rules) -> Weight | None:
    """The heaviest filter cut of an interval, or None where all were clean."""
    best: Weight | None = None
    for cut in cuts:
        found = _one_cut(cut, rules)
        if found and (best is None or CALL_WORDS.index(found.call) > CALL_WORDS.index(best.call)):
            best = found
    return best


def _one_cut(cut: FilterCut, rules: Rules) -> Weight | None:
    ferrous, other = pieces(cut.ferrous) or 0.0, pieces(cut.non_ferrous) or 0.0
    most = max(ferrous, other)
    largest = cut.largest_mm or 0.0
    kind = "magnetic" if ferrous >= other else "non-magnetic"
    if most >= rules.number("filter", "look_pieces") or (most > 0 and largest >= rules.number("filter", "look_mm")):
        call = LOOK
    elif most >= rules.number("filter", "stint_pieces"):
        call = SHORT
    else:
        return None
    size = f", the largest {largest:g} mm" if largest else ""
    note = f" ({cut.notes})" if cut.notes else ""
    held = f"The filter cut open at {cut.build_h:g} h held {kind} metal{size}{note}"
    text = f"{held}: too large for the spectrometer to see."
    look = "look where such metal comes from: magnetic means steel or iron, non-magnetic means bearings or pistons"
    return Weight(call, Reason("filter", (), "other", text, None, look, "A clean filter after the next stint."))


def leak_weight(tests: Sequence[LeakDown], rules: Rules) -> Weight | None:
    """The cylinder that leaks most more than in its first test of this build; None where none does."""
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
    return Weight(SHORT, Reason("leak-down", (), "other", text, None, look, "A second test, warm, on the same tester."))


def _comparable(one: LeakDown, other: LeakDown) -> bool:
    """The same cylinder on the same tester at the same pressure."""
    same = (one.cylinder, one.tester, one.pressure_kpa)
    return same == (other.cylinder, other.tester, other.pressure_kpa)


def raised(call: str, *weights: Weight | None) -> str:
    """The call, raised to what the records ask for; two records that each ask for a short stint ask for a look."""
    asked = [weight.call for weight in weights if weight]
    if asked.count(SHORT) >= 2 or (SHORT in asked and call == SHORT):
        asked.append(LOOK)
    return max([call, *asked], key=CALL_WORDS.index)

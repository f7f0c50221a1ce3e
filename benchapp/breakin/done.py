"""Is the break-in done? Three kinds of evidence, each with its lamp and its reason; any of them may be missing.

(i) corrected power has stopped rising against the pull-to-pull noise, (ii) leak-down per cylinder has settled,
(iii) the wear rate has fallen to a stated share of its start. Then the confirming pulls are counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchapp.breakin.air import correction
from benchapp.breakin.plateau import Plateau, plateau
from benchapp.records import LeakDown, Pull

Array = npt.NDArray[np.float64]

LIT, NOT_YET, MISSING = "lit", "not yet", "no evidence"

CONFIRMING_PULLS = 2
"""Pulls to make after the plateau is reached; "a couple more to be sure" is common practice, no source."""
LEAK_NOISE_POINTS = 1.0
"""Repeatability of a leak-down reading on one tester [percentage points]; common practice, no source."""
WEAR_SHARE_DONE = 0.25
"""Share of the starting wear rate at which running-in counts as over. Common practice (no source): the first hour wears
about ten times what the next ten hours do together, so a settled rate is far below this."""


@dataclass(frozen=True, slots=True)
class Lamp:
    name: str
    state: str
    reason: str


@dataclass(frozen=True, slots=True)
class BreakInState:
    lamps: tuple[Lamp, Lamp, Lamp]
    done: bool
    sentence: str
    plateau: Plateau | None
    corrected_h: Array
    corrected_kw: Array
    left_out: tuple[str, ...]
    """Pulls that could not be corrected, each with its reason."""


def corrected_pulls(pulls: Sequence[Pull], standard: str) -> tuple[Array, Array, tuple[str, ...]]:
    """Build hours [h] and corrected power [kW] of the pulls that can be compared, and why the others cannot."""
    hours: list[float] = []
    power: list[float] = []
    out: list[str] = []
    for pull in sorted(pulls, key=lambda item: item.build_h):
        factor, why = _factor(pull, standard)
        if factor is None:
            out.append(f"Pull {pull.pull}: {why}")
            continue
        hours.append(pull.build_h)
        power.append(pull.power_kw * factor)
    return np.array(hours), np.array(power), tuple(out)


def _factor(pull: Pull, standard: str) -> tuple[float | None, str]:
    if standard == "as measured":
        return 1.0, ""
    if pull.air_c is None or pull.pressure_kpa is None or pull.humidity_pct is None:
        return None, "air temperature, pressure or humidity is missing, so it cannot be corrected"
    found = correction(
        standard=standard, air_c=pull.air_c, pressure_kpa=pull.pressure_kpa, humidity_pct=pull.humidity_pct
    )
    return (found.factor, "") if found.valid else (None, found.why)


def power_lamp(found: Plateau | None, count: int) -> Lamp:
    name = "power"
    if found is None:
        return Lamp(name, MISSING, f"{count} pulls that can be compared; at least three are needed")
    gain = f"the next pull should bring {found.gain_kw:.1f} kW ({found.gain_low_kw:.1f} to {found.gain_high_kw:.1f})"
    if not found.reached:
        return Lamp(name, NOT_YET, f"{gain}, not yet below the pull-to-pull noise of {found.noise_kw:.1f} kW")
    below = f"below the noise of {found.noise_kw:.1f} kW"
    more = CONFIRMING_PULLS - found.pulls_after
    if more > 0:
        plural = "pull" if more == 1 else "pulls"
        return Lamp(name, NOT_YET, f"{gain}, {below}; {more} confirming {plural} to go")
    return Lamp(name, LIT, f"{gain}, {below}, confirmed by {found.pulls_after} pulls")


def _counted(count: int, what: str) -> str:
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"


def leak_lamp(tests: Sequence[LeakDown]) -> Lamp:
    """Settled when no cylinder moved by more than the tester's own repeatability between the last two tests."""
    name = "leak-down"
    moments = sorted({test.build_h for test in tests})
    if len(moments) < 2:
        return Lamp(name, MISSING, f"{_counted(len(moments), 'leak-down test')}; two are needed to see it settle")
    before = {test.cylinder: test for test in tests if test.build_h == moments[-2]}
    last = {test.cylinder: test for test in tests if test.build_h == moments[-1]}
    both = sorted(set(before) & set(last))
    if not both:
        return Lamp(name, MISSING, "the last two tests share no cylinder")
    if len({(test.tester, test.pressure_kpa) for test in [*before.values(), *last.values()]}) > 1:
        return Lamp(name, MISSING, "the last two tests used different testers or pressures; they cannot be compared")
    moved = {cylinder: last[cylinder].percent - before[cylinder].percent for cylinder in both}
    worst = max(both, key=lambda cylinder: abs(moved[cylinder]))
    text = f"largest move {moved[worst]:+.1f} points on cylinder {worst}, now {last[worst].percent:.1f} %"
    settled = abs(moved[worst]) <= LEAK_NOISE_POINTS
    return Lamp(name, LIT if settled else NOT_YET, text)


def wear_lamp(rates_mg_h: Array, errors_mg_h: Array) -> Lamp:
    """`rates_mg_h` total wear rate of successive break-in intervals [mg/h] and their standard errors, first to last."""
    name = "wear rate"
    rates, errors = np.asarray(rates_mg_h, dtype=float), np.asarray(errors_mg_h, dtype=float)
    if len(rates) < 2:
        so_far = _counted(len(rates), "wear rate")
        return Lamp(name, MISSING, f"{so_far} from the break-in; two are needed to see it fall")
    if rates[0] <= 2 * errors[0]:
        return Lamp(name, MISSING, "the first wear rate lies within its own error, so its fall cannot be judged")
    share = rates[-1] / rates[0]
    error = abs(share) * float(np.hypot(errors[0] / rates[0], errors[-1] / max(abs(rates[-1]), 1e-9)))
    high = share + 1.645 * error
    text = f"now {100 * share:.0f} % of the first interval's rate (up to {100 * high:.0f} %)"
    return Lamp(name, LIT if high <= WEAR_SHARE_DONE else NOT_YET, text)


def judge(
    *, pulls: Sequence[Pull], leak_downs: Sequence[LeakDown], rates_mg_h: Array, errors_mg_h: Array, standard: str
) -> BreakInState:
    """The three lamps and the answer. Done: at least one lamp is lit and none says "not yet"."""
    hours, power, out = corrected_pulls(pulls, standard)
    found = plateau(hours=hours, power_kw=power)
    lamps = (power_lamp(found, len(power)), leak_lamp(leak_downs), wear_lamp(rates_mg_h, errors_mg_h))
    done = any(lamp.state == LIT for lamp in lamps) and all(lamp.state != NOT_YET for lamp in lamps)
    return BreakInState(lamps, done, _sentence(lamps, done), found, hours, power, out)


def _sentence(lamps: tuple[Lamp, Lamp, Lamp], done: bool) -> str:
    lit = [lamp.name for lamp in lamps if lamp.state == LIT]
    missing = [lamp.name for lamp in lamps if lamp.state == MISSING]
    waiting = [lamp.name for lamp in lamps if lamp.state == NOT_YET]
    if done:
        stood = f"Break-in is done as far as {_listed(lit)} can tell"
        return stood + (f"; nothing is known of {_listed(missing)}." if missing else ".")
    if waiting:
        text = f"Break-in is not done: {_listed(waiting)} not settled yet"
        return text + (f"; nothing is known of {_listed(missing)}." if missing else ".")
    return "There is nothing yet to judge the break-in by: enter pulls, leak-downs or break-in samples."


def _listed(names: Sequence[str]) -> str:
    """Names as one says them: power, leak-down and wear rate."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"

"""What an engine has shown to come with new oil at every change, in words: it is taken for no wear and no leak, so the
sheet says it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from benchapp.wear.fading import FRESH, REFILL
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.sources import LEACHING
from benchapp.wear.watch import Watch
from benchapp.wear.words import amount

_SURE = 2.0
"""Standard deviations from which a state is spoken of (chosen)."""

_REFILL_PPM, _FRESH_PPM = 0.5, 1.0
"""And so many ppm: less is within what oils and readings differ (chosen)."""


def at_changes(look: Look, watch: Watch, rules: Rules) -> list[str]:
    """Copper that fresh oil takes up, and what new oil holds otherwise than was to be expected of it, where sure.

    With a fault in sight nothing is said: the state holds what it would be with nothing wrong."""
    if look.bottle or float(look.evidence.probability.sum()) >= rules.number("table", "stint_probability"):
        return []
    names = look.sources.elements
    said = []
    for _, ppm in _sure(watch, names, REFILL, _REFILL_PPM):
        if ppm > 0.0:
            unsaid = "" if LEACHING in look.sources.kinds else ", though none is on record,"
            said.append(
                f"copper: about {amount(ppm)} ppm comes with new oil at every change; it is taken for a "
                f"cooler's{unsaid} and not for wear"
            )
    otherwise = [
        f"{amount(abs(ppm))} ppm {element} {'more' if ppm > 0.0 else 'less'}"
        for element, ppm in _sure(watch, names, FRESH, _FRESH_PPM)
    ]
    if otherwise:
        said.append(
            f"the oil: new, it seems to hold about {', '.join(otherwise)} than was to be expected; that is taken for "
            "the oil's, not for coolant or dust"
        )
    return said


def _sure(watch: Watch, names: tuple[str, ...], state: str, least_ppm: float) -> Iterator[tuple[str, float]]:
    """(element, level [ppm]) of the states of a name that are clearly not zero."""
    for at, direction in watch.states(state):
        ppm, sd = float(watch.theta[at]), math.sqrt(max(float(watch.tt[at, at]), 0.0))
        if direction.any() and abs(ppm) > max(_SURE * sd, least_ppm):
            yield names[int(direction.argmax())], ppm

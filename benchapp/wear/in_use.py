"""What oils read in use, where several engines read an element of one otherwise than it was held to have.

A leak is one engine's. Another batch under the old name, a wrong record, a laboratory's new method are everyone's."""

from __future__ import annotations

from dataclasses import dataclass, field

_ASKED = 4
"""Latest engines that are asked."""

_FAR, _FAR_PPM = 0.15, 1.5
"""From which share of the held level, and so many ppm beside, a level is another one [-, ppm] (chosen)."""

_NEAR, _NEAR_PPM = 0.2, 1.0
"""Within which share, and so many ppm, two engines agree [-, ppm] (chosen)."""

_HELD_PPM = 4.0
"""Level from which an oil's element tells of the instrument that reads it [ppm] (chosen)."""

_AGREEING = 2
"""Engines that make a level the oil's (chosen)."""

_LATELY = 16
"""Samples of an oil, or of an instrument, after which what an engine said counts no longer (chosen)."""

By = dict[str, tuple[float, int]]
"""Engine -> what its latest sample says and the number of that sample, latest last."""


@dataclass(slots=True)
class InUse:
    """What each engine's latest sample says: of an oil's level of an element [ppm], per (oil, instrument, element), and
    of that over what it was held to be [-], per (instrument, element)."""

    levels: dict[tuple[str, str, str], By] = field(default_factory=dict)
    ratios: dict[tuple[str, str], By] = field(default_factory=dict)

    def copy(self) -> InUse:
        """One that learns by itself."""
        levels = {key: dict(by) for key, by in self.levels.items()}
        return InUse(levels, {key: dict(by) for key, by in self.ratios.items()})

    def learn(self, oil: str, instrument: str, element: str, engine: str, level: float, held: float) -> None:
        """A sample of an engine points to this level of the oil when new, where it was `held` to have another [ppm]."""
        _latest(self.levels.setdefault((oil, instrument, element), {}), engine, level)
        if held >= _HELD_PPM:
            _latest(self.ratios.setdefault((instrument, element), {}), engine, level / held)

    def level(self, oil: str, instrument: str, element: str, held: float) -> float | None:
        """What engines agree on where it is not what the oil was `held` to have, else None. [ppm]"""
        found = _agreed(_lately(self.levels.get((oil, instrument, element), {})), held)
        if found is None and held >= _HELD_PPM:
            ratios = _lately(self.ratios.get((instrument, element), {}))
            found = _agreed([ratio * held for ratio in ratios], held)
        return found

    def shows(self, oil: str, instrument: str, element: str, level: float) -> bool:
        """Whether engines on this oil show this level [ppm]."""
        levels = _lately(self.levels.get((oil, instrument, element), {}))
        return sum(_near(one, level) for one in levels) >= _AGREEING


def _near(one: float, other: float) -> bool:
    return abs(one - other) <= _NEAR * other + _NEAR_PPM


def _latest(by: By, engine: str, value: float) -> None:
    """Engines that have said nothing lately are forgotten: what is kept does not grow with the fleet."""
    number = next(reversed(by.values()))[1] + 1 if by else 0
    by.pop(engine, None)
    by[engine] = (value, number)
    for name in [name for name, (_, said) in by.items() if said <= number - _LATELY]:
        del by[name]


def _lately(by: By) -> list[float]:
    """What the latest engines say, the latest last."""
    return [value for value, _ in by.values()][-_ASKED:]


def far_apart(level: float, held: float) -> bool:
    """Whether a level is another one than that which was `held` [ppm]."""
    return abs(level - held) > _FAR * held + _FAR_PPM


def _agreed(levels: list[float], held: float) -> float | None:
    """The mean of the levels, latest last, that most engines agree on, if two do and that is far from `held`.

    Of as many the later ones count: some have not yet been filled from the new batch."""
    best: list[float] = []
    for level in reversed(levels):
        alike = [one for one in levels if _near(one, level)]
        if len(alike) > len(best):
            best = alike
    if len(best) < _AGREEING:
        return None
    mean = sum(best) / len(best)
    return mean if far_apart(mean, held) else None

"""The hypotheses of a watch: "source s began to shed more at hour o", in five shapes, one a column of its bank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

STEP, RAMP, BLIP, CURVE, FADE = 0, 1, 2, 3, 4
SHAPES = 5
"""Shapes of an extra rate: constant from its onset, growing in proportion to hours, in one interval only, growing with
the square of hours, fading away with `FADE_H`."""

FADE_H = 4.0
"""Hours in which a harmless excess fades to a third [h] (chosen: a splash of coolant, a part that beds in)."""


@dataclass(frozen=True, slots=True)
class Harmless:
    """What may shed at any time, fades, and is no fault: copper from a cooler, flux from a brazed one."""

    direction: Array
    """Elements [mg of element per mg]."""
    fade_h: float
    """Hours in which it fades to a third [h]."""
    at_start: float
    """How often a build has it from the first start [-]."""
    per_hour: float
    """How often it begins later [1/h]."""
    ppm_h: float
    """Scale of its rate at its onset [ppm/h]."""
    leak_alike: bool = False
    """Whether a leak would show the same at first."""
    called: str = ""
    """What the report calls it, in the words of the contract; empty where it has none."""


@dataclass(frozen=True, slots=True)
class Origins:
    """Where an extra rate may come from: directions, elements × columns [mg of element per mg]."""

    suspects: Array
    """Sources that may be at fault."""
    leak: Mask | None = None
    """Suspects that are a fault even if they were there from the first hour, never an engine's own way."""
    breathed: Mask | None = None
    """Suspects of which an engine may always have had more, whatever its parts (silicon of the air)."""
    harmless: tuple[Harmless, ...] = ()
    """What may shed at any time and is no fault."""

    def directions(self) -> Array:
        """All of them: suspects, harmless ones, and the whole engine, whose direction is not known yet."""
        harmless = [one.direction for one in self.harmless]
        return np.column_stack([self.suspects, *harmless, np.zeros(len(self.suspects))])


@dataclass(frozen=True, slots=True)
class Columns:
    """Slot (which interval it began in) × shape × source, flattened; the last slot is the whole life.

    The last source is none but the whole engine: a hard session, which is a blip only. What lies here never changes."""

    slots: int
    sources: int
    suspects: int
    """Sources that may be at fault; those behind them are innocent."""
    slot: Places
    """Of each column."""
    shape: Places
    source: Places
    kin: Places
    """Of each column the first source that sheds the same metal."""
    harmless: tuple[Harmless, ...]
    """The innocent sources, but for the whole engine."""
    fade_h: Array
    """Hours in which an excess of each source fades [h]."""
    leak: Mask
    """Sources that are a fault even if they were there from the first hour."""
    breathed: Mask
    """Sources of which an engine may always have had more, whatever its parts."""
    fault: Mask
    """Columns of a fault."""
    hard: Places
    """Columns of a hard session."""
    odd: Places
    """Columns of "this source has worn more all its life than the family's does": no fault."""
    lasting: Places
    """Innocent columns that may be true beside a fault in every build."""
    passing: Mask
    """Columns of "this source shed more for a while": innocent once it is past."""
    brief: Mask
    """All columns of an excess that does not last: `passing`, and those of its shapes that are `lasting`."""
    leak_alike: Mask
    """Columns of what is harmless and a leak would show as well."""

    def of_slot(self, number: int) -> slice:
        """The columns of one slot."""
        each = SHAPES * self.sources
        return slice(number * each, (number + 1) * each)


def columns_of(origins: Origins, onsets: int) -> Columns:
    """The columns over these origins, and so many onsets beside the build's first hour."""
    directions = origins.directions()
    suspects, sources = origins.suspects.shape[1], directions.shape[1]
    slots, whole = onsets + 1, onsets
    slot = np.repeat(np.arange(slots), SHAPES * sources)
    shape = np.tile(np.repeat(np.arange(SHAPES), sources), slots)
    source = np.tile(np.arange(sources), slots * SHAPES)
    leaks, breaths = _over(sources, origins.leak), _over(sources, origins.breathed)
    hard = np.flatnonzero((source == sources - 1) & (shape == BLIP) & (slot != whole))
    odd = np.flatnonzero((slot == whole) & (shape == STEP) & (source < suspects) & ~leaks[source])
    fault = (source < suspects) & np.isin(shape, (STEP, RAMP, CURVE))
    fault[odd] = False
    # one source bedding in for longer than the others from the first start: it may be so, and a fault beside it
    bedding = np.flatnonzero((slot == whole) & (shape == FADE) & (source < sources - 1))
    lasting = np.concatenate([hard, odd, bedding])
    brief = (shape == BLIP) | (shape == FADE)
    passing = brief.copy()
    passing[lasting] = False
    fade_h, alike = np.full(sources, FADE_H), np.zeros(sources, dtype=bool)
    fade_h[suspects:-1] = [one.fade_h for one in origins.harmless]
    alike[suspects:-1] = [one.leak_alike for one in origins.harmless]
    leak_alike = alike[source]
    same = np.all(directions[:, :, None] == directions[:, None, :], axis=0)
    kin = np.argmax(same, axis=0)[source]
    found = Columns(
        slots, sources, suspects, slot, shape, source, kin, origins.harmless,
        fade_h, leaks, breaths, fault, hard, odd, lasting, passing, brief, leak_alike,
    )  # fmt: skip
    for name in Columns.__slots__:
        value = getattr(found, name)
        if isinstance(value, np.ndarray):
            value.setflags(write=False)
    return found


def _over(sources: int, suspects: Mask | None) -> Mask:
    """A mask over all sources from one over the suspects, which come first."""
    found = np.zeros(sources, dtype=bool)
    if suspects is not None:
        found[: len(suspects)] = suspects
    return found

"""What the hypotheses of a watch are worth beforehand: how often each is true, and how much it would then shed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.hypotheses import BLIP, CURVE, FADE, RAMP, SHAPES, STEP, Columns
from benchapp.wear.rules import Rules
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

_CURVE_H = 10.0
"""Hours at which a curved growth has the scale of a straight one [h]."""

_FAR = np.full(SHAPES, 500.0)
_FAR[RAMP], _FAR[CURVE] = 5e3, 5e4
"""Multiple of a scale that is kept for what nothing foresees, per shape: what began a moment ago and will shed within
the hour what may come at once has a slope of ten times that, per hour."""


@dataclass(frozen=True, slots=True)
class Prior:
    """Scales and chances of the hypotheses of a bank: `narrow` of those without, `wide` of those with tails."""

    scale: Array
    narrow: Array
    wide: Array
    guilty: Array
    """How much of `wide` is a fault's where a splash has only just come [-]."""
    farthest: Array
    """Scale of what nothing foresees."""


def faults_per_hour(onset_h: Array | float, rules: Rules, outside: NDArray[np.bool_]) -> Array:
    """How often a fault begins, all sources together [1/h], so many hours after the first start.

    `outside`: where it is no part's fault but dust or coolant, which nobody built in."""
    built = np.where(outside, 0.0, _oftener_early(onset_h, rules))
    return np.asarray(rules.number("fault", "per_hour") * (1.0 + built))


def _oftener_early(onset_h: Array | float, rules: Rules) -> Array:
    """How much oftener something begins that was built in, so many hours after the first start [-]."""
    more, more_h = rules.pair("fault", "early")
    return np.asarray(more * np.exp(-np.asarray(onset_h) / more_h))


def prior_of(watch: Watch, normal: Array, share: Array, mass_kg: float, rules: Rules, dusty: float = 0.0) -> Prior:
    """Chances and scales of every hypothesis, in the order of the bank's columns. `normal` rate per source [mg/h],
    `share` of all faults per source [-], `dusty`: how often dust comes once on this bench and harms nothing [1/h]."""
    behind = np.zeros(watch.columns.sources - watch.columns.suspects)
    normal, share = np.append(normal, behind), np.append(share, behind)
    chances = _Chances(watch)
    fault = chances.of_faults(share, rules)
    chances.lasting(fault, rules)
    chances.passing(fault, rules, dusty)
    chances.hard_session(rules)
    chances.whole_life(rules)
    chances.harmless(rules)
    scale = _scales(watch.columns, normal, mass_kg, rules)
    scales, far = (np.tile(one.ravel(), watch.columns.slots) for one in (scale, scale * _FAR[:, None]))
    return Prior(scales, chances.narrow.ravel(), chances.wide.ravel(), chances.guilty.ravel(), far)


def _scales(columns: Columns, normal: Array, mass_kg: float, rules: Rules) -> Array:
    """How much each source would shed beside its normal in each shape, shapes × sources [mg/h, mg/h², mg/h³; of a hard
    session in normal rates]."""
    number, hard = rules.number, columns.sources - 1
    least = number("fault", "least_ppm_h") * mass_kg
    step = number("fault", "times_normal") * normal + least
    slope = step / number("fault", "growth_h")
    blip = number("fault", "blip_times_normal") * normal + least / 4.0
    blip[hard] = number("fault", "hard_times")
    scale = np.array([step, slope, np.where(columns.breathed | columns.leak, step, blip), slope / _CURVE_H, step])
    scale[:, columns.suspects : hard] = np.array([one.ppm_h for one in columns.harmless]) * mass_kg
    return scale


class _Chances:
    """How often each hypothesis is true, without tails (`narrow`) and with (`wide`), slots × shapes × sources."""

    def __init__(self, watch: Watch) -> None:
        columns, slots = watch.columns, watch.slots
        self.columns, self.whole = columns, slots.whole
        self.narrow, self.wide = np.zeros((2, columns.slots, SHAPES, columns.sources))
        self.guilty = np.ones_like(self.wide)
        self.each = 1.0 / max(columns.suspects, 1)
        # of each slot, beside all sources
        self.hours = np.maximum(slots.span_h, 0.2)[:, None]
        """In which the onset of a slot lies [h]."""
        self.early = slots.early[:, None]
        """Healthy intervals that were known when a slot began."""
        self.onset_h = np.maximum(slots.age_h[self.whole] - slots.age_h, 0.0)[:, None]
        """Hours after the first start at which a slot began [h]."""

    def of_faults(self, share: Array, rules: Rules) -> Array:
        """How often a fault of each source begins in each slot, slots × sources."""
        outside = np.logical_or(self.columns.leak, self.columns.breathed)
        return np.asarray(faults_per_hour(self.onset_h, rules, outside) * self.hours * share)

    def lasting(self, fault: Array, rules: Rules) -> None:
        """A source sheds more from now on: a constant rate, or one that grows."""
        number = rules.number
        # a constant extra rate from the first intervals on may be what makes one engine differ from another
        # (coolant is no engine's own way; silicon may be: sealant, the air it breathes)
        least = np.where(self.columns.breathed, 0.0, number("fault", "steady_early"))
        steady = np.clip(self.early / 3.0, least, 1.0)
        steady = np.where(self.columns.leak, 1.0, steady) * number("fault", "steady_share")
        growing = (1.0 - number("fault", "steady_share")) / 2.0
        self.wide[:, STEP] = fault * steady
        self.wide[:, RAMP] = self.wide[:, CURVE] = fault * growing

    def passing(self, fault: Array, rules: Rules, dusty: float) -> None:
        """A source sheds more in one interval, or an excess of it fades."""
        number = rules.number
        self.narrow[:, BLIP] = number("fault", "blip_per_hour") * np.minimum(self.hours, 4.0) * self.each
        splash = number("fault", "splash_times") * fault
        breathed = self.columns.breathed
        harmless = np.where(breathed, dusty * self.hours / max(int(breathed.sum()), 1), 0.0)
        self.wide[:, BLIP] = splash + harmless
        self.guilty[:, BLIP] = np.where(breathed, splash / np.maximum(splash + harmless, 1e-300), 1.0)
        # what beds in does so from the first start on
        bedding = np.where(self.early < 3.0, np.exp(-self.onset_h / number("fault", "fade_early_h")), 0.0)
        self.wide[:, FADE] = (number("fault", "fade_early") * bedding + number("fault", "fade_late")) * self.each

    def hard_session(self, rules: Rules) -> None:
        """The whole engine sheds more in one interval, and in no other shape."""
        hard = self.columns.sources - 1
        self.wide[:, :, hard] = 0.0
        self.narrow[:, BLIP, hard] = rules.number("fault", "hard_share")
        self.wide[:, BLIP, hard] = rules.number("fault", "far_harder_share")

    def whole_life(self, rules: Rules) -> None:
        """A source that has worn more all its life than the family's does is one engine's own way, not a fault; of a
        part that is never a matter of many times the usual, of the air's silicon it may be."""
        whole, leak, breathed = self.whole, self.columns.leak, self.columns.breathed
        self.narrow[whole, BLIP] = self.wide[whole, BLIP] = 0.0
        odd = rules.number("fault", "odd_engine") * self.each
        self.narrow[whole, STEP] = np.where(leak | breathed, 0.0, odd)
        self.wide[whole, STEP] = np.where(leak, self.wide[whole, STEP], np.where(breathed, odd, 0.0))

    def harmless(self, rules: Rules) -> None:
        """What may come at any time, fades and is no fault."""
        columns = self.columns
        harmless = slice(columns.suspects, columns.sources - 1)
        new = 1.0 + _oftener_early(self.onset_h, rules)
        per_hour = np.array([one.per_hour for one in columns.harmless]) * self.hours * new
        at_start = np.array([one.at_start for one in columns.harmless]) * np.exp(-self.onset_h)
        self.narrow[:, :, harmless] = self.wide[:, :, harmless] = 0.0
        self.narrow[:, FADE, harmless] = per_hour
        self.wide[:, FADE, harmless] = at_start + rules.number("harmless", "far") * per_hour

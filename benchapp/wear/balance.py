"""Sump balance: from ppm to mg of metal per running hour, and back.

One well mixed sump: mass of oil M [kg], concentration c [mg/kg], generation w [mg/h], oil made up at q [kg/h] so that
M stays. dc/dt = w/M − (q/M)·(c − n). Every formula below is a closed form of that equation or of one of its limits;
tests compare them with an ODE solver. Units: mg/kg, kg, h, mg/h.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_SMALL = 1e-9


def wear_rate(
    c_start: float, c_end: float, fresh: float, mass_kg: float, hours: float, make_up_kg_h: float = 0.0
) -> float:
    """Wear rate [mg/h] that takes the sump from `c_start` to `c_end` [mg/kg] in `hours` [h].

    `fresh` is the concentration of the oil that is made up [mg/kg], `make_up_kg_h` how much of it an hour [kg/h].
    Raises ValueError for hours or mass not above zero."""
    if hours <= 0 or mass_kg <= 0:
        raise ValueError("hours and mass must be above zero")
    decay = make_up_kg_h * hours / mass_kg
    if decay < _SMALL:
        return mass_kg * (c_end - c_start) / hours
    kept = math.exp(-decay)
    return make_up_kg_h * ((c_end - fresh) - (c_start - fresh) * kept) / -math.expm1(-decay)


def wear_rate_trapezoid(
    c_start: float, c_end: float, mass_kg: float, added_kg: float, hours: float, fresh: float = 0.0
) -> float:
    """Wear rate [mg/h] by the trapezoid rule: [M (c1 − c0) + A ((c0 + c1)/2 − n)] / t, for batch top-ups A [kg]
    whose hours are not known. Within 1 % of the exact form while A stays below a third of the sump."""
    if hours <= 0 or mass_kg <= 0:
        raise ValueError("hours and mass must be above zero")
    return (mass_kg * (c_end - c_start) + added_kg * ((c_start + c_end) / 2.0 - fresh)) / hours


def concentration(
    c_start: float,
    rate_mg_h: float,
    fresh: float,
    mass_kg: float,
    hours: float,
    make_up_kg_h: float = 0.0,
    filter_kg_h: float = 0.0,
) -> float:
    """Concentration [mg/kg] after `hours`: c∞ + (c0 − c∞) e^(−t/τ), τ = M/(q + eQ), c∞ = (w + q n)/(q + eQ).

    `filter_kg_h` is oil cleaned of the metal per hour, efficiency times flow [kg/h]."""
    leaving = make_up_kg_h + filter_kg_h
    if leaving * hours / mass_kg < _SMALL:
        return c_start + rate_mg_h * hours / mass_kg
    level = (rate_mg_h + make_up_kg_h * fresh) / leaving
    return level + (c_start - level) * math.exp(-leaving * hours / mass_kg)


def concentration_not_made_up(
    c_start: float, rate_mg_h: float, mass_kg: float, hours: float, loss_kg_h: float, *, metal_leaves: bool
) -> float:
    """Concentration [mg/kg] where oil is lost and nothing is added: with the metal in it (a leak), or with the metal
    left behind (evaporated or burnt off clean). Raises ValueError once the sump would be empty."""
    left = mass_kg - loss_kg_h * hours
    if left <= 0:
        raise ValueError("the sump would be empty")
    if not metal_leaves:
        return (c_start * mass_kg + rate_mg_h * hours) / left
    if loss_kg_h * hours / mass_kg < _SMALL:
        return c_start + rate_mg_h * hours / mass_kg
    return c_start + rate_mg_h / loss_kg_h * math.log(mass_kg / left)


def after_top_up(c_before: float, fresh: float, mass_kg: float, added_kg: float) -> float:
    """Concentration [mg/kg] after `added_kg` brought the sump back to `mass_kg`: c (M − A)/M + n A/M."""
    share = min(max(added_kg / mass_kg, 0.0), 1.0)
    return c_before * (1.0 - share) + fresh * share


def after_refill(c_drain: float, fresh: float, carry_over: float) -> float:
    """Concentration [mg/kg] at the start of a fill: φ c_drain + (1 − φ) n."""
    return carry_over * c_drain + (1.0 - carry_over) * fresh


def repeated_fills(rise_per_fill: float, fresh: float, carry_over: float) -> float:
    """Concentration at the end of every fill, once many equal fills have passed [mg/kg]: D/(1 − φ) + n."""
    return rise_per_fill / (1.0 - carry_over) + fresh


def geometric_level(metal_per_cycle_mg: float, mass_kg: float, removed_per_cycle: float, cycles: int) -> float:
    """Concentration after `cycles` cycles that each add metal and remove a fixed share of it [mg/kg]:
    (P/M) (1 − (1 − R)^n)/R."""
    if removed_per_cycle < _SMALL:
        return metal_per_cycle_mg / mass_kg * cycles
    kept = (1.0 - removed_per_cycle) ** cycles
    return metal_per_cycle_mg / mass_kg * (1.0 - kept) / removed_per_cycle


def run_in_rate(hours: float, settled_mg_h: float, first_mg_h: float, decay_h: float) -> float:
    """Wear rate of an engine that is running in [mg/h]: ws + (w0 − ws) e^(−t/T)."""
    return settled_mg_h + (first_mg_h - settled_mg_h) * math.exp(-hours / decay_h)


def run_in_metal(hours: float, settled_mg_h: float, first_mg_h: float, decay_h: float) -> float:
    """Metal shed by an engine that is running in, from its first start [mg]: ws t + (w0 − ws) T (1 − e^(−t/T))."""
    return settled_mg_h * hours + (first_mg_h - settled_mg_h) * decay_h * -math.expm1(-hours / decay_h)


def run_in_concentration(
    hours: float, settled_mg_h: float, first_mg_h: float, decay_h: float, mass_kg: float, make_up_kg_h: float
) -> float:
    """Concentration of an engine that is running in with oil made up, from clean oil [mg/kg]."""
    q = make_up_kg_h / mass_kg
    if q * hours < _SMALL:
        return run_in_metal(hours, settled_mg_h, first_mg_h, decay_h) / mass_kg
    settled = settled_mg_h / make_up_kg_h * -math.expm1(-q * hours)
    difference = q - 1.0 / decay_h
    if abs(difference) < _SMALL:
        return settled + (first_mg_h - settled_mg_h) / mass_kg * hours * math.exp(-q * hours)
    transient = (math.exp(-hours / decay_h) - math.exp(-q * hours)) / difference
    return settled + (first_mg_h - settled_mg_h) / mass_kg * transient


def decay_mean(start_h: float, hours: float, decay_h: float) -> float:
    """Mean of e^(−t/T) from `start_h` over `hours` [-]."""
    if hours <= 0:
        return math.exp(-start_h / decay_h)
    return decay_h / hours * (math.exp(-start_h / decay_h) - math.exp(-(start_h + hours) / decay_h))


@dataclass(frozen=True, slots=True)
class RateWithError:
    """Interval wear rate with its standard error [mg/h]."""

    rate_mg_h: float
    error_mg_h: float


def rate_with_error(
    c_start: float,
    c_end: float,
    fresh: float,
    mass_kg: float,
    hours: float,
    *,
    start_error: float,
    end_error: float,
    fresh_error: float = 0.0,
    mass_error_share: float = 0.03,
    make_up_kg_h: float = 0.0,
) -> RateWithError:
    """Wear rate and its standard error [mg/h]: both readings, the fresh oil and the sump mass, to first order.

    Errors in ppm; `mass_error_share` is relative. The four are taken as independent."""
    rate = wear_rate(c_start, c_end, fresh, mass_kg, hours, make_up_kg_h)

    def slope(dc0: float, dc1: float, dn: float) -> float:
        return wear_rate(c_start + dc0, c_end + dc1, fresh + dn, mass_kg, hours, make_up_kg_h) - rate

    heavier = wear_rate(c_start, c_end, fresh, mass_kg * (1.0 + mass_error_share), hours, make_up_kg_h) - rate
    parts = (slope(start_error, 0, 0), slope(0, end_error, 0), slope(0, 0, fresh_error), heavier)
    return RateWithError(rate, math.sqrt(sum(part * part for part in parts)))


def batches(
    c_start: float,
    rate_mg_h: float,
    mass_kg: float,
    hours: float,
    top_ups: Sequence[tuple[float, float, float]],
) -> float:
    """Concentration [mg/kg] after `hours` at a constant rate; top-ups (hour, kg, fresh mg/kg) applied one by one."""
    c, t = c_start, 0.0
    for hour, added, fresh in sorted(top_ups):
        at = min(max(hour, 0.0), hours)
        c = after_top_up(c + rate_mg_h * (at - t) / mass_kg, fresh, mass_kg, added)
        t = at
    return c + rate_mg_h * (hours - t) / mass_kg

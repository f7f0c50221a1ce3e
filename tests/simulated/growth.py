"""How a fault of generator a grows from its onset to the failure of the engine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

MARCH_H = 0.02


@dataclass(frozen=True)
class Growth:
    """Extra metal e(τ) [mg/h] at τ hours after onset, and the hours until failure."""

    shape: str
    start_mg_h: float
    doubling_h: float
    power: float
    ended_by: str
    window_h: float
    limit: float
    """Metal lost [mg] or rate [mg/h] at failure, by `ended_by`."""

    def rate(self, since_h: np.ndarray) -> np.ndarray:
        """[mg/h]; zero before onset."""
        return _rate(self.shape, self.start_mg_h, self.doubling_h, self.power, since_h)


def _rate(shape: str, start: float, doubling_h: float, power: float, since_h: np.ndarray) -> np.ndarray:
    later = np.maximum(since_h, 0.0)
    if shape == "exponential":
        grown = start * 2.0 ** np.minimum(later / doubling_h, 60.0)
    else:
        # an accelerating power law whose first doubling takes `doubling_h`
        reach = doubling_h / (2.0 ** (1.0 / power) - 1.0)
        grown = start * (1.0 + later / reach) ** power
    return np.where(since_h > 0.0, grown, 0.0)


def drawn(normal_mg_h: float, litres: float, room_h: float, rng: np.random.Generator) -> Growth | None:
    """A fault that fits into `room_h` running hours, or None if none was found.

    Doubling 1 to 15 h; failure by 150-2000 mg lost (scaled to the size of the engine), or at 10-100 times the normal
    rate once 120 mg (so scaled) are gone: a part that lost less has not failed.
    """
    floor = max(normal_mg_h, 0.25 * litres / 5.0)
    doubling_h = float(np.exp(rng.uniform(np.log(1.0), np.log(15.0))))
    for attempt in range(60):
        if attempt % 15 == 14:
            doubling_h = 1.0 + 0.6 * (doubling_h - 1.0)  # too slow for this season
        start = float(np.exp(rng.uniform(np.log(0.15), np.log(1.2)))) * floor
        shape = "exponential" if rng.random() < 0.7 else "power"
        power = float(rng.uniform(2.0, 4.0))
        ended_by = "metal" if rng.random() < 0.6 else "growth"
        if ended_by == "metal":
            limit = float(np.exp(rng.uniform(np.log(150.0), np.log(2000.0)))) * (litres / 5.0) ** 0.7
        else:
            limit = float(np.exp(rng.uniform(np.log(10.0), np.log(100.0)))) * floor
        least_mg = 120.0 * (litres / 5.0) ** 0.7
        window_h = _window((shape, start, doubling_h, power), ended_by, limit, least_mg, room_h)
        if window_h is not None and window_h > 1.0:
            return Growth(shape, start, doubling_h, power, ended_by, window_h, limit)
    return None


def _window(
    law: tuple[str, float, float, float], ended_by: str, limit: float, least_mg: float, room_h: float
) -> float | None:
    since = np.arange(MARCH_H, room_h, MARCH_H)
    if since.size == 0:
        return None
    rate = _rate(*law, since)
    lost = np.cumsum(rate) * MARCH_H
    reached = (lost if ended_by == "metal" else np.where(lost >= least_mg, rate, 0.0)) >= limit
    return float(since[int(np.argmax(reached))]) if reached.any() else None

"""The oil in one engine, followed in small steps: metal in, oil burnt, oil put in, oil drained.

Deliberately plain: a balance over a few minutes at a time, no closed form, so that it can check closed forms.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STEP_H = 0.05
OIL_KG_L = 0.865


@dataclass
class Sump:
    """`metal_mg` has two rows over the elements: all that is in the oil, and of that the part from a fault. [mg]"""

    metal_mg: np.ndarray
    oil_kg: float
    full_kg: float

    @property
    def ppm(self) -> np.ndarray:
        return self.metal_mg[0] / self.oil_kg

    @property
    def fault_ppm(self) -> np.ndarray:
        return self.metal_mg[1] / self.oil_kg

    def run(self, made_mg: np.ndarray, step_h: float, burnt_kg_h: float, carried: float) -> None:
        """Run for `len(made_mg)` steps. `made_mg` (steps, 2, elements): metal given off in each step [mg].

        `carried`: share of the metal in the burnt oil that leaves with it (1 all, 0 all stays behind).
        """
        burnt_kg = burnt_kg_h * step_h
        for made in made_mg:
            self.metal_mg = self.metal_mg * (1.0 - carried * burnt_kg / self.oil_kg) + made
            self.oil_kg -= burnt_kg

    def add(self, kg: float, fresh_ppm: np.ndarray) -> None:
        """Top up with fresh oil."""
        self.metal_mg[0] += kg * fresh_ppm
        self.oil_kg += kg

    def change(self, left_share: float, fresh_ppm: np.ndarray) -> None:
        """Drain until `left_share` of the full sump is left, fill up with fresh oil."""
        left_kg = left_share * self.full_kg
        self.metal_mg *= left_kg / self.oil_kg
        self.metal_mg[0] += (self.full_kg - left_kg) * fresh_ppm
        self.oil_kg = self.full_kg


def dry(full_kg: float, fresh_ppm: np.ndarray) -> Sump:
    """A dry engine's first fill."""
    metal = np.zeros((2, fresh_ppm.size))
    metal[0] = full_kg * fresh_ppm
    return Sump(metal, full_kg, full_kg)

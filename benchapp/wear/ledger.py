"""Wear ledger: what each source has lost over a build, in mg and, where its area is known, in micrometres of the layer.

The spectrometer sees only fine particles, so every line is a lower bound.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchapp.metallurgy.layers import layer_um
from benchapp.records import LedgerLine, Material, Part

NINETY = 1.645
"""Half width of a 90 % normal interval in standard deviations."""


@dataclass(slots=True)
class Ledger:
    """Sums so far, by name of the source: mg and its variance [mg²]."""

    parts: dict[str, tuple[Part, ...]] = field(default_factory=dict)
    mg: dict[str, float] = field(default_factory=dict)
    variance: dict[str, float] = field(default_factory=dict)
    _deep: dict[str, float | None] = field(default_factory=dict, repr=False)
    """Micrometres per mg by name of the source, as worked out for its parts."""

    def add(self, name: str, parts: tuple[Part, ...], rate_mg_h: float, sd_mg_h: float, hours: float) -> None:
        """One interval of one source."""
        if self.parts.get(name) != parts:
            self.parts[name] = parts
            self._deep.pop(name, None)
        self.mg[name] = self.mg.get(name, 0.0) + rate_mg_h * hours
        self.variance[name] = self.variance.get(name, 0.0) + (sd_mg_h * hours) ** 2

    def lines(self, materials: Mapping[str, Material]) -> tuple[LedgerLine, ...]:
        """Largest first."""
        found = [self._line(name, materials) for name in self.mg]
        return tuple(sorted(found, key=lambda line: -line.mg))

    def _line(self, name: str, materials: Mapping[str, Material]) -> LedgerLine:
        parts, mg = self.parts[name], self.mg[name]
        half = NINETY * self.variance[name] ** 0.5
        low, high = max(mg - half, 0.0), mg + half
        if name not in self._deep:
            self._deep[name] = _micrometres(parts, materials)
        deep = self._deep[name]
        names = tuple(part.name for part in parts)
        if deep is None:
            return LedgerLine(name, names, mg, low, high)
        thickness = min((part.thickness_um for part in parts if part.thickness_um), default=None)
        return LedgerLine(name, names, mg, low, high, mg * deep, low * deep, high * deep, thickness)


def _micrometres(parts: tuple[Part, ...], materials: Mapping[str, Material]) -> float | None:
    """Micrometres per mg, spread over all pieces; None unless every part has an area and they share one material."""
    ids = {part.material for part in parts}
    areas = [part.area_cm2 for part in parts]
    if len(ids) != 1 or not areas or any(area is None or area <= 0 for area in areas):
        return None
    material = materials.get(next(iter(ids)))
    if material is None or not material.density_g_cm3:
        return None
    return float(
        layer_um(mass_mg=1.0, area_cm2=sum(a for a in areas if a), density_g_cm3=material.density_g_cm3)
    )

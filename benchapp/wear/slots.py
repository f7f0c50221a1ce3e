"""The slots of a bank of hypotheses: in which intervals of a build an onset is thought of."""

from __future__ import annotations

import copy

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RECENT = 4
"""The latest intervals whose slots are never given up."""


class Slots:
    """One slot for each onset that is kept in view; the last one began with the build and is never given up."""

    def __init__(self, count: int) -> None:
        self.whole = count - 1
        """The slot of the whole life."""
        self.age_h = np.full(count, -1.0)
        """Running hours since each slot's onset [h]; below zero for a slot not in use."""
        self.span_h = np.zeros(count)
        """Hours in which the onset of a slot lies [h]."""
        self.early = np.zeros(count)
        """Healthy intervals that were known when each slot began."""
        self.opened = np.zeros(count)
        """In which interval each slot was opened."""
        self.intervals = 0
        self.current = -1
        """The slot of the interval that is run."""

    def copy(self) -> Slots:
        """One that goes on by itself."""
        other = copy.copy(self)
        for name in ("age_h", "span_h", "early", "opened"):
            setattr(other, name, getattr(self, name).copy())
        return other

    def begin(self, history: int) -> None:
        """Opens a slot for a new interval, over one that is spared most easily. `history`: healthy intervals so far."""
        self.intervals += 1
        if self.age_h[self.whole] < 0:
            self.age_h[self.whole] = 0.0
        self.current = self._free()
        self.age_h[self.current] = self.span_h[self.current] = 0.0
        self.early[self.current] = history
        self.opened[self.current] = self.intervals

    def run(self, hours: float) -> None:
        """So many hours are run [h]."""
        self.age_h[self.age_h >= 0] += hours
        self.span_h[self.current] += hours
        if self.intervals == 1:
            self.span_h[self.whole] += hours

    def _free(self) -> int:
        """A slot not in use, else the one whose onset its neighbours in time stand in for best.

        So the recent intervals are each kept and the older ones thinned out: a fault that began long ago and grows
        slowly stays in view. The hours of the one that is given up go to the next younger one."""
        slots = np.arange(self.whole)
        unused = slots[self.age_h[slots] < 0]
        if len(unused):
            return int(unused[0])
        order = slots[np.argsort(-self.opened[slots])]
        ages = np.append(self.age_h[order], self.age_h[self.whole])
        loss = (ages[2:] - ages[:-2]) / np.maximum(ages[1:-1], 1e-6)
        loss[: RECENT - 1] = np.inf
        place = 1 + int(np.argmin(loss))
        self.span_h[order[place - 1]] += self.span_h[order[place]]
        return int(order[place])

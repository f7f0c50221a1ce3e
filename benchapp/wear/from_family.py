"""What a build's family says of its rates, before its first sample and while it runs."""

from __future__ import annotations

import copy

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.expected import (
    FamilyHistory,
    FamilyMean,
    News,
    RatePrior,
    family_mean,
    news_of,
    rate_prior,
    told_by,
)
from benchapp.wear.rules import Rules
from benchapp.wear.sources import Sources
from benchapp.wear.spread import EngineSpread

Array = NDArray[np.float64]


class FromFamily:
    """The word of a family to one of its builds: what it says now (`prior`) and what the build has been told (`told`).

    `history` is the family's own and may grow; nothing else is written into, so that a copy goes on by itself."""

    def __init__(
        self, history: FamilyHistory | None, key: tuple[str, str], sources: Sources, floor: float, rules: Rules
    ) -> None:
        """`key`: (engine, build) that is spoken to; `floor`: smallest rate that is spoken of [mg/h]."""
        self.history, self.key, self.sources, self.floor, self.rules = history, key, sources, floor, rules

    def begin(self, mass_kg: float, additive: NDArray[np.bool_], engines: EngineSpread) -> None:
        """At the first start of the build. `additive`: elements that the oil hides."""
        self.prior = self._prior_now(mass_kg, additive, engines)
        self.told = told_by(self.prior, additive)
        self._heard = self._others()

    def __deepcopy__(self, memo: object) -> FromFamily:
        return copy.copy(self)

    def mean(self) -> FamilyMean:
        """What the family's other builds wear on average."""
        return family_mean(self.sources.elements, self.history, self.key, self.floor)

    def prior_about(
        self, mean: FamilyMean, mass_kg: float, additive: NDArray[np.bool_], spreads: tuple[float, float]
    ) -> RatePrior:
        """The build's rates by the family's mean, if engines differ by `spreads` (as a whole, source by source)."""
        litres = mass_kg / self.rules.oil_density_kg_l
        return rate_prior(self.sources, litres, mean, additive, self.rules, spreads)

    def _prior_now(self, mass_kg: float, additive: NDArray[np.bool_], engines: EngineSpread) -> RatePrior:
        return self.prior_about(self.mean(), mass_kg, additive, (engines.common, engines.each))

    def _others(self) -> int:
        """Healthy intervals that the family's other builds have taught so far."""
        if self.history is None:
            return 0
        own = self.history.builds.get(self.key)
        return self.history.intervals - (own.intervals if own else 0)

    def news(self, mass_kg: float, additive: NDArray[np.bool_], engines: EngineSpread) -> News | None:
        """What the family has learned since it was heard last, or None while that is not much.

        A season's engines run side by side: the first of them begin with nothing and would never hear of the others."""
        others = self._others()
        if others < max(1.5 * self._heard, self._heard + 2):
            return None
        self._heard = others
        now = self._prior_now(mass_kg, additive, engines)
        if now.basis == "none":
            return None
        news = news_of(self.told, now, additive)
        self.prior = now
        if news is not None:
            self.told = news.told
        return news

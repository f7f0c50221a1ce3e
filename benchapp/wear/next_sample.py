"""When to sample again: from what this bench can see of each part, and how fast it could fail."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchapp.records import CALL_WORDS, SourceRate
from benchapp.wear.clusters import Clusters
from benchapp.wear.rules import Rules

RUN = CALL_WORDS[0]


@dataclass(frozen=True, slots=True)
class Unseen:
    """Rate of a part, and the hours from the smallest rate that this bench sees of it to failure [h]."""

    rate: SourceRate
    hours: float


def next_sample(call: str, unseen: Sequence[Unseen], rules: Rules) -> float:
    """Hours to the next sample: a fault that doubles every few hours must not go from unseen to failed in one stint."""
    if call != RUN:
        return rules.number("next", "stint_h")
    least, most, share = (rules.number("next", name) for name in ("least_h", "most_h", "share"))
    # a source that would fail unseen whatever the stint is no reason to sample more often: it is named as unknown
    hours = min((share * one.hours for one in unseen if share * one.hours >= least), default=most)
    return round(2.0 * min(hours, most)) / 2.0


def unseen_by(sources: Sequence[SourceRate], groups: Clusters, mass_kg: float, rules: Rules) -> tuple[Unseen, ...]:
    """For each part (or group of parts) the hours from the smallest rate that this bench sees to failure, for a fault
    that keeps doubling; none where nothing would be seen. `mass_kg` of oil."""
    doubling = rules.number("next", "doubling_h")
    usual = rules.number("next", "loss_mg_l") * mass_kg / rules.oil_density_kg_l
    layer_share = rules.number("next", "layer_share")
    found = []
    for rate in sources:
        if rate.parts:
            hours = 0.0
            if rate.seen_from_mg_h is not None:
                loss = min(usual, layer_share * groups.layer_mg[rate.parts])
                seen = max(rate.seen_from_mg_h, 1e-6)
                hours = doubling * math.log2(1.0 + loss * math.log(2.0) / (seen * doubling))
            found.append(Unseen(rate, hours))
    return tuple(found)


def too_late(unseen: Sequence[Unseen], rules: Rules) -> list[str]:
    """Parts of which something can be seen, but whose failure would come before this bench could have seen it."""
    share, least = rules.number("next", "share"), rules.number("next", "least_h")
    return [one.rate.source for one in unseen if one.rate.seen_from_mg_h and share * one.hours < least]

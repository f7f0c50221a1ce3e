"""From a look at a sample to the record of its call.

The decision (which call, which suspects) is made in `decide`; here it is written out so that it can be acted on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from benchapp.records import CALL_WORDS, Call, ElementRate, SourceRate
from benchapp.wear import side_records, words
from benchapp.wear.ceiling import ceiling_share
from benchapp.wear.clusters import Clusters, clusters_of
from benchapp.wear.follow import Follower
from benchapp.wear.interval_rates import Rates, rates_of
from benchapp.wear.ledger import NINETY, Ledger
from benchapp.wear.look import Look
from benchapp.wear.new_oil_words import at_changes
from benchapp.wear.next_sample import Unseen, next_sample, too_late, unseen_by
from benchapp.wear.rate_lines import element_lines, source_lines
from benchapp.wear.reasons import bottle_steps, doubt_of, little, looks_at, reasons_of, rivals_of, side_bears, strongest
from benchapp.wear.rules import Rules
from benchapp.wear.suspect import Suspect, may_be_fuel
from benchapp.wear.trend import theil_sen

RUN, SHORT, *_ = CALL_WORDS

LAST = 8
"""Intervals that the direction looks back on."""


@dataclass(slots=True)
class Book:
    """What the report remembers of a build from sample to sample."""

    ledger: Ledger = field(default_factory=Ledger)
    clusters: dict[bytes, Clusters] = field(default_factory=dict)
    """By the mask of the elements that the oil hides: it changes once or twice in a build."""
    hours: list[float] = field(default_factory=list)
    totals: list[float] = field(default_factory=list)
    """Severity-free total wear rate [mg/h]."""
    last_h: float = -1.0


def write(
    look: Look,
    follower: Follower,
    rules: Rules,
    call: str,
    suspects: Sequence[Suspect],
    over: tuple[str, float] | None,
    book: Book,
) -> Call:
    """The whole record. `call` is what the spectrometer asks for; filter cuts and leak-downs may raise it. `over`: what
    `over_ceiling` found."""
    figures = _figures(look, follower, suspects, rules, book)
    rates, weights = figures.rates, figures.weights
    word = call
    call = side_records.raised(word, *weights)
    side_first = side_bears(look, word, call, suspects, weights, rules)
    next_h = next_sample(call, figures.unseen, rules)
    breaks, family = look.ceiling_own, look.prior.builds
    doubt = doubt_of(look, rules) if call == SHORT and not any(weights) else ""
    others: tuple[str, ...] = ()
    unsure = False
    if call == RUN:
        named = little(suspects, over, rules)
    else:
        named = doubt or strongest(look, suspects, weights, side_first, over, rules)
        if suspects and not (doubt or side_first or look.other_oil):
            others, unsure = rivals_of(suspects), suspects[0].probability < 0.5 and not any(weights)
    share, top = ceiling_share(look, figures.elements, rates.fading)
    return Call(
        rule_version=rules.version,
        engine=follower.engine.name,
        build=follower.build.number,
        sample=look.sample.code,
        build_h=look.sample.build_h,
        taken_at=look.sample.taken_at,
        call=call,
        sentence=words.sentence(call, named, next_h, look.history, breaks, bool(family), others, unsure=unsure),
        next_sample_h=next_h,
        basis=_basis(look),
        history=words.history_text(look.history, breaks, family),
        history_samples=look.history,
        severity=rates.severity,
        reasons=reasons_of(look, call, suspects, weights, side_first, figures.sources, over, rules),
        sources=figures.sources,
        elements=figures.elements,
        ledger=book.ledger.lines(follower.fleet.materials),
        unknowns=_unknowns(look, follower, suspects, rules, figures.unseen),
        before_out=words.before_out(call, looks_at(suspects, weights, side_first, rules), next_h, bottle_steps(look)),
        ceiling_share=share,
        ceiling_element=top,
        direction=_direction(book),
        carry_over=look.interval.carry_over,
        chi_square=None if rates.split is None else rates.split.chi_square,
        held=look.sample.hold,
    )


@dataclass(frozen=True, slots=True)
class _Figures:
    """What a record tells in figures, before anything is put into words."""

    rates: Rates
    sources: tuple[SourceRate, ...]
    elements: tuple[ElementRate, ...]
    weights: Sequence[side_records.Weight | None]
    """Of filter cuts, leak-downs and oil pressures."""
    unseen: tuple[Unseen, ...]


def _figures(look: Look, follower: Follower, suspects: Sequence[Suspect], rules: Rules, book: Book) -> _Figures:
    """Works them out, and puts into the book what is remembered of them."""
    swing = math.hypot(follower.spread.severity, follower.spread.source)
    rates = rates_of(look, suspects, follower.watch, rules)
    groups = _clusters(look, follower, book)
    sources, elements = source_lines(look, rates, groups, swing), element_lines(look, rates, swing)
    weights = side_records.pointed(
        _side(look, follower, book), look, suspects, follower.build, follower.fleet.materials
    )
    if rates.split is not None:
        _remember(look, sources, groups, rates.severity or 1.0, book)
    return _Figures(rates, sources, elements, weights, unseen_by(sources, groups, follower.mass, rules))


def _basis(look: Look) -> str:
    if look.history >= 2:
        return "own history"
    if look.ceiling_own:
        return "own ceiling"
    return "family" if look.prior.builds else "none"


def _clusters(look: Look, follower: Follower, book: Book) -> Clusters:
    """The report's lines, worked out once for a build and a mask of what the oil hides."""
    key = look.hidden.tobytes()
    if key not in book.clusters:
        materials = follower.fleet.materials
        book.clusters[key] = clusters_of(look.sources, look.hidden, follower.build, materials, follower.rules)
    return book.clusters[key]


def _remember(look: Look, sources: Sequence[SourceRate], groups: Clusters, severity: float, book: Book) -> None:
    hours = look.interval.hours
    if hours <= 0:
        return
    pieces = {line.parts: line.pieces for line in groups.lines}
    total = 0.0
    for rate in sources:
        if rate.parts:
            sd = (rate.high_mg_h - rate.low_mg_h) / (2 * NINETY)
            book.ledger.add(rate.source, pieces[rate.parts], rate.rate_mg_h, sd, hours)
            total += rate.rate_mg_h
    if not look.interval.run_in:
        book.hours.append(look.sample.build_h)
        book.totals.append(total / severity)


def _direction(book: Book) -> str:
    """Where the severity-free wear is going, over the last intervals."""
    if len(book.totals) < 4:
        return ""
    slope = theil_sen(np.array(book.hours[-LAST:]), np.array(book.totals[-LAST:]), confidence=0.98)
    if slope is None:
        return ""
    return "rising" if slope.low > 0 else "falling" if slope.high < 0 else "steady"


def _side(look: Look, follower: Follower, book: Book) -> Sequence[side_records.Weight | None]:
    """Filter cuts since the last sample, leak-downs and oil pressures so far, as known when this sample was taken."""
    now, since = look.sample.build_h, book.last_h
    book.last_h = now
    return side_records.weights(follower.build, follower.fleet.materials, since, now + 1e-6, follower.rules)


def _unknowns(
    look: Look, follower: Follower, suspects: Sequence[Suspect], rules: Rules, unseen: Sequence[Unseen]
) -> tuple[str, ...]:
    told = [*look.unknowns, *at_changes(look, follower.watch, rules)]
    if any(may_be_fuel(suspect.members[0], look, rules) for suspect in suspects):
        told.append("the fuel: none is on record for this build, and lead of leaded fuel looks the same")
    if not look.ceiling_own:
        told.append("what this build shed in break-in: no break-in sample, so it has no ceiling of its own")
    if look.sample.oil_h is None and look.sample.fill == "":
        told.append("which fill the sample is from")
    if look.sample.before_top_up is None:
        told.append("whether it was drawn before a top-up")
    hidden = too_late(unseen, rules)
    if hidden:
        told.append(f"{', '.join(hidden)}: what was measured cannot show their wear in time")
    if look.interval.leaded:
        told.append("what the bearings add to the lead: the fuel hides it")
    return tuple(told)

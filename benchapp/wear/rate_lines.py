"""The report's tables: a line for each group of parts and each other origin, a line for each element."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from benchapp.records import ElementRate, SourceRate
from benchapp.wear.ceiling import ceiling_of
from benchapp.wear.clusters import Clusters
from benchapp.wear.fading import PASSING, Nuisance
from benchapp.wear.interval_rates import Rates, hours_of
from benchapp.wear.ledger import NINETY
from benchapp.wear.look import Look
from benchapp.wear.split import Split

SEEN_Z = 1.645 + 1.282
"""Standard deviations at which an extra rate is seen in nine of ten cases at a 5 % false alarm."""


def source_lines(look: Look, rates: Rates, groups: Clusters, swing: float) -> tuple[SourceRate, ...]:
    """Rate of each line of the report, what dies away and fuel lead with them, the largest first; none where nothing
    was split. `swing`: how much normal rates vary (sd of a logarithm)."""
    if rates.split is None:
        return ()
    found = [*_part_lines(look, rates.split, groups, swing), *_fading_lines(look, rates, groups), *_fuel_lead(look)]
    lines: dict[str, SourceRate] = {}
    for line in found:
        known = lines.get(line.source)
        lines[line.source] = line if known is None else _added(known, line)
    return tuple(sorted(lines.values(), key=lambda line: -line.rate_mg_h))


def _added(line: SourceRate, more: SourceRate) -> SourceRate:
    """What a source sheds and the excess of it that dies away, as one."""
    low, high = line.low_mg_h + more.low_mg_h, line.high_mg_h + more.high_mg_h
    return replace(line, rate_mg_h=line.rate_mg_h + more.rate_mg_h, low_mg_h=low, high_mg_h=high)


def _part_lines(look: Look, found: Split, groups: Clusters, swing: float) -> list[SourceRate]:
    least, most = math.exp(-NINETY * swing), math.exp(NINETY * swing)
    member = groups.member
    variances = ((found.covariance @ member) * member).sum(axis=0).tolist()
    each = zip(
        groups.lines, (found.x @ member).tolist(), variances, (look.normal @ member).tolist(),
        _seen_from(look, groups), strict=True,
    )  # fmt: skip
    rates = []
    for line, x, variance, normal, seen_from in each:
        half = NINETY * math.sqrt(max(variance, 0.0))
        if not line.parts and x < half:
            continue
        rates.append(
            SourceRate(
                source=line.name,
                parts=line.parts,
                rate_mg_h=x,
                low_mg_h=max(x - half, 0.0),
                high_mg_h=x + half,
                normal_mg_h=normal,
                normal_low_mg_h=normal * least,
                normal_high_mg_h=normal * most,
                seen_from_mg_h=seen_from,
            )
        )
    return rates


def _fading_lines(look: Look, rates: Rates, groups: Clusters) -> list[SourceRate]:
    lines = []
    for one in rates.fading:
        half = NINETY * one.sd
        if one.rate > half and one.rate > 0.02 * look.interval.mass_kg:
            low, high = max(one.rate - half, 0.0), one.rate + half
            name, parts = _origin(one.nuisance, groups)
            if name:
                lines.append(SourceRate(name, parts, one.rate, low, high, None))
    return lines


def _origin(nuisance: Nuisance, groups: Clusters) -> tuple[str, tuple[str, ...]]:
    """What dies away, and its parts: of an excess that passes, the line of its source, or what it is called."""
    if nuisance.name != PASSING:
        return nuisance.name, ()
    lines = ((line.name, line.parts) for line in groups.lines if nuisance.source in line.columns)
    return next(lines, (nuisance.called, ()))


def _fuel_lead(look: Look) -> list[SourceRate]:
    if not look.interval.leaded or "Pb" not in look.observed:
        return []
    at = look.sources.elements.index("Pb")
    rate = float(look.interval.shed_mg[at]) / hours_of(look)
    sd = look.observed["Pb"].noise_sd * look.interval.mass_kg / hours_of(look)
    if not math.isfinite(rate) or rate < NINETY * sd:
        return []
    return [SourceRate("fuel lead", (), rate, max(rate - NINETY * sd, 0.0), rate + NINETY * sd, None)]


def _seen_from(look: Look, groups: Clusters) -> list[float | None]:
    """For each line the smallest extra rate that this interval would have shown in nine of ten cases [mg/h]."""
    read = np.array([e in look.observed for e in look.sources.elements])
    if look.interval.hours <= 0 or not read.any():
        return [None] * len(groups.lines)
    a = groups.mean[read] * (look.interval.hours / look.interval.mass_kg)
    covariance = look.surprise.covariance[read][:, read]
    information = (a * np.linalg.solve(covariance, a)).sum(axis=0).tolist()
    return [SEEN_Z / math.sqrt(one) if one > 0 else None for one in information]


def element_lines(look: Look, rates: Rates, swing: float) -> tuple[ElementRate, ...]:
    """Reading, rate, ceiling and normal of each element that was read."""
    found = rates.split
    least, most = math.exp(-NINETY * swing), math.exp(NINETY * swing)
    rate, sd, usual = rates.measured.rate.tolist(), rates.measured.sd.tolist(), look.rate.tolist()
    rest = [] if found is None else found.rest.tolist()
    lines = []
    for i, element in enumerate(look.sources.elements):
        one = look.observed.get(element)
        if one is None:
            continue
        known = found is not None and math.isfinite(rate[i])
        normal = max(usual[i], 0.0) if known else None
        lines.append(
            ElementRate(
                element=element,
                ppm=one.limit if one.qualifier == "<" else one.ppm,
                qualifier=one.qualifier,
                rate_mg_h=rate[i] if known else None,
                rate_se_mg_h=sd[i] if known else None,
                ceiling_ppm=ceiling_of(look, element),
                unexplained_mg_h=rest[i] if known else None,
                normal_mg_h=normal,
                normal_low_mg_h=None if normal is None else normal * least,
                normal_high_mg_h=None if normal is None else normal * most,
            )
        )
    return tuple(lines)

"""Exact permutation and eight-schools pooling against published data."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from benchapp.wear.change_effect import paired_permutation_p, permutation_p


def test_shoe_wear():
    # Box, Hunter and Hunter wear data (R package MASS, `shoes`): exact 7/1024 one-sided, 14/1024 two-sided
    a = np.array([13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3])
    b = np.array([14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6])
    one, two = paired_permutation_p(b - a)
    assert one == pytest.approx(7 / 1024)
    assert two == pytest.approx(14 / 1024)


def test_two_processes_by_ranks():
    # NIST/SEMATECH e-Handbook of Statistical Methods, section 7.3.5 (two processes, rank sums): rank sums 106 and 147,
    # B above A in 81 of 121 pairs; the p-value beside it is the library's own large-sample one
    a = np.array([0.55, 0.67, 0.43, 0.51, 0.48, 0.60, 0.71, 0.53, 0.44, 0.65, 0.75])
    b = np.array([0.49, 0.68, 0.59, 0.72, 0.67, 0.75, 0.65, 0.77, 0.62, 0.48, 0.59])
    ranks = stats.rankdata(np.concatenate([a, b]))
    assert (ranks[:11].sum(), ranks[11:].sum()) == (106.0, 147.0)
    assert (ranks[11:].sum() - 66) / 121 == pytest.approx(0.669421, abs=1e-6)
    p, _ = permutation_p(ranks[:11], ranks[11:])
    known = stats.mannwhitneyu(a, b, method="asymptotic", use_continuity=True).pvalue
    assert p == pytest.approx(known, abs=0.01)


def test_groundwater_before_and_after():
    # US EPA Unified Guidance 2009 (EPA 530/R-09-007), example 16-1; exact one-sided count 1 of 3003
    before = np.array([560, 530, 570, 490, 510, 550, 550, 530], dtype=float)
    after = np.array([600, 590, 590, 630, 610, 630], dtype=float)
    p, exact = permutation_p(before, after)
    assert exact
    # two-sided: the mirror grouping is no further out only if it exists; one of 3003 regroupings is as extreme
    assert p == pytest.approx(1 / 3003)

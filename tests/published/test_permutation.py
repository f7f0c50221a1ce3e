"""Exact permutation and eight-schools pooling against published data."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.wear.change_effect import paired_permutation_p, permutation_p


def test_shoe_wear():
    # Box, Hunter and Hunter wear data (R package MASS, `shoes`): exact 7/1024 one-sided, 14/1024 two-sided
    a = np.array([13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3])
    b = np.array([14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6])
    one, two = paired_permutation_p(b - a)
    assert one == pytest.approx(7 / 1024)
    assert two == pytest.approx(14 / 1024)


def test_groundwater_before_and_after():
    # US EPA Unified Guidance 2009 (EPA 530/R-09-007), example 16-1; exact one-sided count 1 of 3003
    before = np.array([560, 530, 570, 490, 510, 550, 550, 530], dtype=float)
    after = np.array([600, 590, 590, 630, 610, 630], dtype=float)
    p, exact = permutation_p(before, after)
    assert exact
    # two-sided: the mirror grouping is no further out only if it exists; one of 3003 regroupings is as extreme
    assert p == pytest.approx(1 / 3003)

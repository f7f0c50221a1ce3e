"""One build followed sample by sample: what the sump should hold now, and which fault would explain it better.

State: concentrations c [ppm] of the measured elements, and rates θ [mg/h]: the engine's own settled rate per element,
then amplitudes of what decays with hours (run-in, sealant, copper leaching). Everything is Gaussian and linear between
samples, so this is a Kalman filter; drains, top-ups and runs are its steps. Beside it runs a bank of hypotheses, each
"source s began to shed more at hour o": the response of the filter's own surprises to each of them is followed exactly,
so a fault that the expected rate has half learned is still seen for what it is (generalised likelihood ratio of a
linear filter; A. S. Willsky and H. L. Jones, IEEE Trans. Automatic Control 21 (1976) 108-112, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri

Array = NDArray[np.float64]

STEP, RAMP, BLIP, CURVE, FADE = 0, 1, 2, 3, 4
SHAPES = 5
"""Shapes of an extra rate: constant from its onset, growing in proportion to hours, in one interval only, growing with
the square of hours, fading away with `FADE_H`."""

FADE_H = 4.0
"""Hours in which a harmless excess fades to a third [h] (chosen: a splash of coolant, a part that beds in)."""

_MISSING = 1e9


@dataclass(frozen=True, slots=True)
class Nuisance:
    """An amplitude that sheds along `direction` [mg of element per mg] and decays: e^(−(t − since)/decay_h)."""

    name: str
    direction: Array
    decay_h: float
    mean: float
    sd: float
    since_h: float = 0.0

    def mean_profile(self, start_h: float, hours: float) -> float:
        """Mean of the decay over a run [-]."""
        a, b = start_h - self.since_h, start_h + hours - self.since_h
        if b <= 0:
            return 0.0
        a = max(a, 0.0)
        return self.decay_h / hours * (math.exp(-a / self.decay_h) - math.exp(-b / self.decay_h))


@dataclass(frozen=True, slots=True)
class Surprise:
    """What a sample said against what was expected before it."""

    expected: Array
    """Expected reading [ppm]."""
    difference: Array
    """Reading − expected [ppm], zero where nothing was read."""
    covariance: Array
    """Of the difference [ppm²]."""
    chi_square: float
    read: int
    log_density: float
    """Log of the Gaussian density of the difference, up to what does not depend on the covariance."""
    white: Array
    """What makes the difference white: the inverse of the covariance's lower root."""


def per_spread(spreads: Array, units: Array) -> Array:
    """Covariance that the spreads add: the sum of their squares times their units (spreads × E × E)."""
    return np.asarray(((spreads**2) @ units.reshape(len(spreads), -1)).reshape(units.shape[1:]))


def _whitening(covariance: Array) -> tuple[Array, Array]:
    """(inverse of the lower root L of a covariance L L', diagonal of L). Raises LinAlgError where it is none.

    Straight from LAPACK: the checks around it cost several times what so small a matrix does."""
    root, failed = dpotrf(covariance, lower=1, clean=1)
    if failed:
        raise np.linalg.LinAlgError("a covariance is not positive definite")
    inverse, _ = dtrtri(root, lower=1)
    return np.asarray(inverse), np.asarray(root.diagonal())


class Watch:
    """The filter and the bank of one build. Arrays are elements × …; see the module's docstring for the state."""

    def __init__(
        self,
        rate: Array,
        rate_covariance: Array,
        nuisances: Sequence[Nuisance],
        directions: Array,
        onsets: int,
    ) -> None:
        """`rate` [mg/h] and its covariance: the prior of the settled rates; `directions`: elements × sources."""
        count, sources = directions.shape
        self.count = count
        self.nuisances = list(nuisances)
        self.directions = directions
        self.c = np.zeros(count)
        self.cc = np.zeros((count, count))
        states = count + len(self.nuisances)
        self.theta = np.concatenate([rate, [n.mean for n in self.nuisances]])
        self.tt = np.zeros((states, states))
        self.tt[:count, :count] = rate_covariance
        for i, nuisance in enumerate(self.nuisances):
            self.tt[count + i, count + i] = nuisance.sd**2
        self.ct = np.zeros((count, states))
        self.loosened = np.zeros(count)
        """Variance by which the rates have been let go since the build began [mg²/h²]."""
        self.units = np.zeros((2, count, count))
        """What the two spreads have added to the covariance of c since the last sample, per unit of squared spread."""
        # the bank: slot (which interval it began in) × shape × source, flattened
        # its last column is no source but the whole engine: a hard session, which is a blip only
        sources += 1
        directions = np.hstack([directions, np.zeros((count, 1))])
        self.onsets, self.sources = onsets, sources
        self.hard = np.flatnonzero(np.tile(np.arange(sources), onsets * SHAPES) == sources - 1)
        shapes = SHAPES
        self.slot = np.repeat(np.arange(onsets), shapes * sources)
        self.shape = np.tile(np.repeat(np.arange(shapes), sources), onsets)
        self.source = np.tile(np.arange(sources), onsets * shapes)
        size = onsets * shapes * sources
        self.pull = directions[:, self.source]
        self.real = np.zeros((count, size))
        self.seen_c = np.zeros((count, size))
        self.seen_t = np.zeros((states, size))
        self.information = np.zeros(size)
        self.score = np.zeros(size)
        self.age_h = np.full(onsets, -1.0)
        """Running hours since each slot's onset [h]; below zero for a slot not in use."""
        self.span_h = np.zeros(onsets)
        self.early = np.zeros(onsets)
        """Healthy intervals that were known when each slot began."""
        """Hours of the interval in which the slot began [h]."""
        self.current = -1

    # --- steps between samples

    def begin_interval(self, history: int) -> None:
        """Opens a new slot of the bank, over the oldest one: a fault may begin in the interval that starts now."""
        self.units[:] = 0.0
        self.current = (self.current + 1) % self.onsets
        each = SHAPES * self.sources
        at = slice(self.current * each, (self.current + 1) * each)
        for block in (self.real, self.seen_c, self.seen_t):
            block[:, at] = 0.0
        self.information[at] = 0.0
        self.score[at] = 0.0
        mine = self.hard[self.slot[self.hard] == self.current]
        self.pull[:, mine] = np.maximum(self.rate, 0.0)[:, None]
        self.age_h[self.current] = 0.0
        self.span_h[self.current] = 0.0
        self.early[self.current] = history

    def run(
        self,
        start_h: float,
        hours: float,
        mass_kg: float,
        noise: Array,
        units: Array,
        spreads: Array,
        factor: float = 1.0,
    ) -> None:
        """A running step. `noise` is the covariance of what the step sheds beside the expected [mg²/h²], `units` (2, E,
        E) what the two spreads add to it per unit of squared spread, `spreads` their values [-]."""
        gain = hours / mass_kg
        count = self.count
        extra = [n.direction * n.mean_profile(start_h, hours) for n in self.nuisances]
        b = np.hstack([np.eye(count) * factor, np.array(extra).T.reshape(count, len(extra))]) * gain
        noise = noise + per_spread(spreads, units)
        self.units += gain * gain * units
        bt = b @ self.tt
        cross = self.ct @ b.T
        self.c = self.c + b @ self.theta
        self.cc = self.cc + cross + cross.T + bt @ b.T + gain * gain * noise
        self.ct = self.ct + bt
        self.seen_c += b @ self.seen_t
        self._shed(hours, mass_kg)

    def _shed(self, hours: float, mass_kg: float) -> None:
        live = self.age_h >= 0
        grown = np.zeros((self.onsets, SHAPES))
        grown[:, STEP] = hours
        grown[:, RAMP] = self.age_h * hours + hours * hours / 2.0
        grown[:, CURVE] = ((self.age_h + hours) ** 3 - self.age_h**3) / 3.0
        grown[:, FADE] = FADE_H * (np.exp(-self.age_h / FADE_H) - np.exp(-(self.age_h + hours) / FADE_H))
        grown[self.current, BLIP] = hours
        grown[~live] = 0.0
        self.real += self.pull * np.repeat(grown.ravel() / mass_kg, self.sources)
        self.age_h[live] += hours
        self.span_h[self.current] += hours

    def dilute(self, share: float, fresh: Array, fresh_sd: Array, share_error: float = 0.0) -> None:
        """A part `share` of the sump becomes fresh oil (top-up, or drain and refill with its carry-over's error)."""
        kept = 1.0 - share
        old = self.c - fresh
        known = np.isfinite(old)
        self.c = kept * self.c + share * np.where(known, fresh, self.c)
        self.cc = kept * kept * self.cc + np.diag((share * fresh_sd) ** 2)
        if share_error > 0:
            direction = np.where(known, old, 0.0) * share_error
            self.cc += np.outer(direction, direction)
        self.ct *= kept
        self.units *= kept * kept
        self.real *= kept
        self.seen_c *= kept

    def hear(self, rows: Array, value: Array, variance: Array) -> None:
        """Takes word from elsewhere of what the settled rates should be: rows @ rate = value ± variance (a covariance).

        It tells of the sound engine, so a fault has no share in it: what the rates have learned of a fault by mistake
        shows against it, in every hypothesis of the bank. `rows`: n × elements, `value` n [mg/h]."""
        h = np.hstack([rows, np.zeros((len(rows), len(self.nuisances)))])
        th, chh = self.tt @ h.T, self.ct @ h.T
        factor = cho_factor(h @ th + variance, lower=True, check_finite=False)
        innovation = value - h @ self.theta
        gap = -(h @ self.seen_t)
        weighted = cho_solve(factor, np.column_stack([innovation, gap]), check_finite=False)
        gain_t = cho_solve(factor, th.T, check_finite=False).T
        gain_c = cho_solve(factor, chh.T, check_finite=False).T
        self.information += np.einsum("ij,ij->j", gap, weighted[:, 1:])
        self.score += innovation @ weighted[:, 1:]
        self.seen_t += gain_t @ gap
        self.seen_c += gain_c @ gap
        self.theta = self.theta + gain_t @ innovation
        self.c = self.c + gain_c @ innovation
        self.cc = self.cc - gain_c @ chh.T
        self.ct = self.ct - gain_c @ th.T
        lost = gain_t @ th.T
        self.tt = self.tt - (lost + lost.T) / 2.0

    def loosen(self, variance: Array) -> None:
        """Rates may have moved [mg²/h² per element]: ageing, or a change of oil, tune or part."""
        index = np.arange(self.count)
        self.tt[index, index] += variance
        self.loosened += variance

    def blur(self, variance: Array) -> None:
        """Concentrations are less known by so much [ppm²]."""
        index = np.arange(self.count)
        self.cc[index, index] += variance

    # --- a sample

    def expect(self, reading: Array, variance: Array, gain: Array) -> Surprise:
        """Compares a sample with what was expected; NaN readings were not taken.

        `gain` [ppm] is what the whole sample may be read too high or too low by, all elements together (one standard
        deviation): how much of it reached the flame."""
        missing = ~np.isfinite(reading)
        difference = np.where(missing, 0.0, reading - self.c)
        common = np.where(missing, 0.0, gain)
        covariance = self.cc + np.outer(common, common) + np.diag(np.where(missing, _MISSING, variance))
        white, diagonal = _whitening(covariance)
        scaled = white @ difference
        chi_square = float(scaled @ scaled)
        logdet = 2.0 * float(np.log(diagonal)[~missing].sum())
        read, density = int((~missing).sum()), -0.5 * (chi_square + logdet)
        return Surprise(self.c.copy(), difference, covariance, chi_square, read, density, white)

    def foretaste(self, surprise: Surprise) -> tuple[Array, Array]:
        """Information and score of every hypothesis if the sample were taken; nothing is changed."""
        white = surprise.white
        gap = white @ (self.real - self.seen_c)
        return self.information + (gap * gap).sum(axis=0), self.score + (white @ surprise.difference) @ gap

    def anchor(self, mask: Array, reading: Array, variance: Array) -> None:
        """Takes these concentrations as they are read and forgets what was expected of them."""
        self.c = np.where(mask, reading, self.c)
        keep = 1.0 - np.asarray(mask, dtype=float)
        self.cc = self.cc * np.outer(keep, keep) + np.diag(np.where(mask, variance, 0.0))
        self.ct = self.ct * keep[:, None]

    def take(self, surprise: Surprise) -> None:
        """Learns from a sample: state, covariance and every hypothesis of the bank."""
        white = surprise.white
        difference, gap = white @ surprise.difference, white @ (self.real - self.seen_c)
        known_c, known_t = white @ self.cc, white @ self.ct
        self.information += (gap * gap).sum(axis=0)
        self.score += difference @ gap
        self.seen_c += known_c.T @ gap
        self.seen_t += known_t.T @ gap
        self.c = self.c + known_c.T @ difference
        self.theta = self.theta + known_t.T @ difference
        self.tt = self.tt - known_t.T @ known_t
        self.ct = self.ct - known_c.T @ known_t
        self.cc = self.cc - known_c.T @ known_c

    @property
    def rate(self) -> Array:
        """Settled rate per element, as known now [mg/h]; may be slightly negative for what is not there."""
        return np.asarray(self.theta[: self.count])

    @property
    def rate_covariance(self) -> Array:
        return np.asarray(self.tt[: self.count, : self.count])

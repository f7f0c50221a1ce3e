"""One build followed sample by sample: what the sump should hold now, and which fault would explain it better.

State: concentrations c [ppm] of the measured elements, and rates θ [mg/h]: the engine's own settled rate per element,
then amplitudes of what decays with hours (run-in, sealant, copper leaching, an excess that is certain and fades).
Everything is Gaussian and linear between samples, so this is a Kalman filter; drains, top-ups and runs are its steps.
Beside it runs a bank of hypotheses, each
"source s began to shed more at hour o": the response of the filter's own surprises to each of them is followed exactly,
so a fault that the expected rate has half learned is still seen for what it is (generalised likelihood ratio of a
linear filter; A. S. Willsky and H. L. Jones, IEEE Trans. Automatic Control 21 (1976) 108-112, from memory).
"""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.fading import CARRY_OVER, COPPER, FRESH, PASSING, REFILL, SEALANT, Nuisance
from benchapp.wear.hypotheses import BLIP, CURVE, FADE, RAMP, SHAPES, STEP, Origins, columns_of
from benchapp.wear.noise import truncated
from benchapp.wear.slots import RECENT, Slots
from benchapp.wear.surprise import Known, Surprise, whitening
from benchapp.wear.working_memory import product, room

Array = NDArray[np.float64]

_MISSING = 1e9

_HELD = 8
"""Passing excesses that are held to be true at once, at most; the one asked for longest ago is let go."""

_ABOUT = 0.15
"""Share by which what is fading may stray from its curve in an interval (chosen)."""

_BELOW = 0.5
"""Standard deviations below zero from which a rate is clearly below it (chosen)."""

_FAR_BELOW = 5.0
"""Standard deviations that it counts as below zero at most: what is further down is a model gone wrong (chosen)."""

_NO_LIMIT = 1e9

_ABOVE = (SEALANT, COPPER)
"""Decays that shed from the first start and take nothing up (run-in is a share of rates, and may begin slower)."""

_OVER_H = 6.0
"""Times its decay after which nothing of it is left to speak of."""


def per_spread(spreads: Array, units: Array) -> Array:
    """Covariance that the spreads add: the sum of their squares times their units (spreads × E × E)."""
    return np.asarray(((spreads**2) @ units.reshape(len(spreads), -1)).reshape(units.shape[1:]))


class Watch:
    """The filter and the bank of one build. Arrays are elements × …; see the module's docstring for the state."""

    def __init__(
        self, rate: Array, rate_covariance: Array, nuisances: Sequence[Nuisance], origins: Origins, onsets: int
    ) -> None:
        """`rate` [mg/h] and its covariance: the prior of the settled rates; `origins`: where an extra rate may come
        from; `onsets`: how many of its beginnings are kept in view, beside the build's first hour."""
        self.count = count = len(rate)
        self.nuisances = list(nuisances)
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
        self._begin_bank(origins, onsets, states)
        self.now_h = 0.0
        """Hours of the build."""

    def _begin_bank(self, origins: Origins, onsets: int, states: int) -> None:
        self.columns = columns_of(origins, onsets)
        """Which hypothesis each column of the bank is."""
        size = len(self.columns.slot)
        self.directions = origins.directions()
        """Elements × sources."""
        self.directions.setflags(write=False)
        self.lasting = self.columns.lasting
        """Innocent columns that may be true beside a fault; behind those for every build, what `hold` has added."""
        self.always = len(self.lasting)
        self.pull = self.directions[:, self.columns.source]
        self.amount = np.zeros(size)
        """What of each hypothesis is in the sump now, per unit of its amplitude: pull × amount [ppm]."""
        self.seen_c = np.zeros((self.count, size))
        self.seen_t = np.zeros((states, size))
        self.information = np.zeros(size)
        self.score = np.zeros(size)
        self.shared = np.zeros((len(self.lasting), size))
        """Information that a lasting column has in common with every other."""
        self.recent: list[tuple[int, Array, float]] = []
        """(interval, white gap of all hypotheses, sign) of the messages of the latest intervals, as they came: a column
        whose slot was opened after a message has no part in it. Minus: what became part of the state then, and tells of
        the others no more."""
        self.slots = Slots(self.columns.slots)
        """In which intervals they begin."""
        self.cleared = np.zeros(size, dtype=bool)
        """Hypotheses that a look inside has ruled out, or that are in the state; what begins later is judged anew."""

    def copy(self) -> Watch:
        """One that goes on by itself. Arrays that cannot be written to are shared."""
        other = copy.copy(self)
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray) and value.flags.writeable:
                setattr(other, name, value.copy(order="K"))
        other.slots = self.slots.copy()
        other.nuisances, other.recent = list(self.nuisances), list(self.recent)
        return other

    def __deepcopy__(self, memo: object) -> Watch:
        return self.copy()

    # --- steps between samples

    def begin_interval(self, history: int) -> None:
        """Opens a new slot of the bank, over one that is spared most easily: a fault may begin in this interval."""
        self.units[:] = 0.0
        self._let_stray()
        self.slots.begin(history)
        slot, hard, current = self.columns.slot, self.columns.hard, self.slots.current
        at = self.columns.of_slot(current)
        self._let_go(slot[self.lasting[self.always :]] == current)
        self.recent = [message for message in self.recent if message[0] > self.slots.intervals - RECENT]
        for block in (self.seen_c, self.seen_t, self.shared):
            block[:, at] = 0.0
        self.shared[slot[self.lasting] == current] = 0.0
        self.amount[at] = self.information[at] = self.score[at] = 0.0
        self.cleared[at] = False
        self.pull[:, hard[slot[hard] == current]] = np.maximum(self.rate, 0.0)[:, None]

    def hold(self, asked: NDArray[np.intp]) -> None:
        """From now on these passing excesses may be true and a fault beside them.

        What they share with all others is worked out from the messages since they began: one that began before the
        latest intervals is not held."""
        slot, opened = self.columns.slot, self.slots.opened
        lasting, shared = self.lasting.tolist(), list(self.shared)
        late = self.slots.intervals - opened[slot[asked]] < RECENT
        for column in asked[self.columns.passing[asked] & (late | np.isin(asked, self.lasting))].tolist():
            if column in lasting:
                self._as_last(lasting, shared, column)
                continue
            if len(lasting) >= self.always + _HELD:
                del lasting[self.always], shared[self.always]
            row = np.zeros(len(slot))
            for interval, gap, sign in self.recent:
                if interval >= opened[slot[column]]:
                    row += np.where(opened <= interval, sign, 0.0)[slot] * (gap[:, column] @ gap)
            lasting.append(column)
            shared.append(row)
        if lasting != self.lasting.tolist():
            self.lasting, self.shared = np.array(lasting), np.array(shared)

    def _as_last(self, lasting: list[int], shared: list[Array], column: int) -> None:
        """One that is held and asked for again is let go last."""
        at = lasting.index(column)
        if at >= self.always:
            lasting.append(lasting.pop(at))
            shared.append(shared.pop(at))

    def may_settle(self, column: int) -> bool:
        """Whether it is a passing excess, of one source or of the whole engine, that began before this interval.

        What a leak would show as well never settles: that it fades is weighed against the leak at every sample."""
        slot, passing = self.columns.slot[column], self.columns.brief[column] and not self.columns.leak_alike[column]
        return bool(passing and column in self.lasting and slot not in (self.slots.whole, self.slots.current))

    def age_of(self, column: int) -> float:
        """Running hours since the onset of a hypothesis [h]."""
        return float(self.slots.age_h[self.columns.slot[column]])

    def settle(self, column: int, scale: float) -> None:
        """Takes a lasting passing excess for a fact: its amplitude, as far as it is known, goes into the state, and
        everything else is weighed beside it from now on.

        The conditioning of `Known.given`, done once for good, state and all: so the state does not drift away from what
        is in the sump, and nothing is forgotten when the slot of the excess is given up."""
        row = int(np.flatnonzero(self.lasting == column)[0])
        beside = self.known.given(row, scale)
        _, along, total = beside.told[-1]
        mean, variance = float(self.score[column]) / total, 1.0 / total
        away_c = self.pull[:, column] * self.amount[column] - self.seen_c[:, column]
        away_t = -self.seen_t[:, column]
        told = along / total  # what of its amplitude each other hypothesis would be taken for
        if self.columns.shape[column] == FADE:
            self._goes_on(column)
            away_t = np.append(away_t, 1.0)
        self.c = self.c + mean * away_c
        self.theta = self.theta + mean * away_t
        self.cc = self.cc + variance * np.outer(away_c, away_c)
        self.ct = self.ct + variance * np.outer(away_c, away_t)
        self.tt = self.tt + variance * np.outer(away_t, away_t)
        self.seen_c += np.outer(away_c, told)
        self.seen_t += np.outer(away_t, told)
        self.information, self.score = beside.information, beside.score
        self.shared = self.shared - np.outer(self.shared[:, column], told)
        self.information[column] = self.score[column] = self.amount[column] = 0.0
        self.seen_c[:, column] = self.seen_t[:, column] = self.shared[:, column] = 0.0
        self.shared[row] = 0.0
        self.cleared[column] = True
        if row >= self.always:
            self._let_go(self.lasting[self.always :] == column)
        self.recent.append((self.slots.intervals, (along / math.sqrt(total))[None, :], -1.0))

    def _goes_on(self, column: int) -> None:
        """What fades sheds on: its amplitude is one more state, zero and certain until it is told otherwise."""
        source, columns = int(self.columns.source[column]), self.columns
        onset_h = self.now_h - float(self.slots.age_h[columns.slot[column]])
        called = columns.harmless[source - columns.suspects].called if source >= columns.suspects else ""
        fade_h, direction = float(columns.fade_h[source]), self.pull[:, column].copy()
        self.nuisances.append(Nuisance(PASSING, direction, fade_h, 0.0, 0.0, onset_h, source, called))
        self.theta = np.append(self.theta, 0.0)
        self.tt = np.pad(self.tt, ((0, 1), (0, 1)))
        self.ct = np.pad(self.ct, ((0, 0), (0, 1)))
        self.seen_t = np.pad(self.seen_t, ((0, 1), (0, 0)))

    def _let_stray(self) -> None:
        """What is fading does so about as it should, not just so; what has faded is no longer a state."""
        count = self.count
        for i in reversed(range(len(self.nuisances))):
            one, at = self.nuisances[i], count + i
            if one.name != PASSING:
                continue
            self.tt[at, at] += (_ABOUT * self.theta[at]) ** 2
            if self.now_h - one.since_h > _OVER_H * one.decay_h:
                del self.nuisances[i]
                self.theta = np.delete(self.theta, at)
                self.tt = np.delete(np.delete(self.tt, at, axis=0), at, axis=1)
                self.ct, self.seen_t = np.delete(self.ct, at, axis=1), np.delete(self.seen_t, at, axis=0)

    def _let_go(self, held: NDArray[np.bool_]) -> None:
        """Some of the passing excesses that were held are held no longer."""
        if held.any():
            kept = np.append(np.ones(self.always, dtype=bool), ~held)
            self.lasting, self.shared = self.lasting[kept], self.shared[kept]

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
        self.seen_c += product("c", b, self.seen_t)
        self._shed(hours, mass_kg)
        self.now_h = start_h + hours

    def _shed(self, hours: float, mass_kg: float) -> None:
        slots, fade_h = self.slots, self.columns.fade_h
        age = slots.age_h[:, None]
        grown = np.zeros((self.columns.slots, SHAPES, self.columns.sources))
        grown[:, STEP] = hours
        grown[:, RAMP] = age * hours + hours * hours / 2.0
        grown[:, CURVE] = ((age + hours) ** 3 - age**3) / 3.0
        grown[:, FADE] = fade_h * (np.exp(-age / fade_h) - np.exp(-(age + hours) / fade_h))
        grown[slots.current, BLIP] = hours
        grown[slots.whole, BLIP] = 0.0
        grown[slots.age_h < 0] = 0.0
        self.amount += grown.ravel() / mass_kg
        slots.run(hours)

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
        self.amount *= kept
        self.seen_c *= kept

    def drain(self, left: float, error: float, fresh: Array, fresh_sd: Array) -> None:
        """Drain and refill: a share `left` ± `error` of the old oil stays, by the kind of drain. How much more or
        less in this build at every drain is a state, and so is what the fresh oil holds more and takes up at once.

        The share that stays times what is in it is no linear model: it is made one about what is known now."""
        carry = self._state(CARRY_OVER)
        new = fresh + self._more()
        old = np.where(np.isfinite(fresh), self.c - new, 0.0)
        kept = left * max(1.0 + float(self.theta[carry]), 0.1)
        own = left * self.nuisances[carry - self.count].sd
        self.dilute(1.0 - kept, new, fresh_sd, math.sqrt(max(error**2 - own**2, (0.3 * error) ** 2)))
        self._add_along(carry, left * old)
        for at, direction in self.states(REFILL):
            self.c = self.c + direction * self.theta[at]
            self._add_along(at, direction)
        self._add_more(1.0 - kept)

    def first_fill(self, fresh: Array, variance: Array) -> None:
        """A dry engine is filled: nothing of before is in it. `fresh` and its variance [ppm, ppm²]."""
        self.empty()
        self.c = np.where(np.isfinite(fresh), fresh, 0.0) + self._more()
        self.cc = np.diag(variance)
        self._add_more(1.0)

    def _more(self) -> Array:
        """What this oil holds more, when new, than is known of it [ppm]."""
        found = np.zeros(self.count)
        for at, direction in self.states(FRESH):
            found += direction * self.theta[at]
        return found

    def _add_more(self, share: float) -> None:
        """How sure that is goes into the concentrations, with the new oil's share of the sump."""
        for at, direction in self.states(FRESH):
            if self.tt[at, at] > 0.0:
                self._add_along(at, share * direction)

    def new_oil(self, sd: Array) -> None:
        """An oil that was not in this build before. By how much more it holds than is known of it: zero ± sd [ppm]."""
        for at, direction in self.states(FRESH):
            self.theta[at] = 0.0
            self.tt[at] = self.tt[:, at] = self.ct[:, at] = self.seen_t[at] = 0.0
            self.tt[at, at] = float(direction @ sd**2)

    def same_oil(self, sd: Array) -> None:
        """The same oil again, perhaps of another batch: what it holds more may have changed by ± sd [ppm]."""
        for at, direction in self.states(FRESH):
            self.tt[at, at] += float(direction @ sd**2)

    def _state(self, name: str) -> int:
        """Place in the state of what a build has once."""
        return next(at for at, _ in self.states(name))

    def states(self, name: str) -> list[tuple[int, Array]]:
        """(place in the state, direction) of all of a name."""
        return [(self.count + i, one.direction) for i, one in enumerate(self.nuisances) if one.name == name]

    def _add_along(self, state: int, direction: Array) -> None:
        """The concentrations get `direction` times a state [ppm]: what is not known of it is not known of them."""
        cross = np.outer(direction, self.ct[:, state])
        self.cc = self.cc + cross + cross.T + np.outer(direction, direction) * self.tt[state, state]
        self.ct = self.ct + np.outer(direction, self.tt[state])
        self.seen_c += np.outer(direction, self.seen_t[state])

    def hear(self, rows: Array, value: Array, variance: Array) -> None:
        """Takes word from elsewhere of what the settled rates should be: rows @ rate = value ± variance (a covariance).

        It tells of the sound engine, so a fault has no share in it: what the rates have learned of a fault by mistake
        shows against it, in every hypothesis of the bank. `rows`: n × elements, `value` n [mg/h]."""
        self._hear(np.hstack([rows, np.zeros((len(rows), len(self.nuisances)))]), value, variance)

    def _hear(self, h: Array, value: Array, variance: Array) -> None:
        """The same of all states. `h`: n × states."""
        known_t, known_c = h @ self.tt, h @ self.ct.T
        white, _ = whitening(known_t @ h.T + variance)
        difference, gap = white @ (value - h @ self.theta), -(white @ (h @ self.seen_t))
        self._learn(gap, self._told(gap, difference))
        self._move(difference, gap, white @ known_c, white @ known_t)

    def loosen(self, variance: Array) -> None:
        """Rates may have moved [mg²/h² per element]: ageing, or a change of oil, tune or part."""
        index = np.arange(self.count)
        self.tt[index, index] += variance
        self.loosened += variance

    def empty(self) -> None:
        """Nothing of what was shed before is in the sump: the first fill on record, whatever ran before it."""
        self.ct[:] = 0.0
        self.seen_c[:] = 0.0
        self.amount[:] = 0.0

    def clear(self, source: int, sd: float) -> None:
        """Someone looked and found this source sound: what it has shed more until now is the engine's own way.

        Its rate is let go by `sd` [mg/h], so that the filter learns the new level; growth from here on is new."""
        self.cleared |= self.columns.source == source
        column = self.directions[:, source] * sd
        self.tt[: self.count, : self.count] += np.outer(column, column)

    def silence(self, mask: NDArray[np.bool_], sd: float) -> None:
        """Nothing is known of these rates any more and nothing will be learned: zero ± sd [mg/h]."""
        rates = np.flatnonzero(mask)
        self.theta[rates] = 0.0
        self.tt[rates, :] = self.tt[:, rates] = self.ct[:, rates] = 0.0
        self.tt[rates, rates] = sd * sd
        self.seen_t[rates] = 0.0

    def blur(self, variance: Array) -> None:
        """Concentrations are less known by so much [ppm²]."""
        index = np.arange(self.count)
        self.cc[index, index] += variance

    # --- a sample

    def expect(self, reading: Array, variance: Array, gain: Array) -> Surprise:
        """Compares a sample with what was expected; NaN readings were not taken.

        `gain` [ppm] is what the whole sample may be read too high or too low by, all elements together (one standard
        deviation): how much of it reached the flame; one column for each such cause."""
        missing = ~np.isfinite(reading)
        difference = np.where(missing, 0.0, reading - self.c)
        common = np.where(missing[:, None], 0.0, gain.reshape(len(missing), -1))
        covariance = self.cc + common @ common.T + np.diag(np.where(missing, _MISSING, variance))
        white, diagonal = whitening(covariance)
        scaled = white @ difference
        chi_square = float(scaled @ scaled)
        logdet = 2.0 * float(np.log(diagonal)[~missing].sum())
        read, density = int((~missing).sum()), -0.5 * (chi_square + logdet)
        return Surprise(self.c.copy(), difference, covariance, chi_square, read, density, white)

    def foretaste(self, surprise: Surprise, hidden: NDArray[np.bool_] | None = None) -> Known:
        """What every hypothesis would be worth if the sample were taken; nothing is changed.

        `hidden`: elements that the oil holds much of. Another can of it or another calibration moves them by more than
        any part sheds, and stays: they speak for no hypothesis and against none."""
        return self._told(self._gap(surprise.white, hidden).copy(), surprise.white @ surprise.difference)

    @property
    def known(self) -> Known:
        """What every hypothesis is worth by the samples taken."""
        return Known(self.information, self.score, self.shared, self.lasting)

    def _gap(self, white: Array, hidden: NDArray[np.bool_] | None) -> Array:
        """What each hypothesis would show in a sample beyond what the filter has taken for normal, made white."""
        gap = np.multiply(self.pull, self.amount, out=room("c", self.pull.shape))
        gap -= self.seen_c
        if hidden is not None:
            gap[hidden] = 0.0
        return product("gap", white, gap)

    def _told(self, gap: Array, difference: Array) -> Known:
        """What every hypothesis would be worth with one more message, its gap and difference made white."""
        information = self.information + np.einsum("ij,ij->j", gap, gap)
        return Known(information, self.score + difference @ gap, self.shared, self.lasting, gap)

    def _learn(self, gap: Array, told: Known) -> None:
        """Every hypothesis is worth what a message `told`, with its white gap."""
        self.information, self.score = told.information, told.score
        self.shared += product("shared", gap[:, self.lasting].T, gap)
        gap.setflags(write=False)
        self.recent.append((self.slots.intervals, gap, 1.0))

    def anchor(self, mask: Array, reading: Array, variance: Array) -> None:
        """Takes these concentrations as they are read and forgets what was expected of them."""
        self.c = np.where(mask, reading, self.c)
        keep = 1.0 - np.asarray(mask, dtype=float)
        self.cc = self.cc * np.outer(keep, keep) + np.diag(np.where(mask, variance, 0.0))
        self.ct = self.ct * keep[:, None]

    def take(self, surprise: Surprise, tasted: Known | None = None) -> None:
        """Learns from a sample: state, covariance and every hypothesis of the bank.

        `tasted`: its foretaste, where it was asked for and no step has been walked since."""
        white = surprise.white
        told = tasted or self.foretaste(surprise)
        assert told.gap is not None
        self._learn(told.gap, told)
        self._move(white @ surprise.difference, told.gap, white @ self.cc, white @ self.ct)
        self.keep_above_zero()

    def _move(self, difference: Array, gap: Array, known_c: Array, known_t: Array) -> None:
        """The state after a message: difference, gap of the hypotheses and covariances with the state, made white."""
        self.seen_c += product("c", known_c.T, gap)
        self.seen_t += product("t", known_t.T, gap)
        self.c = self.c + known_c.T @ difference
        self.theta = self.theta + known_t.T @ difference
        self.tt = self.tt - known_t.T @ known_t
        self.ct = self.ct - known_c.T @ known_t
        self.cc = self.cc - known_c.T @ known_c

    def keep_above_zero(self) -> None:
        """Metal is not taken up: a settled rate that has come out clearly below zero is moved to where it can be.

        An equivalent reading of it, as of a value between limits."""
        decays = [self.count + i for i, one in enumerate(self.nuisances) if one.name in _ABOVE]
        for at in (*range(self.count), *decays):
            mean, variance = float(self.theta[at]), float(self.tt[at, at])
            deviation = math.sqrt(max(variance, 0.0))
            if mean >= -_BELOW * deviation:
                continue
            about = max(mean, -_FAR_BELOW * deviation)
            value, width = truncated(about, variance, _NO_LIMIT)
            value += (about - mean) * width / variance  # so that it ends where it would from `about`
            h = np.zeros((1, len(self.theta)))
            h[0, at] = 1.0
            self._hear(h, np.array([value]), np.array([[width]]))

    @property
    def rate(self) -> Array:
        """Settled rate per element, as known now [mg/h]; may be slightly negative for what is not there."""
        return np.asarray(self.theta[: self.count])

    @property
    def rate_covariance(self) -> Array:
        return np.asarray(self.tt[: self.count, : self.count])

"""A build followed to its last sample and kept there, so that the call of one more sample costs one sample.

While a sample is typed its call is asked for again and again; what came before it does not change meanwhile.
"""

from __future__ import annotations

import copy
from dataclasses import replace

from benchapp.records import Build, Call, Engine, Fleet
from benchapp.wear.decide import call_for
from benchapp.wear.elements import measured_elements
from benchapp.wear.follow import Follower
from benchapp.wear.judge import FamilyPriors
from benchapp.wear.report import Book
from benchapp.wear.rules import Rules
from benchapp.wear.timeline import SampleStep, timeline


class Latest:
    """A build as it is known after its last sample. `with_next` leaves it as it is."""

    def __init__(self, engine: Engine, build: Build, fleet: Fleet, rules: Rules, priors: FamilyPriors) -> None:
        self._build, self._rules = build, rules
        self._follower = Follower(engine, build, fleet, rules, priors.apart(engine, build), priors.spread.copy())
        self._book = Book()
        steps = self._follower.time.steps
        places = [place for place, step in enumerate(steps) if isinstance(step, SampleStep)]
        self._past = steps[: places[-1] + 1] if places else ()
        for _ in places:
            look = self._follower.next_look()
            assert look is not None
            call_for(look, self._follower, rules, self._book)

    def with_next(self, build: Build, fleet: Fleet) -> Call | None:
        """The call of the last sample of `build`, which is else the build that was followed. `fleet`: with it.

        None where that sample is not simply the next one (it comes earlier, or brings an element that was not measured
        before): the build must then be followed anew."""
        kept = self._follower
        time = timeline(build, kept.family, fleet.oils, self._rules)
        if (
            replace(build, samples=build.samples[:-1]) != self._build
            or time.steps[: len(self._past)] != self._past
            or sum(isinstance(step, SampleStep) for step in time.steps[len(self._past) :]) != 1
            or measured_elements(build.samples[-1:], self._rules, kept.elements) != kept.elements
        ):
            return None
        follower, book = copy.deepcopy((kept, self._book))
        follower.build, follower.time, follower.fleet = build, time, fleet
        look = follower.next_look()
        return None if look is None else call_for(look, follower, self._rules, book)

"""What was made faster still gives what the plain way gives."""

from __future__ import annotations

import gc
import json
import uuid
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.actions import call
from benchapp.benchfile import content
from benchapp.benchfile.kinds import KINDS
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.wear.judge import judge_engine
from benchapp.wear.latest import Latest
from tests.benchmarks.fleets import plain_fleet
from tests.simulated.generators import GENERATORS

NAMES = st.lists(st.one_of(st.text(st.characters(exclude_categories=("Cs",))), st.floats(allow_nan=False), st.none()))


@given(NAMES)
def test_ids_from_names_are_those_of_the_standard_library(names) -> None:
    plain = uuid.uuid5(content._SPACE, json.dumps(["sample", *names], ensure_ascii=False))
    assert content.id_from("sample", *names) == str(plain)


WORDS = st.one_of(st.none(), st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=12))


@given(WORDS, st.one_of(st.none(), st.floats(-1e9, 1e9), st.integers(-9, 9)), WORDS, st.integers(1, 9))
def test_rows_are_cleaned_as_single_values_are(word, value, mark, replicate) -> None:
    kind, row = KINDS["sample"], [word, value, "ppm", "", replicate, mark]
    plain = [content._clean("sample", n, t, v) for (n, t), v in zip(kind.row_columns, row, strict=True)]
    quick = content._clean_row(kind, row)
    assert quick == plain
    assert list(map(repr, quick)) == list(map(repr, plain))  # 0.0 and -0.0, 1 and 1.0 differ on paper


def test_the_collector_works_again_after_a_paste() -> None:
    assert gc.isenabled()
    interpret(read_text("Sample\tFe\n24-1\t3\n"))
    assert gc.isenabled()


@pytest.mark.parametrize("letter", ["a", "c"])
def test_the_next_sample_is_judged_as_if_the_build_were_followed_anew(letter) -> None:
    """Every sample of invented seasons as the next one of its build: the whole call is the same, to the last digit."""
    fleet = GENERATORS[letter](3, 6).fleet
    quick = 0
    for engine in fleet.engines:
        for build in engine.builds:
            for end in range(2, len(build.samples) + 1, 5):
                quick += _same_both_ways(fleet, engine, replace(build, samples=build.samples[:end]))
    assert quick > 4


def _same_both_ways(fleet, engine, build) -> bool:
    before = replace(build, samples=build.samples[:-1])
    known = replace(engine, builds=(before,))
    then = replace(fleet, engines=tuple(known if each is engine else each for each in fleet.engines))
    told = judge_engine(replace(engine, builds=(build,)), then, call.rules(), call._priors(then))[-1]
    latest = Latest(known, before, then, call.rules(), call._priors(then))
    first, again = latest.with_next(build, then), latest.with_next(build, then)
    assert first == again
    assert first is None or first == told
    return first is not None


def test_a_sample_typed_is_never_judged_on_what_has_changed_since() -> None:
    """The same new sample, before and after an earlier one is corrected: each time as a full judging has it."""
    fleet = plain_fleet(2, 6)
    engine = fleet.engines[0]
    build = engine.builds[0]
    new = replace(build.samples[-1], code="new", build_h=build.samples[-1].build_h + 1.0, oil_h=9.0)
    seen = []
    for iron in (None, 55.0):
        samples = list(build.samples)
        if iron:
            samples[-1] = replace(samples[-1], readings=tuple(
                replace(r, value=iron) if r.measurand == "Fe" else r for r in samples[-1].readings))  # fmt: skip
        now = replace(engine, builds=(replace(build, samples=tuple(samples)),))
        held = replace(fleet, engines=(now, *fleet.engines[1:]))
        after = replace(now, builds=(replace(now.builds[0], samples=(*samples, new)),))
        whole = judge_engine(after, held, call.rules(), call._priors(held))[-1]
        assert call.preview_in(held, engine.name, "1", new) == whole
        assert call.preview_in(held, engine.name, "1", new) == whole
        seen.append(whole)
    assert seen[0] != seen[1]

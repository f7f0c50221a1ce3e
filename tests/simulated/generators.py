"""The generators by letter, and many seeds at once."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

from . import generator_a, generator_b, generator_c, generator_d
from .judges import BenchJudge, Judge, fixed_limits, knows_the_truth, mean_plus_3sd
from .scorer import Score, score_world
from .truth import World

GENERATORS: Mapping[str, Callable[[int, int], World]] = {
    "a": generator_a.make,
    "b": generator_b.make,
    "c": generator_c.make,
    "d": generator_d.make,
}

BENCH = "the bench"


def judges_for(world: World, bench: bool = True) -> dict[str, Judge]:
    """The judges to score beside each other; the last one knows the truth and shows what the fleet lets anyone see."""
    simple: dict[str, Judge] = {
        "fixed limits, group 1": fixed_limits("first group"),
        "fixed limits, group 2": fixed_limits("second group"),
        "mean + 3 sd": mean_plus_3sd,
        "(knows the truth)": knows_the_truth(world.truth),
    }
    return {BENCH: BenchJudge(), **simple} if bench else simple


def score_seeds(
    letter: str, seeds: list[int], engines: int, bench: bool = True, progress: Callable[[str], None] = lambda _: None
) -> dict[str, list[Score]]:
    """Judge name -> one score per seed."""
    out: dict[str, list[Score]] = {}
    for seed in seeds:
        started = time.perf_counter()
        world = GENERATORS[letter](seed, engines)
        progress(f"{letter}{seed}: {len(world.truth.samples)} samples made in {time.perf_counter() - started:.1f} s")
        for name, judge in judges_for(world, bench).items():
            started = time.perf_counter()
            score = score_world(world, judge, name)
            score.seconds = time.perf_counter() - started
            out.setdefault(name, []).append(score)
    return out


def total(scores: list[Score]) -> Score:
    """All seeds of one judge together."""
    out = Score(judge=scores[0].judge)
    for score in scores:
        out.add(score)
    return out

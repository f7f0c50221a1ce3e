"""Verbs for calls: judge, preview while typing, issue."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from benchapp.actions import call_text, ground, holds
from benchapp.actions.bench import OF_THE_INSTRUMENTS, Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile.content import id_from
from benchapp.benchfile.kinds import OF_AN_OIL
from benchapp.benchfile.write import now_text
from benchapp.problems import BenchProblem
from benchapp.records import Build, Call, Engine, Fleet, Flip, Sample

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write


@dataclass(frozen=True, slots=True)
class Issued:
    """A call as it was handed over. `superseded` says what changed under it since, or is ''."""

    call: Call
    issued_at: str
    who: str
    superseded: str


@lru_cache(maxsize=1)
def rules() -> Any:
    """The rules of the wear room, from the library."""
    from benchapp.library import load_library
    from benchapp.wear.rules import rules_from

    return rules_from(load_library())


_JUDGING = (
    "records.py", "problems.py", "library.py", "wear/*.py", "metallurgy/*.py", "oil/*.py", "checks/*.py",
    "actions/call.py", "actions/call_text.py", "actions/holds.py", "actions/noise.py",
)  # fmt: skip
"""The code that calls come from, within the package."""


@lru_cache(maxsize=1)
def rules_key() -> str:
    """Stands for all that a call rests on beside the bench file: the resources, the code that judges, the libraries
    that it computes with. A change of any of them changes it."""
    import numpy
    import scipy

    from benchapp.library import resources_dir

    package = Path(__file__).parent.parent
    files = [file for pattern in _JUDGING for file in package.glob(pattern)]
    files += [file for file in resources_dir().iterdir() if file.suffix in (".toml", ".csv")]
    found = hashlib.blake2b(digest_size=20)
    for computes in (numpy, scipy):
        found.update(computes.__version__.encode())
    for file in sorted(files, key=lambda file: (file.parent.name, file.name)):
        found.update(file.name.encode())
        found.update(file.read_bytes())
    return found.hexdigest()


def rule_version() -> str:
    """The version of the rules that calls are made by."""
    return str(rules().version)


Known = Mapping[str, tuple[str, tuple[Call, ...]]]
"""Engine -> (key of what its calls rest on, its calls): those of an earlier state."""


def judge(
    fleet: Fleet, engines: Iterable[str] | None = None, each: bool = False, known: Known = MappingProxyType({})
) -> tuple[Call, ...]:
    """Judges every sample of `engines` (None: all). Pure: touches no file, fit for a worker thread.

    `each`: every sample with only what was known then. What the whole fleet says about its families is worked out once
    and kept while it holds, so that judging it engine by engine costs no more than judging it at once. `known`: where
    an engine has but one more sample since, only that one is judged."""
    from benchapp.wear.judge import judge_fleet

    wanted = None if engines is None else frozenset(engines)
    if each:
        then = known_then(fleet)
        return holds.marked(
            judge_fleet(then, rules(), each=True, engines=None if wanted is None else tuple(wanted)), then
        )
    judged = (engine for engine in fleet.engines if wanted is None or engine.name in wanted)
    return holds.marked([call for engine in judged for call in _calls_of(engine, fleet, known)], fleet)


def _calls_of(engine: Engine, fleet: Fleet, known: Known) -> tuple[Call, ...]:
    from benchapp.wear.judge import judge_engine

    if engine.name in known:
        more = _one_more(engine, fleet, *known[engine.name])
        if more is not None:
            return more
    calls: tuple[Call, ...] = judge_engine(engine, fleet, rules(), _priors(fleet))
    return calls


def _one_more(engine: Engine, fleet: Fleet, key: str, calls: tuple[Call, ...]) -> tuple[Call, ...] | None:
    """The calls of an engine whose last build has one sample more than when `calls` rested on `key`; None where that is
    not all that has changed, for calls or for what families say."""
    if not engine.builds or len(engine.builds[-1].samples) < 2:
        return None
    build = engine.builds[-1]
    before = replace(engine, builds=(*engine.builds[:-1], replace(build, samples=build.samples[:-1])))
    then = replace(fleet, engines=tuple(before if each is engine else each for each in fleet.engines))
    earlier, now = _rests_on(then), _rests_on(fleet)
    if earlier.engines[engine.name] != key or earlier.knowledge != now.knowledge:
        return None
    more = _next_call(then, before, build, build.samples[-1], fleet)
    return None if more is None else (*calls, more)


def known_then(fleet: Fleet) -> Fleet:
    """The fleet for judging each sample with what was known then: later check runs neither teach noise nor hold."""
    from benchapp.actions.noise import as_known_then
    from benchapp.library import load_library

    return holds.with_holds(as_known_then(fleet, load_library()), later=False)


_KEPT_FLEETS = 3
_kept: list[tuple[str, Any]] = []
_keeping = threading.Lock()
_rests: list[tuple[Fleet, Any]] = []
_resting = threading.Lock()


def _priors(fleet: Fleet) -> Any:
    """What the families' histories say, worked out once for each state of what they are drawn from."""
    from benchapp.wear.judge import family_priors

    ground = _rests_on(fleet)
    with _keeping:
        for knowledge, priors in _kept:
            if knowledge == ground.knowledge:
                return priors
        priors = family_priors(ground.known, rules())
        _kept.append((ground.knowledge, priors))
        del _kept[:-_KEPT_FLEETS]
        return priors


def keys(fleet: Fleet) -> Mapping[str, str]:
    """Engine -> key of all that its calls rest on: where two fleets agree in it, so do the engine's calls."""
    found: Mapping[str, str] = _rests_on(fleet).engines
    return found


def _rests_on(fleet: Fleet) -> Any:
    """The keys of a fleet, worked out once for each (fleets are immutable)."""
    with _resting:
        for known, ground in _rests:
            if known is fleet:
                return ground
        ground = _grounds(rules_key()).of(fleet)
        _rests.append((fleet, ground))
        del _rests[:-_KEPT_FLEETS]
        return ground


@lru_cache(maxsize=2)
def _grounds(of_rules: str) -> Any:
    from benchapp.wear.keys import Grounds

    return Grounds(of_rules)


def as_of(fleet: Fleet, moment: Any) -> Fleet:
    """The fleet as it was known at a moment: samples taken later (or at an unknown time) are left out, and so are later
    check runs with what they teach and hold."""
    from benchapp.actions.noise import is_learned, with_noise
    from benchapp.library import load_library

    def known(build: Build) -> Build:
        kept = tuple(sample for sample in build.samples if sample.taken_at and sample.taken_at <= moment)
        return replace(build, samples=kept)

    entered = {
        name: replace(each, noise={e: line for e, line in each.noise.items() if not is_learned(line)})
        for name, each in fleet.instruments.items()
    }
    then = replace(
        fleet,
        engines=tuple(replace(engine, builds=tuple(map(known, engine.builds))) for engine in fleet.engines),
        check_runs=tuple(run for run in fleet.check_runs if run.run_at <= moment),
        measured={code: at for code, at in fleet.measured.items() if at <= moment},
        instruments=entered,
    )
    return holds.with_holds(with_noise(then, load_library()))


def preview(bench: Bench, engine: str, build: str, sample: Sample) -> Call | None:
    """The call that `sample` would get if it were confirmed now; nothing is written. None if it cannot be judged."""
    return preview_in(bench.fleet(), engine, build, sample)


def preview_in(fleet: Fleet, engine: str, build: str, sample: Sample) -> Call | None:
    """As `preview`, on a fleet: pure, for a worker thread. What the families' histories say is that of `fleet`."""
    from benchapp.wear.judge import judge_engine

    found = next((each for each in fleet.engines if each.name == engine), None)
    if found is None or all(each.number != build for each in found.builds):
        return None
    sample = replace(sample, hold=holds.hold_of(fleet, sample))
    changed = replace(
        found, builds=tuple(each.with_sample(sample) if each.number == build else each for each in found.builds)
    )
    whole = replace(fleet, engines=tuple(changed if each is found else each for each in fleet.engines))
    found_call = _next_call(fleet, found, next(each for each in changed.builds if each.number == build), sample, whole)
    if found_call is None:
        calls = judge_engine(changed, whole, rules(), _priors(fleet), build=build)
        found_call = next((call for call in calls if call.sample == sample.code), None)
    return None if found_call is None else replace(found_call, held=sample.hold)


_followed: list[tuple[str, str, Build, Any]] = []
"""(key of what the engine's calls rest on, engine, build without the sample at hand, what is known after it): the last
that was previewed or judged."""


def _next_call(fleet: Fleet, engine: Engine, build: Build, sample: Sample, whole: Fleet) -> Call | None:
    """The call of `sample` where it is the build's last one: the build before it is followed once and kept. Else None.

    Kept while all stands that the engine's calls rest on: after any other change it is followed anew."""
    from benchapp.wear.latest import Latest

    before = replace(build, samples=tuple(each for each in build.samples if each.code != sample.code))
    if build.samples[-1].code != sample.code or not before.samples:
        return None
    key = keys(fleet)[engine.name]
    with _keeping:
        known = next((k for of, name, b, k in _followed if of == key and name == engine.name and b == before), None)
    if known is None:
        known = Latest(engine, before, fleet, rules(), _priors(fleet))
        with _keeping:
            _followed[:] = [(key, engine.name, before, known)]
    return known.with_next(build, whole)


def flips(bench: Bench, code: str) -> tuple[Flip, ...]:
    """Uncertain inputs that would turn the call of a sample, as the bench stands now.

    About a fifth of a second for a build of twenty samples, nothing where it was asked before and nothing has changed:
    for one page, not for a list. Raises BenchProblem for a sample that is not in the bench file."""
    engine, build, sample = bench.find_sample(code)
    return flips_in(bench.fleet(), engine.name, build.number, sample.code)


def flips_in(fleet: Fleet, engine: str, build: str, code: str) -> tuple[Flip, ...]:
    """As `flips`, on a fleet: pure, for a worker thread. Empty where the sample is not found."""
    from benchapp.wear.flips import flips as found

    known = flips_known(fleet, engine, build, code)
    if known is not None:
        return known
    for each in fleet.engines:
        for one in each.builds:
            for sample in one.samples:
                if (each.name, one.number, sample.code) == (engine, build, code):
                    turned = found(fleet, each, one, sample, rules(), _priors(fleet))
                    with _keeping:
                        _turned.append(((keys(fleet)[engine], build, code), turned))
                        del _turned[:-_KEPT_FLIPS]
                    return turned
    return ()


_KEPT_FLIPS = 32
_turned: list[tuple[tuple[str, str, str], tuple[Flip, ...]]] = []
"""(key of what the engine's calls rest on, build, sample) -> what was found: after any change that a call could feel it
is looked for anew, a change elsewhere costs nothing."""


def flips_known(fleet: Fleet, engine: str, build: str, code: str) -> tuple[Flip, ...] | None:
    """What `flips_in` found before, or None where nobody has asked."""
    asked = (keys(fleet).get(engine), build, code)
    with _keeping:
        return next((found for key, found in _turned if key == asked), None)


# --- issued calls


def issue(bench: Bench, code: str) -> Changed:
    """Stores the sample's call as handed over: with its inputs' hash and rule version, never rewritten.

    Issued twice with nothing changed between, it is stored once."""
    call = bench.call_of(code)
    if call is None:
        raise BenchProblem(f"Sample {code} has no call yet.", "Nothing was issued.", "Complete the sample first.")
    engine, build, sample = bench.find_sample(code)
    inputs = ground.inputs_hash(bench.fleet(), engine, build, sample)
    text = call_text.keep(call)
    latest = bench.file.find("issued_call", sample=code)
    if any(content["inputs_hash"] == inputs and content["call"] == text for _, content in latest):
        return Changed(frozenset(), frozenset(), f"Issue the call of {code}")
    now = now_text()
    content = {
        "sample": code,
        "engine": call.engine,
        "build": call.build,
        "issued_at": now,
        "who": bench.who,
        "rule_version": call.rule_version,
        "inputs_hash": inputs,
        "call": text,
    }

    def body(write: Write) -> None:
        write.put("issued_call", id_from("issued_call", code, now, inputs), content)

    return bench.do(f"Issue the call of {code}", body, {call.engine}, kind="issue")


def issued(bench: Bench, code: str) -> tuple[Issued, ...]:
    """Calls issued for a sample, oldest first; a mark that was not written yet is worked out."""
    listed = [each for each in _issues(bench) if each.sample == code]
    edited = bench.file.edited_since([each.id for each in listed])
    fleet, out = bench.fleet(), []
    place = ground.places(fleet).get(code)
    for each in listed:
        content = bench.file.get("issued_call", each.id) or {}
        mark = each.mark
        if not mark and not ground.stands(fleet, place, each, edited.get(each.id, ())):
            mark = "Superseded: what it rests on has changed since."
        if not mark and content["rule_version"] != rule_version():
            mark = f"Superseded: made by rules {content['rule_version']}; calls are made by rules {rule_version()} now."
        call = replace(call_text.read(content["call"]), superseded=mark)
        out.append(Issued(call, content["issued_at"], content["who"], mark))
    return tuple(out)


def _issues(bench: Bench) -> list[ground.Issue]:
    return [ground.Issue(*line) for line in bench.file.issued_inputs()]


def mark_superseded(bench: Bench, changed: Changed, kin: Collection[str]) -> None:
    """Marks issued calls that no longer stand after a change; clears the mark where an undo brought it all back.

    `kin`: the engines that changed and those built alike, whose calls may rest on their history."""
    listed = [] if bench.read_only else _issues(bench)
    if not changed.touches("family", "material", "oil", *OF_AN_OIL, *OF_THE_INSTRUMENTS):
        listed = [each for each in listed if each.engine in kin]
    if not listed:
        return
    fleet, reasons = bench.fleet(), {}
    places, edited = ground.places(fleet), bench.file.edited_since([each.id for each in listed])
    for each in listed:
        same = ground.stands(fleet, places.get(each.sample), each, edited.get(each.id, ()))
        if same and each.mark:
            reasons[each.id] = ""
        elif not same and not each.mark:
            reasons[each.id] = f"Superseded: {changed.label} ({now_text()[:16].replace('T', ' ')} UTC, {bench.who})."
    if reasons:
        bench.file.mark_superseded(reasons)

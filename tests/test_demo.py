"""The demo: the same on every machine, complete, marked as invented, and each story ends as its sentence says."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from benchapp.actions import demo, findings, parts, photo, sheets
from benchapp.actions.bench import Bench
from benchapp.records import CALL_WORDS
from demo import build as demo_build
from demo.exports import write_exports
from demo.team import STORIES

LOOK, PARK = CALL_WORDS[2], CALL_WORDS[3]


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    path = tmp_path_factory.mktemp("demo") / "demo.bench"
    demo_build.build(path)
    opened = Bench.open(path, read_only=True)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def calls(bench):
    return {engine.name: bench.calls_of(engine.name) for engine in bench.fleet().engines}


def last(calls, engine):
    return calls[engine][-1]


def alarms(calls, engine):
    return [call.sample for call in calls[engine] if call.call in (LOOK, PARK)]


def test_it_is_big_enough_to_learn_from(bench):
    fleet = bench.fleet()
    assert len(fleet.engines) >= 12
    assert len({engine.family for engine in fleet.engines}) >= 6
    years = {sample.taken_at.year for e in fleet.engines for b in e.builds for sample in b.samples if sample.taken_at}
    assert years == {2025, 2026}
    assert set(STORIES) == {engine.name for engine in fleet.engines}
    assert all("\n" not in story and story[-1] in ".?" for story in STORIES.values())


def test_it_is_the_same_twice():
    assert demo_build.team_diary().sheets == demo_build.team_diary().sheets


def test_the_same_file_opens_again_and_is_replaced(tmp_path):
    path = tmp_path / "demo.bench"
    demo_build.build(path)
    demo_build.build(path)
    assert path.exists()
    assert len(list((tmp_path / "exports to paste").iterdir())) == 6


def test_overlay_wearing_into_the_lining_is_called_with_the_bearing_first(calls):
    call = last(calls, "LK-01")
    assert call.call in (LOOK, PARK)
    assert "rod bearing overlay" in call.reasons[0].parts
    # not before the overlay began to go, at 15 h of the second build
    early = [c for c in calls["LK-01"] if c.build == "1" or c.build_h < 15]
    assert all(c.call in CALL_WORDS[:2] for c in early)


def test_dust_is_called_dust(calls):
    call = last(calls, "LK-05")
    assert call.call in (LOOK, PARK)
    assert call.reasons[0].source == "dust"


def test_nickel_is_called_the_bores(calls):
    call = last(calls, "LK-06")
    assert call.call in (LOOK, PARK)
    assert "bores" in call.reasons[0].parts
    assert any(reason.about == "leak-down" and "Cylinder 3" in reason.text for reason in call.reasons)


def test_coolant_is_called_coolant(calls):
    call = last(calls, "LK-12")
    assert call.call in (LOOK, PARK)
    assert call.reasons[0].source == "coolant"


@pytest.mark.parametrize("engine", ["LK-03", "LK-04", "LK-08", "LK-10", "LK-14", "LK-15"])
def test_what_looks_like_wear_and_is_not_sends_nobody_inside(calls, engine):
    """A hard session, block silicon, fuel lead, a cold drain, cooler copper and sealant, oil burnt and topped up."""
    assert alarms(calls, engine) == []


def test_sound_engines_are_looked_into_at_most_once_in_a_hundred_samples(calls):
    sound = ["LK-02", "LK-03", "LK-04", "LK-07", "LK-08", "LK-09", "LK-10", "LK-11", "LK-13", "LK-14", "LK-15"]
    samples = sum(len(calls[engine]) for engine in sound)
    false = [sample for engine in sound for sample in alarms(calls, engine)]
    assert len(false) <= 0.01 * samples, false


def test_the_wrong_bottle_is_named_and_nobody_is_sent_to_look_inside(calls):
    call = next(call for call in calls["LK-09"] if call.sample == "LK-09-1-016")
    assert call.reasons[0].source == "other oil"
    assert alarms(calls, "LK-09") == []


def test_thin_oil_is_told_first_and_asks_for_a_look_when_the_film_is_lost(bench, calls):
    before, near, over = calls["LK-16"][-3:]
    assert before.call == "Run"
    assert all(reason.about != "oil" for reason in before.reasons)
    assert near.call == "Run"
    assert near.sentence.startswith("Run, but mind the oil: the oil is near its limit")
    assert over.call == LOOK
    assert [reason.about for reason in over.reasons[:2]] == ["oil film", "oil"]
    assert "by the bench blend" in over.reasons[1].text
    assert all(reason.kind == "other" for reason in over.reasons), "the metals are quiet"
    page = sheets.content(bench, over.sample)
    rod = page.film[0]
    assert rod.startswith("Rod bearing: film"), "the measured one first"
    assert "µm fresh" in rod
    assert "SAE" in rod
    assert [reason.plot.title for reason in page.reasons] == ["KV100 [cSt]", "KV40 [cSt]"]
    assert page.reasons[0].plot.ceiling == pytest.approx(0.75 * 13.9)
    assert alarms(calls, "LK-16") == [over.sample]


def test_what_the_team_knows_of_its_oils_and_bearings_is_there_and_marked_invented(bench):
    oil = bench.fleet().oils["Larkfield R40"]
    assert [limit.limit for limit in oil.limits] == ["base number"]
    assert "invented" in oil.limits[0].why
    assert oil.blends[0].fuel_pct == 5.0
    bearings = {bearing.name: bearing for bearing in bench.build("LK-16", "1").bearings}
    rod, main = bearings["rod bearing"], bearings["main bearing"]
    assert "invented" in rod.load_case
    assert main.load_n is None


def test_every_call_says_what_stands_behind_it(calls):
    for call in (call for many in calls.values() for call in many):
        assert call.call in CALL_WORDS
        assert call.sentence
        assert call.history
        assert call.next_sample_h > 0


def test_findings_show_calls_that_were_right_needless_and_missed(bench):
    record = findings.record_of(bench.fleet())
    outcomes = {one.sample: one.outcome for one in record.judged}
    assert outcomes == {
        "LK-01-2-008": findings.NEEDLESS, "LK-01-2-010": findings.RIGHT, "LK-02-1-010": findings.LEFT_ALONE,
        "LK-06-1-019": findings.RIGHT, "LK-10-1-018": findings.MISSED,
    }  # fmt: skip
    assert record.sentence() == (
        "Of 3 calls that asked for a look, 2 found something. Of 2 calls that did not, 1 missed something."
    )


def test_photos_are_drawings_that_say_so(bench):
    found = [photos for name in STORIES for photos in photo.of_engine(bench, name).values()]
    assert sum(map(len, found)) == 4
    assert all("invented" in each.words for photos in found for each in photos)
    assert all(len(photo.data_of(bench, each.sha256)) < 200_000 for photos in found for each in photos)


def test_oil_pressure_falls_with_the_bearing_and_parts_come_to_the_end_of_their_lives(bench, calls):
    assert "oil pressure" in [reason.about for reason in last(calls, "LK-01").reasons]
    assert not any(reason.about == "oil pressure" for call in calls["LK-02"] for reason in call.reasons)
    near = {(use.engine, use.part) for use in parts.uses(bench.fleet()) if use.near}
    assert near == {("LK-10", "turbo"), ("LK-15", "piston")}
    rods = next(use for use in parts.of_engine(bench.fleet(), "LK-01") if use.piece == "rods A")
    runs = [run.hours for build in bench.engine("LK-01").builds for run in build.runs]
    assert rods.used["h"] == pytest.approx(sum(runs))  # carried from the first build into the second


def test_an_installed_copy_without_the_writers_of_old_spreadsheets_builds_its_demo_all_the_same(tmp_path, monkeypatch):
    for name in ("odf", "odf.opendocument", "xlwt"):
        monkeypatch.setitem(sys.modules, name, None)
    written = write_exports(tmp_path)
    assert [path.suffix for path in written] == [".xlsx", ".csv", ".txt", ".txt"]


KILLED = """
import os, signal, sys
from pathlib import Path
from benchapp.actions import demo
with demo.building_room(Path(sys.argv[1])) as room:
    (room / "half.bench").write_bytes(b"half a file")
    print(room, flush=True)
    if sys.argv[2] == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    sys.stdin.read()
"""


def begun(target, how):
    return subprocess.Popen(
        [sys.executable, "-c", KILLED, str(target), how], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )


@pytest.mark.skipif(sys.platform == "win32", reason="kills by a signal")
def test_what_a_killed_building_left_is_cleared_and_nothing_else(tmp_path):
    killed, at_work = begun(tmp_path / "demo.bench", "killed"), begun(tmp_path / "demo.bench", "goes on")
    with killed, at_work:
        left, busy = Path(killed.stdout.readline().strip()), Path(at_work.stdout.readline().strip())
        killed.wait()
        strange = tmp_path / f"{demo.BUILDING}of somebody else"
        strange.mkdir()
        (strange / "own.txt").write_text("not ours")
        (tmp_path / f"{demo.BUILDING}link").symlink_to(strange)
        demo.clear_left(tmp_path)
        assert not left.exists()
        assert (busy / "half.bench").read_bytes() == b"half a file"
        assert (strange / "own.txt").read_text() == "not ours"
        at_work.stdin.close()
    assert not busy.exists()
    assert demo.clear_left(tmp_path) == []


@pytest.mark.skipif(sys.platform == "win32", reason="kills by a signal")
def test_the_next_building_and_the_next_start_clear_what_was_left(tmp_path):
    for clear in (lambda: demo.clear_left(tmp_path), lambda: demo_build.build(tmp_path / "demo.bench")):
        with begun(tmp_path / "demo.bench", "killed") as killed:
            left = Path(killed.stdout.readline().strip())
        assert (left / "half.bench").exists()
        clear()
        assert not list(tmp_path.glob(f"{demo.BUILDING}*"))


def test_what_another_computer_left_stays(tmp_path):
    room = tmp_path / f"{demo.BUILDING}there"
    room.mkdir()
    said = {"who": "the demo's builder", "host": "another-computer", "pid": 1, "since": "2026-05-01T10:00:00"}
    (room / "demo-lock").write_text(json.dumps(said))
    assert demo.clear_left(tmp_path) == []
    assert room.exists()

"""Photos: kept by hash, shown by entry, undone, merged, backed up, checked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.actions import engine, filter_cut, finding, photo, safety, workbook
from benchapp.actions.bench import Bench
from benchapp.benchfile import copies
from benchapp.problems import BenchProblem
from benchapp.records import FilterCut, Finding
from tests.intake.test_photo import jpeg_head, png

SEEN = Finding(9.0, "ring", "worn out", "S-3")
CUT = FilterCut(3.0, "few")


@pytest.fixture
def seen(bench):
    """The bench with a finding and a filter cut."""
    finding.add(bench, "E-1", "1", SEEN)
    filter_cut.add(bench, "E-1", "1", CUT)
    return bench


def shown(bench, record=SEEN):
    return [photo.data_of(bench, each.sha256) for each in photo.of_entry(bench, "E-1", "1", record)]


def test_a_photo_is_added_shown_undone_and_done_again(seen):
    told = []
    seen.subscribe(told.append)
    before = seen.fleet()
    changed = photo.add(seen, "E-1", "1", SEEN, png(), words="the second ring")
    assert told == [changed]
    assert changed.label == seen.undo_label == "Add photo to finding of engine E-1"
    assert (changed.nouns, changed.engines) == ({"photo"}, {"E-1"})
    assert seen.fleet() is before  # no call rests on a picture
    assert shown(seen) == [png()]
    assert [each.words for each in photo.of_entry(seen, "E-1", "1", SEEN)] == ["the second ring"]
    assert shown(seen, CUT) == []
    seen.undo()
    assert shown(seen) == []
    seen.redo()
    assert shown(seen) == [png()]
    assert seen.file.verify() == ()


def test_the_same_picture_is_kept_once_and_may_be_of_two_entries(seen):
    photo.add(seen, "E-1", "1", SEEN, png(), jpeg_head(640, 480))
    photo.add(seen, "E-1", "1", SEEN, png())
    photo.add(seen, "E-1", "1", CUT, png())
    assert shown(seen) == [png(), jpeg_head(640, 480)]
    assert shown(seen, CUT) == [png()]
    with seen.file.reading() as connection:
        assert connection.execute("SELECT count(*) FROM photo_bytes").fetchone()[0] == 2


def test_an_entry_comes_with_its_photos_in_one_step(bench):
    changed = photo.add_with(bench, "E-1", "1", SEEN, png(), png(5))
    assert changed.label == "Add finding with 2 photos to engine E-1"
    assert shown(bench) == [png(), png(5)]
    bench.undo()
    assert bench.build("E-1", "1").findings == ()
    assert photo.add_with(bench, "E-1", "1", CUT).label == "Add filter cut to engine E-1"


def test_a_correction_keeps_the_photo_and_a_withdrawn_entry_hides_it(seen):
    photo.add(seen, "E-1", "1", SEEN, png())
    finding.edit(seen, "E-1", "1", SEEN, replace(SEEN, condition="damaged"))
    assert shown(seen, replace(SEEN, condition="damaged")) == [png()]
    engine.edit(seen, "E-1", new_name="E-9")
    assert len(photo.of_entry(seen, "E-9", "1", replace(SEEN, condition="damaged"))) == 1
    finding.void(seen, "E-9", "1", replace(SEEN, condition="damaged"), "wrong engine")
    assert photo.of_build(seen, "E-9", "1") == {}


def test_a_photo_is_withdrawn_and_comes_back(seen):
    photo.add(seen, "E-1", "1", SEEN, png())
    key = photo.of_entry(seen, "E-1", "1", SEEN)[0].key
    photo.void(seen, "E-1", key, "out of focus")
    assert shown(seen) == []
    with pytest.raises(BenchProblem, match="no such photo"):
        photo.void(seen, "E-1", key, "again")
    photo.add(seen, "E-1", "1", SEEN, png())
    assert shown(seen) == [png()]


def test_what_is_refused_changes_nothing(seen):
    with pytest.raises(BenchProblem, match="neither a JPEG nor a PNG"):
        photo.add(seen, "E-1", "1", SEEN, png(), b"MZ")
    with pytest.raises(BenchProblem, match="is the most that is taken"):
        photo.add_with(seen, "E-1", "1", SEEN, jpeg_head(9, 9) + b"0" * 5_000_000)
    with pytest.raises(BenchProblem, match="are too many: 12 are kept"):
        photo.add(seen, "E-1", "1", SEEN, *[png(n) for n in range(1, 14)])
    with pytest.raises(BenchProblem, match="no longer as it was shown"):
        photo.add(seen, "E-1", "1", replace(SEEN, part="bore"), png())
    assert photo.count(seen) == 0


def test_bytes_that_changed_are_not_shown_and_a_check_finds_them(seen):
    photo.add(seen, "E-1", "1", SEEN, png())
    sha256 = photo.of_entry(seen, "E-1", "1", SEEN)[0].sha256
    with seen.file.transaction() as connection:
        connection.execute("UPDATE photo_bytes SET bytes = ?", (png(9),))
    with pytest.raises(BenchProblem, match="not as it was saved"):
        photo.data_of(seen, sha256)
    assert seen.file.verify() == ("1 photo(s) are not as they were saved.",)
    with seen.file.transaction() as connection:
        connection.execute("DELETE FROM photo_bytes")
    with pytest.raises(BenchProblem, match="missing in the bench file"):
        photo.data_of(seen, sha256)
    assert seen.file.verify() == ("The bytes of 1 photo(s) are missing.",)


def test_a_backup_and_a_merge_carry_it_in_either_order(seen, tmp_path):
    other = copies.copy_to(seen.file._conn, tmp_path / "other.bench")
    photo.add(seen, "E-1", "1", SEEN, png())
    with Bench.open(other) as two:
        photo.add(two, "E-1", "1", SEEN, png())
        photo.add(two, "E-1", "1", CUT, png(7))
    mine = copies.copy_to(seen.file._conn, tmp_path / "mine.bench")
    safety.merge(seen, other)
    with Bench.open(other) as two:
        safety.merge(two, mine)
        for bench in (seen, two):
            assert (shown(bench), shown(bench, CUT)) == ([png()], [png(7)])
            assert bench.file.verify() == ()
    kept = seen.file.back_up()
    with Bench.open(kept.path, read_only=True) as backup:
        assert shown(backup, CUT) == [png(7)]


def test_a_workbook_says_that_photos_stay_behind(seen, tmp_path):
    assert workbook.PHOTOS_STAY not in workbook.unload(seen, tmp_path / "x.xlsx")
    photo.add(seen, "E-1", "1", SEEN, png())
    assert workbook.unload(seen, tmp_path / "x.xlsx")[workbook.PHOTOS_STAY] == 1

"""Writing, reading again, refusing: what is saved is there, what is refused leaves nothing."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.benchfile import documents, schema
from benchapp.benchfile.file import BenchFile
from benchapp.problems import BenchProblem
from benchapp.records import Reading, Sample
from tests.benchfile.making import BUILD, a_sample, put_run, put_sample, sample_id, small_file


def samples_of(file):
    return file.read_fleet().engines[0].builds[0].samples


def test_what_was_written_is_read_after_closing(file, path):
    file.close()
    with_again = BenchFile.open(path)
    assert samples_of(with_again)[0].readings == (
        Reading("Fe", 12.5),
        Reading("KV100", 14.2, "cSt"),
        Reading("Pb", None, qualifier="<"),
    )
    assert with_again.verify() == ()
    with_again.close()


def test_settings_of_the_connection(file):
    with file.reading() as connection:
        pragmas = {
            name: connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in (
                "journal_mode",
                "synchronous",
                "foreign_keys",
                "trusted_schema",
                "application_id",
                "user_version",
            )
        }
        strict = connection.execute(
            "SELECT name FROM pragma_table_list WHERE type = 'table' AND strict = 0 AND name NOT LIKE '%sqlite%'"
        ).fetchall()
    assert pragmas == {
        "journal_mode": "delete",
        "synchronous": 3,  # EXTRA
        "foreign_keys": 1,
        "trusted_schema": 0,
        "application_id": schema.APPLICATION_ID,
        "user_version": schema.SCHEMA_VERSION,
    }
    assert strict == []


@pytest.mark.parametrize(
    ("reading", "says"),
    [
        (["Fe", float("nan"), "ppm", "", 1, ""], "not a finite number"),
        (["Fe", float("nan"), "ppm", "<", 1, ""], "not a finite number"),
        (["Fe", float("inf"), "ppm", "", 1, ""], "not a finite number"),
        (["Fe", "<1", "ppm", "", 1, ""], "is no number"),
        (["Fe", "12.5", "ppm", "", 1, ""], "is no number"),
        (["Fe", True, "ppm", "", 1, ""], "is no number"),
        (["Fe", None, "ppm", "", 1, ""], "needs a value"),
        (["Fe", None, "ppm", ">", 1, ""], "needs a value"),
        (["Fe", 1.0, "ppm", "~", 1, ""], "qualifier must be"),
        (["Fe", 1e12, "ppm", "", 1, ""], "must lie between"),
        (["Fe", 1.0, "ppm", "", 0, ""], "numbered from 1"),
        (["Fe\x00", 1.0, "ppm", "", 1, ""], "cannot be kept"),
        (["Fe", 1.0, "\ud800", "", 1, ""], "cannot be kept"),
    ],
)
def test_a_bad_reading_is_refused_and_nothing_is_written(file, reading, says):
    before = samples_of(file)
    content = {**documents.of_sample(a_sample("S-2"), BUILD), "rows": [reading]}
    with pytest.raises(BenchProblem, match=says) as caught, file.write("Confirm S-2") as write:
        write.put("sample", sample_id("S-2"), content)
    assert caught.value.means.startswith("Nothing was written")
    assert caught.value.do
    assert samples_of(file) == before
    assert file.verify() == ()


@pytest.mark.parametrize(
    ("changes", "says"),
    [({"build_h": -1.0}, "build hours of a sample"), ({"build_h": None}, "needs its build hours")],
)
def test_a_bad_sample_is_refused(file, changes, says):
    with pytest.raises(BenchProblem, match=says), file.write("x") as write:
        write.put("sample", sample_id("S-2"), {**documents.of_sample(a_sample("S-2"), BUILD), **changes})


def test_an_orphan_is_refused(file):
    with pytest.raises(BenchProblem, match="does not fit"), file.write("x") as write:
        write.put("sample", sample_id("S-2"), documents.of_sample(a_sample("S-2"), "no such build"))
    assert len(samples_of(file)) == 1


def test_an_error_inside_a_transaction_takes_all_of_it_back(file):
    def half_way():
        with file.write("two things") as write:
            write.put("sample", sample_id("S-2"), documents.of_sample(a_sample("S-2"), BUILD))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half_way()
    assert len(samples_of(file)) == 1
    assert file.undo_label == "Confirm sample S-1"
    assert file.verify() == ()


def test_writing_the_same_again_writes_nothing(file):
    label = file.undo_label
    put_sample(file, a_sample())
    assert file.undo_label == label
    assert len(file.past(sample_id("S-1"))) == 1


def test_a_sample_may_wait_for_an_engine(file):
    put_sample(file, Sample("W-1", "", 0.0, None, readings=(Reading("Fe", 3.0),)), build=None)
    assert [sample.code for sample, _ in file.waiting()] == ["W-1"]
    assert [sample.code for sample in samples_of(file)] == ["S-1"]


number = st.floats(allow_nan=False, allow_infinity=False, min_value=-1e9, max_value=1e9)
readings = st.lists(
    st.tuples(
        st.sampled_from(["Fe", "Pb", "Cu", "KV100", "Öl", "水"]),
        number,
        st.sampled_from(["", "<", ">"]),
        st.integers(1, 3),
    ),
    max_size=8,
    unique_by=lambda each: (each[0], each[3]),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
@given(readings, st.text(st.characters(exclude_categories=["Cs"]), max_size=60), st.datetimes())
def test_any_sample_comes_back_as_it_was(file, listed, notes, taken_at):
    sample = Sample(
        "H-1",
        "F1",
        3.0,
        None,
        taken_at,
        notes=notes,
        readings=tuple(Reading(m, v, "ppm", q, n) for m, v, q, n in listed),
    )
    if "\x00" in notes:
        with pytest.raises(BenchProblem, match="cannot be kept"):
            put_sample(file, sample)
        return
    put_sample(file, sample)
    back = next(each for each in samples_of(file) if each.code == "H-1")
    assert {(r.measurand, r.replicate): r for r in back.readings} == {
        (r.measurand, r.replicate): r for r in sample.readings
    }
    assert back.taken_at == taken_at
    assert back.notes == documents.of_sample(sample, BUILD)["notes"].strip() or not notes.isprintable()
    assert file.verify() == ()


def test_drafts_outlive_a_stop_and_are_no_data(file, path):
    file.keep_draft("entry", '{"code": "S-9"}')
    label = file.undo_label
    file.close()
    again = BenchFile.open(path)
    assert again.draft("entry") == '{"code": "S-9"}'
    assert again.draft_names() == ("entry",)
    assert again.undo_label == label
    again.drop_draft("entry")
    assert again.draft("entry") is None
    again.close()


def test_closed_means_closed(file):
    file.close()
    file.close()
    with pytest.raises(BenchProblem, match="is closed"):
        file.read_fleet()


def test_a_read_only_file_says_why_and_writes_nothing(file, path):
    file.close()
    again = BenchFile.open(path, read_only=True)
    with pytest.raises(BenchProblem, match="read-only") as caught:
        put_run(again)
    assert "reading only" in caught.value.do
    assert len(again.read_fleet().engines) == 1
    again.close()


@pytest.mark.parametrize("made", ["missing", "folder", "empty", "text", "other"])
def test_what_is_no_bench_file(tmp_path, made):
    import sqlite3

    path = tmp_path / "x.bench"
    if made == "folder":
        path.mkdir()
    elif made == "empty":
        path.touch()
    elif made == "text":
        path.write_text("engine;Fe\nE-1;12\n" * 100)
    elif made == "other":
        connection = sqlite3.connect(path)
        connection.execute("CREATE TABLE t (x)")
        connection.commit()
        connection.close()
    with pytest.raises(BenchProblem) as caught:
        BenchFile.open(path)
    assert caught.value.what
    assert caught.value.do
    assert not (tmp_path / "x.bench-lock").exists()


def test_never_over_an_existing_file(path, file):
    with pytest.raises(BenchProblem, match="already"):
        BenchFile.create(path)
    assert len(file.read_fleet().engines) == 1


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(BenchProblem):
        BenchFile.create(tmp_path / "no" / "team.bench")


def test_runs_without_a_start_stay_where_they_were_entered(file):
    from benchapp.records import Run

    monday = dt.datetime(2026, 5, 4, 9)
    with file.write("runs") as write:
        for place, run in enumerate(
            [Run("race", 1.0, monday), Run("race", 2.0), Run("dyno", 0.5, monday - dt.timedelta(1))]
        ):
            _, content = documents.of_event(run, BUILD)
            write.put("run", f"run-{place}", {**content, "place": place})
    assert [run.hours for run in file.read_fleet().engines[0].builds[0].runs] == [0.5, 1.0, 2.0]


def test_many_at_once_are_written_as_one_by_one(tmp_path):
    samples = {
        sample_id(code): documents.of_sample(a_sample(code, fe=fe), BUILD)
        for code, fe in (("S-9", 0.0), ("S-1", 14.0), ("S-2", -0.0), ("S-4", 5))
    }
    written = []
    for name in ("one by one", "at once"):
        file = small_file(tmp_path / f"{name}.bench")
        with file.write("Take samples") as write:
            write.at = "2026-01-02T03:04:05.678+00:00"
            if name == "at once":
                write.put_all("sample", samples)
            else:
                for document, content in samples.items():
                    write.put("sample", document, content)
        assert file.verify() == ()
        with file.reading() as connection:
            written.append(
                [
                    sorted(connection.execute(f"SELECT {columns} FROM {table}").fetchall(), key=repr)
                    for table, columns in (
                        ("samples", "id, row_hash, code, rowid"),
                        ("readings", "*"),
                        ("versions", "document, content, content_hash"),
                        ("audit_changes", "kind, document, before = ''"),
                    )
                ]
            )
        file.close()
    assert written[0] == written[1]
    assert len(written[0][0]) == 4  # S-1 was there already


def test_many_at_once_are_all_or_none_and_taken_back_together(file):
    good = documents.of_sample(a_sample("S-2"), BUILD)
    bad = documents.of_sample(a_sample("S-3", fe=2e9), BUILD)
    with pytest.raises(BenchProblem, match="a reading must lie between"), file.write("Take samples") as write:
        write.put_all("sample", {sample_id("S-2"): good, sample_id("S-3"): bad})
    assert [sample.code for sample in samples_of(file)] == ["S-1"]
    with file.write("Take samples") as write:
        write.put_all("sample", {sample_id("S-2"): good})
    assert file.undo_label == "Take samples"
    with file.undoing():
        pass
    assert [sample.code for sample in samples_of(file)] == ["S-1"]
    assert file.verify() == ()


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), "12", True])
def test_many_at_once_are_made_clean_as_each(file, bad):
    content = documents.of_sample(a_sample("S-2"), BUILD)
    content["rows"][0][1] = bad
    with pytest.raises(BenchProblem, match="Value of the sample"), file.write("Take samples") as write:
        write.put_all("sample", {sample_id("S-2"): content})


@pytest.mark.parametrize("number", [0, 1, 124, 125, 248, 301])
def test_rows_beyond_what_one_statement_takes_are_all_there_in_their_order(file, number):
    content = documents.of_sample(a_sample("S-2"), BUILD)
    content["rows"] = [["Fe", float(n), "ppm", "", 1 + n, ""] for n in range(number)]
    refused = {**content, "rows": [*content["rows"], ["Fe", 2e9, "ppm", "", 1 + number, ""]]}
    with pytest.raises(BenchProblem, match="a reading must lie between"), file.write("Take samples") as write:
        write.put_all("sample", {sample_id("S-2"): refused})
    assert file.get("sample", sample_id("S-2")) is None
    with file.write("Take samples") as write:
        write.put_all("sample", {sample_id("S-2"): content})
    assert file.get("sample", sample_id("S-2"))["rows"] == content["rows"]
    assert file.verify() == ()

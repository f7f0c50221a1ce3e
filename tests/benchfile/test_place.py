"""Warnings about where a file lies, and about the clock."""

from __future__ import annotations

from collections import namedtuple
from pathlib import Path

import pytest

from benchapp.benchfile import file as file_
from benchapp.benchfile import place
from benchapp.benchfile.file import BenchFile

Usage = namedtuple("Usage", "total used free")


@pytest.mark.parametrize(("free", "warns"), [(10 * 2**20, True), (place.LOW_SPACE_BYTES, False)])
def test_a_nearly_full_disk(file, path, monkeypatch, free, warns):
    file.close()
    monkeypatch.setattr(place.shutil, "disk_usage", lambda _: Usage(2**30, 2**30 - free, free))
    again = BenchFile.open(path)
    assert any("Only 10 MB are left" in words for words in again.notices) == warns
    again.close()


def test_a_disk_that_does_not_say(monkeypatch, path):
    def gone(_):
        raise OSError(5, "gone")

    monkeypatch.setattr(place.shutil, "disk_usage", gone)
    assert place.low_space(path) == ""


@pytest.mark.parametrize("folder", ["OneDrive - Team", "Dropbox", "Nextcloud/races"])
def test_a_folder_that_is_synchronised(tmp_path, folder):
    path = tmp_path / folder / "team.bench"
    path.parent.mkdir(parents=True)
    assert "another program synchronises" in place.doubtful_place(path)


def test_a_network_folder(monkeypatch, tmp_path):
    monkeypatch.setattr(place, "_file_system", lambda _: "cifs")
    assert "a network folder" in place.doubtful_place(tmp_path / "team.bench")
    assert "a network folder" in place.doubtful_place(Path("//server/share/team.bench"))


def test_a_plain_folder(monkeypatch, tmp_path):
    monkeypatch.setattr(place, "_file_system", lambda _: "ext4")
    assert place.doubtful_place(tmp_path / "team.bench") == ""


def test_the_clock_behind_the_last_entry(file, path, monkeypatch):
    from benchapp.benchfile import write

    monkeypatch.setattr(write, "now_text", lambda: "2099-01-01T00:00:00.000+00:00")
    with file.write("from the future") as step:
        step.at = "2099-01-01T00:00:00.000+00:00"
        step.put("oil", "oil-1", {"name": "an oil"})
    file.close()
    again = BenchFile.open(path)
    assert any("clock is behind the last entry (2099-01-01 00:00 UTC)" in words for words in again.notices)
    with again.write("after it") as step:
        step.put("oil", "oil-2", {"name": "another oil"})
    assert again.verify() == ()
    assert again.undo_label == "after it"
    again.close()
    assert file_.BACKUP_EVERY.total_seconds() == 1800

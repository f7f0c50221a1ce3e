"""The starter's sentences: each trouble a newcomer can meet is one clear sentence."""

from __future__ import annotations

import builtins
import runpy
import subprocess
import sys

import pytest

from benchapp import starter


def test_a_too_old_python_is_one_sentence(capsys):
    with pytest.raises(SystemExit) as stopped:
        starter.check_python((3, 8, 10))
    assert stopped.value.code == 1
    said = capsys.readouterr().err
    assert "Python 3.8" in said
    assert "3.11" in said
    assert said.count("\n") == 1


def test_this_python_is_accepted():
    starter.check_python()


def test_a_missing_venv_module_names_the_package(monkeypatch, capsys):
    true_import = builtins.__import__

    def without_venv(name, *rest, **more):
        if name in {"venv", "ensurepip"}:
            raise ImportError(name)
        return true_import(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without_venv)
    with pytest.raises(SystemExit):
        starter.check_venv_module()
    assert "python3-venv" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("lines", "wanted"),
    [
        (["ERROR: Could not find a version that satisfies the requirement scipy"], "no network"),
        (["Temporary failure in name resolution"], "no network"),
        (["OSError: [Errno 28] No space left on device"], "disk is full"),
        (["something", "ERROR: the wheel is broken"], "the wheel is broken"),
        ([], "gave no reason"),
    ],
)
def test_a_failed_installation_is_one_sentence(lines, wanted):
    said = starter.why_not_installed(lines)
    assert wanted in said
    assert "\n" not in said


def test_missing_libraries_are_named_by_their_package():
    wanted = (("made-up-package", "libmade-up-and-missing.so.9"),)
    assert starter.missing_packages(wanted) == ["made-up-package"]


def linux_with(monkeypatch, *, root, apt):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(starter, "missing_packages", lambda wanted: ["libgl1", "libegl1"])
    monkeypatch.setattr(starter, "has_fonts", lambda: True)
    monkeypatch.setattr(starter.shutil, "which", lambda name: "apt-get" if apt else None)
    monkeypatch.setattr(starter.os, "geteuid", lambda: 0 if root else 1000, raising=False)


def test_without_rights_the_exact_command_is_printed(monkeypatch, capsys):
    linux_with(monkeypatch, root=False, apt=True)
    with pytest.raises(SystemExit):
        starter.ensure_libraries(window=False)
    assert "sudo apt-get install -y --no-install-recommends libgl1 libegl1" in capsys.readouterr().err


def test_on_another_system_the_libraries_are_named(monkeypatch, capsys):
    linux_with(monkeypatch, root=True, apt=False)
    with pytest.raises(SystemExit):
        starter.ensure_libraries(window=False)
    assert "libgl1, libegl1" in capsys.readouterr().err


def test_as_root_they_are_installed(monkeypatch):
    linux_with(monkeypatch, root=True, apt=True)
    ran = []

    def record(command, **more):
        ran.append(command)
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(starter.subprocess, "run", record)
    starter.ensure_libraries(window=True)
    assert ran[0] == ["apt-get", "update"]
    assert ran[1][-2:] == ["libgl1", "libegl1"]


def test_no_display_is_noticed(monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    assert not starter.has_display()
    monkeypatch.setenv("DISPLAY", ":1")
    assert starter.has_display()


def test_progress_shows_what_is_fetched():
    assert "scipy" in starter.read_progress("Collecting scipy>=1.13; python_version > '3'")
    assert starter.read_progress("  Using cached something") == ""


def test_the_demo_refuses_an_unknown_word(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["demo", "--nowindow"])
    with pytest.raises(SystemExit) as stopped:
        runpy.run_module("demo", run_name="__main__")
    assert stopped.value.code == 2
    assert "--no-window" in capsys.readouterr().err

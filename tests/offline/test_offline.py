"""Collecting and installing without a network, with a pip that is played. The real one: `python -m tests.offline`."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from benchapp import offline, offline_install

ROOT = Path(__file__).parent.parent.parent


class Pip:
    """Plays pip: leaves a wheel where one was asked for, or fails as told."""

    def __init__(self, fails_at: str = "", says: str = "") -> None:
        self.commands: list[list[str]] = []
        self.fails_at, self.says = fails_at, says

    def __call__(self, command):
        self.commands.append(command)
        if command[3] == self.fails_at:
            return 1, self.says
        if command[3] == "wheel":
            (Path(command[command.index("-w") + 1]) / "race_oil_bench-0.1-py3-none-any.whl").write_bytes(b"ours")
        else:
            (Path(command[command.index("-d") + 1]) / "numpy-2-cp311-cp311-win_amd64.whl").write_bytes(b"theirs")
        return 0, ""


def collect(folder, pip, platform="windows-x86_64"):
    return offline.collect(str(folder), platform, "3.12", "python", str(ROOT), pip)


@pytest.mark.parametrize("platform", sorted(offline.PLATFORMS))
def test_the_folder_holds_wheels_starter_and_what_it_is(tmp_path, platform):
    pip = Pip()
    names = collect(tmp_path / "usb", pip, platform)
    assert names == ["numpy-2-cp311-cp311-win_amd64.whl", "race_oil_bench-0.1-py3-none-any.whl"]
    about = json.loads((tmp_path / "usb" / "about.json").read_text())
    assert (about["platform"], about["python"]) == (platform, "3.12")
    start = tmp_path / "usb" / ("start.bat" if platform.startswith("windows") else "start.sh")
    assert "install.py" in start.read_text()
    assert "%%" not in start.read_text()
    assert platform in (tmp_path / "usb" / "READ ME.txt").read_text()
    assert (tmp_path / "usb" / "install.py").read_text() == Path(offline_install.__file__).read_text()
    download = pip.commands[1]
    assert "--only-binary=:all:" in download
    assert [download[n + 1] for n, word in enumerate(download) if word == "--platform"] == offline.PLATFORMS[platform]
    assert [download[n + 1] for n, word in enumerate(download) if word == "--abi"] == ["cp312", "abi3", "none"]


def test_a_folder_that_holds_something_is_left_alone(tmp_path, capsys):
    (tmp_path / "photo.jpg").write_bytes(b"mine")
    with pytest.raises(SystemExit):
        collect(tmp_path, Pip())
    assert "holds something already" in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["photo.jpg"]


@pytest.mark.parametrize(
    ("fails_at", "says", "told"),
    [
        ("download", "ERROR: No matching distribution found for scipy>=1.13", "not to be had for this platform"),
        ("download", "ERROR: Max retries exceeded: Name resolution", "no network here"),
        ("wheel", "OSError: No space left on device", "The disk is full"),
        ("wheel", "error: something else", "The installation stopped"),
    ],
)
def test_a_failure_is_one_sentence_and_leaves_nothing(tmp_path, capsys, fails_at, says, told):
    with pytest.raises(SystemExit):
        collect(tmp_path / "usb", Pip(fails_at, says))
    assert told in capsys.readouterr().err
    assert not (tmp_path / "usb").exists()


def test_an_installed_copy_says_that_it_needs_a_checkout(tmp_path, capsys):
    with pytest.raises(SystemExit):
        offline.collect(str(tmp_path / "usb"), "linux-arm64", "3.11", "python", str(tmp_path), Pip())
    assert "checkout" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("system", "machine", "platform"),
    [
        ("linux", "x86_64", "linux-x86_64"),
        ("linux", "aarch64", "linux-arm64"),
        ("darwin", "arm64", "macos-arm64"),
        ("darwin", "x86_64", "macos-x86_64"),
        ("win32", "AMD64", "windows-x86_64"),
        ("win32", "ARM64", ""),
        ("sunos5", "sparc", ""),
    ],
)
def test_the_platform_of_this_computer(system, machine, platform):
    assert offline.this_platform(system, machine) == platform


def test_the_command(tmp_path, monkeypatch, capsys):
    real, pip = offline.collect, Pip()
    monkeypatch.setattr(offline, "collect", lambda *args: real(*args, pip))
    assert offline.main([str(tmp_path / "usb"), "--platform", "macos-arm64", "--python", "3.12"]) == 0
    assert "2 packages" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        offline.main([str(tmp_path / "usb"), "--python", "3.8"])
    assert "3.11 or later" in capsys.readouterr().err


# --- on the other computer


def about(folder: Path, python: str) -> None:
    (folder / "wheels").mkdir()
    (folder / "about.json").write_text(json.dumps({"python": python}))


def test_it_installs_from_the_folder_alone(tmp_path, monkeypatch):
    about(tmp_path, f"{sys.version_info[0]}.{sys.version_info[1]}")
    done = []

    def run(command, env):
        done.append(command)
        assert env["PIP_CONFIG_FILE"] == os.devnull
        return SimpleNamespace(returncode=0)

    monkeypatch.setattr(offline_install.subprocess, "run", run)
    monkeypatch.setattr("venv.create", lambda target, with_pip: Path(target).mkdir())
    offline_install.install(str(tmp_path), str(tmp_path / "program"))
    assert "--no-index" in done[0]
    assert done[0][done[0].index("--find-links") + 1] == str(tmp_path / "wheels")


def test_settings_of_the_installer_are_left_out():
    kept = offline_install.alone({"PIP_INDEX_URL": "x", "pip_find_links": "y", "HOME": "/home"})
    assert kept == {"HOME": "/home", "PIP_CONFIG_FILE": os.devnull}


def test_it_says_what_is_wrong(tmp_path, monkeypatch, capsys):
    with pytest.raises(SystemExit):
        offline_install.install(str(tmp_path), str(tmp_path / "program"))
    assert "copy the whole folder" in capsys.readouterr().err
    about(tmp_path, "3.99")
    with pytest.raises(SystemExit):
        offline_install.install(str(tmp_path), str(tmp_path / "program"))
    assert "collected for Python 3.99" in capsys.readouterr().err
    (tmp_path / "about.json").write_text(json.dumps({"python": f"{sys.version_info[0]}.{sys.version_info[1]}"}))
    monkeypatch.setattr("venv.create", lambda target, with_pip: None)
    monkeypatch.setattr(offline_install.subprocess, "run", lambda command, env: SimpleNamespace(returncode=1))
    with pytest.raises(SystemExit):
        offline_install.install(str(tmp_path), str(tmp_path / "program"))
    assert "The installation stopped" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("platform", "variable", "ends"),
    [
        ("linux", "XDG_DATA_HOME", "applications/race-oil-bench.desktop"),
        ("win32", "APPDATA", "Programs/Race Oil Bench.cmd"),
    ],
)
def test_it_puts_itself_in_the_menu(tmp_path, platform, variable, ends):
    path = offline_install.write_entry("/some where/benchapp", platform, {variable: str(tmp_path)})
    assert Path(path).as_posix().endswith(ends)
    assert "/some where/benchapp" in Path(path).read_text()
    assert os.access(path, os.X_OK)


def test_the_desktop_entry_quotes_its_command():
    entry = offline_install.desktop_entry('/a "b"/100 %/$x/benchapp')
    assert 'Exec="/a \\"b\\"/100 %%/\\$x/benchapp" open %f' in entry
    assert entry.startswith("[Desktop Entry]\n")


def test_where_the_program_goes():
    home = offline_install.home_of_program("linux", {"XDG_DATA_HOME": "/data"})
    assert home == str(Path("/data") / "race-oil-bench" / "program")
    assert "Application Support" in offline_install.home_of_program("darwin", {})
    windows = offline_install.home_of_program("win32", {"LOCALAPPDATA": "C:/local"})
    assert windows.startswith("C:/local")


def test_main_starts_what_it_installed(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(offline_install, "install", lambda here, target: None)
    monkeypatch.setattr(offline_install, "write_entry", lambda program: str(tmp_path / "entry"))
    started = []

    def run(command):
        started.append(command)
        return SimpleNamespace(returncode=0)

    monkeypatch.setattr(offline_install.subprocess, "run", run)
    assert offline_install.main(["--no-start", str(tmp_path / "p")]) == 0
    assert started == []
    assert offline_install.main([str(tmp_path / "p")]) == 0
    assert started == [[offline_install.command(str(tmp_path / "p"))]]
    assert "in the menu" in capsys.readouterr().out

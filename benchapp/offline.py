"""`python3 -m benchapp.offline FOLDER`: all that an installation without a network needs, for a USB stick.

Collects every wheel for one platform and one Python, our own included, with a starter that installs from that folder
alone. Standard library only. On the other computer: `start.sh` or `start.bat` (or `python3 install.py`)."""

import argparse
import json
import os
import shutil
import subprocess
import sys

from benchapp import __version__, starter

# Tags as wheels carry them. The installer widens the macOS tags to older systems by itself, the Linux ones it does not
# (PEP 600: one tag for each version of the C library); the oldest systems of the list have version 2.17.
_GLIBC = (17, 24, 26, 27, 28, 31, 34, 35, 39)
PLATFORMS = {
    "linux-x86_64": ["manylinux_2_%d_x86_64" % v for v in _GLIBC] + ["manylinux2014_x86_64", "linux_x86_64"],
    "linux-arm64": ["manylinux_2_%d_aarch64" % v for v in _GLIBC] + ["manylinux2014_aarch64", "linux_aarch64"],
    "windows-x86_64": ["win_amd64"],
    "macos-arm64": ["macosx_13_0_arm64"],
    "macos-x86_64": ["macosx_13_0_x86_64"],
}

START_SH = '#!/bin/sh\ncd "$(dirname "$0")" && exec python3 install.py "$@"\n'
START_BAT = '@echo off\r\ncd /d "%%~dp0"\r\npy -%s install.py %%* || python install.py %%*\r\nif errorlevel 1 pause\r\n'


def this_platform(system=sys.platform, machine=""):
    """The platform this runs on, or '' where it is none of ours."""
    if not machine:
        import platform

        machine = platform.machine()
    arm = machine.lower() in ("arm64", "aarch64")
    if system.startswith("win"):
        return "" if arm else "windows-x86_64"
    if system == "darwin":
        return "macos-arm64" if arm else "macos-x86_64"
    if system.startswith("linux"):
        return "linux-arm64" if arm else "linux-x86_64"
    return ""


def run(command):
    """Runs the installer; returns (exit code, what it said)."""
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, universal_newlines=True)
    return done.returncode, done.stdout or ""


def wheel_command(python, root, wheels):
    """Builds our own wheel from the checkout."""
    return [python, "-m", "pip", "wheel", "--disable-pip-version-check", "--no-deps", "-w", wheels, root]


def download_command(python, own_wheel, wheels, platform, version):
    """Fetches what our wheel needs, for another platform and another Python than this one if need be."""
    short = version.replace(".", "")
    command = [python, "-m", "pip", "download", "--disable-pip-version-check", "--progress-bar", "off"]
    command += ["--only-binary=:all:", "--implementation", "cp", "--python-version", version]
    for abi in ("cp" + short, "abi3", "none"):
        command += ["--abi", abi]
    for tag in PLATFORMS[platform]:
        command += ["--platform", tag]
    return command + ["-d", wheels, own_wheel]


def collect(folder, platform, version, python, root, call=run):
    """Fills the folder; returns the names of the wheels. Nothing stays in it where a package cannot be had."""
    wheels = os.path.join(folder, "wheels")
    if os.path.isdir(folder) and os.listdir(folder):
        starter.stop("The folder %s holds something already: name an empty or a new one." % folder)
    if not os.path.isfile(os.path.join(root, "pyproject.toml")):
        starter.stop("This copy of the program is installed, not a checkout: run this command in a checkout of it.")
    os.makedirs(wheels)
    try:
        starter.say("Building our own package ...")
        _or_stop(call(wheel_command(python, root, wheels)))
        own = [name for name in os.listdir(wheels) if name.startswith("race_oil_bench-")]
        if not own:
            starter.stop("Our own package was not built: there is no wheel of it in %s." % wheels)
        starter.say("Fetching what it needs for %s, Python %s (some hundred megabytes) ..." % (platform, version))
        _or_stop(call(download_command(python, os.path.join(wheels, own[0]), wheels, platform, version)))
        _write_rest(folder, platform, version)
    except (SystemExit, KeyboardInterrupt):
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return sorted(os.listdir(wheels))


def _or_stop(answer):
    code, said = answer
    if not code:
        return
    if "No matching distribution" in said:
        lines = [line for line in said.splitlines() if "No matching distribution" in line]
        starter.stop("One package is not to be had for this platform, so nothing was kept. %s" % lines[-1].strip())
    starter.stop(starter.why_not_installed(said.splitlines()))


def _write_rest(folder, platform, version):
    """The starters, what the folder is, and how it is used."""
    shutil.copy(os.path.join(os.path.dirname(os.path.abspath(__file__)), "offline_install.py"),
                os.path.join(folder, "install.py"))  # fmt: skip
    about = {"program": "Race Oil Bench", "version": __version__, "platform": platform, "python": version}
    texts = {
        "about.json": json.dumps(about, indent=1) + "\n",
        "READ ME.txt": read_me(platform, version),
    }
    texts["start.bat" if platform.startswith("windows") else "start.sh"] = (
        START_BAT % version if platform.startswith("windows") else START_SH
    )
    for name, text in texts.items():
        with open(os.path.join(folder, name), "w", newline="") as out:
            out.write(text)
    if not platform.startswith("windows"):
        os.chmod(os.path.join(folder, "start.sh"), 0o755)


def read_me(platform, version):
    """What stands in the folder for the person who finds it."""
    start = "start.bat" if platform.startswith("windows") else "start.sh"
    more = ""
    if platform.startswith("linux"):
        packages = " ".join(name for name, _ in starter.OFFSCREEN_LIBRARIES + starter.WINDOW_LIBRARIES)
        more = "\nOn a bare Debian these system packages are needed too (bring them along): %s\n" % packages
    return (
        "Race Oil Bench %s, without a network\n\n"
        "For: %s, Python %s (the computer needs that Python).\n"
        "Copy the whole folder to the computer and run %s.\n"
        "It installs into your own folder, puts itself in the menu and starts. No administrator is needed.\n%s"
        % (__version__, platform, version, start, more)
    )


def size_mb(folder):
    """Size of all files in a folder [MB]."""
    total = 0
    for place, _, names in os.walk(folder):
        total += sum(os.path.getsize(os.path.join(place, name)) for name in names)
    return total / 1e6


def main(arguments):
    """See the module."""
    starter.check_python()
    parser = argparse.ArgumentParser(prog="python3 -m benchapp.offline", description=__doc__.splitlines()[0])
    parser.add_argument("folder", help="an empty or a new folder, for example on a USB stick")
    here = this_platform() or None
    parser.add_argument("--platform", choices=sorted(PLATFORMS), default=here, help="for which computer")
    parser.add_argument("--python", default="%d.%d" % sys.version_info[:2], help="its Python, for example 3.12")
    parsed = parser.parse_args(arguments)
    if not parsed.platform:
        parser.error("this computer is none of the platforms: name one with --platform")
    if not _is_version(parsed.python):
        parser.error("--python wants a version like 3.12, 3.11 or later")
    root = starter.root_folder()
    python = sys.executable if starter.works(sys.executable) else starter.make_venv(root)
    names = collect(os.path.abspath(parsed.folder), parsed.platform, parsed.python, python, root)
    starter.say("%d packages, %.0f MB, in %s" % (len(names), size_mb(parsed.folder), parsed.folder))
    return 0


def _is_version(text):
    parts = text.split(".")
    return len(parts) == 2 and all(part.isdigit() for part in parts) and tuple(map(int, parts)) >= starter.MINIMUM


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

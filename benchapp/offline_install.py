"""Installs Race Oil Bench from the folder this file lies in, with no network, and starts it.

A copy of this file lies beside the `wheels` in a folder made by `python3 -m benchapp.offline`. Standard library only,
and written so that a too old Python still reaches the sentence that says it is too old."""

import json
import os
import subprocess
import sys

MINIMUM = (3, 11)
NAME = "Race Oil Bench"
PACKAGE = "race-oil-bench"


def stop(sentence):
    """Ends with one clear sentence on stderr and exit code 1."""
    sys.stderr.write(sentence + "\n")
    raise SystemExit(1)


def home_of_program(platform=sys.platform, environment=os.environ):
    """Where the program is put: the person's own folder for programs' data, no administrator needed."""
    home = os.path.expanduser("~")
    if platform.startswith("win"):
        base = environment.get("LOCALAPPDATA") or os.path.join(home, "AppData", "Local")
    elif platform == "darwin":
        base = os.path.join(home, "Library", "Application Support")
    else:
        base = environment.get("XDG_DATA_HOME") or os.path.join(home, ".local", "share")
    return os.path.join(base, "race-oil-bench", "program")


def interpreter(folder, windows=os.name == "nt"):
    """The interpreter of the private Python in `folder`."""
    return os.path.join(folder, "Scripts", "python.exe") if windows else os.path.join(folder, "bin", "python")


def command(folder, windows=os.name == "nt"):
    """The program itself in `folder`."""
    return os.path.join(folder, "Scripts", "benchapp.exe") if windows else os.path.join(folder, "bin", "benchapp")


def check_fit(about, version=sys.version_info):
    """Refuses a Python that the wheels were not collected for."""
    wanted = tuple(int(part) for part in about["python"].split("."))
    if tuple(version[:2]) != wanted:
        stop(
            "These packages were collected for Python %s, and this is Python %d.%d: install Python %s here, or collect "
            "them again with '--python %d.%d'."
            % (about["python"], version[0], version[1], about["python"], version[0], version[1])
        )


def pip_command(python, wheels):
    """The command that installs from the wheels and from nowhere else."""
    return [
        python, "-m", "pip", "install", "--disable-pip-version-check", "--no-index", "--find-links", wheels,
        "--upgrade", PACKAGE,
    ]  # fmt: skip


def alone(environment=os.environ):
    """The environment without settings of pip: nothing but the folder is looked into."""
    kept = {name: value for name, value in environment.items() if not name.upper().startswith("PIP_")}
    kept["PIP_CONFIG_FILE"] = os.devnull
    return kept


def install(here, target):
    """Makes a private Python in `target` and installs into it."""
    wheels = os.path.join(here, "wheels")
    if not os.path.isdir(wheels):
        stop("There is no folder 'wheels' beside this file: copy the whole folder, not this file alone.")
    with open(os.path.join(here, "about.json")) as text:
        check_fit(json.load(text))
    print("Installing %s into %s ..." % (NAME, target))
    try:
        import venv
    except ImportError:
        stop("This Python has no 'venv' module: on Debian or Ubuntu install the package python3-venv, then try again.")
    venv.create(target, with_pip=True)
    done = subprocess.run(pip_command(interpreter(target), wheels), env=alone())
    if done.returncode:
        stop("The installation stopped; its last lines are above. Nothing else on this computer was changed.")


def desktop_entry(program):
    """The entry for the menu of a Linux desktop (freedesktop.org, Desktop Entry Specification)."""
    quoted = program.replace("\\", "\\\\").replace('"', '\\"').replace("`", "\\`").replace("$", "\\$")
    lines = (
        "[Desktop Entry]",
        "Type=Application",
        "Version=1.0",
        "Name=%s" % NAME,
        "Comment=From an oil sample of a race engine to a call",
        'Exec="%s" open %%f' % quoted.replace("%", "%%"),
        "Terminal=false",
        "Categories=Science;",
    )
    return "\n".join(lines) + "\n"


def write_entry(program, platform=sys.platform, environment=os.environ):
    """Puts the program where a person looks for it; returns the file."""
    home = os.path.expanduser("~")
    if platform.startswith("win"):
        base = environment.get("APPDATA") or os.path.join(home, "AppData", "Roaming")
        path = os.path.join(base, "Microsoft", "Windows", "Start Menu", "Programs", NAME + ".cmd")
        text = '@start "" "%s" %%*\r\n' % program
    elif platform == "darwin":
        path = os.path.join(home, "Applications", NAME + ".command")
        text = '#!/bin/sh\nexec "%s" "$@"\n' % program
    else:
        base = environment.get("XDG_DATA_HOME") or os.path.join(home, ".local", "share")
        path = os.path.join(base, "applications", "race-oil-bench.desktop")
        text = desktop_entry(program)
    if not os.path.isdir(os.path.dirname(path)):
        os.makedirs(os.path.dirname(path))
    with open(path, "w") as out:
        out.write(text)
    os.chmod(path, 0o755)
    return path


def main(arguments):
    """`install.py [--no-start] [TARGET]`"""
    if sys.version_info[:2] < MINIMUM:
        stop("This is Python %d.%d and %s needs %d.%d or later." % (sys.version_info[:2] + (NAME,) + MINIMUM))
    start = "--no-start" not in arguments
    places = [each for each in arguments if not each.startswith("--")]
    target = os.path.abspath(places[0]) if places else home_of_program()
    install(os.path.dirname(os.path.abspath(__file__)), target)
    print("It is in the menu now: %s" % write_entry(command(target)))
    if start:
        return subprocess.run([command(target)]).returncode
    print("Start it with: %s" % command(target))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

"""The whole way with the real installer: `.venv/bin/python -m tests.offline [FOLDER]`. Needs a network to collect.

Collects for this computer, then installs from the folder alone: in a process that has no network at all where the
system lets us make one (`unshare -n`, root on Linux), else at least with pip's `--no-index`, which asks no index.
Then starts the installed program's command line there. Not part of the fast suite: some hundred megabytes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from benchapp import offline

ROOT = Path(__file__).parent.parent.parent
REACH = "import socket; socket.create_connection(('192.0.2.1', 9), 3)"  # RFC 5737: an address for tests, never routed


def without_network() -> list[str]:
    """The words before a command that take the network away, or none where that cannot be done here."""
    words = ["unshare", "-n"]
    if not sys.platform.startswith("linux") or not shutil.which("unshare"):
        return []
    return words if subprocess.run([*words, "true"], capture_output=True).returncode == 0 else []


def main(arguments: list[str]) -> int:
    with tempfile.TemporaryDirectory() as work:
        usb = Path(arguments[0]) if arguments else Path(work) / "usb"
        if not usb.is_dir():
            offline.main([str(usb)])
        before = without_network()
        print("no network in the process" if before else "no network asked for (--no-index)")
        if before:
            said = subprocess.run([*before, sys.executable, "-c", REACH], capture_output=True, text=True).stderr
            assert "unreachable" in said, said
        program = Path(work) / "program"
        environment = {
            **os.environ,
            "XDG_DATA_HOME": work,
            "QT_QPA_PLATFORM": "offscreen",
            "PYTHONPATH": "",
            "PIP_NO_CACHE_DIR": "1",
        }
        environment.pop("PIP_INDEX_URL", None)
        install = [*before, sys.executable, str(usb / "install.py"), "--no-start", str(program)]
        subprocess.run(install, check=True, env=environment, cwd=work)
        own = offline_command(program)
        demo = f"{work}/demo.bench"
        commands = (
            ["--version"],
            ["new", f"{work}/a.bench"],
            ["demo", demo, "--no-window"],
            ["call", demo, "--engine", "LK-01"],
            ["sheet", demo, "--sample", "LK-01-2-010", "-o", f"{work}/sheet.pdf"],
        )
        for command in commands:
            whole = [*before, own, *command]
            done = subprocess.run(whole, env=environment, cwd=work, capture_output=True, text=True)
            print(" ".join(command), "->", done.returncode)
            assert done.returncode == 0, done.stderr
        assert (Path(work) / "sheet.pdf").read_bytes().startswith(b"%PDF")
        assert (Path(work) / "applications" / "race-oil-bench.desktop").is_file()
    print("installed and run without a network")
    return 0


def offline_command(program: Path) -> str:
    from benchapp import offline_install

    return offline_install.command(str(program))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

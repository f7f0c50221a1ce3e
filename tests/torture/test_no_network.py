"""No network, ever: the jobs of a whole day in a process in which opening a socket is an error."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent

DAY = """
import sys

def watch(event, arguments):
    if event.startswith("socket.") and event != "socket.gethostname":
        sys.stderr.write(f"NETWORK {event} {arguments}\\n")
        raise OSError("the network was touched")

sys.addaudithook(watch)
from pathlib import Path
from benchapp import cli
from benchapp.actions.bench import Bench
from tests.actions.making import furnish

folder = Path(sys.argv[1])
with Bench.create(folder / "a.bench", who="Ann") as bench:
    furnish(bench, samples=2)
(folder / "t.txt").write_text("Sample\\tMg\\nS-1\\t5\\nW-1\\t6\\n")
a, b = str(folder / "a.bench"), str(folder / "b.bench")
for command in (["unload", a, str(folder / "x.xlsx")], ["new", b], ["load", b, str(folder / "x.xlsx")],
                ["paste", a, str(folder / "t.txt")], ["call", a, "--json"], ["merge", a, b], ["backup", a],
                ["verify", a], ["sheet", a, "--sample", "S-1", "-o", str(folder / "s.pdf")], ["restore", a],
                ["--version"]):
    code = cli.main(command)
    assert code == 0, (command, code)
sys.stdout.write("DONE\\n")
"""


def test_a_day_without_a_socket(tmp_path, qapp):
    done = subprocess.run(
        [sys.executable, "-c", DAY, str(tmp_path)], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert "NETWORK" not in done.stderr
    assert done.stdout.endswith("DONE\n"), done.stderr


def test_the_watch_would_see_one():
    code = DAY.partition("from pathlib")[0] + "import socket\nsocket.create_connection(('127.0.0.1', 9))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "NETWORK socket." in done.stderr

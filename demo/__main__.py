"""`python3 -m demo`: builds the demo bench file and opens it; `--no-window` only builds. Standard library only."""

import os
import subprocess
import sys

from benchapp import starter

USE = "Use: python3 -m demo [--no-window]"


def main(arguments):
    if any(word in ("-h", "--help") for word in arguments):
        print(__doc__ + "\n" + USE)
        return 0
    unknown = [word for word in arguments if word != "--no-window"]
    if unknown:
        print("'%s' is not known here. %s" % (unknown[0], USE), file=sys.stderr)
        return 2
    window = "--no-window" not in arguments
    root, python = starter.prepare("", window=window and starter.has_display())
    folder = os.path.join(root, "demo", "built")
    os.makedirs(folder, exist_ok=True)
    target = os.path.join(folder, "demo.bench")
    starter.say("Building the demo bench file: an invented team, its engines and two seasons of oil samples ...")
    code = subprocess.call([python, "-m", "benchapp", "demo", target, "--no-window"], cwd=root)
    if code or not window:
        return code
    if not starter.has_display():
        starter.stop(
            "The demo bench file is built, but there is no display here to open a window on: run the same command on "
            "a desktop, or with --no-window."
        )
    starter.say("Opening it ...")
    return subprocess.call([python, "-m", "benchapp", "open", target], cwd=root)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

"""`python3 -m demo`: builds the demo bench file and opens it; `--no-window` only builds. Standard library only."""

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
    starter.say("Building the demo bench file: an invented team, its engines and two seasons of oil samples ...")
    built = subprocess.run(
        [python, "-m", "benchapp", "demo", "--no-window"], cwd=root, stdout=subprocess.PIPE, universal_newlines=True
    )
    print(built.stdout, end="", flush=True)
    if built.returncode or not window:
        return built.returncode
    if not starter.has_display():
        starter.stop(
            "The demo bench file is built, but there is no display here to open a window on: run the same command on "
            "a desktop, or with --no-window."
        )
    starter.say("Opening it ...")
    return subprocess.call([python, "-m", "benchapp", "open", built.stdout.strip().splitlines()[-1]], cwd=root)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

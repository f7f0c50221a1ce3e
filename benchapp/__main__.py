"""`python -m benchapp`: the same as the command `benchapp`."""

from __future__ import annotations

import sys

from benchapp.cli import main

if __name__ == "__main__":
    sys.exit(main())

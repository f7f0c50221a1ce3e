"""`python -m tests.benchmarks`: prints the table of ratios. `--quick`: the sizes that every run of the tests takes."""

from __future__ import annotations

import argparse
import math
import os
import sys
import tempfile
from pathlib import Path

from tests.benchmarks import all_rows
from tests.benchmarks.measure import table


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small sizes: a minute or two")
    parser.add_argument("--only", metavar="WORD", default="", help="only these: " + ", ".join(all_rows.GROUPS))
    parsed = parser.parse_args()
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    rows = []
    with tempfile.TemporaryDirectory(prefix="bench-speed-") as folder:
        for name, group in all_rows.GROUPS.items():
            if parsed.only not in name:
                continue
            print(f"measuring {name} …", file=sys.stderr, flush=True)
            rows += group(Path(folder), parsed.quick)
    print(table(rows))
    aimed = [row for row in rows if math.isfinite(row.target)]
    met = sum(row.met for row in aimed)
    print(f"\n{met} of {len(aimed)} met. Processor time; the least of several measurements by turns.")
    return 0


if __name__ == "__main__":
    sys.exit(main())

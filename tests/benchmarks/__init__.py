"""Speed beside the machine's own limit.

The package under test is imported first: it sets how many threads NumPy may use, which counts only before NumPy is
loaded. With NumPy loaded first, judging costs five times as much."""

import benchapp  # noqa: F401

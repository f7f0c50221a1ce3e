"""Faults and torture: on the true disk."""

from tests.on_disk import tmp_path  # noqa: F401

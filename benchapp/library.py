"""Reads resources/ (data that is not code) into records; the pure rooms are handed what it returns.

In a checkout resources/ lies beside the package, in an installed wheel inside it; nothing else differs.
"""

from __future__ import annotations

from pathlib import Path


def resources_dir() -> Path:
    """Folder of the resources: inside the installed package, else beside it in a checkout."""
    inside = Path(__file__).parent / "resources"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "resources"

"""Makes the demo bench file for the first page."""

from __future__ import annotations

from pathlib import Path


def build(folder: str) -> str:
    """Builds the demo bench file in `folder` (an older one is replaced) and returns its path."""
    from benchapp.actions import demo

    path = Path(folder) / "demo.bench"
    path.parent.mkdir(parents=True, exist_ok=True)
    return str(demo.build(path))

"""Verbs for materials: alloys, coatings and contaminants of the file's own."""

from __future__ import annotations

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Material


def add(bench: Bench, material: Material) -> Changed:
    """Adds a material of the file's own. One with a library material's id stands in front of it."""
    raise NotImplementedError


def edit(bench: Bench, material: Material) -> Changed:
    """Replaces the material of that id."""
    raise NotImplementedError


def void(bench: Bench, material_id: str, reason: str) -> Changed:
    """Hides a material of the file's own."""
    raise NotImplementedError

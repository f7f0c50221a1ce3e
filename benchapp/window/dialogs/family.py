"""The form for an own family: engines built alike, their parts and materials."""

from __future__ import annotations

from typing import Any, ClassVar

from PySide6.QtWidgets import QWidget

from benchapp.actions import family as verbs
from benchapp.records import Family, Part
from benchapp.window.dialogs.form import FieldError, Form, read_number
from benchapp.window.dialogs.preview import FamilyPreview
from benchapp.window.dialogs.rows import Typed, TypedTable


class FamilyForm(Form):
    """A new family."""

    title: ClassVar[str] = "Add a family"
    lead: ClassVar[str] = "Engines built alike, in plain technical words. Start from one that is near and change it."
    verb: ClassVar[str] = "Add family"
    width: ClassVar[int] = 1100
    shares: ClassVar[tuple[int, int]] = (7, 3)

    def aside(self) -> QWidget:
        self.preview = FamilyPreview(self.session, self, with_parts=False)
        return self.preview

    def make(self) -> None:
        families = self.session.bench.families()
        start = self.picker(
            "start", "&Start from", "Its parts are copied; empty for none.", [("", ""), *((n, n) for n in families)], ""
        )
        start.currentTextChanged.connect(self._start_from)
        self.line("name", "&Name", "Layout, bores, bearings, sump: no maker's name needed.", needed=True)
        self.line("layout", "&Layout", "Cylinders, valves, block.")
        self.number(
            "sump_l", "S&ump", "L", "All the oil that circulates: tank, lines and cooler too.", low=0.05, high=200.0
        )
        self.line("notes", "No&tes", "What is tender in these engines.")
        self.heading("Parts")
        materials = self.session.bench.materials()
        self._ids = {f"{material.name} ({key})": key for key, material in materials.items()}
        self._words = {key: words for words, key in self._ids.items()}
        self.table = TypedTable(
            (
                Typed("Part", _part_wrong, 18, "One name a part"),
                Typed(
                    "Material",
                    self._material_wrong,
                    24,
                    "Type a part of its name",
                    tuple(self._ids),
                    only=True,
                    stretch=True,
                ),
                Typed("Role", _anything, 16, "What it is", tuple(self.session.library.roles)),
                Typed("Area [cm²]", _number_wrong, 11, "All pieces together, where known", number=True),
                Typed("Layer [µm]", _number_wrong, 11, "Thickness, where the part is a layer", number=True),
            ),
            "Parts of the family",
            self,
        )
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 7)
        self.table.typed.edited.connect(self._show_preview)
        self.whole(self.table, stretch=True)
        self._show_preview()

    def _start_from(self, name: str) -> None:
        family = self.session.bench.families().get(name.strip())
        if family is None:
            return
        self.set_text("layout", family.layout)
        self.set_text("sump_l", "" if family.sump_l is None else f"{family.sump_l:g}")
        self.set_text("notes", family.notes)
        self.table.typed.set_rows(
            [
                (
                    part.name,
                    self._words.get(part.material, part.material),
                    part.role,
                    "" if part.area_cm2 is None else f"{part.area_cm2:g}",
                    "" if part.thickness_um is None else f"{part.thickness_um:g}",
                )
                for part in family.parts
            ]
        )

    def _material_wrong(self, text: str) -> str:
        if text in self._ids or text in self._words:
            return ""
        return f"“{text}” is not in the list of materials." if text else "Which material?"

    def _parts(self) -> tuple[Part, ...]:
        """The parts as they stand. Raises FieldError."""
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        return tuple(
            Part(
                name,
                self._ids.get(material, material),
                role,
                read_number(area, 0.0, 1e5, "cm²", needed=False),
                read_number(layer, 0.0, 1e5, "µm", needed=False),
            )
            for name, material, role, area, layer in self.table.typed.rows()
        )

    def _show_preview(self) -> None:
        try:
            parts = self._parts()
        except FieldError:
            return  # half typed: the preview waits
        self.preview.show_family(Family(self.text("name") or "this family", parts=parts))

    def commit(self, values: dict[str, Any]) -> None:
        parts = self._parts()
        if not parts:
            raise FieldError("A family needs at least one part: without it no metal can be explained.")
        names = [part.name for part in parts]
        doubles = sorted({name for name in names if names.count(name) > 1})
        if doubles:
            raise FieldError(f"Two parts are called “{doubles[0]}”. Give each its own name.")
        made = Family(values["name"], values["layout"], values["sump_l"], parts, values["notes"])
        self.session.run_or_raise(verbs.add, made)


def _part_wrong(text: str) -> str:
    return "" if text else "Which part?"


def _number_wrong(text: str) -> str:
    try:
        read_number(text, 0.0, 1e5, "", needed=False)
    except FieldError as wrong:
        return str(wrong)
    return ""


def _anything(_text: str) -> str:
    return ""

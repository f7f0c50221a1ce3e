"""Forms for engines, their builds and the parts of a build."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from PySide6.QtWidgets import QWidget

from benchapp.actions import engine as verbs
from benchapp.records import Part
from benchapp.window.dialogs.form import FieldError, Form, OnEngine
from benchapp.window.dialogs.preview import FamilyPreview

BEARINGS_WHY = "Journals and clearances as measured, for the oil film: a form of their own."


def today() -> str:
    """Today, as it is typed."""
    return dt.date.today().isoformat()  # noqa: DTZ011  (the day on the person's clock)


class EngineForm(Form):
    """A new engine, from a family."""

    title: ClassVar[str] = "Add an engine"
    lead: ClassVar[str] = "The family brings the parts and their metals; what differs in this engine is changed after."
    verb: ClassVar[str] = "Add engine"
    width: ClassVar[int] = 980

    def aside(self) -> QWidget:
        self.preview = FamilyPreview(self.session, self)
        return self.preview

    def make(self) -> None:
        self.line("name", "&Name", "As it stands on the engine: one name, one engine.", needed=True, example="E07")
        families = self.session.bench.families()
        box = self.picker(
            "family", "&Family", "Engines built alike. Type a part of its name.", [(name, name) for name in families]
        )
        box.currentTextChanged.connect(self._family_typed)
        self.line("car", "&Car", "Where it runs now; may be left empty.", example="12")
        self.number(
            "sump_l",
            "&Sump",
            "L",
            "All the oil that circulates: tank, lines and cooler too. Empty: as the family.",
            low=0.05,
            high=200.0,
        )
        self.line("build", "&Build", "Its number: an engine between two rebuilds.", "1", needed=True)
        self.moment("built_on", "Built &on", "The day this build was finished.")
        self.line("notes", "No&tes", "Anything that helps to know it again.")
        self.flag("bearings", "Bearin&gs next", BEARINGS_WHY)
        self.preview.show_family(None)

    def _family_typed(self, name: str) -> None:
        family = self.session.bench.families().get(name.strip())
        self.preview.show_family(family)
        sump = self.fields["sump_l"].editor
        sump.setPlaceholderText(f"{family.sump_l:g} (family)" if family and family.sump_l else "")

    def commit(self, values: dict[str, Any]) -> None:
        self.session.run_or_raise(
            verbs.add,
            values["name"],
            values["family"],
            values["car"],
            values["notes"],
            build=values["build"],
            sump_l=values["sump_l"],
            built_on=values["built_on"],
        )
        self.session.show_engine(values["name"])
        if values["bearings"]:
            self.then = ("bearings", {})


class BuildForm(OnEngine):
    """The engine at hand was rebuilt."""

    title: ClassVar[str] = "New build"
    lead: ClassVar[str] = "After a rebuild, hours, ceiling and history begin anew; the old build stays as it is."
    verb: ClassVar[str] = "Add build"

    def make(self) -> None:
        self.line("number", "&Build", "Its number. Empty: the next one.")
        self.moment("built_on", "Built &on", "The day the build was finished.", today())
        sump = self.build.sump_l if self.build else None
        self.number(
            "sump_l", "&Sump", "L", "All the oil that circulates. Empty: as the family.", sump, low=0.05, high=200.0
        )
        self.flag(
            "keep", "Keep this engine's &own parts", "What differed from the family in the last build stays.", True
        )
        self.line("notes", "No&tes", "What was done.")
        self.flag("bearings", "Bearin&gs next", BEARINGS_WHY)

    def commit(self, values: dict[str, Any]) -> None:
        self.session.run_or_raise(
            verbs.add_build,
            self.engine.name,
            values["number"],
            sump_l=values["sump_l"],
            built_on=values["built_on"],
            notes=values["notes"],
            keep_parts=values["keep"],
        )
        if values["bearings"]:
            self.then = ("bearings", {})


HAS, HAS_NOT, AS_FAMILY = "has", "has not", "as family"


class PartForm(OnEngine):
    """This build has another part than its family."""

    title: ClassVar[str] = "Change a part"
    lead: ClassVar[str] = "What this build has otherwise than its family. The call counts with the part that is in it."
    verb: ClassVar[str] = "Change part"

    def __init__(self, session: Any, parent: QWidget | None = None, part: str = "") -> None:
        self._part = part
        super().__init__(session, parent)

    def make(self) -> None:
        parts = self.build.parts if self.build else ()
        self.choice(
            "does",
            "&This build",
            "Leave out what is not in it; go back where the change was wrong.",
            (("has this part", HAS), ("does not have this part", HAS_NOT), ("is as its family here", AS_FAMILY)),
        )
        name = self.line(
            "part", "&Part", "One of its parts, or a new name for a part more.", self._part, needed=True,
            suggest=[part.name for part in parts],
        )  # fmt: skip
        name.textChanged.connect(self._part_typed)
        materials = self.session.bench.materials()
        choices = [(f"{material.name} ({key})", key) for key, material in materials.items()]
        self.picker("material", "&Material", "Its wearing surface. Type a part of the name or the id.", choices)
        self.line(
            "role",
            "&Role",
            "What it does: bore, ring, main bearing overlay and so on.",
            suggest=list(self.session.library.roles),
        )
        self.number("area_cm2", "&Area", "cm²", "Wearing area, all pieces together, where it is known.", high=1e5)
        self.number("thickness_um", "T&hickness", "µm", "Of the layer, where the part is one.", high=1e5)
        self._part_typed(self._part)

    def _part_typed(self, name: str) -> None:
        part = self._known(name.strip())
        if part is None:
            return
        box = self.fields["material"].editor
        box.setCurrentIndex(box.findData(part.material))
        self.set_text("role", part.role)
        self.set_text("area_cm2", "" if part.area_cm2 is None else f"{part.area_cm2:g}")
        self.set_text("thickness_um", "" if part.thickness_um is None else f"{part.thickness_um:g}")

    def _known(self, name: str) -> Part | None:
        return next((part for part in (self.build.parts if self.build else ()) if part.name == name), None)

    def read(self) -> dict[str, Any] | None:
        """Material and layer matter only where the build has the part."""
        if self.fields["does"].editor.currentData() != HAS:
            values = {"does": self.fields["does"].editor.currentData(), "part": self.text("part").strip()}
            if values["part"]:
                return values
        return super().read()

    def commit(self, values: dict[str, Any]) -> None:
        engine, build = self.engine.name, self.the_build()
        if values["does"] == HAS_NOT:
            self.session.run_or_raise(verbs.remove_part, engine, build, values["part"])
        elif values["does"] == AS_FAMILY:
            self.session.run_or_raise(verbs.restore_part, engine, build, values["part"])
        else:
            part = Part(values["part"], values["material"], values["role"], values["area_cm2"], values["thickness_um"])
            if part == self._known(part.name):
                raise FieldError("Nothing differs from what this build has already.")
            self.session.run_or_raise(verbs.override_part, engine, build, part)

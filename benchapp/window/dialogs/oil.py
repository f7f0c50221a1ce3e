"""The form for an oil as it is when new."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any, ClassVar

from benchapp.actions import oil as verbs
from benchapp.records import Oil
from benchapp.window.dialogs.form import FieldError, Form, read_number
from benchapp.window.dialogs.rows import Typed, TypedTable

KINDS = (("race", "race"), ("break-in", "break-in"), ("road", "road"), ("not stated", ""))
USUAL = ("Ca", "Mg", "Zn", "P", "B", "Mo", "Na", "Si")
"""Elements that stand in the table beforehand: the additives that tell oils apart."""


class OilForm(Form):
    """A new oil."""

    title: ClassVar[str] = "Add an oil"
    lead: ClassVar[str] = "The oil as it is when new: best from a sample of the new oil on your own instrument."
    verb: ClassVar[str] = "Add oil"
    width: ClassVar[int] = 600

    def make(self) -> None:
        self.line("name", "&Name", "As you call it; one name, one product.", needed=True)
        self.choice("kind", "&Kind", "What it is used for.", KINDS, "race")
        self.line("sae_grade", "SAE &grade", "As on the can.", example="10W-40")
        self.heading("Fresh metals and additives")
        self.table = TypedTable(
            (
                Typed("Element", self._element_wrong, 12, "Its symbol", tuple(self.session.library.elements)),
                Typed("Fresh [ppm]", _ppm_wrong, 16, "Empty: not known, which is not zero", number=True, stretch=True),
            ),
            "Fresh oil by element",
            self,
        )
        self.table.typed.set_rows([(element, "") for element in USUAL])
        self.table.setCurrentIndex(self.table.typed.index(0, 1))
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        self.whole(self.table)
        self.heading("Fresh viscosity and numbers")
        self.number("kv40_cst", "KV &40", "cSt", "Kinematic viscosity at 40 °C.", low=0.5, high=2000.0)
        self.number("kv100_cst", "KV &100", "cSt", "Kinematic viscosity at 100 °C.", low=0.5, high=200.0)
        self.number("hths_mpas", "H&THS", "mPa·s", "At 150 °C and high shear.", low=0.5, high=20.0)
        self.number("density_15c_kg_l", "&Density", "kg/L", "At 15 °C.", low=0.6, high=1.2)
        self.number("tbn", "T&BN", "mg KOH/g", "Base number.", high=100.0)
        self.number("tan", "T&AN", "mg KOH/g", "Acid number.", high=50.0)
        why = "Own limits, bench blends with fuel, fresh oxidation: a form of their own."
        self.flag("more", "&Limits and blends next", why)

    def _element_wrong(self, text: str) -> str:
        return "" if text in self.session.library.elements else f"“{text}” is no element's symbol."

    def commit(self, values: dict[str, Any]) -> None:
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        fresh: dict[str, float] = {}
        for element, text in self.table.typed.rows():
            value = read_number(text, 0.0, 1e6, "ppm", needed=False)
            if value is None:
                continue
            if element in fresh:
                raise FieldError(f"{element} stands in two rows. Keep one.")
            fresh[element] = value
        more = values.pop("more")
        self.session.run_or_raise(verbs.add, Oil(**values, fresh_ppm=MappingProxyType(fresh)))
        if more:
            self.then = ("oil_card", {"oil": values["name"]})


def _ppm_wrong(text: str) -> str:
    try:
        read_number(text, 0.0, 1e6, "ppm", needed=False)
    except FieldError as wrong:
        return str(wrong)
    return ""

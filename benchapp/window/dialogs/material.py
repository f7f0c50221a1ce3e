"""The form for an own material."""

from __future__ import annotations

import re
from typing import Any, ClassVar

from benchapp.actions import looks
from benchapp.actions import material as verbs
from benchapp.records import ElementShare, Material
from benchapp.window.dialogs.form import FieldError, Form, read_number
from benchapp.window.dialogs.rows import Typed, TypedTable


class MaterialForm(Form):
    """A new alloy or coating."""

    title: ClassVar[str] = "Add a material"
    lead: ClassVar[str] = (
        "What a part sheds is what it is made of. Shares by weight, with the range that they may have."
    )
    verb: ClassVar[str] = "Add material"
    width: ClassVar[int] = 680

    def make(self) -> None:
        self.line("name", "&Name", "As you call it.", needed=True)
        self.line(
            "id", "&Id", "Short, without blanks; workbooks use it. Empty: made from the name.", example="my_alloy"
        )
        groups = sorted({material.group for material in self.session.bench.materials().values() if material.group})
        self.line("group", "&Group", "Where it stands in the list.", suggest=groups)
        self.line("used_for", "&Used for", "So that others choose it rightly.")
        self.number("density_g_cm3", "&Density", "g/cm³", "Only for turning mg into µm.", low=0.5, high=25.0)
        self.heading("Elements")
        self.table = TypedTable(
            (
                Typed("Element", self._element_wrong, 10, "Its symbol", tuple(self.session.library.elements)),
                Typed("Share [%]", _optional, 12, "Usual share; empty for an impurity with only a limit", number=True),
                Typed("From [%]", _optional, 11, "Lowest share; empty: 0", number=True),
                Typed("To [%]", _needed, 11, "Highest share", number=True),
                Typed("Where from", _anything, 20, "Standard, data sheet, own analysis", stretch=True),
            ),
            "Elements of the material",
            self,
        )
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        self.whole(self.table, stretch=True)

    def _element_wrong(self, text: str) -> str:
        return "" if text in self.session.library.elements else f"“{text}” is no element's symbol."

    def commit(self, values: dict[str, Any]) -> None:
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        shares = tuple(_share(row) for row in self.table.typed.rows())
        trouble = looks.shares_trouble(shares)
        if trouble:
            raise FieldError(trouble)
        identity = values["id"] or made_id(values["name"])
        status = "own" if values["density_g_cm3"] is not None else ""
        made = Material(
            identity, values["name"], values["group"], values["used_for"], shares, values["density_g_cm3"], status
        )
        self.session.run_or_raise(verbs.add, made)


def made_id(name: str) -> str:
    """An id from a name: "Lead bronze 24" -> lead_bronze_24."""
    return re.sub(r"[^a-z0-9]+", "_", name.casefold()).strip("_") or "own_material"


def _share(row: list[str]) -> ElementShare:
    element, nominal, low, high, source = row
    return ElementShare(
        element,
        read_number(nominal, 0.0, 100.0, "%", needed=False),
        read_number(low, 0.0, 100.0, "%", needed=False) or 0.0,
        read_number(high, 0.0, 100.0, "%", needed=True) or 0.0,
        source,
        "own",
    )


def _optional(text: str) -> str:
    return _percent_wrong(text, needed=False)


def _needed(text: str) -> str:
    return _percent_wrong(text, needed=True)


def _percent_wrong(text: str, *, needed: bool) -> str:
    try:
        read_number(text, 0.0, 100.0, "%", needed=needed)
    except FieldError as wrong:
        return str(wrong)
    return ""


def _anything(_text: str) -> str:
    return ""

"""The form for an instrument or a lab."""

from __future__ import annotations

from typing import Any, ClassVar

from benchapp.actions import instrument as verbs
from benchapp.records import Instrument
from benchapp.window.dialogs.form import Form

KINDS = (
    ("rotating-disc spark", "rotating-disc"),
    ("ICP", "icp"),
    ("XRF", "xrf"),
    ("a lab's results", "lab"),
    ("not stated", ""),
)


class InstrumentForm(Form):
    """A new instrument."""

    title: ClassVar[str] = "Add an instrument"
    lead: ClassVar[str] = "Where results come from. Another instrument is another trend: keep them apart by name."
    verb: ClassVar[str] = "Add instrument"

    def make(self) -> None:
        self.line("name", "&Name", "As you call it on the bench.", needed=True)
        self.choice(
            "kind", "&Kind", "Sets its usual reading noise until check runs tell its own.", KINDS, "rotating-disc"
        )
        self.line("method", "&Method", "Standard method, where there is one.", example="ASTM D6595")

    def commit(self, values: dict[str, Any]) -> None:
        self.session.run_or_raise(verbs.add, Instrument(values["name"], values["kind"], values["method"]))

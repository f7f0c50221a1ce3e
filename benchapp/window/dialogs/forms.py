"""The forms of the bench by name, loaded when first asked for."""

from __future__ import annotations

import importlib
from typing import Any

ENGINE, BUILD, PART = "engine", "build", "part"
FILL, TOP_UP, RUN, CHANGE = "fill", "top_up", "run", "change"
FILTER_CUT, LEAK_DOWN, PRESSURE, FITTING = "filter_cut", "leak_down", "oil_pressure", "fitting"
OIL, FAMILY, MATERIAL, INSTRUMENT = "oil", "family", "material", "instrument"
FINDING = "finding"
OIL_CARD, BEARINGS = "oil_card", "bearings"

WHERE = {
    ENGINE: "engine:EngineForm",
    BUILD: "engine:BuildForm",
    PART: "engine:PartForm",
    FILL: "log:FillForm",
    TOP_UP: "log:TopUpForm",
    RUN: "log:RunForm",
    CHANGE: "log:ChangeForm",
    FILTER_CUT: "log:FilterCutForm",
    LEAK_DOWN: "log:LeakDownForm",
    PRESSURE: "log:PressureForm",
    FITTING: "log:FittingForm",
    OIL: "oil:OilForm",
    OIL_CARD: "oil_card:OilCardForm",
    BEARINGS: "oil_card:BearingsForm",
    FAMILY: "family:FamilyForm",
    MATERIAL: "material:MaterialForm",
    INSTRUMENT: "instrument:InstrumentForm",
    FINDING: "log:FindingForm",
}
NEEDS_ENGINE = (
    BUILD, PART, FILL, TOP_UP, RUN, CHANGE, FILTER_CUT, LEAK_DOWN, PRESSURE, FITTING, FINDING, BEARINGS,
)  # fmt: skip
OF_THE_LOG = {
    "Fill": FILL, "Top-up": TOP_UP, "Run": RUN, "Change": CHANGE, "Filter cut": FILTER_CUT, "Magnet": FILTER_CUT,
    "Leak-down": LEAK_DOWN, "Oil pressure": PRESSURE, "Part": FITTING, "Finding": FINDING,
}  # fmt: skip
"""Kind of a line of the log -> the form that corrects it."""


def show(which: str, session: Any, parent: Any, **more: Any) -> Any | None:
    """Opens a form for the engine at hand. None (and a note) where it needs an engine and there is none."""
    if which in NEEDS_ENGINE and not _engine(session):
        session.note.emit("No engine is picked.", "", "Pick the engine in the fleet (Ctrl+1), or add one (Ctrl+N).")
        return None
    if which == FILL and not session.fleet.oils:
        session.note.emit("No oil in this bench file yet.", "", "Add the oil first, then its fill (Ctrl+L).")
        which = OIL
    if which == OIL_CARD and not session.fleet.oils:
        session.note.emit("No oil in this bench file yet.", "", "Add the oil first, then its limits and blends.")
        which = OIL
    if which == TOP_UP and not _has_fill(session):
        session.note.emit("This engine has no fill yet.", "", "Add the fill first (Ctrl+L), then the top-up.")
        which = FILL if session.fleet.oils else OIL
    module, _, name = WHERE[which].partition(":")
    form = getattr(importlib.import_module(f"benchapp.window.dialogs.{module}"), name)(session, parent, **more)
    session.ask.show(form)
    return form


def _engine(session: Any) -> str:
    names = [engine.name for engine in session.fleet.engines]
    return session.selected_engine if session.selected_engine in names else ""


def _has_fill(session: Any) -> bool:
    build = session.bench.current_build(session.selected_engine)
    return build is not None and bool(build.fills)

"""What a form holds before anyone types: the engine at hand, its build and fill, the hours so far. No Qt here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from benchapp.actions import suggest
from benchapp.records import Build, Fill, Fleet, Sample
from benchapp.window.entry import words
from benchapp.window.entry.form_text import FormText, find_engine, text_of


def blank(fleet: Fleet, engines: Sequence[str] = (), instrument: str = "") -> FormText:
    """An empty form for the first of `engines` that the bench has; for the only engine where there is just one."""
    found = next((item for item in (find_engine(fleet, name) for name in engines if name) if item), None)
    if found is None and len(fleet.engines) == 1:
        found = fleet.engines[0]
    text = FormText(engine=found.name if found else "", instrument=instrument)
    return with_offers(text, found.builds[-1] if found and found.builds else None)


def with_offers(text: FormText, build: Build | None, fill: Fill | None = None) -> FormText:
    """The form with a build, its fill (None: the last one) and the hours that are known of them."""
    if build is None:
        return text
    fill = fill or (build.fills[-1] if build.fills else None)
    offer = suggest.hours(build, fill)
    return replace(
        text,
        build=build.number,
        fill=fill.name if fill else "",
        build_h=words.exact(offer.build_h),
        oil_h=words.exact(offer.oil_h),
    )


def oil_hours(build_h: float, fill: Fill | None) -> str:
    """Hours on the oil as text, for build hours that were typed; '' where they cannot be told."""
    return words.exact(suggest.oil_hours(build_h, fill))


def of_waiting(fleet: Fleet, sample: Sample, engines: Sequence[str], instrument: str = "") -> FormText:
    """A waiting sample with what it brought along; what it did not say is offered."""
    offer, own = blank(fleet, engines, instrument), text_of("", "", sample)
    return replace(
        offer,
        code=own.code,
        taken_at=own.taken_at,
        build_h=own.build_h if sample.build_h else offer.build_h,
        oil_h=own.oil_h if sample.build_h else offer.oil_h,
        drawn=own.drawn,
        before_top_up=own.before_top_up,
        instrument=own.instrument or offer.instrument,
        break_in=own.break_in,
        notes=own.notes,
    )

"""A call as JSON: the contract's form for other programs, and the full record for keeping."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict
from typing import Any

from benchapp.records import Call, ElementRate, Flip, LedgerLine, Reason, SourceRate


def build_number(build: str) -> int | str:
    """A build as the contract writes it: a number where it is one."""
    return int(build) if build.isascii() and build.isdigit() and str(int(build)) == build else build


def contract(call: Call) -> dict[str, Any]:
    """The call in the contract's form, its keys first; more keys follow."""
    full = asdict(call)
    out: dict[str, Any] = {
        "engine": call.engine,
        "build": build_number(call.build),
        "sample": call.sample,
        "build_h": call.build_h,
        "call": call.call,
        "next_sample_h": call.next_sample_h,
        "basis": call.basis,
        "severity": call.severity,
        "reasons": [
            {
                "source": reason.source,
                "parts": list(reason.parts),
                "kind": reason.kind,
                "text": reason.text,
                "probability": reason.probability,
                "look": reason.look,
                "would_change": reason.would_change,
                "about": reason.about,
            }
            for reason in call.reasons
        ],
        "sources": [
            {
                "source": source.source,
                "parts": list(source.parts),
                "rate_mg_h": source.rate_mg_h,
                "low": source.low_mg_h,
                "high": source.high_mg_h,
                "normal_mg_h": source.normal_mg_h,
                "normal_low": source.normal_low_mg_h,
                "normal_high": source.normal_high_mg_h,
                "seen_from_mg_h": source.seen_from_mg_h,
            }
            for source in call.sources
        ],
        "elements": [
            {
                "element": element.element,
                "ppm": element.ppm,
                "rate_mg_h": element.rate_mg_h,
                "ceiling_ppm": element.ceiling_ppm,
                "unexplained_mg_h": element.unexplained_mg_h,
                "qualifier": element.qualifier,
                "rate_se_mg_h": element.rate_se_mg_h,
                "normal_mg_h": element.normal_mg_h,
            }
            for element in call.elements
        ],
    }
    for key in (
        "sentence", "history", "history_samples", "ledger", "flips", "unknowns", "before_out", "ceiling_share",
        "ceiling_element", "direction", "carry_over", "chi_square", "held", "superseded", "inputs_hash", "rule_version",
    ):  # fmt: skip
        out[key] = full[key]
    out["taken_at"] = None if call.taken_at is None else call.taken_at.isoformat()
    return out


def document(calls: tuple[Call, ...], rule_version: str) -> dict[str, Any]:
    """The contract's whole answer."""
    return {"rule_version": rule_version, "calls": [contract(call) for call in calls]}


def keep(call: Call) -> str:
    """The full record as text; `read` gives the same record back."""
    full = asdict(call)
    full["taken_at"] = None if call.taken_at is None else call.taken_at.isoformat()
    return json.dumps(full, ensure_ascii=False, sort_keys=True)


_LISTS: dict[str, Any] = {
    "reasons": Reason,
    "sources": SourceRate,
    "elements": ElementRate,
    "ledger": LedgerLine,
    "flips": Flip,
}


def read(text: str) -> Call:
    """A call from the text that `keep` wrote."""
    data = json.loads(text)
    data["taken_at"] = dt.datetime.fromisoformat(data["taken_at"]) if data["taken_at"] else None
    for key, record in _LISTS.items():
        data[key] = tuple(record(**_tuples(line)) for line in data[key])
    return Call(**_tuples(data))


def _tuples(data: dict[str, Any]) -> dict[str, Any]:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in data.items()}

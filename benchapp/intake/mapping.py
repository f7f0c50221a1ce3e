"""What a person settled once about one instrument's exports, to be remembered: a frozen value that goes to JSON and
back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from benchapp.problems import BenchProblem

SHAPES = ("wide", "transposed", "long")
ROLES = (
    "sample",
    "reading",
    "error",
    "mean",
    "replicate",
    "kind",
    "element",
    "value",
    "unit",
    "wavelength",
    "engine",
    "taken_at",
    "date",
    "time",
    "instrument",
    "build_h",
    "oil_h",
    "qualifier",
    "note",
    "ignore",
)


@dataclass(frozen=True, slots=True)
class ColumnRule:
    """What the column under one head is. `occurrence` counts equal heads from the left, from 1."""

    header: str
    role: str
    measurand: str = ""
    unit: str = ""
    occurrence: int = 1


@dataclass(frozen=True, slots=True)
class PasteMapping:
    """Shape, decimal sign and columns of one source; what is empty is found anew in each table."""

    shape: str = ""
    """'wide', 'transposed', 'long' or '' (find it)."""
    decimal: str = ""
    """'.' or ',' where it is known for this source, or '' (find it in the block)."""
    columns: tuple[ColumnRule, ...] = ()

    def rule(self, header: str, occurrence: int = 1) -> ColumnRule | None:
        """The rule for a head, or None."""
        for rule in self.columns:
            if rule.header == header and rule.occurrence == occurrence:
                return rule
        return None

    def with_column(
        self, header: str, role: str, measurand: str = "", unit: str = "", occurrence: int = 1
    ) -> PasteMapping:
        """The same mapping with one column settled by the person."""
        if role not in ROLES:
            raise ValueError(f"unknown role {role!r}")
        header = " ".join(header.split())
        kept = tuple(r for r in self.columns if (r.header, r.occurrence) != (header, occurrence))
        return replace(self, columns=(*kept, ColumnRule(header, role, measurand, unit, occurrence)))

    def with_decimal(self, decimal: str) -> PasteMapping:
        """The same mapping with the decimal sign declared."""
        if decimal not in ("", ".", ","):
            raise ValueError(f"unknown decimal sign {decimal!r}")
        return replace(self, decimal=decimal)

    def to_dict(self) -> dict[str, Any]:
        return asdict(self)

    def to_json(self) -> str:
        return json.dumps(self.to_dict(), ensure_ascii=False, sort_keys=True)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> PasteMapping:
        """The mapping in a dict as to_dict gives it; BenchProblem if it is not one."""
        try:
            columns = tuple(
                ColumnRule(
                    header=str(c["header"]),
                    role=str(c["role"]),
                    measurand=str(c.get("measurand", "")),
                    unit=str(c.get("unit", "")),
                    occurrence=int(c.get("occurrence", 1)),
                )
                for c in data.get("columns", ())
            )
            mapping = cls(str(data.get("shape", "")), str(data.get("decimal", "")), columns)
        except (KeyError, TypeError, ValueError, AttributeError):
            raise _not_a_mapping() from None
        if (
            mapping.shape not in ("", *SHAPES)
            or mapping.decimal not in ("", ".", ",")
            or any(c.role not in ROLES for c in columns)
        ):
            raise _not_a_mapping()
        return mapping

    @classmethod
    def from_json(cls, text: str) -> PasteMapping:
        """The mapping in a JSON text; BenchProblem if it is not one."""
        try:
            data = json.loads(text)
        except (ValueError, RecursionError):
            raise _not_a_mapping() from None
        if not isinstance(data, dict):
            raise _not_a_mapping()
        return cls.from_dict(data)


def _not_a_mapping() -> BenchProblem:
    return BenchProblem(
        "The remembered column mapping cannot be understood.",
        "Nothing was taken over with it.",
        "Paste without a mapping and settle the columns again.",
    )

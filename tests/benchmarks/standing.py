"""Targets that are not met yet, and where the ratio stands: the short form holds it there.

Each is missed for a reason that the table names. Taking a line out of here is the aim; a larger number needs a reason.
Measured on two cores that were busy with other work.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

STANDS_AT: Mapping[str, float] = MappingProxyType(
    {
        # 380 before the judge heard its family while running and weighed faults beside innocents; 650 before it left
        # out what cannot be true now, 490 before a doubted sample was walked twice only where that can tell anything.
        # The limit is that of 20,000 systems at any size
        "judge the whole fleet as of each sample": 380.0,
    }
)
"""Beginning of a row's job -> its value as it stands."""


def allowed(job: str, target: float) -> float:
    """The value from which a row is worse than it may be: its target, or where it stands if that is more."""
    return max([target, *(value for words, value in STANDS_AT.items() if job.startswith(words))])

"""What a verb says it changed; views refresh by it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Changed:
    """`nouns`: what kinds of thing changed ('engine', 'sample', 'family', 'oil', …). `engines`: names of the engines
    whose records changed (for a rename both names). `label`: what was done, for the undo menu ("Confirm sample
    24-017")."""

    nouns: frozenset[str]
    engines: frozenset[str]
    label: str

    def touches(self, *nouns: str) -> bool:
        """True when any of `nouns` changed."""
        return not self.nouns.isdisjoint(nouns)

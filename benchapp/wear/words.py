"""The words of a call: what a crew chief reads. Every number comes with its noise, every reason with where to look."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from types import MappingProxyType
from typing import Any

from benchapp.records import CALL_WORDS

RUN, SHORT, LOOK, PARK = CALL_WORDS


MIXED = " + "
"""Between the kinds of a group of parts that are not all of one kind."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """What a kind of source says of itself, and where to look, in order of effort."""

    what: str
    look: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """Phrases by group of material or non-wear origin."""

    phrases: Mapping[str, Phrase]
    roles: Mapping[str, str] = field(default_factory=dict)
    """Words in the role of a part -> kind, for parts whose material is that of other parts too."""

    def kind_of(self, role: str, group: str) -> str:
        """The kind of a part: by its role where that says more than the group of its material."""
        said = role.lower()
        return next((kind for word, kind in self.roles.items() if word in said), group)

    def of(self, kind: str) -> Phrase:
        """The phrase of a kind. Of several, joined by `MIXED`, one that names none of them: which of the parts it is
        nobody can tell, so what is easiest to look at for each comes first."""
        several = kind.split(MIXED)
        if len(several) == 1:
            return self.phrases.get(kind, self.phrases["other"])
        looks = [self.of(one).look for one in several]
        in_turn = (look for row in zip_longest(*looks) for look in row if look)
        kinds: dict[str, str] = {}
        for look in in_turn:
            kinds.setdefault(" ".join(look.split()[:3]), look)  # "cut the filter open" for bronze and for steel is one
        return Phrase(self.phrases["several"].what, tuple(kinds.values()))


def words_from(data: Mapping[str, Any]) -> Words:
    """From the resource table `words`."""
    found = {name: Phrase(str(entry["what"]), tuple(entry["look"])) for name, entry in data.items()}
    roles = {word: name for name, entry in data.items() for word in entry.get("roles", ())}
    return Words(MappingProxyType(found), MappingProxyType(roles))


def amount(value: float) -> str:
    """A rate or reading as a person says it: two figures, no exponent."""
    if abs(value) < 0.005:
        return "0"
    digits = 2 if abs(value) < 0.095 else 1 if abs(value) < 9.95 else 0
    return f"{value:.{digits}f}"


def reading(element: str, name: str, ppm: float, sd: float, expected: float) -> str:
    """'lead 24 ± 2 ppm where 9 was expected'."""
    wanted = amount(max(expected, 0.0))
    return f"{name or element} {amount(ppm)} ± {amount(max(sd, 0.05))} ppm where {wanted} was expected"


def rate_text(
    what: str, source: str, rate: float, normal: float, carried: Sequence[str], together: bool = False
) -> str:
    """The text of a wear reason. `source` the part's name, empty for a non-wear origin; `rate`, `normal` [mg/h];
    `carried`: the readings that carry it, in words. `together`: this sample's alone do not."""
    if normal > 0.005:
        times = rate / normal
        many = f"about {times:.0f} times" if times >= 1.95 else "somewhat more than"
        said = f"{amount(rate)} mg/h, {many} what is normal for this engine ({amount(normal)} mg/h)"
    else:
        said = f"{amount(rate)} mg/h where there should be none"
    seen = _seen(carried, together)
    head = f"{_capital(source)}: {what}" if source else _capital(what)
    return f"{head}, {said}{seen}."


def little_text(source: str, part: bool, carried: Sequence[str]) -> str:
    """The text of a suspicion that is too weak to act on: without a rate, which holds only if it is true."""
    return f"{_capital(a_little(source, part))}{_seen(carried, False)}."


def _seen(carried: Sequence[str], together: bool) -> str:
    if not carried:
        return ""
    alone = ": not much by itself, it is the samples together that tell" if together else ""
    return f". Seen in {', '.join(carried)}{alone}"


def second_bottle(name: str, ppm: float) -> str:
    return f"A second bottle from the same fill that reads {name} below {amount(ppm)} ppm would take this back."


def sentence(
    call: str, what: str, next_h: float, history: int, ceiling: bool, family: bool, others: Sequence[str] = (),
    *, unsure: bool = False,
) -> str:  # fmt: skip
    """The call in one sentence. `what`: the strongest reason's own words, or empty; for a Run what is a little up, see
    `a_little` and `over_but_expected`. `others`: what a graver call names as nearly as likely; `unsure`: whether
    what it names first is less likely than not."""
    beside = f"; nearly as likely: {' or '.join(others)}" if others else ""
    if call == RUN:
        if not history and not ceiling and not family:
            return (
                "Run, but nothing is known of this engine yet: no history, no break-in sample, no sister engine. "
                f"{f'{_capital(what)}. ' if what else ''}Sample again after {amount(next_h)} h."
            )
        return f"Run: {what or 'nothing in this sample speaks against it'}. Next sample after {amount(next_h)} h."
    if call == SHORT:
        why = f"{what}, perhaps{beside}" if what else "something in this sample asks for another"
        return f"Short stint: it may go, but sample again after {amount(next_h)} h. Why: {why}."
    begins = "Look inside before it goes out" if call == LOOK else "Park it until someone has looked inside"
    return f"{begins}: {'perhaps ' if unsure else ''}{what}{beside}."


def a_little(source: str, part: bool) -> str:
    """What a Run says of a suspicion. `source`: the parts, or the origin that is no `part`."""
    return f"{f'{source} a little up' if part else f'perhaps a little {source}'}, not enough to act on"


def over_but_expected(name: str) -> str:
    """What a Run says of an element over its ceiling."""
    return f"{name} is over what break-in reached, but no more than this engine's own rate explains"


def over_ceiling(name: str) -> str:
    """What a Short stint says of an element over its ceiling with nothing else said."""
    return f"{name} is over what this build's break-in reached"


def history_text(samples: int, breaks: bool, family_builds: int) -> str:
    """How much stands behind a call, in words."""
    own = {0: "no sound sample of this build yet", 1: "1 sound sample of this build"}.get(
        samples, f"{samples} sound samples of this build"
    )
    ceiling = "its own break-in sample" if breaks else "no break-in sample"
    if samples >= 3:
        return f"{own}, {ceiling}"
    sisters = {0: "no other engine of its family", 1: "1 other build of its family"}.get(
        family_builds, f"{family_builds} other builds of its family"
    )
    return f"{own}, {ceiling}, {sisters}"


def read_alone(element: str, ppm: float) -> str:
    """A reading that is not believed."""
    return f"{element} was read as {ppm:.3g} ppm, alone and far from the rest"


AGAIN = "measure the same bottle again on the same instrument"
AGREES = "A second measurement, or a second bottle, that agrees with the samples before would take this back."
MIDSTREAM = "Draw the next bottle midstream: this one seems to be from the sump's bottom or the filter."


def before_out(call: str, looks: Sequence[str], next_h: float, bottle: Sequence[str] = ()) -> tuple[str, ...]:
    """What to do before the car goes out, in order. `bottle`: what to do about a bottle that is not believed."""
    if call == RUN:
        return ()
    if call == SHORT:
        again = f"Draw the next sample after {amount(next_h)} h: hot, before any top-up, same place, same instrument."
        return ("Check oil level, hot oil pressure and leaks as always.", *bottle, again)
    steps = [f"{_capital(step)}." for step in looks[:3]]
    again = "Draw a second bottle and measure it on the same instrument while you look."
    if call == PARK:
        return ("Do not start it.", *steps, *bottle, again)
    return (*steps, *bottle, again)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

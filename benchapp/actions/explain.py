"""The reading room: every term, element, material, origin and rule in two sentences with its source.

Texts come from the resources; what an element can tell in one engine is computed from the engine's own parts. Pure:
takes the fleet and the library, touches no file."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from benchapp.actions import looks
from benchapp.actions.looks import TellApart
from benchapp.library import Library
from benchapp.records import Fleet, Material, Oil

ELEMENT, TERM, MATERIAL, ORIGIN, RULE, OIL = "element", "term", "material", "origin", "rule", "oil"

SECTIONS = {
    "balance": "How the metal in the sump is reckoned from a reading.",
    "carry_over": "How much of the old oil stays in an engine after a drain (share, standard deviation).",
    "hardness": "How hard a kind of session is on an engine, against practice.",
    "spread": "How much the wear of a sound engine varies by itself.",
    "run_in": "How much faster a new build wears at first, and how that fades.",
    "fresh": "What new oil is taken to hold where its own values are not known (ppm: mean, standard deviation).",
    "nuisance": "What moves readings with nothing worn.",
    "check": "How check standards are believed.",
    "bottle": "When a bottle may hold another oil than its label says.",
    "fault": "What a beginning fault may look like, before any reading speaks.",
    "harmless": "What may shed at any time, fades and is nobody's fault: copper of a cooler, flux of a brazed one.",
    "dust": "What dust does to the parts it meets.",
    "often": "How often a kind of part is at fault, against others; it decides only between metals that read alike.",
    "table": "Where one call ends and the next, graver one begins.",
    "filter": "What pieces in a cut-open filter ask for.",
    "leak_down": "What leak-down asks for.",
    "oil": "What the oil itself may ask for at most: over its limit, water, a bearing's film that it no longer keeps.",
    "oil_pressure": "When oil pressure against its own usual value asks for a look.",
    "next": "After how many hours the next sample is wanted.",
}
"""Section of the call table -> what its values are for."""

CHOSEN = "chosen: set from the physics and the cost of a wrong call, then held against simulated fleets"
NO_SHARES = "this program: reckoned from the two oils themselves, it has no composition of its own"

ROLES = {
    "wear": "comes from parts that wear",
    "additive": "is in the oil from the start",
    "contaminant": "comes in from outside",
    "matrix": "is the oil itself and is not read",
}


@dataclass(frozen=True, slots=True)
class Topic:
    """One page of the reading room. `text`: about two sentences; `more`: lines below it (figures, each with source)."""

    key: str
    kind: str
    title: str
    text: str
    source: str
    more: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    """Other words under which it is found: symbols, spellings."""


def topics(library: Library, fleet: Fleet | None = None) -> tuple[Topic, ...]:
    """All topics: those of the library, and materials and oils of the bench file where one is open."""
    materials = fleet.materials if fleet is not None and fleet.materials else library.materials
    oils = fleet.oils if fleet is not None else {}
    return (
        *_elements(library),
        *_terms(library),
        *_origins(library),
        *(_material(each, library) for each in materials.values()),
        *_rules(library),
        *(_oil(each) for each in oils.values()),
    )


def find(found: Sequence[Topic], word: str) -> Topic | None:
    """The topic that a word of the window means: its title or another name of it, else the longest title that occurs
    in the word as a whole word. A chemical symbol counts only as it is written ("In", not "in"). None where nothing
    does."""
    wanted = " ".join(word.casefold().split())
    if not wanted:
        return None
    for topic in found:
        if word.strip() in topic.names:
            return topic
        names = [name.casefold() for name in topic.names if not (topic.kind == ELEMENT and len(name) <= 2)]
        if wanted in (topic.title.casefold(), topic.key.casefold(), *names):
            return topic
    best: tuple[int, Topic] | None = None
    for topic in found:
        if topic.kind in (RULE, MATERIAL):
            continue
        for name in (topic.title, *topic.names):
            size = len(name)
            symbol = topic.kind == ELEMENT and size <= 2
            text, look_for = (word, name) if symbol else (wanted, name.casefold())
            if look_for not in text:  # cheap, and true for nearly all
                continue
            if (best is None or size > best[0]) and re.search(rf"(?<!\w){re.escape(look_for)}s?(?!\w)", text):
                best = (size, topic)
    return best[1] if best else None


def _elements(library: Library) -> Iterable[Topic]:
    said = {entry["element"]: entry for entry in library.data("glossary")["entry"] if entry.get("element")}
    for symbol, element in library.elements.items():
        entry = said.get(symbol)
        roles = " or ".join(ROLES[role] for role in element.roles)
        own = f"{looks.capital(element.name)} {roles}. {element.note}".strip()
        yield Topic(
            f"element {symbol}",
            ELEMENT,
            f"{element.name} ({symbol})",
            entry["text"] if entry else own,
            _source(entry["source"] if entry else "common practice, no source", library),
            names=(symbol, element.name, *element.aliases),
        )


def _terms(library: Library) -> Iterable[Topic]:
    for entry in library.data("glossary")["entry"]:
        if not entry.get("element"):
            yield Topic(
                f"term {entry['term']}", TERM, entry["term"], entry["text"], _source(entry["source"], library)
            )


def _origins(library: Library) -> Iterable[Topic]:
    for name, origin in library.non_wear.items():
        more = tuple(
            f"{variant.name}: " + ", ".join(f"{s.element} {s.nominal_pct:g} %" for s in variant.shares if s.nominal_pct)
            for variant in origin.variants
        )
        sources = {share.source for variant in origin.variants for share in variant.shares}
        text = f"Metal that no part lost. {origin.when} {origin.tell}".strip()
        source = "; ".join(sorted(sources)) or NO_SHARES
        yield Topic(f"origin {name}", ORIGIN, f"{name} (no wear)", text, source, more, (name,))


def _material(each: Material, library: Library) -> Topic:
    main = [s for s in each.shares if s.nominal_pct is not None and s.nominal_pct >= 0.5]
    main.sort(key=lambda share: share.nominal_pct or 0.0, reverse=True)
    made_of = ", ".join(f"{share.element} {share.nominal_pct:g} %" for share in main) or "only traces"
    used = f"Used for {each.used_for}." if each.used_for else "Its use is not stated."
    return Topic(
        f"material {each.id}",
        MATERIAL,
        each.name,
        f"{used} Its elements: {made_of}; figures {looks.sureness(each)}.",
        _source("; ".join(dict.fromkeys(share.source for share in each.shares if share.source)), library),
        tuple(looks.about_material(each).splitlines()[1:]),
        (each.id,),
    )


def _rules(library: Library) -> Iterable[Topic]:
    for section, table in library.data("calls").items():
        if not isinstance(table, Mapping):
            continue
        for name, rule in table.items():
            words = name.replace("_", " ")
            said = SECTIONS.get(section, "A value that a call depends on.")
            yield Topic(
                f"rule {section}.{name}",
                RULE,
                f"{section.replace('_', ' ')}: {words}",
                f"{said} Here: {_value(rule['value'])}.",
                re.sub(r"\bchosen$", CHOSEN, rule["why"]),
            )


def _value(value: Any) -> str:
    return ", ".join(map(_plain, value)) if isinstance(value, list) else _plain(value)


def _plain(value: Any) -> str:
    """A number without needless digits, a word as it is."""
    return value if isinstance(value, str) else f"{value:g}"


def _oil(each: Oil) -> Topic:
    grade = f", {each.sae_grade}" if each.sae_grade else ""
    fresh = ", ".join(f"{element} {ppm:g}" for element, ppm in sorted(each.fresh_ppm.items()))
    said = f"Fresh it holds, in ppm: {fresh}." if fresh else "What it holds when fresh is not known."
    return Topic(
        f"oil {each.name}", OIL, each.name, f"An oil of this bench file{grade}{', ' + each.kind if each.kind else ''}. "
        f"{said}", "as entered in this bench file",
    )  # fmt: skip


def _source(text: str, library: Library) -> str:
    """A source with its keys written out: 'table of limits [S60: …]'."""
    known = library.data("sources")

    def written(match: re.Match[str]) -> str:
        keys = [key.strip() for key in match[1].split(",")]
        if not all(key in known for key in keys):
            return match[0]
        return "[" + "; ".join(f"{key}: {known[key]}" for key in keys) + "]"

    return re.sub(r"\[([A-Z][0-9]+[a-z]?(?:, *[A-Z][0-9]+[a-z]?)*)\]", written, text)


# --- in one engine --------------------------------------------------------------------------------------------------


def in_engine(
    fleet: Fleet, engine: str, element: str, materials: Mapping[str, Material]
) -> tuple[str, tuple[str, ...]]:
    """What an element can and cannot tell in the current build of an engine, a sentence each, with the engine's name.

    Computed from the engine's parts and what its samples measure; for a background thread. Raises BenchProblem for a
    part of an unknown material."""
    found = looks.tell_apart_engine(fleet, engine, materials)
    return engine, (said_of(element, found) if found is not None else ("This engine has no build yet.",))


def said_of(element: str, found: TellApart) -> tuple[str, ...]:
    """The sentences for one element, from what was found for all of them."""
    shows = [source for source, elements in found.elements.items() if element in elements]
    if element not in found.with_what.partition(": ")[2].split(", "):
        return (f"{element} is not among the elements measured here, so it tells nothing yet.",)
    if not shows:
        return (f"No part of this engine holds half a percent of {element}: a rise comes from elsewhere.",)
    said = [f"{element} can come from: {', '.join(shows)}."]
    first = [source for source in shows if found.elements[source][0] == element]
    if first:
        said.append(f"It is the strongest mark of: {', '.join(first)}.")
    alone = [group[0] for group in found.groups if len(group) == 1 and group[0] in shows]
    together = [group for group in found.groups if len(group) > 1 and set(group) & set(shows)]
    if len(shows) > 1:
        said.append(f"By itself it cannot tell these {len(shows)} from one another: its company does.")
    if alone:
        said.append(f"With the other elements measured here it is told to: {', '.join(alone)}.")
    said.extend(f"Even then these read as one: {' + '.join(group)}." for group in together)
    return tuple(said)

"""Search everything: engines, samples, oils, parts, materials, words; the window adds its views and actions. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from benchapp.actions.explain import ELEMENT, MATERIAL, OIL, RULE, Topic
from benchapp.records import Fleet

VIEW, ACTION, ENGINE, SAMPLE, PART, WORD = "view", "action", "engine", "sample", "part", "word"
NEW = "new"
"""A code that no sample has yet: a bottle that was labelled beforehand."""
ORDER = (SAMPLE, ENGINE, VIEW, ACTION, PART, OIL, ELEMENT, WORD, MATERIAL, RULE)
"""What comes first among equals."""
MOST = 60


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing that can be opened. `key` is what opens it: a name, a code, 'engine/part', the key of a topic."""

    kind: str
    key: str
    title: str
    about: str = ""
    names: tuple[str, ...] = ()
    """Other words for it that count as much as its title."""


def of_fleet(fleet: Fleet, waiting: Iterable[str] = ()) -> tuple[Hit, ...]:
    """Engines, samples (the newest first) and parts of the fleet, and samples that wait for an engine."""
    hits = [Hit(SAMPLE, code, code, "waits for an engine") for code in waiting]
    for engine in fleet.engines:
        about = " · ".join(filter(None, (engine.family, f"car {engine.car}" if engine.car else "")))
        hits.append(Hit(ENGINE, engine.name, engine.name, about))
        for build in reversed(engine.builds):
            hits.extend(
                Hit(SAMPLE, sample.code, sample.code, f"{engine.name}, build {build.number}, {sample.build_h:.1f} h")
                for sample in reversed(build.samples)
            )
        for part in engine.builds[-1].parts if engine.builds else ():
            material = fleet.materials[part.material].name if part.material in fleet.materials else part.material
            hits.append(Hit(PART, f"{engine.name}/{part.name}", part.name, f"{engine.name}: {material}"))
    return tuple(hits)


def of_topics(topics: Iterable[Topic]) -> tuple[Hit, ...]:
    """Topics of the reading room as hits."""
    kinds = {ELEMENT: ELEMENT, MATERIAL: MATERIAL, RULE: RULE, OIL: OIL}
    return tuple(Hit(kinds.get(t.kind, WORD), t.key, t.title, t.text, t.names) for t in topics)


def new_sample(text: str, known: Iterable[str]) -> Hit | None:
    """A typed or scanned text as the code of a sample to be: one word with a digit that no sample has. Else None."""
    code = text.strip()
    taken = {each.casefold() for each in known}
    if len(code) < 3 or len(code) > 120 or code.casefold() in taken or not code.isprintable():
        return None
    if any(sign.isspace() for sign in code) or not any(sign.isdigit() for sign in code):
        return None
    return Hit(NEW, code, f"New sample {code}", "no sample has this code yet: enter its results")


class Index:
    """Hits made ready to be searched at every key stroke."""

    def __init__(self, hits: Sequence[Hit]) -> None:
        self.hits = tuple(hits)
        self._ready = [
            (tuple(name.casefold() for name in (hit.title, *hit.names)), hit.about.casefold()) for hit in self.hits
        ]

    def matching(self, text: str, most: int = MOST) -> tuple[Hit, ...]:
        """Hits in which every word of `text` occurs, the nearest first; nothing for an empty text.

        Nearest is a title equal to the text, then one that begins with it, then titles in which words begin with its
        words, then titles that hold them, then texts that do."""
        wanted = text.casefold().split()
        if not wanted:
            return ()
        whole = " ".join(wanted)
        scored = []
        for place, (titles, about) in enumerate(self._ready):
            score = _score(titles, about, whole, wanted)
            if score is not None:
                scored.append((score, ORDER.index(self.hits[place].kind), place))
        return tuple(self.hits[place] for _, _, place in sorted(scored)[:most])


def _score(titles: tuple[str, ...], about: str, whole: str, wanted: Sequence[str]) -> int | None:
    if whole in titles:
        return 0
    if any(title.startswith(whole) for title in titles):
        return 1
    for title in titles:
        starts = title.replace("-", " ").replace("/", " ").split()
        if all(any(start.startswith(word) for start in starts) for word in wanted):
            return 2
    joined = " ".join(titles)
    if all(word in joined for word in wanted):
        return 3
    return 4 if all(word in joined or word in about for word in wanted) else None

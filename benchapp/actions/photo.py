"""Verbs for photos of findings and of what filters and magnets held.

A photo belongs to one entry of a build. It is kept by the hash of its bytes, never by its given name, once however
often it is used; its bytes travel in every backup and in a merge, not in a workbook."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchapp.actions import events
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.benchfile.content import clean, id_from
from benchapp.intake import photo as outside
from benchapp.problems import BenchProblem
from benchapp.records import FilterCut, Finding

if TYPE_CHECKING:
    from benchapp.benchfile.kinds import Content
    from benchapp.benchfile.write import Write

Shown = Finding | FilterCut
"""What a photo can be of."""

MOST_OF_ONE = 12
"""Photos of one entry: more than that belong into a folder of their own."""


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo of an entry. `sha256` [hex] names its bytes: `data_of`."""

    key: str
    sha256: str
    words: str
    """What a person wrote below it."""


def add(bench: Bench, engine: str, build: str, record: Shown, *pictures: bytes, words: str = "") -> Changed:
    """Adds photos (JPEG or PNG, by content) to the entry equal to `record`, all or none.

    Raises BenchProblem for what is no picture or too large, and where the build has no entry like it."""
    owner, build_id = bench.engine_id(engine), bench.build_id(engine, build)
    for data in pictures:
        outside.look(data, outside.LARGEST_KEPT)

    def body(write: Write) -> None:
        noun, document = events.found(write, record, build_id)
        subject = f"{noun} {document}"
        _refuse_too_many(len(write.find("photo", subject=subject)) + len(pictures))
        for data in pictures:
            sha256 = write.keep_bytes(data)
            content = {"sha256": sha256, "engine": owner, "subject": subject, "notes": words}
            write.put("photo", id_from("photo", subject, sha256), content)

    many = f" ({len(pictures)})" if len(pictures) > 1 else ""
    return bench.do(f"Add photo{many} to {_of(record)} of engine {engine}", body, {engine})


def add_with(bench: Bench, engine: str, build: str, record: Shown, *pictures: bytes) -> Changed:
    """Adds an entry with its photos in one step."""
    owner, build_id = bench.engine_id(engine), bench.build_id(engine, build)
    for data in pictures:
        outside.look(data, outside.LARGEST_KEPT)
    _refuse_too_many(len(pictures))

    def body(write: Write) -> None:
        noun, document = events.put_new(write, record, build_id)
        subject = f"{noun} {document}"
        for data in pictures:
            sha256 = write.keep_bytes(data)
            content = {"sha256": sha256, "engine": owner, "subject": subject, "notes": ""}
            write.put("photo", id_from("photo", subject, sha256), content)

    photos = f" with {len(pictures)} photo{'s' if len(pictures) > 1 else ''}" if pictures else ""
    return bench.do(f"Add {_of(record)}{photos} to engine {engine}", body, {engine})


def void(bench: Bench, engine: str, key: str, reason: str) -> Changed:
    """Hides a photo (its `key`); its bytes stay for an undo."""

    def body(write: Write) -> None:
        content = write.get("photo", key)
        if content is None or content["void"]:
            raise BenchProblem("There is no such photo any more.", "Nothing was changed.", "Look at the list again.")
        write.void("photo", key, reason)

    return bench.do(f"Withdraw photo of engine {engine}", body, {engine})


def _refuse_too_many(count: int) -> None:
    if count > MOST_OF_ONE:
        raise BenchProblem(
            f"{count} photos of one entry are too many: {MOST_OF_ONE} are kept.",
            "Nothing was added.",
            "Keep those that show the finding best; every backup carries them along.",
        )


def _of(record: Shown) -> str:
    return events.WORDS["finding" if isinstance(record, Finding) else "filter_cut"]


# --- looks


def of_build(bench: Bench, engine: str, build: str) -> Mapping[Shown, tuple[Photo, ...]]:
    """Photos by the entry that they show, oldest first; entries without photos are left out. Of two entries that say
    the same, both show the photos of either: nothing tells them apart."""
    return _of_build(bench, engine, build, _by_subject(bench, engine))


def _by_subject(bench: Bench, engine: str) -> Mapping[str, list[Photo]]:
    """Photos of an engine by what they show: "finding" or "filter_cut" and the key of that entry's document."""
    found: dict[str, list[Photo]] = defaultdict(list)
    for key, content in bench.file.find("photo", engine=bench.engine_id(engine)):
        found[content["subject"]].append(Photo(key, content["sha256"], content["notes"]))
    return found


def _of_build(
    bench: Bench, engine: str, build: str, by_subject: Mapping[str, list[Photo]]
) -> Mapping[Shown, tuple[Photo, ...]]:
    held = bench.build(engine, build)
    if not by_subject or not (held.findings or held.filter_cuts):
        return {}
    build_id = bench.build_id(engine, build)
    out: dict[Shown, tuple[Photo, ...]] = {}
    for noun, records in (("finding", held.findings), ("filter_cut", held.filter_cuts)):
        known = bench.file.find(noun, build_id=build_id)
        for record in records:
            found = [photo for document in _documents(noun, known, record, build_id)
                     for photo in by_subject.get(f"{noun} {document}", ())]  # fmt: skip
            if found:
                out[record] = tuple(found)
    return out


def _documents(noun: str, known: list[tuple[str, Content]], record: Shown, build_id: str) -> Iterable[str]:
    wanted = clean(noun, documents.of_event(record, build_id)[1])
    return (document for document, content in known if content == wanted)


def of_engine(bench: Bench, engine: str) -> Mapping[tuple[str, Shown], tuple[Photo, ...]]:
    """(number of the build, entry) -> its photos, for all builds of an engine."""
    by_subject = _by_subject(bench, engine)
    if not by_subject:
        return {}
    return {
        (build.number, record): photos
        for build in bench.engine(engine).builds
        for record, photos in _of_build(bench, engine, build.number, by_subject).items()
    }


def of_entry(bench: Bench, engine: str, build: str, record: Shown) -> tuple[Photo, ...]:
    """Photos of one entry, oldest first."""
    return of_build(bench, engine, build).get(record, ())


def data_of(bench: Bench, sha256: str) -> bytes:
    """The bytes of a photo, checked against their hash and fit to be decoded. Raises BenchProblem."""
    data = bench.file.bytes_of(sha256)
    outside.look(data, outside.LARGEST_FILE)
    return data


def count(bench: Bench) -> int:
    """How many photos the bench file shows."""
    return len(bench.file.find("photo"))

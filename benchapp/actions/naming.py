"""What every verb says about names: needed, taken, unknown; and ids for new names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from benchapp.benchfile.content import id_from, new_id
from benchapp.problems import BenchProblem
from benchapp.records import Part

if TYPE_CHECKING:
    from benchapp.actions.bench import Bench
    from benchapp.benchfile.write import Write

UNCHANGED = "Nothing was changed."


def word(noun: str) -> str:
    """A kind of document as a person says it."""
    return noun.replace("_", " ")


def article(noun: str) -> str:
    """'an engine', 'a build'."""
    return f"{'an' if noun[0] in 'aeio' else 'a'} {word(noun)}"


def need(name: str, noun: str) -> None:
    """Raises BenchProblem for an empty or unprintable name."""
    if not name.strip():
        raise BenchProblem(f"The {word(noun)} has no name.", UNCHANGED, "Give it a name.")
    if name.strip() != name or not name.isprintable():
        raise BenchProblem(
            f"The name of the {word(noun)} holds characters that cannot be seen (a space at an end, a control sign).",
            UNCHANGED,
            "Type the name anew, letters, digits and signs only.",
        )
    if name.startswith("="):
        raise BenchProblem(
            f"The name of the {word(noun)} begins with =, as a formula does.", UNCHANGED, "Begin it with another sign."
        )


def taken(noun: str, name: str) -> BenchProblem:
    return BenchProblem(
        f"There is {article(noun)} {name} already.", UNCHANGED, "Choose another name, or edit that one."
    )


def unknown(noun: str, name: str) -> BenchProblem:
    return BenchProblem(f"There is no {word(noun)} {name} in this bench file.", UNCHANGED, "Check the name, or add it.")


def free_id(write: Write, noun: str, *names: Any) -> str:
    """Id for a new thing of that name. Two laptops that add the same name get the same id, so that a merge sees one
    thing; a name whose id now belongs to a thing that was renamed gets a new id. So does an engine or build of the name
    of a withdrawn one: else what belonged to that would come back with it."""
    document = id_from(noun, *names)
    content = write.get(noun, document)
    again = content is not None and bool(content["void"]) and noun not in ("engine", "build")
    return document if content is None or again else new_id()


def put_new(write: Write, noun: str, content: dict[str, Any], name: str) -> str:
    """Writes a new thing known by its `name`; raises BenchProblem when there is one already. Returns its id."""
    if write.find(noun, name=name):
        raise taken(noun, name)
    document = free_id(write, noun, name)
    write.put(noun, document, content)
    return document


def need_material(bench: Bench, part: Part) -> None:
    """Raises BenchProblem for a part without a name or of a material that is neither in the library nor in the file."""
    need(part.name, "part")
    if part.material not in bench.materials():
        raise BenchProblem(
            f"There is no material {part.material!r}.", UNCHANGED, "Choose one of the list, or add it first."
        )

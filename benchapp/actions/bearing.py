"""Verbs for the plain bearings measured in a build: sizes, clearance, roughness and load case."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchapp.actions import naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.problems import BenchProblem
from benchapp.records import OwnBearing

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write

WITHDRAWN = "taken out of the build's bearings"
ROUGHNESS_UM = (0.01, 10.0)
LOAD_N = (1.0, 1e6)
SPEED_RPM = (1.0, 30000.0)
OWN_BOUNDS = "own bounds, no source: beyond them lies a slip of the pen"


def put(bench: Bench, engine: str, build: str, bearings: Sequence[OwnBearing]) -> Changed:
    """Sets the bearings measured in a build: what is no longer named is taken out. One undoable step.

    Raises BenchProblem for a size, clearance or load that cannot be, with the range and its source."""
    build_id = bench.build_id(engine, build)
    for one in bearings:
        check(one)
    names = [one.name for one in bearings]
    if len(set(names)) < len(names):
        raise BenchProblem("Two bearings have one name.", naming.UNCHANGED, "Give each its own name.")

    def body(write: Write) -> None:
        put_all(write, build_id, bearings)

    return bench.do(f"Bearings of engine {engine}, build {build}", body, {engine})


def put_all(write: Write, build_id: str, bearings: Sequence[OwnBearing]) -> None:
    """Brings the bearings of a build to these, within a transaction."""
    held = {content["name"]: (id_, content) for id_, content in write.find("bearing", build_id=build_id)}
    for one in bearings:
        content = documents.of_bearing(one, build_id)
        document, old = held.pop(one.name, ("", None))
        if old is None:
            write.put("bearing", naming.free_id(write, "bearing", build_id, one.name), content)
        else:
            write.put("bearing", document, {**content, "notes": old["notes"]})
    for document, _ in held.values():
        write.void("bearing", document, WITHDRAWN)


def check(one: OwnBearing) -> None:
    """Raises BenchProblem for a bearing that no film can be reckoned for, with the range and its source."""
    from benchapp.actions.oil_card import rules
    from benchapp.oil.film import Bearing, check_bearing
    from benchapp.oil.floating import usual_clearance_mm

    naming.need(one.name, "bearing")
    usual = usual_clearance_mm(one.diameter_mm, rules())[1]
    clearance = usual if one.clearance_mm is None else one.clearance_mm
    check_bearing(Bearing(one.name, one.diameter_mm, one.length_mm, clearance))
    for what, value, span, unit in (
        ("roughness", one.roughness_um, ROUGHNESS_UM, "µm"),
        ("load", one.load_n, LOAD_N, "N"),
        ("speed", one.speed_rpm, SPEED_RPM, "rpm"),
    ):
        if value is not None and not span[0] <= value <= span[1]:
            raise BenchProblem(
                f"The {what} of {one.name} is {value:g} {unit}, outside {span[0]:g} to {span[1]:g} {unit}.",
                f"No film was computed with it ({OWN_BOUNDS}); nothing was changed.",
                f"Check the {what} and its unit.",
            )

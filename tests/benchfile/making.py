"""Small invented bench files for the tests of this room and of its neighbours."""

from __future__ import annotations

from pathlib import Path

from benchapp.benchfile import documents
from benchapp.benchfile.content import id_from, new_id
from benchapp.benchfile.file import BenchFile
from benchapp.records import Fill, Reading, Run, Sample

ENGINE, BUILD = id_from("engine", "E-1"), id_from("build", id_from("engine", "E-1"), "1")


def sample_id(code: str) -> str:
    return id_from("sample", code)


def a_sample(code: str = "S-1", fe: float | None = 12.5, build_h: float = 3.0, **more) -> Sample:
    readings = (Reading("Fe", fe), Reading("Pb", None, qualifier="<"), Reading("KV100", 14.2, "cSt"))
    return Sample(code, "F1", build_h, 3.0, readings=readings, **more)


def put_engine(file: BenchFile, name: str = "E-1") -> None:
    engine = id_from("engine", name)
    build = id_from("build", engine, "1")
    with file.write(f"Add engine {name}", engines={name}) as write:
        write.put("engine", engine, {"name": name, "family": "an invented family"})
        write.put("build", build, {"engine_id": engine, "number": "1"})
        write.put("fill", id_from("fill", build, "F1"), documents.of_fill(Fill("F1", "an oil", 0.0), build))


def put_sample(file: BenchFile, sample: Sample, build: str | None = BUILD) -> None:
    with file.write(f"Confirm sample {sample.code}", engines={"E-1"}) as write:
        write.put("sample", sample_id(sample.code), documents.of_sample(sample, build))


def put_run(file: BenchFile, hours: float = 1.0, place: int = 1) -> str:
    document = new_id()
    _, content = documents.of_event(Run("race", hours), BUILD)
    with file.write("Add run", engines={"E-1"}) as write:
        write.put("run", document, {**content, "place": place})
    return document


def small_file(path: Path, who: str = "Ann") -> BenchFile:
    """A bench file with one engine, one fill and one sample, open."""
    file = BenchFile.create(path, who=who)
    put_engine(file)
    put_sample(file, a_sample())
    return file


def state(file: BenchFile) -> dict[str, list[tuple]]:
    """Everything that a person could see or lose, table by table, in one order whoever merged what."""
    out = {}
    with file.reading() as connection:
        tables = [
            row[0]
            for row in connection.execute(
                "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
            ).fetchall()
        ]
        for table in tables:
            if table in ("settings", "drafts", "audit", "audit_changes", "_sqlite_migrations", "superseded_calls"):
                continue
            out[table] = sorted(connection.execute(f"SELECT * FROM {table}").fetchall(), key=repr)
    return out

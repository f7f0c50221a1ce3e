"""Numbered migrations, and the marks by which a bench file is known.

A released migration is never edited: a change of the tables is a new one, and one file of every released version is
kept under tests/benchfile/released/.
"""

from __future__ import annotations

import sqlite3
from functools import cache

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

APPLICATION_ID = 0x524F4231
"""'ROB1', in the file's header: SQLite's mark for whose file this is."""

migrations = Migrations("bench")

_DOCUMENT = """
    id TEXT NOT NULL PRIMARY KEY,
    origin TEXT NOT NULL,
    version TEXT NOT NULL,
    row_hash TEXT NOT NULL,
    void TEXT NOT NULL DEFAULT '',
    notes TEXT NOT NULL DEFAULT ''"""


def _between(column: str, low: str, high: str, words: str) -> str:
    """A CHECK whose name is the sentence a person reads when it fails."""
    return f'CONSTRAINT "{words} must lie between {low} and {high}" CHECK ({column} BETWEEN {low} AND {high})'


def _hours(column: str, words: str) -> str:
    return _between(column, "0", "1000000", f"{words} [h]")


@migrations(name="0001 first tables")
def _first_tables(db: Database) -> None:
    for statement in _FIRST.split(";\n"):
        if statement.strip():
            db.execute(statement)
    _mark(db, 1)


@migrations(name="0002 check standards, what an instrument reads, when a sample was measured")
def _bench_checks(db: Database) -> None:
    for statement in _SECOND.split(";\n"):
        if statement.strip():
            db.execute(statement)
    _mark(db, 2)


@migrations(name="0003 what is known of an oil and of the bearings it floats")
def _oil_and_film(db: Database) -> None:
    for statement in _OIL_AND_FILM.split(";\n"):
        if statement.strip():
            db.execute(statement)
    _mark(db, 3)


@migrations(name="0004 oil pressures, fitted parts, what debris looked like, distances")
def _log_records(db: Database) -> None:
    for statement in _LOG_RECORDS.split(";\n"):
        if statement.strip():
            db.execute(statement)
    _mark(db, 4)


@migrations(name="0005 the latest calls, kept for opening")
def _kept_calls(db: Database) -> None:
    db.execute(_KEPT_CALLS)
    _mark(db, 5)


def _mark(db: Database, version: int) -> None:
    """Sets the schema version within the step's own transaction, so that both commit together."""
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute(f"PRAGMA user_version = {version}")


_FIRST = f"""
CREATE TABLE settings (name TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE drafts (name TEXT NOT NULL PRIMARY KEY, data TEXT NOT NULL, kept_at TEXT NOT NULL) STRICT;
CREATE TABLE versions (
    id TEXT NOT NULL PRIMARY KEY,
    kind TEXT NOT NULL,
    document TEXT NOT NULL,
    parents TEXT NOT NULL,
    content TEXT NOT NULL,
    content_hash TEXT NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    origin TEXT NOT NULL
) STRICT;
CREATE INDEX versions_of_document ON versions (document);
CREATE TABLE audit (
    seq INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    prev TEXT NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    origin TEXT NOT NULL,
    kind TEXT NOT NULL,
    label TEXT NOT NULL,
    nouns TEXT NOT NULL,
    engines TEXT NOT NULL,
    undoes TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE TABLE audit_changes (
    audit TEXT NOT NULL REFERENCES audit (id),
    position INTEGER NOT NULL,
    kind TEXT NOT NULL,
    document TEXT NOT NULL,
    before TEXT NOT NULL,
    after TEXT NOT NULL,
    PRIMARY KEY (audit, position)
) STRICT, WITHOUT ROWID;
CREATE TABLE conflicts (
    document TEXT NOT NULL PRIMARY KEY,
    kind TEXT NOT NULL,
    heads TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE families ({_DOCUMENT},
    name TEXT NOT NULL, layout TEXT NOT NULL, sump_l REAL,
    {_between("sump_l", "0", "10000", "oil in the sump [L]")}
) STRICT;
CREATE TABLE family_parts (
    owner TEXT NOT NULL REFERENCES families (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    part TEXT NOT NULL, material TEXT NOT NULL, role TEXT NOT NULL, area_cm2 REAL, thickness_um REAL,
    notes TEXT NOT NULL,
    PRIMARY KEY (owner, position),
    {_between("area_cm2", "0", "1000000", "wearing area [cm²]")},
    {_between("thickness_um", "0", "1000000", "layer thickness [µm]")}
) STRICT, WITHOUT ROWID;
CREATE TABLE materials ({_DOCUMENT},
    name TEXT NOT NULL, title TEXT NOT NULL, family_group TEXT NOT NULL, used_for TEXT NOT NULL,
    density_g_cm3 REAL, density_status TEXT NOT NULL,
    {_between("density_g_cm3", "0.1", "30", "density [g/cm³]")}
) STRICT;
CREATE TABLE material_shares (
    owner TEXT NOT NULL REFERENCES materials (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    element TEXT NOT NULL, nominal_pct REAL, min_pct REAL NOT NULL, max_pct REAL NOT NULL,
    source TEXT NOT NULL, status TEXT NOT NULL,
    PRIMARY KEY (owner, position),
    {_between("nominal_pct", "0", "100", "nominal share [%]")},
    {_between("min_pct", "0", "100", "least share [%]")},
    {_between("max_pct", "0", "100", "largest share [%]")}
) STRICT, WITHOUT ROWID;
CREATE TABLE oils ({_DOCUMENT},
    name TEXT NOT NULL, kind TEXT NOT NULL, sae_grade TEXT NOT NULL,
    density_15c_kg_l REAL, kv40_cst REAL, kv100_cst REAL, hths_mpas REAL, tbn REAL, tan REAL,
    {_between("density_15c_kg_l", "0.5", "1.5", "oil density at 15 °C [kg/L]")},
    {_between("kv40_cst", "0", "100000", "KV40 [cSt]")},
    {_between("kv100_cst", "0", "10000", "KV100 [cSt]")},
    {_between("hths_mpas", "0", "1000", "HTHS [mPa·s]")},
    {_between("tbn", "0", "1000", "TBN")},
    {_between("tan", "0", "1000", "TAN")}
) STRICT;
CREATE TABLE oil_elements (
    owner TEXT NOT NULL REFERENCES oils (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    element TEXT NOT NULL, ppm REAL NOT NULL,
    PRIMARY KEY (owner, position),
    {_between("ppm", "0", "1000000", "fresh-oil element [ppm]")}
) STRICT, WITHOUT ROWID;
CREATE TABLE instruments ({_DOCUMENT},
    name TEXT NOT NULL, kind TEXT NOT NULL, method TEXT NOT NULL
) STRICT;
CREATE TABLE instrument_noise (
    owner TEXT NOT NULL REFERENCES instruments (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    element TEXT NOT NULL, a_ppm REAL NOT NULL, b REAL NOT NULL, limit_ppm REAL NOT NULL, source TEXT NOT NULL,
    PRIMARY KEY (owner, position),
    {_between("a_ppm", "0", "1000000", "noise at zero [ppm]")},
    {_between("b", "0", "10", "noise share")},
    {_between("limit_ppm", "0", "1000000", "detection limit [ppm]")}
) STRICT, WITHOUT ROWID;
CREATE TABLE engines ({_DOCUMENT},
    name TEXT NOT NULL, family TEXT NOT NULL, car TEXT NOT NULL
) STRICT;
CREATE TABLE builds ({_DOCUMENT},
    engine_id TEXT NOT NULL REFERENCES engines (id) DEFERRABLE INITIALLY DEFERRED,
    number TEXT NOT NULL, built_on TEXT NOT NULL, sump_l REAL,
    {_between("sump_l", "0", "10000", "oil in the sump [L]")}
) STRICT;
CREATE INDEX builds_of_engine ON builds (engine_id);
CREATE TABLE build_parts (
    owner TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    part TEXT NOT NULL, material TEXT NOT NULL, role TEXT NOT NULL, area_cm2 REAL, thickness_um REAL,
    notes TEXT NOT NULL,
    PRIMARY KEY (owner, position),
    {_between("area_cm2", "0", "1000000", "wearing area [cm²]")},
    {_between("thickness_um", "0", "1000000", "layer thickness [µm]")}
) STRICT, WITHOUT ROWID;
CREATE TABLE fills ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    name TEXT NOT NULL, oil TEXT NOT NULL, build_h REAL NOT NULL, volume_l REAL, filled_at TEXT NOT NULL,
    drain_before TEXT NOT NULL, filter_changed INTEGER,
    {_hours("build_h", "build hours of a fill")},
    {_between("volume_l", "0", "10000", "fill volume [L]")},
    CHECK (filter_changed IN (0, 1))
) STRICT;
CREATE INDEX fills_of_build ON fills (build_id);
CREATE TABLE top_ups ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    fill TEXT NOT NULL, build_h REAL NOT NULL, litres REAL NOT NULL,
    {_hours("build_h", "build hours of a top-up")},
    {_between("litres", "0", "1000", "top-up [L]")}
) STRICT;
CREATE INDEX top_ups_of_build ON top_ups (build_id);
CREATE TABLE runs ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    place INTEGER NOT NULL, kind TEXT NOT NULL, hours REAL NOT NULL, started_at TEXT NOT NULL,
    max_rpm REAL, oil_temp_c REAL, fuel TEXT NOT NULL, coolant TEXT NOT NULL,
    {_hours("hours", "hours of a run")},
    {_between("max_rpm", "0", "100000", "rpm")},
    {_between("oil_temp_c", "-60", "400", "oil temperature [°C]")}
) STRICT;
CREATE INDEX runs_of_build ON runs (build_id);
CREATE TABLE samples ({_DOCUMENT},
    build_id TEXT REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    code TEXT NOT NULL, fill TEXT NOT NULL, build_h REAL, oil_h REAL, taken_at TEXT NOT NULL, drawn TEXT NOT NULL,
    before_top_up INTEGER, instrument TEXT NOT NULL, break_in INTEGER NOT NULL, hold TEXT NOT NULL,
    {_hours("build_h", "build hours of a sample")},
    {_hours("oil_h", "oil hours of a sample")},
    CHECK (before_top_up IN (0, 1)),
    CHECK (break_in IN (0, 1)),
    CONSTRAINT "a sample of an engine needs its build hours" CHECK (build_id IS NULL OR build_h IS NOT NULL)
) STRICT;
CREATE INDEX samples_of_build ON samples (build_id);
CREATE INDEX samples_by_code ON samples (code);
CREATE TABLE readings (
    owner TEXT NOT NULL REFERENCES samples (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    measurand TEXT NOT NULL, value REAL, unit TEXT NOT NULL, qualifier TEXT NOT NULL, replicate INTEGER NOT NULL,
    mark TEXT NOT NULL,
    PRIMARY KEY (owner, position),
    CONSTRAINT "a qualifier must be empty, < or >" CHECK (qualifier IN ('', '<', '>')),
    CONSTRAINT "a reading needs a value, unless it is below detection" CHECK (value IS NOT NULL OR qualifier = '<'),
    CONSTRAINT "replicates are numbered from 1" CHECK (replicate BETWEEN 1 AND 1000),
    {_between("value", "-1000000000", "1000000000", "a reading")}
) STRICT, WITHOUT ROWID;
CREATE TABLE pulls ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    pull TEXT NOT NULL, build_h REAL NOT NULL, power_kw REAL NOT NULL, air_c REAL, pressure_kpa REAL, humidity_pct REAL,
    {_hours("build_h", "build hours of a pull")},
    {_between("power_kw", "0", "100000", "power [kW]")},
    {_between("air_c", "-60", "100", "air [°C]")},
    {_between("pressure_kpa", "10", "200", "air pressure [kPa]")},
    {_between("humidity_pct", "0", "100", "humidity [%]")}
) STRICT;
CREATE INDEX pulls_of_build ON pulls (build_id);
CREATE TABLE leak_downs ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    build_h REAL NOT NULL, cylinder TEXT NOT NULL, percent REAL NOT NULL, tester TEXT NOT NULL, pressure_kpa REAL,
    {_hours("build_h", "build hours of a leak-down")},
    {_between("percent", "0", "100", "leak-down [%]")},
    {_between("pressure_kpa", "0", "10000", "test pressure [kPa]")}
) STRICT;
CREATE INDEX leak_downs_of_build ON leak_downs (build_id);
CREATE TABLE filter_cuts ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    build_h REAL NOT NULL, ferrous TEXT NOT NULL, non_ferrous TEXT NOT NULL, largest_mm REAL,
    {_hours("build_h", "build hours of a filter cut")},
    {_between("largest_mm", "0", "1000", "largest piece [mm]")}
) STRICT;
CREATE INDEX filter_cuts_of_build ON filter_cuts (build_id);
CREATE TABLE changes ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    build_h REAL NOT NULL, kind TEXT NOT NULL,
    {_hours("build_h", "build hours of a change")}
) STRICT;
CREATE INDEX changes_of_build ON changes (build_id);
CREATE TABLE findings ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    build_h REAL NOT NULL, part TEXT NOT NULL, condition TEXT NOT NULL, sample TEXT NOT NULL,
    {_hours("build_h", "build hours of a finding")}
) STRICT;
CREATE INDEX findings_of_build ON findings (build_id);
CREATE TABLE check_runs ({_DOCUMENT},
    instrument TEXT NOT NULL, run_at TEXT NOT NULL, standard TEXT NOT NULL, element TEXT NOT NULL,
    expected_ppm REAL NOT NULL, found_ppm REAL NOT NULL,
    {_between("expected_ppm", "0", "1000000", "expected value of a check [ppm]")},
    {_between("found_ppm", "-1000000", "1000000", "found value of a check [ppm]")}
) STRICT;
CREATE TABLE paste_mappings ({_DOCUMENT},
    name TEXT NOT NULL, mapping TEXT NOT NULL
) STRICT;
CREATE TABLE issued_calls ({_DOCUMENT},
    sample TEXT NOT NULL, engine TEXT NOT NULL, build TEXT NOT NULL, issued_at TEXT NOT NULL, who TEXT NOT NULL,
    rule_version TEXT NOT NULL, inputs_hash TEXT NOT NULL, call TEXT NOT NULL
) STRICT;
CREATE INDEX issued_calls_of_sample ON issued_calls (sample);
CREATE TABLE superseded_calls (
    issued TEXT NOT NULL PRIMARY KEY REFERENCES issued_calls (id), reason TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE photos ({_DOCUMENT},
    sha256 TEXT NOT NULL, engine TEXT NOT NULL, subject TEXT NOT NULL
) STRICT;
CREATE TABLE photo_bytes (sha256 TEXT NOT NULL PRIMARY KEY, bytes BLOB NOT NULL) STRICT;
"""

_SECOND = f"""
CREATE TABLE standards ({_DOCUMENT},
    name TEXT NOT NULL, kind TEXT NOT NULL, lot TEXT NOT NULL, expires_on TEXT NOT NULL
) STRICT;
CREATE TABLE standard_values (
    owner TEXT NOT NULL REFERENCES standards (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    element TEXT NOT NULL, ppm REAL NOT NULL,
    PRIMARY KEY (owner, position),
    {_between("ppm", "0", "1000000", "certified value [ppm]")}
) STRICT, WITHOUT ROWID;
CREATE TABLE instrument_cards ({_DOCUMENT},
    instrument TEXT NOT NULL, due_on TEXT NOT NULL, due_for TEXT NOT NULL
) STRICT;
CREATE TABLE instrument_elements (
    owner TEXT NOT NULL REFERENCES instrument_cards (id) DEFERRABLE INITIALLY DEFERRED, position INTEGER NOT NULL,
    element TEXT NOT NULL, unit TEXT NOT NULL, detects_from REAL,
    PRIMARY KEY (owner, position),
    {_between("detects_from", "0", "1000000", "detection limit")}
) STRICT, WITHOUT ROWID;
CREATE TABLE measurements ({_DOCUMENT},
    sample TEXT NOT NULL, measured_at TEXT NOT NULL
) STRICT;
CREATE INDEX measurements_of_sample ON measurements (sample)
"""

_OIL_AND_FILM = f"""
CREATE TABLE oil_limits ({_DOCUMENT},
    oil TEXT NOT NULL, limit_name TEXT NOT NULL, watch REAL, done REAL, why TEXT NOT NULL,
    {_between("watch", "0", "100000", "watch value of an oil limit")},
    {_between("done", "0", "100000", "done value of an oil limit")}
) STRICT;
CREATE INDEX oil_limits_of_oil ON oil_limits (oil);
CREATE TABLE fresh_values ({_DOCUMENT},
    oil TEXT NOT NULL, property TEXT NOT NULL, value REAL NOT NULL,
    {_between("value", "0", "100000", "fresh value of an oil")}
) STRICT;
CREATE INDEX fresh_values_of_oil ON fresh_values (oil);
CREATE TABLE fuel_blends ({_DOCUMENT},
    oil TEXT NOT NULL, fuel TEXT NOT NULL, fuel_ml REAL NOT NULL, oil_ml REAL NOT NULL, at_c REAL NOT NULL,
    kv_cst REAL NOT NULL,
    {_between("fuel_ml", "0", "100000", "fuel in a bench blend [mL]")},
    {_between("oil_ml", "0", "100000", "oil in a bench blend [mL]")},
    {_between("kv_cst", "0", "100000", "viscosity of a bench blend [cSt]")}
) STRICT;
CREATE INDEX fuel_blends_of_oil ON fuel_blends (oil);
CREATE TABLE bearings ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    name TEXT NOT NULL, diameter_mm REAL NOT NULL, length_mm REAL NOT NULL, clearance_mm REAL, roughness_um REAL,
    load_case TEXT NOT NULL, load_n REAL, speed_rpm REAL,
    {_between("diameter_mm", "0", "1000", "journal diameter [mm]")},
    {_between("length_mm", "0", "1000", "bearing length [mm]")},
    {_between("clearance_mm", "0", "100", "bearing clearance [mm]")},
    {_between("roughness_um", "0", "1000", "roughness of a bearing [µm]")},
    {_between("load_n", "0", "100000000", "bearing load [N]")},
    {_between("speed_rpm", "0", "100000", "bearing speed [rpm]")}
) STRICT;
CREATE INDEX bearings_of_build ON bearings (build_id)
"""

_LOG_RECORDS = f"""
CREATE TABLE oil_pressures ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    build_h REAL NOT NULL, pressure_kpa REAL NOT NULL, rpm REAL, oil_temp_c REAL, gauge TEXT NOT NULL,
    {_hours("build_h", "build hours of an oil pressure")},
    {_between("pressure_kpa", "0", "10000", "oil pressure [kPa]")},
    {_between("rpm", "0", "100000", "rpm of an oil pressure")},
    {_between("oil_temp_c", "-60", "400", "oil temperature of an oil pressure [°C]")}
) STRICT;
CREATE INDEX oil_pressures_of_build ON oil_pressures (build_id);
CREATE TABLE fittings ({_DOCUMENT},
    build_id TEXT NOT NULL REFERENCES builds (id) DEFERRABLE INITIALLY DEFERRED,
    build_h REAL NOT NULL, part TEXT NOT NULL, piece TEXT NOT NULL, act TEXT NOT NULL, life REAL,
    life_unit TEXT NOT NULL, used_before REAL,
    {_hours("build_h", "build hours of a fitting")},
    CONSTRAINT "a part is either fitted or taken out" CHECK (act IN ('fitted', 'taken out')),
    CONSTRAINT "a life is counted in h, km, laps or starts" CHECK (life_unit IN ('', 'h', 'km', 'laps', 'starts')),
    {_between("life", "0", "10000000", "life of a part")},
    {_between("used_before", "0", "10000000", "what a part had run before")}
) STRICT;
CREATE INDEX fittings_of_build ON fittings (build_id);
ALTER TABLE runs ADD COLUMN distance_km REAL {_between("distance_km", "0", "1000000", "distance of a run [km]")};
ALTER TABLE runs ADD COLUMN laps REAL {_between("laps", "0", "1000000", "laps of a run")};
ALTER TABLE runs ADD COLUMN starts REAL {_between("starts", "0", "1000000", "starts of a run")};
ALTER TABLE filter_cuts ADD COLUMN taken_from TEXT NOT NULL DEFAULT '';
ALTER TABLE filter_cuts ADD COLUMN form TEXT NOT NULL DEFAULT '';
ALTER TABLE filter_cuts ADD COLUMN colour TEXT NOT NULL DEFAULT '';
ALTER TABLE filter_cuts ADD COLUMN size_class TEXT NOT NULL DEFAULT '';
ALTER TABLE findings ADD COLUMN measured TEXT NOT NULL DEFAULT '';
CREATE INDEX photos_of_subject ON photos (subject)
"""

# no document: a call follows from the records, so these rows are neither audited nor merged, and may go at any time
_KEPT_CALLS = """
CREATE TABLE kept_calls (
    engine TEXT NOT NULL PRIMARY KEY, key TEXT NOT NULL, call TEXT NOT NULL, row_hash TEXT NOT NULL
) STRICT, WITHOUT ROWID
"""

NAMES = tuple(m.name for m in migrations._migrations)
SCHEMA_VERSION = len(NAMES)
"""`user_version` of a file that has every migration."""


def migrate(connection: sqlite3.Connection, upto: int = SCHEMA_VERSION) -> None:
    """Brings a file to schema version `upto`: each step and its number commit together."""
    db = Database(connection, execute_plugins=False)
    stop = NAMES[upto] if upto < SCHEMA_VERSION else None
    migrations.apply(db, stop_before=stop)


def _things(connection: sqlite3.Connection) -> frozenset[tuple[str, str, str]]:
    rows = connection.execute("SELECT type, name, coalesce(sql, '') FROM sqlite_master").fetchall()
    # the library that numbers the migrations may write its own table differently in another version
    return frozenset(
        (str(kind), str(name), "" if str(name).strip("idx_").startswith("sqlite_migrations") else str(sql))
        for kind, name, sql in rows
    )


@cache
def expected_things(version: int) -> frozenset[tuple[str, str, str]]:
    """What a bench file of that schema version holds (tables, indexes), with their SQL to the letter."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        migrate(memory, version)
        return _things(memory)
    finally:
        memory.close()


def strange_things(connection: sqlite3.Connection, version: int) -> tuple[str, ...]:
    """Names of things in the file that no bench file of that version has, or that are missing or altered."""
    found, expected = _things(connection), expected_things(version)
    return tuple(sorted({f"{kind} {name}" for kind, name, _ in found ^ expected}))

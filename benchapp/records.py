"""What the bench knows of an engine, as immutable records: the vocabulary that every room shares.

The bench file is read into these records once; the pure rooms compute on them and hand back records of their own.
Units are in the names or behind them in [ ]. Times are naive local ISO 8601 moments as the person wrote them.
`build_h` is running hours since this build's first start, `oil_h` running hours since the fill [h].
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import hypot
from types import MappingProxyType
from typing import Any

Moment = dt.datetime


def _nothing() -> Mapping[str, Any]:
    return MappingProxyType({})


# --- what engines are made of ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ElementShare:
    """Share of one element in a material [wt %], its published range, where it is from and how sure that is."""

    element: str
    nominal_pct: float | None
    """None where the source gives only an upper limit (an impurity)."""
    min_pct: float
    max_pct: float
    source: str
    status: str
    """'verified' (limits read in the source), 'memory' (from memory, unverified) or 'own' (entered by the user)."""


@dataclass(frozen=True, slots=True)
class Material:
    """An alloy, coating or contaminant and its composition."""

    id: str
    name: str
    group: str
    used_for: str
    shares: tuple[ElementShare, ...]
    density_g_cm3: float | None = None
    density_status: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a family or of a build. `material` is an id of the materials table."""

    name: str
    material: str
    role: str = ""
    area_cm2: float | None = None
    """Wearing area, all pieces together [cm²], where it is known."""
    thickness_um: float | None = None
    """Thickness of the layer [µm], where the part is a layer."""


@dataclass(frozen=True, slots=True)
class Family:
    """Engines built alike. `sump_l` is all the oil that circulates, coolers, lines and tank included [L]."""

    name: str
    layout: str = ""
    sump_l: float | None = None
    parts: tuple[Part, ...] = ()
    notes: str = ""


@dataclass(frozen=True, slots=True)
class OilLimit:
    """One limit of the oil room as a person set it for one oil, in the measure of that limit.

    `watch` and `done` None: never reached. `why` in the person's own words, or empty."""

    limit: str
    """Its name in the limits table ('base number')."""
    watch: float | None = None
    done: float | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class FuelBlend:
    """A blend made on the bench: so much fuel in so much of the fresh oil gave this viscosity."""

    fuel: str
    """'petrol', 'ethanol' or 'methanol'."""
    fuel_ml: float
    oil_ml: float
    kv_cst: float
    """Kinematic viscosity of the blend at `at_c` [mm²/s]."""
    at_c: float = 100.0
    """40 or 100 [°C]."""

    @property
    def fuel_pct(self) -> float:
        """Share of fuel in the blend [% by volume]."""
        return 100.0 * self.fuel_ml / (self.fuel_ml + self.oil_ml)


@dataclass(frozen=True, slots=True)
class OwnBearing:
    """A plain bearing of one build as a person measured it, with its load case; None: not known, a default stands in.

    Lengths [mm], the clearance diametral [mm], combined roughness of journal and shell [µm], a steady load [N] at a
    speed [rpm]."""

    name: str
    diameter_mm: float
    length_mm: float
    clearance_mm: float | None = None
    roughness_um: float | None = None
    load_case: str = ""
    """What the load is of, in words ('peak cylinder pressure')."""
    load_n: float | None = None
    speed_rpm: float | None = None


@dataclass(frozen=True, slots=True)
class Oil:
    """An oil as it is when new. `fresh_ppm` is element -> mg/kg; an element not listed is unknown, not zero."""

    name: str
    kind: str = ""
    """'break-in', 'race', 'road' or empty."""
    sae_grade: str = ""
    density_15c_kg_l: float | None = None
    kv40_cst: float | None = None
    kv100_cst: float | None = None
    hths_mpas: float | None = None
    tbn: float | None = None
    tan: float | None = None
    fresh_ppm: Mapping[str, float] = field(default_factory=_nothing)
    # the record's text stays what it was where none of these is entered: issued calls rest on it
    fresh_more: Mapping[str, float] = field(default_factory=_nothing, repr=False)
    """Fresh values without a field of their own, by property and in its unit ('Oxidation' [A/cm])."""
    limits: tuple[OilLimit, ...] = field(default=(), repr=False)
    """Limits set for this oil, by name; the others are those of the limits table."""
    blends: tuple[FuelBlend, ...] = field(default=(), repr=False)


# --- what happened to one build -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Fill:
    name: str
    oil: str
    build_h: float
    volume_l: float | None = None
    filled_at: Moment | None = None
    drain_before: str = ""
    """'none' (first fill, dry), 'hot', 'cold', 'part' or empty for unknown."""
    filter_changed: bool | None = None


@dataclass(frozen=True, slots=True)
class TopUp:
    fill: str
    build_h: float
    litres: float


@dataclass(frozen=True, slots=True)
class Run:
    """One running session. `hours` are its own; runs in order of `started_at` add up to build hours."""

    kind: str
    hours: float
    started_at: Moment | None = None
    max_rpm: float | None = None
    oil_temp_c: float | None = None
    fuel: str = ""
    """'unleaded', 'leaded', 'ethanol', 'methanol' or empty."""
    coolant: str = ""
    """'water', 'inhibited' or empty."""
    notes: str = ""
    distance_km: float | None = field(default=None, repr=False)
    """What parts are lifed by besides hours: distance [km], laps, starts. No call rests on them."""
    laps: float | None = field(default=None, repr=False)
    starts: float | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurand of one sample. A bare "not detected" has qualifier '<' and value None: the limit is the
    instrument's own."""

    measurand: str
    value: float | None
    unit: str = "ppm"
    qualifier: str = ""
    """'' (a value), '<' (below) or '>' (above)."""
    replicate: int = 1
    mark: str = ""
    """A mark that stood behind the number in the source (`*`, `J`)."""


@dataclass(frozen=True, slots=True)
class Sample:
    code: str
    fill: str
    build_h: float
    oil_h: float | None
    taken_at: Moment | None = None
    drawn: str = ""
    """'hot', 'cold' or empty."""
    before_top_up: bool | None = None
    instrument: str = ""
    break_in: bool = False
    notes: str = ""
    readings: tuple[Reading, ...] = ()
    hold: str = ""
    """Why the results are held (a failed check), or empty."""


@dataclass(frozen=True, slots=True)
class Pull:
    pull: str
    build_h: float
    power_kw: float
    air_c: float | None = None
    pressure_kpa: float | None = None
    humidity_pct: float | None = None


@dataclass(frozen=True, slots=True)
class LeakDown:
    build_h: float
    cylinder: str
    percent: float
    tester: str = ""
    pressure_kpa: float | None = None


@dataclass(frozen=True, slots=True)
class FilterCut:
    """What the cut-open filter held, or the magnet. `ferrous`/`non_ferrous`: a count or a word as written ('none',
    'few', '12')."""

    build_h: float
    ferrous: str = ""
    non_ferrous: str = ""
    largest_mm: float | None = None
    notes: str = ""
    taken_from: str = field(default="", repr=False)
    """'magnet', or 'filter' or empty for the filter."""
    form: str = field(default="", repr=False)
    """Shape of the pieces ('flakes', 'slivers', …) as written."""
    colour: str = field(default="", repr=False)
    size_class: str = field(default="", repr=False)
    """'fine' (below 0.5 mm), 'small' (0.5 to 1.6 mm), 'large' (above 1.6 mm) or empty."""


@dataclass(frozen=True, slots=True)
class OilPressure:
    """Oil pressure as a gauge showed it. Two compare at the same speed and warmth, on the same oil and gauge."""

    build_h: float
    pressure_kpa: float
    rpm: float | None = None
    oil_temp_c: float | None = None
    gauge: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Fitting:
    """A part went in (or came out) at these build hours. What it has run follows from the runs, never from a total.

    `piece` tells one part from its like (a serial number, "rod set 3"): the same piece in another build keeps what it
    has run. `life` in `life_unit` ('h', 'km', 'laps' or 'starts') is how long it may run; `used_before` what it had run
    when it was first entered here, in the same unit."""

    build_h: float
    part: str
    piece: str = ""
    act: str = "fitted"
    """'fitted' or 'taken out'."""
    life: float | None = None
    life_unit: str = ""
    used_before: float | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """`kind`: oil, tune, interval, part or fuel."""

    build_h: float
    kind: str
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What was seen when someone looked inside. `condition`: 'as new', 'worn as expected', 'worn out', 'damaged'."""

    build_h: float
    part: str
    condition: str
    sample: str = ""
    notes: str = ""
    measured: str = field(default="", repr=False)
    """What was measured, with its unit, as written ("clearance 0.075 mm")."""


@dataclass(frozen=True, slots=True)
class Build:
    """An engine between two rebuilds. `parts` are resolved: the family's parts with this build's own overrides.

    All tuples are sorted by build_h (runs by started_at). What was added later stays out of `repr`, over which the
    inputs of issued calls are hashed: a call that rests on none of it keeps its hash."""

    number: str
    parts: tuple[Part, ...]
    sump_l: float | None = None
    built_on: Moment | None = None
    notes: str = ""
    fills: tuple[Fill, ...] = ()
    top_ups: tuple[TopUp, ...] = ()
    runs: tuple[Run, ...] = ()
    samples: tuple[Sample, ...] = ()
    pulls: tuple[Pull, ...] = ()
    leak_downs: tuple[LeakDown, ...] = ()
    filter_cuts: tuple[FilterCut, ...] = ()
    changes: tuple[Change, ...] = ()
    findings: tuple[Finding, ...] = ()
    bearings: tuple[OwnBearing, ...] = field(default=(), repr=False)
    """Plain bearings measured in this build, by name; () where none was."""
    oil_pressures: tuple[OilPressure, ...] = field(default=(), repr=False)
    fittings: tuple[Fitting, ...] = field(default=(), repr=False)

    def with_sample(self, sample: Sample) -> Build:
        """This build with one more sample, or with this one in place of the one that has its code."""
        others = [each for each in self.samples if each.code != sample.code]
        return replace(self, samples=tuple(sorted([*others, sample], key=lambda each: each.build_h)))


@dataclass(frozen=True, slots=True)
class Engine:
    name: str
    family: str
    car: str = ""
    notes: str = ""
    builds: tuple[Build, ...] = ()


# --- the bench itself -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class NoiseLine:
    """Reading noise of one element on one instrument: sd(c) = sqrt(a² + (b·c)²), c in ppm.

    `a_ppm` [ppm], `b` [-], `limit_ppm` detection limit used for a bare "not detected" [ppm], `origin` in words
    ('own check runs, n = 14', 'published repeatability, from memory', …)."""

    a_ppm: float
    b: float
    limit_ppm: float
    origin: str

    def sd_ppm(self, ppm: float) -> float:
        """Standard deviation of one reading at a level [ppm]."""
        return hypot(self.a_ppm, self.b * ppm)


@dataclass(frozen=True, slots=True)
class InstrumentElement:
    """An element that an instrument reads: the unit it prints, and the detection limit in it where that is known."""

    element: str
    unit: str = "ppm"
    detects_from: float | None = None


@dataclass(frozen=True, slots=True)
class Instrument:
    name: str
    kind: str = ""
    """'rotating-disc', 'icp', 'xrf', 'lab' or empty."""
    method: str = ""
    noise: Mapping[str, NoiseLine] = field(default_factory=_nothing)
    """Element -> noise; an element not listed takes the library's default for the kind."""
    elements: tuple[InstrumentElement, ...] = ()
    """What it reads, where that was entered."""
    due_on: Moment | None = None
    """When its next service or calibration is due."""
    due_for: str = ""
    """What is due then, in words."""
    noise_then: tuple[tuple[Moment, Mapping[str, NoiseLine]], ...] = ()
    """For judging with only what was known then: from which moment on which `noise` was known, by time."""

    def noise_at(self, moment: Moment | None) -> Mapping[str, NoiseLine]:
        """Element -> noise as it was known at a moment: what `noise_then` says, else `noise`."""
        if not self.noise_then:
            return self.noise
        known = [noise for since, noise in self.noise_then if moment is not None and since <= moment]
        return known[-1] if known else self.noise_then[0][1]


@dataclass(frozen=True, slots=True)
class Standard:
    """A check standard or a blank. `ppm`: element -> certified value [mg/kg]; a blank's are zero."""

    name: str
    kind: str = "standard"
    """'standard' or 'blank'."""
    lot: str = ""
    expires_on: Moment | None = None
    ppm: Mapping[str, float] = field(default_factory=_nothing)
    notes: str = ""


@dataclass(frozen=True, slots=True)
class CheckRun:
    instrument: str
    run_at: Moment
    standard: str
    element: str
    expected_ppm: float
    found_ppm: float


@dataclass(frozen=True, slots=True)
class Fleet:
    """Everything a call can depend on, as one immutable value."""

    engines: tuple[Engine, ...]
    families: Mapping[str, Family]
    materials: Mapping[str, Material]
    oils: Mapping[str, Oil]
    instruments: Mapping[str, Instrument] = field(default_factory=_nothing)
    check_runs: tuple[CheckRun, ...] = ()
    standards: Mapping[str, Standard] = field(default_factory=_nothing)
    measured: Mapping[str, Moment] = field(default_factory=_nothing)
    """Sample code -> when it was last measured, where that is known; else its `taken_at` stands for it."""

    def find_sample(self, code: str) -> tuple[Engine, Build, Sample] | None:
        """Where the sample with this code is; None if no engine has it."""
        for engine in self.engines:
            for build in engine.builds:
                for sample in build.samples:
                    if sample.code == code:
                        return engine, build, sample
        return None


# --- the call -------------------------------------------------------------------------------------------------------

CALL_WORDS = ("Run", "Short stint", "Look inside", "Park")
"""The four calls, mildest first."""

REASON_KINDS = ("rate", "sequence", "ceiling", "trend", "pattern", "other")

NON_WEAR_SOURCES = ("dust", "coolant", "fuel lead", "sealant", "other oil", "copper leaching", "assembly lube")


@dataclass(frozen=True, slots=True)
class Reason:
    """One line of "bearing on", in words a crew chief can act on.

    `source` is a part, parts joined by " + ", or one of NON_WEAR_SOURCES; empty only for a build without parts."""

    source: str
    parts: tuple[str, ...]
    kind: str
    """One of REASON_KINDS."""
    text: str
    probability: float | None = None
    look: str = ""
    """Where to look and with what, or empty."""
    would_change: str = ""
    """What would change the call, or empty."""
    about: str = ""
    """What it is about where that is no source: an element, 'filter', 'leak-down', 'oil pressure', 'oil', 'oil film',
    'water in the oil' or 'bottle'; else empty."""

    @property
    def topic(self) -> str:
        """What it goes by where a person reads it: what it is about, else its source."""
        return self.about or self.source

    @property
    def shown_by(self) -> str:
        """Whose trend shows it: a filter or a bottle has none of its own, so its source's."""
        return self.source if self.about in ("filter", "bottle") else self.topic


@dataclass(frozen=True, slots=True)
class SourceRate:
    """Wear of one source (a part, a group "a + b", or a non-wear origin) over the interval, with its 90 % interval."""

    source: str
    parts: tuple[str, ...]
    rate_mg_h: float
    low_mg_h: float
    high_mg_h: float
    normal_mg_h: float | None
    """What is normal for this engine now (median of the prediction), or None where nothing is known."""
    normal_low_mg_h: float | None = None
    normal_high_mg_h: float | None = None
    seen_from_mg_h: float | None = None
    """Smallest extra rate this bench could have seen in this interval."""


@dataclass(frozen=True, slots=True)
class ElementRate:
    element: str
    ppm: float | None
    qualifier: str
    rate_mg_h: float | None
    rate_se_mg_h: float | None
    ceiling_ppm: float | None
    unexplained_mg_h: float | None
    normal_mg_h: float | None = None
    normal_low_mg_h: float | None = None
    normal_high_mg_h: float | None = None


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """Metal lost by one source over the build so far: a lower bound, the spectrometer sees only fine particles."""

    source: str
    parts: tuple[str, ...]
    mg: float
    low_mg: float
    high_mg: float
    micrometres: float | None = None
    low_um: float | None = None
    high_um: float | None = None
    thickness_um: float | None = None


@dataclass(frozen=True, slots=True)
class Flip:
    """An uncertain input that would change the call: what, at which value, to which call."""

    what: str
    at: str
    call: str


@dataclass(frozen=True, slots=True)
class Call:
    """The answer for one sample: an immutable record of what it says, why, and on what it stands."""

    rule_version: str
    engine: str
    build: str
    sample: str
    build_h: float
    taken_at: Moment | None
    call: str
    """One of CALL_WORDS."""
    sentence: str
    """The call in one sentence for the crew chief."""
    next_sample_h: float
    basis: str
    """'own history', 'own ceiling', 'family' or 'none'."""
    history: str
    """How much history stands behind it, in words ("2 samples of history, no break-in sample")."""
    history_samples: int
    severity: float | None
    reasons: tuple[Reason, ...] = ()
    sources: tuple[SourceRate, ...] = ()
    elements: tuple[ElementRate, ...] = ()
    ledger: tuple[LedgerLine, ...] = ()
    flips: tuple[Flip, ...] = ()
    unknowns: tuple[str, ...] = ()
    """What is not known and would matter, in words."""
    before_out: tuple[str, ...] = ()
    """What to do before the car goes out, in order."""
    ceiling_share: float | None = None
    """Largest reading as a share of its ceiling (0.4 = 40 %), over the wear elements."""
    ceiling_element: str = ""
    direction: str = ""
    """'rising', 'steady', 'falling' or empty when unknown."""
    carry_over: float | None = None
    chi_square: float | None = None
    """Reduced chi-square of the source split."""
    held: str = ""
    """Why the results are held, or empty."""
    superseded: str = ""
    inputs_hash: str = ""

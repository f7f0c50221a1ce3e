"""What a column head says: which measurand in which unit, or which other role, or nothing that is known here.

Element by symbol or English name, with a unit, wavelength, line or view behind it; the other measurands of an oil
bench; error columns, statistics and replicates; sample, engine, date, hours and instrument columns. The words are the
trade's (common practice, no source). Element symbols and names: IUPAC."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from benchapp.intake import units

ELEMENT_NAMES = {
    "Fe": "iron",
    "Cr": "chromium chrome",
    "Pb": "lead",
    "Cu": "copper",
    "Sn": "tin",
    "Al": "aluminium aluminum",
    "Ni": "nickel",
    "Ag": "silver",
    "Ti": "titanium",
    "V": "vanadium",
    "Mn": "manganese",
    "Cd": "cadmium",
    "Si": "silicon",
    "B": "boron",
    "Na": "sodium",
    "K": "potassium",
    "Li": "lithium",
    "Mg": "magnesium",
    "Ca": "calcium",
    "Ba": "barium",
    "P": "phosphorus phosphorous",
    "Zn": "zinc",
    "Mo": "molybdenum moly",
    "Sb": "antimony",
    "Bi": "bismuth",
    "W": "tungsten wolfram",
    "Co": "cobalt",
    "Zr": "zirconium",
    "Nb": "niobium",
    "Be": "beryllium",
    "As": "arsenic",
    "Se": "selenium",
    "Sr": "strontium",
    "S": "sulfur sulphur",
    "Cl": "chlorine",
    "Y": "yttrium",
    "Ce": "cerium",
    "La": "lanthanum",
    "In": "indium",
    "Hg": "mercury",
    "Tl": "thallium",
    "Ga": "gallium",
    "Ge": "germanium",
    "Rb": "rubidium",
    "Br": "bromine",
    "Pd": "palladium",
    "Pt": "platinum",
    "Rh": "rhodium",
    "Au": "gold",
    "Ta": "tantalum",
    "Hf": "hafnium",
}
ELEMENTS = frozenset(ELEMENT_NAMES)
_BY_NAME = {name: symbol for symbol, names in ELEMENT_NAMES.items() for name in names.split()}
_NOT_IN_CAPITALS = frozenset({"AS", "IN", "BE"})
_NOT_SMALL = frozenset({"as", "in", "be", "la", "co", "s", "b", "k", "p", "v", "w", "y", "li", "na", "re"})
_BY_SYMBOL = {
    **{s: s for s in ELEMENTS},
    **{s.upper(): s for s in ELEMENTS if s.upper() not in _NOT_IN_CAPITALS},
    **{s.lower(): s for s in ELEMENTS if s.lower() not in _NOT_SMALL},
}

UNIT_OF = {
    "KV40": "cSt",
    "KV100": "cSt",
    "TBN": "mg KOH/g",
    "TAN": "mg KOH/g",
    "Water": "%",
    "Fuel": "%",
    "Soot": "%",
    "Glycol": "%",
    "Oxidation": "A/cm",
    "Nitration": "A/cm",
    "Sulfation": "A/cm",
    "Antiwear": "A/cm",
    "Flash point": "°C",
    "Ferrous index": "",
    "Ferrous debris": "ppm",
    "VI": "",
    "Density": "kg/L",
    "HTHS": "mPa·s",
}
"""Measurands that are no elements, and the unit each is kept in. Elements are kept in ppm (mg/kg)."""


def unit_of(measurand: str) -> str:
    """The unit a measurand is kept in."""
    return UNIT_OF.get(measurand, "ppm")


_OTHER_MEASURANDS: tuple[tuple[str, str], ...] = (
    (
        r"(kv|k\.?v\.?|kin(ematic|\.)? ?visc(osity|\.)?|visc(osity|\.)?|vis|v) ?(@|at)? ?40 ?(°|deg\.?)? ?c?( cst)?",
        "KV40",
    ),
    (
        r"(kv|k\.?v\.?|kin(ematic|\.)? ?visc(osity|\.)?|visc(osity|\.)?|vis|v) ?(@|at)? ?100 ?(°|deg\.?)? ?c?( cst)?",
        "KV100",
    ),
    (r"(40 ?(°|deg\.?)? ?c) (kv|kin(ematic|\.)? ?visc(osity|\.)?|visc(osity|\.)?)", "KV40"),
    (r"(100 ?(°|deg\.?)? ?c) (kv|kin(ematic|\.)? ?visc(osity|\.)?|visc(osity|\.)?)", "KV100"),
    (r"t\.?b\.?n\.?|(total )?base (number|no\.?)|bn", "TBN"),
    (r"t\.?a\.?n\.?|(total )?acid (number|no\.?)|an", "TAN"),
    (r"water( content)?|h2o|moisture|water by (kf|karl fischer)|karl fischer( water)?|kf water", "Water"),
    (r"fuel( dilution| content| dil\.?)?|fuel in oil|(gasoline|petrol|diesel) dilution", "Fuel"),
    (r"soot( content| load(ing)?)?", "Soot"),
    (r"(ethylene )?glycol|coolant( content)?|antifreeze", "Glycol"),
    (r"oxidation( number)?|oxid\.?|oxi|oxn", "Oxidation"),
    (r"nitration( number)?|nitr\.?|nit", "Nitration"),
    (r"sulfation|sulphation|sulf\.?", "Sulfation"),
    (r"anti-?wear( additive)?|zddp( depletion)?", "Antiwear"),
    (r"flash ?point( \(?(coc|pmcc|closed cup|open cup)\)?)?|flash", "Flash point"),
    (r"pq( index)?|ferrous index|particle quanti(fier|cation)( index)?|magnetic index", "Ferrous index"),
    (r"ferrous debris|ferrous|total ferrous|wear debris", "Ferrous debris"),
    (r"viscosity index|vi|v\.i\.", "VI"),
    (r"density( (@|at)? ?15 ?(°|deg)? ?c)?", "Density"),
    (r"hths( viscosity)?|hths ?150", "HTHS"),
)
_OTHER = tuple((re.compile(pattern), name) for pattern, name in _OTHER_MEASURANDS)
_VISCOSITY_WITHOUT_TEMPERATURE = re.compile(r"(kv|kin(ematic|\.)? ?visc(osity|\.)?|visc(osity|\.)?)")

_ROLES: tuple[tuple[str, str], ...] = (
    (
        (
            r"sample ?(id|code|no\.?|nr\.?|number|name|label|#|identification|ref(erence)?)?|samp(le)?\.? ?id|id|code|bottle( ?(id|no\.?|number|code))?|"  # noqa: E501
            r"specimen( ?id)?|lab ?(id|no\.?|number|ref(erence)?)|label|(sample )?name|identity|ident\.?"
        ),
        "sample",
    ),
    (
        r"rep(licate|\.)?( ?(no\.?|nr\.?|#|number))?|burn( ?(no\.?|#|number))?|repeat( ?(no\.?|#))?|run ?(no\.?|#)|measurement( ?no\.?)?|shot|#",  # noqa: E501
        "replicate",
    ),
    (r"(row|sample|record|line|run|meas(urement)?)? ?(type|kind|class)|rec(ord)? ?code|typ|row code|mode", "kind"),
    (
        r"element|analyte|parameter|test( name)?|measurand|property|component name|determination|quantity|constituent",
        "element",
    ),
    (r"value|result|results|conc(entration|\.)?|reading|found|measured( value)?|amount|mean conc\.?", "value"),
    (r"units?|uom", "unit"),
    (r"(wave ?length|line|lambda|λ)( ?\(?nm\)?)?", "wavelength"),
    (r"engine( ?(id|no\.?|name|number|code))?|motor|unit ?(id|no\.?)|component|asset|machine", "engine"),
    (
        r"(sample|sampling|sampled|taken|drawn|collection)( ?(date|on|at|date ?/ ?time|time))|date ?(sampled|taken|drawn)|taken ?at",  # noqa: E501
        "taken_at",
    ),
    (
        r"(analysis|test|measured|run|measurement|acq(uisition|\.)?|report)? ?(date ?/? ?time|date|timestamp|date and time|datetime)|date",  # noqa: E501
        "date",
    ),
    (r"time|analysis time", "time"),
    (r"instrument( ?(id|name))?|spectrometer|device|analy[sz]er", "instrument"),
    (r"oil (hours|hrs|h|time|age)|(hours|hrs|h|time) on oil|oil ?h|hrs\.? on oil", "oil_h"),
    (
        r"(build|engine|total|running)? ?(hours|hrs|h|time)( since (build|rebuild|overhaul|new))?|build ?h|hour ?meter",
        "build_h",
    ),
    (r"qual(ifier|\.)?|flags?|q|data ?(flag|qualifier)|<|< ?/ ?>|censor(ed|ing)?", "qualifier"),
    (r"notes?|comments?|remarks?", "note"),
)
_ROLE = tuple((re.compile(pattern), role) for pattern, role in _ROLES)

_ERROR_WORD = r"(?:±|\+ ?/ ?-|\+-|std\.? ?dev\.?|st\.? ?dev\.?|stdev|s\.d\.|sd|rsd|%rsd|% rsd|rsd ?%|err(?:or)?\.?|uncert(?:ainty|\.)?|[123] ?(?:sigma|σ)|sigma|σ|cv|cv ?%|%cv)"  # noqa: E501
_ERROR_BEHIND = re.compile(
    rf"(.*?)(?:[ _\-./(]+{_ERROR_WORD}|±|\+ ?/ ?-)\)?( ?\(?[123] ?(?:sigma|σ|s|sd)\)?)?", re.IGNORECASE
)
_ERROR_BEFORE = re.compile(rf"{_ERROR_WORD}[ _\-.]*(?:of )?(.+)", re.IGNORECASE)
_ERROR_ALONE = re.compile(rf"{_ERROR_WORD}( ?\(?[123] ?(sigma|σ|s|sd)\)?)?", re.IGNORECASE)
_MEAN_BEHIND = re.compile(r"(.+?)[ _\-.]+\(?(?:mean|avg|average|x̄|ave)\.?\)?", re.IGNORECASE)
_MEAN_BEFORE = re.compile(r"(?:mean|avg|average|ave)\.?[ _\-.]+(?:of )?(.+)", re.IGNORECASE)
_FLAG_BEHIND = re.compile(r"(.+?)[ _\-.]+(?:flag|qual(?:ifier|\.)?|q)", re.IGNORECASE)
_REPLICATE = re.compile(r"(.+?)[ _\-]*(?:#|\brep(?:licate)?\.?|\bburn|\brun)[ _]*([0-9]{1,2})", re.IGNORECASE)
_BRACKET_UNIT = re.compile(r"(.*?)[ _]*[\[({]([^\[\](){}]+(?:\([^()]*\))?[^\[\](){}]*)[\])}](.*)", re.DOTALL)
_WAVELENGTH = re.compile(r"(?:1[6-9][0-9]|[2-8][0-9]{2})(?:[.,][0-9]{1,4})?(?: ?nm)?")
_LINE = re.compile(
    r"([A-Za-z]+)(?: ?(?:I{1,2}))?[ _\-]*((?:1[6-9][0-9]|[2-8][0-9]{2})(?:[.,][0-9]{1,4})?)(?: ?nm)?(?:[ _]*[\[({]?(?:r|a|radial|axial|[0-9]{1,3})[\])}]?)?",  # noqa: E501
    re.IGNORECASE,
)
_XRF_LINE = re.compile(r"([A-Za-z]+)[ _\-]*(?:k|l)[ _]?(?:α|a|alpha|β|b|beta)?[0-9]?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Header:
    """What one column head says. `role`: 'reading', 'error', 'mean' (a mean column), 'unknown' or one of the other
    roles ('sample', 'replicate', 'kind', 'element', 'value', 'unit', 'wavelength', 'engine', 'taken_at', 'date',
    'time', 'instrument', 'oil_h', 'build_h', 'note')."""

    role: str
    measurand: str = ""
    unit: str = ""
    """As written in the head, or empty."""
    replicate: int = 0
    """Replicate number written in the head (`Fe #2`), or 0."""
    wavelength: str = ""
    problem: str = ""
    """Why a reading column cannot be taken, in words."""


UNKNOWN = Header("unknown")
_LETTER = re.compile(r"[^\W0-9_]")


@lru_cache(maxsize=8192)
def classify(text: str) -> Header:
    """What a column head says."""
    head = " ".join(text.replace("\u00a0", " ").replace("μ", "µ").split()).strip(" :;")
    if not head or len(head) > 120:
        return UNKNOWN
    if not _LETTER.search(head):  # nearly all cells of a table are numbers
        return Header("error") if _ERROR_ALONE.fullmatch(head) else Header("replicate") if head == "#" else UNKNOWN
    if _ERROR_ALONE.fullmatch(head):
        return Header("error")
    name, unit = _split_unit(head)
    found = _measurand(name, unit)
    if found is not None:
        return found
    for pattern, role in (
        (_ERROR_BEHIND, "error"),
        (_ERROR_BEFORE, "error"),
        (_MEAN_BEHIND, "mean"),
        (_MEAN_BEFORE, "mean"),
    ):
        for candidate in (name, head):
            match = pattern.fullmatch(candidate)
            if match and match[1].strip():
                inner = _measurand(*_join(_split_unit(match[1].strip()), unit))
                if inner is not None:
                    return replace(inner, role=role)
    match = _FLAG_BEHIND.fullmatch(name)
    if match and (flagged := _measurand(*_split_unit(match[1].strip()))) is not None:
        return Header("qualifier", flagged.measurand)
    match = _REPLICATE.fullmatch(name)
    if match:
        inner = _measurand(*_join(_split_unit(match[1].strip()), unit))
        if inner is not None:
            return replace(inner, replicate=int(match[2]))
    for text in (head, name):
        lower = text.lower().replace("_", " ").strip(" .:")
        for pattern, role in _ROLE:
            if pattern.fullmatch(lower):
                return Header(role, unit=unit)
    return UNKNOWN


def _join(inner: tuple[str, str], unit: str) -> tuple[str, str]:
    return inner[0], inner[1] or unit


_SAYS_NOTHING = frozenset(["content", "wear", "conc", "conc.", "concentration", "result", "value", "reading"])
_SHORT = frozenset(["C", "F", "c", "f", "l", "L", "g", "h", "min", "int", "Int", "index", "Index", "°C", "abs"])
_HEAT = frozenset(["°c", "c", "degc", "deg c", "°f", "f", "degf", "deg f"])


def _unit_of_head(text: str, name: str) -> bool:
    """A unit of the column, not the wavelength's nm nor the temperature of a viscosity."""
    unit = units.normal(text)
    return units.is_unit(text) and unit != "nm" and not (unit in _HEAT and name[-1:].isdigit())


@lru_cache(maxsize=8192)
def _split_unit(head: str) -> tuple[str, str]:
    """Name and unit of a head: unit in brackets, behind a comma, or as the last words."""
    match = _BRACKET_UNIT.fullmatch(head)
    if match and (match[1].strip() or match[3].strip()):
        inside, rest = match[2].strip(), f"{match[1].strip()} {match[3].strip()}".strip()
        if units.is_unit(inside) and inside.lower() != "nm":
            name, other = _split_unit(rest)
            return (name, inside) if not other else (rest, inside)
        if _WAVELENGTH.fullmatch(inside) or inside.lower() in (
            "r",
            "a",
            "radial",
            "axial",
            "icp",
            "rde",
            "xrf",
            "wear",
            "oes",
        ):
            return _split_unit(f"{rest} {inside}" if _WAVELENGTH.fullmatch(inside) else rest)
        if inside in _BY_SYMBOL or inside.lower() in _BY_NAME:
            name, unit = _split_unit(rest)
            return (name, unit) if _element(name) else (head, "")
    for sign in (",", ";", " in ", " - "):
        name, found, tail = head.rpartition(sign)
        if found and name and _unit_of_head(tail, name):
            return name.strip(" ,;_-"), tail.strip()
    words = head.replace("_", " ").split(" ")
    for start in range(1, len(words)):  # the longest unit first: "wt %" before "%"
        tail, name = " ".join(words[start:]), " ".join(words[:start])
        if tail not in _SHORT and _unit_of_head(tail, name):
            return name.strip(" ,;_-"), tail
    name, found, tail = head.partition("/")
    if found and name and _unit_of_head(tail, name):
        return name, tail
    if len(words) == 2 and units.is_unit(words[0]) and _element(words[1]):
        return words[1], words[0]
    if head.endswith("%") and len(head) > 1:
        return head[:-1].strip(), "%"
    if head.startswith("%") and len(head) > 1 and not _ERROR_ALONE.fullmatch(head):
        return head[1:].strip(), "%"
    return head, ""


def _element(name: str) -> str:
    """Symbol of an element given by symbol or English name, or ''."""
    return _BY_SYMBOL.get(name) or _BY_NAME.get(name.lower(), "")


def _measurand(name: str, unit: str) -> Header | None:
    """A reading head for a bare name, or None."""
    name = name.strip(" _-.,:")
    symbol, wavelength = _element(name), ""
    if not symbol:
        match = _LINE.fullmatch(name)
        if match:
            symbol, wavelength = _element(match[1]), match[2]
            if not symbol and match[1][-1:] in "IiR":
                symbol = _element(match[1].rstrip("I"))
    if not symbol and re.search("[ _-]", name):
        first, _, rest = re.sub("[ _-]+", " ", name).partition(" ")
        rest = rest.strip("()[] ")
        if _element(first) and (_element(rest) == _element(first) or rest.lower() in _SAYS_NOTHING):
            symbol = _element(first)
    if not symbol:
        match = _XRF_LINE.fullmatch(name)
        if match and len(name) > 2 and re.search("[αβ]|alpha|beta|[kK]a|[kK]b|[lL]a|[lL]b", name):
            symbol = _element(match[1])
    if symbol:
        return _with_unit(Header("reading", symbol, unit, wavelength=wavelength))
    lower = name.lower().replace("_", " ")
    for pattern, measurand in _OTHER:
        if pattern.fullmatch(lower):
            return _with_unit(Header("reading", measurand, unit))
    if _VISCOSITY_WITHOUT_TEMPERATURE.fullmatch(lower):
        return Header("reading", "", unit, problem="at which temperature? Name the column KV40 or KV100")
    return None


def _with_unit(header: Header) -> Header:
    problem = unit_problem(header.measurand, header.unit)
    return replace(header, problem=problem) if problem else header


def unit_problem(measurand: str, unit: str) -> str:
    """Why a unit cannot be used for a measurand, in words; '' when it can or when there is none."""
    if not unit or units.conversion(unit, unit_of(measurand)) is not None:
        return ""
    kept = unit_of(measurand) or "no unit"
    if units.normal(unit) in ("mg/l", "µg/l", "ug/l", "µg/ml", "ug/ml", "ng/ml") and measurand in ELEMENTS:
        return f"“{unit}” cannot be converted to {kept} without the density of the oil"
    return f"“{unit}” cannot be converted to {kept}"


@lru_cache(maxsize=4096)
def is_wavelength(text: str) -> bool:
    """Is this cell a wavelength in nm (a row under the header)?"""
    return _WAVELENGTH.fullmatch(text.strip().strip("()[]")) is not None

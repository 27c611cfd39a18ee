"""Guess the meaning of names and codes in a source, for the draft of a mapping."""

from __future__ import annotations

import difflib
import re
from types import MappingProxyType
from typing import TYPE_CHECKING

from leakgeo.job.columns import normalized_code, parse_boolean

if TYPE_CHECKING:
    from collections.abc import Iterable

    from leakgeo.job.schema import Field

# Words in column names of utilities' data, by column of the contract; from common practice.
_COLUMNS = MappingProxyType({
    "line_id": "line lineid pipe pipeid main mainid facilityid assetid asset route serviceid",
    "material": "material mat matl pipemat mattype",
    "diameter_mm": "diameter diam dia size pipesize nomdia",
    "wall_mm": "wall wallthickness thickness", "address": "address addr",
    "work_order": "workorder wo order",
    "depth_m": "depth cover bury burydepth depthofcover",
    "pressure_kpa": "pressure press pres psi staticpressure oppressure",
    "installed_year": "installed instyr installyr installyear yearinstalled year instyear yr",
    "reading_id": "reading readingid stop point pointid obs obsid name",
    "walk_id": "walk walkid survey surveyid session run pass",
    "seq": "seq sequence order no num number",
    "sound_level": "sound soundlevel soundleveldb leveldb loud level noise noiselevel db loudness "
                   "cmt",
    "sound_unit": "soundunit levelunit unit",
    "gain_db": "gain",
    "sensor": "sensor mic microphone probe foot",
    "band": "band filter",
    "surface": "surface surf cover ground grnd pavement groundcover",
    "chainage_m": "chainage station taped distance dist",
    "chainage_from": "from tapedfrom", "chainage_toward": "toward towards to",
    "offset_m": "offset",
    "air": "air",
    "air_kpa": "airpressure airpress",
    "tap_open": "tap tapopen opentap trickle",
    "set_aside": "setaside aside exclude excluded skip discard bad",
    "time": "time datetime date timestamp taken when",
    "contact_id": "contact contactid fitting fittingid",
    "kind": "kind type class category utility utiltype",
    "start_reading": "startreading start begin read1 firstread",
    "end_reading": "endreading end finish read2 lastread",
    "volume_unit": "volumeunit unit units uom",
    "start_time": "starttime start begin time1",
    "end_time": "endtime end finish time2",
    "water_used": "waterused used use",
    "utility_id": "utility utilityid id facilityid assetid",
    "owner": "owner operator company",
    "width_m": "width diameter diam dia size",
    "quality_level": "quality ql qualitylevel sue",
    "notified": "notified notice",
    "response": "response resp answer status",
    "ticket": "ticket ticketno",
    "date": "date day reported",
    "found": "found leakfound result",
    "note": "note notes remark remarks comment comments",
})  # fmt: skip
# Words in names of columns with the opposite meaning.
_OPPOSITES = MappingProxyType({
    "set_aside": "usable valid ok good use", "water_used": "closed outletsclosed allclosed",
})  # fmt: skip
_LAYERS = MappingProxyType({
    "routes": "route routes main mains pipe pipes line lines lateral laterals service services "
              "waterline watermain watermains waterlines",
    "readings": "reading readings sound listen listening noise stops acoustic waypoints",
    "contacts": "contact contacts fitting fittings hydrant hydrants",
    "valves": "valve valves",
    "meter_tests": "meter meters test tests metertest metertests",
    "isolation_tests": "isolation isolationtest isolationtests steptest steptests",
    "closed_valves": "closedvalves shutvalves",
    "action_results": "action actions actionresult actionresults",
    "utilities": "utility utilities gas electric electrical electricity elec duct ducts telecom "
                 "telephone fiber fibre catv cable cables conduit conduits sewer sewers sanitary "
                 "storm power steam",
    "surfaces": "surface surfaces pavement landcover groundcover",
    "history": "history break breaks repair repairs workorders leaks",
    "dig_outcomes": "dig digs excavation outcome outcomes",
})  # fmt: skip
# Words in columns of such a layer alone, and beginnings of words that are joined in its name.
_UTILITY_COLUMNS = ("voltage", "kv", "utiltype", "utilitytype")
_UTILITY_STEMS = ("elec", "gasm", "gasl", "gass", "sewer", "telecom", "telco", "conduit",
                  "powerl", "fiber", "fibre", "utilit", "drain")  # fmt: skip
# Abbreviations in use, without those of two meanings in a column (PB: lead or polybutylene).
_CODES = MappingProxyType({
    "m": "m. metre metres meter meters metro metros", "ft": "ft. ' feet foot pie pies",
    "copper": "cu cop copp", "steel": "stl st", "galvanized_steel": "galv gal gi gs gsp galvanized",
    "ductile_iron": "di dip ductile", "cast_iron": "ci cip cas cast", "lead": "ld",
    "pvc": "c900 upvc", "pe": "hdpe mdpe ldpe poly polyethylene", "pex": "xlpe",
    "asbestos_cement": "ac acp acc transite", "concrete": "conc con rcp pccp pcc cem cement",
    "asphalt": "asph asp bit bitumen blacktop ac", "tile": "tiles", "paver": "brick pavers",
    "gravel": "grvl grv stone", "soil": "dirt earth bare", "grass": "lawn turf grs",
    "unknown": "unk u unkn other n_a", "hydrant": "hyd fh fire_hydrant", "hose_bib": "bib tap",
    "meter": "mtr wm", "main_valve": "valve mv gv gate_valve", "curb_stop": "cs curbstop",
    "pressure_reducing_valve": "prv reducer", "pump": "pmp", "stop_valve": "stop stopcock",
    "backflow_preventer": "bfp backflow rpz", "pressure_reducing": "prv reducer",
    "isolation": "iso main_valve valve gv gate_valve", "house": "house_valve main_shutoff shutoff",
    "water_heater": "heater wh", "electric": "e elec electrical power red",
    "gas_oil_steam": "g yellow", "gas": "natural_gas",
    "communications": "c comm tel telecom catv fiber fibre phone orange",
    "potable_water": "w water potable blue",
    "reclaimed_water": "reclaimed purple", "sewer_drain": "s ss sd sewer storm drain green",
    "contact_probe": "probe contact", "magnet": "mag", "ground_plate": "plate",
    "ground_spike": "spike", "low": "lo l", "high": "hi h", "on": "y yes 1 true",
    "off": "n no 0 false", "past_leak": "leak break main_break", "excavation": "dig exc",
    "repair": "rep clamp", "marked": "m located", "clear": "clr no_conflict",
    "yes": "y true 1 t x", "no": "n", "leak": "yes y true 1 t found leak_found",
    "dry": "dry_hole no_leak nothing none_found", "pipe_not_reached": "not_reached no_pipe",
    "db": "decibel decibels", "scale": "display units linear", "l": "litre litres liter liters",
    "m3": "cubic_metre cbm", "gal": "gallon gallons", "ft3": "cf cuft cubic_feet",
})  # fmt: skip
_UNITS = MappingProxyType({
    "ft": "ft", "feet": "ft", "foot": "ft", "in": "in", "inch": "in", "inches": "in", "psi": "psi",
    "bar": "bar", "mm": "mm", "cm": "cm", "m": "m", "kpa": "kPa", "yd": "yd",
})  # fmt: skip
_WORDS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")
_BOOLEANS = MappingProxyType({"good": True, "ok": True, "bad": False, "unusable": False})
SURE, LIKELY, WEAK = 1.0, 0.8, 0.6


def words(name: str) -> list[str]:
    """Split a name into words, at punctuation and at capitals.

    Examples
    --------
    >>> words("DEPTH_FT"), words("PipeMat")
    (['depth', 'ft'], ['pipe', 'mat'])
    """
    return [w.casefold() for w in _WORDS.findall(name)]


def unit_in(name: str) -> str | None:
    """Return the unit at the end of a column's name, None if there is none.

    Examples
    --------
    >>> unit_in("DEPTH_FT"), unit_in("MATERIAL"), unit_in("depthInches")
    ('ft', None, 'in')
    """
    parts = words(name)
    return _UNITS.get(parts[-1]) if len(parts) > 1 else None


def column_score(name: str, field: Field) -> float:
    """Return a score from 0 to 1 for a column being that of the contract, by its name.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> depth = load_schema("routes").field("depth_m")
    >>> column_score("depth_m", depth), column_score("BURY_FT", depth), column_score("XY", depth)
    (1.0, 0.8, 0.0)
    """
    own, plain = name.strip().casefold(), _without_unit(name)
    # Shapefiles truncate names to ten characters.
    if own == field.name or (len(own) == 10 and field.name.startswith(own)):
        return SURE
    wanted = _without_unit(field.name)
    known = set(_COLUMNS.get(field.name, "").split())
    known |= set(_OPPOSITES.get(field.name, "").split())
    if plain == wanted or plain in known:
        return LIKELY
    if len(plain) > 3 and difflib.SequenceMatcher(None, plain, wanted).ratio() >= 0.8:
        return WEAK
    return WEAK if known & set(words(name)) else 0.0


def synonyms(column: str) -> tuple[str, ...]:
    """Return the usual names of a column of the contract, in small letters without spaces.

    Examples
    --------
    >>> synonyms("surface")[:3]
    ('surface', 'surf', 'cover')
    """
    return tuple(_COLUMNS.get(column, "").split())


def nearest_column(names: Iterable[str], field: Field) -> str:
    """Return the column that is most likely that of the contract; ``""`` if none is.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> nearest_column(["OBJECTID", "FACILITYID", "MATL"], load_schema("routes").field("line_id"))
    'FACILITYID'
    """
    scores = {name: column_score(name, field) for name in names}
    best = max(scores, key=lambda name: scores[name], default="")
    return best if scores.get(best, 0.0) > 0.0 else ""


def _without_unit(name: str) -> str:
    parts = words(name)
    return "".join(parts[:-1] if len(parts) > 1 and parts[-1] in _UNITS else parts)


def layer_score(name: str, wanted: str) -> float:
    """Return a score from 0 to 1 for a layer being one of the contract, by its name.

    Examples
    --------
    >>> layer_score("WaterMains", "routes"), layer_score("routes", "routes")
    (0.8, 1.0)
    """
    plain = name.rpartition(".")[2]
    if plain.casefold() == wanted:
        return SURE
    known = set(_LAYERS.get(wanted, "").split())
    parts = words(plain)
    return LIKELY if known & {*parts, "".join(parts)} else 0.0


def may_be_utility(layer: str, columns: Iterable[str]) -> bool:
    """Return whether a layer looks like a buried utility, by its name or its columns.

    Examples
    --------
    >>> may_be_utility("UG_Elec", []), may_be_utility("layer1", ["ID", "VOLTAGE"])
    (True, True)
    >>> may_be_utility("parcels", ["OWNER"])
    False
    """
    known = {*_LAYERS["utilities"].split(), *_UTILITY_COLUMNS}
    name = layer.casefold()
    joined = any(stem in name for stem in _UTILITY_STEMS)
    return joined or any(known & set(words(one)) for one in (layer, *columns))


def is_opposite(name: str, field: Field) -> bool:
    """Return whether a column means the opposite of that of the contract, such as good readings.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> aside = load_schema("readings").field("set_aside")
    >>> is_opposite("OK", aside), is_opposite("EXCLUDE", aside)
    (True, False)
    """
    opposites = set(_OPPOSITES.get(field.name, "").split())
    return _without_unit(name) in opposites or bool(opposites & set(words(name)))


def guess_boolean(value: str) -> bool | None:
    """Guess whether a word means true or false; None if it is not clear.

    Examples
    --------
    >>> guess_boolean("Good"), guess_boolean("N"), guess_boolean("maybe")
    (True, False, None)
    """
    known = _BOOLEANS.get(normalized_code(value))
    return parse_boolean(value) if known is None else known


def guess_code(value: str, codes: Iterable[str]) -> str | None:
    """Guess the code that a value means; None if it is not clear.

    Examples
    --------
    >>> guess_code("DIP", ["ductile_iron", "pvc"]), guess_code("PB", ["lead", "pe"])
    ('ductile_iron', None)
    """
    own = normalized_code(value)
    for code in codes:
        if own == normalized_code(code) or own in _CODES.get(code, "").split():
            return code
    return None

"""Texts about one line that the map and the report share; no text clears a dig."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from leakgeo.conversion import FOOT_M
from leakgeo.deliver.views.rows import number, text
from leakgeo.find.advise.improvements import MAX_SD_RATIO
from leakgeo.find.evidence.strongest import strongest
from leakgeo.find.survey.from_fitting import START
from leakgeo.reason import Reason
from leakgeo.wording.quantities import (
    diameter_text,
    loss_text,
    on_tape,
    percent,
    pressure_text,
    tape_text,
)

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.wording import Wording

NO_HOLD = "No hold recorded"
HOLD = "HOLD"
NO_DIG = "No dig proposed"
NOT_CHECKED = "Clearance was not checked: utilities and one-call answers are not known"
NOT_LOCATED = "The leak is not located on this line; narrow it down first"
NO_REASON = "The dig is held; the reason was not recorded"
CAUTION = "Nothing recorded here clears the dig."
CAUTION_MORE = (
    "Get the one-call ticket and every utility's answer, "
    "follow local law, and let licensed people decide on the ground. Dig by hand near a mark."
)
ODDS_MEANING = (
    "Probabilities are worked out from the readings and their errors, for the sound of one leak on "
    "a traced pipe. Each is that of a leak in the place named: '90 %' means that of a hundred such "
    "places about ninety have a leak, and ten have none."
)

Row = dict[str, object]
# A line with more zones than this has their sum; the layer has them all.
_ZONES_SHOWN = 8
# Advice after which no way to improve is named.
_SETTLED = {"short_enough", "enough_readings", "nothing_else", "not_this_pipe"}


def position(view: LineView, units: str) -> str:
    """Return the chainages of the marks as a text, or the status of a line without one."""
    status = view.wording.term(view.status, "status")
    if view.mark is None:
        return status
    places = [tape_text(number(one.mark or {}, "chainage_m"), units) for one in view.by_mark]
    where = f"{' and '.join(places)} from the start"
    if view.located:
        name = view.mark_name.capitalize() or ("Marks" if view.of_marks else "Mark")
        return f"{name} at {where}"
    return f"{status}; likeliest at {where}"


def error(view: LineView, units: str) -> str:
    """Return the error of the mark as a sentence; ``""`` if there is no mark.

    The error along the pipe is conditional on a leak on this line, so its 95 % is multiplied by the
    probability that the line has a leak.
    """
    if view.mark is None:
        return ""
    along = tape_text(number(view.mark, "along_95_m"), units, "up")
    across = tape_text(number(view.mark, "across_95_m"), units, "up")
    leak = number(view.row, "leak_probability")
    share = "unknown" if leak is None else percent(0.95 * leak)
    found = f"{_capital(share)} that there is a leak within {along} of {_spot(view)} along the pipe"
    if not view.placed:
        return f"{found}; where the pipe lies on the ground is not known"
    return f"{found}; the pipe is within {across} across it (95 %)"


def odds(view: LineView, units: str) -> list[str]:
    """Return the probabilities of a leak in the likeliest zones, near the mark, and on the line."""
    zones = [_zone_odds(zone, units) for zone in view.zones[:_ZONES_SHOWN]]
    if rest := view.zones[_ZONES_SHOWN:]:
        total = sum(number(zone, "probability_leak_here") or 0.0 for zone in rest)
        zones.append(
            f"{_capital(percent(total))} that there is a leak within {len(rest)} other stretches"
        )
    near = [
        f"{_capital(percent(share))} that there is a leak within {one_foot(units)} of {_spot(one)}"
        for one in view.by_mark
        if one.mark and (share := number(one.mark, "probability_within_1ft")) is not None
    ]
    leak = number(view.row, "leak_probability")
    line = [] if leak is None else [f"{_capital(percent(leak))} that there is a leak on this line"]
    # Of several leaks the marks are more than their zones.
    return ["; ".join(near), *zones, *line] if view.of_marks else [*zones, *near, *line]


def _spot(view: LineView) -> str:
    """Return what to call the place of the mark: the mark, or the likeliest place."""
    if view.mark_name:
        return view.mark_name if view.located else f"likeliest place {view.mark_name[-1]}"
    return "the mark" if view.located else "the likeliest place"


def _zone_odds(zone: Row, units: str) -> str:
    """Return the probability of a zone, and the zone with its ends rounded outwards."""
    from_m, to_m = number(zone, "from_chainage_m"), number(zone, "to_chainage_m")
    share = _capital(percent(number(zone, "probability_leak_here")))
    if from_m is None or to_m is None:
        within = tape_text(number(zone, "length_m"), units, "up")
        return f"{share} that there is a leak within these {within}"
    start, end = on_tape(from_m, units, "down"), on_tape(to_m, units, "up")
    length = tape_text(end - start, units)
    span = f"from {tape_text(start, units)} to {tape_text(end, units)}"
    return f"{share} that there is a leak within these {length} ({span})"


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def limits(view: LineView) -> str:
    """Return what limits the precision of the mark; ``""`` if there is no mark."""
    why = text(view.mark, "limited_by") if view.mark else ""
    return _capital(view.wording.term(why, "limit")) if why else ""


def facts(view: LineView, units: str) -> list[tuple[str, str]]:
    """Return the known properties of a line as (label, text) pairs."""
    route, row, dig = view.route, view.row, view.dig
    length = getattr(route.get("geometry"), "length", None)
    pairs = [
        ("Address", text(route, "address") or "unknown"),
        ("Work order", text(route, "work_order") or "unknown"),
        ("Taped", _taped(view, units) or "unknown"),
        ("Length", tape_text(length, units)),
        ("Material", text(route, "material").replace("_", " ") or "unknown"),
        ("Diameter", diameter_text(number(route, "diameter_mm"), units)),
        ("Wall", diameter_text(number(route, "wall_mm"), units)),
        ("Cover to crown", tape_text(number(route, "depth_m"), units)),
        ("Pressure", pressure_text(number(route, "pressure_kpa"), units)),
        ("Loss", loss_text(number(row, "loss_l_per_day"), units)),
        ("Dig depth", tape_text(number(dig, "depth_m"), units, "up")),
        ("Depth from", text(dig, "depth_source").replace("_", " ") or "unknown"),
        ("Tolerance rule", text(dig, "rule") or "unknown"),
    ]
    return [(label, value) for label, value in pairs if value != "unknown"]


def _taped(view: LineView, units: str) -> str:
    """Return how to tape each mark from a fitting; ``""`` without one."""
    taped = [(one.mark_name, _from_fitting(one.mark or {}, units)) for one in view.by_mark]
    return "; ".join(f"{name}: {way}" if name else way for name, way in taped if way)


def conflict(row: Row, units: str, wording: Wording) -> tuple[str, str, str, str, str]:
    """Return utility, clearance (rounded down), severity, answer and action of a conflict."""
    severity = text(row, "severity")
    kind = wording.term(text(row, "kind") or "utility", "utility")
    return (
        f"{kind} {text(row, 'utility_id')}".strip(),
        tape_text(number(row, "clearance_m"), units, "down"),
        wording.term(severity, "severity") + _by_rule(row),
        text(row, "response").replace("_", " ") or "no answer",
        text(row, "action"),
    )


def _by_rule(row: Row) -> str:
    """Return the rule behind a conflict, and its case, in parentheses."""
    parts = [part for part in (text(row, "rule"), text(row, "rule_case")) if part]
    return f" ({', '.join(parts)})" if parts else ""


def other_place(row: Row, units: str) -> str:
    """Return an alternative site for the hole, its gain, and the probability it costs.

    Examples
    --------
    >>> row = {"chainage_m": 10.8, "moved_m": 0.12, "probability": 0.93,
    ...        "probability_at_mark": 0.97, "probability_lost": 0.04, "inside_tolerance": 1,
    ...        "inside_tolerance_at_mark": 2, "margin_m": -0.1, "margin_at_mark_m": -0.3}
    >>> other_place(row, "si")
    'Less in the way: a hole 0.12 m further from the start, at 10.80 m: in 1 tolerance zone instead
    of 2. 93 % that there is a leak in it instead of 97 %.'
    """
    moved = number(row, "moved_m") or 0.0
    way = "further from" if moved > 0 else "nearer to"
    where = f"{tape_text(abs(moved), units)} {way} the start"
    before, after = (number(row, f"inside_tolerance{end}") or 0.0 for end in ("_at_mark", ""))
    zones = "zone" if after == 1 else "zones"
    gain = f"in {after:.0f} tolerance {zones} instead of {before:.0f}"
    if after == before:
        further = (number(row, "margin_m") or 0.0) - (number(row, "margin_at_mark_m") or 0.0)
        gain = f"{tape_text(further, units, 'down')} further from the nearest tolerance zone"
    odds_there, odds_here = number(row, "probability"), number(row, "probability_at_mark")
    return (
        f"Less in the way: a hole {where}, at {tape_text(number(row, 'chainage_m'), units)}: "
        f"{gain}. {_capital(percent(odds_there))} that there is a leak in it instead of "
        f"{percent(odds_here)}."
    )


def next_reading(row: Row, units: str) -> tuple[str, str, str]:
    """Return order, chainage, and taping instruction with reason of a proposed reading."""
    order = number(row, "order")
    parts = [_from_fitting(row, units), text(row, "reason")]
    return (
        "" if order is None else f"{order:.0f}",
        tape_text(number(row, "chainage_m"), units),
        "; ".join(part for part in parts if part),
    )


def _from_fitting(row: Row, units: str) -> str:
    """Return distance and direction from the nearest fitting; ``""`` if there is none."""
    fitting, way = text(row, "from_fitting"), number(row, "from_fitting_m")
    if not fitting or fitting == START or way is None:
        return ""
    toward = text(row, "toward_fitting")
    where = f"{tape_text(way, units)} from {fitting}"
    return f"{where} toward {toward}" if toward else where


def advice(view: LineView) -> str:
    """Return whether to keep listening and what to expect of it, or why enough was heard."""
    return text(view.row, "advice")


def evidence(view: LineView) -> list[str]:
    """Return the sentences of the evidence that counts most; see `strongest`."""
    return [text(row, "message") for row in strongest(view.rows("evidence"))]


def improvements(view: LineView) -> list[str]:
    """Return ways to improve the line besides more stops, most helpful first.

    Empty if enough was heard, or nothing is worth its time, as the advice says so, and if the
    actions on the line are compared, as these ways are among them. Ways with little expected gain
    are left out; where more stops make sense, only the advice names them.
    """
    advised = text(view.row, "advice_code")
    after = Reason.parse(advised, text(view.row, "advice_values")).then
    if {advised, *(each.code for each in after)} & _SETTLED or view.rows("next_actions"):
        return []
    rows = sorted(view.rows("improvements"), key=lambda row: number(row, "order") or 99)
    return [
        text(row, "message")
        for row in rows
        if (number(row, "expected_sd_after_m") or 1.0)
        < MAX_SD_RATIO * (number(row, "expected_sd_before_m") or 0.0)
        and not (advised and row.get("improvement") == "spacing")
    ]


def provenance(result: Result) -> list[tuple[str, str]]:
    """Return (label, text) pairs of the input: file, digest, times, CRS, version and run id.

    The current time is not included: the same job gives the same file.
    """
    from leakgeo import __version__

    job = result.job
    name = text({"source": job.source}, "source").replace("\\", "/").rsplit("/", 1)[-1]
    pairs = [
        ("Job", name or "not named"),
        ("SHA-256", job.digest[:16]),
        ("Readings taken", _times(job)),
        ("Computed in", job.crs.name),
        ("Delivered in", job.output_crs.name),
        ("Made by", f"leakgeo {__version__}, run {result.run_id}"),
    ]
    return [(label, value) for label, value in pairs if value]


def _times(job: Job) -> str:
    if "time" not in job.readings:
        return ""
    times = pd.to_datetime(job.readings["time"], utc=True, errors="coerce").dropna()
    if times.empty:
        return ""
    first, last = (f"{t:%Y-%m-%d %H:%M}" for t in (times.min(), times.max()))
    return f"{first} to {last} UTC"


def holds_recorded(job: Job) -> Reason:
    """Return the time of the latest notice or answer on record, up to which holds are known.

    Parameters
    ----------
    job : Job
    """
    utilities = job.utilities
    dated = [
        pd.to_datetime(utilities[name], utc=True, errors="coerce").max()
        for name in ("notified_time", "response_time")
        if utilities is not None and name in utilities
    ]
    known = [time for time in dated if not pd.isna(time)]
    if not known:
        return Reason("holds_not_dated")
    return Reason("holds_recorded_at", time=f"{max(known):%Y-%m-%d %H:%M}")


def reading_counts(result: Result) -> str:
    """Return the numbers of readings: all, used and not used."""
    frame = result.layers.get("readings_on_route")
    if frame is None or "used" not in frame:
        return f"{len(result.job.readings)} readings"
    used = int(frame["used"].fillna(False).astype(bool).sum())
    return f"{len(frame)} readings: {used} used, {len(frame) - used} not used (each says why)"


def one_foot(units: str) -> str:
    """Return the distance of ``probability_within_1ft`` as a text.

    Examples
    --------
    >>> one_foot("si"), one_foot("us")
    ('0.30 m (one foot)', 'one foot')
    """
    return "one foot" if units == "us" else f"{tape_text(FOOT_M, 'si')} (one foot)"

"""Texts about one line that the map and the report share; no text clears a dig."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from leakgeo.deliver.views.rows import number, text
from leakgeo.dig.facilities import OWN_TOLERANCE
from leakgeo.find.evidence.strongest import strongest
from leakgeo.find.survey.from_fitting import START
from leakgeo.job.results.which_run import CODE
from leakgeo.provenance import utc_text
from leakgeo.reason import Reason
from leakgeo.wording.quantities import on_tape

if TYPE_CHECKING:
    from collections.abc import Collection

    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.wording import Wording

CAUTION = "Nothing recorded here clears the dig."

Row = dict[str, object]
# A line with more zones than this has their sum; the layer has them all.
_ZONES_SHOWN = 8
# Advice after which no way to improve is named.
_SETTLED = {"short_enough", "enough_readings", "nothing_else", "not_this_pipe"}


def position(view: LineView) -> str:
    """Return the chainages of the marks as a text, or the status of a line without one."""
    words = view.wording
    if view.mark is None:
        return words.term(view.status, "status")
    known = words.quantities
    places = [known.length(number(one.mark or {}, "chainage_m")) for one in view.by_mark]
    if not view.located:
        return words.text(Reason("position_likeliest", status=view.status, at=places))
    if view.mark_name:
        return words.text(Reason("position_named", mark=_capital(view.mark_name), at=places))
    return words.text(Reason("position_marks" if view.of_marks else "position_mark", at=places))


def error(view: LineView) -> str:
    """Return the error of the mark as a sentence; ``""`` if there is no mark.

    The error along the pipe is conditional on a leak on this line, so its 95 % is multiplied by the
    probability that the line has a leak.
    """
    if view.mark is None:
        return ""
    leak = number(view.row, "leak_probability")
    along = Reason(
        "error_along", probability=None if leak is None else 0.95 * leak, spot=_spot(view),
        along_m=number(view.mark, "along_95_m"),
    )  # fmt: skip
    if not view.placed:
        return view.wording.text(Reason("error_not_placed", along=along))
    across_m = number(view.mark, "across_95_m")
    return view.wording.text(Reason("error_across", along=along, across_m=across_m))


def odds(view: LineView) -> list[str]:
    """Return the probabilities of a leak in the likeliest zones, near the mark, and on the line."""
    words = view.wording
    zones = [words.text(_zone_odds(zone, words.units)) for zone in view.zones[:_ZONES_SHOWN]]
    if rest := view.zones[_ZONES_SHOWN:]:
        total = sum(number(zone, "probability_leak_here") or 0.0 for zone in rest)
        zones.append(words.text(Reason("odds_rest", probability=total, count=len(rest))))
    near = [
        words.text(Reason("odds_foot", probability=share, spot=_spot(one)))
        for one in view.by_mark
        if one.mark and (share := number(one.mark, "probability_within_1ft")) is not None
    ]
    leak = number(view.row, "leak_probability")
    line = [] if leak is None else [words.text(Reason("odds_line", probability=leak))]
    # Of several leaks the marks are more than their zones.
    return ["; ".join(near), *zones, *line] if view.of_marks else [*zones, *near, *line]


def _spot(view: LineView) -> Reason:
    """Return what to call the place of the mark: the mark, or the likeliest place."""
    if view.mark_name:
        rank = view.mark_name[-1]
        return Reason("spot_mark_of", rank=rank) if view.located else Reason(
            "spot_likeliest_of", rank=rank)  # fmt: skip
    return Reason("spot_mark" if view.located else "spot_likeliest")


def _zone_odds(zone: Row, units: str) -> Reason:
    """Return the probability of a zone, and the zone with its ends rounded outwards."""
    from_m, to_m = number(zone, "from_chainage_m"), number(zone, "to_chainage_m")
    share = number(zone, "probability_leak_here")
    if from_m is None or to_m is None:
        return Reason("odds_within", probability=share, length_m=number(zone, "length_m"))
    start, end = on_tape(from_m, units, "down"), on_tape(to_m, units, "up")
    return Reason("odds_zone", probability=share, length_m=end - start, from_m=start, to_m=end)


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def limits(view: LineView) -> str:
    """Return what limits the precision of the mark; ``""`` if there is no mark."""
    why = text(view.mark, "limited_by") if view.mark else ""
    return _capital(view.wording.term(why, "limit")) if why else ""


def facts(view: LineView, units: str, without: Collection[str] = ()) -> list[tuple[str, str]]:
    """Return the known properties of a line as (label, text) pairs, but for some codes."""
    route, row, dig = view.route, view.row, view.dig
    length = getattr(route.get("geometry"), "length", None)
    say, known = view.wording.term, view.wording.quantities
    nothing = say("unknown")
    pairs = {
        "fact_address": text(route, "address"),
        "fact_work_order": text(route, "work_order"),
        "fact_taped": _taped(view),
        "fact_length": known.length(length),
        "fact_material": say(text(route, "material") or "unknown", "material"),
        "fact_diameter": known.diameter(number(route, "diameter_mm")),
        "fact_wall": known.diameter(number(route, "wall_mm")),
        "fact_cover": known.length(number(route, "depth_m")),
        "fact_pressure": known.pressure(number(route, "pressure_kpa")),
        "fact_loss": known.loss(number(row, "loss_l_per_day")),
        "fact_dig_depth": known.length(number(dig, "depth_m"), "up"),
        "fact_depth_from": say(text(dig, "depth_source"), "depth_from"),
        "fact_rule": text(dig, "rule"),
    }
    return [(say(code), value) for code, value in pairs.items()
            if value and value != nothing and code not in without]  # fmt: skip


def _taped(view: LineView) -> str:
    """Return how to tape each mark from a fitting; ``""`` without one."""
    taped = [(one.mark_name, from_fitting(one.mark or {}, view.wording)) for one in view.by_mark]
    return "; ".join(f"{name}: {way}" if name else way for name, way in taped if way)


def conflict(row: Row, units: str, wording: Wording) -> tuple[str, str, str, str, str]:
    """Return utility, clearance (rounded down), severity, answer and action of a conflict."""
    severity = text(row, "severity")
    kind = wording.term(text(row, "kind") or "utility", "utility")
    return (
        f"{kind} {text(row, 'utility_id')}".strip(),
        wording.quantities.length(number(row, "clearance_m"), "down"),
        wording.term(severity, "severity") + _by_rule(row, wording),
        _answer(text(row, "response"), wording),
        text(row, "action"),
    )


def _answer(response: str, wording: Wording) -> str:
    """Return the answer of a utility."""
    known = response not in ("", "none")
    return wording.term(response, "response") if known else wording.term("report_no_answer")


def _by_rule(row: Row, wording: Wording) -> str:
    """Return the rule behind a conflict, and its case, in parentheses."""
    rule, case = text(row, "rule"), text(row, "rule_case")
    parts = [wording.term("rule_on_record") if rule == OWN_TOLERANCE else rule] if rule else []
    parts += [wording.term(case.replace(" ", "_"), "rule_case")] if case else []
    return f" ({', '.join(parts)})" if parts else ""


def other_place(row: Row, wording: Wording) -> str:
    """Return an alternative site for the hole, its gain, and the probability it costs.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> row = {"chainage_m": 10.8, "moved_m": 0.12, "probability": 0.93,
    ...        "probability_at_mark": 0.97, "probability_lost": 0.04, "inside_tolerance": 1,
    ...        "inside_tolerance_at_mark": 2, "margin_m": -0.1, "margin_at_mark_m": -0.3}
    >>> other_place(row, wording())
    'Less in the way: a hole 0.12 m further from the start, at 10.80 m: in 1 tolerance zone instead
    of 2. 93 % that there is a leak in it instead of 97 %.'
    """
    moved = number(row, "moved_m") or 0.0
    before, after = (number(row, f"inside_tolerance{end}") or 0.0 for end in ("_at_mark", ""))
    gain = Reason("fewer_tolerance_zones", zones=int(after), instead_of=int(before))
    if after == before:
        further = (number(row, "margin_m") or 0.0) - (number(row, "margin_at_mark_m") or 0.0)
        gain = Reason("further_from_tolerance_zones", further_m=further)
    return wording.text(Reason(
        "other_place", moved_m=abs(moved), way="further" if moved > 0 else "nearer",
        at_m=number(row, "chainage_m"), gain=gain, there=number(row, "probability"),
        here=number(row, "probability_at_mark"),
    ))  # fmt: skip


def next_reading(row: Row, wording: Wording) -> tuple[str, str, str]:
    """Return order, chainage, and taping instruction with reason of a proposed reading."""
    order = number(row, "order")
    parts = [from_fitting(row, wording), text(row, "reason")]
    return (
        "" if order is None else f"{order:.0f}",
        wording.quantities.length(number(row, "chainage_m")),
        "; ".join(part for part in parts if part),
    )


def from_fitting(row: Row, wording: Wording) -> str:
    """Return distance and direction from the nearest fitting; ``""`` if there is none."""
    fitting, by_m = text(row, "from_fitting"), number(row, "from_fitting_m")
    if not fitting or text(row, "from_fitting_code") == START.code or by_m is None:
        return ""
    if toward := text(row, "toward_fitting"):
        return wording.text(Reason("taped_toward", by_m=by_m, fitting=fitting, toward=toward))
    return wording.text(Reason("taped_from", by_m=by_m, fitting=fitting))


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
    from leakgeo.find.advise.improvements import MAX_SD_RATIO  # slow to import

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


def provenance(result: Result, words: Wording) -> list[tuple[str, str]]:
    """Return (label, text) pairs: file and digest of the job, times, CRS, version, run.

    The current time is not included: the same result gives the same file.
    """
    from leakgeo import __version__

    job, say = result.job, words.term
    run = words.text(run_and_time(result))
    made = words.text(Reason("made_version", version=__version__, run=run))
    pairs = [
        (say("made_job"), job_name(result) or say("made_not_named")),
        ("SHA-256", job.digest[:16]),
        (say("made_readings"), _times(job, words)),
        (say("made_computed"), job.crs.name),
        (say("made_delivered"), job.output_crs.name),
        (say("made_by"), made),
    ]
    return [(label, value) for label, value in pairs if value]


def job_name(result: Result) -> str:
    """Return the name of the file or folder that the job was read from."""
    source = text({"source": result.job.source}, "source")
    return source.replace("\\", "/").rsplit("/", 1)[-1]


def _times(job: Job, words: Wording) -> str:
    if "time" not in job.readings:
        return ""
    times = pd.to_datetime(job.readings["time"], utc=True, errors="coerce").dropna()
    if times.empty:
        return ""
    first, last = (f"{t:%Y-%m-%d %H:%M}" for t in (times.min(), times.max()))
    return words.text(Reason("made_times", first=first, last=last))


def run_and_time(result: Result) -> Reason:
    """Return the run that a result is of, and when it was written, to state on every product.

    Parameters
    ----------
    result : Result
    """
    return run_text(result.run_id, result.written)


def of_run(result: Result, words: Wording) -> str:
    """Return the run of a result and when it was written as a sentence."""
    return f"{_capital(words.text(run_and_time(result)))}."


def run_text(run_id: str, written: str) -> Reason:
    """Return a run and when it was written, if that is known; see `run_and_time`."""
    when = utc_text(written)
    return Reason("run_written", run=run_id, written=when) if when else Reason("run_of", run=run_id)


def superseded(result: Result, words: Wording) -> str:
    """Return that a result was superseded, and by which run; ``""`` if it was not.

    Parameters
    ----------
    result : Result
    words : Wording
    """
    found = [words.text(fault.reason) for fault in result.faults if fault.code == CODE]
    return found[0] if found else ""


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


def reading_counts(result: Result, words: Wording) -> str:
    """Return the numbers of readings: all, used and not used."""
    frame = result.layers.get("readings_on_route")
    if frame is None or "used" not in frame:
        return words.text(Reason("report_all_readings", readings=len(result.job.readings)))
    used = int(frame["used"].fillna(False).astype(bool).sum())
    return words.text(Reason(
        "report_readings", readings=len(frame), used=used, unused=len(frame) - used
    ))  # fmt: skip


def warnings(words: Wording) -> tuple[str, str]:
    """Return the cautions of every product, short and long; translated beside the English ones."""
    short, long = words.term("report_caution"), words.term("report_caution_more")
    english = words.english()
    if english is None:
        return short, long
    return f"{short} {english.term('report_caution')}", (
        f"{long} {english.term('report_caution_more')}")  # fmt: skip

"""Output layers of the `locate` step, made from the findings of the lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.find.locate.finding import Weighed
from leakgeo.find.locate.status import (
    LIKELIER_THAN_NOT,
    leak_heard,
    message_of,
    rejected_message,
    status_of,
)
from leakgeo.find.loss.meter import loss_by_line
from leakgeo.find.posterior.rivals import load_rival_weights
from leakgeo.find.survey.from_fitting import from_fitting, tape_from_fitting
from leakgeo.find.survey.line_fittings import NO_FITTINGS, fittings_by_line
from leakgeo.job.north import from_true_north
from leakgeo.job.placed import TAPED, traces_of
from leakgeo.reason import Reason, columns_of, with_next

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.faults import Fault
    from leakgeo.find.locate.finding import Finding
    from leakgeo.find.locate.repaired import Repaired
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.find.survey.line_fittings import LineFittings
    from leakgeo.job.model import Job
    from leakgeo.route.lines import Lines

# 95 % of a normal error lies within this many standard deviations.
SD_95 = 1.959964
# Smallest half-width of a drawn zone.
MIN_HALF_WIDTH_M = 0.15
# A fitting this near an end of a line is at it; one this near a mark is beside it: two feet.
AT_END_M, BESIDE_M = 1.0, 0.61
# Spacing of profile points inside the search zones.
FINE_SPACING_M = 0.1


def zones_layer(job: Job, lines: Lines, findings: Sequence[Finding]) -> gpd.GeoDataFrame:
    """Return ``search_zones``: stretches of the routes, buffered by the error across the pipe."""
    rows = [
        (f.line, rank, piece.probability, f.probability_in(piece), piece.begin_m, piece.end_m)
        for f in findings
        if leak_heard(f)
        for rank, piece in enumerate(f.pieces, start=1)
    ]
    names = ["line", "rank", "probability", "probability_leak_here", "from_chainage_m",
             "to_chainage_m"]  # fmt: skip
    # Without rows the columns would be of dtype object, which has no cumulative sum.
    frame = pd.DataFrame(rows, columns=names).astype(float).astype({"line": np.intp, "rank": int})
    which = frame.pop("line").to_numpy()
    frame.insert(0, "line_id", lines.table.index.to_numpy(dtype=object)[which])
    frame["cumulative_probability"] = frame.groupby("line_id")["probability"].cumsum()
    frame["length_m"] = frame["to_chainage_m"] - frame["from_chainage_m"]
    frame["half_width_m"] = _across_95(lines)[which]
    pieces = lines.routes.pieces(
        which, frame["from_chainage_m"].to_numpy(), frame["to_chainage_m"].to_numpy()
    )
    shapes = shapely.buffer(pieces, frame["half_width_m"].to_numpy(), cap_style="flat")
    return gpd.GeoDataFrame(frame, geometry=shapes, crs=job.crs)


def _across_95(lines: Lines) -> Floats:
    across: Floats = np.maximum(SD_95 * lines.trace_sd_m, MIN_HALF_WIDTH_M)
    return across


def marks_layer(
    job: Job, lines: Lines, findings: Sequence[Finding], fittings: pd.DataFrame
) -> gpd.GeoDataFrame:
    """Return ``marks``: the points of each line on which a leak was heard or seen."""
    heard = [
        (f, rank, *mark)
        for f in findings
        if leak_heard(f)
        for rank, mark in enumerate(f.marks, start=1)
    ]
    which = np.array([f.line for f, *_ in heard], dtype=np.intp)
    chainage = np.array([mark.chainage_m for _, _, mark, *_ in heard], dtype=float)
    across, spots = _across_95(lines)[which], lines.routes.points(which, chainage)
    along = lines.routes.grid_azimuth_deg(which, chainage)
    # A taped chainage is drawn on the trace, so the error of the trace adds to it along the pipe.
    on_trace = np.array([f.tape_share for f, *_ in heard], dtype=float)
    trace_m = np.where(texts(lines.table, "trace")[which] == TAPED, 0.0, on_trace * across)
    names = lines.table.index.to_numpy(dtype=object)[which]
    places = pd.DataFrame({"line_id": names, "chainage_m": chainage})
    reach_m = np.array([mark.reach_95_m for _, _, mark, *_ in heard], dtype=float)
    frame = pd.DataFrame({
        "line_id": names,
        "rank": np.array([rank for _, rank, *_ in heard], dtype=np.int64),
        "chainage_m": chainage,
        **from_fitting(places, fittings),
        "along_sd_m": np.array([mark.sd_m for _, _, mark, *_ in heard], dtype=float),
        "along_95_m": np.hypot(reach_m, trace_m),
        "across_95_m": across,
        "probability_within_1ft": np.array([near for *_, near, _ in heard], dtype=float),
        "limited_by": [limit for *_, limit in heard],
        "status": np.array([status_of(f) for f, *_ in heard], dtype=object),
        "azimuth_deg": from_true_north(along, job.crs, shapely.get_x(spots), shapely.get_y(spots)),
    })  # fmt: skip
    return gpd.GeoDataFrame(frame, geometry=spots, crs=job.crs)


def evidence_table(
    lines: Lines, findings: Sequence[Finding], leak_prior: float, repaired: Mapping[str, Repaired]
) -> pd.DataFrame:
    """Return ``evidence``: prior, levels and all else known of each line as log10 Bayes factors.

    They add up to the log odds of the hypothesis: a leak on the line or, if there are nearby lines,
    a leak on it or on one of them.
    """
    prior = np.log(leak_prior) - np.log1p(-leak_prior)
    rows = []
    for f in findings:
        sound = [] if np.isnan(f.levels_log_bf) else [Weighed("sound", f.levels_log_bf)]
        parts = [Weighed("prior", prior), *sound, *f.further]
        where = "leak_here_or_on_nearby_line" if f.on_nearby_lines else "leak"
        rows += [(lines.table.index[f.line], one.kind, where, one.log_bf / np.log(10.0), one.reason)
                 for one in parts]  # fmt: skip
    for name, line in repaired.items():
        rows += [(name, one.kind, "leak", one.log_bf / np.log(10.0), one.reason)
                 for one in (Weighed("prior", prior), *line.further) if line.further]  # fmt: skip
    names = ["line_id", "kind", "hypothesis", "log10_bayes_factor", "observed"]
    table = pd.DataFrame(rows, columns=names)
    table = table.sort_values("line_id", ignore_index=True, kind="stable")
    table["log10_bayes_factor"] = table["log10_bayes_factor"].astype(float)
    times = 10.0 ** table["log10_bayes_factor"].abs()
    messages = [
        observed or Reason(f"evidence_{kind}", times=float(f"{t:.3g}"), likelier=up >= 0.0)
        for kind, up, t, observed in zip(
            table["kind"], table["log10_bayes_factor"], times, table.pop("observed"), strict=True
        )
    ]
    return table.assign(**columns_of("message", messages))


def explanations_table(lines: Lines, findings: Sequence[Finding]) -> pd.DataFrame:
    """Return ``explanations``: what may be true of each line, the likeliest first."""
    names = lines.table.index
    rows = [
        (str(names[f.line]), *explained)
        for f in findings
        for explained in sorted(_explanations(f), key=lambda row: -row[-1])
    ]
    columns = ["line_id", "kind", "other_line_id", "contact_id", "chainage_m", "probability"]
    table = pd.DataFrame(rows, columns=columns).astype({"chainage_m": float, "probability": float})
    return table.sort_values("line_id", ignore_index=True, kind="stable")


_Explained = tuple[str, str | None, str | None, float, float]


def _explanations(finding: Finding) -> list[_Explained]:
    """Return kind, other line, fitting, chainage and probability of each explanation of a line."""
    found = finding.posterior
    likeliest = finding.mark.chainage_m if leak_heard(finding) else np.nan
    rows: list[_Explained] = [("leak", None, None, likeliest, found.leak_probability)]
    rows += [("nearby_line", line, None, at, p) for line, p, at in finding.on_nearby_lines]
    rows += [(r.kind, None, r.name or None, r.chainage_m, r.probability) for r in found.rivals]
    left = max(1.0 - sum(row[-1] for row in rows), 0.0)
    return [*rows, ("silence", None, None, np.nan, left)]


def lines_table(
    job: Job, lines: Lines, findings: Sequence[Finding], readings: pd.DataFrame,
    failed: Sequence[Fault], fittings: pd.DataFrame, repaired: Mapping[str, Repaired],
    notes: Mapping[str, Reason],
) -> pd.DataFrame:  # fmt: skip
    """Return ``lines``: one row for every selected line, with its status."""
    failures = {fault.feature: fault.reason for fault in failed}
    found = {lines.table.index[f.line]: f for f in findings}
    without = [i for i in lines.table.index[lines.selected] if i not in found and i not in repaired]
    messages = _messages(lines, findings, fittings, notes)
    rows = [(i, status_of(f), f.posterior.leak_probability,
             f.mark.chainage_m if leak_heard(f) else np.nan, message)
            for (i, f), message in zip(found.items(), messages, strict=True)]  # fmt: skip
    rows += [(i, r.status, r.leak_probability, np.nan, r.message) for i, r in repaired.items()]
    listened = set(texts(readings, "line_id"))
    rows += [(i, "rejected" if i in listened else "not_listened_to", np.nan, np.nan,
              failures.get(i) or rejected_message(i, readings)) for i in without]  # fmt: skip
    rows += [(i, "rejected", np.nan, np.nan, lines.rejected[i]) for i in lines.rejected.index]
    names = ["line_id", "status", "leak_probability", "chainage_m", "message"]
    table = pd.DataFrame(rows, columns=names).sort_values("line_id", ignore_index=True)
    table = table.assign(**columns_of("message", table.pop("message")))
    read_with = {str(i): "; ".join(f.read_with) for i, f in found.items() if f.read_with}
    table["read_with"] = [read_with.get(i) for i in texts(table, "line_id")]
    table["trace"] = traces_of(job.routes, texts(table, "line_id"))
    table["loss_l_per_day"] = table["line_id"].map(loss_by_line(job.meter_tests)).astype(float)
    table["priority"] = priority(table)
    table["conflicts"] = 0
    table["dig_status"] = "hold"
    return table


def _messages(
    lines: Lines, findings: Sequence[Finding], fittings: pd.DataFrame, notes: Mapping[str, Reason]
) -> Iterator[Reason]:
    """Yield the message of each line with a finding, and a note on it where there is one."""
    own = [(lines.table.index[f.line], mark.chainage_m) for f in findings for mark, *_ in f.marks]
    spots = pd.DataFrame(own, columns=["line_id", "chainage_m"])
    by_line = fittings_by_line(fittings)
    places, beside = tape_from_fitting(spots, fittings), beside_mark(spots, by_line)
    first = 0
    for finding, rivals in zip(findings, rival_places(lines, findings, by_line), strict=True):
        rows = slice(first, first + len(finding.marks))
        first = rows.stop
        sounding = next((each for each in beside[rows] if each is not None), None)
        message = message_of(finding, places[rows], rivals, sounding)
        yield with_next(message, notes.get(str(lines.table.index[finding.line])))


def rival_places(
    lines: Lines, findings: Sequence[Finding], fittings: Mapping[str, LineFittings]
) -> list[dict[str, Reason]]:
    """Return the fitting or the end of each rival of each line, by the rival's ``key``."""
    own = [fittings.get(str(lines.table.index[f.line]), NO_FITTINGS) for f in findings]
    return [
        {r.key: rival_place(r, each) for r in f.posterior.rivals if r.kind != "unknown"}
        for f, each in zip(findings, own, strict=True)
    ]


def rival_place(rival: Rival, fittings: LineFittings) -> Reason:
    """Return the fitting that sounds or, at an end, one there, which a crew sees; else the end.

    Parameters
    ----------
    rival : Rival
        Of the kind ``fitting``, ``beyond_start`` or ``beyond_end``.
    fittings : LineFittings
        Of the line.
    """
    if rival.kind == "fitting":
        return fittings.named(rival.name)
    end = "start_of_route" if rival.kind == "beyond_start" else "end_of_route"
    return fittings.near(rival.chainage_m, AT_END_M) or Reason(end)


def beside_mark(spots: pd.DataFrame, fittings: Mapping[str, LineFittings]) -> list[Reason | None]:
    """Return for each mark a fitting beside it that may sound by itself, or None."""
    sounding = load_rival_weights()["fitting_sounds"]
    return [
        fittings.get(str(line), NO_FITTINGS).near(at, BESIDE_M, sounding)
        for line, at in zip(spots["line_id"], floats(spots, "chainage_m"), strict=True)
    ]


def priority(table: pd.DataFrame) -> pd.Series[int]:
    """Rank the lines to work on: leaks first, in descending order of the expected loss.

    A loss by the meter is evidence for a leak, whether or not anyone has listened yet.
    """
    leak = table["leak_probability"].fillna(-1.0)
    metered = table["loss_l_per_day"].fillna(0.0)
    loss = table["leak_probability"].fillna(1.0) * metered
    none = (leak < LIKELIER_THAN_NOT) & (metered == 0.0)
    order = pd.DataFrame({"leak": none, "loss": -loss, "odds": -leak})
    ranked = order.sort_values(["leak", "loss", "odds"], kind="stable").index
    return pd.Series(np.arange(1, len(table) + 1), index=ranked).reindex(table.index)


def density_on_profile(
    job: Job, profile: pd.DataFrame, lines: Lines, findings: Sequence[Finding]
) -> pd.DataFrame:
    """Return ``profile`` with the leak density, and with closer points in the search zones."""
    line = lines.index_of(texts(profile, "line_id"))
    columns = [
        floats(profile, c) for c in ("chainage_m", "level_comparable_db", "level_comparable_sd_db")
    ]
    order = np.lexsort((columns[0], line))
    line, columns = line[order], [c[order] for c in columns]
    # A line that nobody listened to has no profile.
    findings = [f for f, there in zip(findings, np.isin([f.line for f in findings], line),
                                      strict=True) if there]  # fmt: skip
    begin = np.searchsorted(line, [f.line for f in findings], side="left")
    end = np.searchsorted(line, [f.line for f in findings], side="right")
    refined = [
        _refined_profile(columns[0][a:b], columns[1][a:b], columns[2][a:b], f)
        for f, a, b in zip(findings, begin, end, strict=True)
    ]
    which = np.repeat([f.line for f in findings], [len(p[0]) for p in refined]).astype(np.int64)
    names = ("chainage_m", "level_comparable_db", "level_comparable_sd_db", "leak_density_per_m")
    stacked = [np.concatenate([p[k] for p in refined] or [np.empty(0)]) for k in range(len(names))]
    frame = pd.DataFrame(dict(zip(names, stacked, strict=True)))
    frame.insert(0, "line_id", lines.table.index.to_numpy(dtype=object)[which])
    points = lines.routes.points(which, stacked[0])
    return gpd.GeoDataFrame(frame, geometry=points, crs=job.crs)


def _refined_profile(
    at: Floats, level: Floats, level_sd: Floats, finding: Finding
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return chainage, level, its standard deviation and the leak density of one line."""
    closer = [np.arange(p.begin_m - 0.5, p.end_m + 0.5, FINE_SPACING_M) for p in finding.pieces]
    places = np.unique(np.concatenate([at, *closer]).clip(0.0, at[-1]).round(3))
    found = finding.posterior
    density = np.interp(places, found.chainage_m, found.probability / (2.0 * found.chainage_m[0]))
    return places, np.interp(places, at, level), np.interp(places, at, level_sd), density

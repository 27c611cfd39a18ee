"""Findings as the layers of the data contract."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.find.locate.status import (
    LIKELIER_THAN_NOT,
    leak_heard,
    message_of,
    rejected_message,
    status_of,
)
from leakgeo.find.loss.meter import loss_by_line
from leakgeo.find.survey.from_fitting import from_fitting
from leakgeo.job.north import from_true_north
from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats
    from leakgeo.faults import Fault
    from leakgeo.find.locate.step import Finding
    from leakgeo.job.model import Job
    from leakgeo.route.lines import Lines

# 95 % of a normal error lies within this many standard deviations.
SD_95 = 1.959964
# A zone is never drawn narrower than what a boot covers.
NARROWEST_M = 0.15
# Profile points are this close where the leak may be.
FINE_M = 0.1


def zones_layer(job: Job, lines: Lines, findings: Sequence[Finding]) -> gpd.GeoDataFrame:
    """Search zones: pieces of the routes, buffered by the across error, ranked by probability."""
    rows = [
        (f.line, rank, piece.probability, f.probability_in(piece), piece.begin_m, piece.end_m)
        for f in findings
        if leak_heard(f)
        for rank, piece in enumerate(f.pieces, start=1)
    ]
    names = ["line", "rank", "probability", "probability_leak_here", "from_chainage_m",
             "to_chainage_m"]  # fmt: skip
    # Without rows the columns would hold objects, which can't be summed up.
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
    across: Floats = np.maximum(SD_95 * lines.trace_sd_m, NARROWEST_M)
    return across


def marks_layer(
    job: Job, lines: Lines, findings: Sequence[Finding], fittings: pd.DataFrame
) -> gpd.GeoDataFrame:
    """One place for each line on which a leak was heard; its status says whether it is a mark."""
    heard = [f for f in findings if leak_heard(f)]
    which = np.array([f.line for f in heard], dtype=np.intp)
    chainage = np.array([f.mark.chainage_m for f in heard], dtype=float)
    across, spots = _across_95(lines)[which], lines.routes.points(which, chainage)
    along = lines.routes.grid_azimuth_deg(which, chainage)
    # A taped mark is drawn on the trace, and so shifted by the trace's own error along the pipe.
    drawn = np.array([f.taped for f in heard], dtype=float) * across
    names = lines.table.index.to_numpy(dtype=object)[which]
    places = pd.DataFrame({"line_id": names, "chainage_m": chainage})
    frame = pd.DataFrame({
        **places,
        **from_fitting(places, fittings),
        "along_sd_m": np.array([f.mark.sd_m for f in heard], dtype=float),
        "along_95_m": np.hypot(np.array([f.mark.reach_95_m for f in heard], dtype=float), drawn),
        "across_95_m": across,
        "probability_within_1ft": np.array([f.mark.within_foot for f in heard], dtype=float),
        "limited_by": [f.limited_by for f in heard],
        "status": np.array([status_of(f) for f in heard], dtype=object),
        "azimuth_deg": from_true_north(along, job.crs, shapely.get_x(spots), shapely.get_y(spots)),
    })  # fmt: skip
    return gpd.GeoDataFrame(frame, geometry=spots, crs=job.crs)


def evidence_table(lines: Lines, findings: Sequence[Finding], leak_prior: float) -> pd.DataFrame:
    """What each line's probability of a leak is made of, in decimal logarithms that add up to it.

    The hypothesis is a leak on the line; for lines that meet others near their leak, a leak there
    or here.
    """
    prior = np.log(leak_prior) - np.log1p(-leak_prior)
    rows = []
    for f in findings:
        air = f.posterior.leak_nats - f.sound_nats
        parts = {"prior": prior, "sound": f.sound_nats, **({"air": air} if air else {})}
        where = "leak_here_or_on_connected_line" if f.elsewhere else "leak"
        rows += [(lines.table.index[f.line], kind, where, nats / np.log(10.0))
                 for kind, nats in parts.items()]  # fmt: skip
    table = pd.DataFrame(rows, columns=["line_id", "kind", "hypothesis", "log10_bayes_factor"])
    table = table.sort_values("line_id", ignore_index=True, kind="stable")
    table["log10_bayes_factor"] = table["log10_bayes_factor"].astype(float)
    times = 10.0 ** table["log10_bayes_factor"].abs()
    said = [
        Reason(f"evidence_{kind}", times=float(f"{t:.3g}"), likelier=up >= 0.0)
        for kind, up, t in zip(table["kind"], table["log10_bayes_factor"], times, strict=True)
    ]
    return table.assign(**columns_of("message", said))


def lines_table(
    job: Job, lines: Lines, findings: Sequence[Finding], readings: pd.DataFrame,
    failed: Sequence[Fault],
) -> pd.DataFrame:  # fmt: skip
    """One row for every line that was named, with what came of it."""
    defeated = {fault.feature: fault.reason for fault in failed}
    found = {lines.table.index[f.line]: f for f in findings}
    unheard = [i for i in lines.table.index[lines.selected] if i not in found]
    rows = [(i, status_of(f), f.posterior.leak_probability,
             f.mark.chainage_m if leak_heard(f) else np.nan, message_of(f))
            for i, f in found.items()]  # fmt: skip
    listened = set(texts(readings, "line_id"))
    rows += [(i, "rejected" if i in listened else "not_listened_to", np.nan, np.nan,
              defeated.get(i) or rejected_message(i, readings)) for i in unheard]  # fmt: skip
    rows += [(i, "rejected", np.nan, np.nan, lines.rejected[i]) for i in lines.rejected.index]
    names = ["line_id", "status", "leak_probability", "chainage_m", "message"]
    table = pd.DataFrame(rows, columns=names).sort_values("line_id", ignore_index=True)
    table = table.assign(**columns_of("message", table.pop("message")))
    table["loss_l_per_day"] = table["line_id"].map(loss_by_line(job.meter_tests)).astype(float)
    table["priority"] = priority(table)
    table["dig_rank"] = dig_rank(table)
    table["conflicts"] = 0
    table["dig_status"] = "hold"
    return table


def priority(table: pd.DataFrame) -> pd.Series[int]:
    """Rank what to work on first: leaks, the greater expected loss before the less.

    A meter that shows a loss is evidence for a leak, whether or not anyone has listened yet.
    """
    leak = table["leak_probability"].fillna(-1.0)
    shown = table["loss_l_per_day"].fillna(0.0)
    loss = table["leak_probability"].fillna(1.0) * shown
    none = (leak < LIKELIER_THAN_NOT) & (shown == 0.0)
    order = pd.DataFrame({"leak": none, "loss": -loss, "odds": -leak})
    ranked = order.sort_values(["leak", "loss", "odds"], kind="stable").index
    return pd.Series(np.arange(1, len(table) + 1), index=ranked).reindex(table.index)


def dig_rank(table: pd.DataFrame) -> pd.Series[float]:
    """Rank what to dig first: located lines alone, in the order of `priority`; NaN for others.

    Examples
    --------
    >>> dig_rank(pd.DataFrame({
    ...     "status": ["located", "ambiguous", "located"], "priority": [3, 1, 2]})).tolist()
    [2.0, nan, 1.0]
    """
    return table["priority"].where(table["status"] == "located").rank()


def density_on_profile(
    job: Job, profile: pd.DataFrame, lines: Lines, findings: Sequence[Finding]
) -> pd.DataFrame:
    """Fill the leak's density into the profile, with closer points where the leak may be."""
    line = lines.index_of(texts(profile, "line_id"))
    columns = [
        floats(profile, c) for c in ("chainage_m", "level_comparable_db", "level_comparable_sd_db")
    ]
    order = np.lexsort((columns[0], line))
    line, columns = line[order], [c[order] for c in columns]
    begin = np.searchsorted(line, [f.line for f in findings], side="left")
    end = np.searchsorted(line, [f.line for f in findings], side="right")
    filled = [
        _densify(columns[0][a:b], columns[1][a:b], columns[2][a:b], f)
        for f, a, b in zip(findings, begin, end, strict=True)
    ]
    which = np.repeat([f.line for f in findings], [len(p[0]) for p in filled]).astype(np.int64)
    names = ("chainage_m", "level_comparable_db", "level_comparable_sd_db", "leak_density_per_m")
    stacked = [np.concatenate([p[k] for p in filled] or [np.empty(0)]) for k in range(len(names))]
    frame = pd.DataFrame(dict(zip(names, stacked, strict=True)))
    frame.insert(0, "line_id", lines.table.index.to_numpy(dtype=object)[which])
    points = lines.routes.points(which, stacked[0])
    return gpd.GeoDataFrame(frame, geometry=points, crs=job.crs)


def _densify(
    at: Floats, level: Floats, level_sd: Floats, finding: Finding
) -> tuple[Floats, Floats, Floats, Floats]:
    """Chainage, level, its deviation and the leak's density of one line, closer in the zones."""
    closer = [np.arange(p.begin_m - 0.5, p.end_m + 0.5, FINE_M) for p in finding.pieces]
    places = np.unique(np.concatenate([at, *closer]).clip(0.0, at[-1]).round(3))
    found = finding.posterior
    density = np.interp(places, found.chainage_m, found.probability / (2.0 * found.chainage_m[0]))
    return places, np.interp(places, at, level), np.interp(places, at, level_sd), density

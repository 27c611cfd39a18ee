"""Link rows to the lines that they name, and check that their positions lie on these lines.

A taped reading is placed by its chainage alone. Its position is compared with the line here, since
a walk recorded on the wrong line would otherwise put its sound there without a message.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.arrays import floats, numbers_of_groups, texts
from leakgeo.faults import Fault
from leakgeo.job.checks.collector import MAX_SINGLE_FAULTS
from leakgeo.job.checks.registry import check
from leakgeo.job.checks.sweeps import MOST_SD_M, TAPED_SD_M, offsets_across, sweep_places
from leakgeo.job.columns import match_columns
from leakgeo.job.crs import ground_scale
from leakgeo.job.model import NOT_SELECTED
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pandas as pd

    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.checks.layer import CheckedLayer
    from leakgeo.job.schema import Field, LayerSchema


# Leading zeros; characters between two numbers; other characters between words.
_LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
_NUMBER_SEPARATORS = re.compile(r"(?<=\d)[\W_]+(?=\d)")
_OTHER_SEPARATORS = re.compile(r"(?<!\d)[\W_]+|[\W_]+(?!\d)")


def link_lines(checked: CheckedLayer, routes: CheckedLayer) -> CheckedLayer:
    """Reject rows whose line is not among the routes, or whose route is rejected."""
    if not checked.schema.refers_to_routes:
        return checked
    known = routes.table["line_id"].dropna()
    good = routes.table.loc[routes.table["reason"].isna(), "line_id"]
    line = checked.table["line_id"]
    is_known, is_good = line.isin(known), line.isin(good)
    issues = checked.issues()
    unknown = line.notna() & ~is_known
    similar = _similar_names(line.where(unknown), known)
    issues.report(
        (unknown & similar.isna()).to_numpy(), Reason("line_unknown"), column="line_id",
        values=line,
    )  # fmt: skip
    has_similar = similar.notna().to_numpy()
    pairs = zip(line[has_similar], similar[has_similar], strict=True)
    reasons = [Reason("line_unknown_like", line=name, like=other) for name, other in pairs]
    issues.report(has_similar, reasons, column="line_id", values=line)
    issues.report(
        (is_known & ~is_good).to_numpy(), Reason("line_rejected"), column="line_id", values=line
    )
    return checked.with_issues(issues)


def referred_layers(schema: LayerSchema) -> tuple[str, ...]:
    """Return the layers that a layer must refer to rows of, such as the valves of a closure.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> referred_layers(load_schema("closed_valves"))
    ('isolation_tests', 'valves')
    """
    fields = (f for f in schema.fields if f.unknown_reference != "keep")
    return tuple(dict.fromkeys(layer for f in fields for layer, _ in f.refers_to))


def link_rows(checked: CheckedLayer, *referred: CheckedLayer | None) -> CheckedLayer:
    """Check references to rows of other layers.

    Parameters
    ----------
    checked : CheckedLayer
    *referred : CheckedLayer or None
        Each of `referred_layers`; None for one that is not there.
    """
    layers = dict(zip(referred_layers(checked.schema), referred, strict=True))
    for field in (f for f in checked.schema.fields if f.refers_to):
        if field.unknown_reference != "keep":
            checked = _with_known_references(checked, field, layers)
    return checked


def _with_known_references(
    checked: CheckedLayer, field: Field, layers: Mapping[str, CheckedLayer | None]
) -> CheckedLayer:
    rows = [other.table[column] for layer, column in field.refers_to
            if (other := layers[layer]) is not None]  # fmt: skip
    known = set().union(*(set(names.dropna()) for names in rows))
    value = checked.table[field.name]
    unknown = (value.notna() & ~value.isin(known)).to_numpy()
    there = [f"{layer}.{column}" for layer, column in field.refers_to]
    rejects, issues = field.unknown_reference == "reject", checked.issues()
    reason = Reason("reference_unknown", column=field.name, refers_to=there, left_out=not rejects)
    issues.report(unknown, reason, column=field.name, values=value, rejects=rejects)
    kept = checked.table if rejects else checked.table.assign(
        **{field.name: value.mask(unknown, None)})  # fmt: skip
    return replace(checked, table=kept).with_issues(issues)


def _similar_names(line: pd.Series[Any], known: pd.Series[Any]) -> pd.Series[Any]:
    """Return for each name a known one that differs only in case, spaces, dashes or zeros."""
    plain = {_normalized_name(name): name for name in known}
    return line.map({name: plain.get(_normalized_name(name)) for name in line.dropna().unique()})


def _normalized_name(name: str) -> str:
    """Return a name without case, separators and leading zeros, for comparison.

    Examples
    --------
    >>> [_normalized_name(name) for name in ("WM 0012-a", "wm-12A", "1-11", "11-1")]
    ['wm12a', 'wm12a', '1-11', '11-1']
    """
    text = _NUMBER_SEPARATORS.sub("-", str(name).casefold())
    return _LEADING_ZEROS.sub("", _OTHER_SEPARATORS.sub("", text))


def row_of_line(table: pd.DataFrame, lines: pd.DataFrame) -> Ints:
    """Return the row in `lines`, which are unique, of the line that each row names; -1 for none."""
    known, named = (pd.Index(texts(rows, "line_id")) for rows in (lines, table))
    return np.asarray(known.get_indexer(named), dtype=np.int64)


def as_names(lines: object) -> list[str] | None:
    """Return one or several names of lines, text or numbers, as a list of text.

    Examples
    --------
    >>> as_names("H-126"), as_names((101, "102")), as_names(None)
    (['H-126'], ['101', '102'], None)
    """
    if lines is None:
        return None
    several = isinstance(lines, Iterable) and not isinstance(lines, str)
    return [str(name) for name in lines] if several else [str(lines)]  # type: ignore[attr-defined]


def selection_faults(routes: CheckedLayer, lines: Sequence[str]) -> list[Fault]:
    """Return a fault of each selected line that is missing."""
    known = set(routes.table["line_id"].dropna())
    faults = [
        Fault("routes", Reason("selected_line_missing", line=line), line, "line_id", line)
        for line in dict.fromkeys(lines) if line not in known
    ]  # fmt: skip
    if not known & set(lines):
        faults.append(
            Fault("routes", Reason("no_selected_line"), column="line_id", value=", ".join(lines),
                  effect="stops")
        )  # fmt: skip
    return faults


def with_selection(checked: CheckedLayer, lines: frozenset[str]) -> CheckedLayer:
    """Mark good rows of other lines with NOT_SELECTED; this is not reported as a fault.

    Rows without line_id are kept; they are assigned by position, among all routes.
    """
    if "line_id" not in checked.table:
        return checked
    line, issues = checked.table["line_id"], checked.issues()
    other = line.notna() & ~line.isin(lines)
    issues.reasons[other.to_numpy() & issues.good] = NOT_SELECTED
    return checked.with_issues(issues)


# Standard deviation of positions derived from the chainage, so large that they have no weight.
CHAINAGE_ONLY_SD_M = 1e3
_TAPED = ("line_id", "chainage_m")


def can_be_placed_by_chainage(
    schema: LayerSchema, names: list[str], listed: frozenset[str]
) -> bool:
    """Return whether a layer without geometry has what places its rows along their lines.

    Parameters
    ----------
    schema : LayerSchema
    names : list of str
        Columns as read.
    listed : frozenset of str
        Lines with a taped list of fittings.
    """
    if schema.name in ("routes", "contacts"):
        return bool(listed)
    found = match_columns(names, (*_TAPED, "tape"))
    if schema.name == "dig_outcomes":
        return "line_id" in found
    return schema.name == "readings" and "line_id" in found and len(found) >= len(_TAPED)


def has_chainage(frame: pd.DataFrame, schema: LayerSchema) -> Bools:
    """Return whether each row needs no geometry, shape (n,): its line and chainage are enough.

    A dig needs its line only: that a leak was repaired counts wherever it was.
    """
    if schema.name == "dig_outcomes":
        return frame["line_id"].notna().to_numpy()
    if schema.name != "readings":
        return np.zeros(len(frame), dtype=bool)
    return frame[list(_TAPED)].notna().all(axis=1).to_numpy()


def place_by_chainage(readings: CheckedLayer, routes: CheckedLayer) -> CheckedLayer:
    """Give readings without position the position of their chainage along the route.

    Parameters
    ----------
    readings, routes : CheckedLayer
        In the local CRS, in metres; `readings` linked to `routes`.
    """
    table, lines = readings.table, routes.table[routes.table["reason"].isna()]
    without_position = table.geometry.isna() & table["reason"].isna()
    at = np.flatnonzero(without_position.to_numpy())
    if not at.size:
        return readings
    traces = lines.geometry.to_numpy()[row_of_line(table.iloc[at], lines)]
    x, y = shapely.get_coordinates(shapely.centroid(traces)).T
    scale = ground_scale(pyproj.CRS(table.crs), x, y)
    on_map = floats(table, "tape_m")[at] * scale
    shapes, sd = table.geometry.to_numpy().copy(), floats(table, "position_sd_m")
    aside = np.nan_to_num(floats(table, "offset_m")[at]) * scale
    shapes[at], sd[at] = points_along(traces, on_map, aside), CHAINAGE_ONLY_SD_M
    issues = readings.issues()
    reason = Reason("placed_by_chainage", placed=at.size, rows=len(table))
    issues.report_layer(reason, column="geometry")
    points = gpd.GeoSeries(shapes, index=table.index, crs=table.crs)
    placed = table.assign(position_sd_m=sd, geometry=points)
    return replace(readings, table=placed).with_issues(issues)


def points_along(traces: Objects, along_m: Floats, aside_m: Floats) -> Objects:
    """Return points along lines, offset to the left by `aside_m`; all lengths on the grid.

    Examples
    --------
    >>> line = np.array([shapely.LineString([(0, 0), (10, 0)])])
    >>> str(points_along(line, np.array([4.0]), np.array([1.5]))[0])
    'POINT (4 1.5)'
    """
    # A negative distance would count from the end of the line.
    along_m = np.maximum(along_m, 0.0)
    points: Objects = shapely.line_interpolate_point(traces, along_m)
    off = np.flatnonzero(aside_m)
    if not off.size:
        return points
    step = np.minimum(along_m[off] + 0.01, shapely.length(traces[off]))
    ahead = shapely.get_coordinates(shapely.line_interpolate_point(traces[off], step))
    before = np.maximum(step - 0.02, 0.0)
    behind = shapely.get_coordinates(shapely.line_interpolate_point(traces[off], before))
    x, y = (ahead - behind).T
    left = np.column_stack([-y, x]) / np.hypot(x, y)[:, None] * aside_m[off, None]
    points[off] = shapely.points(shapely.get_coordinates(points[off]) + left)
    return points


# A position is off its line beyond this many standard errors plus this distance, which is the
# farthest that anyone listens from a line.
OFF_LINE_SD, OFF_LINE_M = 4.0, 1.0
# Least number and share of a walk's stops with identical coordinates that is reported.
MIN_STOPS, MIN_SHARE = 5, 0.8


@check("readings", order=50)
def readings_off_their_lines(
    rows: gpd.GeoDataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame,
    route_sd_m: float, reading_sd_m: float,
) -> None:  # fmt: skip
    """Reject taped readings on another line than the one they name; note other odd positions."""
    names = texts(routes, "line_id")
    taped = issues.good & rows["tape_m"].notna().to_numpy()
    taped &= ~_swept(rows, taped, routes, reading_sd_m)
    own, other, off_m = _find_off_line(rows, taped, routes, route_sd_m, reading_sd_m)
    # A single poor fix may lie on a neighbour; of a walk on the wrong line most readings do.
    on_other = (other >= 0) & _most_of_walk_off_line(rows, taped, own >= 0)
    for pair, code, lines in _line_pairs(own, other, on_other, names):
        reasons = [Reason(code, off_m=distance, **lines) for distance in off_m[pair]]
        issues.report(pair, reasons, column="line_id", values=rows["line_id"])
    issues.faults += _off_line_faults(np.where(on_other, -1, own), off_m, names)
    issues.faults += _walks_at_one_place(rows, issues.good)


def _swept(
    table: gpd.GeoDataFrame, taped: Bools, lines: gpd.GeoDataFrame, reading_sd_m: float
) -> Bools:
    """Return which taped readings are part of a sweep across their line."""
    line = np.where(taped, row_of_line(table, lines), -1)
    aside = floats(table, "offset_m")
    given = np.isfinite(aside)
    error = np.where(given, TAPED_SD_M, floats(table, "position_sd_m", null=reading_sd_m))
    at = np.flatnonzero((line >= 0) & ~given & (error <= MOST_SD_M))
    shapes = lines.geometry.to_numpy()[line[at]]
    aside[at] = offsets_across(shapes, table.geometry.to_numpy()[at])
    return np.isfinite(sweep_places(line, floats(table, "tape_m"), aside, error, given))


def _find_off_line(
    table: pd.DataFrame, taped: Bools, lines: pd.DataFrame, route_sd_m: float, reading_sd_m: float
) -> tuple[Ints, Ints, Floats]:
    """Find taped readings off their lines.

    Returns, for each reading, the row of its line, the row of the other line that it lies on, and
    its distance from its line in metres. The first is -1 for readings on their line, the second
    also for readings on no other line.
    """
    line_sd = floats(lines, "position_sd_m", null=route_sd_m)
    own = row_of_line(table, lines)
    at = np.flatnonzero(taped & (own >= 0))
    points, shapes = table.geometry.to_numpy()[at], lines.geometry.to_numpy()
    sd = floats(table, "position_sd_m", null=reading_sd_m)[at]
    distance = shapely.distance(points, shapes[own[at]])
    away = distance > OFF_LINE_M + OFF_LINE_SD * np.hypot(sd, line_sd[own[at]])
    at, own_line = at[away], own[at[away]]
    own, other = np.full((2, len(table)), -1)
    off_m = np.full(len(table), np.nan)
    own[at], off_m[at] = own_line, distance[away]
    other[at] = _nearest_other_line(points[away], sd[away], own_line, shapes, line_sd)
    return own, other, off_m


def _most_of_walk_off_line(table: pd.DataFrame, taped: Bools, off_line: Bools) -> Bools:
    """Return whether most taped readings of each reading's walk are off its line, shape (n,)."""
    of_walk = numbers_of_groups(table["line_id"].fillna(""), table["walk_id"].fillna(""))
    count = np.bincount(of_walk, taped)
    return np.asarray(np.bincount(of_walk, off_line)[of_walk] > count[of_walk] / 2)


def _nearest_other_line(
    points: Objects, sd: Floats, own_line: Ints, shapes: Objects, line_sd: Floats
) -> Ints:
    """Return the row of the nearest other line that each point lies on, -1 if there is none."""
    found = np.full(len(points), -1)
    reach = OFF_LINE_M + OFF_LINE_SD * np.hypot(sd, line_sd.max(initial=0.0))
    point, line = shapely.STRtree(shapes).query(points, predicate="dwithin", distance=reach)
    distance = shapely.distance(points[point], shapes[line])
    on_line = distance <= OFF_LINE_M + OFF_LINE_SD * np.hypot(sd[point], line_sd[line])
    kept = on_line & (line != own_line[point])
    point, line, distance = point[kept], line[kept], distance[kept]
    # The nearest line of each point is assigned last.
    order = np.lexsort((-line, -distance))
    found[point[order]] = line[order]
    return found


def _line_pairs(
    own: Ints, other: Ints, on_other: Bools, names: Objects
) -> Iterator[tuple[Bools, str, dict[str, str]]]:
    """Iterate over the readings of one line that lie on one other: rows, code, and both names.

    If there are many pairs of lines, all readings are returned at once, without names.
    """
    pairs = np.unique(np.column_stack([own, other])[on_other], axis=0)
    if len(pairs) > MAX_SINGLE_FAULTS:
        yield on_other, "on_other_lines", {}
        return
    for k, j in pairs:
        rows = on_other & (own == k) & (other == j)
        yield rows, "on_another_line", {"on": names[j], "line": names[k]}


def _off_line_faults(own: Ints, off_m: Floats, names: Objects) -> Iterator[Fault]:
    """Iterate over faults of readings off their line and on no other: per line, or one for all."""
    lines = np.unique(own[own >= 0])
    groups = [(str(names[k]), own == k) for k in lines]
    if len(lines) > MAX_SINGLE_FAULTS:
        groups = [(f"{names[lines[0]]} and {len(lines) - 1} more lines", own >= 0)]
    for name, rows in groups:
        reason = Reason("taped_readings_off_route", readings=rows.sum(), off_m=off_m[rows].max())
        yield Fault("readings", reason, name, "geometry", effect="noted")


def _walks_at_one_place(table: pd.DataFrame, good: Bools) -> Iterator[Fault]:
    """Iterate over faults of walks without tape whose stops nearly all have the same position."""
    air = table["air"] if "air" in table else pd.Series(None, index=table.index, dtype=object)
    free = good & (table["tape_m"].isna() & air.isna()).to_numpy()
    own = table.loc[free, ["line_id", "walk_id"]].fillna("")
    own = own.assign(at=shapely.to_wkb(table.geometry.to_numpy()[free]))
    alike = own.groupby(["line_id", "walk_id", "at"], sort=False).size()
    walks = alike.groupby(level=[0, 1], sort=False).agg(["max", "sum"])
    reported = walks[walks["max"] >= np.maximum(MIN_STOPS, MIN_SHARE * walks["sum"])]
    for (line, walk), (same, count) in zip(reported.index, reported.to_numpy(), strict=True):
        named = Reason("walk_named", walk=walk) if walk else Reason("walk_without_name")
        reason = Reason("walk_at_one_place", same=same, readings=count, walk=named)
        yield Fault("readings", reason, str(line), "geometry", effect="noted")

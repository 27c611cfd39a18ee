"""Walks by satellite: the visit of a crew to each line, and where its stops were."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.find.levels.fix_errors import Fixes, error_covariance
from leakgeo.find.levels.level_offsets import passes
from leakgeo.find.levels.segments import placed, turns
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.route.lines import Lines
    from leakgeo.sound.walk_law import WalkLaw

# Weight of the tape below which the position of a reading counts as a satellite position.
SATELLITE = 0.5
# Satellite fixes with a smaller error than this place a stop better than any pace.
GOOD_FIX_M = 0.2
# A walk of fewer stops has no pace. A visit of more is cut into parts of this many.
LEAST_STOPS, MOST_STOPS = 4, 250
# Why the stops of a walk stay at their fixes.
NO_ORDER, REPEATED, UNLIKE = "walk_without_order", "walk_order_repeats", "walk_order_unlike"


@dataclass(frozen=True)
class Visit:
    """The stops of one line that belong to walks with satellite fixes.

    Parameters
    ----------
    line : int
        Index of the line.
    fixes : Fixes
        In the order of the visit, as far as it is known.
    rows : list of ndarray of int
        Rows of the readings of each stop.
    second_order : list of ndarray of int or None
        For each walk another order of its stops, by time, if that differs from the order by number.
    names : list of str
        Name of each walk.
    unordered : list of str
        For each walk why its order is not known, or ``""``.
    """

    line: int
    fixes: Fixes
    rows: list[Ints]
    second_order: list[Ints | None]
    names: list[str]
    unordered: list[str]


@dataclass(frozen=True)
class WalkPositions:
    """Places of readings by walks; `run` is negative for readings that no such walk has.

    Parameters
    ----------
    chainage_m, own_sd_m, shift_sd_m, spacing_sd_m, stops_from_middle, common_sd_m : ndarray
        Shape (n,). Place, its independent error, errors of shift and step that a run of stops
        shares, number of stops from where the two are independent, and the part of the shift that
        all runs of the line share.
    run : ndarray of int, shape (n,)
        Code of the run of stops.
    notes : list of (int, str, str, int)
        Index of the line, name of the walk, why its stops stay at their fixes, and how many.
    """

    chainage_m: Floats
    own_sd_m: Floats
    shift_sd_m: Floats
    spacing_sd_m: Floats
    stops_from_middle: Floats
    common_sd_m: Floats
    run: Ints
    notes: list[tuple[int, str, str, int]]


def unplaced(code: str, walks: Sequence[tuple[str, int]]) -> Reason:
    """Return why the stops of walks stay at their fixes, from the names and stops of the walks."""
    name = walks[0][0]
    if len(walks) > 1:
        walk = Reason("group_of_walks", walks=len(walks))
    else:
        walk = Reason("walk", walk=name[:60]) if name else Reason("walk_unnamed")
    return Reason(code, walk=walk, stops=sum(stops for _, stops in walks))


def walk_positions(
    own: pd.DataFrame, line: Ints, stop: Ints, lines: Lines, law: WalkLaw
) -> WalkPositions:
    """Return the places of readings by the walks of their crews.

    Parameters
    ----------
    own : geopandas.GeoDataFrame
        Usable rows of ``readings_on_route``, in an order that does not depend on that of the job.
    line, stop : ndarray of int, shape (n,)
        Index of the line, and code of the stop.
    lines : Lines
    law : WalkLaw

    Returns
    -------
    WalkPositions
    """
    n = len(own)
    a, b, c, d, e = np.zeros((5, n))
    found = WalkPositions(floats(own, "chainage_m"), a, b, c, d, e, np.full(n, -1), [])
    runs = 0
    for visit in visits(own, line, stop, lines):
        runs += _place(visit, law, found, runs)
    return found


def visits(own: pd.DataFrame, line: Ints, stop: Ints, lines: Lines) -> Iterator[Visit]:
    """Yield the visit to each line that has satellite fixes; see `walk_positions`."""
    coarse = floats(own, "tape_weight") < SATELLITE
    coarse &= floats(own, "chainage_sd_m") > GOOD_FIX_M
    if not coarse.any():
        return
    name = texts(own, "walk_id")
    name[pd.isna(name)] = ""
    keys = pd.MultiIndex.from_arrays([line, name])
    named = np.asarray(pd.factorize(keys, sort=True)[0], dtype=np.int64)
    band = pd.factorize(pd.Series(texts(own, "band")).fillna("wide"), sort=True)[0]
    walk = passes(named, stop, np.asarray(band), np.zeros(len(own), dtype=np.int64))
    with_fixes = np.flatnonzero((np.bincount(walk, coarse) > 0)[walk])
    x, off = _beyond_ends(own, line, lines, with_fixes)
    columns = _Columns(
        walk, stop, coarse, x, off, floats(own, "chainage_sd_m"), floats(own, "seq"),
        seconds(own), name,
    )  # fmt: skip
    with_fixes = with_fixes[np.argsort(line[with_fixes], kind="stable")]
    which, first = np.unique(line[with_fixes], return_index=True)
    for k, rows in zip(which, np.split(with_fixes, first[1:]), strict=True):
        yield from _cut(_visit(int(k), rows, columns, float(lines.trace_sd_m[k])))


def _cut(visit: Visit) -> Iterator[Visit]:
    """Yield a long visit in parts, as the cost grows with the cube of its stops."""
    n = len(visit.rows)
    if n <= MOST_STOPS:
        yield visit
        return
    for part in np.array_split(np.arange(n), int(np.ceil(n / MOST_STOPS))):
        fixes = visit.fixes
        kept, walk = np.unique(fixes.walk[part], return_inverse=True)
        fixes = replace(
            fixes, chainage_m=fixes.chainage_m[part], offset_m=fixes.offset_m[part],
            sd_m=fixes.sd_m[part], coarse=fixes.coarse[part], walk=walk,
            ordered=fixes.ordered[part],
        )  # fmt: skip
        yield replace(
            visit, fixes=fixes, rows=[visit.rows[k] for k in part],
            second_order=[None] * len(kept), names=[visit.names[k] for k in kept],
            unordered=[visit.unordered[k] for k in kept],
        )  # fmt: skip


@dataclass(frozen=True)
class _Columns:
    """Columns of all readings."""

    walk: Ints
    stop: Ints
    coarse: Bools
    chainage_m: Floats
    offset_m: Floats
    sd_m: Floats
    seq: Floats
    time_s: Floats
    name: np.ndarray[tuple[int], np.dtype[np.object_]]


def seconds(own: pd.DataFrame) -> Floats:
    """Return the times of readings in seconds, NaN where not known."""
    if "time" not in own:
        return np.full(len(own), np.nan)
    time = pd.to_datetime(own["time"], utc=True)
    since = (time - pd.Timestamp(0, tz="UTC")) / pd.Timedelta(1, "s")
    return np.asarray(since, dtype=np.float64)


def _beyond_ends(own: pd.DataFrame, line: Ints, lines: Lines, rows: Ints) -> tuple[Floats, Floats]:
    """Return chainages and offsets on routes prolonged straight at their ends.

    A fix beyond the end of its route is clipped to the end, which would bend the walk there.
    """
    x, off = floats(own, "chainage_m"), floats(own, "offset_m")
    x, off = x.copy(), off.copy()
    free = rows[floats(own, "tape_weight")[rows] == 0.0]
    if len(free) == 0:
        return x, off
    points = shapely.get_coordinates(own["geometry"].to_numpy()[free])
    for at_end in (False, True):
        end = lines.length_m[line[free]] if at_end else np.zeros(len(free))
        at = np.flatnonzero(np.abs(x[free] - end) < 1e-6)
        which = line[free[at]]
        foot = shapely.get_coordinates(lines.routes.points(which, end[at]))
        azimuth = np.radians(lines.routes.grid_azimuth_deg(which, end[at]))
        away = points[at] - foot
        along = away[:, 0] * np.sin(azimuth) + away[:, 1] * np.cos(azimuth)
        left = away[:, 1] * np.sin(azimuth) - away[:, 0] * np.cos(azimuth)
        beyond = along > 0.0 if at_end else along < 0.0
        x[free[at[beyond]]] += along[beyond]
        off[free[at[beyond]]] = left[beyond]
    return x, off


def _visit(line: int, rows: Ints, columns: _Columns, trace_sd_m: float) -> Visit:
    """Return the visit of one line from the rows of its readings."""
    walks = []
    for code in np.unique(columns.walk[rows]):
        own = rows[columns.walk[rows] == code]
        _, back = np.unique(columns.stop[own], return_inverse=True)
        by_stop = np.argsort(back, kind="stable")
        groups = np.split(own[by_stop], np.cumsum(np.bincount(back))[:-1])
        seq, time = _each(np.min, columns.seq, groups), _each(np.min, columns.time_s, groups)
        order, second, why = _orders(seq, time)
        name = str(columns.name[own[0]])
        begin = float(time.min()) if np.isfinite(time).all() else np.nan
        walks.append((begin, float(time.max()), [groups[k] for k in order], second, name, why))
    timed = np.isfinite([w[0] for w in walks]).all()
    if timed:
        walks.sort(key=lambda w: w[0])
    successive = timed and all(a[1] < b[0] for a, b in pairwise(walks))
    groups = [g for w in walks for g in w[2]]
    code = np.repeat(np.arange(len(walks)), [len(w[2]) for w in walks])
    x, off, sd = (
        _each(np.mean, c, groups) for c in (columns.chainage_m, columns.offset_m, columns.sd_m)
    )
    ordered = np.array([not w[5] for w in walks])[code]
    coarse = _each(np.any, columns.coarse, groups)
    fixes = Fixes(x, off, sd, coarse, code, ordered, bool(successive), trace_sd_m)
    return Visit(line, fixes, groups, [w[3] for w in walks], [w[4] for w in walks],
                 [w[5] for w in walks])  # fmt: skip


def _each(reduce: Callable[[Any], Any], column: Any, groups: Sequence[Ints]) -> Any:
    """Return the least, the mean or another figure of each group of rows."""
    found = column[[group[0] for group in groups]]
    # Nearly all stops have one reading, which is the figure itself.
    for k, group in enumerate(groups):
        if len(group) > 1:
            found[k] = reduce(column[group])
    return found


def _orders(seq: Floats, time: Floats) -> tuple[Ints, Ints | None, str]:
    """Return the order of stops by number, else by time; a second one; and why there is none."""
    n = len(seq)
    found = [np.argsort(key, kind="stable") for key in (seq, time)
             if np.isfinite(key).all() and len(np.unique(key)) == n]  # fmt: skip
    if not found:
        why = REPEATED if np.isfinite(seq).all() or np.isfinite(time).all() else NO_ORDER
        return np.arange(n), None, why
    if len(found) > 1 and not np.array_equal(found[0], found[1]):
        # Relative to the first order, in which the stops are kept.
        return found[0], np.argsort(found[0])[found[1]], ""
    return found[0], None, ""


def _place(visit: Visit, law: WalkLaw, found: WalkPositions, first_run: int) -> int:
    """Fill in the places of one visit; return how many runs it has."""
    visit, run, covariance = paced_runs(visit, law, found.notes)
    runs = int(run.max()) + 1
    in_order = np.flatnonzero(run >= 0)
    if len(in_order):
        _place_paced(visit, covariance, in_order, run, law, found, first_run)
    for walk in np.unique(visit.fixes.walk[run < 0]):
        _place_at_fixes(visit, covariance, np.flatnonzero(visit.fixes.walk == walk), found,
                        first_run + runs)  # fmt: skip
        runs += 1
    return runs


def _place_paced(
    visit: Visit, covariance: Floats, at: Ints, run: Ints, law: WalkLaw, found: WalkPositions,
    first_run: int,
) -> None:  # fmt: skip
    """Fill in the places of stops in runs."""
    paced = placed(visit.fixes.chainage_m[at], covariance[np.ix_(at, at)], run[at], law)
    groups = [visit.rows[stop] for stop in at]
    rows, k = np.concatenate(groups), np.repeat(np.arange(len(at)), [len(g) for g in groups])
    own = run[at[k]]
    found.chainage_m[rows], found.own_sd_m[rows] = paced.chainage_m[k], paced.own_sd_m[k]
    found.shift_sd_m[rows], found.spacing_sd_m[rows] = (
        paced.shift_sd_m[own], paced.spacing_sd_m[own],
    )  # fmt: skip
    found.stops_from_middle[rows] = paced.stops_from_middle[k]
    found.common_sd_m[rows] = paced.common_sd_m if len(at) == len(run) else 0.0
    found.run[rows] = first_run + own


def _place_at_fixes(
    visit: Visit, covariance: Floats, at: Ints, found: WalkPositions, run: int
) -> None:
    """Fill in the errors of the stops of a walk without order, which stay at their fixes."""
    own = covariance[np.ix_(at, at)]
    pairs = len(at) * (len(at) - 1)
    shared = max(float(own.sum() - np.trace(own)) / max(pairs, 1), 0.0)
    own_sd = np.sqrt(np.maximum(np.diagonal(own) - shared, 1e-4))
    for k, stop in enumerate(at):
        rows = visit.rows[stop]
        found.own_sd_m[rows], found.shift_sd_m[rows] = own_sd[k], shared**0.5
        found.run[rows] = run


def paced_runs(
    visit: Visit, law: WalkLaw, notes: list[tuple[int, str, str, int]] | None = None
) -> tuple[Visit, Ints, Floats]:
    """Return a visit with each walk in the order that its fixes agree with, and the runs.

    Parameters
    ----------
    visit : Visit
    law : WalkLaw
    notes : list, optional
        Receives the notes of `WalkPositions`.

    Returns
    -------
    visit : Visit
    run : ndarray of int, shape (n,)
        Number of the run of each stop; -1 where the stop stays at its fix.
    covariance : ndarray of float, shape (n, n)
        Of the errors of the fixes.
    """
    fixes, rows = visit.fixes, list(visit.rows)
    run, ordered, why = np.full(len(rows), -1), fixes.ordered.copy(), list(visit.unordered)
    covariance = error_covariance(fixes, law)
    runs = 0
    for walk, second in enumerate(visit.second_order):
        at = np.flatnonzero(fixes.walk == walk)
        if len(at) < LEAST_STOPS or why[walk]:
            ordered[at] = False
            continue
        own, odds = turns(fixes.chainage_m[at], covariance[np.ix_(at, at)])
        if odds < 0.0 and second is not None:
            turned = at[second]
            own, odds = turns(fixes.chainage_m[turned], covariance[np.ix_(turned, turned)])
            if odds >= 0.0:
                rows[at[0] : at[-1] + 1] = [visit.rows[k] for k in turned]
                fixes = _reordered(fixes, at, turned)
        if odds < 0.0:
            why[walk], ordered[at] = UNLIKE, False
            continue
        run[at] = runs + own
        runs += int(own.max()) + 1
    if notes is not None:
        counts = np.bincount(fixes.walk)
        notes += [(visit.line, visit.names[k], code, int(counts[k]))
                  for k, code in enumerate(why) if code and counts[k] >= LEAST_STOPS]  # fmt: skip
    if fixes is not visit.fixes or (ordered != fixes.ordered).any():
        fixes = replace(fixes, ordered=ordered)
        covariance = error_covariance(fixes, law)
    return replace(visit, fixes=fixes, rows=rows, unordered=why), run, covariance


def _reordered(fixes: Fixes, at: Ints, turned: Ints) -> Fixes:
    """Return fixes with the stops `turned` in the places `at`."""
    place = np.arange(len(fixes.sd_m))
    place[at] = turned
    return replace(
        fixes, chainage_m=fixes.chainage_m[place], offset_m=fixes.offset_m[place],
        sd_m=fixes.sd_m[place], coarse=fixes.coarse[place],
    )  # fmt: skip

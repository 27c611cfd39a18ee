"""Comparison of taped distances with map positions: reversed, other unit, other origin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.conversion import FOOT_M
from leakgeo.faults import Fault
from leakgeo.job.checks import FITTING_SD_M, OFF_LINE_M, OFF_LINE_SD
from leakgeo.job.model import NOT_SELECTED
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd

    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.faults import Effect
    from leakgeo.route.lines import Lines

#: Reason of readings whose tape contradicts the map.
TAPE_NOT_USED = Reason("tape_not_used")
# Lines with fewer taped readings are not compared.
MIN_TAPED = 5
# A line is suspect where more than this share of its readings differ by more than sd and metres.
SUSPECT_SD, SUSPECT_M, SUSPECT_SHARE = 1.0, 1.0, 0.4
# Tape and map disagree where chainage or slope differ by this many errors plus a constant.
MISFIT_SD, MISFIT_M, MISFIT_SLOPE = 4.0, 1.0, 0.15
# Position errors are correlated: a median does not improve beyond this many readings.
MAX_INDEPENDENT = 5
# A fitting explains a shift up to this many errors; tapes that begin this near to each other begin
# at one place.
ZERO_SD, SAME_ZERO_M = 2.0, 0.05
# Slope of map on tape for each unit.
_UNITS = (
    (1.0, "same"), (FOOT_M, "feet"), (1 / FOOT_M, "metres_on_foot_map"), (FOOT_M / 12, "inches"),
    (0.01, "centimetres"),
)  # fmt: skip


def tape_faults(
    placed: pd.DataFrame, tape_m: Floats, walk: Objects, lines: Lines,
    zero_m: Floats | None = None, contacts: gpd.GeoDataFrame | None = None,
) -> tuple[list[Fault], Bools]:  # fmt: skip
    """Report lines and walks whose taped distances disagree with the reading positions.

    A tape that clearly runs from the other end, or in another unit, is rejected: a mark by it would
    be in the wrong place. So is a walk whose tape disagrees with the map where another walk on the
    line agrees with it. A constant shift is noted only: the line may begin at another place than
    its route, or all positions may be shifted.

    Parameters
    ----------
    placed : pandas.DataFrame
        As `leakgeo.route.place.place_on_routes` returns it.
    tape_m : ndarray of float, shape (n,)
        Taped chainage, NaN where not taped.
    walk : ndarray of object, shape (n,)
        Walk of each reading, or None.
    lines : Lines
    zero_m : ndarray of float, shape (n,), optional
        Chainage at which each tape is said to begin; by default that of the route, 0.
    contacts : geopandas.GeoDataFrame, optional
        Fittings, in the CRS of the lines. Where tape and map differ by a constant, the fault names
        the one at which the tape would have begun.

    Returns
    -------
    faults : list of Fault
    rejected : ndarray of bool, shape (n,)
        Readings whose tape is rejected.
    """
    line, on_map = np.asarray(placed["line"]), floats(placed, "map_m")
    sd, off = floats(placed, "map_sd_m"), np.abs(on_map - tape_m)
    known = np.isfinite(tape_m) & np.isfinite(on_map) & np.isfinite(sd)
    taped = np.flatnonzero(known & (texts(placed, "reason") != NOT_SELECTED))
    order = taped[np.argsort(line[taped], kind="stable")]
    faults: list[Fault] = []
    certain_lines: list[int] = []
    apart = _misfit_walks(order, line, walk, off, sd)
    for own in _suspect_lines(order, line, off > SUSPECT_SD * sd + SUSPECT_M):
        k = int(line[own[0]])
        found = _tape_fault(on_map[own], tape_m[own], float(lines.length_m[k]),
                          float(np.median(sd[own])))  # fmt: skip
        if found is None or (k in apart and not found[1]):
            continue
        reason, certain = found
        if reason.code == "tape_off_map" and contacts is not None:
            begun = None if zero_m is None else zero_m[own]
            reason = _with_fitting(
                reason, on_map[own] - tape_m[own], begun, sd[own], lines, k, contacts
            )
        certain_lines += [k] if certain else []
        apart.pop(k, None)
        effect: Effect = "rejected" if certain else "noted"
        faults.append(Fault("readings", reason, str(lines.table.index[k]), "chainage_m",
                            effect=effect))  # fmt: skip
    # The rejection includes readings off the route and all walks: they share the tape.
    rejected = np.isin(line, certain_lines) & np.isfinite(tape_m)
    for k, walks in apart.items():
        for name, own in walks:
            rejected[own] = True
            faults.append(_walk_fault(name, off[own], str(lines.table.index[k])))
    return faults, rejected


def _misfit_walks(
    order: Ints, line: Ints, walk: Objects, off: Floats, sd: Floats
) -> dict[int, list[tuple[str, Ints]]]:
    """Return walks that disagree with the map, on lines where another walk agrees with it."""
    rows = pd.DataFrame({
        "line": line[order], "walk": walk[order], "off": off[order], "sd": sd[order],
    })  # fmt: skip
    walks = rows.groupby(["line", "walk"], sort=False).agg(
        off=("off", "median"), sd=("sd", "median"), n=("off", "size")
    )
    most, enough = MISFIT_SD * walks["sd"] + MISFIT_M, walks["n"] >= MIN_TAPED
    fits = (enough & (walks["off"] <= most / 2)).groupby(level=0).transform("any")
    found: dict[int, list[tuple[str, Ints]]] = {}
    for k, name in walks.index[enough & (walks["off"] > most) & fits]:
        own = order[(line[order] == k) & (walk[order] == name)]
        found.setdefault(int(k), []).append((str(name), own))
    return found


def _walk_fault(walk: str, off: Floats, line: str) -> Fault:
    reason = Reason("walk_off_map", taped=len(off), walk=walk, off_m=np.median(off))
    return Fault("readings", reason, line, "chainage_m")


def _suspect_lines(order: Ints, line: Ints, far: Bools) -> list[Ints]:
    """Return the rows of each line where more than `SUSPECT_SHARE` of the readings are far off."""
    _, first = np.unique(line[order], return_index=True)
    if not len(first):
        return []
    share = np.add.reduceat(far[order].astype(float), first)
    count = np.diff(np.append(first, len(order)))
    own = np.split(order, first[1:])
    return [own[k] for k in np.flatnonzero((share > SUSPECT_SHARE * count) & (count >= MIN_TAPED))]


def _tape_fault(
    map_m: Floats, tape_m: Floats, length: float, sd: float
) -> tuple[Reason, bool] | None:
    """Return how the tape differs from the map, and whether it is certain; None if it agrees."""
    slope, error = _slope(map_m, tape_m, sd)
    apart = MISFIT_SD * sd + MISFIT_M
    off = float(np.median(np.abs(map_m - tape_m)))
    turned = abs(slope - 1.0) > MISFIT_SD * error + MISFIT_SLOPE
    if not turned and off <= apart:
        return None
    for unit, scale, start in _wrong_tapes(length):
        left = float(np.median(np.abs(map_m - start - scale * tape_m)))
        # The slope must match this unit and exclude zero, and the chainages must match too.
        like = 2 * error < abs(scale) and abs(slope - scale) <= 2 * error + MISFIT_SLOPE * abs(
            scale
        )
        if turned and like and left <= apart:
            return Reason(
                "tape_turned" if scale < 0 else "tape_in_other_unit", taped=len(tape_m), off_m=off,
                unit=unit,
            ), True  # fmt: skip
    return Reason("tape_off_map", off_m=off), False


def _with_fitting(
    reason: Reason, shift_m: Floats, zero_m: Floats | None, sd: Floats, lines: Lines, line: int,
    contacts: gpd.GeoDataFrame,
) -> Reason:  # fmt: skip
    """Return a reason that names the fitting whose place as the tape's zero explains the shift."""
    shift, error = float(np.median(shift_m)), float(np.median(sd))
    begun = np.zeros(1) if zero_m is None else zero_m
    constant = np.median(np.abs(shift_m - shift)) <= error + SUSPECT_M
    if not constant or float(np.ptp(begun)) > SAME_ZERO_M:
        return reason
    named = texts(contacts, "line_id")
    here = np.array([n is None or n == lines.table.index[line] for n in named], dtype=bool)
    known = contacts[here & contacts.geometry.notna() & contacts["reason"].isna()]
    at, away = lines.routes.locate(known.geometry.to_numpy(), np.full(len(known), line))
    limit = OFF_LINE_M + OFF_LINE_SD * np.hypot(FITTING_SD_M, lines.trace_sd_m[line])
    # Positions of a walk may be shifted together, so that a median is hardly better than one.
    off = np.where(np.abs(away) <= limit, np.abs(at - float(np.median(begun)) - shift), np.inf)
    if not len(off) or off.min() > ZERO_SD * np.hypot(error, FITTING_SD_M):
        return reason
    nearest = int(np.argmin(off))
    kind, contact = (texts(known, c)[nearest] for c in ("kind", "contact_id"))
    return Reason(
        "tape_from_fitting", off_m=dict(reason.values)["off_m"], contact=contact,
        fitting=Reason("fitting", kind=kind or "fitting", contact=contact),
    )  # fmt: skip


def _slope(map_m: Floats, tape_m: Floats, sd: float) -> tuple[float, float]:
    """Return slope of map on tape and its error, from the outer thirds (Tukey's resistant line).

    Examples
    --------
    >>> tape = np.arange(9.0)
    >>> slope, error = _slope(20.0 - tape, tape, 0.5)
    >>> slope, round(error, 3)
    (-1.0, 0.085)
    """
    order, third = np.argsort(tape_m, kind="stable"), max(len(tape_m) // 3, 1)
    low, high = order[:third], order[-third:]
    run = float(np.median(tape_m[high]) - np.median(tape_m[low]))
    if run <= 0:
        return 1.0, np.inf
    rise = float(np.median(map_m[high]) - np.median(map_m[low]))
    # The standard error of a median is 1.25 times that of a mean.
    return rise / run, 1.25 * sd * (2.0 / min(third, MAX_INDEPENDENT)) ** 0.5 / run


def _wrong_tapes(length: float) -> Iterator[tuple[str, float, float]]:
    """Yield possible tape mistakes: unit, slope, and chainage of the tape's zero."""
    for scale, unit in _UNITS[1:]:
        yield unit, scale, 0.0
    for scale, unit in _UNITS:
        yield unit, -scale, length

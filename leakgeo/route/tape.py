"""Hold taped distances against positions on the map: run the other way, in feet, from elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.conversion import FOOT_M
from leakgeo.faults import Fault
from leakgeo.job.model import NOT_SELECTED
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.faults import Effect
    from leakgeo.route.lines import Lines

#: Why a reading of a line whose tape can't be right is not used.
UNLIKE = Reason("tape_not_used")
# Fewer taped readings than this on a line tell nothing of its tape.
FEWEST = 5
# Tape and map are looked at where nearly half of the readings are further apart than this.
LOOK_SD, LOOK_M, LOOK_SHARE = 1.0, 1.0, 0.4
# They disagree where place, or slope, differs by so many errors, and by this besides.
APART_SD, APART_M, APART_SLOPE = 4.0, 1.0, 0.15
# Errors of positions come together: more readings than this on either side make none smaller.
ALONE = 5
# What slope of map on tape tells of a unit.
_UNITS = (
    (1.0, "same"), (FOOT_M, "feet"), (1 / FOOT_M, "metres_on_foot_map"), (FOOT_M / 12, "inches"),
    (0.01, "centimetres"),
)  # fmt: skip


def tape_faults(
    placed: pd.DataFrame, tape_m: Floats, walk: Objects, lines: Lines
) -> tuple[list[Fault], Bools]:
    """Tell of lines, and of walks, whose taped distances don't fit the positions of the readings.

    A tape that surely runs from the other end, or in another unit, is rejected: a mark by it would
    be elsewhere. So is a walk whose tape is off the map where another walk's on the line is on it.
    A line whose tape is shifted may begin at another place than its route, or the positions may be
    off together, so it is noted.

    Parameters
    ----------
    placed : pandas.DataFrame
        As `leakgeo.route.place.place_on_routes` gives.
    tape_m : ndarray of float, shape (n,)
        NaN where a reading was not taped.
    walk : ndarray of object, shape (n,)
        Name of each reading's walk, None where it has none.
    lines : Lines

    Returns
    -------
    faults : list of Fault
    rejected : ndarray of bool, shape (n,)
        Readings whose tape can't be right.
    """
    line, on_map = np.asarray(placed["line"]), floats(placed, "map_m")
    sd, off = floats(placed, "map_sd_m"), np.abs(on_map - tape_m)
    known = np.isfinite(tape_m) & np.isfinite(on_map) & np.isfinite(sd)
    taped = np.flatnonzero(known & (texts(placed, "reason") != NOT_SELECTED))
    order = taped[np.argsort(line[taped], kind="stable")]
    faults: list[Fault] = []
    sure: list[int] = []
    apart = _walks_apart(order, line, walk, off, sd)
    for own in _suspicious(order, line, off > LOOK_SD * sd + LOOK_M):
        k = int(line[own[0]])
        told = _explained(on_map[own], tape_m[own], float(lines.length_m[k]),
                          float(np.median(sd[own])))  # fmt: skip
        if told is None or (k in apart and not told[1]):
            continue
        reason, surely = told
        sure += [k] if surely else []
        apart.pop(k, None)
        effect: Effect = "rejected" if surely else "noted"
        faults.append(Fault("readings", reason, str(lines.table.index[k]), "chainage_m",
                            effect=effect))  # fmt: skip
    # Those that stand off the route are of the same tape, and so are its walks.
    rejected = np.isin(line, sure) & np.isfinite(tape_m)
    for k, walks in apart.items():
        for name, own in walks:
            rejected[own] = True
            faults.append(_of_walk(name, off[own], str(lines.table.index[k])))
    return faults, rejected


def _walks_apart(
    order: Ints, line: Ints, walk: Objects, off: Floats, sd: Floats
) -> dict[int, list[tuple[str, Ints]]]:
    """Give walks whose tape is off the map, on lines that have another whose tape is on it."""
    rows = pd.DataFrame({
        "line": line[order], "walk": walk[order], "off": off[order], "sd": sd[order],
    })  # fmt: skip
    walks = rows.groupby(["line", "walk"], sort=False).agg(
        off=("off", "median"), sd=("sd", "median"), n=("off", "size")
    )
    most, enough = APART_SD * walks["sd"] + APART_M, walks["n"] >= FEWEST
    fits = (enough & (walks["off"] <= most / 2)).groupby(level=0).transform("any")
    found: dict[int, list[tuple[str, Ints]]] = {}
    for k, name in walks.index[enough & (walks["off"] > most) & fits]:
        own = order[(line[order] == k) & (walk[order] == name)]
        found.setdefault(int(k), []).append((str(name), own))
    return found


def _of_walk(walk: str, off: Floats, line: str) -> Fault:
    reason = Reason("walk_off_map", taped=len(off), walk=walk, off_m=np.median(off))
    return Fault("readings", reason, line, "chainage_m")


def _suspicious(order: Ints, line: Ints, far: Bools) -> list[Ints]:
    """Pick the rows of lines on which nearly half of the readings are far apart, or more."""
    _, first = np.unique(line[order], return_index=True)
    if not len(first):
        return []
    share = np.add.reduceat(far[order].astype(float), first)
    count = np.diff(np.append(first, len(order)))
    own = np.split(order, first[1:])
    return [own[k] for k in np.flatnonzero((share > LOOK_SHARE * count) & (count >= FEWEST))]


def _explained(
    map_m: Floats, tape_m: Floats, length: float, sd: float
) -> tuple[Reason, bool] | None:
    """Say how the tape differs from the map, and whether that is sure; None where it may not."""
    slope, error = _slope(map_m, tape_m, sd)
    apart = APART_SD * sd + APART_M
    off = float(np.median(np.abs(map_m - tape_m)))
    turned = abs(slope - 1.0) > APART_SD * error + APART_SLOPE
    if not turned and off <= apart:
        return None
    for unit, scale, start in _ways(length):
        left = float(np.median(np.abs(map_m - start - scale * tape_m)))
        # The slope must be that, and no other, not none at all; then the place must fit too.
        like = 2 * error < abs(scale) and abs(slope - scale) <= 2 * error + APART_SLOPE * abs(scale)
        if turned and like and left <= apart:
            return Reason(
                "tape_turned" if scale < 0 else "tape_in_other_unit", taped=len(tape_m), off_m=off,
                unit=unit,
            ), True  # fmt: skip
    return Reason("tape_off_map", off_m=off), False


def _slope(map_m: Floats, tape_m: Floats, sd: float) -> tuple[float, float]:
    """Slope of map on tape by the middles of the outer thirds (Tukey's resistant line), its error.

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
    # The median of a few normal errors has 1.25 times the error of their mean.
    return rise / run, 1.25 * sd * (2.0 / min(third, ALONE)) ** 0.5 / run


def _ways(length: float) -> Iterator[tuple[str, float, float]]:
    """Ways to take a tape wrongly: its unit, its slope, and the chainage of its zero."""
    for scale, unit in _UNITS[1:]:
        yield unit, scale, 0.0
    for scale, unit in _UNITS:
        yield unit, -scale, length

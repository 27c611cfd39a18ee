"""Hold taped distances against positions on the map: run the other way, in feet, from elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.job.model import NOT_ASKED

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.faults import Effect
    from leakgeo.route.lines import Lines

#: Why a reading of a line whose tape can't be right is not used.
UNLIKE = "has a taped distance that does not fit its position"
# Fewer taped readings than this on a line tell nothing of its tape.
FEWEST = 5
# Tape and map are looked at where nearly half of the readings are further apart than this.
LOOK_SD, LOOK_M, LOOK_SHARE = 1.0, 1.0, 0.4
# They disagree where place, or slope, differs by so many errors, and by this besides.
APART_SD, APART_M, APART_SLOPE = 4.0, 1.0, 0.15
# Errors of positions come together: more readings than this on either side make none smaller.
ALONE = 5
FOOT_M = 0.3048
# What slope of map on tape tells of a unit.
_UNITS = ((1.0, ""), (FOOT_M, "were in feet"), (1 / FOOT_M, "were in metres, and the map in feet"))


def tape_faults(placed: pd.DataFrame, tape_m: Floats, lines: Lines) -> tuple[list[Fault], Bools]:
    """Tell of lines whose taped distances don't fit the positions of the same readings.

    A tape that surely runs from the other end, or in another unit, is rejected: a mark by it would
    be elsewhere. One that is shifted along the line may begin at another place than the route, or
    the positions may be off together, so it is noted.

    Parameters
    ----------
    placed : pandas.DataFrame
        As `leakgeo.route.place.place_on_routes` gives.
    tape_m : ndarray of float, shape (n,)
        NaN where a reading was not taped.
    lines : Lines

    Returns
    -------
    faults : list of Fault
    rejected : ndarray of bool, shape (n,)
        Readings whose tape can't be right.
    """
    line, on_map = np.asarray(placed["line"]), floats(placed, "map_m")
    sd, length = floats(placed, "map_sd_m"), lines.length_m
    known = np.isfinite(tape_m) & np.isfinite(on_map) & np.isfinite(sd)
    taped = np.flatnonzero(known & (texts(placed, "reason") != NOT_ASKED))
    order = taped[np.argsort(line[taped], kind="stable")]
    faults: list[Fault] = []
    rejected = np.zeros(len(line), dtype=bool)
    for own in _suspicious(order, line, np.abs(on_map - tape_m) > LOOK_SD * sd + LOOK_M):
        k = int(line[own[0]])
        told = _explained(on_map[own], tape_m[own], float(length[k]), float(np.median(sd[own])))
        if told is None:
            continue
        problem, remedy, surely = told
        rejected[own] = surely
        effect: Effect = "rejected" if surely else "noted"
        faults.append(Fault("readings", problem, remedy, str(lines.table.index[k]), "chainage_m",
                            effect=effect))  # fmt: skip
    return faults, rejected


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
) -> tuple[str, str, bool] | None:
    """Say how the tape differs from the map, and whether that is sure; None where it may not."""
    slope, error = _slope(map_m, tape_m, sd)
    apart = APART_SD * sd + APART_M
    off = float(np.median(np.abs(map_m - tape_m)))
    turned = abs(slope - 1.0) > APART_SD * error + APART_SLOPE
    if not turned and off <= apart:
        return None
    for what, scale, start in _ways(length):
        left = float(np.median(np.abs(map_m - start - scale * tape_m)))
        # The slope must be that, and no other; then the place must fit too.
        if turned and abs(slope - scale) <= 2 * error + APART_SLOPE * abs(scale) and left <= apart:
            problem = (f"Its {len(tape_m)} taped distances are off the map by {off:.1f} m, and fit "
                       f"it if they {what}; these readings are not used.")  # fmt: skip
            return problem, _TURN if scale < 0 else _UNIT, True
    problem = (f"Its taped distances and its positions on the map differ by about {off:.1f} m; "
               "the one with the smaller error decided.")  # fmt: skip
    return problem, _CHECK, False


_TURN = "Turn the route around in the GIS, or count the tape from its first vertex."
_UNIT = "Say in a mapping which unit chainage_m is in, and check the CRS of the map."
_CHECK = "Check where the tape began, which way the route is drawn, and the unit of chainage_m."


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
    """Ways to take a tape wrongly: what to say, its slope, and the chainage of its zero."""
    for scale, unit in _UNITS:
        if unit:
            yield unit, scale, 0.0
    for scale, unit in _UNITS:
        both = f" and {unit}" if unit else ""
        yield f"ran from the other end of the route{both}", -scale, length

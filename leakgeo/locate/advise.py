"""Where to listen next: the stops that are expected to tell most about the leak's place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.locate.zones import FOOT_M
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import load_constants
from leakgeo.sound.spreading import Spreading, relative_level

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

    Floats = NDArray[np.float64]

# Once the zones are this short, and the mark likely, another reading moves nothing.
SHORT_ENOUGH_M = 0.6
# A stop expected to tell less than this is not worth the walk.
LEAST_BITS = 0.02
_COLUMNS = ("line_id", "order", "chainage_m", "expected_gain_bits", "reason")


def advise(result: Result, *, how_many: int) -> Result:
    """Propose the next stops on each line whose leak isn't narrowed down.

    The information that a reading is expected to give about the place is that of a normal
    channel, half the binary logarithm of one plus the variance of the expected level over the
    variance of the noise (Cover and Thomas, Elements of Information Theory, 2006, chapter 9); stops
    are taken greedily, each given those before it.

    Parameters
    ----------
    result : Result
        With ``lines``, ``profile``, ``search_zones`` and ``readings_on_route``.
    how_many : int
        Stops to propose on a line at the most.

    Returns
    -------
    Result
        With ``next_readings``.
    """
    lines, constants = lines_in(result), load_constants()
    rows = [r for task in _tasks(result, lines) for r in _stops(*task, constants, how_many)]
    frame = pd.DataFrame(rows, columns=list(_COLUMNS))
    which = lines.index_of(frame["line_id"])
    points = lines.routes.points(which, frame["chainage_m"].to_numpy(dtype=float))
    layer = gpd.GeoDataFrame(frame, geometry=points, crs=result.job.crs)
    return result.adding({"next_readings": layer})


def _tasks(result: Result, lines: Lines) -> Iterator[tuple[str, pd.DataFrame, pd.Series, float]]:
    """Lines to advise on: name, profile, route, and the error of the readings' positions."""
    zones = result.layers["search_zones"].groupby("line_id")["length_m"].sum()
    used = result.layers["readings_on_route"].query("used")
    error = used.groupby("line_id")["chainage_sd_m"].median()
    profiles = result.layers["profile"].groupby("line_id")
    for line_id in zones[zones > SHORT_ENOUGH_M].index:
        yield line_id, profiles.get_group(line_id), lines.table.loc[line_id], error[line_id]


def _stops(
    line_id: str, profile: pd.DataFrame, route: pd.Series, position_sd_m: float,
    constants: Constants, how_many: int,
) -> list[tuple[object, ...]]:  # fmt: skip
    """Choose stops greedily by expected information."""
    leak = profile["chainage_m"].to_numpy()
    weight = profile["leak_density_per_m"].to_numpy() * np.gradient(leak)
    weight = weight / weight.sum()
    stops = np.arange(FOOT_M / 2, leak[-1], max(FOOT_M, position_sd_m))
    stops = stops if len(stops) else leak[-1:] / 2
    level = relative_level(leak[:, None] - stops[None, :], _spreading(route, constants))
    away = level - weight @ level
    covariance = (away * weight[:, None]).T @ away
    noise = constants.noise["reading_db"] ** 2 + constants.noise["coupling_db"] ** 2
    rows: list[tuple[object, ...]] = []
    while len(rows) < how_many:
        gain = 0.5 * np.log2(1.0 + np.diag(covariance) / noise)
        best = int(np.argmax(gain))
        if gain[best] < LEAST_BITS:
            break
        why = _reason(stops[best], leak, weight)
        rows.append((line_id, len(rows) + 1, float(stops[best]), float(gain[best]), why))
        column = covariance[:, best].copy()
        covariance = covariance - np.outer(column, column) / (column[best] + noise)
    return rows


def _spreading(route: pd.Series, constants: Constants) -> Spreading:
    material = constants.materials[route["material"] or "unknown"]
    depth = float(route["depth_m"])
    return Spreading(
        depth if np.isfinite(depth) and depth > 0 else constants.spread["depth_m"],
        material.pipe_decay_db_per_m,
        material.pipe_share,
        floor=10.0 ** (-constants.spread["floor_below_db"] / 10.0),
    )


def _reason(stop: float, leak: Floats, weight: Floats) -> str:
    left, right = weight[leak < stop].sum(), weight[leak > stop].sum()
    if min(left, right) < 0.05:
        return "beside the likeliest stretch: fixes how fast the sound dies away"
    return f"splits the likeliest stretch: {left:.0%} lies before it, {right:.0%} beyond"

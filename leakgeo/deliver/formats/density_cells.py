"""Leak density on the ground: the posterior along the pipe, spread by the trace error across it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats
from leakgeo.deliver.views.rows import layer, with_geometry

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Floats
    from leakgeo.deliver.formats.density_grid import Grid
    from leakgeo.result import Result

# Pixels are left out where the density is lower, leaks per metre of pipe.
MIN_DENSITY_PER_M = 1e-3
# The error across is cut off at this many standard deviations, 0.9999 of its probability.
REACH_SD = 4.0
# Half width of a 95 % interval of a normal error, in standard deviations.
SD_95 = 1.959964
# Trace error if no layer has one, metres.
TRACE_SD_M = 0.3


@dataclass(frozen=True, eq=False)
class Cells:
    """Non-zero pixels of one line.

    Parameters
    ----------
    line_id : str
    column, row : (n,) numpy.ndarray of int
        Position east and north of the origin of the CRS, in pixels.
    density_per_m2 : (n,) numpy.ndarray
        Expected leaks per square metre of ground.
    """

    line_id: str
    column: np.ndarray
    row: np.ndarray
    density_per_m2: np.ndarray


@dataclass(frozen=True, eq=False)
class LineDensity:
    """Leak density along one line, in a metre CRS.

    Parameters
    ----------
    line_id : str
    chainage_m, density_per_m, x_m, y_m : (n,) numpy.ndarray
        Chainage, leak density given a leak, and coordinates, in order of chainage.
    across_sd_m : float
        Standard deviation of the trace across the pipe, in metres.
    leak_probability : float
        Probability of a leak on the line.
    """

    line_id: str
    chainage_m: Floats
    density_per_m: Floats
    x_m: Floats
    y_m: Floats
    across_sd_m: float
    leak_probability: float


def line_densities(result: Result) -> Iterator[LineDensity]:
    """Yield the lines on the ground with a leak probability above 0, in order of priority.

    Parameters
    ----------
    result : Result
        With ``profile`` and ``lines``, in a metre CRS.
    """
    profile, lines = layer(result, "profile"), layer(result, "lines")
    profile = with_geometry(profile) if isinstance(profile, gpd.GeoDataFrame) else None
    if profile is None or lines is None:
        return
    across = _across_sd_m(result)
    codes, names = pd.factorize(profile["line_id"])
    chainage, density = floats(profile, "chainage_m"), floats(profile, "leak_density_per_m")
    x, y = shapely.get_coordinates(profile.geometry.to_numpy()).T
    order = np.lexsort((chainage, codes))
    ends = np.cumsum(np.bincount(codes[codes >= 0], minlength=len(names)))
    rows = dict(zip(names, np.split(order[(codes < 0).sum() :], ends[:-1]), strict=True))
    table = lines.sort_values("priority") if "priority" in lines else lines
    for line, leak in zip(table["line_id"], table["leak_probability"], strict=True):
        if line in rows and leak > 0:
            own = rows[line]
            yield LineDensity(
                str(line), chainage[own], density[own], x[own], y[own],
                across.get(line, TRACE_SD_M), float(leak),
            )  # fmt: skip


def cells_of(line: LineDensity, grid: Grid, pixel_m: float) -> Cells | None:
    """Spread the density of a line over the pixels of a grid; None if it is negligible everywhere.

    Parameters
    ----------
    line : LineDensity
    grid : Grid
    pixel_m : float
        Size of a pixel on the ground, in metres.
    """
    x, y, share = spread(line, pixel_m)
    if not share.size:
        return None
    middle = (float(np.average(v, weights=share)) for v in (x, y))
    column, row, mass = to_pixels(*grid.places(x, y), share)
    return Cells(line.line_id, column, row, mass / grid.area_m2(*middle))


def _across_sd_m(result: Result) -> dict[str, float]:
    """Return the error across each line in metres: of its mark, else its zones, else its route."""
    routes = result.job.routes
    found: dict[str, float] = {}
    if "position_sd_m" in routes:
        known = routes.loc[routes["position_sd_m"].notna()]
        found |= dict(zip(known["line_id"], known["position_sd_m"].astype(float), strict=True))
    for name, column in (("search_zones", "half_width_m"), ("marks", "across_95_m")):
        frame = layer(result, name)
        if frame is not None and column in frame:
            widest = frame.groupby("line_id")[column].max() / SD_95
            found |= {str(line): float(sd) for line, sd in widest.items()}
    return found


def spread(line: LineDensity, pixel_m: float) -> tuple[Floats, Floats, Floats]:
    """Spread the density of a line over the ground with a normal error across the pipe.

    The probability of each short piece of pipe is distributed along its normal.

    Parameters
    ----------
    line : LineDensity
    pixel_m : float
        Size of the target pixels, in metres.

    Returns
    -------
    x_m, y_m, share : (m,) numpy.ndarray
        Points in the CRS of the line, and the expected number of leaks at each.

    Examples
    --------
    >>> at = np.linspace(0, 10, 101)
    >>> _, _, share = spread(LineDensity("L-1", at, np.full(101, 0.1), at, 0 * at, 0.3, 0.5), 0.1)
    >>> round(float(share.sum()), 2)
    0.5
    """
    at, x_m, y_m, across_sd_m = line.chainage_m, line.x_m, line.y_m, line.across_sd_m
    s, mass = _pieces(at, line.density_per_m * line.leak_probability, pixel_m / 2)
    drawn = mass > MIN_DENSITY_PER_M * pixel_m / 2
    s, mass = s[drawn], mass[drawn]
    x, y = np.interp(s, at, x_m), np.interp(s, at, y_m)
    east, north = _directions(s, at, x_m, y_m)
    reach = max(REACH_SD * across_sd_m, pixel_m / 4)
    offset = np.linspace(-reach, reach, 2 * int(np.ceil(reach / (pixel_m / 2))) + 1)
    weight = np.exp(-0.5 * (offset / max(across_sd_m, pixel_m / 8)) ** 2)
    share = np.outer(mass, weight / weight.sum()).ravel()
    across_x = (x[:, None] - offset * north[:, None]).ravel()
    across_y = (y[:, None] + offset * east[:, None]).ravel()
    return across_x, across_y, share


def _pieces(chainage_m: Floats, density_per_m: Floats, step_m: float) -> tuple[Floats, Floats]:
    """Cut a line into pieces of at most `step_m`; return their middles and probabilities."""
    edges = np.linspace(chainage_m[0], chainage_m[-1],
                        max(int(np.ceil(np.ptp(chainage_m) / step_m)), 1) + 1)  # fmt: skip
    middles = (edges[1:] + edges[:-1]) / 2
    mass: Floats = np.interp(middles, chainage_m, np.nan_to_num(density_per_m)) * np.diff(edges)
    return middles, mass


def _directions(s: Floats, chainage_m: Floats, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
    """Return the unit direction of the pipe at each chainage."""
    at = np.clip(np.searchsorted(chainage_m, s), 1, len(chainage_m) - 1)
    dx, dy = x_m[at] - x_m[at - 1], y_m[at] - y_m[at - 1]
    length = np.hypot(dx, dy)
    good = length > 0
    return (np.divide(dx, length, out=np.ones_like(dx), where=good),
            np.divide(dy, length, out=np.zeros_like(dy), where=good))  # fmt: skip


def to_pixels(x: Floats, y: Floats, share: Floats) -> tuple[np.ndarray, np.ndarray, Floats]:
    """Distribute values at points over the four nearest pixels (bilinear).

    Parameters
    ----------
    x, y : (n,) numpy.ndarray
        Coordinates in pixels east and north of the origin; n is at least 1.
    share : (n,) numpy.ndarray
        Value at each point.

    Returns
    -------
    column, row : (m,) numpy.ndarray of int
    held : (m,) numpy.ndarray
        Value of each pixel; the sum is that of `share`.
    """
    column, row = x - 0.5, y - 0.5
    left, low = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    right, up = column - left, row - low
    corners = [(left + i, low + j, share * (right if i else 1 - right) * (up if j else 1 - up))
               for i in (0, 1) for j in (0, 1)]  # fmt: skip
    columns, rows, parts = (np.concatenate(c) for c in zip(*corners, strict=True))
    wide = int(np.ptp(rows)) + 1
    keys = (columns - columns.min()) * wide + rows - rows.min()
    unique, place = np.unique(keys, return_inverse=True)
    mass = np.bincount(place, parts)
    keep = mass > mass.max() * 1e-6
    unique, mass = unique[keep], mass[keep]
    return unique // wide + columns.min(), unique % wide + rows.min(), mass

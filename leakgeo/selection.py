"""Which lines to show: by name, by status, near a place, and the first in the order of the digs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from pyproj import CRS

from leakgeo.dig.order import HOLD, NO_HOLD, in_dig_order
from leakgeo.errors import ParameterError
from leakgeo.job.crs import is_georeferenced
from leakgeo.job.lengths import length_m
from leakgeo.job.schema import load_schema

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas as gpd
    import pandas as pd

    from leakgeo.arrays import Floats
    from leakgeo.result import Result

#: Names of the parameters that select lines, in `leakgeo.options`.
NAMES = ("lines", "top", "status", "near")
_WGS84 = CRS(4326)
_FARTHEST = 1e12  # beyond any coordinate
# A radius that is not given: about a block.
_RADIUS_M = 100.0
# Lines that an error names.
_NAMED = 12


class Near(NamedTuple):
    """A place as it was given, and the radius around it.

    Parameters
    ----------
    x, y : float
        In the CRS of the routes, or longitude and latitude.
    radius : str
        A length; ``""`` for about a block.
    """

    x: float
    y: float
    radius: str = ""

    def radius_m(self, units: str) -> float:
        """Return the radius in metres.

        Parameters
        ----------
        units : {"si", "us"}
            A number without a unit is in metres; people who work in feet have to give the unit.

        Raises
        ------
        ParameterError
            If it is a number without a unit and `units` is ``us``.
        """
        if not self.radius:
            return _RADIUS_M
        length = length_m(self.radius)
        if length is None and units == "us":
            raise _no_place(f"{self.radius} has no unit. Give it, such as {self.radius}ft")
        return float(self.radius) if length is None else length


@dataclass(frozen=True)
class Selection:
    """What lines were asked for; all conditions must hold.

    Parameters
    ----------
    lines : tuple of str
        ``line_id``; all if empty.
    top : int or None
        So many, the first in the order of the digs.
    status : str
        Statuses of lines or of digs, separated by commas; all if empty.
    near : str
        Place and radius, as `parse_near` reads them; everywhere if empty.
    """

    lines: tuple[str, ...] = ()
    top: int | None = None
    status: str = ""
    near: str = ""

    @property
    def is_all(self) -> bool:
        """Whether no line is left out."""
        return self == Selection()

    def names(self, lines: pd.DataFrame, near: Sequence[str] | None = None) -> list[str]:
        """Return the selected lines in the order of the digs.

        Parameters
        ----------
        lines : pandas.DataFrame
            ``line_id``, ``status`` and ``dig_status`` of all lines, and what orders them.
        near : sequence of str, optional
            Lines near the place, as `lines_near` returns them.

        Raises
        ------
        ParameterError
            If a line does not exist, or no line is selected.
        """
        found = in_dig_order(lines)
        every = found["line_id"].astype(str)
        check_names(self.lines, list(every))
        if self.lines:
            found = found[every.isin(self.lines)]
        if near is not None:
            found = found[found["line_id"].astype(str).isin(near)]
        if self.status:
            found = found[_has_status(found, self.status)]
        if found.empty:
            raise _nothing(self.status, lines)
        return [str(name) for name in found["line_id"].head(self.top or len(found))]


def selection_of(settings: Mapping[str, object]) -> Selection:
    """Return the selection that parameters of a step or command ask for.

    Examples
    --------
    >>> selection_of({"top": 3, "density": False})
    Selection(lines=(), top=3, status='', near='')
    """
    given = {name: settings[name] for name in NAMES if settings.get(name)}
    return Selection(**given)  # type: ignore[arg-type]


def names_in(result: Result, selection: Selection) -> list[str]:
    """Return the lines of a result that are selected, in the order of the digs.

    Raises
    ------
    ParameterError
        If a line does not exist, or no line is selected.
    """
    lines, job = result.layers.get("lines"), result.job
    if lines is None:
        lines = job.routes[["line_id"]].drop_duplicates().dropna().assign(priority=1)
    near = None if not selection.near else lines_near(
        job.routes, selection.near, job.output_crs, job.units())  # fmt: skip
    return selection.names(lines, near)


def lines_near(routes: gpd.GeoDataFrame, near: str, stated_in: CRS, units: str) -> list[str]:
    """Return the lines near a place, in the order of the routes.

    Parameters
    ----------
    routes : geopandas.GeoDataFrame
        ``line_id`` and lines, in a metre CRS.
    near : str
        As `parse_near` reads it.
    stated_in : pyproj.CRS
        CRS of the place. What may be degrees is also read as longitude and latitude (WGS 84), and
        the reading that is nearer to the routes counts.
    units : {"si", "us"}
        Of the job.

    Raises
    ------
    ParameterError
        If no line is near.
    """
    import geopandas as gpd
    import shapely

    place = parse_near(near)
    radius = place.radius_m(units)
    may_be_degrees = abs(place.x) <= 180 and abs(place.y) <= 90
    point = shapely.Point(place.x, place.y)
    if not is_georeferenced(stated_in):
        raise ParameterError.of("near", "the job has no line with a place on the ground.")
    points = [gpd.GeoSeries([point], crs=crs).to_crs(CRS(routes.crs)).iloc[0]
              for crs in (stated_in, *([_WGS84] if may_be_degrees else []))]  # fmt: skip
    distances = [routes.geometry.distance(p).to_numpy() for p in points
                 if np.isfinite(shapely.get_x(p))]  # fmt: skip
    if not distances:
        raise _no_place(f"{near!r} is not a place in the CRS of the routes")
    away = min(distances, key=_least)
    found = routes.loc[away <= radius, "line_id"].dropna().astype(str).unique()
    if not len(found):
        raise _none_near(routes.assign(away=away).dropna(subset=["line_id", "away"]), radius)
    return [str(name) for name in found]


def parse_near(text: str) -> Near:
    """Read a place and its radius.

    Parameters
    ----------
    text : str
        ``X Y`` or ``X Y RADIUS``, separated by spaces or commas.

    Raises
    ------
    ParameterError
        If it is none.

    Examples
    --------
    >>> parse_near("500100,4684000,150")
    Near(x=500100.0, y=4684000.0, radius='150')
    >>> parse_near("-83.05 42.33 300ft")
    Near(x=-83.05, y=42.33, radius='300ft')
    """
    parts = text.replace(",", " ").split()
    if not 2 <= len(parts) <= 4:
        raise _no_place(f"{text!r} is not a place")
    try:
        x, y = float(parts[0]), float(parts[1])
    except ValueError:
        raise _no_place(f"{text!r} is not a place") from None
    radius = " ".join(parts[2:])
    plain = radius.replace(".", "", 1).isdigit()
    if radius and not plain and length_m(radius) is None:
        raise _no_place(f"{radius!r} is not a length")
    if not (abs(x) < _FARTHEST and abs(y) < _FARTHEST):
        raise _no_place(f"{text!r} is not a place on the ground")
    return Near(x, y, radius)


def parse_statuses(text: str) -> tuple[str, ...]:
    """Read statuses of lines or of digs, separated by commas.

    Raises
    ------
    ParameterError
        If one is unknown.

    Examples
    --------
    >>> parse_statuses("located, no_leak_heard")
    ('located', 'no_leak_heard')
    """
    codes = tuple(dict.fromkeys(code for part in text.split(",") if (code := part.strip())))
    known = (*load_schema("lines").field("status").codes, HOLD, NO_HOLD)
    if unknown := [code for code in codes if code not in known]:
        near = get_close_matches(unknown[0], known, n=1)
        hint = f" Did you mean {near[0]}?" if near else ""
        problem = f"{unknown[0]!r} is not a status; use {', '.join(known)}.{hint}"
        raise ParameterError.of("status", problem)
    return codes


def check_names(asked: Sequence[str], known: Sequence[str]) -> None:
    """Raise ParameterError if one of the lines that were asked for does not exist."""
    if unknown := [name for name in asked if name not in known]:
        near = get_close_matches(unknown[0], known, n=1)
        hint = f" Did you mean {near[0]}?" if near else f" There are {_some(known)}."
        raise ParameterError.of("lines", f"there is no line {', '.join(unknown)}.{hint}")


def _has_status(lines: pd.DataFrame, status: str) -> pd.Series[bool]:
    """Flag lines with one of the statuses; a dig's status counts where there is a mark to dig."""
    codes = list(parse_statuses(status))
    if "status" not in lines:
        raise ParameterError.of("status", "no line was located yet, so none has a status.")
    chosen: pd.Series[bool] = lines["status"].isin(codes)
    if "dig_status" in lines:
        chosen |= lines["status"].eq("located") & lines["dig_status"].isin(codes)
    return chosen


def _nothing(status: str, lines: pd.DataFrame) -> ParameterError:
    """Return the error for a selection without a line: which lines there are."""
    there = "; ".join(
        f"{code}: {_some(own['line_id'].astype(str).to_list())}"
        for code, own in lines.groupby("status", sort=False)
    ) if "status" in lines else _some(lines["line_id"].astype(str).to_list())  # fmt: skip
    digs = Counter() if "dig_status" not in lines else Counter(
        lines.loc[lines["status"] == "located", "dig_status"])  # fmt: skip
    held = (f" Of the located lines {digs[HOLD]} are held, and {digs[NO_HOLD]} have no recorded "
            "hold.") if digs else ""  # fmt: skip
    problem = f"no line is selected. There are {there}.{held}"
    return ParameterError.of("status" if status else "lines", problem)


def _none_near(routes: gpd.GeoDataFrame, radius_m: float) -> ParameterError:
    first = routes.nsmallest(1, "away")
    there = "; no line has a place on the ground." if first.empty else (
        f". The nearest is {first['line_id'].iloc[0]}, {first['away'].iloc[0]:,.0f} m away. "
        "Give a larger radius, or check X and Y, in the CRS of the routes or longitude and "
        "latitude.")  # fmt: skip
    return ParameterError.of("near", f"no line is within {radius_m:,.0f} m{there}")


def _least(away: Floats) -> float:
    return float(np.nanmin(away, initial=np.inf))


def _no_place(problem: str) -> ParameterError:
    return ParameterError.of("near", f"{problem}. Give X Y in the CRS of the routes and, if you "
                             "like, a radius, such as 500100 4684000 150m; or longitude and "
                             "latitude, such as -83.05 42.33.")  # fmt: skip


def _some(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")

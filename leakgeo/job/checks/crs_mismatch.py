"""Report layers whose CRS or unit of length does not match the routes, and the likely mistake."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import shapely

from leakgeo.arrays import floats
from leakgeo.conversion import FOOT_M, US_SURVEY_FOOT_M
from leakgeo.faults import Fault
from leakgeo.job.checks.lines import CHAINAGE_ONLY_SD_M, row_of_line
from leakgeo.job.checks.registry import check
from leakgeo.job.crs import base_geographic, horizontal, transformer
from leakgeo.job.feet import FEET, foot_units, in_two_feet, moved_by_foot_m
from leakgeo.job.placed import is_nowhere
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd
    import pandas as pd
    from pyproj import CRS

    from leakgeo.arrays import Objects
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.schema import LayerSchema


#: A layer whose median is farther than this from the routes is likely in another CRS.
FAR_M = 2_000.0
# Margin around the area of use of a CRS; jobs in the next zone are common.
AREA_MARGIN_DEG = 4.0
# No water lines are closer to a pole.
MAX_LATITUDE_DEG = 80.0
# The lines of a town are shorter than this in degrees, and longer in any unit of length.
MAX_LENGTH_IN_DEGREES = 0.05
_MAX_ZONE_SHIFT = 3


@check(order=20)
def far_from_routes(
    rows: pd.DataFrame, issues: IssueCollector, schema: LayerSchema, routes: gpd.GeoDataFrame,
    crs: CRS, read_crs: CRS, routes_crs: CRS,
) -> None:  # fmt: skip
    """Report a layer that is far from all routes; its CRS is likely not the stated one."""
    if "geometry" not in rows:
        return
    good = issues.good & rows["geometry"].notna().to_numpy()
    good &= ~is_nowhere(rows["geometry"].to_numpy())
    routes = routes[~is_nowhere(routes.geometry.to_numpy())]
    if schema.name == "readings":
        # Readings placed by chainage lie on a route whatever the CRS.
        good &= floats(rows, "position_sd_m") != CHAINAGE_ONLY_SD_M
    if not good.any() or not len(routes):
        return
    middle = _median_centre(rows.loc[good, "geometry"].to_numpy())
    box = shapely.box(*shapely.total_bounds(routes.geometry.to_numpy()))
    gap = float(shapely.distance(shapely.points(middle), box))
    if gap <= FAR_M:
        return
    back = transformer(crs, horizontal(read_crs))
    x, y = back.transform(*middle)
    why = _likely_mistake(x, y, read_crs, routes_crs, box, crs)
    issues.report_layer(Reason("far_from_routes", why, away_m=gap), column="geometry")


def _median_centre(shapes: Objects) -> Any:
    boxes = shapely.bounds(shapes)
    return np.median((boxes[:, :2] + boxes[:, 2:]) / 2, axis=0)


def _likely_mistake(
    x: float, y: float, theirs: CRS, ours: CRS, box: Any, local: CRS
) -> Reason | None:
    """Return the first of the common mistakes that would put the layer near the routes."""
    for mistake, east, north, crs in _mistakes(x, y, horizontal(theirs), horizontal(ours)):
        there = transformer(crs, local).transform(east, north)
        if np.isfinite(there).all() and shapely.distance(shapely.points(there), box) <= FAR_M:
            return mistake
    return None


def _mistakes(
    x: float, y: float, theirs: CRS, ours: CRS
) -> Iterator[tuple[Reason, float, float, CRS]]:
    degrees = pyproj.CRS(4326)
    yield Reason("would_fit_swapped"), y, x, theirs
    yield Reason("would_fit_routes_crs", crs=ours.name), x, y, ours
    yield Reason("would_fit_routes_crs_swapped", crs=ours.name), y, x, ours
    if abs(x) <= 180 and abs(y) <= 180:
        yield Reason("would_fit_degrees"), x, y, degrees
        yield Reason("would_fit_degrees_swapped"), y, x, degrees
    for foot, name in ((FOOT_M, "feet"), (US_SURVEY_FOOT_M, "us_survey_feet")):
        yield Reason(f"would_fit_{name}"), x * foot, y * foot, theirs
        yield Reason(f"would_fit_metres_not_{name}"), x / foot, y / foot, theirs
    for zone in _other_zones(theirs):
        yield Reason("would_fit_zone", zone=zone.name.rpartition(" / ")[2]), x, y, zone


def _other_zones(crs: CRS) -> Iterator[CRS]:
    """Iterate over neighbouring UTM zones, whose codes are consecutive in the registry."""
    code = crs.to_epsg()
    if code is None or crs.utm_zone is None:
        return
    for step in sorted(range(-_MAX_ZONE_SHIFT, _MAX_ZONE_SHIFT + 1), key=abs):
        try:
            other = pyproj.CRS.from_epsg(code + step)
        except pyproj.exceptions.CRSError:
            continue
        if step and other.utm_zone is not None and base_geographic(other) == base_geographic(crs):
            yield other


def position_faults(crs: CRS, lon: float, lat: float) -> list[Fault]:
    """Return faults of routes outside the area of use of their CRS, or too close to a pole.

    Parameters
    ----------
    crs : pyproj.CRS
        CRS that the routes were read in.
    lon, lat : float
        Their median, degrees.

    Returns
    -------
    list of Fault

    Examples
    --------
    >>> position_faults(pyproj.CRS(32616), -87.3, 43.2)
    []
    >>> position_faults(pyproj.CRS(4326), 43.2, -87.3)[0].problem
    'They lie at latitude -87.30, longitude 43.20, where there are no streets.'
    """
    at = {"latitude_deg": lat, "longitude_deg": lon}
    area = horizontal(crs).area_of_use
    if abs(lat) > MAX_LATITUDE_DEG:
        # So close to a pole a degree of longitude has no useful length: any mark would be wrong.
        return [Fault("routes", Reason("near_pole", **at), column="geometry", effect="stops")]
    if area is None or _in_area(area, lon, lat):
        return []
    reason = Reason("outside_crs_area", crs=crs.name, **at)
    return [Fault("routes", reason, column="geometry", effect="noted")]


def _in_area(area: Any, lon: float, lat: float) -> bool:
    span = (area.east - area.west) % 360 or 360.0
    away = (lon - area.west + AREA_MARGIN_DEG) % 360
    across = span + 2 * AREA_MARGIN_DEG >= 360 or away <= span + 2 * AREA_MARGIN_DEG
    return bool(across and area.south - AREA_MARGIN_DEG <= lat <= area.north + AREA_MARGIN_DEG)


def looks_like_degrees(crs: CRS, lines: Objects) -> bool:
    """Return whether lines in a projected CRS have coordinates that are likely degrees.

    Examples
    --------
    >>> lines = shapely.from_wkt(["LINESTRING(-87.3 43.2, -87.3 43.2002)"])
    >>> looks_like_degrees(pyproj.CRS(32616), lines), looks_like_degrees(pyproj.CRS(4326), lines)
    (True, False)
    """
    if not horizontal(crs).is_projected or not len(lines):
        return False
    small = (np.abs(shapely.get_coordinates(lines)) <= 180).all()
    return bool(small and np.median(shapely.length(lines)) < MAX_LENGTH_IN_DEGREES)


# Least number of readings with positions good to MAX_SD_M; the median distance to their lines must
# decrease by at least half of it, and by MIN_GAIN_M.
MIN_READINGS, MAX_SD_M, MIN_GAIN_M = 10, 0.5, 0.3
_MAX_READINGS = 5_000


@check("readings", order=40)
def other_foot(
    rows: gpd.GeoDataFrame, issues: IssueCollector, routes: gpd.GeoDataFrame,
    crs: CRS, read_crs: CRS,
) -> None:  # fmt: skip
    """Report readings that would lie on their lines if their CRS had the other kind of foot."""
    own, other = foot_units(read_crs)
    if not other:
        return
    row = row_of_line(rows, routes)
    sure = (row >= 0) & issues.good
    sure &= floats(rows, "position_sd_m", null=np.inf) < MAX_SD_M
    at = np.flatnonzero(sure)[:_MAX_READINGS]
    if len(at) < MIN_READINGS:
        return
    points, own_lines = rows.geometry.to_numpy()[at], routes.geometry.to_numpy()[row[at]]
    before = np.median(shapely.distance(points, own_lines))
    after = np.median(shapely.distance(_scaled(points, read_crs, crs, other / own), own_lines))
    if before - after < MIN_GAIN_M or after > before / 2:
        return
    reason = Reason("other_foot", before_m=before, after_m=after, meant=FEET[other])
    issues.report_layer(reason, column="geometry")


@check(order=45)
def feet_differ(
    rows: pd.DataFrame, issues: IssueCollector, crs: CRS, read_crs: CRS, routes_crs: CRS
) -> None:
    """Report a layer in the projection of the routes, but in the other kind of foot."""
    if "geometry" not in rows or not in_two_feet(read_crs, routes_crs):
        return
    shapes = rows["geometry"][rows["geometry"].notna()].to_numpy()
    shapes = shapes[~is_nowhere(shapes)]
    if not len(shapes):
        return
    x, y = transformer(crs, horizontal(read_crs)).transform(*_median_centre(shapes))
    reason = Reason(
        "feet_differ", crs=read_crs.name, foot=FEET[foot_units(read_crs)[0]],
        routes_crs=routes_crs.name, routes_foot=FEET[foot_units(routes_crs)[0]],
        moved_m=moved_by_foot_m(x, y, read_crs, routes_crs),
    )  # fmt: skip
    issues.report_layer(reason, column="geometry")


def _scaled(points: Objects, theirs: CRS, local: CRS, by: float) -> Objects:
    """Return points in the local CRS after scaling their original coordinates by a factor."""
    back = transformer(local, horizontal(theirs))
    x, y = back.transform(*shapely.get_coordinates(points).T)
    there = transformer(horizontal(theirs), local)
    moved: Objects = shapely.points(*there.transform(x * by, y * by))
    return moved

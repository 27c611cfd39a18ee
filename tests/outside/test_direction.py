"""Direction: bearings, the hole and the ellipse are from true north, whatever the grid."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyproj
import pytest
import shapely
from geographiclib.geodesic import Geodesic

import leakgeo
from leakgeo.deliver.report.sheet import Lines
from leakgeo.deliver.report.sketch import Buried, Size, plan_sketch
from leakgeo.deliver.views import colours
from leakgeo.deliver.views.line_view import line_views
from leakgeo.dig.clearance import clearance
from leakgeo.job.north import grid_convergence_deg
from leakgeo.result import Result
from tests.deliver.shown import map_data
from tests.dig.conftest import READY
from tests.outside.table import outside
from tests.outside.test_position import heard, read
from tests.town import TOWN

# Bearing of the pipe, and of the way from each fitting to the mark.
PIPE_DEG, FITTINGS_DEG = 35.0, (0.0, 118.0, 263.0)
# CRS of the job, and the place of the mark: longitude and latitude on the datum of the CRS.
PLACES = {
    "Wisconsin, survey feet": (2289, -87.91, 42.98),
    "edge of a UTM zone": (32633, 17.9, 68.4),
    "Svalbard": (32633, 9.2, 78.9),
    "southern hemisphere": (28355, 144.1, -37.8),
    "southern edge of a UTM zone": (32719, -66.1, -54.8),
    "meridian of Paris": (27572, 7.2, 43.7),
    "Krovak": (5514, 17.1, 49.6),
    "degrees": (4326, 11.9, 60.1),
    "Web Mercator": (3857, 151.2, -33.8),
}


def geodesic(crs):
    ellipsoid = pyproj.CRS(crs).ellipsoid
    return Geodesic(ellipsoid.semi_major_metre, 1 / ellipsoid.inverse_flattening)


def bearing(earth, begin, end):
    """Azimuth at the begin of a geodesic between two places, longitude first, 0 to 360."""
    return earth.Inverse(begin[1], begin[0], end[1], end[0])["azi1"] % 360


def from_here(earth, place, azimuth, distance):
    there = earth.Direct(place[1], place[0], azimuth, distance)
    return there["lon2"], there["lat2"]


def apart(one, other):
    return abs((one - other + 180) % 360 - 180)


def to_degrees(crs):
    """From a CRS to degrees of Greenwich on its own ellipsoid."""
    plane = pyproj.CRS(crs)
    if plane.is_geographic:
        return lambda x, y: (x, y)
    return lambda x, y: pyproj.Proj(plane)(x, y, inverse=True)


def in_crs(crs, places):
    """Bring degrees of Greenwich on the ellipsoid of a CRS into it."""
    if pyproj.CRS(crs).is_geographic:
        return shapely.points(places)
    return shapely.points(np.column_stack(pyproj.Proj(pyproj.CRS(crs))(*np.transpose(places))))


def dug(crs, lon, lat):
    """Give a job with a pipe that has a bearing, dug at its middle; fittings around it."""
    earth, mark = geodesic(crs), (lon, lat)
    ends = [from_here(earth, mark, PIPE_DEG + turn, 40.0) for turn in (180, 0)]
    around = [from_here(earth, mark, b + 180, 12.0 + 9 * k) for k, b in enumerate(FITTINGS_DEG)]
    pipe = shapely.LineString(in_crs(crs, ends))
    routes = gpd.GeoDataFrame({"line_id": ["L1"]}, geometry=[pipe], crs=crs)
    spot = in_crs(crs, [mark])
    contacts = gpd.GeoDataFrame(
        {"contact_id": ["C-0", "C-1", "C-2"], "kind": "meter"},
        geometry=in_crs(crs, around), crs=crs,
    )  # fmt: skip
    readings = heard(list(spot), crs, ["L1"])
    job = leakgeo.read_job({"routes": routes, "readings": readings, "contacts": contacts})
    marks = gpd.GeoDataFrame(
        {"line_id": ["L1"], "rank": 1, "chainage_m": 40.0, "along_95_m": 3.0, "across_95_m": 0.3,
         "status": "located", "azimuth_deg": PIPE_DEG},
        geometry=spot, crs=crs,
    ).to_crs(job.crs)  # fmt: skip
    lines = pd.DataFrame({
        "line_id": ["L1"], "status": "located", "leak_probability": 0.98, "chainage_m": 40.0,
        "loss_l_per_day": np.nan, "priority": 1, "conflicts": 0, "dig_status": "hold",
        "message": "",
    })  # fmt: skip
    return clearance(Result(job, {"marks": marks, "lines": lines}), **READY)


DIRECTIONS = outside(
    "tie bearings, and the long axis of hole and ellipse, in metre, foot and degree CRSs of both "
    "hemispheres, where grid north is up to 7 degrees off",
    against="azimuths of geodesics by geographiclib",
    source="Karney, Algorithms for geodesics (2013)",
    close="bearings to {within:g} degrees, axes to 0.1",
    within=2e-3,
)


@DIRECTIONS
@pytest.mark.parametrize("where", PLACES.values(), ids=PLACES)
def test_bearings_are_azimuths_of_geodesics(where, within):
    crs, lon, lat = where
    result, earth = dug(*where), geodesic(crs)
    ties = result["ties"].set_index("fixed_point")
    assert len(ties) == 3
    for k, azimuth in enumerate(FITTINGS_DEG):
        stated = ties.loc[f"meter C-{k}", "bearing_deg"]
        assert 0 <= stated < 360
        # The pipe was laid out from the mark: the way back to it turns by a trifle.
        assert apart(stated, azimuth) < within
        assert ties.loc[f"meter C-{k}", "distance_m"] == pytest.approx(12.0 + 9 * k, abs=2e-3)
    back = to_degrees(result.job.crs)
    x, y = shapely.get_coordinates(result.layers["dig_zones"].geometry.iloc[0]).T
    assert axis_off(earth, np.column_stack(back(x, y)), (lon, lat)) < 0.1
    ring = map_data(result, "si")["lines"][0]["mark"]["ring"][0][0]
    degrees = pyproj.Transformer.from_crs(4326, result.job.crs, always_xy=True)
    there = degrees.transform(*np.array(ring)[:, ::-1].T)
    assert axis_off(earth, np.column_stack(back(*there)), (lon, lat)) < 0.1
    assert arrow_off(result) < 1e-6


def axis_off(earth, ring, middle):
    """How far the long axis of an even ring is from the bearing of the pipe, either way."""
    ways = [earth.Inverse(middle[1], middle[0], y, x) for x, y in ring[:-1]]
    turn, far = np.radians([w["azi1"] for w in ways]), np.array([w["s12"] for w in ways])
    spread = np.linalg.svd(np.column_stack([far * np.sin(turn), far * np.cos(turn)]))[2]
    axis = np.degrees(np.arctan2(*spread[0]))
    return min(apart(axis, PIPE_DEG), apart(axis, PIPE_DEG + 180))


def arrow_off(result):
    """How far the arrow of the report's plan is from true north on the grid, in degrees."""
    view = line_views(result)[0]
    sheet = plan_sketch(view, Buried.of(None), "si", Size(300.0, 200.0))
    filled = [s for s in sheet.contents if isinstance(s, Lines) and s.ink.fill == colours.INK]
    (arrow,) = [np.array(piece) for s in filled for piece in s.pieces if len(piece) == 4]
    way = arrow[0] - arrow[2]
    middle = result.layers["marks"].geometry.iloc[0]
    north = grid_convergence_deg(result.job.crs, [middle.x], [middle.y])[0]
    return apart(np.degrees(np.arctan2(*way)), -north)


@DIRECTIONS
def test_grid_north_is_far_off_where_this_is_tried():
    """Else nothing of it would be tried."""
    off = {}
    for name, (crs, lon, lat) in PLACES.items():
        job = read(gpd.GeoDataFrame(
            {"line_id": ["L1"]}, crs=crs,
            geometry=[shapely.LineString(in_crs(crs, [(lon, lat), (lon + 1e-4, lat)]))],
        ))  # fmt: skip
        x, y = job.routes.geometry.iloc[0].coords[0]
        off[name] = grid_convergence_deg(job.crs, [x], [y])[0]
    assert off["Svalbard"] < -5
    assert off["edge of a UTM zone"] > 2.5
    assert off["southern hemisphere"] > 1.5
    assert off["southern edge of a UTM zone"] < -2


@outside(
    "every tie of the shipped town, and the direction of the pipe at every mark",
    against="geographiclib, between the places as they are delivered, in feet",
    source="Karney, Algorithms for geodesics (2013)",
    close="{within:g} degrees",
    within=0.01,
)
def test_bearings_of_the_town_are_those_between_its_places(whole, within):
    earth, path = geodesic(2289), whole / "result.gpkg"
    ties, marks = (pyogrio.read_dataframe(path, layer=name) for name in ("ties", "marks"))
    lines = pyogrio.read_dataframe(TOWN, layer="routes").set_index("line_id").geometry
    assert lines.crs == ties.crs == marks.crs
    assert ties.crs.axis_info[0].unit_name == "US survey foot"
    assert len(ties) > 20
    for row, line in zip(ties.itertuples(), ties.geometry.to_crs(4269), strict=True):
        begin, end = line.coords
        assert apart(row.bearing_deg, bearing(earth, begin, end)) < within
    for row in marks.itertuples():
        line = lines[row.line_id]
        at = line.project(row.geometry)
        ends = [line.interpolate(at + step) for step in (-0.2, 0.2)]
        begin, end = (p.coords[0] for p in gpd.GeoSeries(ends, crs=marks.crs).to_crs(4269))
        assert apart(row.azimuth_deg, bearing(earth, begin, end)) < within, row.line_id

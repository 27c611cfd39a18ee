"""Position: published points, geodesics, both feet, real networks, snapping, stated errors."""

from __future__ import annotations

import warnings
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from scipy import stats

import leakgeo
from leakgeo.deliver.views.places import error_ellipse
from leakgeo.dig.facilities import SD_TO_95_LINE, SD_TO_95_POINT
from leakgeo.job.crs import choose_local_crs, ground_scale
from leakgeo.route.lines import lines_of
from tests.job import jobs
from tests.outside.table import outside
from tests.real_routes import real_pipes

# EPSG Guidance Note 7-2, Lambert conic conformal (2SP): NAD27 28d30'N 96d00'W is, in Texas South
# Central (EPSG:32040), 2963503.91 E 254759.80 N US survey feet.
TEXAS_FTUS = (2963503.91, 254759.80)
TEXAS_DEGREES = (-96.0, 28.5)
# Ordnance Survey, A guide to coordinate systems in Great Britain, annex C: OSGB36
# 52d39'27.2531"N 1d43'4.5177"E is 651409.903 E 313177.270 N.
OS_METRES = (651409.903, 313177.270)
OS_DEGREES = (1 + 43 / 60 + 4.5177 / 3600, 52 + 39 / 60 + 27.2531 / 3600)
# The US survey foot is 1200/3937 m, the international foot 0.3048 m, by definition (NIST SP 811).
SURVEY_FOOT, FOOT = 1200 / 3937, 0.3048
# The first line of GeodTest.dat (Karney, zenodo.32156): from latitude and longitude to latitude
# and longitude, degrees on WGS 84, and metres.
GEODTEST = (36.530042355041, 0.0, -48.164270779097768864, 5.762344694676510456, 9398502.0434687)
# Texas South Central as EPSG:32040 has it, same false easting in metres, in the other foot.
TEXAS_IN_FEET = (
    "+proj=lcc +lat_0=27.8333333333333 +lon_0=-99 +lat_1=28.3833333333333 "
    "+lat_2=30.2833333333333 +x_0=609601.219202438 +y_0=0 +datum=NAD27 +units=ft"
)
GRS80 = Geodesic(6378137.0, 1 / 298.257222101)


def read(routes, readings=None):
    """Read a job from memory; a reading at the first vertex where none is given."""
    first = shapely.Point(routes.geometry.iloc[0].coords[0])
    readings = heard([first], routes.crs, ["L1"]) if readings is None else readings
    return leakgeo.read_job({"routes": routes, "readings": readings})


def traced(lines, crs, names=("L1",)):
    return jobs.layer(list(lines), crs, line_id=list(names))


def heard(points, crs, names):
    count = len(points)
    return jobs.layer(
        list(points), crs, reading_id=[f"R{i}" for i in range(count)], line_id=list(names),
        sound_level=[40.0] * count, sound_unit=["db"] * count,
    )  # fmt: skip


def beginning(place, run=(1.0, 1.0)):
    return shapely.LineString([place, (place[0] + run[0], place[1] + run[1])])


def lengths_m(job):
    """Ground length by line, as everything in leakgeo measures it."""
    lines = lines_of(job, 0.3)
    return dict(zip(lines.table.index, lines.length_m, strict=True))


@outside(
    "a published point, read as a route and as a reading, is one place",
    against="Lambert conic (2SP) in US survey feet, transverse Mercator in metres",
    source="EPSG Guidance Note 7-2; Ordnance Survey guide, annex C",
    close="{within:g} m, what the figures are printed to",
    within=0.005,
)
@pytest.mark.parametrize(
    ("grid", "degrees", "projected", "geographic"),
    [(TEXAS_FTUS, TEXAS_DEGREES, 32040, 4267), (OS_METRES, OS_DEGREES, 27700, 4277)],
    ids=["Texas", "Ordnance Survey"],
)
def test_a_published_point_is_one_place_in_both_its_crs(
    grid, degrees, projected, geographic, within
):
    readings = heard([shapely.Point(degrees)], geographic, ["L1"])
    job = read(traced([beginning(grid)], projected), readings)
    begin = shapely.Point(job.routes.geometry.iloc[0].coords[0])
    assert job.readings.geometry.iloc[0].distance(begin) < within
    back = job.readings.to_crs(geographic).geometry.iloc[0]
    assert (back.x, back.y) == pytest.approx(degrees, abs=1e-9)
    assert not [f for f in job.faults if f.column == "geometry"]


FEET = outside(
    "a route in US survey feet, and one in international feet: where it lies, how long it is",
    against="1200/3937 m and 0.3048 m a foot: 1.81 m apart at 2.96 million feet",
    source="NIST SP 811, by definition; arithmetic",
    close="0.2 % of the gap; length to {within:g} of itself",
    within=3e-7,
)


@FEET
def test_two_feet_are_not_one():
    """2 ppm, which is 1.81 m at this easting: the reading lies where its own foot puts it."""
    international = pyproj.CRS(TEXAS_IN_FEET)
    assert international.axis_info[0].unit_conversion_factor == FOOT
    readings = heard([shapely.Point(TEXAS_FTUS)], international, ["L1"])
    job = read(traced([beginning(TEXAS_FTUS)], 32040), readings)
    begin = shapely.Point(job.routes.geometry.iloc[0].coords[0])
    apart = job.readings.geometry.iloc[0].distance(begin)
    assert apart == pytest.approx(np.hypot(*TEXAS_FTUS) * (SURVEY_FOOT - FOOT), rel=2e-3)
    assert TEXAS_FTUS[0] * (SURVEY_FOOT - FOOT) == pytest.approx(1.81, abs=0.005)
    assert job.readings.geometry.iloc[0].x < begin.x - 1.7


@FEET
def test_a_thousand_of_either_foot_are_its_own_metres(within):
    places = np.array(TEXAS_FTUS) + [[0.0, 0.0], [600.0, 800.0]]
    survey = pyproj.CRS(TEXAS_IN_FEET.replace("units=ft", "units=us-ft"))
    in_survey = read(traced([shapely.LineString(places)], survey))
    # The same ground in the other foot: coordinates grow by 2 ppm.
    same = shapely.LineString(places * SURVEY_FOOT / FOOT)
    in_feet = read(traced([same], TEXAS_IN_FEET))
    here = pyproj.Transformer.from_crs(survey, 4267, always_xy=True).transform(*places.T)
    clarke = Geodesic(6378206.4, 1 - 6356583.8 / 6378206.4)
    metres = clarke.Inverse(here[1][0], here[0][0], here[1][1], here[0][1])["s12"]
    assert lengths_m(in_survey)["L1"] == pytest.approx(metres, rel=within)
    assert lengths_m(in_feet)["L1"] == pytest.approx(metres, rel=within)
    # And the other foot on the same numbers is another length, by the two parts in a million.
    fewer = lengths_m(read(traced([shapely.LineString(places)], TEXAS_IN_FEET)))["L1"]
    assert fewer / metres - 1 == pytest.approx(FOOT / SURVEY_FOOT - 1, abs=within)


GEODESICS = outside(
    "chainage of kilometres of line, at any place and in any grid",
    against="geographiclib, itself held to the first line of GeodTest (9 398 502.043 m, 1 µm)",
    source="Karney, J. Geodesy 87, 2013, and its test set",
    close="2 parts in a million; 3 mm in a kilometre at a zone's edge",
)


@GEODESICS
def test_a_kilometre_of_the_published_geodesic_is_a_kilometre():
    lat1, lon1, lat2, lon2, metres = GEODTEST
    whole = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
    assert whole["s12"] == pytest.approx(metres, abs=1e-6)
    for from_m in (0.0, 0.3 * metres, 0.7 * metres, metres - 1000.0):
        line = Geodesic.WGS84.Line(lat1, lon1, whole["azi1"])
        stations = [line.Position(from_m + s) for s in np.linspace(0.0, 1000.0, 11)]
        route = shapely.LineString([(p["lon2"], p["lat2"]) for p in stations])
        assert lengths_m(read(traced([route], 4326)))["L1"] == pytest.approx(1000.0, abs=0.001)


@GEODESICS
@pytest.mark.parametrize(
    ("lon", "lat", "spread"),
    [(18.0, 50.0, 1.5), (179.99, -17.0, 0.02), (20.0, 84.5, 0.2), (0.0, -89.0, 3.0)],
    ids=["between zones", "antimeridian", "north of UTM", "pole"],
)
def test_wherever_the_job_is_grid_over_scale_is_ground(lon, lat, spread):
    rng = np.random.default_rng(5)
    lons = (lon + rng.uniform(-spread, spread, 40) + 180) % 360 - 180
    lats = np.clip(lat + rng.uniform(-spread, spread, 40) / 4, -89.9, 89.9)
    local = choose_local_crs(pyproj.CRS(4326), lons, lats)
    forward = pyproj.Transformer.from_crs(4326, local, always_xy=True)
    ends = [Geodesic.WGS84.Direct(b, a, 33.0, 20.0) for a, b in zip(lons, lats, strict=True)]
    middles = [Geodesic.WGS84.Direct(b, a, 33.0, 10.0) for a, b in zip(lons, lats, strict=True)]
    x0, y0 = forward.transform(lons, lats)
    x1, y1 = forward.transform([e["lon2"] for e in ends], [e["lat2"] for e in ends])
    xm, ym = forward.transform([m["lon2"] for m in middles], [m["lat2"] for m in middles])
    ground = np.hypot(x1 - x0, y1 - y0) / ground_scale(local, xm, ym)
    assert ground == pytest.approx(np.full(40, 20.0), abs=1e-5)


@GEODESICS
def test_metres_a_kilometre_are_those_of_the_geodesic():
    """A route of a kilometre in UTM, at the zone's edge, to a few millimetres."""
    bends = [Geodesic.WGS84.Direct(50.0, 12.1, 75.0, s) for s in np.arange(0.0, 1001.0, 50.0)]
    line = shapely.LineString([(p["lon2"], p["lat2"]) for p in bends])
    job = read(traced([line], 4326))
    # The grid alone is off by the zone's scale.
    assert abs(job.routes.geometry.iloc[0].length - 1000.0) > 0.05
    assert lengths_m(job)["L1"] == pytest.approx(1000.0, abs=0.003)


@GEODESICS
@pytest.mark.parametrize("crs", [32614, 2277, 3089])
@pytest.mark.parametrize("place", [(-97.5, 30.2), (-98.9, 29.1)])
def test_chainage_is_the_geodesic_on_the_ground(crs, place):
    lon = place[0] + np.array([0.0, 0.006, 0.015])
    lat = place[1] + np.array([0.0, 0.010, 0.004])
    geodesic = sum(GRS80.Inverse(lat[i], lon[i], lat[i + 1], lon[i + 1])["s12"] for i in (0, 1))
    datum = pyproj.CRS(crs).geodetic_crs
    xy = pyproj.Transformer.from_crs(datum, crs, always_xy=True).transform(lon, lat)
    job = read(traced([shapely.LineString(np.column_stack(xy))], crs))
    assert lengths_m(job)["L1"] == pytest.approx(geodesic, rel=2e-6)


@outside(
    "streets that come in Web Mercator are measured on the ground",
    against="bubenec of momepy: 3816.771 m by geodesics, 5948.451 m in its plane",
    source="worked out with pyproj's geodesics on momepy's bundled data",
    close="{within:g} m in all",
    within=0.005,
)
def test_web_mercator_is_a_trap_that_is_not_walked_into(within):
    # It takes a second, in every process that collects this file.
    import momepy

    streets = gpd.read_file(momepy.datasets.get_path("bubenec"), layer="streets")
    assert streets.crs.to_epsg() == 3857
    assert streets.length.sum() == pytest.approx(5948.451, abs=0.001)
    names = [f"S{i}" for i in range(len(streets))]
    job = read(traced(streets.geometry, 3857, names))
    assert job.crs.to_epsg() != 3857
    assert sum(lengths_m(job).values()) == pytest.approx(3816.771, abs=within)


def geodesic_lengths(pipes):
    """Length of every part of every pipe by geographiclib, with the pipe's place; degrees too."""
    degrees = pipes.to_crs(4269)
    xy, owner = shapely.get_coordinates(degrees.geometry.to_numpy(), return_index=True)
    inside = owner[1:] == owner[:-1]
    part = np.array([
        GRS80.Inverse(a[1], a[0], b[1], b[0])["s12"]
        for a, b in zip(xy[:-1][inside], xy[1:][inside], strict=True)
    ])  # fmt: skip
    return part, owner[1:][inside], xy[:-1][inside], xy[1:][inside]


@outside(
    "length of every pipe, and chainage of a reading a third along it, in two real networks",
    against="polylines of geographiclib: 1 156 pipes of ky4, 1 043 of ky10",
    source="networks bundled with wntr; their CRS (EPSG:3089) is an inference",
    close="{within:g} of the length and 1 mm",
    within=2e-6,
)
@pytest.mark.parametrize(("name", "count"), [("ky4", 1156), ("ky10", 1043)])
def test_chainage_on_real_pipes_is_that_of_geodesics(name, count, within):
    pipes = real_pipes(name)
    assert len(pipes) == count
    part, owner, begin, end = geodesic_lengths(pipes)
    whole = np.bincount(owner, part)
    sofar = np.cumsum(part) - np.repeat(np.cumsum(whole) - whole, np.bincount(owner))
    at = np.array([np.flatnonzero((owner == k) & (sofar >= whole[k] / 3))[0] for k in range(count)])
    places = []
    for k, i in enumerate(at):
        way = GRS80.Inverse(begin[i][1], begin[i][0], end[i][1], end[i][0])
        rest = whole[k] / 3 - (sofar[i] - part[i])
        there = GRS80.Direct(begin[i][1], begin[i][0], way["azi1"], rest)
        places.append(shapely.Point(there["lon2"], there["lat2"]))
    job = read(pipes, heard(places, 4269, pipes["line_id"]))
    lines = lines_of(job, 0.3)
    assert lines.length_m == pytest.approx(whole, rel=within, abs=1e-3)
    along, offset = lines.routes.locate(job.readings.geometry.to_numpy(), np.arange(count))
    assert along == pytest.approx(whole / 3, rel=within, abs=1e-3)
    assert np.abs(offset).max() < 0.02  # a long geodesic leaves the straight line of the grid


@outside(
    "lengths drawn against lengths stated, pipe by pipe",
    against="the pipes' own lengths in ky4 and ky10",
    source="networks bundled with wntr",
    close="0.05 % in all; 96 % of the pipes within {within:g} of their own",
    within=0.01,
)
@pytest.mark.parametrize("name", ["ky4", "ky10"])
def test_chainage_on_real_pipes_is_the_length_that_is_stated(name, within):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        network = wntr.network.WaterNetworkModel(name)
    stated = np.array([pipe.length for _, pipe in network.pipes()])
    drawn = lines_of(read(real_pipes(name)), 0.3).length_m
    assert drawn.sum() == pytest.approx(stated.sum(), rel=5e-4)
    # Some pipes are drawn roughly, in either network.
    assert np.mean(np.abs(drawn / stated - 1) < within) > 0.96


SNAPPING = outside(
    "the place on the line, and the way off it, of points on a network and beside it",
    against="libpysal's eberly_net: 110 points on its lines, 100 off, the farthest by 2.1746",
    source="libpysal's bundled data and its own point-to-segment distance",
    close="{within:g} of a unit",
    within=1e-6,
)


def eberly(name):
    import libpysal

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return gpd.read_file(libpysal.examples.get_path(f"eberly_net{name}.shp"))


def by_libpysal(points, lines):
    """Distance of each point to each line, and the share of the line it lies at."""
    from libpysal import cg

    # Its own classes of shapes are on their way out; the formula takes anything with two ends.
    ends = [SimpleNamespace(p1=line.coords[0], p2=line.coords[-1]) for line in lines]
    told = [[cg.get_segment_point_dist(two, p.coords[0]) for two in ends] for p in points]
    return np.moveaxis(np.array(told), 2, 0)


@SNAPPING
@pytest.mark.parametrize(
    ("where", "count", "farthest", "sds", "least"),
    [("on", 110, 0.0, (0.04, 0.03), 90), ("off", 100, 2.1746, (0.5, 0.3), 10)],
)
def test_points_snap_as_another_library_measures(where, count, farthest, sds, least, within):
    """A point that is given no line takes the nearest, or, where two are as likely, none."""
    net, points = eberly("").geometry, eberly(f"_pts_{where}network").geometry
    away, share = by_libpysal(points, net)
    first, second = np.sort(away, axis=1)[:, :2].T
    assert (len(points), first.max()) == (count, pytest.approx(farthest, abs=5e-5))
    moved = [shapely.transform(s.to_numpy(), lambda xy: xy + [458_000.0, 5_548_000.0])
             for s in (net, points)]  # fmt: skip
    names = np.array([f"E{i:02}" for i in range(len(net))])
    nearest = away.argmin(axis=1)
    # All of them twice: with no line given, and with that which is nearest by libpysal.
    readings = heard(np.tile(moved[1], 2), 32633, [*[None] * count, *names[nearest]])
    job = read(traced(moved[0], 32633, names).assign(position_sd_m=sds[1]),
               readings.assign(position_sd_m=sds[0]))  # fmt: skip
    found = leakgeo.profile(job)["readings_on_route"].reset_index(drop=True)
    free, told = found[:count], found[count:]
    # One line must be twenty times likelier than the next.
    clear = (second**2 - first**2) / 2 / np.hypot(*sds) ** 2 >= np.log(20)
    assert clear.sum() >= least
    assert free["line_id"].notna().tolist() == clear.tolist()
    assert free["line_id"][clear].tolist() == names[nearest][clear].tolist()
    assert told["used"].all()
    assert told["offset_m"].abs().to_numpy() == pytest.approx(first, abs=within)
    length = np.array([lengths_m(job)[name] for name in names])[nearest]
    chainage = share[np.arange(count), nearest] * length
    assert told["chainage_m"].to_numpy() == pytest.approx(chainage, abs=within)


NSSDA = outside(
    "95 % errors: along a line, around a point, and the ellipse of a mark",
    against="1.7308 RMSE_r, 2.4477 RMSE_x; scipy's chi-square; 95 % of 400 000 drawn errors",
    source="NSSDA, FGDC-STD-007.3-1998 (from memory); scipy",
    close="1e-6 of the factor; coverage to {within:g}",
    within=0.002,
)


@NSSDA
def test_factors_of_ninety_five_percent():
    assert pytest.approx(stats.chi2.ppf(0.95, 1) ** 0.5, abs=1e-6) == SD_TO_95_LINE
    assert pytest.approx(stats.chi2.ppf(0.95, 2) ** 0.5, abs=1e-6) == SD_TO_95_POINT
    assert pytest.approx(2.4477, abs=5e-5) == SD_TO_95_POINT
    # RMSE_r is the root of two RMSE_x where both axes are alike.
    assert pytest.approx(1.7308, abs=5e-5) == SD_TO_95_POINT / 2**0.5


@NSSDA
def test_a_point_s_error_is_circular(dig, gas_main):
    row = gas_main(3.0, geometry=shapely.Point(500_003.0, 4_200_000.0), position_sd_m=1.0)
    assert dig([row])[1]["error_95_m"].item() == pytest.approx(2.4477, abs=1e-4)
    line = dig([gas_main(3.0, position_sd_m=1.0)])[1]["error_95_m"].item()
    assert line == pytest.approx(1.96, abs=1e-4)


@NSSDA
def test_stated_errors_hold_ninety_five_in_a_hundred(within):
    x, y = np.random.default_rng(11).standard_normal((2, 400_000))
    assert np.mean(np.hypot(x, y) < SD_TO_95_POINT) == pytest.approx(0.95, abs=within)
    assert np.mean(np.abs(x) < SD_TO_95_LINE) == pytest.approx(0.95, abs=within)
    # Falsely stated errors would show: a line's factor around a point holds 85 in a hundred.
    assert np.mean(np.hypot(x, y) < SD_TO_95_LINE) < 0.95 - 40 * within


@NSSDA
def test_the_ellipse_of_a_mark_holds_ninety_five_in_a_hundred():
    rng = np.random.default_rng(1)
    along, across = rng.normal(0, [[0.2], [0.5]], (2, 40_000))
    bearing = np.radians(30.0)
    east = along * np.sin(bearing) + across * np.cos(bearing)
    north = along * np.cos(bearing) - across * np.sin(bearing)
    ring = error_ellipse(5, 7, 0.2 * SD_TO_95_POINT, 0.5 * SD_TO_95_POINT, 30.0)
    inside = shapely.contains_xy(ring, 5 + east, 7 + north).mean()
    # Its 48 sides cut off a little; four standard errors of the draw.
    assert inside == pytest.approx(0.95, abs=0.0045)

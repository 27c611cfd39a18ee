"""The local metre CRS: every job in every CRS is the same job on the ground."""

import geopandas as gpd
import numpy as np
import pyproj
import pyproj.network
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj.crs import CompoundCRS

from leakgeo.job.crs import (
    _median_position,
    base_geographic,
    choose_local_crs,
    ground_scale,
    is_georeferenced,
    is_suitable,
    units_of,
)
from leakgeo.job.datum import datum_shift
from leakgeo.reason import Reason
from tests.job import jobs

OS_DEGREES = (1.717922, 52.657571)  # a place on the British National Grid


def at(place, crs, run=(1.0, 1.0)):
    """Give a short route that begins at a place."""
    line = shapely.LineString([place, (place[0] + run[0], place[1] + run[1])])
    return jobs.layer([line], crs, line_id=["L1"])


def one_reading(place, crs):
    return jobs.layer(
        [shapely.Point(place)], crs, reading_id=["R"], line_id=["L1"], sound_level=[40.0],
        sound_unit=["db"],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("crs", "chosen"),
    [
        (32633, "WGS 84 / UTM zone 33N"),
        (5514, "S-JTSK / Krovak East North"),
        (32118, "NAD83 / New York Long Island"),
        (27700, "OSGB36 / British National Grid"),
        (2263, "NAD83 / UTM zone 18N"),
        (6539, "NAD83(2011) / UTM zone 18N"),
        (32040, "NAD27 / UTM zone 14N"),
        (4267, "NAD27 / UTM zone 14N"),
        (3857, "WGS 84 / UTM zone 33N"),
        (3395, "WGS 84 / UTM zone 33N"),
        (3035, "ETRS89 / UTM zone 33N"),
        (4326, "WGS 84 / UTM zone 33N"),
        (4979, "WGS 84 / UTM zone 33N"),
        (27572, "NTF (Paris) / Lambert zone II"),  # degrees of its datum are grads
    ],
)
def test_the_crs_chosen(crs, chosen):
    place = {27700: OS_DEGREES, 32118: (-73.9, 40.7), 2263: (-73.9, 40.7), 6539: (-73.9, 40.7),
             32040: (-97.5, 28.5), 4267: (-97.5, 28.5), 27572: (2.3, 47.0),
             }.get(crs, (14.4, 50.1))  # fmt: skip
    there = pyproj.Transformer.from_crs(4326, crs, always_xy=True).transform(*place)
    local = choose_local_crs(pyproj.CRS(crs), [there[0]], [there[1]])
    assert local.name == chosen
    assert [a.unit_conversion_factor for a in local.axis_info] == [1.0, 1.0]


@pytest.mark.parametrize("lat", [0.0, 30.0, 60.0])
def test_web_mercator_is_never_computed_in_even_at_the_equator(lat):
    """PROJ's own factors say 1.000 and conformal for it there; on the ellipsoid it is 0.7 % off."""
    x, y = pyproj.Transformer.from_crs(4326, 3857, always_xy=True).transform(15.0, lat)
    local = choose_local_crs(pyproj.CRS(3857), [x], [y])
    assert local.to_epsg() == 32633


def test_mirrored_axes_are_not_computed_in():
    """Left and right of a line would change places."""
    x, y = pyproj.Transformer.from_crs(4326, 5513, always_xy=True).transform(14.4, 50.1)
    assert choose_local_crs(pyproj.CRS(5513), [x], [y]).to_epsg() != 5513


def test_a_stray_does_not_move_the_choice():
    lon, lat = np.r_[np.full(60, 14.4), 0.0], np.r_[np.full(60, 50.1), 0.0]
    assert choose_local_crs(pyproj.CRS(4326), lon, lat).to_epsg() == 32633


def test_ground_scale_of_nowhere_is_nan():
    assert np.isnan(ground_scale(pyproj.CRS(32633), [np.inf], [np.nan])).all()


@pytest.mark.parametrize(
    ("crs", "earthly"),
    [
        (4326, True),
        (4978, False),
        ('LOCAL_CS["site",UNIT["metre",1]]', False),
        ("+proj=tmerc +lat_0=50 +lon_0=14 +ellps=GRS80 +units=m", True),
        (
            "+proj=tmerc +lat_0=50 +lon_0=14 +ellps=bessel +towgs84=570,85,462,5,1,5,3 +units=m",
            True,
        ),
        ("EPSG:2263+6360", True),
    ],
)
def test_what_counts_as_a_crs(crs, earthly):
    assert is_georeferenced(pyproj.CRS(crs)) is earthly


_BOUND = "+proj=tmerc +lat_0=50 +lon_0=14 +ellps=bessel +towgs84=570,85,462,5,1,5,3 +units=us-ft"
_FEET_AND_HEIGHT = CompoundCRS(
    "feet and height", [pyproj.CRS("+proj=tmerc +lat_0=50 +lon_0=14 +datum=WGS84 +units=ft"), 5703]
)
WRITTEN_IN = [4326, 3857, 32632, 32633, 4979, 3035, _BOUND, _FEET_AND_HEIGHT]


@settings(max_examples=12)
@given(
    crs=st.sampled_from(WRITTEN_IN),
    other=st.sampled_from(WRITTEN_IN),
    east=st.floats(-3000, 3000),
    north=st.floats(-3000, 3000),
    bearing=st.floats(0, 360),
)
def test_a_job_is_the_same_on_the_ground_in_any_crs(
    tmp_path_factory, crs, other, east, north, bearing
):
    """Routes in one CRS, readings in another: lengths and gaps are those of the geodesic."""
    folder = tmp_path_factory.mktemp("job")
    begin = Geodesic.WGS84.Direct(50.08, 14.42, 90.0, east)
    begin = Geodesic.WGS84.Direct(begin["lat2"], begin["lon2"], 0.0, north)
    end = Geodesic.WGS84.Direct(begin["lat2"], begin["lon2"], bearing, 60.0)
    middle = Geodesic.WGS84.Direct(begin["lat2"], begin["lon2"], bearing, 25.0)
    line = shapely.LineString([(p["lon2"], p["lat2"]) for p in (begin, end)])
    point = shapely.Point(middle["lon2"], middle["lat2"])
    routes = jobs.layer([line], 4326, line_id=["L1"]).to_crs(_flat(crs))
    readings = one_reading((point.x, point.y), 4326).to_crs(_flat(other))
    job = jobs.read(
        folder,
        routes=routes.set_crs(crs, allow_override=True),
        readings=readings.set_crs(other, allow_override=True),
    )
    trace, place = job.routes.geometry.iloc[0], job.readings.geometry.iloc[0]
    scale = ground_scale(job.crs, [place.x], [place.y])[0]
    assert trace.length / scale == pytest.approx(60.0, abs=0.005)
    assert trace.project(place) / scale == pytest.approx(25.0, abs=0.005)
    assert trace.distance(place) < 0.005


def _flat(crs):
    crs = pyproj.CRS(crs)
    return crs.sub_crs_list[0] if crs.is_compound else crs


def test_a_datum_shift_that_is_a_guess_is_not_used(tmp_path):
    """Without its grid file PROJ takes NAD27 for NAD83, tens of metres off."""
    place = (-97.5, 28.5)
    shift = datum_shift(pyproj.CRS(4267), pyproj.CRS(4269), place)
    if not shift.guessed:
        pytest.skip("PROJ's grid files are installed here")
    job = jobs.read(
        tmp_path, routes=at(place, 4269, (1e-4, 1e-4)), readings=one_reading(place, 4267)
    )
    guessed = Reason("datum_guessed", datum="NAD27", routes_datum="NAD83")
    assert job.readings["reason"].iloc[0] == guessed
    (fault,) = [f for f in job.faults if f.layer == "readings"]
    assert fault.reason == guessed


def test_a_poor_datum_shift_is_told(tmp_path):
    place = (14.4, 50.1)
    there = pyproj.Transformer.from_crs(4326, 5514, always_xy=True).transform(*place)
    job = jobs.read(tmp_path, routes=at(there, 5514), readings=one_reading(place, 4326))
    assert job.readings["reason"].isna().all()
    (fault,) = [f for f in job.faults if f.layer == "readings"]
    assert (fault.code, dict(fault.reason.values)["accuracy_m"]) == ("datum_shift_poor", 1.0)


def test_a_layer_somewhere_else_is_told(tmp_path):
    table = jobs.readings().to_crs(4326)
    swapped = gpd.GeoSeries(gpd.points_from_xy(table.geometry.y, table.geometry.x), crs=4326)
    job = jobs.read(tmp_path, readings=table.set_geometry(swapped))
    (fault,) = [f for f in job.faults if f.layer == "readings"]
    assert (fault.code, fault.reason.then) == ("far_from_routes", (Reason("would_fit_swapped"),))
    assert dict(fault.reason.values)["away_m"] > 1e6


def test_a_crs_made_for_a_nameless_datum_can_be_brought_to_two_dimensions():
    nameless = pyproj.CRS.from_proj4("+proj=aea +lat_1=40 +lat_2=44 +lon_0=-87 +datum=NAD83")
    place = pyproj.Transformer.from_crs(4326, nameless, always_xy=True).transform(-87.3, 43.2)
    chosen = choose_local_crs(nameless, [place[0], place[0] + 9e4], [place[1], place[1] + 10.0])
    assert base_geographic(chosen).is_geographic
    assert chosen.to_2d().is_projected


def test_a_local_projection_is_centred_on_a_thousandth_of_a_degree_with_round_origins():
    # Near the pole no UTM zone is defined.
    local = choose_local_crs(pyproj.CRS(4326), [20.12345] * 3, [88.98765] * 3)
    given = {p.name: p.value for p in local.coordinate_operation.params}
    assert given["Longitude of natural origin"] == 20.123
    assert given["Latitude of natural origin"] == 88.988
    assert given["False easting"] == given["False northing"] == 500_000.0
    assert given["Scale factor at natural origin"] == 1.0
    x, y = pyproj.Transformer.from_crs(4326, local, always_xy=True).transform(20.123, 88.988)
    assert (x, y) == pytest.approx((500_000.0, 500_000.0), abs=1e-3)


def test_a_geographic_crs_and_one_in_feet_are_not_suitable():
    lon, lat = np.array([-74.0]), np.array([40.7])
    assert is_suitable(pyproj.CRS(4326), lon, lat) is False
    assert is_suitable(pyproj.CRS(2263), lon, lat) is False
    assert is_suitable(pyproj.CRS(32618), lon, lat) is True


def test_the_scale_in_a_crs_that_counts_from_another_meridian():
    # 100 km from the central meridian of a transverse Mercator projection; the earth's mean radius.
    scale = ground_scale(pyproj.CRS("MGI (Ferro) / Austria GK East Zone"), [1e5], [3e5])
    assert scale == pytest.approx(1 + (1e5 / 6_371_000.0) ** 2 / 2, abs=1e-6)


def test_a_metre_that_is_not_quite_one_is_not_measured_in():
    german_legal = "+proj=tmerc +lat_0=-22 +lon_0=17 +ellps=bessel +to_meter={}"
    place = np.array([17.0]), np.array([-22.0])
    assert is_suitable(pyproj.CRS(german_legal.format(1.0)), *place)
    assert not is_suitable(pyproj.CRS(german_legal.format(1.0000135965)), *place)


@pytest.mark.parametrize(("too_long", "fits"), [(8e-6, True), (-8e-6, True), (13e-6, False)])
def test_a_crs_is_measured_in_where_its_angles_are_true_to_a_hundred_thousandth(too_long, fits):
    # True to length to the north, and to the east at 50 degrees: cos(50) / cos(latitude).
    cylindrical = pyproj.CRS("+proj=eqc +lat_ts=50 +lon_0=14 +R=6371000 +units=m")
    lat = 50.0 + np.degrees(too_long / np.tan(np.radians(50.0)))
    assert is_suitable(cylindrical, np.array([14.0]), np.array([lat])) is fits


def test_the_steps_of_a_measurement_are_short_even_where_parallels_are_small_circles():
    # 12 km from the pole a straight line of 200 m is 2 in 100 000 off the parallel.
    lat = 90.0 - np.degrees(12.0 / 6371.0)
    cylindrical = pyproj.CRS(f"+proj=eqc +lat_ts={lat} +lon_0=14 +R=6371000 +units=m")
    assert is_suitable(cylindrical, np.array([14.0]), np.array([lat]))


def test_points_on_both_sides_of_the_date_line_have_their_middle_there():
    lon, lat = _median_position(np.array([179.9, -179.9, -179.7]), np.array([-17.0, -16.0, -18.0]))
    assert (lon, lat) == (pytest.approx(-179.9), -17.0)
    # One far away does not count, and the middle of an even number is between two.
    lon, _ = _median_position(np.array([14.4, 14.6, 14.8, -100.0]), np.full(4, 50.0))
    assert lon == pytest.approx(14.5)
    assert choose_local_crs(pyproj.CRS(4326), [179.9, -179.9, -179.7], [-17.0] * 3).utm_zone == "1S"


def test_points_without_a_place_on_the_earth_are_left_out():
    degrees, east, north = pyproj.CRS(4326), [14.4, np.nan, 14.4], [50.1, 50.1, 95.0]
    assert choose_local_crs(degrees, east, north).to_epsg() == 32633
    with pytest.raises(ValueError, match="No point"):
        choose_local_crs(degrees, east[1:], north[1:])
    # The pole is a place.
    assert choose_local_crs(degrees, [0.0], [90.0]).is_projected


def test_the_datum_of_a_crs_with_its_own_shift_is_its_target():
    assert base_geographic(pyproj.CRS(_BOUND)).name == "WGS 84"
    assert base_geographic(pyproj.CRS("EPSG:27572")).name == "NTF (Paris)"


def test_units_of_people_are_feet_where_those_of_the_crs_are():
    assert [units_of(crs) for crs in (None, pyproj.CRS(_BOUND), _FEET_AND_HEIGHT)] == [
        "si", "us", "us",
    ]  # fmt: skip
    # Only the height is in feet.
    assert units_of(pyproj.CRS("EPSG:32633+6360")) == "si"


def test_what_is_no_crs_of_the_earth():
    undefined = pyproj.CRS(pyproj.CRS(4326).to_wkt().replace("WGS 84", "Undefined geographic SRS"))
    assert is_georeferenced(undefined) is False
    assert is_georeferenced(None) is False


def test_no_grid_is_downloaded():
    assert pyproj.network.is_network_enabled() is False

"""Limits of the checks of shapes, copies, areas and texts, each tried on both of its sides."""

from __future__ import annotations

from itertools import product
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely

from leakgeo.job.checks.collector import as_text, merged_reason
from leakgeo.job.checks.crs_mismatch import _mistakes, _other_zones, position_faults
from leakgeo.job.checks.duplicates import (
    _comparable,
    _equal_pairs,
    _in_copied_walks,
    _walk_name,
)
from leakgeo.job.checks.lines import (
    _nearest_other_line,
    _off_line_faults,
    _walks_at_one_place,
    points_along,
)
from leakgeo.job.checks.rows import levels
from leakgeo.job.checks.shapes import (
    check_shapes,
    check_transformed,
    count_reversals,
    implausible_routes,
)
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason
from tests.job import jobs
from tests.job.test_place_limits import collector

UTM_16 = pyproj.CRS(32616)


def turn(degrees, leg_m=5.0):
    """Give a line that turns by an angle after 5 m, and goes on for `leg_m`."""
    back = np.radians(180.0 - degrees)
    return shapely.LineString([(0, 0), (5, 0), (5 - leg_m * np.cos(back), leg_m * np.sin(back))])


def test_a_line_turns_back_within_four_degrees_on_legs_of_a_foot():
    lines = [turn(176.1), turn(175.9), turn(184.1), turn(90), turn(180, 0.31), turn(180, 0.29)]
    assert count_reversals(np.array(lines)).tolist() == [1, 0, 0, 0, 1, 0]
    # Each line by itself, whatever stands before it, and a doubled vertex is one.
    doubled = shapely.LineString([(0, 0), (5, 0), (5, 0), (0, 0.1)])
    ahead = shapely.LineString([(0, 0), (9, 0)])
    back = shapely.LineString([(9, 0), (0, 0)])
    assert count_reversals(np.array([ahead, back, doubled, None, ahead])).tolist() == [
        0,
        0,
        1,
        0,
        0,
    ]


def test_heights_are_kept_only_where_every_vertex_has_one():
    heights = [(5.0, 6.0, 7.0), (5.0, 0.0, 0.0), (5.0, np.nan, 7.0), (0.0, 0.0, 0.0)]

    def route(k, zs):
        x, y = jobs.EAST + 20 * k, jobs.NORTH
        return shapely.LineString([(x, y + i, z) for i, z in enumerate(zs)])

    shapes = [route(k, zs) for k, zs in enumerate(heights)]
    names = [f"L{k}" for k in range(4)]
    routes = jobs.layer(shapes, line_id=names, material=["pvc"] * 4)
    job = read_job({"routes": routes, "readings": jobs.readings(line_id=[None] * 4)})
    assert shapely.has_z(job.routes.geometry.to_numpy()).tolist() == [True, False, False, True]
    assert sorted(f.feature for f in job.faults if f.code == "z_in_part") == ["L1", "L2"]


def test_a_route_without_a_place_or_too_short_or_long_is_rejected():
    ends = [0.0005, 0.002, 99_999.0, 100_001.0, 2e8]
    shapes = np.array([shapely.LineString([(0, 0), (end, 0)]) for end in ends] + [None])
    issues = collector(shapes, "routes")
    after = check_transformed(shapes, shapes, load_schema("routes"), issues, np.zeros(6, bool))
    given = [reason and reason.code for reason in issues.reasons]
    assert given == ["route_without_length", None, None, "route_too_long", "no_place_in_crs", None]
    assert [shape is None for shape in after] == [True, False, False, True, True, True]


def test_a_reading_with_a_tape_may_lose_its_place():
    far = np.array([shapely.Point(2e8, 0.0)] * 2)
    issues, taped = collector(far), np.array([True, False])
    after = check_transformed(far, far, load_schema("readings"), issues, taped)
    assert [reason and reason.code for reason in issues.reasons] == [None, "no_place_in_crs"]
    assert [fault.effect for fault in issues.faults] == ["rejected", "noted"]
    assert shapely.is_missing(after).all()


def test_a_geometry_has_one_fault_the_first():
    shapes = np.array([
        None, shapely.Point(), shapely.LineString([(0, 0), (1, 1)]), shapely.Point(1.01e12, 0.0),
        shapely.Point(1e12, 0.0),
    ])  # fmt: skip
    issues = collector(shapes)
    after = check_shapes(shapes, load_schema("readings"), issues, np.zeros(5, dtype=bool))
    assert [fault.code for fault in issues.faults] == [
        "reading_without_geometry", "reading_geometry_empty", "coordinate_not_finite",
        "wrong_geometry_type",
    ]  # fmt: skip
    assert shapely.is_missing(after).tolist() == [True] * 4 + [False]


def test_a_route_that_crosses_itself_is_reported_and_one_without_a_shape_is_not():
    cross = shapely.LineString([(0, 0), (9, 0), (9, 5), (4, 5), (4, -5)])
    rows = gpd.GeoDataFrame(geometry=[cross, None, turn(90), turn(180)], crs=jobs.CRS)
    issues = collector(rows, "routes")
    implausible_routes(rows, issues)
    found = {fault.feature: fault.reason for fault in issues.faults}
    assert found == {"0": Reason("route_crosses_itself"), "3": Reason("route_turns_back", times=1)}


def test_multipoints_of_one_point_are_points_and_of_two_are_none():
    one, two = (shapely.MultiPoint([(jobs.EAST + k, jobs.NORTH) for k in range(n)]) for n in (1, 2))
    table = jobs.readings(2)
    table["geometry"] = [one, two]
    job = read_job({"routes": jobs.routes(), "readings": table})
    assert jobs.codes(job.readings) == [None, "wrong_geometry_type"]
    assert job.readings.geometry.iloc[0].geom_type == "Point"


@pytest.mark.parametrize("aside_m", [0.0, 2.0, -2.0])
def test_points_beside_a_line_are_at_a_right_angle_to_it_up_to_its_ends(aside_m):
    line = shapely.LineString([(0, 0), (3, 4)])  # of 5 m
    along = np.array([0.0, 2.5, 5.0])
    # A tape that began a little before the route counts from its start, not back from its end.
    taped = along - [0.1, 0.0, -0.1]
    points = points_along(np.array([line] * 3), taped, np.full(3, aside_m))
    expected = along[:, None] * [0.6, 0.8] + aside_m * np.array([-0.8, 0.6])
    np.testing.assert_allclose(shapely.get_coordinates(points), expected, atol=1e-9)


def test_points_near_a_bend_are_beside_their_own_leg():
    bend = shapely.LineString([(0, 0), (5, 0), (5, 5)])
    along = 5.0 + np.array([-0.012, 0.012])
    points = points_along(np.array([bend] * 2), along, np.full(2, 2.0))
    expected = [(4.988, 2.0), (3.0, 0.012)]
    np.testing.assert_allclose(shapely.get_coordinates(points), expected, atol=1e-9)


def test_the_nearest_other_line_is_within_the_errors_of_reading_and_trace():
    lines = np.array([shapely.LineString([(0, y), (50, y)]) for y in (0.0, 4.0, -9.0)])
    points = shapely.points([10.0, 10.0, 10.0], [3.0, -4.0, 6.6])
    # Errors of the readings 0.3 m, of the traces 0.4 m: 1 m and 4 times 0.5 m.
    found = _nearest_other_line(points, np.full(3, 0.3), np.zeros(3, int), lines, np.full(3, 0.4))
    assert found.tolist() == [1, -1, 1]
    beyond = _nearest_other_line(
        shapely.points([10.0], [7.1]), np.array([0.3]), np.zeros(1, int), lines, np.full(3, 0.4)
    )
    assert beyond.tolist() == [-1]
    # Of two at the same distance it is the first.
    between = _nearest_other_line(
        shapely.points([10.0], [2.0]), np.array([0.3]), np.full(1, 2), lines, np.full(3, 0.4)
    )
    assert between.tolist() == [0]


@pytest.mark.parametrize(
    ("same", "stops", "reported"), [(4, 4, False), (5, 6, True), (5, 7, False)]
)
def test_a_walk_is_at_one_place_with_five_stops_and_four_in_five(same, stops, reported):
    x = [0.0] * same + list(np.arange(1.0, stops - same + 1))
    rows = gpd.GeoDataFrame(
        {"line_id": "L1", "walk_id": "W", "tape_m": np.nan}, geometry=shapely.points(x, 0.0),
        index=range(stops), crs=jobs.CRS,
    )  # fmt: skip
    faults = list(_walks_at_one_place(rows, np.ones(stops, dtype=bool)))
    assert bool(faults) is reported


def test_walks_at_one_place_come_as_they_were_read_and_not_from_a_tape_or_an_air_test():
    walks = np.repeat(["Z", "A", "taped", "air"], 6)
    rows = gpd.GeoDataFrame(
        {"line_id": "L1", "walk_id": walks, "tape_m": np.where(walks == "taped", 3.0, np.nan),
         "air": np.where(walks == "air", "on", None)},
        geometry=shapely.points(np.zeros((24, 2))), index=range(24), crs=jobs.CRS,
    )  # fmt: skip
    faults = [*_walks_at_one_place(rows, np.ones(24, dtype=bool))]
    named = [dict(fault.reason.values)["walk"] for fault in faults]
    assert named == [Reason("walk_named", walk=name) for name in ("Z", "A")]


def compared(xy, **columns):
    """Give readings of one level as they are compared."""
    data = {"line_id": "L1", "walk_id": "W", "seq": np.nan, "time": pd.NaT, "sound_level": 40.0,
            "sound_unit": "db", "gain_db": np.nan, "sensor": "s", "band": "wide",
            "air": None}  # fmt: skip
    points = shapely.points(np.asarray(xy, dtype=float))
    table = gpd.GeoDataFrame({**data, **columns}, geometry=points, index=range(len(xy)))
    return _comparable(
        table.assign(time=pd.to_datetime(table["time"], utc=True)), np.arange(len(xy))
    )


@pytest.mark.parametrize(("x", "y"), [*product([0.0, 0.025, 0.05, 0.075, 3.3], [0.0, 0.05, 7.21])])
@pytest.mark.parametrize(("step", "same"), [((0.04, 0.04), True), ((0.06, 0.0), False)])
def test_two_readings_are_at_one_place_within_5_cm_wherever_they_are(x, y, step, same):
    pairs = _equal_pairs(compared([(x, y), (x + step[0], y + step[1])]))
    assert len(pairs) == same


@pytest.mark.parametrize("there", [(0.05, 0.0), (0.0, 0.05), (0.05, 0.05)])
def test_five_centimetres_are_one_place(there):
    assert len(_equal_pairs(compared([(0.0, 0.0), there]))) == 1


def test_a_time_is_exact_with_seconds_or_where_the_times_of_a_walk_differ():
    day = pd.Timestamp("2025-03-31T08:00Z")
    walks = {"one": [0, 0], "two": [0, 60], "seconds": [5, 5], "none": [None, None]}
    times = [pd.NaT if s is None else day + pd.Timedelta(seconds=s)
             for both in walks.values() for s in both]  # fmt: skip
    xy = [(3.0 * k, 0.0) for k in range(8)]
    own = compared(xy, walk_id=np.repeat([*walks], 2), time=times)
    assert own["exact"].tolist() == [False, False, True, True, True, True, False, False]


def test_each_of_several_readings_at_one_place_is_compared_with_eight_before():
    pairs = _equal_pairs(compared([(5.0, 5.0)] * 10))
    apart = (pairs["again"] - pairs["first"]).to_numpy()
    assert sorted(np.unique(apart)) == list(range(1, 9))
    assert len(pairs) == sum(10 - k for k in range(1, 9))


def test_readings_a_hand_away_do_not_hide_a_copy():
    beside = [(0.05 + away, 0.05) for away in (0.11, -0.11) for _ in range(8)]
    pairs = _equal_pairs(compared([(0.05, 0.05), *beside, (0.05, 0.05)]))
    assert (0, 17) in pairs.itertuples(index=False, name=None)


@pytest.mark.parametrize(
    ("equal", "other", "copied"), [(6, 0, True), (5, 0, False), (17, 1, True), (16, 1, False)]
)
def test_a_walk_is_a_copy_with_six_telling_readings_and_nineteen_in_twenty(equal, other, copied):
    # Two more are at the most frequent level, which tells nothing.
    level = np.append(np.arange(equal + other) + 40.0, [30.0, 30.0])
    again = level.copy()
    again[:other] += 0.5
    xy = [(3.0 * k, 0.0) for k in range(len(level))] * 2
    walks = ["W"] * len(level) + ["V"] * len(level)
    own = compared(xy, walk_id=walks, sound_level=np.append(level, again))
    found = _in_copied_walks(own, _equal_pairs(own))
    assert found.any() == copied


def area_codes(lon, lat, crs=UTM_16):
    return [fault.code for fault in position_faults(crs, lon, lat)]


def test_a_place_is_outside_the_area_of_its_crs_four_degrees_beyond_it():
    # Zone 16 north reaches from 90 to 84 degrees west, and from the equator to 84 degrees north.
    for lon, lat, outside in ((-93.9, 40, 0), (-94.1, 40, 1), (-80.1, 40, 0), (-79.9, 40, 1),
                              (-87, -3.9, 0), (-87, -4.1, 1), (-87, 79.9, 0)):  # fmt: skip
        assert area_codes(lon, lat) == ["outside_crs_area"] * outside, (lon, lat)
    assert area_codes(-87, 80.1) == ["near_pole"]
    # Zone 1 begins at the date line.
    for lon, outside in ((176.1, 0), (175.9, 1), (-170.1, 0), (-169.9, 1)):
        assert area_codes(lon, 40, pyproj.CRS(32601)) == ["outside_crs_area"] * outside, lon


def test_neighbouring_zones_are_those_of_the_same_datum_nearest_first():
    assert [z.utm_zone for z in _other_zones(UTM_16)] == ["15N", "17N", "14N", "18N", "13N", "19N"]
    assert [z.utm_zone for z in _other_zones(pyproj.CRS(32601))] == ["2N", "3N", "4N"]
    assert list(_other_zones(pyproj.CRS(2289))) == []


def test_the_mistakes_in_a_crs_are_undone_as_they_were_made():
    tried = {m.code: (x, y) for m, x, y, _ in _mistakes(90.0, 45.0, UTM_16, UTM_16)}
    assert tried["would_fit_swapped"] == (45.0, 90.0)
    assert tried["would_fit_degrees"] == (90.0, 45.0)
    assert tried["would_fit_feet"] == (90 * 0.3048, 45 * 0.3048)
    metres = tried["would_fit_metres_not_us_survey_feet"]
    assert metres == pytest.approx((90 * 3937 / 1200, 45 * 3937 / 1200))
    degrees = {"would_fit_degrees", "would_fit_degrees_swapped"}
    for x, y, fit in ((180.0, 45.0, True), (-45.0, -180.0, True), (181.0, 45.0, False)):
        found = {m.code for m, *_ in _mistakes(x, y, UTM_16, UTM_16)}
        assert found & degrees == (degrees if fit else set())


@pytest.mark.parametrize(
    ("level", "unit", "code"),
    [(0.0, "scale", None), (-0.1, "scale", "level_negative"), (-250.0, "db", None),
     (250.1, "db", "level_not_decibels"), (-250.1, "db", "level_not_decibels")],
)  # fmt: skip
def test_a_level_beyond_its_unit_is_rejected(level, unit, code):
    table = pd.DataFrame({"sound_level": [level], "sound_unit": [unit]})
    issues = collector(table)
    levels(table, issues)
    assert [reason and reason.code for reason in issues.reasons] == [code]


@pytest.mark.parametrize(
    ("wrong", "good", "rejected"),
    [([900, 901, 902], 12, True), ([900, 901, 902], 13, False), ([900, 901], 2, False),
     ([900] * 5, 2, False)],
)  # fmt: skip
def test_a_walk_is_not_in_decibels_with_a_fifth_and_three_values_that_cannot_be(
    wrong, good, rejected
):
    values = [*wrong, *range(30, 30 + good)]
    table = pd.DataFrame({"sound_level": np.array(values, float), "sound_unit": "db",
                          "line_id": "L1", "walk_id": "W"})  # fmt: skip
    issues = collector(table)
    levels(table, issues)
    assert (not issues.good[len(wrong) :].any()) is rejected


def test_values_in_faults_are_short_and_merged():
    assert as_text("x" * 80) == "x" * 80
    assert as_text("x" * 81) == "x" * 77 + "..."
    several = [Reason("c", size=n, name=t, one=1) for n, t in ((3, "b"), (1, "a"), (2, "b"))]
    assert merged_reason(several) == Reason("c", size=(1, 3), name=("b", "a"), one=1)


def test_a_check_of_another_kind_of_layer_is_left_alone():
    schema = SimpleNamespace(name="utilities")
    shapes = np.array([shapely.LineString([(0, 0), (0.0005, 0)])])
    issues = collector(shapes, "utilities")
    check_transformed(shapes, shapes, schema, issues, np.zeros(1, bool))
    assert issues.good.all()


def test_an_outline_that_crosses_itself_is_repaired_and_one_without_area_is_rejected():
    x, y = jobs.EAST, jobs.NORTH
    bow = shapely.Polygon([(x, y), (x + 1, y + 1), (x + 1, y), (x, y + 1)])
    # A repaired outline of half a square metre is an area; a line there and back is none.
    flat = shapely.Polygon([(x, y), (x + 5, y), (x, y)])
    utilities = jobs.layer([bow, flat], utility_id=["U1", "U2"], kind=["gas", "gas"],
                           depth_m=[0.9, 0.9], notified=[True, True])  # fmt: skip
    tables = {"routes": jobs.routes(), "readings": jobs.readings(), "utilities": utilities}
    job = read_job(tables)
    checked = job.utilities
    assert jobs.codes(checked) == [None, "outline_without_area"]
    assert [f.feature for f in job.faults if f.code == "outline_repaired"] == ["U1"]
    assert checked.geometry.iloc[0].area == pytest.approx(0.5, rel=1e-3)


def test_readings_off_more_than_twenty_lines_are_one_fault_of_all():
    names = np.array([f"L{k}" for k in range(21)], dtype=object)
    own = np.append(np.arange(21), -1)
    few, all_of_them = (
        [*_off_line_faults(np.where(own < n, own, -1), np.full(22, 3.0), names)] for n in (20, 21)
    )
    assert [fault.feature for fault in few] == [f"L{k}" for k in range(20)]
    assert [fault.feature for fault in all_of_them] == ["L0 and 20 more lines"]
    assert dict(all_of_them[0].reason.values)["readings"] == 21


def test_readings_without_walk_or_line_are_named_as_such():
    rows = [{"walk_id": w, "line_id": n} for w, n in (("W", "L"), (None, "L"), (None, None))]
    codes = [_walk_name(pd.Series(row, dtype=object)).code for row in rows]
    assert codes == ["walk_named", "readings_without_walk", "readings_without_line"]


def test_an_unknown_code_is_replaced_where_the_column_has_one_for_it():
    tables = {"routes": jobs.routes(material=["gold", "pvc"]), "readings": jobs.readings()}
    job = read_job(tables)
    fault = next(f for f in job.faults if f.code == "unknown_code")
    assert "unknown" in fault.problem
    assert fault.effect == "noted"
    assert job.routes["material"].tolist() == ["unknown", "pvc"]


def test_an_unknown_code_that_rejects_its_row_leaves_no_value():
    tables = {"routes": jobs.routes(), "readings": jobs.readings(band=["low", "mid", None, "high"])}
    job = read_job(tables)
    assert jobs.codes(job.readings) == [None, "unknown_code", None, None]
    assert job.readings["band"].isna().tolist() == [False, True, True, False]


@pytest.mark.parametrize(("length", "kept"), [(2000, True), (2001, False)])
def test_a_text_of_more_than_two_thousand_characters_is_left_out(length, kept):
    text = "x" * length
    routes = jobs.routes(address=[text, "1 Main St"])
    job = read_job({"routes": routes, "readings": jobs.readings(walk_id=[text, "W", "W", "W"])})
    assert job.routes["address"].notna().tolist() == [kept, True]
    assert job.routes["reason"].isna().all()
    found = [f for f in job.faults if f.code == "text_too_long" and f.layer == "routes"]
    assert [f.reason.then for f in found] == ([] if kept else [(Reason("left_out"),)])
    # Without the name of its line a reading would be placed on another.
    named = jobs.readings(line_id=["L1", text, "L1", "L1"])
    rejected = jobs.codes(read_job({"routes": jobs.routes(), "readings": named}).readings)
    assert rejected == [None, "line_unknown" if kept else "text_too_long", None, None]


def test_ten_unused_columns_are_named_and_the_others_counted():
    extra = {f"column_{k:02}": [0.0] * 4 for k in range(12)}
    job = read_job({"routes": jobs.routes(), "readings": jobs.readings(**extra)})
    [fault] = [f for f in job.faults if f.code == "columns_not_used"]
    values = dict(fault.reason.values)
    assert (values["columns"], len(values["names"]), values["more"]) == (12, 10, 2)

"""Limits of the checks of places, walks and displays, each tried on both of its sides."""

from __future__ import annotations

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely
from scipy import integrate, stats

from leakgeo.job.checks import crs_mismatch, displays
from leakgeo.job.checks.collector import IssueCollector, _range_text
from leakgeo.job.checks.crs_mismatch import far_from_routes, looks_like_degrees, other_foot
from leakgeo.job.checks.lines import (
    CHAINAGE_ONLY_SD_M,
    _find_off_line,
    _line_pairs,
    readings_off_their_lines,
)
from leakgeo.job.checks.rows import meter_tests, times_going_back
from leakgeo.job.read import read_job
from tests.job import jobs

LOCAL, US_FEET = pyproj.CRS(32616), pyproj.CRS(2289)


def collector(table, layer="readings"):
    return IssueCollector(layer, np.arange(len(table)).astype(str).astype(object))


def codes(issues):
    return [fault.reason.code for fault in issues.faults]


def in_other_foot(aside_m, count=12, crs=US_FEET, sd_m=0.05):
    """Give readings in the other foot, some metres to both sides of a line to the north."""
    to_local = pyproj.Transformer.from_crs(US_FEET, LOCAL, always_xy=True)
    x, y = to_local.transform(2_700_000.0, 450_000.0)
    aside = np.tile([-aside_m, aside_m], count)[:count]
    points = shapely.points(x + aside, y + np.arange(count))
    moved = crs_mismatch._scaled(points, crs, LOCAL, (1200 / 3937) / 0.3048)
    rows = gpd.GeoDataFrame(
        {"line_id": "L1", "position_sd_m": sd_m}, geometry=moved, index=range(count), crs=LOCAL
    )
    line = shapely.LineString([(x, y - 50), (x, y + 50)])
    return rows, gpd.GeoDataFrame({"line_id": ["L1"]}, geometry=[line], crs=LOCAL)


@pytest.mark.parametrize(
    ("aside_m", "least_gain_m", "found"),
    [(0.0, 0.3, True), (0.0, 1.5, True), (0.6, 0.3, True), (0.6, 1.5, False), (0.9, 0.3, False)],
)
def test_the_other_foot_must_bring_readings_much_nearer(monkeypatch, aside_m, least_gain_m, found):
    # Both kinds of foot are 1.6 m apart there.
    monkeypatch.setattr(crs_mismatch, "MIN_GAIN_M", least_gain_m)
    rows, routes = in_other_foot(aside_m)
    issues = collector(rows)
    other_foot(rows, issues, routes, LOCAL, US_FEET)
    assert codes(issues) == ["other_foot"] * found


@pytest.mark.parametrize(
    ("count", "sd_m", "found"),
    [(9, 0.05, False), (10, 0.05, True), (10, 0.49, True), (10, 0.5, False)],
)
def test_the_other_foot_is_looked_for_with_ten_readings_good_to_half_a_metre(count, sd_m, found):
    rows, routes = in_other_foot(0.0, count, sd_m=sd_m)
    issues = collector(rows)
    other_foot(rows, issues, routes, LOCAL, US_FEET)
    assert codes(issues) == ["other_foot"] * found


def test_the_other_foot_is_the_same_where_the_crs_has_the_northing_first():
    described = US_FEET.to_json_dict()
    del described["id"]
    described["coordinate_system"]["axis"].reverse()
    north_first = pyproj.CRS.from_json_dict(described)
    assert [axis.direction for axis in north_first.axis_info] == ["north", "east"]
    points = shapely.points([500_000.0, 500_030.0], [4_600_000.0, 4_600_010.0])
    usual, other = (
        shapely.get_coordinates(crs_mismatch._scaled(points, crs, LOCAL, 1 + 2e-6))
        for crs in (US_FEET, north_first)
    )
    np.testing.assert_allclose(other, usual, atol=1e-6)
    # Two in a million of some 800 km from the false origin.
    moved = np.hypot(*(usual - shapely.get_coordinates(points)).T)
    assert moved == pytest.approx(1.6, abs=0.3)


@pytest.mark.parametrize(("away_m", "used"), [(5.3, True), (5.6, False)])
def test_a_tape_begins_at_a_fitting_within_four_errors_and_a_metre(away_m, used):
    # Errors of the fitting, 1 m, and of the trace, 0.5 m.
    spot = shapely.Point(jobs.EAST + 12.0, jobs.NORTH - away_m)
    contacts = jobs.layer([spot], contact_id=["C"], line_id=["L1"], sound_level=[30.0],
                          sound_unit=["db"])  # fmt: skip
    readings = jobs.readings(chainage_m=[3.0] * 4, chainage_from=["C"] * 4)
    routes = jobs.routes(position_sd_m=[0.5, 0.5])
    job = read_job({"routes": routes, "readings": readings, "contacts": contacts})
    faulty = [f for f in job.faults if f.code == "tape_fitting_off_line"]
    assert bool(faulty) is not used
    assert (job.readings["tape_m"].notna() == used).all()


@pytest.mark.parametrize(
    ("taped", "away_m", "found"), [(3, 2001, True), (3, 2000, False), (0, 2001, True)]
)
def test_readings_that_are_placed_by_tape_do_not_hide_those_in_another_crs(taped, away_m, found):
    routes = jobs.routes()
    near = [shapely.Point(jobs.EAST + k, jobs.NORTH) for k in range(taped)]
    far = [shapely.Point(jobs.EAST, jobs.NORTH - away_m)] * 2
    rows = gpd.GeoDataFrame(
        {"position_sd_m": [CHAINAGE_ONLY_SD_M] * taped + [1.0] * 2}, geometry=[*near, *far],
        crs=jobs.CRS,
    )  # fmt: skip
    issues, crs = collector(rows), pyproj.CRS(jobs.CRS)
    far_from_routes(rows, issues, SimpleNamespace(name="readings"), routes, crs, crs, crs)
    assert codes(issues) == ["far_from_routes"] * found


@pytest.mark.parametrize(("away_m", "off"), [(3.2, False), (3.3, True)])
def test_a_taped_reading_is_off_its_line_beyond_four_errors_and_a_metre(away_m, off):
    # Errors of 0.3 m of the trace and 0.48 m of the fix.
    points = [shapely.Point(jobs.EAST + 10.0, jobs.NORTH - away_m)]
    rows = gpd.GeoDataFrame(
        {"line_id": ["L1"], "walk_id": ["W"], "tape_m": [10.0], "position_sd_m": [0.48]},
        geometry=points, crs=jobs.CRS,
    )  # fmt: skip
    issues = collector(rows)
    readings_off_their_lines(rows, issues, jobs.routes(position_sd_m=[0.3, 0.3]), 1.0, 1.0)
    assert bool(issues.faults) is off
    assert issues.good.all()  # a single poor fix rejects nothing


def test_a_copy_is_known_by_its_time_only_if_that_is_more_than_a_day():
    for time, kept in (("2025-03-31T08:00:00Z", 2), ("2025-03-31T08:00:17Z", 1)):
        table = jobs.readings(2, walk_id=["W", "V"], sound_level=[40.0, 40.0],
                              time=pd.to_datetime([time] * 2))  # fmt: skip
        table["geometry"] = [table.geometry.iloc[0]] * 2
        job = read_job({"routes": jobs.routes(), "readings": table})
        assert job.readings["reason"].isna().sum() == kept


def test_a_range_has_two_ends_and_one_value_has_none():
    assert _range_text(["5"]) == "5"
    assert _range_text(["5", "-2", "3"]) == "-2 to 5"
    assert _range_text(["5", "b"]) == "5, b"


def test_times_go_back_within_a_walk_only():
    # The second walk is earlier than the first, and a stop may have the time of the one before.
    minutes = [10, 20, 20, 1, 2, 2]
    table = pd.DataFrame({
        "line_id": "L1", "walk_id": ["A" * 80] * 3 + ["B"] * 3, "seq": [1, 2, 3] * 2,
        "time": [pd.Timestamp("2025-03-31T08:00Z") + pd.Timedelta(minutes=m) for m in minutes],
    })  # fmt: skip
    issues = collector(table)
    times_going_back(table, issues)
    assert codes(issues) == []
    table.loc[2, "time"] -= pd.Timedelta(minutes=1)
    times_going_back(table, issues)
    values = dict(issues.faults[0].reason.values)
    assert (values["times"], values["walks"], values["more"]) == (1, ("A" * 60,), 0)


@pytest.mark.parametrize("seq", [[1, 2, 3, 4, 5, 6], [1, 2, 2, 4, 5, 5]])
def test_times_go_back_only_where_the_order_of_listening_goes_on(seq):
    # The second walk is the earlier one, though its order goes on; two stops have one number.
    minutes = [10, 20, 15, 1, 3, 2]
    table = pd.DataFrame({
        "line_id": "L1", "walk_id": ["A"] * 3 + ["B"] * 3, "seq": seq,
        "time": [pd.Timestamp("2025-03-31T08:00Z") + pd.Timedelta(minutes=m) for m in minutes],
    })  # fmt: skip
    issues = collector(table)
    times_going_back(table, issues)
    found = [dict(fault.reason.values)["times"] for fault in issues.faults]
    assert found == ([2] if seq[2] == 3 else [])


def test_three_walks_whose_times_go_back_are_named_and_the_others_counted():
    table = pd.DataFrame({
        "line_id": "L1", "walk_id": np.repeat(["D", "B", "C", "A"], 2), "seq": [1, 2] * 4,
        "time": [pd.Timestamp("2025-03-31T08:00Z") - pd.Timedelta(minutes=m) for m in range(8)],
    })  # fmt: skip
    issues = collector(table)
    times_going_back(table, issues)
    values = dict(issues.faults[0].reason.values)
    assert (values["times"], values["walks"], values["more"]) == (4, ("A", "B", "C"), 1)


def test_a_reading_on_its_line_has_no_other_and_one_off_it_has_its_distance():
    # One is on its line, one at the other line, one at none, and one is not taped.
    points = shapely.points(jobs.EAST + np.array([10.0, 120.0, 60.0, 120.0]), jobs.NORTH)
    rows = gpd.GeoDataFrame({"line_id": ["L1"] * 4}, geometry=points, crs=jobs.CRS)
    taped = np.array([True, True, True, False])
    own, other, off_m = _find_off_line(rows, taped, jobs.routes(), 1.0, 1.0)
    assert (own.tolist(), other.tolist()) == ([-1, 0, 0, -1], [-1, 1, -1, -1])
    np.testing.assert_allclose(off_m, [np.nan, 90.0, 30.0, np.nan])


def test_a_meter_may_stand_still_but_neither_fall_nor_end_before_it_began():
    times = pd.to_datetime(["2025-03-31T08:00Z", "2025-03-31T10:00Z"])
    table = pd.DataFrame({
        "start_reading": [5.0, 5.0, 5.0], "end_reading": [5.0, 4.9, 5.0],
        "start_time": times[[0, 0, 1]], "end_time": times[[1, 1, 1]],
    })  # fmt: skip
    issues = collector(table, "meter_tests")
    meter_tests(table, issues)
    assert issues.good.tolist() == [True, False, False]
    assert sorted(codes(issues)) == ["end_not_after_start", "meter_reading_falls"]


@pytest.mark.parametrize(("steep", "noise"), [(1.0, 3.0), (0.15, 1.6), (1.0, 6.0)])
def test_the_evidence_for_a_display_is_that_of_densities_by_scipy(steep, noise):
    rng = np.random.default_rng(2)
    curve = 30 + 25 * np.sin(steep * np.arange(14.0))
    shown = np.rint(np.clip(curve + rng.normal(0, noise, 14), 1, 99))
    walk = np.zeros(14, dtype=np.int64)
    got = displays._log_bayes_factors((walk, np.arange(14)), shown, walk, np.zeros(14))[0]

    def log_density(value, rounding):
        apart = value[1:-1] - (value[:-2] + value[2:]) / 2
        prior = stats.norm(np.log(displays.SCATTER_DB), displays.SCATTER_LOG_SD)

        def density(log_scatter):
            scale = np.sqrt(np.exp(2 * log_scatter) + rounding)
            each = stats.t.pdf(apart, displays.FREEDOM, scale=scale)
            return np.prod(each * 10) * prior.pdf(log_scatter)

        return np.log(integrate.quad(density, np.log(0.05), np.log(60.0), limit=200)[0])

    # A difference from the mean of two neighbours has 1.5 times the variance of rounding, 1/12.
    slope = 20 / np.log(10) / shown[1:-1]
    in_db = log_density(shown, 1.5 / 12)
    linear = log_density(20 * np.log10(shown), 1.5 / 12 * slope**2) + np.log(slope).sum()
    assert got == pytest.approx(linear - in_db, abs=0.02)


@pytest.mark.parametrize(
    ("shown", "possible"),
    [([0, 30], True), ([-1, 30], False), ([0, 30.5], False), ([0, 19], True), ([0, 20], True)],
)
def test_a_linear_display_shows_whole_numbers_from_zero(shown, possible):
    level = np.resize(np.array(shown, dtype=float), 12)
    walk = np.zeros(12, dtype=np.int64)
    factor = displays._log_bayes_factors((walk, np.arange(12)), level, walk, np.zeros(12))[0]
    assert np.isneginf(factor) != possible
    # A range of less than 20 is no evidence for either.
    assert np.isnan(factor) == (max(shown) == 19)


@pytest.mark.parametrize(("named", "east_m"), [("L2", 5.0), ("L1", 105.0)])
def test_a_walk_on_another_line_is_found_wherever_both_are_in_the_table(named, east_m):
    # L1 is the first of the lines; L2, the last, begins 100 m east of it.
    points = shapely.points(jobs.EAST + east_m + np.arange(5.0), jobs.NORTH)
    rows = gpd.GeoDataFrame(
        {"line_id": named, "walk_id": "W", "tape_m": np.arange(5.0)}, geometry=points,
        index=range(5), crs=jobs.CRS,
    )  # fmt: skip
    issues = collector(rows)
    readings_off_their_lines(rows, issues, jobs.routes(), 1.0, 1.0)
    assert codes(issues) == ["on_another_line"] * 5
    assert not issues.good.any()


def test_each_reading_on_another_line_is_of_one_pair_up_to_twenty_pairs():
    own, other = np.repeat(np.arange(21), 2), np.full(42, 30)
    names = np.array([f"L{k}" for k in range(31)], dtype=object)
    for pairs, expected in ((20, 20), (21, 1)):
        rows = [*_line_pairs(own, other, own < pairs, names)]
        assert len(rows) == expected
        assert (np.sum([row for row, _, _ in rows], axis=0) == (own < pairs)).all()
    assert rows[0][1:] == ("on_other_lines", {})


@pytest.mark.parametrize(
    ("read", "like_degrees"),
    [
        ((180.0, -87.0), True),
        ((-87.0, 180.0), True),
        ((180.1, 43.0), False),
        ((43.0, -180.1), False),
    ],
)
def test_coordinates_up_to_180_may_be_degrees_in_either_order(read, like_degrees):
    line = shapely.LineString([read, (read[0], read[1] - 1e-4)])
    assert looks_like_degrees(LOCAL, np.array([line])) is like_degrees

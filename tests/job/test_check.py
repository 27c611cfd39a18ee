"""Faults in rows: each is reported with layer, feature and remedy; good rows stay good."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from leakgeo.job.checks.collector import MAX_SINGLE_FAULTS
from leakgeo.job.columns import parse_column
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_of
from tests.job import jobs

POINT = shapely.Point(jobs.EAST, jobs.NORTH)
BOW = shapely.Polygon([(0, 0), (2, 2), (2, 0), (0, 2), (0, 0)])


def with_shape(table, at, shape):
    shapes = table.geometry.to_numpy(copy=True)
    shapes[at] = shape
    return table.set_geometry(gpd.GeoSeries(shapes, index=table.index, crs=table.crs))


# What is spoilt, and the code and value that must come of it. Row 1 of readings, or route L2.
REJECTED = {
    "level missing": (jobs.readings(sound_level=[40, None, 41, 42]), "value_missing", None),
    "level is text": (jobs.readings(sound_level=["40", "loud", "41", "42"]), "not_number", "loud"),
    "level with unit": (
        jobs.readings(sound_level=["40", "41 dB", "41", "42"]), "not_number", "41 dB"
    ),
    "level with comma": (
        jobs.readings(sound_level=["40", "41,5", "41", "42"]), "not_number", "41,5"
    ),
    "level infinite": (jobs.readings(sound_level=[40, np.inf, 41, 42]), "not_number", "inf"),
    "level a filler": (
        jobs.readings(sound_level=[40, -9999, 41, 42]), "level_not_decibels", "-9999.0"
    ),
    "scale negative": (
        jobs.readings(sound_level=[40, -1, 41, 42], sound_unit=["scale"] * 4),
        "level_negative", "-1.0",
    ),
    "unit unknown": (jobs.readings(sound_unit=["db", "phon", "db", "db"]), "unknown_code", "phon"),
    "unit missing": (jobs.readings(sound_unit=["db", " ", "db", "db"]), "value_missing", None),
    "band unknown": (jobs.readings(band=["low", "mid", None, "Wide"]), "unknown_code", "mid"),
    "air unknown": (jobs.readings(air=["off", "maybe", None, "ON"]), "unknown_code", "maybe"),
    "line unknown": (jobs.readings(line_id=["L1", "L7", None, "L2"]), "line_unknown", "L7"),
    "id missing": (jobs.readings(reading_id=["a", None, "c", "d"]), "value_missing", None),
    "set aside": (jobs.readings(set_aside=[False, True, None, False]), "set_aside", None),
    "no geometry": (with_shape(jobs.readings(), 1, None), "reading_without_geometry", None),
    "empty geometry": (
        with_shape(jobs.readings(), 1, shapely.Point()), "reading_geometry_empty", None
    ),
    "endless geometry": (
        with_shape(jobs.readings(), 1, shapely.Point(np.inf, 1)), "coordinate_not_finite", None
    ),
    "a line for a point": (
        with_shape(jobs.readings(), 1, shapely.LineString([(0, 0), (1, 1)])),
        "wrong_geometry_type", "LineString",
    ),
    "many points": (
        with_shape(jobs.readings(), 1, shapely.MultiPoint([(0, 0), (1, 1)])),
        "wrong_geometry_type", "MultiPoint",
    ),
}  # fmt: skip


@pytest.mark.filterwarnings("ignore:.*geometry type:RuntimeWarning")
@pytest.mark.parametrize("case", REJECTED)
def test_one_bad_reading_is_rejected_alone(tmp_path, case):
    table, code, value = REJECTED[case]
    job = jobs.read(tmp_path, readings=table)
    rejected = job.readings["reason"].notna()
    assert rejected.tolist() == [False, True, False, False]
    (fault,) = [f for f in job.faults if f.layer == "readings" and f.effect == "rejected"]
    assert fault.reason == job.readings["reason"].iloc[1]
    assert (fault.code, dict(fault.reason.values).get("value")) == (code, value)
    assert fault.feature == ("row 2" if case == "id missing" else table["reading_id"].iloc[1])
    assert fault.problem.endswith(".")
    assert fault.what_to_do.endswith(".")
    assert job.counts["readings"] == 4


# Values that are left out or replaced, and what stands there afterwards.
MENDED = {
    "negative depth": ("depth_m", [0.9, -1.0], [0.9, None]),
    "depth in text": ("depth_m", ["0.9", "1.25"], [0.9, 1.25]),
    "depth in words": ("depth_m", ["0.9", "deep"], [0.9, None]),
    "huge diameter": ("diameter_mm", [25, 1e9], [25.0, None]),
    "year and a half": ("installed_year", [1980, 1980.5], [1980.0, None]),
    "unknown material": ("material", ["Galvanized Steel", "orangeburg"],
                         ["galvanized_steel", "unknown"]),
    "blank material": ("material", ["  ", "N/A"], [None, None]),
}  # fmt: skip


@pytest.mark.parametrize("case", MENDED)
def test_a_bad_value_that_is_not_required_costs_only_itself(tmp_path, case):
    column, values, expected = MENDED[case]
    job = jobs.read(tmp_path, routes=jobs.routes(**{column: values}))
    got = [None if pd.isna(v) else v for v in job.routes[column]]
    assert got == expected
    assert job.routes["reason"].isna().all()
    told = jobs.about(job.faults, "routes", column)
    assert all(f.effect == "noted" and f.feature == "L2" for f in told)
    spoilt = case not in ("depth in text", "blank material")
    assert len(told) == spoilt
    if spoilt:
        assert told[0].value == str(values[1])


def test_identical_rows_keep_the_first_and_differing_ones_go(tmp_path):
    table = jobs.readings(6, reading_id=["a", "a", "b", "b", "c", "d"])
    same = table.iloc[[0, 0, 2, 3, 4, 5]].reset_index(drop=True)
    job = jobs.read(tmp_path, readings=same)
    shared = "identifier_shared"
    assert jobs.codes(job.readings) == [None, "identical_row", shared, shared, None, None]
    told = jobs.about(job.faults, "readings", "reading_id")
    assert [f.feature for f in told] == ["b", "b", "a"]


def test_routes_of_one_name_that_differ_all_go_and_so_do_their_readings(tmp_path):
    table = pd.concat([jobs.routes(), jobs.routes(depth_m=[3.0, 1.2])], ignore_index=True)
    job = jobs.read(
        tmp_path, routes=table, readings=jobs.readings(line_id=["L1", "L2", "L2", None])
    )
    # L1 comes with two depths; L2 comes twice the same.
    assert job.routes["reason"].isna().tolist() == [False, True, False, False]
    assert job.readings["reason"].isna().tolist() == [False, True, True, True]
    assert job.readings["reason"].iloc[0] == Reason("line_rejected", value="L1")


def test_a_line_that_is_written_otherwise_is_told_with_the_one_there_is(tmp_path):
    job = jobs.read(tmp_path, readings=jobs.readings(line_id=["L1", "l-01", " L2", "M1"]))
    found = jobs.about(job.faults, "readings", "line_id")
    assert [(f.reason, f.value) for f in found] == [
        (Reason("line_unknown", value="M1"), "M1"),
        (Reason("line_unknown_like", line="l-01", like="L1"), "l-01"),
    ]


def test_a_route_that_comes_twice_is_one_line(tmp_path):
    job = jobs.read(tmp_path, routes=pd.concat([jobs.routes(), jobs.routes()], ignore_index=True))
    lines = lines_of(job, 0.3)
    assert lines.table.index.tolist() == ["L1", "L2"]
    assert lines.rejected.empty


def test_a_route_without_length(tmp_path):
    table = with_shape(jobs.routes(), 1, shapely.LineString([(jobs.EAST, jobs.NORTH)] * 2))
    job = jobs.read(tmp_path, routes=table)
    assert jobs.codes(job.routes) == [None, "route_without_length"]
    assert job.routes.geometry.isna().tolist() == [False, True]


def test_a_multipoint_of_one_point_is_a_point(tmp_path):
    table = jobs.readings()
    multi = gpd.GeoSeries([shapely.MultiPoint([p]) for p in table.geometry], crs=jobs.CRS)
    job = jobs.read(tmp_path, readings=table.set_geometry(multi))
    assert (job.readings.geom_type == "Point").all()
    assert job.readings["reason"].isna().all()


def test_a_crossed_outline_is_mended_and_told(tmp_path):
    here = shapely.affinity.translate(BOW, jobs.EAST, jobs.NORTH)
    job = jobs.read(tmp_path, surfaces=jobs.layer([here], surface=["grass"]))
    assert job.surfaces.geometry.is_valid.all()
    assert job.surfaces.area.tolist() == pytest.approx([2.0])
    (fault,) = jobs.about(job.faults, "surfaces")
    assert (fault.effect, fault.feature) == ("noted", "row 1")


def test_utilities_are_never_lost_for_their_name(tmp_path):
    """One owner's number on several pieces, or none at all, is still a thing to hit."""
    table = jobs.layer(
        [POINT, POINT.buffer(1), POINT], utility_id=["U", "U", None], kind=["petrol"] * 3
    )
    job = jobs.read(tmp_path, utilities=table)
    assert job.utilities["reason"].isna().all()
    assert job.utilities["utility_id"].tolist() == ["U", "U", "row 3"]
    assert job.utilities["kind"].tolist() == ["unknown"] * 3


def test_meter_tests_are_checked_against_clock_and_dial(tmp_path):
    rows = pd.concat([jobs.meter_tests(), jobs.meter_tests(end_reading=[99.0]),
                      jobs.meter_tests(end_time=pd.to_datetime(["2025-03-31T08:00Z"])),
                      jobs.meter_tests(volume_unit=["hogshead"])])  # fmt: skip
    job = jobs.read(tmp_path, meter_tests=rows)
    assert jobs.codes(job.meter_tests) == [
        None, "meter_reading_falls", "end_not_after_start", "unknown_code"
    ]  # fmt: skip
    values = [dict(reason.values)["value"] for reason in job.meter_tests["reason"].iloc[[1, 3]]]
    assert values == ["99.0", "hogshead"]


def test_many_like_troubles_share_one_fault_and_keep_their_own_reasons(tmp_path):
    size = MAX_SINGLE_FAULTS + 5
    table = jobs.readings(size, sound_level=[f"bad {i}" for i in range(size - 1)] + ["41"])
    job = jobs.read(tmp_path, readings=table)
    (fault,) = jobs.about(job.faults, "readings", "sound_level")
    assert (fault.code, fault.features) == ("not_number", size - 1)
    assert fault.feature == f"R0, R1, R2, R3, R4 and {size - 6} more"
    own = Reason("not_number", column="sound_level", value="bad 3")
    assert job.readings["reason"].iloc[3] == own
    assert job.readings["reason"].isna().sum() == 1


def test_what_was_handed_in_is_not_changed():
    raw = pd.Series(["1", "x", None], dtype=object)
    kept = raw.copy()
    parse_column(raw, load_schema("routes").field("depth_m"))
    pd.testing.assert_series_equal(raw, kept)


_MESSY = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**20), 10**20), st.floats(), st.text(max_size=8),
    st.sampled_from(["1.5", " 7 ", "NULL", "nan", "inf", "2025-03-31", "yes", "1e400", "0x1f"]),
    st.lists(st.integers(), max_size=2),
)  # fmt: skip


@pytest.mark.parametrize("name", ["depth_m", "installed_year", "material"])
@settings(max_examples=80)
@given(values=st.lists(_MESSY, min_size=1, max_size=8))
def test_nothing_in_a_column_raises(name, values):
    field = load_schema("routes").field(name)
    parsed = parse_column(pd.Series(values, dtype=object), field)
    assert len(parsed.column) == len(parsed.bad) == len(values)
    assert parsed.column[parsed.bad].isna().all()
    if field.type != "string":
        known = parsed.column.dropna().to_numpy()
        assert np.isfinite(known).all()
        if field.type == "integer":
            assert (known % 1 == 0).all()


@pytest.mark.parametrize("name", ["set_aside", "time"])
@settings(max_examples=80)
@given(values=st.lists(_MESSY, min_size=1, max_size=8))
def test_nothing_in_a_typed_column_raises(name, values):
    parsed = parse_column(pd.Series(values, dtype=object), load_schema("readings").field(name))
    assert parsed.column[parsed.bad].isna().all()
    assert len(parsed.column) == len(values)

"""Times that no calendar, program or record means: a fault each, in every kind of source."""

from __future__ import annotations

import datetime as dt
import sqlite3

import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.job.checks.collector import IssueCollector
from leakgeo.job.checks.values import check_column
from leakgeo.job.columns import parse_column
from leakgeo.job.mapping.times import read_times
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schema, load_schemas
from tests.job import jobs

POINT = shapely.Point(jobs.EAST, jobs.NORTH)
GOOD = "2025-03-31T14:05:00Z"
WRONG = ("0000-00-00", "0000-01-01T00:00:00Z", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z",
         "1899-12-30T00:00:00Z", "2262-04-12T00:00:00Z", "2500-01-01T00:00:00Z",
         "99999-01-01T00:00:00Z")  # fmt: skip
# Every layer with a column of times; the required ones lose their row.
TIMED = [(s.name, f.name) for s in load_schemas("input").values() for f in s.fields
         if f.type in ("datetime", "date")]  # fmt: skip


def layer_of(name: str) -> pd.DataFrame:
    """Give the shortest good layer of that name."""
    return {
        "readings": jobs.readings(4),
        "contacts": jobs.layer(
            [POINT], contact_id=["C"], kind=["meter"], sound_level=[40.0], sound_unit=["db"]
        ),
        "meter_tests": jobs.meter_tests(),
        "utilities": jobs.layer([POINT], utility_id=["U"], kind=["electric"]),
        "history": jobs.layer([POINT], kind=["past_leak"]),
        "dig_outcomes": jobs.layer([POINT], line_id=["L1"], found=["leak"]),
        "action_results": jobs.action_results(contact_id=[None], action=["night"]),
        "isolation_tests": pd.DataFrame({
            "test_id": ["T1"], "measured_at": [None], "measure": ["pressure"], "before": [400.0],
            "after": [390.0], "unit": ["kpa"], "start_time": [GOOD], "end_time": [None],
        }),
    }[name]  # fmt: skip


def spoilt(name: str, column: str, value: object) -> pd.DataFrame:
    """Give that layer with a wrong time in its first row, good ones in the others."""
    table = layer_of(name)
    return table.assign(**{column: np.array([value, *[GOOD] * (len(table) - 1)], dtype=object)})


@pytest.mark.parametrize(("name", "column"), TIMED)
@pytest.mark.parametrize("value", ["0000-01-01T00:00:00Z", "9999-12-31T23:59:59Z"])
def test_a_wrong_time_is_a_fault_in_every_layer(name, column, value):
    job = read_job({"routes": jobs.routes(), "readings": jobs.readings(),
                    name: spoilt(name, column, value)})  # fmt: skip
    table = getattr(job, name)
    assert pd.isna(table[column].iloc[0])
    fault = jobs.about(job.faults, name, column)[0]
    assert fault.code in {"not_date", "not_datetime", "day_out_of_range"}
    assert str(value)[:4] in fault.value
    required = load_schema(name).field(column).required
    assert (table["reason"].iloc[0] is not None) is required
    assert table["reason"].iloc[1:].isna().all()


FRAMES = {
    "texts": pd.Series([*WRONG, GOOD], dtype=object),
    "strings": pd.Series([*WRONG, GOOD]),
    "objects of Python": pd.Series(
        [dt.datetime(1, 1, 1), dt.datetime(9999, 12, 31, 23, 59), dt.date(9999, 12, 31),
         dt.date(2025, 3, 31)], dtype=object),
    **{f"datetime64[{unit}]": pd.Series(np.array(
        ["0000-01-01", "-0005-01-01", "9999-12-31", "200000-01-01", "1899-12-30", "2025-03-31"],
        dtype=f"datetime64[{unit}]")) for unit in ("s", "ms", "us")},
    "beyond microseconds": pd.Series(
        np.array(["9000000-01-01", "2025-03-31"], dtype="datetime64[s]")),
    "in a zone": pd.Series(
        np.array(["9999-12-31T23:00", "0001-01-01T00:10", "2025-03-31"], dtype="datetime64[us]")
    ).dt.tz_localize("UTC").dt.tz_convert("America/Chicago"),
}  # fmt: skip


@pytest.mark.parametrize("kind", FRAMES)
@pytest.mark.parametrize(("layer", "column"), [("readings", "time"), ("history", "date")])
def test_only_the_good_time_of_a_table_is_taken(kind, layer, column):
    raw, field = FRAMES[kind], load_schema(layer).field(column)
    issues = IssueCollector(layer, np.arange(len(raw)).astype(str).astype(object))
    values = check_column(parse_column(raw, field), raw, field, issues)
    assert values.notna().tolist() == [False] * (len(raw) - 1) + [True]
    assert sum(bool(f.feature) for f in issues.faults) == len(raw) - 1


@pytest.mark.parametrize("zone", ["America/Chicago", "Pacific/Auckland"])
@pytest.mark.parametrize("clock", ["0001-01-01 00:00:00", "9999-12-31 23:59:59"])
def test_a_zone_in_a_mapping_stumbles_over_no_end_of_the_calendar(zone, clock):
    assert read_times(pd.Series([clock]), None, zone).tolist() == [clock]


def in_file(folder, kind: str, times: list[str]) -> object:
    """Write a job whose readings have these times, as a file of that kind."""
    readings = jobs.readings(len(times)).assign(time=np.array(times, dtype=object))
    if kind == "gpkg":
        path = jobs.write(folder / "job.gpkg", readings=readings.assign(
            time=pd.to_datetime([GOOD] * len(times))))  # fmt: skip
        with sqlite3.connect(path) as base:
            for (trigger,) in base.execute("SELECT name FROM sqlite_master WHERE type='trigger'"):
                base.execute(f'DROP TRIGGER "{trigger}"')
            rows = zip(times, readings["reading_id"], strict=True)
            base.executemany("UPDATE readings SET time = ? WHERE reading_id = ?", rows)
        base.close()
        return path
    jobs.routes().to_file(folder / "routes.geojson", driver="GeoJSON")
    if kind == "geojson":
        (folder / "readings.geojson").write_text(readings.to_crs(4326).to_json())
    else:
        plain = pd.DataFrame(readings.drop(columns="geometry"))
        plain.assign(chainage_m=np.linspace(1, 29, len(times))).to_csv(
            folder / "readings.csv", index=False)  # fmt: skip
    return folder


@pytest.mark.parametrize("kind", ["gpkg", "geojson", "csv"])
def test_only_the_good_time_of_a_file_is_taken(tmp_path, kind):
    job = read_job(in_file(tmp_path, kind, [*WRONG, GOOD]))
    assert job.readings["time"].notna().tolist() == [*[False] * len(WRONG), True]
    said = " ".join(f"{f.problem} {f.value}" for f in jobs.about(job.faults, "readings"))
    assert all(value[:4] in said for value in WRONG)


def test_a_run_goes_through_with_such_times(tmp_path):
    leakgeo.run(in_file(tmp_path, "gpkg", [*WRONG, GOOD]), tmp_path / "out", density=False)
    assert "day_out_of_range" in (tmp_path / "out" / "faults.csv").read_text("utf-8")

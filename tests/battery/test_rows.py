"""Rows and values: copies, times, codes, texts, types, names, one reading and very many."""

import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

import leakgeo
from leakgeo.deliver.folder.record import counts
from leakgeo.find.advise.next_stops import MAX_READINGS, HeardLine
from leakgeo.find.levels.readings import readings_by_line
from leakgeo.job.read import read_job
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import load_constants
from tests.battery.check import Case, assert_case, faults, good_result, lines_of, located
from tests.battery.good import FIXED, LAST, LINEAR, LINES, TAPED, layers, rows
from tests.job import jobs

OTHERS = (FIXED, LINEAR, LAST)
LONG = 10_000_000


def cells(column, value, layer="readings", at=slice(None)):
    """Set cells of one line, whatever their type."""

    def spoil(job):
        table = job[layer].copy()
        if isinstance(value, str) and table[column].dtype != object:
            table[column] = table[column].astype(object)
        table.iloc[rows(table)[at], table.columns.get_loc(column)] = value
        return job | {layer: table}

    return spoil


def again(new_name):
    def spoil(job):
        table = job["readings"]
        more = table.iloc[rows(table)[:6]]
        if new_name:
            more = more.assign(reading_id=[f"N{k}" for k in range(6)])
        return job | {"readings": pd.concat([table, more], ignore_index=True)}

    return spoil


def only(count):
    def spoil(job):
        table = job["readings"]
        return job | {"readings": table.drop(table.index[rows(table)[count:]])}

    return spoil


def texts_among_numbers(job):
    table = job["readings"].copy()
    table["sound_level"] = table["sound_level"].astype(str).astype(object)
    said = ["loud", "loud", "loud", "41 dB", "41,5"]
    table.loc[table.index[rows(table)[:5]], "sound_level"] = said
    return job | {"readings": table}


def times(change):
    def spoil(job):
        table = job["readings"].copy()
        table["time"] = change(table)
        return job | {"readings": table}

    return spoil


def called(name, line=TAPED):
    def spoil(job):
        return {
            n: t.assign(line_id=t["line_id"].replace(line, name)) if "line_id" in t else t
            for n, t in job.items()
        }

    return spoil


CASES = {
    "the same reading twice": Case(again(False), "identical_row", (),
                                   "rejected", rejected=6),
    "the same reading under a new name": Case(
        again(True), "same_as_earlier_reading", (), "rejected", rejected=6),
    "times without zone": Case(times(lambda t: t["time"].dt.tz_localize(None)),
                               "time_zone_missing", ("time has",)),
    "times out of order": Case(times(lambda t: t["time"].to_numpy()[::-1]),
                               "times_go_back", ("and 5 more",)),
    "an unknown material": Case(cells("material", "gold", "routes"),
                                "unknown_code", ("material", "taken as unknown"), untouched=OTHERS),
    "an unknown surface": Case(cells("surface", "lawn"), "unknown_code", ("surface", "lawn"),
                               untouched=OTHERS),
    "an unknown unit": Case(cells("sound_unit", "volts"), "unknown_code", ("sound_unit", "volts"),
                            "rejected", rejected=30, untouched=OTHERS, rejected_lines=1),
    "a text of 10 MB": Case(cells("walk_id", "x" * LONG, at=slice(1)),
                            "text_too_long", ("walk_id", "left out")),
    "a line_id of 10 MB": Case(cells("line_id", "x" * LONG, at=slice(1)),
                               "text_too_long", ("line_id",), "rejected", rejected=1,
                               untouched=OTHERS),
    "texts among numbers": Case(texts_among_numbers, "not_number", ("41,5",), "rejected",
                                rejected=5, untouched=OTHERS),
    "no level": Case(cells("sound_level", np.nan), "value_missing", ("sound_level",), "rejected",
                     rejected=30, untouched=OTHERS, rejected_lines=1),
    "a filler for a level": Case(cells("sound_level", -9999.0), "level_not_decibels", ("-9999",),
                                 "rejected", rejected=30, untouched=OTHERS, rejected_lines=1),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_rows(case):
    assert_case(case)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_hardly_any_reading(count):
    """One reading tells little: the line is not rejected, and nothing is located."""
    result = located(only(count)(layers()))
    line = lines_of(result).loc[TAPED]
    assert line["status"] == ("keep_listening" if count else "not_listened_to") or (
        line["status"] == "no_leak_heard"
    )
    assert line["code"]
    before, now = lines_of(good_result()), lines_of(result)
    for other in OTHERS:
        assert now.loc[other, "chainage_m"] == before.loc[other, "chainage_m"]


NAMES = ("خط ١", "קו 7", "Straße 7 – Öst", "管線三号", "a\u202eb", "🜃", 'L\'Écluse "2"', "../x")


@pytest.mark.parametrize("names", [NAMES[:4], NAMES[4:]])
def test_names_of_any_script(names):
    tables = layers()
    for line, name in zip(LINES, names, strict=True):
        tables = called(name, line)(tables)
    lines, before = lines_of(located(tables)), lines_of(good_result())
    assert set(lines.index) == set(names)
    for column in ("chainage_m", "status"):
        assert lines.loc[list(names), column].tolist() == before.loc[list(LINES), column].tolist()


def test_names_of_any_script_go_through_to_every_file(tmp_path):
    tables = layers()
    for k, name in enumerate(("خط ١", "管線三号", "a\u202eb", 'L\'Écluse "2"')):
        tables = called(name, LINES[k])(tables)
    for name, table in tables.items():
        pyogrio.write_dataframe(table, tmp_path / "job.gpkg", layer=name)
    leakgeo.run(tmp_path / "job.gpkg", tmp_path / "out")
    told = pd.read_csv(tmp_path / "out" / "summary.csv", encoding="utf-8-sig")
    assert set(told["line_id"]) == {"خط ١", "管線三号", "a\u202eb", 'L\'Écluse "2"'}
    assert (tmp_path / "out" / "report.pdf").stat().st_size > 10_000


def test_forty_thousand_readings_on_a_line(tmp_path):
    """A recorder that was left on: thinned and counted; advice does not take the memory."""
    size = 40_000
    place = np.linspace(0.0, 250.0, size)
    level = np.rint(40 + 20 * np.exp(-np.abs(place - 20) / 5))
    table = jobs.readings(size, sound_level=level).set_geometry(
        shapely.points(jobs.EAST + place, np.full(size, jobs.NORTH)), crs=jobs.CRS
    )
    route = shapely.linestrings([[jobs.EAST, jobs.NORTH], [jobs.EAST + 250, jobs.NORTH]])
    routes = jobs.routes().iloc[:1].set_geometry([route], crs=jobs.CRS)
    path = jobs.write(tmp_path / "job.gpkg", routes=routes, readings=table)
    result = leakgeo.profile(path, step_m=5.0)
    told = counts(result)["readings"]
    assert MAX_READINGS < told["used"] < 2500
    assert told == {
        "in": size, "used": told["used"], "rejected": size - told["used"],
        "rejected_by_reason": {"more_readings_than_used": size - told["used"]},
    }  # fmt: skip
    assert len(faults(result)) < 13
    lines = lines_in(result)
    ((line, own),) = readings_by_line(result.layers["readings_on_route"], lines, load_constants())
    problem = HeardLine(lines, line, own, 1.0).problem(20.0, load_constants())
    assert 500 < len(problem.readings) <= MAX_READINGS


def test_two_columns_of_one_name(tmp_path):
    """A spreadsheet may have them; which is meant can't be told, so neither is read."""
    (tmp_path / "meter_tests.csv").write_text("line_id,line_id,start_reading\nL1,x,5\n")
    jobs.routes().to_file(tmp_path / "routes.geojson")
    jobs.readings().to_file(tmp_path / "readings.geojson")
    job = read_job(tmp_path)
    assert job.meter_tests["line_id"].isna().all()
    assert any("none of them is read: line_id" in f.problem for f in job.faults)

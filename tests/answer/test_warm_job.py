"""The answer about one line: the numbers of the whole job, kept between questions."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest

import leakgeo
from leakgeo.answer.warm_job import WarmJob
from leakgeo.dig.order import ORDER
from leakgeo.errors import ParameterError
from leakgeo.faults import Fault, job_error
from leakgeo.job.read import JobReader
from leakgeo.job.sources import EditedSource
from leakgeo.reason import Reason
from tests.town import TOWN, write_few

# A mark, a line that joins others, meter and isolation tests with a sweep, a repair.
LINES = ("H-126", "H-134", "A-201", "A-207")
# Ranks among all lines of the job, numbers of all walks, and the run.
OF_THE_JOB = ["priority", *ORDER, "walk", "run_id"]
LINE, STOP = "H-126", "H-126/007"


@pytest.fixture(scope="module")
def kept():
    return WarmJob(TOWN)


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    """Give a small job that may be changed, and that was asked about once."""
    path = write_few(tmp_path_factory.mktemp("saved") / "job.gpkg")
    pyogrio.write_dataframe(pyogrio.read_dataframe(TOWN, layer="contacts"), path, layer="contacts")
    changed = WarmJob(path)
    changed.ask(LINE)
    return path, changed


def of_line(layer, line):
    return pd.DataFrame(layer[layer["line_id"] == line]).reset_index(drop=True)


def assert_same(one, other):
    alike = {"check_exact": True, "check_dtype": False}
    columns = [name for name in OF_THE_JOB if name in one]
    pd.testing.assert_frame_equal(
        one.drop(columns=columns), other.drop(columns=columns, errors="ignore"), **alike
    )


@pytest.mark.parametrize("line", LINES)
def test_a_line_has_the_numbers_of_a_run_of_the_whole_job(kept, town, line):
    whole, one = town[0], kept.ask(line)
    layers = [n for n, layer in whole.layers.items() if "line_id" in layer and "learned" not in n]
    assert len(layers) > 20
    for name in layers:
        assert_same(of_line(whole.layers[name], line), of_line(one.layers[name], line))
        assert len(one.layers[name]) == len(of_line(one.layers[name], line))


def test_a_stop_can_be_left_out_as_if_the_crew_had_set_it_aside(few):
    tables = {n: pyogrio.read_dataframe(few[0], layer=n) for n in ("routes", "readings")}
    crew = tables["readings"]
    tables["readings"] = crew.assign(
        set_aside=crew["set_aside"].mask(crew["reading_id"] == STOP, True)
    )
    kept, stored = (WarmJob(job, ground=few[1]) for job in (few[0], tables))
    what_if = kept.ask(LINE, aside=[STOP])
    for name in ("lines", "profile", "search_zones", "readings_on_route"):
        assert_same(what_if.layers[name], stored.ask(LINE).layers[name])
    moved = what_if["lines"]["leak_probability"] - kept.ask(LINE)["lines"]["leak_probability"]
    assert moved.abs().max() > 0


def row_of(path, name):
    """Return a stored stop as a GIS sends it."""
    table = pyogrio.read_dataframe(path, layer="readings", fid_as_index=True)
    found = table[table["reading_id"] == name]
    row = {k: None if pd.isna(v) else v for k, v in found.iloc[0].drop("geometry").items()}
    return {**row, "time": row["time"].isoformat(), "fid": int(found.index[0]),
            "geometry": found.geometry.iloc[0].wkt}  # fmt: skip


def test_unsaved_rows_count_as_they_will_when_saved(saved):
    path, kept = saved
    before = kept.ask(LINE)
    louder, new = row_of(path, STOP), row_of(path, "H-126/004")
    louder["sound_level"] += 6.0
    new |= {"fid": None, "reading_id": "new", "chainage_m": 4.2, "sound_level": 41.0}
    gone = row_of(path, "H-126/012")["fid"]
    edits = EditedSource(path, {"readings": [louder, new]}, {"readings": [gone]})
    unsaved = kept.ask(LINE, edits=edits)
    assert_same(kept.ask(LINE).layers["lines"], before.layers["lines"])
    table = pyogrio.read_dataframe(path, layer="readings", fid_as_index=True)
    rows = table[table.index != gone].copy()
    rows.loc[louder["fid"], "sound_level"] = louder["sound_level"]
    like = table[table["reading_id"] == "H-126/004"]
    added = like.assign(reading_id="new", chainage_m=4.2, sound_level=41.0)
    pyogrio.write_dataframe(pd.concat([rows, added], ignore_index=True), path, layer="readings")
    stored = kept.ask(LINE)
    for name in ("lines", "profile", "readings_on_route"):
        assert_same(stored.layers[name], unsaved.layers[name])
    used = stored["readings_on_route"].set_index("reading_id")
    assert "H-126/012" not in used.index
    assert used.loc["new", "used"]
    assert not before["profile"].equals(stored["profile"])


def test_faults_are_those_of_the_rows_as_they_are(saved):
    path, kept = saved
    without_unit = {"readings": [{**row_of(path, STOP), "sound_unit": None}]}
    found = kept.ask(LINE, edits=EditedSource(path, without_unit))
    assert [fault.feature for fault in found.faults if fault.layer == "readings"] == [STOP]
    assert not [fault for fault in kept.ask(LINE).faults if fault.feature == STOP]


def of_whole_job(kept):
    """Return the layers that were made of the whole job."""
    return kept._whole_job(kept.refresh()).layers


def test_what_the_ground_taught_is_held_and_the_survey_kept_while_fittings_are_the_same(saved):
    path, kept = saved
    law, ranking = (of_whole_job(kept)[name] for name in ("noise_law", "contact_ranking"))
    readings = pyogrio.read_dataframe(path, layer="readings")
    pyogrio.write_dataframe(readings.assign(sound_level=readings["sound_level"] + 1), path,
                            layer="readings")  # fmt: skip
    assert of_whole_job(kept)["contact_ranking"] is ranking
    fittings = pyogrio.read_dataframe(path, layer="contacts")
    pyogrio.write_dataframe(fittings.iloc[1:], path, layer="contacts")
    found = of_whole_job(kept)
    assert len(found["contact_ranking"]) == len(ranking) - 1
    assert found["noise_law"].equals(law)
    pyogrio.write_dataframe(readings.sample(frac=0.6, random_state=1), path, layer="readings")
    kept.learn_again()
    assert not of_whole_job(kept)["noise_law"].equals(law)


def test_records_age_with_the_latest_reading(tmp_path, few):
    path, line = write_few(tmp_path / "job.gpkg"), "H-101"
    readings, routes = (pyogrio.read_dataframe(path, layer=n) for n in ("readings", "routes"))
    place = routes.set_index("line_id").geometry[line].interpolate(0.3, normalized=True)
    repair = {"record_id": ["R"], "kind": ["repair"], "date": [pd.Timestamp("2020-01-01")]}
    fittings = pyogrio.read_dataframe(TOWN, layer="contacts")
    pyogrio.write_dataframe(fittings, path, layer="contacts")
    records = gpd.GeoDataFrame(repair, geometry=[place], crs=routes.crs)
    pyogrio.write_dataframe(records, path, layer="history")
    kept = WarmJob(path, ground=few[1])
    before = kept.ask(line)["survey_bracket"]["probability"]
    latest = readings["time"].max() + pd.Timedelta("900D")
    later = readings["time"].where(readings.index > 0, latest)
    pyogrio.write_dataframe(readings.assign(time=later), path, layer="readings")
    fresh = WarmJob(path, ground=few[1]).ask(line)["survey_bracket"]
    assert (fresh["probability"] != before).any()
    assert_same(kept.ask(line)["survey_bracket"], fresh)


def test_the_law_of_an_earlier_run_is_taken_from_its_folder(few):
    given = leakgeo.ask(few[0], LINE, ground=few[1])
    assert_same(given.layers["lines"], leakgeo.ask(few[0], LINE).layers["lines"])
    assert given.parameters["ground"]["ground"] == few[1] / "ground.toml"


def test_what_the_job_lacks_is_named_with_what_is_near(kept):
    with pytest.raises(ParameterError, match=r"the job has no line H-12\. Did you mean H-1"):
        kept.ask("H-12")
    with pytest.raises(ParameterError, match=r"no reading H-126/7\. Did you mean H-126/0"):
        kept.ask(LINE, aside=["H-126/7"])
    with pytest.raises(ParameterError, match="has no layer stops"):
        kept.ask(LINE, edits=EditedSource(TOWN, {"stops": [{}]}))
    with pytest.raises(ParameterError, match="No step has a parameter prior"):
        leakgeo.ask(TOWN, LINE, prior=0.5)


def test_a_file_that_is_being_saved_is_read_a_moment_later(few, monkeypatch):
    told = [job_error("job.gpkg", Fault("job", Reason("saved_while_read"), effect="stops"))] * 2
    read = JobReader.read

    def busy(reader, edits=None):
        if told:
            raise told.pop()
        return read(reader, edits)

    monkeypatch.setattr(JobReader, "read", busy)
    assert len(WarmJob(few[0]).refresh().routes) == 6
    assert told == []

"""The invented town, and simulated lines as layers of the contract."""

import hashlib
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pytest

from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schemas
from leakgeo.simulate import Conditions, simulate_field
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.stories import STORIES
from leakgeo.simulate.town import simulate_town, write_town
from tests.real_routes import real_job

SHIPPED = Path(__file__).parents[2] / "examples" / "town" / "job.gpkg"


@pytest.fixture(scope="module")
def town_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("town") / "job.gpkg"
    write_town(path)
    return path


@pytest.fixture(scope="module")
def job(town_file):
    return read_job(town_file)


def test_the_town_is_written_the_same_each_time(town_file, tmp_path):
    write_town(tmp_path / "again.gpkg")
    digests = {hashlib.sha256(p.read_bytes()).hexdigest()
               for p in (town_file, tmp_path / "again.gpkg")}  # fmt: skip
    assert len(digests) == 1


def test_the_shipped_town_is_what_the_code_makes(town_file):
    assert SHIPPED.stat().st_size < 1_000_000
    for name in ("routes", "readings", "utility_lines", "meter_tests", "dig_outcomes", "valves"):
        shipped = pyogrio.read_dataframe(SHIPPED, layer=name, read_geometry=False)
        made = pyogrio.read_dataframe(town_file, layer=name, read_geometry=False)
        assert shipped.equals(made)


def test_every_layer_says_that_it_is_simulated_and_the_truth_is_left_out(town_file):
    layers = [name for name, _ in pyogrio.list_layers(town_file)]
    assert "truth" not in layers
    for name in layers:
        assert "Simulated" in pyogrio.read_info(town_file, layer=name)["layer_metadata"]["leakgeo"]


def test_the_town_is_in_us_feet_and_reads_as_a_job(job):
    assert job.output_crs.to_epsg() == 2289
    assert job.counts["routes"] == 18 + len(STORIES)
    stopping = [f for f in job.faults if f.effect == "stops"]
    assert stopping == []


def test_the_faults_set_in_the_town_are_there(job):
    lost = job.readings.geometry.isna()
    assert lost.sum() == 1
    routes = job.routes.set_index("line_id").geometry
    seen = job.readings[~lost]
    away = seen.geometry.distance(routes.loc[seen["line_id"]].set_axis(seen.index))
    assert (away > 300).sum() == 1


def test_the_street_of_evidence_changes_no_other_line():
    town, without = simulate_town(), simulate_town(evidence=False)
    assert not set(without["routes"]["line_id"]) & {s.line_id for s in STORIES}
    for name, layer in without.items():
        first = town[name].iloc[: len(layer)][layer.columns]
        pd.testing.assert_frame_equal(pd.DataFrame(first), pd.DataFrame(layer), check_exact=True)


def test_every_kind_of_record_is_on_a_line_of_its_street(job):
    used = {name: set(getattr(job, name)["line_id"].dropna()) for name in
            ("meter_tests", "valves", "dig_outcomes", "contacts")}  # fmt: skip
    assert all(ids & {s.line_id for s in STORIES} for ids in used.values())
    assert set(job.meter_tests["house_valve"].dropna()) == {"open", "shut"}
    assert set(job.dig_outcomes["found"]) == {"dry", "leak"}
    assert set(job.closed_valves["test_id"]) == set(job.isolation_tests["test_id"])
    across = job.readings[job.readings["offset_m"].notna()]
    assert across["line_id"].nunique() == 3


def test_the_town_has_air_pairs_meters_and_owners_yet_to_answer(job):
    air = job.readings[job.readings["air"].notna()]
    assert air["line_id"].nunique() == 3
    # Four pairs at the loudest stop, and four at a control point.
    assert (air["air"].value_counts() == 24).all()
    assert (air["air_kpa"].notna() == (air["air"] == "on")).all()
    assert job.meter_tests is not None
    assert (job.meter_tests["end_reading"] >= job.meter_tests["start_reading"]).all()
    assert {"none", "marked", "clear"} <= set(job.utilities["response"])
    assert job.utilities["notified"].astype(bool).sum() < len(job.utilities)


def test_columns_and_codes_are_those_of_the_contract():
    schemas, town = load_schemas("input"), simulate_town()
    for name, layer in town.items():
        if name == "truth":
            continue
        own = set(layer.columns) - {"geometry"}
        assert own <= set(schemas[name].columns), name
        for f in schemas[name].fields:
            if f.codes and f.name in layer:
                assert set(layer[f.name].dropna()) <= set(f.codes), (name, f.name)


# Verdict that a senior locator expects of each line, and what of the evidence decides it.
VERDICTS = {
    "A-201": ("located", {"meter_turned", "isolated_pressure", "sweep_over_pipe"}),
    "A-202": ("no_leak_heard", set()),
    "A-203": ("other_source", {"meter_stood_still"}),
    "A-204": ("beyond_end", {"meter_turned_for_house"}),
    "A-205": ("other_source", {"evidence_air", "sweep_over_other_line"}),
    "A-206": ("located", {"dig_saw_dry_pipe"}),
    "A-207": ("no_leak_heard", {"meter_stood_still"}),
    "A-208": ("keep_listening", {"meter_turned"}),
    "A-209": ("keep_listening", {"sweep_beside"}),
    "A-210": ("beyond_end", {"meter_stood_still"}),
    "A-211": ("other_source", set()),
}


def test_each_line_of_the_street_shows_its_evidence(town):
    lines, evidence = town[0]["lines"].set_index("line_id"), town[0]["evidence"]
    assert set(VERDICTS) == {s.line_id for s in STORIES}
    said = {line: (lines.loc[line, "status"],
                   set(evidence.loc[evidence["line_id"] == line, "code"])
                   - {"evidence_prior", "evidence_sound"}) for line in VERDICTS}  # fmt: skip
    assert said == VERDICTS


def test_located_lines_of_the_street_are_marked_within_a_foot(town):
    marks = town[0]["marks"].set_index("line_id")["chainage_m"]
    located = {s.line_id: s.leak_m for s in STORIES if VERDICTS[s.line_id][0] == "located"}
    assert all(abs(marks[line] - leak) < 0.3048 for line, leak in located.items())


@pytest.mark.parametrize("crs", ["EPSG:2263", "EPSG:4326", "EPSG:3857", "EPSG:32616"])
def test_fields_lie_in_any_crs_where_they_should(crs):
    fields = [simulate_field(np.random.default_rng([3, i]), Conditions(fix_sd_m=0.02))
              for i in range(3)]  # fmt: skip
    layers = fields_to_layers(fields, crs=crs)
    assert all(layer.crs == crs for layer in layers.values())
    plane = fields_to_layers(fields)["readings"].crs
    back = layers["readings"].to_crs(plane)
    routes = layers["routes"].to_crs(plane).set_index("line_id").geometry
    away = back.geometry.distance(routes.loc[back["line_id"]].set_axis(back.index))
    assert away.max() < 2.0
    assert layers["readings"]["reading_id"].is_unique


def test_the_truth_lies_on_its_route_at_its_chainage():
    fields = [simulate_field(np.random.default_rng([4, i]), Conditions(fix_sd_m=1.5))
              for i in range(20)]  # fmt: skip
    layers = fields_to_layers(fields)
    truth = layers["truth"][layers["truth"]["leaks"]]
    routes = layers["routes"].set_index("line_id").geometry
    lines = routes.loc[truth["line_id"]].set_axis(truth.index)
    np.testing.assert_allclose(lines.project(truth.geometry), truth["chainage_m"], atol=1e-6)


def test_real_routes_make_a_job_of_two_hundred_lines(tmp_path):
    path = real_job(tmp_path)
    routes = pyogrio.read_dataframe(path, layer="routes")
    readings = pyogrio.read_dataframe(path, layer="readings")
    assert len(routes) >= 200
    assert routes.crs.axis_info[0].unit_name == "US survey foot"
    assert set(readings["line_id"]) == set(routes["line_id"])

"""What a person sees of a job and a result in an interpreter."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

import leakgeo
from leakgeo.job.schema import load_schemas
from leakgeo.result import Shaped
from tests.job.jobs import readings, routes, write


@pytest.fixture
def result(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=readings(12))
    return leakgeo.locate(tmp_path / "job.gpkg")


def test_a_result_says_in_a_few_lines_what_it_holds(result):
    said = repr(result)
    assert said.startswith("Result of Job job.gpkg: routes 1, readings 12; ")
    assert "\n  marks: 1 rows" in said
    assert len(said) < 600


def test_layers_are_had_by_name(result):
    assert result["marks"].equals(result.layers["marks"])
    assert ("marks" in result, "dig_zones" in result) == (True, False)
    assert list(result) == list(result.layers)
    with pytest.raises(KeyError, match="readings_on_route, profile"):
        result["dig_zones"]


def test_type_checkers_know_which_layers_have_a_geometry():
    shaped = {name for name, schema in load_schemas("output").items() if schema.geometry_types}
    assert set(get_args(Shaped)) == shaped


def test_a_layer_is_yours_to_change(result):
    marks = result["marks"]
    marks["seen"] = True
    marks.loc[0, "chainage_m"] = -1.0
    assert type(marks) is type(result.layers["marks"])
    assert "seen" not in result["marks"]
    assert result["marks"].loc[0, "chainage_m"] > 0.0


def test_a_layer_goes_to_the_crs_that_the_routes_came_in(result):
    assert result["marks"].crs == result.job.crs
    assert result["marks"].to_crs(result.job.output_crs).crs == result.job.output_crs


def test_a_notebook_shows_layers_and_faults_and_runs_nothing_from_data(tmp_path):
    name = "<img src=x onerror=alert(1)>"
    points = readings(12)
    points.loc[0, "line_id"] = name
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=points)
    result = leakgeo.locate(leakgeo.read_job(tmp_path / "job.gpkg"))
    shown = result.job._repr_html_()
    assert "<td>readings</td><td>12</td><td>1</td>" in shown
    assert "rejected: readings" in shown
    assert "<td>marks</td><td>1</td>" in result._repr_html_()
    broken = replace(result, faults=result.job.faults)._repr_html_() + shown
    assert "&lt;img" in broken
    assert "<img" not in broken


def test_reprs_are_short_and_say_what_it_is():
    fault = leakgeo.Fault("routes", "It has no geometry.", "Draw it.", "L-7")
    assert repr(fault) == "<Fault rejected: routes L-7: It has no geometry. Draw it.>"
    assert repr(leakgeo.locate).startswith("<Step locate: ")
    assert len(repr(leakgeo.locate)) < 120

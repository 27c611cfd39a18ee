"""What a person sees of a job and a result in an interpreter."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import replace
from typing import get_args

import matplotlib as mpl
import pytest

import leakgeo
from leakgeo.errors import LeakgeoError, ParameterError
from leakgeo.job import model
from leakgeo.job.schema import load_schemas
from leakgeo.layers import WithGeometry
from leakgeo.reason import Reason
from leakgeo.registry import load_steps
from tests.job.jobs import heard, routes, write


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    path = tmp_path_factory.mktemp("result") / "job.gpkg"
    write(path, routes=routes().iloc[:1], readings=heard(12))
    return leakgeo.locate(path)


@pytest.fixture
def canvas():
    """Draw without a screen, and leave no figure behind."""
    mpl.use("Agg")
    import matplotlib.pyplot as plt

    yield plt
    plt.close("all")


def test_a_result_says_in_a_few_lines_what_it_holds(result):
    said = repr(result)
    assert said.startswith("Result of Job job.gpkg: routes 1, readings 12; ")
    assert "\n  marks: 1 rows" in said
    assert len(said) < 600


def test_layers_are_had_by_name(result):
    assert result["search_zones"].equals(result.layers["search_zones"])
    assert ("marks" in result, "dig_zones" in result) == (True, False)
    assert list(result) == list(result.layers)
    with pytest.raises(KeyError, match="readings_on_route, profile"):
        result["dig_zones"]


def test_a_result_and_its_job_are_mappings_of_layers(result):
    for one, held in ((result, result.layers), (result.job, {"routes": 1, "readings": 12})):
        assert isinstance(one, Mapping)
        assert list(one) == list(one.keys()) == list(held)
        assert len(one) == len(held) == len(one.values())
        assert {name: len(layer) for name, layer in one.items()}.keys() == held.keys()
        assert one.get("dig_zones") is None
    assert len(result.job["readings"]) == 12
    with pytest.raises(KeyError, match="the layers are: routes, readings"):
        result.job["utilities"]


def test_results_compare_and_hash_as_objects_do(result):
    assert result == result  # noqa: PLR0124
    assert result != replace(result)
    assert len({result, replace(result), result.job}) == 3
    # A result without layers is one all the same.
    assert leakgeo.Result(result.job)


def test_layers_are_handed_out_in_the_crs_asked_for_and_steps_work_on(result):
    there = result.to_crs(4326)
    assert there["marks"].crs == there.job.to_crs("EPSG:4326")["routes"].crs == 4326
    assert all(layer.crs == 4326 for layer in there.values() if hasattr(layer, "crs"))
    assert result.to_crs()["marks"].crs == result.job.output_crs
    further = leakgeo.clearance(there)
    assert further["dig_zones"].crs == 4326
    assert further.layers["dig_zones"].crs == result.job.crs
    assert further.layers["search_zones"] is result.layers["search_zones"]
    assert list(there["lines"]) == list(result["lines"])


def test_one_line_is_drawn_with_its_level_its_odds_and_its_plan(result, canvas):
    level, density, plan = result.plot("L1")
    mark = result["marks"].iloc[0]
    known = result["readings_on_route"].query("used")["chainage_m"]
    drawn = {line.get_label(): line.get_xdata() for line in level.lines}
    assert sorted(drawn["readings"]) == sorted(known)
    assert [set(drawn[name]) for name in drawn if name.startswith(("mark", "likeliest"))] == [
        {mark["chainage_m"]}
    ]
    top = density.collections[0].get_paths()[0].vertices[:, 1].max()
    assert top == pytest.approx(result["profile"]["leak_density_per_m"].max())
    box = plan.dataLim
    assert box.x0 <= mark.geometry.x <= box.x1
    assert level.get_ylabel() == "level [dB]"
    canvas.gcf().canvas.draw()


def test_a_plan_is_drawn_into_axes_that_are_there(result, canvas):
    axes = canvas.figure().add_subplot()
    assert result.plot(ax=axes) is axes
    assert result.job.plot(ax=axes) is axes
    degrees = result.job.to_crs(4326).plot("L1")
    assert degrees.get_xlabel() == "WGS 84 [degree]"
    west, _, east, _ = result.job.to_crs(4326)["routes"].total_bounds
    assert degrees.get_xlim()[0] < west < east < degrees.get_xlim()[1]


def test_without_matplotlib_it_says_what_to_install(result, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib.pyplot", None)
    with pytest.raises(LeakgeoError, match=r"leakgeo\[plot\]"):
        result.plot()


def test_a_line_that_is_not_there_is_not_drawn(result):
    for call in (result.plot, result.explore, result.job.plot, result.job.explore):
        with pytest.raises(ParameterError, match="no line L9"):
            call("L9")


def test_the_map_to_explore_asks_no_network(result):
    for one in (result, result.job):
        page = one.explore("L1").get_root().render()
        assert 'src="http' not in page
        assert '<link rel="stylesheet" href="http' not in page
        assert "{z}" not in page
    tiles = result.explore(tiles="https://tiles.example/{z}/{x}/{y}.png").get_root().render()
    assert "https://tiles.example" in tiles


def test_the_summary_is_a_table_of_lines_by_priority(result):
    table = result.summary("us")
    assert table.index.tolist() == ["L1"]
    assert table.loc["L1", "chainage_ft"] == pytest.approx(
        result["marks"]["chainage_m"].item() / 0.3048, abs=0.01
    )
    assert leakgeo.Result(result.job).summary().empty
    assert result.job.summary()["rows"].to_dict() == {"routes": 1, "readings": 12}


def test_type_checkers_know_which_layers_have_a_geometry():
    known = {**load_schemas("input"), **load_schemas("output")}
    shaped = {name for name, schema in known.items() if schema.geometry_types}
    assert set(get_args(WithGeometry)) == shaped
    assert set(model.LAYERS) == set(load_schemas("input"))


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
    points = heard(12)
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
    fault = leakgeo.Fault("routes", Reason("no_geometry"), "L-7")
    assert repr(fault) == "<Fault rejected: routes L-7: It has no geometry. Draw it.>"
    step = load_steps()["locate"]
    assert repr(step).startswith("<Step locate: ")
    assert len(repr(step)) < 120

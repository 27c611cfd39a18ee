"""JSON for scripts: one document on stdout, lines on stderr, and keys that programs bind to."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely

from leakgeo.commands import JSON_FORMAT
from leakgeo.faults import COLUMNS
from leakgeo.job.schema import load_schemas
from leakgeo.registry import load_steps
from tests.job.jobs import heard, readings, routes, write
from tests.test_cli import TOWN, leakgeo_command

ALWAYS = {"leakgeo", "format", "command", "exit_code", "error", "faults"}
RESULT = {"out", "files", "units", "language", "crs", "counts", "layers", "lines", "meter",
          "learned", "changes", "worked_out", "seconds", "caution",
          "lines_not_listed"}  # fmt: skip
LINE = {"line_id", "status", "dig_status", "leak_probability", "chainage_m", "priority",
        "loss_l_per_day", "conflicts", "message", "code", "values", "advice",
        "advice_code", "advice_values", "held_by", "held_by_code", "held_by_values",
        "next_action", "next_action_code", "next_action_values", "mark",
        "further_marks"}  # fmt: skip
MARK = {"rank", "chainage_m", "probability_within_1ft", "along_sd_m", "along_95_m", "across_95_m",
        "limited_by", "status", "x", "y", "longitude", "latitude"}  # fmt: skip
PARAMETER = {"name", "option", "option_off", "kind", "default", "help", "unit", "choices",
             "minimum", "maximum", "required", "many", "group"}  # fmt: skip
STEP = {"name", "title", "summary", "help", "group", "needs", "makes", "takes", "parameters",
        "examples"}  # fmt: skip
LAYER = {"name", "title", "description", "geometry_types", "required", "tables", "columns"}
FAULT = set(COLUMNS)


def strict(text):
    """Read JSON as a strict reader does: NaN is none."""

    def refuse(word):
        raise AssertionError(f"{word} is not JSON")

    return json.loads(text, parse_constant=refuse)


def told(*call, code=0):
    done = leakgeo_command(*call, "--json")
    assert done.returncode == code, done.stderr
    document = strict(done.stdout)
    events = [strict(line) for line in done.stderr.splitlines()]
    assert document.keys() >= ALWAYS
    assert document["format"] == JSON_FORMAT == 1
    assert document["command"] == call[0]
    assert document["exit_code"] == code
    return document, events


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    path = tmp_path_factory.mktemp("job") / "job.gpkg"
    broken = routes()
    broken.loc[1, "geometry"] = shapely.LineString()
    write(path, routes=broken, readings=heard(12))
    return path


def test_a_run_is_told_line_by_line(job, tmp_path):
    document, events = told("run", job, "--out", tmp_path / "out", code=1)
    assert document.keys() == ALWAYS | RESULT
    assert document["changes"] is None
    assert document["error"] is None
    found, lost = sorted(document["lines"], key=lambda line: line["line_id"])
    assert found.keys() == lost.keys() == LINE
    assert found["mark"].keys() == MARK
    assert lost["status"] == "rejected"
    assert lost["mark"] is lost["leak_probability"] is None
    assert all(fault.keys() == FAULT for fault in document["faults"])
    assert any(f["effect"] == "rejected" for f in document["faults"])
    assert document["counts"]["readings"]["in"] == 12
    files = {path.rpartition("/")[2] for path in document["files"]}
    assert files >= {"result.gpkg", "map.html", "report.pdf", "run.json"}
    assert "Nothing here clears a dig" in document["caution"]
    assert {e["event"] for e in events} == {"progress"}
    assert all(e.keys() == {"event", "step", "done", "total", "seconds_left"} for e in events)
    assert [e["step"] for e in events if e["total"] is None] == list(load_steps())
    last = [e for e in events if e["step"] == "locate"][-1]
    assert last["done"] == last["total"] == 1
    assert last["seconds_left"] == 0


def test_a_mark_is_where_the_layer_has_it(tmp_path):
    import geopandas as gpd

    out = tmp_path / "out"
    document, _ = told("locate", TOWN, "--out", out, "--line", "M-1")
    mark = document["lines"][0]["mark"]
    layer = gpd.read_file(out / "result.gpkg", layer="marks")
    assert np.allclose([mark["x"], mark["y"]], [layer.geometry.x[0], layer.geometry.y[0]])
    degrees = layer.to_crs("EPSG:4326").geometry
    assert np.allclose([mark["longitude"], mark["latitude"]], [degrees.x[0], degrees.y[0]])


def test_a_result_that_is_handed_on_has_its_document(tmp_path):
    told("locate", TOWN, "--out", tmp_path / "out", "--line", "M-1")
    document, _ = told("export", tmp_path / "out", "--out", tmp_path / "hand", "--no-density")
    assert document.keys() == ALWAYS | RESULT
    assert document["counts"] is None
    assert [line["line_id"] for line in document["lines"]] == ["M-1"]
    assert document["lines"][0]["mark"].keys() == MARK
    assert not any("leak_density" in path for path in document["files"])


@pytest.mark.parametrize(
    ("call", "kind"),
    [
        (["run", "nowhere.gpkg", "--out", "out"], "JobError"),
        (["run", "nowhere.gpkg", "--out", "out", "--dig-date", "31/3"], "ParameterError"),
        (["run", "nowhere.gpkg"], "MissingParameter"),
        (["check", "nowhere.gpkg", "--no-such"], "NoSuchOption"),
        (["run", "nowhere.gpkg", "--out", "tests"], "JobError"),
    ],
)
def test_an_error_is_told_on_both_streams(call, kind, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    document, events = told(*call, code=2)
    assert document.keys() == ALWAYS
    assert document["error"].keys() == {"kind", "message"}
    assert document["error"]["kind"] == kind
    (error,) = events
    assert error.keys() == {"event", "kind", "message"} | FAULT
    assert error["event"] == "error"
    assert error["effect"] == "stops"


def test_faults_that_stop_a_job_are_in_both(tmp_path):
    write(tmp_path / "job.gpkg", routes=None, readings=readings(3))
    document, events = told("check", tmp_path / "job.gpkg", code=2)
    stops = [f for f in document["faults"] if f["effect"] == "stops"]
    assert [f["layer"] for f in stops] == ["routes"]
    assert [e["what_to_do"] for e in events] == [f["what_to_do"] for f in stops]


def test_other_commands_have_their_document_too(job, tmp_path):
    checked, events = told("check", job, code=1)
    assert checked.keys() == ALWAYS | {"counts", "crs"}
    assert checked["counts"]["rows_read"] == {"routes": 2, "readings": 12}
    assert not events
    drafted, _ = told("mapping", job)
    assert "[routes]" in drafted["mapping"]
    made, _ = told("template", tmp_path / "new.gpkg")
    assert made["files"] == [str(tmp_path / "new.gpkg")]
    stops = tmp_path / "stops.csv"
    stops.write_text("line,from,tape,level,unit\nA,start,1 m,40,db\n,,2 m,x,\n")
    typed, _ = told("template", tmp_path / "new.gpkg", "--from", stops, code=1)
    (counts,) = typed["typed"]
    assert counts["rows"] == counts["added"] + counts["in_job_already"] + counts["left_out"] == 2
    sheets, _ = told("template", tmp_path / "sheets.pdf")
    assert sheets["pages"] == 6
    script, _ = told("completion", "fish")
    assert "leakgeo" in script["script"]


def test_json_may_stand_before_the_command(job):
    done = leakgeo_command("--json", "check", job)
    assert strict(done.stdout)["command"] == "check"


def test_steps_tell_all_that_a_toolbox_needs():
    document, _ = told("steps")
    assert document.keys() == ALWAYS | {"steps", "tools", "files", "cut_names_mark",
                                        "input_layers", "output_layers"}  # fmt: skip
    steps = {step["name"]: step for step in document["steps"]}
    assert list(steps) == ["run", *load_steps()]
    for step in steps.values():
        assert step.keys() == STEP
        assert step["help"]
        assert all(p.keys() == PARAMETER for p in step["parameters"])
        names = [p["name"] for p in step["parameters"]]
        assert len(set(names)) == len(names)
        assert names[:12] == ["job", "mapping", "lines", "where", "out", "units", "language",
                              "overwrite", "keep_earlier", "to_postgis", "schema",
                              "upsert"]  # fmt: skip
    run = {p["name"]: p for p in steps["run"]["parameters"]}
    assert {p["name"] for step in steps.values() for p in step["parameters"]} == run.keys()
    assert [n for n, step in steps.items() if "results" in step["takes"]] == [
        "map",
        "report",
        "export",
    ]
    tools = {tool["name"]: tool for tool in document["tools"]}
    assert list(tools) == ["check", "mapping", "demo"]
    assert all(tool.keys() == STEP for tool in tools.values())
    assert {p["name"]: p["option"] for p in tools["demo"]["parameters"]}["out"] is None
    assert run["lines"]["option"] == "--line"
    assert run["lines"]["many"]
    assert run["job"]["option"] is None
    assert run["density"]["option_off"] == "--no-density"
    assert run["dig_date"]["kind"] == "date"
    assert run["step_m"] == {
        "name": "step_m", "option": "--step-m", "option_off": None, "kind": "number",
        "default": 0.5, "help": "Spacing of the interpolated profile.", "unit": "m",
        "choices": [], "minimum": 0.05, "maximum": None, "required": False, "many": False,
        "group": "Step profile",
    }  # fmt: skip


def test_layers_of_a_job_are_those_of_the_schemas():
    document, _ = told("steps")
    layers = document["input_layers"]
    assert [layer["name"] for layer in layers] == list(load_schemas("input"))
    assert all(layer.keys() == LAYER for layer in layers)
    assert [layer["name"] for layer in layers if layer["required"]] == ["routes", "readings"]
    assert layers[0]["geometry_types"] == ["LineString", "MultiLineString"]


def test_every_option_told_is_one_of_the_command():
    document, _ = told("steps")
    for step in document["steps"]:
        shown = leakgeo_command(step["name"], "--help").stdout
        for parameter in step["parameters"]:
            for option in (parameter["option"], parameter["option_off"]):
                assert option is None or option in shown

"""The plugin in the host's own Python: what it lists, what it runs, and what it leaves behind."""

from __future__ import annotations

import configparser
import io
import subprocess
import sys
import zipfile

import pandas as pd
import pyogrio
import pytest

from leakgeo.commands import describe
from leakgeo.desktop import write_plugin
from tests.desktop.conftest import TOWN, layers_of

QUIET = {"load_results": False}
# How a parameter of ours is known to the host.
TYPES = {
    "number": {"number"}, "integer": {"number"}, "boolean": {"boolean"}, "choice": {"enum"},
    "text": {"string"}, "file": {"file"}, "folder": {"folderDestination", "file"},
    "date": {"datetime", "string"},
}  # fmt: skip


def test_the_archive_is_one_that_the_host_installs(tmp_path):
    with zipfile.ZipFile(write_plugin(tmp_path / "leakgeo.zip")) as packed:
        names = packed.namelist()
        told = configparser.ConfigParser()
        told.read_file(io.StringIO(packed.read("leakgeo_desktop/metadata.txt").decode()))
    assert {n.split("/")[0] for n in names} == {"leakgeo_desktop"}
    assert "leakgeo_desktop/__init__.py" in names
    assert told["general"]["qgisMinimumVersion"] == "3.22"
    assert told["general"]["hasProcessingProvider"] == "yes"


@pytest.fixture(scope="module")
def listed(host):
    return host.scene("listing")


def test_every_step_is_listed_with_its_parameters_as_leakgeo_declares_them(listed):
    said = describe()
    assert set(listed["algorithms"]) == {s["name"] for s in said["steps"]} | {"set_up"}
    for step in said["steps"]:
        told = listed["algorithms"][step["name"]]
        assert told["summary"] == step["summary"]
        assert told["group"] == step["group"]
        assert told["batch"]
        assert told["cancel"]
        own = {p["name"]: p for p in told["parameters"]}
        wanted = [p for p in step["parameters"] if p["name"] != "job"]
        layers = [layer["name"] for layer in said["input_layers"]]
        extra = set(own) - {p["name"] for p in wanted} - set(layers)
        assert extra == {"load_results", "lines_apart"}
        for layer in said["input_layers"]:
            assert own[layer["name"]]["optional"] != layer["required"]
        for parameter in wanted:
            assert_declared(own[parameter["name"]], parameter)


def assert_declared(own, parameter):
    """Compare one parameter with its declaration."""
    assert own["type"] in TYPES[parameter["kind"]], parameter["name"]
    assert parameter["help"].rstrip(".") in own["help"], parameter["name"]
    if parameter["kind"] == "choice":
        assert own["options"] == list(parameter["choices"])
        assert own["default"] in (parameter["default"],
                                  parameter["choices"].index(parameter["default"]))  # fmt: skip
    if parameter["kind"] in ("number", "integer") and parameter["default"] is not None:
        assert own["default"] == pytest.approx(parameter["default"])
    for end, name in (("min", "minimum"), ("max", "maximum")):
        if parameter.get(name) is not None:
            assert own[end] == pytest.approx(parameter[name]), parameter["name"]


def layers(path):
    names = [n for n in pyogrio.list_layers(path)[:, 0] if n != "layer_styles"]
    return {n: pd.DataFrame(pyogrio.read_dataframe(path, layer=n)) for n in names}


@pytest.fixture(scope="module")
def by_command(tmp_path_factory):
    """The job's two layers run by the command line."""
    folder = tmp_path_factory.mktemp("command")
    job = folder / "job.gpkg"
    for name in ("routes", "readings"):
        frame = pyogrio.read_dataframe(TOWN, layer=name)
        pyogrio.write_dataframe(frame, job, layer=name, append=job.exists())
    subprocess.run([sys.executable, "-m", "leakgeo", "run", str(job), "--out",
                    str(folder / "out"), "--quiet"], check=False, capture_output=True)  # fmt: skip
    return layers(folder / "out" / "result.gpkg")


def test_the_host_gives_what_the_command_line_gives(host, by_command, tmp_path):
    out = tmp_path / "out"
    done = host.scene(
        "run", "leakgeo:run", {**layers_of(TOWN, "routes", "readings"), **QUIET, "out": str(out)}
    )
    assert done["error"] is None
    assert done["steps"] == sorted(done["steps"])
    assert done["results"]["marks"].endswith("|layername=marks")
    got = layers(out / "result.gpkg")
    assert list(got) == list(by_command)
    for name, frame in by_command.items():
        pd.testing.assert_frame_equal(got[name], frame, obj=name)


def test_the_program_without_a_window_runs_it_too(host, tmp_path):
    out = tmp_path / "out"
    sources = [f"--{name}={address}" for name, address in
               layers_of(TOWN, "routes", "readings").items()]  # fmt: skip
    done = host.process("run", "leakgeo:profile", "--", *(s[2:] for s in sources), f"out={out}",
                        "load_results=false")  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (out / "result.gpkg").is_file()


def test_selected_features_only(host, tmp_path):
    out = tmp_path / "out"
    done = host.scene("selected", str(TOWN), ["H-101", "H-102"], {"out": str(out), **QUIET})
    assert done["error"] is None
    assert set(layers(out / "result.gpkg")["profile"]["line_id"]) == {"H-101", "H-102"}


def test_layers_in_memory_with_edits_that_are_not_saved(host, tmp_path):
    out = tmp_path / "out"
    done = host.scene("edited", str(TOWN), "H-101", "H-101/002", 77.0, {"out": str(out), **QUIET})
    assert done["error"] is None
    placed = layers(out / "result.gpkg")["readings_on_route"].set_index("reading_id")
    assert "H-101/001" not in placed.index
    town = pyogrio.read_dataframe(TOWN, layer="readings").set_index("reading_id")
    changed = placed.loc["H-101/002", "level_db"] - placed.loc["H-101/003", "level_db"]
    unchanged = town.loc["H-101/002", "sound_level"] - town.loc["H-101/003", "sound_level"]
    assert changed - unchanged == pytest.approx(77.0 - town.loc["H-101/002", "sound_level"])


def test_a_run_that_is_stopped_leaves_nothing(host, tmp_path):
    out = tmp_path / "out"
    sources = layers_of(TOWN, "routes", "readings")
    done = host.scene("stopped", "leakgeo:run", {**sources, "out": str(out)}, "locate")
    assert "Stopped. Nothing was written." in done["said"]
    assert not out.exists()
    left = subprocess.run(["pgrep", "-f", str(out)], capture_output=True, text=True, check=False)
    assert not left.stdout.strip()


def test_results_are_opened_with_marks_on_top_and_a_group_a_line(host, tmp_path):
    sources = layers_of(TOWN, "routes", "readings")
    told = host.scene("loaded", {**sources, "out": str(tmp_path / "out")}, None)
    ((title, inside),) = told["tree"]
    assert title == "leakgeo: out"
    assert inside[0] == "Marks"
    assert any(group[0] == "Line H-101" for group in inside[1:])
    assert inside[-1][0] == "Tables"
    assert told["layers"]["Marks"][1] > 0


def test_a_script_that_opens_nothing_lives_on(host, tmp_path):
    # Layers that are listed to be opened and never are: the host deletes what it was given.
    sources = layers_of(TOWN, "routes", "readings")
    done = host.scene("run", "leakgeo:profile", {**sources, "out": str(tmp_path / "out")})
    assert done["error"] is None


def test_a_job_that_cannot_be_run_says_why_and_opens_its_faults(host, tmp_path):
    bad = tmp_path / "bad.gpkg"
    for name in ("routes", "readings"):
        frame = pyogrio.read_dataframe(TOWN, layer=name)
        frame = frame.drop(columns="line_id") if name == "routes" else frame
        pyogrio.write_dataframe(frame, bad, layer=name, append=bad.exists())
    out = tmp_path / "out"
    done = host.scene("faults_table", {**layers_of(bad, "routes", "readings"), "out": str(out)})
    assert "routes" in done["error"]
    assert "line_id" in done["error"]
    assert any(row["layer"] == "routes" for row in done["rows"])
    assert not out.exists()


def test_without_leakgeo_it_says_what_to_do(host):
    told = host.scene("listing", LEAKGEO_EXECUTABLE="/nowhere/leakgeo", PATH="/usr/bin:/bin",
                      HOME="/nonexistent")  # fmt: skip
    assert list(told["algorithms"]) == ["set_up"]
    assert "pip install" in told["algorithms"]["set_up"]["help"]


def test_the_batch_and_model_tools_of_the_host(host, tmp_path):
    sources = layers_of(TOWN, "routes", "readings")
    rows = [{**sources, **QUIET, "lines": line, "out": str(tmp_path / line)}
            for line in ("H-101", "H-117")]  # fmt: skip
    done = host.scene("batch", "leakgeo:profile", rows)
    assert [d["fine"] for d in done] == [True, True]
    for line in ("H-101", "H-117"):
        profile = layers(tmp_path / line / "result.gpkg")["profile"]
        assert set(profile["line_id"]) == {line}
    around = tmp_path / "around.gpkg"
    made = host.scene("model", str(TOWN), str(tmp_path / "model"), "H-101", str(around))
    assert made["fine"]
    assert len(pyogrio.read_dataframe(around)) == 1

"""The plugin in QGIS: algorithms, results equal to the command line, errors, cancellation."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from geopandas.testing import assert_geodataframe_equal

from leakgeo.commands import describe
from tests.desktop.conftest import layers_of
from tests.test_cli import leakgeo_command
from tests.town import TOWN

INPUTS = ("routes", "readings", "contacts", "meter_tests", "utilities", "surfaces", "history")
KINDS = {"number": "number", "integer": "number", "boolean": "boolean", "text": "string",
         "choice": "enum", "date": "datetime", "file": "file",
         "folder": "folderDestination"}  # fmt: skip
OWN = {"load_results"}
OWN_OF_TOOLS = {"check": {"load_results"}, "mapping": set()}


@pytest.fixture(scope="module", name="town")
def _town(tmp_path_factory):
    """Return a part of the town, with one layer each of utilities and history."""
    path = tmp_path_factory.mktemp("town") / "job.gpkg"
    mixed: dict[str, list[gpd.GeoDataFrame]] = {}
    for name in pyogrio.list_layers(TOWN)[:, 0]:
        whole = name.removesuffix("_lines").removesuffix("_areas").removesuffix("_points")
        whole = {"utility": "utilities"}.get(whole, whole)
        if whole in INPUTS:
            mixed.setdefault(whole, []).append(pyogrio.read_dataframe(TOWN, layer=name))
    for name, parts in mixed.items():
        rows = pd.concat(parts, ignore_index=True)
        if name in ("routes", "readings", "contacts", "meter_tests"):
            rows = rows[rows["line_id"].isin(["H-126", "S-109"])]
        pyogrio.write_dataframe(rows, path, layer=name,
                                dataset_options={"VERSION": "1.3"})  # fmt: skip
    return path


@pytest.fixture(scope="module")
def listed(host):
    return host.scene("listing")


def commands():
    described = describe()
    return {one["name"]: one for one in (*described["steps"], *described["tools"])}


def test_every_command_is_an_algorithm_that_can_be_cancelled_and_batched(listed):
    assert set(listed["algorithms"]) == {*commands(), "new_job", "set_up"}
    assert listed["icon"]
    for name, command in commands().items():
        algorithm = listed["algorithms"][name]
        assert algorithm["title"].endswith(command["title"])
        assert algorithm["summary"] == command["summary"]
        assert algorithm["batch"]
        assert algorithm["cancel"]


def test_the_toolbox_has_the_order_of_work(listed):
    # QGIS sorts by name; what is in no group comes before all groups.
    placed = sorted((a["group"], a["title"], name) for name, a in listed["algorithms"].items())
    run, *steps = [step["name"] for step in describe()["steps"]]
    assert [name for *_, name in placed] == [
        run, "set_up", "new_job", "check", "mapping", "demo", *in_groups(steps)
    ]  # fmt: skip
    assert placed[0][:2] == ("", "Run the whole chain")


def in_groups(steps):
    groups = list(dict.fromkeys(commands()[name]["group"] for name in steps))
    return sorted(steps, key=lambda name: groups.index(commands()[name]["group"]))


def test_parameters_are_those_of_the_json(listed):
    layers = [layer["name"] for layer in describe()["input_layers"]]
    for command, step in commands().items():
        found = {p["name"]: p for p in listed["algorithms"][command]["parameters"]}
        expected = {p["name"]: p for p in step["parameters"] if p["kind"] != "job"}
        job = {"job_file"} if len(expected) < len(step["parameters"]) else set()
        chosen = set(layers) if "layers" in step["takes"] else set()
        assert set(found) == {*chosen, *expected, *job, *OWN_OF_TOOLS.get(command, OWN)}
        assert all(found[name]["optional"] for name in chosen)
        assert not job or found["job_file"]["optional"] == bool(chosen)
        for name, p in expected.items():
            own = found[name]
            draft = (command, name) == ("mapping", "out")
            assert own["type"] == ("fileDestination" if draft else KINDS[p["kind"]])
            assert own["help"] == p["help"]
            assert own["default"] == ("" if p["many"] else p["default"])
            assert p["unit"] is None or f"[{p['unit']}]" in own["label"]
            assert not (p["required"] or draft) or not own["optional"]
            if p["choices"]:
                assert own["options"] == p["choices"]
            for end in ("minimum", "maximum"):
                assert p[end] is None or float(own[end[:3]]) == p[end]


def same_results(one, other):
    names = list(pyogrio.list_layers(one)[:, 0])
    assert names == list(pyogrio.list_layers(other)[:, 0])
    # The record differs: it names the file that was read.
    for name in (name for name in names if name != "run_record"):
        a, b = (pyogrio.read_dataframe(path, layer=name) for path in (one, other))
        if name == "layer_styles":
            a, b = a.drop(columns="update_time"), b.drop(columns="update_time")
        same = assert_geodataframe_equal if isinstance(a, gpd.GeoDataFrame) else (
            pd.testing.assert_frame_equal)  # fmt: skip
        same(a, b)


def test_run_gives_what_the_command_line_gives(host, tmp_path, town):
    from_command = tmp_path / "command"
    leakgeo_command("run", town, "--out", from_command, "--json", "--no-density",
                    "--map-lines", 1, "--report-lines", 1)  # fmt: skip
    given = {**layers_of(town, *INPUTS), "density": False, "map_lines": 1, "report_lines": 1}
    values = [f"{name}={str(value).lower() if value is False else value}"
              for name, value in given.items()]  # fmt: skip
    done = host.process("run", "leakgeo:run", "--", *values, f"out={tmp_path / 'process'}",
                        "load_results=false")  # fmt: skip
    assert done.returncode == 0, done.stderr
    same_results(from_command / "result.gpkg", tmp_path / "process" / "result.gpkg")


def test_a_script_gives_what_the_command_line_gives(host, tmp_path, town):
    from_command = tmp_path / "command"
    leakgeo_command("profile", town, "--out", from_command, "--json")
    # A script opens none of the layers that the plugin gave QGIS, which deletes their
    # post-processors.
    given = {**layers_of(town, *INPUTS), "out": tmp_path / "scripted"}
    assert host.scene("run", "leakgeo:profile", given)["error"] is None
    same_results(from_command / "result.gpkg", tmp_path / "scripted" / "result.gpkg")


def test_selected_features_only(host, tmp_path):
    out = tmp_path / "out"
    done = host.scene("selected", TOWN, ["H-126"], {"out": out})
    assert done["error"] is None
    rows = pyogrio.read_dataframe(out / "result.gpkg", layer="readings_on_route")
    assert set(rows["line_id"]) == {"H-126"}


def test_a_stop_leaves_nothing_behind(host, tmp_path, town):
    scratch, out = tmp_path / "scratch", tmp_path / "new" / "out"
    scratch.mkdir()
    given = {**layers_of(town, *INPUTS), "out": out}
    done = host.scene("stopped", "leakgeo:run", given, "locate", TMPDIR=str(scratch))
    assert any("Stopped" in text for text in done["messages"])
    assert not (tmp_path / "new").exists()
    assert not list(scratch.glob("leakgeo-*"))
    listed = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True, check=True)
    assert str(scratch) not in listed.stdout


def test_a_missing_program_is_reported_with_how_to_install_it(host, tmp_path):
    nowhere = {"HOME": str(tmp_path), "LEAKGEO_EXECUTABLE": "", "PATH": "/usr/bin:/bin"}
    built = host.profile / "python/plugins/leakgeo_desktop/built.json"
    text = built.read_text("utf-8")
    built.unlink()
    try:
        done = host.scene("listing", **nowhere)
        run = host.scene("run", "leakgeo:set_up", {}, **nowhere)
    finally:
        built.write_text(text, "utf-8")
    assert set(done["algorithms"]) == {"set_up"}
    assert "-m venv" in done["provider"][2]
    assert "was not found" in run["error"]
    assert os.environ.get("HOME") != str(tmp_path)


def test_the_plugin_speaks_the_language_of_the_host(host):
    spanish, german = host.scene("spoken", "es_MX"), host.scene("spoken", "de")
    assert (spanish["label"], spanish["leakgeo"]) == ("Preparar leakgeo", "es-419")
    assert spanish["problem"].startswith("No hay ningún programa en /nowhere.")
    assert (german["label"], german["leakgeo"]) == ("Set up leakgeo", "en")
    assert (spanish["choice"], german["choice"]) == ("es-419", "en")
    european = host.scene("spoken", "es_ES")
    assert european["choice"] == "es"
    assert [said["number"] for said in (european, spanish, german)] == ["0,25 %", *["0.25 %"] * 2]
    assert spanish["toolbox"][:2] == ["Dibuja", "Día de la excavación"]
    assert german["toolbox"][:2] == ["Draw", "Dig date"]
    assert spanish["toolbox"][2] == "Día local en que comienza la excavación, como 2026-03-31."
    assert "La zona de excavación es la elipse de error" in spanish["toolbox"][3]
    assert "Trazados de las líneas de agua enterradas" in spanish["toolbox"][3]
    assert "The " not in spanish["toolbox"][3]
    assert "The dig zone is the mark's error ellipse" in german["toolbox"][3]
    pages = [url.rpartition("/")[2] for url in spanish["help"]]
    assert pages == ["index_es.html", "locate_es.html", "index_es.html#new_job"]
    assert german["help"][0].endswith("/help/index.html")


@pytest.mark.parametrize(("locale", "numbers", "spoken"), [
    ("es_ES", "es_MX", "es"), ("es_AR", "C", "es"), ("es", "C", "es"), ("es", "es_MX", "es-419"),
    ("es", "de_DE", "es"), ("en_US", "C", "en"), ("en_ZA", "C", "en"),
])  # fmt: skip
def test_numbers_are_those_of_the_country(host, locale, numbers, spoken):
    said = host.scene("spoken", locale, numbers)
    assert (said["leakgeo"], said["choice"]) == (spoken, spoken)


def test_a_new_job_is_written_with_its_project_and_never_over_another(host, tmp_path):
    given = {"crs": "EPSG:2289", "units": 0, "out": str(tmp_path / "monday")}
    done = host.scene("run", "leakgeo:new_job", given)
    assert done["error"] is None
    job, project = (Path(done["results"][name]) for name in ("job", "project"))
    assert pyogrio.read_info(job, layer="readings")["crs"] == "EPSG:2289"
    before = project.read_bytes()
    again = host.scene("run", "leakgeo:new_job", given)
    assert "exists" in again["error"]
    assert project.read_bytes() == before

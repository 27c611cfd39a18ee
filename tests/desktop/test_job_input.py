"""What a run takes in QGIS: a job file, layers that fit, Shapefiles, earlier results; red ends."""

from __future__ import annotations

import json

import pandas as pd
import pyogrio
import pytest

from leakgeo.deliver.field_project import write_field_project
from tests.desktop.conftest import layers_of
from tests.test_cli import leakgeo_command
from tests.town import TOWN, layers

QUIET = {"load_results": False}
LINE = "H-101"


@pytest.fixture(name="frames", scope="module")
def _frames():
    frames = {name: pyogrio.read_dataframe(TOWN, layer=name) for name in ("routes", "readings")}
    return {name: frame[frame["line_id"] == LINE] for name, frame in frames.items()}


@pytest.fixture(name="job", scope="module")
def _job(tmp_path_factory, frames):
    return written(tmp_path_factory.mktemp("job") / "job.gpkg", frames)


def written(path, tables):
    for name, frame in tables.items():
        pyogrio.write_dataframe(frame, path, layer=name, append=path.exists())
    return path


def shapefile(path, frame):
    """Write a Shapefile with its short names; it has no times."""
    times = frame.select_dtypes(["datetime", "datetimetz"]).columns
    short = frame.drop(columns=times).rename(columns=lambda name: name[:10])
    pyogrio.write_dataframe(short, path)


def test_the_job_of_the_project_is_proposed_with_its_units_and_a_folder(host, job, tmp_path):
    given = [[f"{job}|layername=routes", "pipes", ""]]
    found = host.scene("proposed", "leakgeo:run", given)
    assert found == {"job_file": str(job), "units": "us", "out": str(job.parent / "out")}
    # A field project draws the ground of the night by a filter that hides all.
    field, _ = write_field_project(tmp_path, crs=2263)
    given = [[f"{field}|layername={name}", name, ""] for name in ("readings", "surfaces")]
    given.append([f"{field}|layername=surfaces", "Dark ground", '"fid" < 0'])
    assert host.scene("proposed", "leakgeo:run", given)["job_file"] == str(field)
    # A filter of a layer holds, so the layers are proposed, and not the file.
    given = [[f"{job}|layername=routes", "pipes", "line_id <> 'X'"],
             [f"{job}|layername=readings", "stops", ""]]  # fmt: skip
    found = host.scene("proposed", "leakgeo:profile", given)
    assert (found["routes"], found["readings"]) == ("pipes", "stops")
    assert "job_file" not in found


def test_layers_are_proposed_by_name_and_fields_and_none_of_two(host, tmp_path, frames):
    routes, readings = frames["routes"], frames["readings"]
    mains = pyogrio.read_dataframe(TOWN, layer="utility_lines").head(3)
    shapes = {
        "routes": routes, "utility_lines": mains,
        # Of the right name, but with other columns or shapes.
        "contacts": mains, "valves": readings.rename(columns={"reading_id": "name"}),
        "dig_outcomes": routes,
    }  # fmt: skip
    for name, frame in shapes.items():
        shapefile(tmp_path / f"{name}.shp", frame)
    two = [written(tmp_path / f"{name}.gpkg", {"readings": readings}) for name in ("a", "b")]
    given = [[str(tmp_path / f"{name}.shp"), f"layer {name}", ""] for name in shapes]
    given += [[f"{path}|layername=readings", path.stem, ""] for path in two]
    found = host.scene("proposed", "leakgeo:run", given)
    assert found == {"routes": "layer routes", "utilities": ["layer utility_lines"], "units": "us",
                     "out": str(tmp_path / "out")}  # fmt: skip


def test_selected_rows_of_a_shapefile_are_read_as_on_the_command_line(host, tmp_path, frames):
    folder = tmp_path / "shapes"
    folder.mkdir()
    for name in frames:
        frame = pyogrio.read_dataframe(TOWN, layer=name)
        shapefile(folder / f"{name}.shp", frame[frame["line_id"].isin([LINE, "H-126"])])
    leakgeo_command("profile", folder, "--line", LINE, "--out", tmp_path / "command", "--json")
    out = tmp_path / "out"
    done = host.scene("selected", folder, [LINE], {**QUIET, "out": str(out)})
    assert done["error"] is None
    one, other = (layers(path / "result.gpkg") for path in (tmp_path / "command", out))
    pd.testing.assert_frame_equal(pd.DataFrame(one["profile"]), pd.DataFrame(other["profile"]))


def test_a_job_file_is_used_with_edits_that_are_not_saved(host, job, tmp_path):
    given = {**QUIET, "out": str(tmp_path / "out")}
    done = host.scene("edited_job", job, LINE, f"{LINE}/002", given)
    assert done["error"] is None
    rows = layers(tmp_path / "out" / "result.gpkg")["readings_on_route"]["reading_id"]
    stored = pyogrio.read_dataframe(job, layer="readings")["reading_id"]
    assert set(stored) - set(rows) == {f"{LINE}/002"}


def test_either_a_job_file_or_layers(host, job, tmp_path):
    out = {"out": str(tmp_path / "out"), **QUIET}
    both = {"job_file": str(job), **layers_of(job, "routes", "readings"), **out}
    assert "clear Job file, or Pipe routes, Readings" in host.scene(
        "run", "leakgeo:profile", both)["error"]  # fmt: skip
    assert "Choose a job file, or layers for Pipe routes and Readings." in host.scene(
        "run", "leakgeo:profile", out)["error"]  # fmt: skip


def test_a_run_without_a_line_worked_out_ends_with_the_reasons(host, tmp_path, frames):
    few = {"routes": frames["routes"], "readings": frames["readings"].assign(sound_unit="none")}
    bad = written(tmp_path / "bad.gpkg", few)
    # The command of one step ends well, as readings with a reason are what it gives.
    given = {"job_file": str(bad), "out": str(tmp_path / "out")}
    done = host.scene("faults_table", given)
    assert "No line was worked out.\nreadings H-101/001" in done["error"]
    assert any(row["value"] == "none" for row in done["rows"])


def test_lines_that_are_all_rejected_are_no_result(host):
    bad = {"line_id": "A", "status": "rejected", "message": "No reading can be used."}
    good = {**bad, "line_id": "B", "status": "located"}
    read = {"readings": {"in": 3, "used": 3}}
    document = {"lines": [bad], "layers": {"lines": 1}, "counts": read}
    said = host.scene("nothing_done", 1, document, [])
    assert said == "No line was worked out.\nA: No reading can be used."
    for code, lines, rows in ((1, [bad, good], {}), (0, [], {}), (1, [], {"profile": 2})):
        document = {"lines": lines, "layers": rows, "counts": read}
        assert host.scene("nothing_done", code, document, ["profile"]) == ""


def test_a_map_of_an_earlier_result(host, job, tmp_path):
    leakgeo_command("locate", job, "--out", tmp_path / "found", "--json")
    given = {"job_file": str(tmp_path / "found"), "out": str(tmp_path / "map"), **QUIET}
    assert host.scene("run", "leakgeo:map", given)["error"] is None
    assert (tmp_path / "map" / "map.html").is_file()


def test_check_counts_faults_and_a_mapping_is_drafted(host, tmp_path, frames):
    readings = frames["readings"].copy()
    readings.iloc[0, readings.columns.get_loc("sound_unit")] = "none"
    bad = written(tmp_path / "bad.gpkg", {**frames, "readings": readings})
    done = host.scene("run", "leakgeo:check", {"job_file": str(bad)})
    assert done["error"] is None
    told = json.loads(leakgeo_command("check", bad, "--json").stdout)["faults"]
    assert done["results"]["rejected"] == sum(f["effect"] == "rejected" for f in told) > 0
    draft = tmp_path / "map.toml"
    given = {"job_file": str(bad), "out": str(draft)}
    assert host.scene("run", "leakgeo:mapping", given)["error"] is None
    assert "[readings" in draft.read_text("utf-8")

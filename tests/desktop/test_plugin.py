"""The plugin in use: layers in memory, opened layers, batch and model."""

from __future__ import annotations

import pyogrio
import pytest

import leakgeo
from tests.desktop.conftest import layers_of
from tests.town import TOWN, layers

QUIET = {"load_results": False}
LINES = ("H-101", "H-117")


@pytest.fixture(name="job", scope="module")
def _job(tmp_path_factory):
    path = tmp_path_factory.mktemp("two") / "job.gpkg"
    for name in ("routes", "readings"):
        frame = pyogrio.read_dataframe(TOWN, layer=name)
        pyogrio.write_dataframe(frame[frame["line_id"].isin(LINES)], path, layer=name)
    return path


def test_layers_in_memory_with_unsaved_edits(host, job, tmp_path):
    out = tmp_path / "out"
    done = host.scene("edited", str(job), "H-101", "H-101/002", 77.0, {"out": str(out), **QUIET})
    assert done["error"] is None
    placed = layers(out / "result.gpkg")["readings_on_route"].set_index("reading_id")
    assert "H-101/001" not in placed.index
    town = pyogrio.read_dataframe(job, layer="readings").set_index("reading_id")
    changed = placed.loc["H-101/002", "level_db"] - placed.loc["H-101/003", "level_db"]
    unchanged = town.loc["H-101/002", "sound_level"] - town.loc["H-101/003", "sound_level"]
    assert changed - unchanged == pytest.approx(77.0 - town.loc["H-101/002", "sound_level"])


def test_a_run_opens_its_results_and_nothing_else(host, job, tmp_path):
    sources = layers_of(job, "routes", "readings")
    done = host.scene("loaded", {**sources, "out": str(tmp_path / "out")})
    ((title, *_, inside),) = done["tree"]
    assert title == "leakgeo: out"
    assert [node[0] for node in inside[:2]] == ["What holds the dig", "Marks"]
    assert {name.partition("_")[0] for name in done["layers"]} == {"leakgeo"}
    assert done["layers"]["leakgeo_marks"][2] > 0
    assert done["crs"] == f"EPSG:{pyogrio.read_dataframe(job, layer='routes').crs.to_epsg()}"


def test_a_job_that_cannot_be_run_reports_why_and_opens_its_faults(host, job, tmp_path):
    bad = tmp_path / "bad.gpkg"
    for name in ("routes", "readings"):
        frame = pyogrio.read_dataframe(job, layer=name)
        frame = frame.drop(columns="line_id") if name == "routes" else frame
        pyogrio.write_dataframe(frame, bad, layer=name, append=bad.exists())
    out = tmp_path / "out"
    done = host.scene("faults_table", {**layers_of(bad, "routes", "readings"), "out": str(out)})
    assert "routes: No route can be used" in done["error"]
    assert any(row["layer"] == "routes" for row in done["rows"])
    assert not out.exists()


def test_batch_and_model(host, job, tmp_path):
    inputs = ({"job_file": str(job)}, layers_of(job, "routes", "readings"))
    rows = [{**given, **QUIET, "lines": line, "out": str(tmp_path / line)}
            for line, given in zip(LINES, inputs, strict=True)]  # fmt: skip
    done = host.scene("batch", "leakgeo:profile", rows)
    assert [d["fine"] for d in done] == [True, True]
    for line in LINES:
        profile = layers(tmp_path / line / "result.gpkg")["profile"]
        assert set(profile["line_id"]) == {line}
    around = tmp_path / "around.gpkg"
    made = host.scene("model", str(job), str(tmp_path / "model"), "H-101", str(around))
    assert made["fine"]
    assert "model" in made["opens"]
    assert len(pyogrio.read_dataframe(around)) == 1


def test_layers_in_other_crs(host, job, tmp_path):
    other = tmp_path / "other.gpkg"
    for name, crs in (("routes", 4326), ("readings", 3857)):
        frame = pyogrio.read_dataframe(job, layer=name).to_crs(crs)
        pyogrio.write_dataframe(frame, other, layer=name, append=other.exists())
    sources, out = layers_of(other, "routes", "readings"), tmp_path / "out"
    done = host.scene("run", "leakgeo:profile", {**sources, **QUIET, "out": str(out)})
    assert done["error"] is None
    got, wanted = (table.set_index("reading_id") for table in (
        layers(out / "result.gpkg")["readings_on_route"],
        leakgeo.profile(job)["readings_on_route"]))  # fmt: skip
    used = wanted["used"] & got["used"]
    assert used.mean() > 0.9
    off = (got["chainage_m"] - wanted["chainage_m"])[used].abs()
    assert off.max() < 0.005

"""The page on paper, from where its line is drawn in a GIS."""

import geopandas as gpd
import pyogrio
import pytest
import shapely

from tests.site.blocks import blocks_of, run_page
from tests.site.build import GUIDE
from tests.test_cli import leakgeo_command

PAGE = (GUIDE / "how-to" / "from-paper.md").read_text("utf-8")
CRS = "EPSG:2289"


def draw(job):
    """Draw 70 feet into the row that is there, and write what is known of the pipe."""
    row = gpd.read_file(job, layer="routes").drop(columns="geometry", errors="ignore")
    known = {"material": "copper", "diameter_mm": 19.0, "depth_m": 0.91, "pressure_kpa": 414.0}
    x, y = 2_520_000, 400_000
    route = shapely.MultiLineString([[(x, y), (x + 50, y), (x + 50, y + 20)]])
    table = gpd.GeoDataFrame(row.assign(**known), geometry=[route], crs=CRS)
    pyogrio.write_dataframe(table, job, layer="routes")


def succeeds(*call):
    done = leakgeo_command(*call)
    assert done.returncode == 0, done.stderr
    return " ".join(done.stdout.split())


def test_a_typed_line_that_was_drawn_is_asked_about_and_run(tmp_path, monkeypatch):
    run_page(PAGE, tmp_path, {"text", "console"})
    monkeypatch.chdir(tmp_path)
    draw(tmp_path / "job.gpkg")
    (shown,) = (b.text for b in blocks_of(PAGE) if "run-by" in b.options)
    succeeds("check", "job.gpkg")
    said = succeeds("ask", "job.gpkg", "P-70")
    outputs = [" ".join(line.split()) for line in shown.splitlines() if not line.startswith("$ ")]
    assert len(outputs) == 2
    assert all(line in said for line in outputs)
    succeeds("run", "job.gpkg", "--out", "out")
    (mark,) = gpd.read_file("out/result.gpkg", layer="marks").itertuples()
    assert mark.chainage_m == pytest.approx((22 + 17 + 11 / 12) * 0.3048, abs=0.05)


def test_a_walk_that_was_deleted_is_added_again_as_corrected(tmp_path, monkeypatch):
    run_page(PAGE, tmp_path, {"text", "console"})
    monkeypatch.chdir(tmp_path)
    stops = gpd.read_file("job.gpkg", layer="readings")
    kept = stops[~stops["reading_id"].str.endswith(" stop 8")]
    pyogrio.write_dataframe(kept, "job.gpkg", layer="readings")
    succeeds("template", "job.gpkg", "--from", "corrected.csv", "--units", "us")
    again = gpd.read_file("job.gpkg", layer="readings").set_index("reading_id")
    assert len(again) == len(stops)
    assert again.loc["P-70 2025-06-03 1 stop 8", "sound_level"] == 32.0

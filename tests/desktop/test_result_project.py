"""A result in QGIS: its project has a dig sheet for each mark, its file alone shows the marks."""

from __future__ import annotations

import os
import shutil
import sqlite3

import pyogrio

from leakgeo.deliver.geopackage.order import in_order
from leakgeo.deliver.geopackage.styles import STYLES
from leakgeo.deliver.qgis.words import caution, project_words
from leakgeo.wording import wording
from leakgeo.wording.quantities import tape_text

WORDS = wording("us")


def without_place(file, line):
    """Take the place of a mark out of a result, as of a line that is known by tape alone."""
    with sqlite3.connect(file) as base:
        names = base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in names:
            base.execute(f'DROP TRIGGER "{name}"')
        base.execute("UPDATE marks SET geom = NULL WHERE line_id = ?", [line])


def test_it_opens_with_a_dig_sheet_for_each_mark(host, few, tmp_path):
    # QGIS leaves files beside a GeoPackage that it has open.
    for name in ("result.gpkg", "result.qgz"):
        shutil.copy2(few[1] / name, tmp_path)
    marks = pyogrio.read_dataframe(tmp_path / "result.gpkg", layer="marks")
    taped = marks["line_id"].iloc[-1]
    without_place(tmp_path / "result.gpkg", taped)
    picture = os.environ.get("LEAKGEO_PICTURES")
    answer = host.scene("result_project", tmp_path / "result.qgz",
                        picture and f"{picture}/dig_sheet")  # fmt: skip
    assert answer["invalid"] == answer["faults"] == []
    holds = pyogrio.read_dataframe(tmp_path / "result.gpkg", layer="holds")
    assert answer["marks"] == len(marks) == len(answer["pages"]) > 0
    assert 0 < answer["bookmarks"] <= len(marks)
    assert answer["plays"] is True
    assert caution(WORDS) in answer["card"]
    assert answer["card"].index("WHAT HOLDS THE DIG") < answer["card"].index("PLACE")
    for page in answer["pages"]:
        texts, line = page["texts"], page["line"]
        assert "[%" not in "".join(texts.values())
        assert page["placed"] == all(page["shown"]) == (line != taped)
        assert (texts["no map"] == project_words(WORDS)["no_map"]) == (line == taped)
        assert any(page["shown"]) == page["placed"]
        assert (page["off"] < 1.0, page["height"] >= 60, round(page["scale"])) == (True, True, 240)
        mark = marks[marks["line_id"] == line].iloc[0]
        for message in holds.loc[holds["line_id"] == line, "message"]:
            assert message in texts["holds"]
        assert tape_text(mark["from_fitting_m"], "us") in texts["card"]
        assert line in texts["title"]
        assert ("not a place to dig" in texts["title"]) == (mark["status"] != "located")
        assert caution(WORDS) in texts["caution"]
        assert mark["run_id"] in texts["footer"]


def test_marks_are_seen_where_the_file_is_opened_alone(host, town, tmp_path):
    shutil.copy2(town[1] / "result.gpkg", tmp_path)
    picture = os.environ.get("LEAKGEO_PICTURES")
    answer = host.scene("opened_alone", tmp_path / "result.gpkg", picture and f"{picture}/alone")
    assert min(answer["rows"].values()) > 0
    assert answer["unstyled"] == answer["labels_far"] == []
    shapes = [name for name in answer["order"] if name in STYLES]
    assert shapes == in_order(shapes)
    assert answer["order"].index("marks") < answer["order"].index("dig_zones")
    # Ink, below areas and lines that QGIS adds above the marks.
    assert len(answer["arms"]) > 3
    for line, arms in answer["arms"].items():
        assert max(arms) < 150, line
    # A model goes on with layers without rows, which the file does not have.
    layers = host.scene("output_layers", "run", tmp_path)
    assert layers["district_segments"] == [0, layers["marks"][1], "LineString"]
    assert layers["district_steps"][0] == 0
    assert layers["marks"][0] > 0

"""Two leaks on one line through the whole run: nothing is lost, nothing is doubled."""

from __future__ import annotations

import json
from xml.etree import ElementTree as ET

import geopandas as gpd
import pandas as pd
import pyogrio
import pypdf
import pytest

import leakgeo
from leakgeo.cli.document import lines_of
from leakgeo.deliver.folder.locate_requests import FILES
from leakgeo.deliver.folder.spreadsheets import summary_table
from leakgeo.deliver.map.line import line_data
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.top_lines import tally
from leakgeo.job.schema import load_schemas
from leakgeo.wording import with_texts, wording
from tests.deliver.shown import map_data
from tests.job import jobs
from tests.two_leaks import FIRST_M, SECOND_M, holes, leaks_heard, utilities

BY_MARK = ("dig_zones", "holds", "cautions", "conflicts", "locate_requests", "ties")


@pytest.fixture(scope="module", name="run")
def _run(tmp_path_factory):
    folder = tmp_path_factory.mktemp("two")
    jobs.write(folder / "job.gpkg", readings=leaks_heard(), dig_outcomes=holes(),
               utilities=utilities())  # fmt: skip
    result = leakgeo.run(folder / "job.gpkg", folder / "out", format="kml,dxf", density=False)
    return result, folder / "out"


def marks_of(result):
    return [("L1", 1), ("L1", 2)], result["marks"].set_index(["line_id", "rank"])


def test_every_dig_layer_has_rows_for_each_mark_and_keys_are_unique(run):
    result, out = run
    names, marks = marks_of(result)
    assert marks.index.tolist() == names
    for name in BY_MARK:
        own = result[name]
        assert set(zip(own["line_id"], own["mark_rank"], strict=True)) == set(names), name
        if key := list(load_schemas()[name].key):
            assert not own.duplicated(key).any(), name
        written = pyogrio.read_dataframe(out / "result.gpkg", layer=name)
        assert len(written) == len(own)
    zones = result["dig_zones"].set_index(["line_id", "mark_rank"]).geometry
    for name in names:
        assert zones[name].centroid.distance(marks.geometry[name]) < 0.05


def test_each_mark_has_its_own_hold_and_the_line_has_both(run):
    result, _ = run
    _, marks = marks_of(result)
    conflicts = result["conflicts"].set_index("utility_id")["mark_rank"]
    near = {"G-1": FIRST_M, "E-1": SECOND_M}
    for utility, place in near.items():
        own = marks.loc["L1", conflicts[utility]]
        assert own["chainage_m"] == pytest.approx(place, abs=0.3)
        assert ("electric" in own["held_by_values"]) is (utility == "E-1")
        assert ("gas" in own["held_by_values"]) is (utility == "G-1")
    line = with_texts(result["lines"], wording()).set_index("line_id").loc["L1"]
    assert "ELECTRIC" in line["held_by"]
    assert "GAS" in line["held_by"]
    assert line["conflicts"] == 2


def test_the_map_has_both_marks_with_their_digs(run):
    result, out = run
    [line] = [one for one in map_data(result, "si")["lines"] if one["id"] == "L1"]
    assert [one["title"] for one in line["marks"]] == ["Mark 1", "Mark 2"]
    for one in line["marks"]:
        assert all(one[key] for key in ("mark", "digAt", "request", "holds", "cautions"))
        assert len(one["conflicts"]) == 1
    # What belongs to a mark is there once.
    assert not any(line[key] for key in ("conflicts", "digAt", "request", "others"))
    assert "Marks at" in line["where"]
    assert "Mark 2" in (out / "map.html").read_text("utf-8")


def test_the_overview_has_the_second_mark_too(run):
    views = line_views(run[0], "si")
    assert [len(view.of_marks) for view in views] == [2, 0]
    two = views[0].of_marks
    assert [view.title for view in two] == ["L1, mark 1", "L1, mark 2"]
    # Each hold of a mark stands on the line, and none twice.
    assert set(views[0].holds) == set(two[0].holds) | set(two[1].holds)
    assert len(views[0].holds) == len(set(views[0].holds))
    assert line_data(views[1], "si")["marks"] == []


def test_the_report_has_a_dig_sheet_for_each_mark(run):
    pages = pypdf.PdfReader(run[1] / "report.pdf").pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    for rank in (1, 2):
        assert text.count(f"Dig sheet: L1, mark {rank}") == 1
    assert "2 leaks were seen in holes" in text


def test_the_locate_request_asks_for_both_holes(run):
    _, out = run
    features = json.loads((out / FILES[0]).read_text("utf-8"))["features"]
    asked = [(f["properties"]["what"], f["properties"]["mark_rank"]) for f in features]
    assert sorted(asked) == [("mark", 1), ("mark", 2), ("white line", 1), ("white line", 2)]
    assert len({str(f["geometry"]) for f in features}) == 4
    names = [e.text for e in ET.parse(out / FILES[1]).getroot().iter() if e.tag.endswith("name")]
    assert {f"{what} L1, mark {k}" for what in ("Mark", "White line") for k in (1, 2)} <= set(names)


def test_exports_name_each_mark(run):
    _, out = run
    kml = (out / "exported" / "kml" / "result.kml").read_text("utf-8")
    assert all(f"Mark L1, mark {k}" in kml for k in (1, 2))
    dxf = pyogrio.read_dataframe(out / "exported" / "dxf" / "result.dxf")
    # A ring and a cross of two lines for each mark.
    assert (dxf["Layer"] == "LEAK_MARKS").sum() == 6


def test_tables_have_a_row_a_line_and_name_every_mark(run):
    result, out = run
    table = summary_table(leakgeo.read_result(out).worded("si", "en")).set_index("line_id")
    assert table.index.is_unique
    assert table.loc["L1", "marks"] == 2
    second = result["marks"]["chainage_m"][1]
    assert table.loc["L1", "further_marks"].startswith(f"mark 2 at {second:.2f} m")
    assert pd.isna(table.loc["L2", "further_marks"])
    [line] = [one for one in lines_of(result) if one["line_id"] == "L1"]
    assert [line["mark"]["rank"], *(m["rank"] for m in line["further_marks"])] == [1, 2]
    assert tally(result).held == 1


def test_learning_compares_each_hole_with_the_nearest_mark(run, tmp_path):
    result, out = run
    job = leakgeo.read_job(out.parent / "job.gpkg")
    cases = leakgeo.learn(job, results=out, out=tmp_path)["learned_cases"]
    assert cases["counted"].all()
    assert sorted(cases["mark_chainage_m"]) == sorted(result["marks"]["chainage_m"])


def test_marks_in_another_order_give_the_same_map(run):
    result, _ = run
    turned = {n: layer[::-1] for n, layer in result.layers.items() if n in (*BY_MARK, "marks")}
    mixed = leakgeo.Result(result.job, {**result.layers, **turned}, parameters=result.parameters)
    data = [map_data(one, "si")["lines"][0] for one in (result, mixed)]
    assert data[0]["marks"] == data[1]["marks"]


def test_an_air_test_at_either_mark_is_at_the_mark(run):
    result, _ = run
    marks = gpd.GeoDataFrame(result["marks"])
    from leakgeo.find.evidence.confirm import _roles

    class Places:
        chainage_m = marks["chainage_m"].to_numpy() + 0.1
        pairs = error_m = chainage_m * 0.0

    at = marks["chainage_m"].to_numpy()
    assert _roles(Places, at) == ["mark", "mark"]
    assert _roles(Places, at[:1]) == ["mark", "control"]

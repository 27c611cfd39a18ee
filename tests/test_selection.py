"""Which lines are shown: of a job and of a result, on the command line and in Python."""

from __future__ import annotations

import csv
import json
import re
import shutil
from types import SimpleNamespace

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
import shapely
from pypdf import PdfReader
from pyproj import CRS

import leakgeo
from leakgeo.dig.order import HOLD, NO_HOLD, dig_order, in_dig_order
from leakgeo.errors import ParameterError
from leakgeo.selection import Selection, lines_near, parse_near
from leakgeo.wording import wording
from tests.job.jobs import EAST, NORTH, heard, routes, write
from tests.test_cli import leakgeo_command
from tests.test_nightly import edited
from tests.wording.english import POINT, english_words

UTM = CRS(routes().crs)


def listed(folder, *arguments):
    """Give the lines that ``leakgeo list`` prints for programs."""
    done = leakgeo_command("list", folder, "--json", *arguments)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)["lines"]


def names(rows):
    return [row["line_id"] for row in rows]


@pytest.fixture
def freed(town):
    """Give the town with some digs free of holds, as in memory."""
    result = town[0]
    lines = result.layers["lines"].copy()
    free = lines["line_id"].isin(["S-109", "H-118"])
    lines["dig_status"] = lines["dig_status"].mask(free, NO_HOLD)
    return result.adding({"lines": lines.assign(**dig_order(lines))}, [])


def test_the_list_and_the_summary_have_one_order(town):
    lines = town[0].layers["lines"]
    order = in_dig_order(lines)["line_id"].tolist()
    with (town[1] / "summary.csv").open(encoding="utf-8-sig", newline="") as file:
        assert names(csv.DictReader(file)) == order
    rows = listed(town[1])
    assert names(rows) == order
    assert names(listed(town[1] / "result.gpkg", "--top", 2)) == order[:2]
    located = lines[lines["status"] == "located"]
    held = listed(town[1], "--held")
    assert set(names(held)) == set(located.loc[located["dig_status"] == HOLD, "line_id"])
    assert all(row["held_by"] and row["next_action"] and not row["dig_rank"] for row in held)
    assert listed(town[1], "--held", "--top", 2) == held[:2]
    assert held == listed(town[1], "--status", HOLD)
    both = leakgeo_command("list", town[1], "--held", "--status", "located")
    assert both.returncode == 2


def test_the_table_for_people_says_what_water_and_what_holds(town):
    done = leakgeo_command("list", town[1], "--top", 3, "--units", "si")
    head, *rows = done.stdout.splitlines()
    assert head.split()[:2] == ["Rank", "Line"]
    assert "l/day" in head
    assert all(row.startswith("held") for row in rows[:1])
    assert "Nothing here clears a dig" in rows[-1]
    assert "was changed" not in done.stderr
    given = ("--language", "es", "--units", "si")
    spanish = leakgeo_command("list", town[1], *given).stdout
    assert spanish.startswith("Orden")
    assert re.search(r"\d,\d\d m", spanish)
    assert POINT.findall(spanish) == []
    assert "más del 99 %" in spanish or "over 99" not in spanish
    assert english_words([spanish], [wording().term("terminal_caution")]) == {}
    mexican = leakgeo_command("list", town[1], "--language", "es-MX", "--units", "si").stdout
    assert POINT.findall(mexican)


def test_what_is_no_result_is_named_as_the_job_only_if_it_is_a_file(tmp_path):
    assert "leakgeo run JOB --out" in leakgeo_command("list", tmp_path).stderr
    job = tmp_path / "monday.csv"
    job.touch()
    assert "leakgeo run monday.csv --out" in leakgeo_command("list", job).stderr


def test_a_layer_edited_since_the_run_is_noted(few, tmp_path):
    shutil.copy(few[1] / "run.json", tmp_path / "run.json")
    edited(few[1] / "result.gpkg", tmp_path / "result.gpkg",
           "UPDATE lines SET status = 'located' WHERE line_id = 'H-117'")  # fmt: skip
    done = leakgeo_command("list", tmp_path)
    assert done.returncode == 0
    assert done.stderr.count("was changed after run") == 1
    assert "The layer lines was changed after run" in done.stderr
    document = json.loads(leakgeo_command("list", tmp_path, "--json").stdout)
    assert [(f["layer"], f["code"]) for f in document["faults"]] == [("lines", "layer_changed")]
    assert json.loads(leakgeo_command("list", few[1], "--json").stdout)["faults"] == []


def test_digs_without_a_hold_come_first_and_alone_are_ranked(freed):
    lines = in_dig_order(freed.layers["lines"])
    free, held = lines["line_id"][:2], lines[lines["hold_rank"].notna()]
    assert set(free) == {"S-109", "H-118"}
    assert held["dig_rank"].isna().all()
    table = freed.summary()
    assert table.index[:2].tolist() == free.tolist()
    assert Selection(status=NO_HOLD).names(lines) == free.tolist()
    assert Selection(status="located", top=3).names(lines)[:2] == free.tolist()


def test_products_of_a_result_show_the_selected_lines(town, tmp_path):
    order = in_dig_order(town[0].layers["lines"])["line_id"].tolist()
    leakgeo.export(town[0], out=tmp_path, format="geojson", top=2, density=False)
    exported = json.loads((tmp_path / "exported" / "geojson" / "marks.geojson").read_text())
    assert {f["properties"]["line_id"] for f in exported["features"]} == set(order[:2])
    leakgeo.report(town[0], out=tmp_path, status=[HOLD], lines=order[:1], language="en")
    pages = (page.extract_text() for page in PdfReader(tmp_path / "report.pdf").pages)
    begun = {row for text in pages for row in text.splitlines()[:6]}
    assert begun & set(order) == {order[0]}


def test_a_map_of_a_written_result_shows_lines_near_a_place(town, tmp_path):
    shapes = pyogrio.read_dataframe(town[1] / "result.gpkg", layer="job_routes")
    own = (
        shapes.set_index("line_id").geometry.to_crs(4326)["H-118"].interpolate(0.5, normalized=True)
    )
    place = ["--near", f"{own.x:.6f}", f"{own.y:.6f}", "10ft"]
    near = names(listed(town[1], *place))
    assert "H-118" in near
    assert len(near) < len(shapes)
    done = leakgeo_command("map", town[1], "--out", tmp_path / "map", *place)
    assert done.returncode == 0, done.stderr
    assert f"{len(near)} line" in done.stdout  # the summary is of the lines shown
    html = (tmp_path / "map" / "map.html").read_text()
    other = next(name for name in shapes["line_id"] if name not in near and name[0] == "M")
    assert '"H-118"' in html
    assert f'"{other}"' not in html
    assert near == names(listed(town[1], "--near", ",".join(place[1:])))


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--status", "no_hold_recorded"], "9 are held, and 0 have no recorded hold"),
        (["--status", "lokated"], "Did you mean located?"),
        (["--near", "0", "0"], "The nearest is"),
        (["--near", "here"], "is not a place"),
        (["--near", "500100 4684000 2 fathoms"], "is not a length"),
        (["--near", "500100 4684000 150"], "has no unit"),
        (["--line", "H-1188"], "Did you mean H-118?"),
        (["--line", "H-118", "--status", "no_leak_heard"], "no line is selected"),
    ],
)
def test_a_selection_of_no_line_is_refused_with_what_there_is(town, tmp_path, arguments, says):
    for command in (["list", town[1]], ["map", town[1], "--out", tmp_path / "out"]):
        done = leakgeo_command(*command, *arguments)
        assert done.returncode == 2
        assert says in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_job_is_not_listed(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes(), readings=heard(12))
    done = leakgeo_command("list", tmp_path / "job.gpkg")
    assert done.returncode == 2
    assert "run the job first" in done.stderr


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """Give a job of two lines: L1 was listened to, L2 was not."""
    path = tmp_path_factory.mktemp("job") / "job.gpkg"
    write(path, routes=routes(), readings=heard(12))
    return path


def test_a_run_shows_the_selected_lines_and_writes_all(job, tmp_path):
    out = tmp_path / "out"
    done = leakgeo_command("run", job, "--out", out, "--status", "not_listened_to", "--top", 1,
                           "--format", "geojson")  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert set(pyogrio.read_dataframe(out / "result.gpkg", layer="lines")["line_id"]) == {
        "L1", "L2"}  # fmt: skip
    assert '"L1"' not in (out / "map.html").read_text()
    assert '"L2"' in (out / "map.html").read_text()
    with (out / "exported" / "geojson" / "lines.csv").open(
        encoding="utf-8-sig", newline=""
    ) as file:
        assert names(csv.DictReader(file)) == ["L2"]
    # A run that was worked out is not lost where no line has the status.
    again = leakgeo_command("run", job, "--out", out, "--status", "ambiguous", "--overwrite")
    assert again.returncode == 0
    assert "All lines are shown" in again.stderr
    assert '"L1"' in (out / "map.html").read_text()


def test_a_map_of_a_job_computes_the_lines_near_a_place_alone(job, tmp_path):
    done = leakgeo_command("map", job, "--out", tmp_path / "out", "--near", EAST + 140, NORTH)
    assert done.returncode == 0, done.stderr
    lines = pyogrio.read_dataframe(tmp_path / "out" / "result.gpkg", layer="lines")
    assert lines["line_id"].tolist() == ["L2"]
    done = leakgeo_command("list", tmp_path / "out", "--held")
    assert (done.returncode, done.stdout) == (0, "No located line is held.\n")


def test_a_place_is_read_by_the_crs_or_as_longitude_and_latitude():
    lonlat = gpd.GeoSeries([shapely.Point(EAST + 100, NORTH)], crs=UTM).to_crs(4326).iloc[0]
    for near in (f"{EAST + 100},{NORTH},5", f"{lonlat.x} {lonlat.y} 5 m"):
        assert lines_near(routes(), near, UTM, "si") == ["L2"]
    # A local grid may have numbers that could be degrees.
    small = routes().set_geometry(routes().translate(-EAST, -NORTH))
    assert lines_near(small, "100 0 5", UTM, "si") == ["L2"]
    assert lines_near(routes(), f"{EAST + 65},{NORTH}", UTM, "si") == ["L1", "L2"]


def test_numbers_of_python_are_a_place():
    step = SimpleNamespace(**{p.name: p for p in leakgeo.options.SELECTION})
    assert parse_near(step.near.check((500100, 4684000.5, "150m"))) == (500100, 4684000.5, "150m")
    with pytest.raises(ParameterError, match="near"):
        step.near.check((True, 2))


def test_all_lines_are_selected_before_any_was_located():
    lines = pd.DataFrame({"line_id": ["A", "B"], "priority": 1})
    assert Selection(top=1).names(lines) == ["A"]
    with pytest.raises(ParameterError, match="none has a status"):
        Selection(status="located").names(lines)

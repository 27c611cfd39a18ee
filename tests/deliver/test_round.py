"""Digging rounds: which marks are in them, their order, and what is written and said."""

from __future__ import annotations

import json
import re
import shutil
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from click.testing import CliRunner

import leakgeo
from leakgeo.cli.console import Console
from leakgeo.cli.entry import cli
from leakgeo.errors import ParameterError
from leakgeo.job.schema import load_schema
from leakgeo.wording import wording
from tests.test_cli import leakgeo_command
from tests.test_nightly import edited
from tests.wording.english import POINT, english_words

FREED = ("S-109", "H-126", "H-102")
FT_M = 1200 / 3937


@pytest.fixture(scope="module")
def freed(few, tmp_path_factory):
    """A result where three of the digs have no hold on record, in that order."""
    names = ", ".join(f"'{name}'" for name in FREED)
    ranks = " ".join(f"WHEN '{name}' THEN {k}" for k, name in enumerate(FREED, 1))
    out = tmp_path_factory.mktemp("freed")
    free = "'no_hold_recorded'"
    edited(
        few[1] / "result.gpkg", out / "result.gpkg",
        "UPDATE lines SET dig_rank = NULL, hold_rank = NULL",
        f"UPDATE lines SET dig_rank = CASE line_id {ranks} END, dig_status = {free} "
        f"WHERE line_id IN ({names})",
        f"UPDATE dig_zones SET dig_status = {free} WHERE line_id IN ({names})",
        "UPDATE lines SET hold_rank = 1 WHERE line_id = 'H-101'",
    )  # fmt: skip
    return out


@pytest.fixture(scope="module")
def marks(freed):
    return gpd.read_file(freed / "result.gpkg", layer="marks").set_index("line_id")


def along(marks, *names):
    """Draw a street from mark to mark."""
    return shapely.LineString([marks.geometry[name] for name in names])


def test_a_held_dig_is_in_no_round(few, tmp_path):
    found = leakgeo.plan_round(few[1], top=3, out=tmp_path)
    assert found.stops.empty
    assert found.legs.empty
    assert len(found.held) >= 3
    assert found.held["next_action"].notna().all()
    assert [n.code for n in found.notes] == ["round_fewer"]
    assert (tmp_path / "round.csv").read_text("utf-8-sig").count("\n") == 1
    held = pd.read_csv(tmp_path / "round_held.csv")
    assert list(held["line_id"]) == list(found.held["line_id"])
    assert "dig_water_gal_per_day" in held


def test_a_mark_whose_own_dig_is_held_is_left_out(freed, tmp_path):
    edited(freed / "result.gpkg", tmp_path / "result.gpkg",
           "UPDATE dig_zones SET dig_status = 'hold' WHERE line_id = 'H-126'")  # fmt: skip
    found = leakgeo.plan_round(tmp_path)
    assert sorted(found.stops["line_id"]) == ["H-102", "S-109"]


def test_a_round_begins_at_the_best_rank_and_is_as_long_as_its_ways(freed, marks):
    found = leakgeo.plan_round(freed, top=3)
    assert found.stops["line_id"].iloc[0] == FREED[0]
    assert found.stops["sequence"].tolist() == [1, 2, 3]
    assert found.stops["leg_m"].iloc[0] == 0.0
    places = marks.geometry[list(found.stops["line_id"])]
    straight = [0.0, *(a.distance(b) * FT_M for a, b in pairwise(places))]
    assert found.stops["leg_m"].tolist() == pytest.approx(straight, rel=1e-3)
    assert found.stops["driven_m"].tolist() == pytest.approx(np.cumsum(straight), rel=1e-3)
    assert set(found.stops["dig_status"]) == {"no_hold_recorded"}
    assert found.stops["cautions"].str.contains("this list never clears a dig").all()
    assert found.stops["ties"].str.contains(" ft ").all()
    assert found.stops.crs == found.legs.crs == marks.crs
    assert leakgeo.plan_round(freed, top=1).stops["line_id"].tolist() == [FREED[0]]


def test_a_round_from_the_yard_goes_to_the_next_mark_first(freed, marks):
    place = marks.geometry["H-102"]
    found = leakgeo.plan_round(freed, start=(place.x + 30.0, place.y))
    assert found.stops["line_id"].iloc[0] == "H-102"
    assert found.stops["leg_m"].iloc[0] == pytest.approx(30.0 * FT_M, rel=1e-3)
    assert len(found.legs) == 3
    degrees = gpd.GeoSeries([place], crs=marks.crs).to_crs(4326).iloc[0]
    again = leakgeo.plan_round(freed, start=(degrees.x, degrees.y), lonlat=True)
    assert again.stops["leg_m"].iloc[0] < 0.5
    assert list(again.stops["line_id"]) == list(found.stops["line_id"])


@pytest.mark.parametrize(("name", "crs"), [("a.geojson", 4326), ("a.gpkg", 26916), ("a.shp", 2289)])
def test_streets_come_in_any_crs_and_unit(freed, marks, tmp_path, name, crs):
    corner = shapely.Point(marks.geometry["S-109"].x, marks.geometry["H-102"].y)
    street = shapely.LineString([marks.geometry["S-109"], corner, marks.geometry["H-102"]])
    gpd.GeoSeries([street], crs=marks.crs).to_crs(crs).to_file(tmp_path / name)
    found = leakgeo.plan_round(freed, streets=tmp_path / name).stops.set_index("line_id")
    # The third mark is off this street, but near enough.
    assert found["off_street_m"].notna().all()
    two = found.loc[["S-109", "H-102"], "off_street_m"]
    assert (two < 0.1).all()
    assert set(found["leg_by"].dropna()) <= {"streets", "straight"}
    assert "streets" in set(found["leg_by"])
    assert found["leg_m"].sum() * 1.001 > marks.geometry["S-109"].distance(corner) * FT_M


def test_marks_that_streets_do_not_connect_are_named(freed, marks, tmp_path):
    apart = [along(marks, "S-109", "H-126"), marks.geometry["H-102"].buffer(3.0).exterior]
    gpd.GeoSeries([apart[0], shapely.LineString(apart[1])], crs=marks.crs).to_file(
        tmp_path / "streets.gpkg"
    )
    yard = marks.geometry["H-126"]
    found = leakgeo.plan_round(freed, start=(yard.x, yard.y), streets=tmp_path / "streets.gpkg")
    names = list(found.stops["line_id"])
    assert names[0] == "H-126"
    expected = ["straight" if "H-102" in pair else "streets" for pair in pairwise(["", *names])]
    assert list(found.stops["leg_by"]) == expected
    (note,) = [n for n in found.notes if n.code == "round_straight"]
    straight = [name for name, by in zip(names, expected, strict=True) if by == "straight"]
    assert dict(note.values) == {"legs": len(straight), "lines": ", ".join(straight)}


def test_streets_that_cannot_be_used_are_refused_with_what_to_do(freed, marks, tmp_path):
    lines = gpd.GeoDataFrame(geometry=[along(marks, "S-109", "H-126")], crs=marks.crs)
    several = tmp_path / "several.gpkg"
    lines.to_file(several, layer="roads")
    lines.to_file(several, layer="pipes")
    with pytest.raises(ParameterError, match="several layers have lines: roads, pipes"):
        leakgeo.plan_round(freed, streets=several)
    assert len(leakgeo.plan_round(freed, streets=several, streets_layer="roads").stops) == 3
    with pytest.raises(ParameterError, match="no layer rails; there are roads, pipes"):
        leakgeo.plan_round(freed, streets=several, streets_layer="rails")
    with pytest.warns(UserWarning, match="crs"):
        lines.set_crs(None, allow_override=True).to_file(tmp_path / "plain.shp")
    with pytest.raises(ParameterError, match="has no CRS"):
        leakgeo.plan_round(freed, streets=tmp_path / "plain.shp")
    gpd.GeoDataFrame(geometry=[shapely.Point(0, 0)], crs=4326).to_file(tmp_path / "points.gpkg")
    with pytest.raises(ParameterError, match="it has no lines"):
        leakgeo.plan_round(freed, streets=tmp_path / "points.gpkg")
    with pytest.raises(ParameterError, match="no such file"):
        leakgeo.plan_round(freed, streets=tmp_path / "none.gpkg")
    with pytest.raises(ParameterError, match="this is no result"):
        leakgeo.plan_round(tmp_path)


def test_files_have_the_declared_columns_in_the_units_of_the_crew(freed, tmp_path):
    found = leakgeo.plan_round(freed, out=tmp_path)
    assert [path.name for path in found.files] == ["round.csv", "round.gpkg", "round_held.csv"]
    for name in ("round_stops", "round_legs", "round_held"):
        layer = gpd.read_file(tmp_path / "round.gpkg", layer=name)
        shapes = ["geometry"] if "geometry" in layer else []
        assert list(layer) == [*load_schema(name).columns, *shapes]
        assert layer["run_id"].notna().all()
    table = pd.read_csv(tmp_path / "round.csv")
    assert table["driven_ft"].tolist() == pytest.approx(found.stops["driven_m"] / 0.3048, abs=0.001)
    leakgeo.plan_round(freed, out=tmp_path, units="si", top=1)
    assert "driven_m" in pd.read_csv(tmp_path / "round.csv")


def test_the_command_prints_the_round_and_clears_nothing(freed, tmp_path):
    done = leakgeo_command("round", freed, "--top", "2", "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("1      S-109")
    assert "Begin here" in done.stdout
    assert "Held, in no round" in done.stdout
    assert "No hold on record is not a clearance" in done.stdout
    assert "Before each dig: the one-call ticket" in done.stdout
    assert "Nothing here clears a dig" in done.stdout
    spoken = leakgeo_command("round", freed, "--language", "es", "--out", tmp_path)
    assert "Comience aquí" in spoken.stdout
    cautions = [wording().term(f"terminal_caution{end}") for end in ("", "_where")]
    assert english_words([spoken.stdout.replace(str(freed), "")], cautions) == {}
    metres = ("--language", "es", "--units", "si")
    spoken = leakgeo_command("round", freed, *metres, "--out", tmp_path).stdout
    assert POINT.findall(spoken) == []
    assert re.search(r"\d,\d+ km|\d+ m", spoken)
    # A file for programs keeps its points.
    assert pd.read_csv(tmp_path / "round.csv")["driven_m"].dtype == float
    quiet = leakgeo_command("round", freed, "--quiet", "--out", tmp_path)
    assert "Nothing here clears a dig" in quiet.stdout


def test_without_a_folder_the_round_is_printed_with_its_cautions_and_nothing_is_written(freed):
    before = sorted(freed.rglob("*"))
    done = leakgeo_command("round", freed, "--top", "1")
    assert done.returncode == 0, done.stderr
    assert sorted(freed.rglob("*")) == before
    assert "No file was written; --out FOLDER writes round.csv" in done.stdout
    assert "this list never clears a dig" in done.stdout
    assert done.stdout.count("round.csv") == done.stdout.count("round_held.csv") == 1
    document = json.loads(leakgeo_command("round", freed, "--json").stdout)
    assert document["files"] == []
    assert sorted(freed.rglob("*")) == before


def test_more_held_digs_than_fit_are_where_they_are_written(few, tmp_path, monkeypatch):
    monkeypatch.setattr("leakgeo.cli.round_command.MAX_SHOWN", 1)
    called = CliRunner().invoke(cli, ["round", str(few[1])], obj=Console())
    assert re.search(r"[.]{3} and \d more; --out FOLDER writes all", called.output)
    called = CliRunner().invoke(cli, ["round", str(few[1]), "--out", str(tmp_path)], obj=Console())
    assert re.search(r"[.]{3} and \d more, all in round_held.csv", called.output)


def test_a_layer_edited_since_the_run_is_noted(few, tmp_path):
    shutil.copy(few[1] / "run.json", tmp_path / "run.json")
    edited(few[1] / "result.gpkg", tmp_path / "result.gpkg", "DELETE FROM ties")
    assert [f.code for f in leakgeo.plan_round(few[1]).faults] == []
    (fault,) = leakgeo.plan_round(tmp_path).faults
    assert (fault.layer, fault.code, fault.effect) == ("ties", "layer_changed", "noted")
    done = leakgeo_command("round", tmp_path)
    assert done.returncode == 0
    assert "The layer ties was changed after run" in done.stderr
    document = json.loads(leakgeo_command("round", tmp_path, "--json").stdout)
    assert [f["code"] for f in document["faults"]] == ["layer_changed"]


def test_programs_get_stops_and_held_digs(freed, tmp_path):
    done = leakgeo_command("round", freed, "--json", "--out", tmp_path, "--from", "-88", "43",
                           "--lonlat")  # fmt: skip
    document = json.loads(done.stdout)
    assert {s["line_id"] for s in document["stops"]} == set(FREED)
    assert {"x", "y", "longitude_deg", "leg_m", "cautions", "ties"} <= document["stops"][0].keys()
    assert document["held"]
    assert all(isinstance(h["next_action_values"], dict) for h in document["held"])
    assert document["driven_m"] == pytest.approx(document["stops"][-1]["driven_m"])
    assert "Nothing here clears a dig" in document["caution"]


@pytest.mark.parametrize("start", [("1e300", "5"), ("-88", "43"), ("nan", "nan")])
def test_a_start_in_another_crs_is_refused(freed, start, tmp_path):
    done = leakgeo_command("round", freed, "--from", *start, "--out", tmp_path)
    assert done.returncode == 2
    assert "--from: " in done.stderr
    assert "is farther than 200 km from every mark" in done.stderr
    assert "lonlat" in done.stderr

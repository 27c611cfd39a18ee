"""Lines selected by a condition have all but their ranks as in a run of all; no more is read."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

import leakgeo
from leakgeo.dig.order import RANKS
from leakgeo.errors import ParameterError
from leakgeo.job.latest_month import latest_month
from leakgeo.job.read import read_job
from leakgeo.job.window import read_window
from tests.town import QUICK, TOWN, layers, sorted_rows

_FAR = 30_000.0  # in the feet of the town
# The whole survey ranks fittings of all lines; cases teach all of them.
_OF_ALL = ("survey_bracket", "contact_ranking", "learned_cases")


def with_district(few, path):
    """Write a job of a few lines, in district 7, with a copy of them far away, in district 8."""
    for name in ("routes", "readings"):
        near = pyogrio.read_dataframe(few, layer=name)
        far = near.assign(line_id="far " + near["line_id"].astype(str))
        far = far.set_geometry(far.geometry.translate(_FAR, 0.0))
        if name == "readings":
            far["reading_id"] = "far " + near["reading_id"].astype(str)
            # One that lies among the others names a line that lies far away.
            far.loc[0, "geometry"] = near.geometry[0]
        both = pd.concat([near.assign(district=7), far.assign(district=8)], ignore_index=True)
        # In the file, the rows of the two are mixed.
        both = both.iloc[np.argsort(np.tile(np.arange(len(near)), 2), kind="stable")]
        pyogrio.write_dataframe(both, path, layer=name)
    return path


def rows_of(folder, lines):
    """Rows of lines in each layer, without what is counted over all lines."""
    found = {}
    for name, table in layers(folder / "result.gpkg").items():
        if "line_id" in table and name not in _OF_ALL:
            own = table[table["line_id"].isin(lines)]
            own = own.drop(columns=[*RANKS, "district"], errors="ignore")
            if len(own):
                found[name] = sorted_rows(own)
    return found


def assert_alike(one, other):
    assert list(one) == list(other)
    for name, table in one.items():
        # A column without values has no type of its own in a file.
        tables = (each.astype(object) for each in (table, other[name]))
        pd.testing.assert_frame_equal(*tables, check_exact=True, obj=name)


def test_a_district_has_the_result_of_a_whole_run(few, tmp_path):
    job, whole = few
    both = with_district(job, tmp_path / "both.gpkg")
    done = leakgeo.run(both, tmp_path / "out", where="district = 7", density=False,
                       ground=whole / "ground.toml")  # fmt: skip
    lines = set(done.layers["lines"]["line_id"])
    assert lines == set(layers(whole / "result.gpkg")["lines"]["line_id"])
    assert_alike(rows_of(whole, lines), rows_of(tmp_path / "out", lines))
    placed = done.layers["readings_on_route"]
    assert set(placed["line_id"]) == lines
    assert done.job.counts["readings"] == len(placed)
    assert {f.effect for f in done.job.faults} == {"noted"}


def test_only_the_window_is_read(few, tmp_path):
    both = with_district(few[0], tmp_path / "both.gpkg")
    near, far = (read_job(both, where=f"district = {k} AND 1 = 1") for k in (7, 8))
    count = len(pyogrio.read_dataframe(few[0], layer="readings"))
    assert len(near.readings) == count + 1  # and one of the other district that lies there
    assert len(far.readings) == count
    # That one names a line which is known, but lies elsewhere.
    (reason,) = near.readings.loc[near.readings["reading_id"].str.startswith("far"), "reason"]
    assert reason.code == "on_another_line"
    assert len(near.routes) == len(far.routes) + 1
    assert near.latest_month == far.latest_month == latest_month(read_job(both))
    assert near.layers_digest != far.layers_digest


def test_lines_of_the_town_are_located_as_in_the_whole(town, tmp_path):
    result, folder = town
    names = ["A-201", "A-203", "H-101", "S-109"]
    job = read_job(TOWN, where=f"line_id IN {tuple(names)}")
    done = leakgeo.locate(leakgeo.ground(job, ground=folder / "ground.toml"))
    for name in ("marks", "search_zones", "explanations", "evidence"):
        own = [t[t["line_id"].isin(names)].reset_index(drop=True)
               for t in (result.layers[name], done.layers[name])]  # fmt: skip
        columns = [c for c in own[1] if c in own[0]]
        pd.testing.assert_frame_equal(*(pd.DataFrame(t[columns]) for t in own), check_exact=True)
    assert done.layers["lines"]["line_id"].tolist() == names


def test_ranks_and_losses_without_a_meter_are_those_of_the_window(town, tmp_path):
    whole, part = town[1], tmp_path / "out"
    leakgeo.run(TOWN, part, where="line_id LIKE 'A-2%' OR line_id = 'H-126'",
                ground=whole / "ground.toml", **QUICK)  # fmt: skip
    both = [layers(folder / "result.gpkg") for folder in (whole, part)]
    whole_lines, lines = (each["lines"].set_index("line_id") for each in both)
    names = list(lines.index)
    made = [rows_of(folder, names) for folder in (whole, part)]
    assert {"marks", "profile", "holds", "next_readings"} < made[0].keys()
    assert_alike(*({n: t.drop(columns="run_id", errors="ignore") for n, t in each.items()}
                   for each in made))  # fmt: skip
    column = "expected_loss_from"
    # Fewer than five lines of the window have a metered loss, too few for a median.
    assert (whole_lines.loc["A-206", column], lines.loc["A-206", column]) == ("median", "assumed")
    for name in ("priority", "hold_rank"):
        own = lines[name].dropna()
        assert sorted(own) == list(range(1, len(own) + 1))
        assert (own != whole_lines.loc[own.index, name]).any()
    metered = lines.index[lines[column] == "meter"]
    assert len(metered) == 2
    for name in ("expected_loss_l_per_day", "dig_water_l_per_day"):
        assert (lines.loc[metered, name] == whole_lines.loc[metered, name]).all()


def test_a_mapping_names_the_columns_and_the_source_the_condition(few, tmp_path):
    routes, readings = (pyogrio.read_dataframe(few[0], layer=n) for n in ("routes", "readings"))
    folder, mapping = tmp_path / "gis", tmp_path / "map.toml"
    folder.mkdir()
    named = routes.rename(columns={"line_id": "ASSET", "material": "MAT"})
    pyogrio.write_dataframe(named, folder / "pipes.fgb")
    far = readings.set_geometry(readings.geometry.translate(_FAR, 0.0)).assign(line_id=None)
    pd.concat([readings, far]).to_parquet(folder / "readings.parquet")
    mapping.write_text("[routes]\nlayer = 'pipes'\ncolumns.line_id = 'ASSET'\n"
                       "columns.material = 'MAT'\n", "utf-8")  # fmt: skip
    job = read_job(folder, where="\"ASSET\" LIKE 'H-12%'", mapping=mapping)
    assert job.routes.loc[job.routes["reason"].isna(), "line_id"].tolist() == ["H-126"]
    assert set(job.readings["line_id"]) <= set(routes["line_id"])


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ("nope = 1", "no such column: nope"),
        ("material = ", "refuses the condition"),
        ("line_id = 'none'", "no line meets"),
        ("1 = 1; DROP TABLE routes", "it has ';'"),
        ("1 = 1) OR (1 = 1", "has no '('"),
        ("", "it is empty"),
    ],
)
def test_a_bad_condition_is_refused_with_the_reason(few, condition, words):
    with pytest.raises(ParameterError, match="where") as caught:
        read_job(few[0], where=condition)
    assert words in str(caught.value)


def test_what_takes_no_condition_says_so(few, tmp_path):
    routes, readings = (pyogrio.read_dataframe(few[0], layer=n) for n in ("routes", "readings"))
    layers_of_job = {"routes": routes, "readings": readings}
    with pytest.raises(ParameterError, match="in memory"):
        read_job(layers_of_job, where="district = 7")
    for name, table in layers_of_job.items():
        table.to_parquet(tmp_path / f"{name}.parquet")
    with pytest.raises(ParameterError, match="a Parquet file takes no condition"):
        read_job(tmp_path, where="district = 7")
    with pytest.raises(ParameterError, match="give one of them"):
        read_job(few[0], where="district = 7", lines="H-101")
    with pytest.raises(ParameterError, match="give one of them"):
        leakgeo.run(few[0], tmp_path / "out", where="district = 7", update=True)


def test_rows_are_read_by_place_in_their_own_order(few, tmp_path):
    path = tmp_path / "job.gpkg"
    for name in ("routes", "readings"):
        pyogrio.write_dataframe(pyogrio.read_dataframe(few[0], layer=name), path, layer=name)
    routes = pyogrio.read_dataframe(path, layer="routes")
    x, y = shapely.get_coordinates(routes.geometry.iloc[0])[0]
    at = np.random.default_rng(1).uniform(-100, 100, (50, 2)) + (x, y)
    ids = [f"U{k}" for k in range(60)]
    spots = shapely.buffer(shapely.points(np.vstack([at, at[:10] + _FAR])), 1.0)
    utilities = routes.iloc[[0] * 60].assign(utility_id=ids).set_geometry(spots)
    pyogrio.write_dataframe(utilities[["utility_id", "geometry"]], path, layer="utilities")
    window = read_window(path, "line_id = 'H-101'", None)
    assert window.source.ready["utilities"].table["utility_id"].tolist() == ids[:50]
    assert window.utilities == 60

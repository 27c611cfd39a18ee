"""An update gives the result of a run of all lines, whatever changed, and whatever was damaged."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing

import numpy as np
import pandas as pd
import pytest
import shapely

from leakgeo import read_result, run
from leakgeo.deliver.folder.changes import FILE as CHANGES
from leakgeo.runner.journal import FOLDER as JOURNAL
from leakgeo.runner.kept_lines import FOLDER, KeptLines
from tests.benchmarks.updates import (
    Editor,
    differences,
    layers_of,
    town_layers,
)

# Lines of the town with neighbours, valves, holes, and readings weighed with those of another.
LINES = ("H-133", "H-134", "A-201", "A-202", "A-206")
NAMED = ("routes", "readings", "contacts", "meter_tests")
FAR_FT = 6000.0
QUICK = {"density": False, "map_lines": 1, "report_lines": 1, "workers": 1}
# Columns with the time of writing.
_TIMES = {"last_change", "timestamp", "update_time"}


def few_lines(lines=LINES):
    """The layers of the town with a few of its lines, the A- ones far from the others."""
    layers = town_layers()
    for name in NAMED:
        layers[name] = layers[name][layers[name]["line_id"].isin(lines)].reset_index(drop=True)
    for name in ("routes", "readings", "contacts", "valves", "dig_outcomes"):
        frame = layers[name]
        far = frame["line_id"].str.startswith("A-")
        frame.loc[far, "geometry"] = frame.geometry[far].translate(FAR_FT, 0.0)
    return layers


def changed(layers, name, row, **values):
    """Layers with other values in one row of one of them."""
    frame = layers[name].copy()
    for column, value in values.items():
        frame.loc[frame.index[row], column] = value
    return {**layers, name: frame}


def added(layers, name, rows, at):
    frame = layers[name]
    return {**layers, name: pd.concat([frame.iloc[:at], rows, frame.iloc[at:]], ignore_index=True)}


def row_of(layers, name, line, turn=0):
    return int(np.flatnonzero(layers[name]["line_id"] == line)[turn])


def without(layers, line):
    return {n: f[f["line_id"] != line].reset_index(drop=True) if n in NAMED else f
            for n, f in layers.items()}  # fmt: skip


def with_stop_without_line(layers, like):
    one = layers["readings"].iloc[[row_of(layers, "readings", like, 5)]].copy()
    one[["line_id", "tape", "chainage_m"]] = None
    one["reading_id"], one["time"] = "unnamed", one["time"] + pd.Timedelta("20s")
    return added(layers, "readings", one, 3)


def with_main(layers, line):
    """Layers with a gas main across the middle of a line."""
    routes, main = layers["routes"], layers["utilities"].iloc[[0]].copy()
    at = routes.geometry[row_of(layers, "routes", line)].interpolate(0.5, normalized=True)
    across = shapely.LineString([(at.x - 20.0, at.y - 40.0), (at.x + 20.0, at.y + 40.0)])
    main["utility_id"], main["kind"] = "U-new", "gas_oil_steam"
    return added(layers, "utilities", main.set_geometry([across], crs=routes.crs), 2)


def tables(path):
    """Every row of every table of a GeoPackage, with its number, and the extents apart."""
    found = {}
    with closing(sqlite3.connect(path)) as base:
        master = base.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
        for kind, name, _, sql in master:
            if kind != "table" or (name.startswith("rtree_") and "VIRTUAL" not in sql):
                continue  # nodes of an index depend on the order of writing
            frame = pd.read_sql_query(f'SELECT * FROM "{name}"', base)
            frame = frame.drop(columns=[c for c in _TIMES if c in frame])
            found[name] = frame.astype(object).where(frame.notna(), None)
    found["master"] = pd.DataFrame(sorted(map(repr, master)))
    contents = found["gpkg_contents"].set_index("table_name")
    box = ["min_x", "min_y", "max_x", "max_y"]
    # GDAL writes extents with 16 digits.
    found["extents"] = contents[box].astype(float)
    found["gpkg_contents"] = contents.drop(columns=box)
    return found


def record(out):
    """run.json without times, the folder, and what changed since the result before."""
    found = json.loads((out / "run.json").read_text("utf-8"))
    del found["written"], found["seconds"], found["changes"]
    found["files"] = [name for name in found["files"] if name != CHANGES]
    for given in found["parameters"].values():
        given.pop("out", None)
    return found


def assert_same_files(one, other):
    """Hold two results to have the same rows, numbers, indexes, extents, records and files."""
    first, second = tables(one / "result.gpkg"), tables(other / "result.gpkg")
    assert first.keys() == second.keys()
    pd.testing.assert_frame_equal(first.pop("extents"), second.pop("extents"), rtol=1e-14, atol=0)
    for name, rows in first.items():
        own = [name for name in ("fid", "id", "row_id") if name in rows]
        mine, theirs = (f.sort_values(own, ignore_index=True) if own else f
                        for f in (rows, second[name]))  # fmt: skip
        pd.testing.assert_frame_equal(mine, theirs, check_exact=True, obj=name)
    assert record(one) == record(other)
    names = [sorted({p.name for p in out.iterdir() if p.is_file()} - {CHANGES})
             for out in (one, other)]  # fmt: skip
    assert names[0] == names[1]
    for name in set(names[0]) - {"result.gpkg", "run.json"}:
        assert (one / name).read_bytes() == (other / name).read_bytes(), name
    assert not (other / JOURNAL).exists()


def notes(result):
    return {fault.code: dict(fault.reason.values) for fault in result.kept.notes}


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    """A few lines, their first result by an update, and its folder."""
    layers, out = few_lines(), tmp_path_factory.mktemp("before") / "out"
    return layers, run(layers, out, update=True, **QUICK), out


@pytest.fixture
def out(before, tmp_path):
    """A copy of the folder of that result."""
    shutil.copytree(before[2], tmp_path / "out", copy_function=shutil.copy2)
    return tmp_path / "out"


def updated(layers, out, **given):
    """The result of an update, whose files are those of a run of all lines with its law."""
    result = run(layers, out, update=True, **{**QUICK, **given})
    whole = out.with_name("whole")
    run(layers, whole, overwrite=True, ground=out / "ground.toml", **{**QUICK, **given})
    assert_same_files(whole, out)
    return result


def with_edits_of_every_layer(layers):
    """Layers with a change in each; a line goes, and one comes between the others."""
    readings, contacts = layers["readings"], layers["contacts"]
    stop = row_of(layers, "readings", "H-134", 3)
    layers = changed(layers, "readings", stop, sound_level=readings["sound_level"].iloc[stop] + 6.0)
    layers = with_stop_without_line(layers, "A-202")
    moved = contacts.geometry.copy()
    fitting = row_of(layers, "contacts", "A-202", 1)
    moved.iloc[fitting] = shapely.affinity.translate(moved.iloc[fitting], 1.0, 1.5)
    layers["contacts"] = contacts.set_geometry(moved)
    layers = changed(layers, "valves", 0, normally_closed=True)
    layers = changed(layers, "meter_tests", row_of(layers, "meter_tests", "A-201"), end_reading=9.0)
    layers = changed(layers, "surfaces", 0, surface="gravel")
    at = layers["routes"].geometry[row_of(layers, "routes", "A-206")].centroid
    layers = changed(layers, "history", 0, geometry=at)
    layers = with_main(without(layers, "H-133"), "A-206")
    more = few_lines((*LINES, "A-205"))
    for name in NAMED:
        one = more[name][more[name]["line_id"] == "A-205"]
        layers = added(layers, name, one, 2)
    return layers


def test_rows_of_every_layer_change(before, out):
    layers = with_edits_of_every_layer(before[0])
    result = updated(layers, out)
    assert set(result.kept.worked_out) == {"H-134", "A-201", "A-202", "A-205", "A-206"}
    assert set(notes(result)) <= {"law_held", "law_would_move"}
    assert "law_held" in notes(result)
    placed = result.layers["readings_on_route"].set_index("reading_id")
    assert placed.loc["unnamed", "line_id"] == "A-202"
    holds = result.layers["holds"]
    assert holds.loc[holds["line_id"] == "A-206", "values"].astype(str).str.contains("U-new").any()


def test_rows_of_whole_layers_go_and_come(before, out):
    layers = before[0]
    there = set(tables(out / "result.gpkg"))
    done = pd.DataFrame({"line_id": ["A-202"], "action": ["night"], "result": ["not_found"]})
    edits = {"meter_tests": layers["meter_tests"][:0], "action_results": done}
    result = updated({**layers, **edits}, out)
    now = set(tables(out / "result.gpkg"))
    assert (there - now, now - there) == (
        {"job_meter_tests", "meter_results"}, {"job_action_results"}
    )  # fmt: skip
    # A layer without rows differs from one that no step made.
    back = read_result(out)
    assert set(back.layers) == set(result.layers)
    assert {n: len(layer) for n, layer in back.layers.items()} == {
        n: len(layer) for n, layer in result.layers.items()
    }
    assert back.job.meter_tests.empty
    assert back.faults == ()


def test_only_lines_in_reach_are_worked_out(before, out):
    layers, first, _ = before
    law = out / "ground.toml"
    assert layers_of(layers, out, ground=law, update=True).kept.worked_out == ()
    assert not first.layers["holds"]["values"].astype(str).str.contains("U-new").any()
    result = layers_of(with_main(layers, "A-206"), out, ground=law, update=True)
    assert result.kept.worked_out == ("A-201", "A-202", "A-206")
    # A line with whose readings another was read.
    assert first.layers["lines"].set_index("line_id").loc["H-134", "read_with"] == "H-133"
    stop = row_of(layers, "readings", "H-133", 3)
    louder = changed(layers, "readings", stop, sound_level=80.0)
    result = layers_of(louder, out, ground=law, update=True)
    assert result.kept.worked_out == ("H-133", "H-134")


def test_some_lines_with_other_parameters_and_damaged_pieces(before, out):
    (out / FOLDER / "pieces.sqlite").write_bytes(b"no database" * 100)
    given = {"leak_prior": 0.3, "isolated": ["A-206"], "units": "us", "map_lines": None}
    result = updated(before[0], out, lines=["A-206", "H-134"], **given)
    assert set(result.kept.worked_out) == {"A-206", "H-134"}
    assert notes(result)["kept_pieces_damaged"] == {"file": f"{FOLDER}/pieces.sqlite"}
    assert "law_held" in notes(result)  # of all lines, selected or not


@pytest.fixture(scope="module")
def small(before, tmp_path_factory):
    """Layers of three lines, their result in memory, kept chunks of one line each, and a law."""
    out = tmp_path_factory.mktemp("small")
    layers, law = few_lines(("H-133", "H-134", "A-206")), out / "law.toml"
    shutil.copy2(before[2] / "ground.toml", law)
    whole = layers_of(layers, out, ground=law, update=False)
    layers_of(layers, out, ground=law, update=True, size=1)
    return layers, whole, out


@pytest.fixture
def kept(small, tmp_path):
    shutil.copytree(small[2], tmp_path / "small")
    return tmp_path / "small"


def flip(path):
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 0x55
    path.write_bytes(bytes(content))


def test_a_damaged_chunk_is_worked_out_again(small, kept):
    layers, whole, _ = small
    flip(kept / FOLDER / "000001" / "marks.arrow")
    result = layers_of(layers, kept, ground=kept / "law.toml", update=True)
    assert differences(whole, result) == []
    assert result.kept.worked_out == ("H-134",)
    assert notes(result) == {"kept_lines_damaged": {"file": f"{FOLDER}/000001"}}


def other_name(path):
    """Name another line as the one that was read with it."""
    found = path.read_text()
    assert found.count('"H-133": ') == 1
    path.write_text(found.replace('"H-133": ', '"H-199": '))


@pytest.mark.parametrize("how", [
    lambda chunk: (chunk / "kept.json").write_text("{"),
    lambda chunk: (chunk / "kept.json").write_text("[1, 2]"),
    lambda chunk: (chunk / "kept.json").unlink(),
    lambda chunk: other_name(chunk / "kept.json"),
], ids=["broken", "other", "missing", "changed"])  # fmt: skip
def test_a_damaged_seal_is_ignored_and_told(kept, how):
    how(kept / FOLDER / "000001")
    found = KeptLines(kept)
    assert [dict(f.reason.values)["file"] for f in found.faults] == [f"{FOLDER}/000001"]
    assert not (kept / FOLDER / "000001").exists()
    assert not found.is_empty


def test_a_stopped_update_goes_on(small, kept, monkeypatch):
    layers, _, _ = small
    deeper = {**layers, "routes": layers["routes"].assign(depth_m=1.7)}
    put, law = KeptLines._put, kept / "law.toml"

    def stop_after_the_first(self, folder):
        put(self, folder)
        raise KeyboardInterrupt

    monkeypatch.setattr(KeptLines, "_put", stop_after_the_first)
    with pytest.raises(KeyboardInterrupt):
        layers_of(deeper, kept, ground=law, update=True, size=1)
    monkeypatch.undo()
    # What is left is two chunks, with numbers that the lines left over do not have now.
    assert (kept / JOURNAL / "000001").is_dir()
    result = layers_of(deeper, kept, ground=law, update=True, size=1, resume=True)
    assert result.kept.worked_out == ("H-134", "A-206")
    assert differences(layers_of(deeper, kept, ground=law, update=False), result) == []


def test_random_edits(small, kept):
    layers, rng = small[0], np.random.default_rng(4)
    for names in (("readings", "utilities", "meter_tests"), ("routes", "history", "contacts")):
        made = []
        for name in names:
            editor = Editor(layers, rng)
            made.append(editor.edit(name))
            layers = editor.layers
        result = layers_of(layers, kept, ground=kept / "law.toml", update=True)
        whole = layers_of(layers, kept / "whole", ground=kept / "law.toml", update=False)
        assert differences(whole, result) == [], made

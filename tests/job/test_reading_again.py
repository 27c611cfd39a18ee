"""A job read again is that of a fresh reading to the last bit, and what did not change is kept."""

from __future__ import annotations

import random
from dataclasses import fields
from functools import cache
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
import shapely

from leakgeo.errors import JobError
from leakgeo.job.digest import job_digest
from leakgeo.job.model import LAYERS, Job
from leakgeo.job.read import JobReader, read_job
from leakgeo.job.same_content import same_table
from tests.fuzz import small_job
from tests.fuzz.mutations import spoilt
from tests.town import TOWN

if TYPE_CHECKING:
    from pathlib import Path

Layers = dict[str, pd.DataFrame]
LINES = ("H-101", "A-201", "A-206", "A-207", "H-134")
JUNK = (None, "", "?", "-9999", "1,5", 1e300, -1.0, True, "38' 6\"", "2026-05-03", "x" * 3000, 7)
# Two edits at a time; each step reads the job twice.
STEPS, DAMAGES = 8, 12


@cache
def _town() -> Layers:
    """Return some lines of the town with every layer, one of them also as a taped list."""
    names = pyogrio.list_layers(TOWN)[:, 0]
    read = {str(name): pyogrio.read_dataframe(TOWN, layer=name) for name in names}
    lines = {name: table[table["line_id"].isin(LINES)] if "line_id" in table else table.head(6)
             for name, table in read.items()}  # fmt: skip
    few = {name: (table if len(table) else read[name].head(3)).reset_index(drop=True)
           for name, table in lines.items()}  # fmt: skip
    two = (
        few["contacts"]
        .head(2)
        .assign(
            line_id="H-101",
            contact_id=["T-1", "T-2"],
            seq=[1, 2],
            tape_from_previous=[None, "31 ft"],
        )
    )
    few["contacts"] = pd.concat([few["contacts"], two], ignore_index=True)
    return few


def _rows(table: pd.DataFrame, rng: random.Random) -> pd.DataFrame:
    """Delete, repeat or reorder rows."""
    rows = list(range(len(table)))
    if not rows:
        return table
    way, one = rng.randrange(4), rng.choice(rows)
    if way == 0:
        rows.remove(one)
    elif way == 1:
        rows.append(one)
    elif way == 2:
        rng.shuffle(rows)
    else:
        rows = []
    return table.iloc[rows].reset_index(drop=True)


def _value(table: pd.DataFrame, rng: random.Random) -> pd.DataFrame:
    """Put a value of another row, or junk, into one cell."""
    columns = [c for c in table if c != "geometry"]
    if not len(table) or not columns:
        return table
    name, at = rng.choice(columns), rng.randrange(len(table))
    values = table[name].astype(object)
    values.iloc[at] = rng.choice((*JUNK, values.iloc[rng.randrange(len(table))]))
    return table.assign(**{name: values})


def _shape(table: pd.DataFrame, rng: random.Random) -> pd.DataFrame:
    """Move, spoil or drop one geometry, or that of every row, or declare another CRS."""
    if not isinstance(table, gpd.GeoDataFrame) or not len(table):
        return _value(table, rng)
    shapes, at = list(table.geometry), rng.randrange(len(table))
    way, own = rng.randrange(6), shapes[at]
    if way == 0 and own is not None:
        shapes[at] = shapely.transform(own, lambda xy: xy + rng.choice((1e-9, 0.3, 40.0, 1e7)))
    elif way == 1:
        shapes[at] = rng.choice((shapely.Point(), shapely.Point(0, 0), shapely.Point(1e9, 1e300)))
    elif way == 2:
        shapes = [None] * len(shapes)
    elif way == 3:
        return table.set_crs(rng.choice((4326, 32633, 2263)), allow_override=True)
    elif way == 4:
        return pd.DataFrame(table.drop(columns="geometry"))
    else:
        shapes[at] = None
    return gpd.GeoDataFrame(table.drop(columns="geometry"), geometry=shapes, crs=table.crs)


def _column(table: pd.DataFrame, rng: random.Random) -> pd.DataFrame:
    """Drop a column, or add one that nothing reads."""
    columns = [c for c in table if c != "geometry"]
    if columns and rng.random() < 0.7:
        return table.drop(columns=rng.choice(columns))
    return table.assign(remark="seen")


def _edit(layers: Layers, rng: random.Random) -> str:
    """Edit one layer of a job, or put back what it was; return its name."""
    name = rng.choice(list(_town()))
    if name not in layers or rng.random() < 0.35:
        layers[name] = _town()[name]
    elif rng.random() < 0.1:
        del layers[name]
    else:
        layers[name] = rng.choice((_rows, _value, _value, _shape, _column))(layers[name], rng)
    return name


def _outcome(read: Any) -> Job | str:
    try:
        job: Job = read()
    except JobError as error:
        return f"{error} {[(f.layer, f.reason, f.feature, f.effect) for f in error.faults]}"
    return job


def _assert_equal(again: Job | str, fresh: Job | str) -> None:
    if isinstance(again, str) or isinstance(fresh, str):
        assert again == fresh
        return
    for name in LAYERS:
        one, other = getattr(again, name), getattr(fresh, name)
        assert (one is None) == (other is None), name
        assert one is None or same_table(one, other), name
    for field in fields(Job):
        if field.name not in (*LAYERS, "crs", "output_crs", "ground"):
            assert getattr(again, field.name) == getattr(fresh, field.name), field.name
    assert again.crs.to_wkt() == fresh.crs.to_wkt()
    assert again.output_crs.to_wkt() == fresh.output_crs.to_wkt()


@pytest.mark.parametrize("seed", range(2))
def test_any_edit_reads_as_a_fresh_reading_does(seed: int) -> None:
    rng, layers = random.Random(seed), dict(_town())
    chosen = {"lines": list(LINES[:2])} if seed % 2 else {}
    reader = JobReader(layers, **chosen)
    last, digest, read = None, "", 0
    for _ in range(STEPS):
        _edit(layers, rng)
        _edit(layers, rng)
        again = _outcome(reader.read)
        _assert_equal(again, _outcome(lambda: read_job(layers, **chosen)))
        if isinstance(last, Job):
            assert job_digest(last) == digest  # a reading changes nothing of the one before
        if isinstance(again, Job):
            if isinstance(last, Job):
                for name in LAYERS:
                    mine, before = getattr(again, name), getattr(last, name)
                    if mine is not None and before is not None and same_table(mine, before):
                        assert mine is before, name
            last, digest, read = again, again.layers_digest, read + 1
    assert read > 1


def test_one_more_stop_leaves_the_other_layers(tmp_path: Path) -> None:
    from leakgeo.job.append import append_rows

    path = tmp_path / "job.gpkg"
    path.write_bytes(TOWN.read_bytes())
    reader = JobReader(path)
    first = reader.read()
    stop = {
        "reading_id": ["new"],
        "line_id": ["H-101"],
        "sound_level": [31.0],
        "sound_unit": ["db"],
        "chainage_m": [2.0],
    }
    append_rows(path, {"readings": pd.DataFrame(stop)})
    again = reader.read()
    assert [n for n in again if getattr(again, n) is not getattr(first, n)] == ["readings"]
    assert len(again.readings) == len(first.readings) + 1
    _assert_equal(again, read_job(path))


def test_any_damage_of_a_geopackage_reads_as_a_fresh_reading_does(tmp_path: Path) -> None:
    good = small_job.write(tmp_path / "good.gpkg").read_bytes()
    path = tmp_path / "job.gpkg"
    path.write_bytes(good)
    reader = JobReader(path)
    first = reader.read()
    for number in range(DAMAGES):
        path.write_bytes(spoilt(good, 7, number)[1])
        _assert_equal(_outcome(reader.read), _outcome(lambda: read_job(path)))
    path.write_bytes(good)
    again = reader.read()
    _assert_equal(again, first)

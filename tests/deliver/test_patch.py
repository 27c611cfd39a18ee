"""A table that is patched is the table written whole: rows, numbers, index, extent, counts."""

from __future__ import annotations

import os
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from leakgeo.deliver.geopackage.layers import append_layer
from leakgeo.deliver.geopackage.patch import NotPatchable, TablePatch, copied
from leakgeo.deliver.geopackage.row_changes import RowChanges
from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.deliver.geopackage.written import Written
from leakgeo.kept_pieces import Kept
from tests.test_update import tables

CRS = "EPSG:2289"  # in feet, where single precision is coarse


def points(count=40, seed=1):
    rng = np.random.default_rng(seed)
    at = shapely.points(rng.uniform((2.6e6, 4.4e5), (2.7e6, 4.5e5), (count, 2)))
    frame = pd.DataFrame({
        "key": np.arange(count), "name": [f"n{k}" for k in range(count)],
        "level": rng.normal(size=count), "on": pd.Series(rng.random(count) < 0.5, dtype="boolean"),
        "time": pd.Timestamp("2026-01-02T03:04:05.678Z") + pd.to_timedelta(np.arange(count), "s"),
    })  # fmt: skip
    return gpd.GeoDataFrame(frame, geometry=at, crs=CRS)


def write(frame, path, kind="Point", index="YES"):
    frame = to_schema(frame, None, CRS)
    options = {"FID": "fid", "GEOMETRY_NAME": "geom", "SPATIAL_INDEX": index}
    append_layer(path, "t", frame, kind, options)
    return path


def patched(before, after, folder, *, kind="Point", checked=False, index="YES"):
    """The file of some rows, patched into that of others, as they are known by ``key``."""
    changes = RowChanges.of(*(f["key"].to_numpy(dtype=np.uint64) for f in (before, after)))
    numbers = [np.arange(1, len(f) + 1) for f in (before, after)]
    old, new = write(before, folder / "old.gpkg", kind, index), folder / "new.gpkg"
    with copied(old, new) as base:
        patch = TablePatch(base, "t", changes, *numbers)
        if checked:
            patch.check_types(pd.DataFrame(after.drop(columns="geometry")), {})
        patch.apply(to_schema(after.iloc[changes.new], None, CRS))
    return new


def outermost_gone(rows):
    """Without the rows that bound the extent."""
    x, y = rows.geometry.x, rows.geometry.y
    return rows.drop(index={x.idxmin(), x.idxmax(), y.idxmin(), y.idxmax()})


ROWS = points()
CHANGED = {
    "deleted": ROWS.drop(index=[0, 7, 8, 39]),
    "outermost": outermost_gone(ROWS),
    "added": pd.concat([ROWS.iloc[:5], points(3, 2).assign(key=[90, 91, 92]), ROWS.iloc[5:]]),
    "swapped": ROWS.iloc[[3, 1, 2, 0, *range(4, 40)]],
    "null": pd.concat([ROWS.iloc[1:], ROWS.iloc[:1].assign(key=77, geometry=None)]),
}


@pytest.mark.parametrize("index", ["YES", "NO"])
@pytest.mark.parametrize("how", CHANGED)
def test_the_table_is_as_if_written_whole(tmp_path, how, index):
    after = CHANGED[how].reset_index(drop=True)
    one = tables(patched(ROWS, after, tmp_path, index=index))
    other = tables(write(after, tmp_path / "whole.gpkg", index=index))
    pd.testing.assert_frame_equal(one.pop("extents"), other.pop("extents"), rtol=1e-14, atol=0)
    assert one.keys() == other.keys()
    for name, rows in one.items():
        own = [c for c in ("fid", "id") if c in rows]
        mine, theirs = (
            f.sort_values(own, ignore_index=True) if own else f for f in (rows, other[name])
        )
        pd.testing.assert_frame_equal(mine, theirs, obj=name)


def test_a_table_that_would_have_other_types_is_written_whole(tmp_path):
    areas = ROWS.assign(geometry=[*ROWS.geometry[:-1], ROWS.geometry.iloc[-1].buffer(3.0)])
    texts = ROWS.assign(own=[*range(39), "x"])
    cases = [
        (areas, areas.iloc[:-1], "Unknown", False),
        (ROWS, ROWS.iloc[:0], "Point", False),
        (texts, texts.iloc[:-1].assign(own=range(39)), "Point", True),
        (ROWS, ROWS.assign(key=[*range(39), 99], level=[*range(39), "x"]), "Point", False),
        (ROWS, ROWS.assign(more=1, key=[*range(39), 99]), "Point", False),
    ]
    for k, (before, after, kind, checked) in enumerate(cases):
        (tmp_path / str(k)).mkdir()
        with pytest.raises(NotPatchable):
            patched(before, after, tmp_path / str(k), kind=kind, checked=checked)


def test_what_is_kept_of_a_file_is_of_that_file_alone(tmp_path):
    result, path = SimpleNamespace(kept=Kept({})), write(ROWS, tmp_path / "t.gpkg")
    Written().save(result, {}, path)
    assert Written.of(result, path) is not None
    beside = path.with_name("t.gpkg-wal")
    beside.touch()
    assert Written.of(result, path) is None  # another program has it open
    beside.unlink()
    os.utime(path, ns=(1, 1))
    assert Written.of(result, path) is None
    Written().save(result, {}, path)
    (key,) = result.kept.pieces
    result.kept.pieces[key] = result.kept.pieces[key][:-1] + b"?"
    assert Written.of(result, path) is None
    path.unlink()
    assert Written.of(result, path) is None

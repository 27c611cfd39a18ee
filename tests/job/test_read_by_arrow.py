"""A large table of a GeoPackage, read in part by Arrow, is that of the plain reader."""

from __future__ import annotations

import sqlite3
import warnings
from contextlib import closing
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from leakgeo.job.guards import gdal
from leakgeo.job.same_content import same_table

if TYPE_CHECKING:
    from pathlib import Path

# Values that a column of another type may hold in SQLite.
ODD = (
    ("i", "abc"), ("i", ""), ("i", 2**62), ("i", 1.5), ("f", "12 ft"), ("f", ""),
    ("f", float("inf")), ("b", "yes"), ("b", 7), ("d", "12/31/2020"), ("dt", "yesterday"),
    ("dt", "2026-05-03 10:20"), ("dt", "2026-05-03T10:20:00+02:00"), ("dt", 5), ("dt", ""),
    ("t", 17), ("t", 2.5), ("t", "a\x00b"), ("t", ""), ("big", 2**40),
)  # fmt: skip


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A GeoPackage of odd values, with nulls in most columns."""
    path = tmp_path_factory.mktemp("odd") / "odd.gpkg"
    rows = pd.DataFrame({
        "t": ["a", None, "ü", "x"], "i": pd.array([1, None, 3, 4], dtype="Int64"),
        "f": [1.5, np.nan, 2, 3], "b": pd.array([True, None, False, True], dtype="boolean"),
        "whole": [1, 2, 3, 4], "none": pd.Series([None] * 4, dtype=object),
        "dt": pd.to_datetime(["2026-01-01T10:00:00Z", None, "2026-01-01T10:00:00Z", None]),
        "d": ["2026-01-01", None, "x", "y"], "big": pd.array([1, 2, 3, 4], dtype="Int32"),
    })  # fmt: skip
    shapes = [shapely.Point(0, 0), None, shapely.Point(), shapely.LineString([(0, 0), (1, 1)])]
    gpd.GeoDataFrame(rows, geometry=shapes, crs=4326).to_file(path, layer="rows")
    with closing(sqlite3.connect(path)) as base:
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            base.create_function(name, 1, lambda _: 1)
        for column, value in ODD:
            base.execute(f"INSERT INTO rows ({column}, whole) VALUES (?, 5)", (value,))
        base.commit()
    return path


def test_large_table_is_as_the_plain_reader_reads_it(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gdal, "_LEAST_ROWS", 1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        info, plain = gdal.layer_info(file, "rows"), gdal.read_table(file, "rows")
        fast = gdal._read_by_arrow(gdal._pipeline(file), "rows", info)
    assert fast is not None
    assert same_table(fast, plain), (fast.dtypes, plain.dtypes)


def test_text_that_is_not_utf_8_is_left_to_the_plain_reader(
    file: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(gdal, "_LEAST_ROWS", 1)
    bad = tmp_path / "bad.gpkg"
    bad.write_bytes(file.read_bytes())
    with closing(sqlite3.connect(bad)) as base:
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            base.create_function(name, 1, lambda _: 1)
        base.execute("UPDATE rows SET t = CAST(x'fffe' AS TEXT) WHERE fid = 1")
        base.commit()
    assert gdal._read_by_arrow(gdal._pipeline(bad), "rows", gdal.layer_info(bad, "rows")) is None
    with pytest.raises(UnicodeDecodeError):
        gdal.read_table(bad, "rows", gdal.layer_info(bad, "rows"))

"""An update gives the result of a run of all lines, whatever changed, and whatever was damaged."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from functools import partial

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from leakgeo import run
from tests.benchmarks.updates import town_layers
from tests.town import assert_same

# Lines of the town with neighbours, valves, holes, and readings with those of another line.
LINES = ("H-133", "H-134", "A-201", "A-202", "A-206")
_NAMED = ("routes", "readings", "contacts", "meter_tests", "action_results")
QUICK = {"density": False, "map_lines": 1, "report_lines": 1, "workers": 1}
# Times of writing, and tables of the R-tree that depend on the order of writing.
_TIMES = {"last_change", "md_timestamp", "timestamp", "update_time"}


def few_lines():
    """The layers of the town, with a few of its lines."""
    layers = town_layers()
    for name in _NAMED:
        own = layers.get(name)
        if own is not None:
            layers[name] = own[own["line_id"].isin(LINES)].reset_index(drop=True)
    return {name: layer for name, layer in layers.items() if len(layer)}


def changed(layers, name, where, **values):
    """Layers with other values in the rows of one of them."""
    frame = layers[name].copy()
    for column, value in values.items():
        frame.loc[where(frame), column] = value
    return {**layers, name: frame}


def tables(path):
    """Every row of every table of a GeoPackage, with its number."""
    with closing(sqlite3.connect(path)) as base:
        found = {}
        made = base.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchall()
        for name, sql in made:
            if name.startswith("rtree_") and "VIRTUAL" not in sql.upper():
                continue
            rows = base.execute(f'SELECT * FROM "{name}"')
            names = [d[0] for d in rows.description]
            keep = [k for k, n in enumerate(names) if n not in _TIMES]
            found[name] = [names, sorted((tuple(r[k] for k in keep) for r in rows), key=repr)]
        found["sqlite_master"] = sorted(map(repr, base.execute(
            "SELECT type, name, tbl_name, sql FROM sqlite_master")))  # fmt: skip
        return found


def assert_same_files(one, other):
    """Hold two results to have the same rows, numbers, indexes and records."""
    assert_same(one, other)
    first, second = tables(one / "result.gpkg"), tables(other / "result.gpkg")
    assert first.keys() == second.keys()
    for name, rows in first.items():
        assert rows == second[name], name
    records = [json.loads((out / "run.json").read_text("utf-8")) for out in (one, other)]
    for record in records:
        for name in ("made", "finished", "timings", "seconds"):
            record.pop(name, None)
    assert records[0] == records[1]

"""What changed between two results: lines, marks and holds, compared in SQL by a few columns."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.deliver.folder.spreadsheets import in_units, rounded, write_csv
from leakgeo.job.crs import is_georeferenced, transformer
from leakgeo.job.results.stored_record import RUN_RECORD, WITHOUT_ROWS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from leakgeo.arrays import Floats

FILE = "changes.csv"
#: A mark that moved by more than this is named.
MOVED_M = 0.3048
# Rows of the file for each kind of change; all are counted.
_MOST_ROWS = 100_000
_BATCH = 10_000
_WGS84 = 4326
# Layers and columns that are compared; a mark is one to dig at, not the likeliest place so far.
_COLUMNS = {
    "lines": ("line_id", "status", "dig_status"),
    "marks": ("line_id", "rank", "chainage_m", "status", "geom"),
    "holds": ("line_id", "mark_rank", "utility_id", "code", "message"),
}
_ROWS = {
    "lines": "SELECT line_id, status, dig_status FROM {base}.lines",
    "marks": """
        SELECT line_id, rank AS mark_rank, chainage_m, geom
        FROM {base}.marks WHERE status = 'located'""",
    "holds": """
        SELECT line_id, mark_rank, utility_id, code, min(message) AS message
        FROM {base}.holds GROUP BY 1, 2, 3, 4""",
}
# Each query gives line, mark, utility, code or status before and after, and message.
_LACKS_LINE = """
    SELECT a.line_id, NULL, NULL, {said}, NULL
    FROM {of}_lines a LEFT JOIN {to}_lines b USING (line_id)
    WHERE b.line_id IS NULL ORDER BY 1"""
_LACKS_MARK = """
    SELECT a.line_id, a.mark_rank, NULL, NULL, NULL, NULL
    FROM {of}_marks a LEFT JOIN {to}_marks b USING (line_id, mark_rank)
    WHERE b.line_id IS NULL ORDER BY 1, 2"""
# Only of marks that both results have: the holds of others come and go with the mark.
_LACKS_HOLD = """
    SELECT a.line_id, a.mark_rank, a.utility_id, {said}, a.message
    FROM {of}_holds a
    JOIN old_marks m ON m.line_id = a.line_id AND m.mark_rank = a.mark_rank
    JOIN new_marks n ON n.line_id = a.line_id AND n.mark_rank = a.mark_rank
    LEFT JOIN {to}_holds b ON b.line_id = a.line_id AND b.mark_rank = a.mark_rank
        AND b.utility_id IS a.utility_id AND b.code = a.code
    WHERE b.line_id IS NULL ORDER BY 1, 2, 3, a.code"""
_DIFFERS = """
    SELECT a.line_id, NULL, NULL, a.{column}, b.{column}, NULL
    FROM old_lines a JOIN new_lines b USING (line_id)
    WHERE a.{column} IS NOT b.{column} {more} ORDER BY 1"""
# Status of a dig matters where there is a mark to dig at, before and now.
_LOCATED = "AND a.status = 'located' AND b.status = 'located'"
_MOVED = """
    SELECT a.line_id, a.mark_rank, a.chainage_m, b.chainage_m, a.geom, b.geom
    FROM old_marks a JOIN new_marks b USING (line_id, mark_rank)
    WHERE a.geom IS NOT b.geom OR a.chainage_m IS NOT b.chainage_m ORDER BY 1, 2"""
_COMES, _GOES = {"of": "new", "to": "old"}, {"of": "old", "to": "new"}
_BOTH = ("marks", "holds")
# Layers that must be there, and the query.
_QUERIES: Mapping[str, tuple[tuple[str, ...], str]] = {
    "line_new": (("lines",), _LACKS_LINE.format(**_COMES, said="NULL, a.status")),
    "line_gone": (("lines",), _LACKS_LINE.format(**_GOES, said="a.status, NULL")),
    "status": (("lines",), _DIFFERS.format(column="status", more="")),
    "dig_status": (("lines",), _DIFFERS.format(column="dig_status", more=_LOCATED)),
    "mark_new": (("marks",), _LACKS_MARK.format(**_COMES)),
    "mark_gone": (("marks",), _LACKS_MARK.format(**_GOES)),
    "hold_new": (_BOTH, _LACKS_HOLD.format(**_COMES, said="NULL, a.code")),
    "hold_cleared": (_BOTH, _LACKS_HOLD.format(**_GOES, said="a.code, NULL")),
}
#: Kinds of changes.
KINDS = (*_QUERIES, "mark_moved")
_NAMES = ("line_id", "mark_rank", "utility_id", "before", "after", "message")


class Changes(NamedTuple):
    """What changed since an earlier result.

    Parameters
    ----------
    run_id : str
        Of the earlier result.
    counts : dict of str to int
        Number of each kind that both results allow to compare.
    rows : pandas.DataFrame
        Columns of ``changes`` in the contract; of each kind at most 100,000 rows.
    """

    run_id: str
    counts: dict[str, int]
    rows: pd.DataFrame

    def record(self) -> dict[str, object]:
        """Return what the record of the run has."""
        return {"since_run": self.run_id, "counts": self.counts}


def changes_between(old: Path, new: Path) -> Changes | None:
    """Compare two results; a mark has moved if it is more than a foot away.

    Parameters
    ----------
    old, new : pathlib.Path
        Each a ``result.gpkg``.

    Returns
    -------
    Changes or None
        None if `old` does not exist or can't be read as a result. What a result has not worked
        out, such as holds without the step clearance, is not compared.
    """
    if not (old.is_file() and new.is_file()):
        return None
    try:
        with closing(sqlite3.connect("file::memory:", uri=True)) as base:
            # Nothing of the earlier file is run: a view in its schema could call functions.
            base.execute("PRAGMA trusted_schema = OFF")
            for name, path in (("old", old), ("new", new)):
                base.execute(f"ATTACH ? AS {name}", (f"{path.resolve().as_uri()}?mode=ro",))
            there = [_views(base, "old"), _views(base, "new")]
            layers = there[0] & there[1]
            if "lines" not in layers:
                return None
            return _compared(base, layers, _crs(base, "old"), _crs(base, "new"))
    except sqlite3.Error:
        return None


def _compared(
    base: sqlite3.Connection, layers: set[str], old: pyproj.CRS | None, new: pyproj.CRS | None
) -> Changes:
    counts, parts = {}, []
    for kind, (needs, query) in _QUERIES.items():
        if layers.issuperset(needs):
            counts[kind], rows = _counted(base.execute(query))
            parts.append(pd.DataFrame(rows, columns=list(_NAMES)).assign(change=kind))
    if "marks" in layers:
        counts["mark_moved"], rows = _counted(_moved(base, old, new))
        columns = ["line_id", "mark_rank", "moved_m"]
        parts.append(pd.DataFrame(rows, columns=columns).assign(change="mark_moved"))
    columns = ["change", "line_id", "mark_rank", "utility_id", "moved_m", "before", "after",
               "message"]  # fmt: skip
    filled = [part.astype(object) for part in parts if len(part)]
    table = pd.concat(filled) if filled else pd.DataFrame()
    table = table.reindex(columns=columns).reset_index(drop=True)
    table["moved_m"] = table["moved_m"].astype(float)
    table["mark_rank"] = table["mark_rank"].astype("Int64")
    return Changes(_run_id(base), counts, table)


def _views(base: sqlite3.Connection, name: str) -> set[str]:
    """Make a view of each layer that a result has, with rows or without; return their names."""
    tables = {t for (t,) in base.execute(f"SELECT name FROM {name}.sqlite_master "
                                         "WHERE type = 'table'")}  # fmt: skip
    without = _without_rows(base, name) if RUN_RECORD in tables else set()
    made = set()
    for layer, columns in _COLUMNS.items():
        if layer in tables:
            there = {row[1] for row in base.execute(f"PRAGMA {name}.table_info({layer})")}
            if not there.issuperset(columns):
                continue
            query = _ROWS[layer].format(base=name)
        elif layer in without:
            nulls = ", ".join(f"NULL AS {c}" for c in (*columns, "mark_rank") if c != "rank")
            query = f"SELECT {nulls} WHERE 0"
        else:
            continue
        base.execute(f"CREATE TEMP VIEW {name}_{layer} AS {query}")
        made.add(layer)
    return made


def _without_rows(base: sqlite3.Connection, name: str) -> set[str]:
    try:
        record = json.loads(base.execute(f"SELECT record FROM {name}.{RUN_RECORD}").fetchone()[0])
        return set(record[WITHOUT_ROWS])
    except (ValueError, TypeError, KeyError):
        return set()


def _run_id(base: sqlite3.Connection) -> str:
    """Return the run id of the earlier result; ``""`` if it has none."""
    names = {row[1] for row in base.execute("PRAGMA old.table_info(lines)")}
    rows = base.execute("SELECT run_id FROM old.lines LIMIT 1") if "run_id" in names else ()
    return next((str(run) for (run,) in rows), "")


def _crs(base: sqlite3.Connection, name: str) -> pyproj.CRS | None:
    """Return the CRS of the marks; None without one on the ground."""
    found = base.execute(
        f"SELECT definition FROM {name}.gpkg_spatial_ref_sys s JOIN {name}.gpkg_geometry_columns g "
        "ON s.srs_id = g.srs_id WHERE g.table_name = 'marks'"
    ).fetchone()
    try:
        crs = None if found is None else pyproj.CRS.from_user_input(found[0])
    except pyproj.exceptions.CRSError:  # the plane that is nowhere on the earth
        return None
    return crs if is_georeferenced(crs) else None


def _counted(rows: Any) -> tuple[int, list[tuple[object, ...]]]:
    """Return the number of rows, and the first of them."""
    kept: list[tuple[object, ...]] = []
    count = 0
    for count, row in enumerate(rows, 1):
        if count <= _MOST_ROWS:
            kept.append(row)
    return count, kept


def _moved(
    base: sqlite3.Connection, old: pyproj.CRS | None, new: pyproj.CRS | None
) -> Iterator[tuple[object, ...]]:
    """Yield line, mark and distance of the marks that moved, on the ground or else by the tape."""
    cursor = base.execute(_MOVED)
    while batch := cursor.fetchmany(_BATCH):
        lines, ranks, before, after, one, other = zip(*batch, strict=True)
        chainages = [np.array(values, dtype=float) for values in (before, after)]
        away = np.abs(chainages[1] - chainages[0])
        if old is not None and new is not None:
            (x, y), (u, v) = _degrees(one, old), _degrees(other, new)
            placed = np.isfinite(x + y + u + v)
            ground = pyproj.Geod(ellps="WGS84").inv(x[placed], y[placed], u[placed], v[placed])[2]
            away[placed] = ground
        for k in np.flatnonzero(away > MOVED_M).tolist():
            yield lines[k], ranks[k], float(away[k])


def _degrees(blobs: tuple[bytes | None, ...], crs: pyproj.CRS) -> tuple[Floats, Floats]:
    """Return longitude and latitude of points as a GeoPackage stores them; NaN for none."""
    points = shapely.from_wkb([None if b is None else b[_header(b) :] for b in blobs])
    x, y = transformer(crs, pyproj.CRS(_WGS84)).transform(
        shapely.get_x(points), shapely.get_y(points)
    )
    good = np.isfinite(x) & np.isfinite(y)
    return np.where(good, x, np.nan), np.where(good, y, np.nan)


def _header(blob: bytes) -> int:
    """Return the length of the header of a geometry; see clause 2.1.3 of OGC 12-128."""
    envelope = (0, 32, 48, 48, 64)
    return 8 + envelope[min((blob[3] >> 1) & 7, 4)]


def write_changes(changes: Changes, path: Path, units: str, run_id: str) -> None:
    """Write the rows of changes as CSV, in the units of people.

    Parameters
    ----------
    changes : Changes
    path : pathlib.Path
    units : {"si", "us"}
    run_id : str
        Of the new result.
    """
    table = changes.rows.assign(since_run=changes.run_id, run_id=run_id)
    write_csv(rounded(in_units(table, units)), path)

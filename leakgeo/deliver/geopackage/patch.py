"""Write the GeoPackage of an update: a copy of the one there, with only the changed rows anew."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from leakgeo.deliver.geopackage.row_changes import RowChanges
from leakgeo.deliver.geopackage.rows import OVER_ALL
from leakgeo.deliver.geopackage.typed import as_type
from leakgeo.job.geopackage import columns_of, geometry_of, quoted, shape_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from leakgeo.arrays import Ints

    #: West, south, east and north; empty if not known.
    Bounds = tuple[float | None, ...]

# Declared types of SQLite by the type of a column that is written.
_STORED = {"f": ("REAL", "DOUBLE"), "i": ("INTEGER", "MEDIUMINT"), "b": ("BOOLEAN",),
           "M": ("DATETIME",)}  # fmt: skip
# More rows than this are quicker written anew, above all in the index.
_MOST_MOVED = 100_000
# Relative error of a bound in the index of SQLite, which it rounds outward to single precision.
_INDEX_ERROR = 2.0**-21
# Of more rows that go, all bounds are looked through.
_MOST_LOOKED_UP = 10_000
# Flags of a geometry header: little-endian, with an envelope, empty (OGC 12-128r18, 2.1.3).
_LITTLE, _ENVELOPE, _EMPTY = 0x01, 0x02, 0x10


class NotPatchable(Exception):  # noqa: N818 - a reason to write the whole file, not an error
    """The file has other tables or types than the rows to write."""


@contextmanager
def copied(old: Path, path: Path) -> Iterator[sqlite3.Connection]:
    """Copy a GeoPackage, and yield a connection to the copy, which is committed at the end."""
    shutil.copyfile(old, path)
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        base.execute("PRAGMA journal_mode = MEMORY")
        base.execute("PRAGMA synchronous = OFF")
        base.execute("BEGIN")
        yield base
        base.execute("COMMIT")


@dataclass(frozen=True)
class TablePatch:
    """Changes of one table.

    Parameters
    ----------
    base : sqlite3.Connection
        With an open transaction.
    table : str
    changes : RowChanges
    before, after : ndarray of int
        Numbers of the rows before and after the changes, ascending.
    """

    base: sqlite3.Connection
    table: str
    changes: RowChanges
    before: Ints
    after: Ints

    def apply(self, rows: pd.DataFrame) -> None:
        """Make the changes; `rows` are the new ones in order, typed as for a GeoPackage.

        Raises
        ------
        NotPatchable
            If the table has other columns, types, or rows.
        """
        self._check(rows)
        fid, gone = self._fid, [(number,) for number in self.before[self.changes.gone].tolist()]
        extent = self._extent_kept(gone)
        with self._without_triggers():
            self.base.executemany(f"DELETE FROM {quoted(self.table)} WHERE {fid} = ?", gone)
            self._delete_index(gone)
            self._move()
            self._insert(rows)
        self._note(_with_shapes(extent, rows) or self._extent())

    @property
    def _fid(self) -> str:
        rows = self.base.execute(f"PRAGMA table_info({quoted(self.table)})").fetchall()
        return next((quoted(str(r[1])) for r in rows if r[5]), "")

    @property
    def _shape(self) -> str:
        """Name of the column of shapes; ``""`` if it has none."""
        return geometry_of(self.base, self.table)[0]

    @property
    def _index(self) -> str:
        """Name of the R-tree of the table; ``""`` if it has none."""
        shape, _ = geometry_of(self.base, self.table)
        name = f"rtree_{self.table}_{shape}"
        known = self.base.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (name,)).fetchone()
        return quoted(name) if shape and known else ""

    def _check(self, rows: pd.DataFrame) -> None:
        found = columns_of(self.base, self.table)
        shape, _ = geometry_of(self.base, self.table)
        wanted = [str(c) for c in rows.columns if not (shape and c == rows.geometry.name)]
        count = self.base.execute(
            f"SELECT count(*), coalesce(max({self._fid}), 0) FROM {quoted(self.table)}"
        ).fetchone()
        last = int(self.before[-1]) if len(self.before) else 0
        if [*found] != wanted or tuple(count) != (len(self.before), last):
            raise NotPatchable(self.table)
        if len(rows) and not all(_fits(rows[name], kind) for name, kind in found.items()):
            raise NotPatchable(self.table)
        if shape:
            self._check_shapes(rows)

    def _check_shapes(self, rows: pd.DataFrame) -> None:
        """Raise NotPatchable if the layer may be declared with another type of shapes."""
        declared = self.base.execute(
            "SELECT geometry_type_name FROM gpkg_geometry_columns WHERE table_name = ?",
            (self.table,),
        ).fetchone()[0]
        kinds = {str(kind).upper() for kind in rows.geometry.geom_type.dropna().unique()}
        # The type of mixed shapes is that of all rows, of which some may be gone; that of no rows
        # is another one than theirs.
        mixed = str(declared) not in ("POINT", "LINESTRING", "POLYGON")
        if mixed or not kinds <= {str(declared)} or not len(self.after):
            raise NotPatchable(self.table)

    def check_types(self, layer: pd.DataFrame, kinds: Mapping[str, str]) -> None:
        """Raise NotPatchable if a column is declared with another type than all its rows ask for.

        Parameters
        ----------
        layer : pandas.DataFrame
            All rows.
        kinds : mapping of str to str
            Types of the columns of the schema; those of others follow from their values.
        """
        for name, declared in columns_of(self.base, self.table).items():
            kind = kinds.get(name)
            as_text = declared.startswith("TEXT") and kind != "str"
            if (kind is None or as_text) and name in layer and not _fits(
                as_type(layer[name], kind), declared
            ):  # fmt: skip
                raise NotPatchable(self.table)

    @contextmanager
    def _without_triggers(self) -> Iterator[None]:
        """Take the triggers off the table, which would do the work of the index once more."""
        found = self.base.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?",
            (self.table,),
        ).fetchall()
        for name, _ in found:
            self.base.execute(f"DROP TRIGGER {quoted(str(name))}")
        yield
        for _, sql in found:
            self.base.execute(str(sql))

    def _delete_index(self, gone: list[tuple[int]]) -> None:
        if self._index:
            self.base.executemany(f"DELETE FROM {self._index} WHERE id = ?", gone)

    def _move(self) -> None:
        """Give rows their new numbers: first negative ones, so that none meet."""
        moves = list(self.changes.moves(self.before, self.after))
        if sum(last - first for first, last, _ in moves) > _MOST_MOVED:
            raise NotPatchable(self.table)
        for table, number in ((quoted(self.table), self._fid), (self._index, "id")):
            if not (table and moves):
                continue
            for first, last, shift in moves:
                self.base.execute(
                    f"UPDATE {table} SET {number} = -({number} + ?) WHERE {number} BETWEEN ? AND ?",
                    (shift, first, last),
                )
            self.base.execute(f"UPDATE {table} SET {number} = -{number} WHERE {number} < 0")

    def _insert(self, rows: pd.DataFrame) -> None:
        if not len(rows):
            return
        numbers = self.after[self.changes.new].tolist()
        shape, srs = geometry_of(self.base, self.table)
        names, columns = [self._fid], [numbers]
        if shape:
            shapes = np.asarray(rows.geometry.to_numpy(), dtype=object)
            names.append(quoted(shape))
            columns.append(_blobs(shapes, srs))
            self._index_rows(numbers, shapes)
            rows = pd.DataFrame(rows.drop(columns=rows.geometry.name))
        names += [quoted(str(name)) for name in rows.columns]
        columns += [sql_values(rows[name]) for name in rows.columns]
        marks = ", ".join("?" * len(names))
        self.base.executemany(
            f"INSERT INTO {quoted(self.table)} ({', '.join(names)}) VALUES ({marks})",
            zip(*columns, strict=True),
        )

    def _index_rows(self, numbers: list[int], shapes: NDArray[np.object_]) -> None:
        if not self._index:
            return
        west, south, east, north = shapely.bounds(shapes).T
        there = np.isfinite(west)
        boxes = np.column_stack([west, east, south, north])[there].tolist()
        own = np.array(numbers)[there].tolist()
        self.base.executemany(
            f"INSERT INTO {self._index} VALUES (?, ?, ?, ?, ?)",
            [(k, *box) for k, box in zip(own, boxes, strict=True)],
        )

    def _note(self, extent: Bounds) -> None:
        """Update the number of rows, the extent and the time of change."""
        count, name = len(self.after), (self.table,)
        last = int(self.after[-1]) if count else 0
        self.base.execute("UPDATE gpkg_ogr_contents SET feature_count = ? WHERE table_name = ?",
                          (count, *name))  # fmt: skip
        self.base.execute("UPDATE sqlite_sequence SET seq = ? WHERE name = ?", (last, *name))
        now = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%S}.000Z"
        self.base.execute("UPDATE gpkg_contents SET last_change = ? WHERE table_name = ?",
                          (now, *name))  # fmt: skip
        if extent:
            self.base.execute("UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ? "
                              "WHERE table_name = ?", (*extent, *name))  # fmt: skip

    def _extent_kept(self, gone: list[tuple[int]]) -> Bounds:
        """Return the extent on record if no shape that goes reaches its edge; else empty."""
        if not self._shape or len(gone) > _MOST_LOOKED_UP:
            return ()
        west, south, east, north = self.base.execute(
            "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = ?",
            (self.table,),
        ).fetchone()
        boxes = self._boxes(gone)
        inside = west is not None and all(
            box[0] > _above(west) and box[1] > _above(south)
            and box[2] < _below(east) and box[3] < _below(north)
            for box in boxes
        )  # fmt: skip
        return (west, south, east, north) if inside else ()

    def _boxes(self, gone: list[tuple[int]]) -> list[tuple[float, ...]]:
        """Return the bounds of rows by number, from the index if there is one."""
        if self._index:
            look = f"SELECT minx, miny, maxx, maxy FROM {self._index} WHERE id = ?"
            return [box for one in gone for box in self.base.execute(look, one)]
        look = f"SELECT {quoted(self._shape)} FROM {quoted(self.table)} WHERE {self._fid} = ?"
        shapes = [
            shape_of(blob) for one in gone for (blob,) in self.base.execute(look, one) if blob
        ]
        return [tuple(box) for box in shapely.bounds(shapes).tolist()]

    def _extent(self) -> Bounds:
        """Return west, south, east and north of all shapes; empty without shapes.

        The index has bounds of single precision, rounded outward: the outermost shapes are among
        those that are outermost there within that error.
        """
        if not self._index:
            return self._extent_of_all()
        ends = self.base.execute(
            f"SELECT min(minx), min(miny), max(maxx), max(maxy) FROM {self._index}"
        ).fetchone()
        if ends[0] is None:
            return (None,) * 4
        shape, _ = geometry_of(self.base, self.table)
        outermost = self.base.execute(
            f"SELECT {quoted(shape)} FROM {quoted(self.table)} WHERE {self._fid} IN (SELECT id "
            f"FROM {self._index} WHERE minx <= ? OR miny <= ? OR maxx >= ? OR maxy >= ?)",
            [*map(_above, ends[:2]), *map(_below, ends[2:])],
        )
        return tuple(shapely.total_bounds([shape_of(b) for (b,) in outermost]).tolist())

    def _extent_of_all(self) -> Bounds:
        if not self._shape:
            return ()
        every = self.base.execute(f"SELECT {quoted(self._shape)} FROM {quoted(self.table)}")
        ends = shapely.total_bounds([shape_of(blob) for (blob,) in every if blob])
        return (None,) * 4 if np.isnan(ends).any() else tuple(ends.tolist())

    def set_of_run(self, value: pd.DataFrame) -> None:
        """Write columns that have one value for the whole run; `value` has one row."""
        with self._without_triggers():
            for name in value.columns:
                sets = f"UPDATE {quoted(self.table)} SET {quoted(str(name))} = ?"
                self.base.execute(sets, sql_values(value[name]))

    def set_over_all(self, columns: pd.DataFrame) -> None:
        """Write the columns with numbers over all lines anew, of all rows."""
        names = [name for name in OVER_ALL if name in columns]
        if not names or not len(columns):
            return
        values = [sql_values(columns[name]) for name in names]
        sets = ", ".join(f"{quoted(name)} = ?" for name in names)
        unlike = " OR ".join(f"{quoted(name)} IS NOT ?" for name in names)
        rows = zip(*values, self.after.tolist(), *values, strict=True)
        with self._without_triggers():
            self.base.executemany(
                f"UPDATE {quoted(self.table)} SET {sets} WHERE {self._fid} = ? AND ({unlike})", rows
            )


def _with_shapes(extent: Bounds, rows: pd.DataFrame) -> Bounds:
    """Return an extent with that of more rows; empty if it is not known."""
    if not extent or not len(rows):
        return extent
    more = shapely.total_bounds(np.asarray(rows.geometry.to_numpy(), dtype=object))
    ends = zip(extent, more.tolist(), (min, min, max, max), strict=True)
    return tuple(one if np.isnan(other) else outer(one, other) for one, other, outer in ends)


def _above(end: float) -> float:
    return end + abs(end) * _INDEX_ERROR


def _below(end: float) -> float:
    return end - abs(end) * _INDEX_ERROR


def _fits(column: pd.Series[Any], declared: str) -> bool:
    allowed = _STORED.get(getattr(column.dtype, "kind", "O"))
    return declared in allowed if allowed else declared.startswith("TEXT")


def sql_values(column: pd.Series[Any]) -> list[object]:
    """Return the values of a typed column as GDAL stores them in a GeoPackage; None for null.

    Examples
    --------
    >>> sql_values(pd.Series([True, None], dtype="boolean"))
    [1, None]
    """
    if column.dtype.kind == "M":
        return [None if pd.isna(t) else f"{t:%Y-%m-%dT%H:%M:%S}.{t.microsecond // 1000:03d}Z"
                for t in column]  # fmt: skip
    if column.dtype.kind == "b":
        column = column.astype("Int64")
    values: list[object] = column.astype(object).where(column.notna(), None).tolist()
    return values


def _blobs(shapes: NDArray[np.object_], srs_id: int) -> list[bytes | None]:
    """Return geometries as a GeoPackage stores them (OGC 12-128r18, 2.1.3), None for null.

    Shapes other than points have an envelope, as GDAL writes it.
    """
    srs = srs_id.to_bytes(4, "little", signed=True)
    boxes = shapely.bounds(shapes)[:, [0, 2, 1, 3]].astype("<f8")
    blobs: list[bytes | None] = []
    for shape, box in zip(shapes, boxes, strict=True):
        if shape is None:
            blobs.append(None)
            continue
        flags, envelope = _LITTLE, b""
        if shape.is_empty:
            flags |= _EMPTY
        elif shape.geom_type != "Point":
            flags, envelope = flags | _ENVELOPE, box.tobytes()
        wkb = shapely.to_wkb(shape, byte_order=1, flavor="iso")
        blobs.append(b"GP\0" + bytes([flags]) + srs + envelope + wkb)
    return blobs

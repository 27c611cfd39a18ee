"""Write the layers of a part of a result, and join parts into one GeoPackage."""

from __future__ import annotations

import sqlite3
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from leakgeo.deliver.geopackage.layers import append_rows, unflushed
from leakgeo.deliver.geopackage.metadata import layer_notes
from leakgeo.deliver.geopackage.order import in_order
from leakgeo.deliver.geopackage.rows import NUMBERED_BY_LINE, OF_LINE, layer_rows
from leakgeo.deliver.geopackage.written import Written
from leakgeo.job.geopackage import quoted
from leakgeo.job.results.stored_record import PREFIX
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator
    from pathlib import Path

    from leakgeo.result import Result

# Tables of GeoPackage with rows for each layer, and their column with its name.
_ABOUT = (("gpkg_contents", "table_name"), ("gpkg_geometry_columns", "table_name"),
          ("gpkg_extensions", "table_name"), ("gpkg_ogr_contents", "table_name"))  # fmt: skip


def write_part(
    result: Result, path: Path, names: Collection[str], *, first: bool = False
) -> dict[str, str]:
    """Write some layers of a result, without styles and metadata.

    Parameters
    ----------
    result : Result
        Worded.
    path : pathlib.Path
        A file that does not exist yet; none is written if all layers are empty.
    names : collection of str
        Layers as they are named in the file.
    first : bool
        Whether other parts are appended to it, so that it has the tables of metadata.

    Returns
    -------
    dict of str to str
        Digest of the content of each layer; see `leakgeo.job.digest.LayerDigest`.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    written, notes = Written(), layer_notes(result) if first else {}
    with unflushed:
        for name, rows in layer_rows(result, None).items():
            if name in names and len(rows.layer):
                append_rows(path, rows, written.noted(rows), {} if written.contents else notes)
    return written.contents


def joined_digest(parts: Collection[str]) -> str:
    """Return the digest of a layer from those of its parts.

    Examples
    --------
    >>> joined_digest(["2-00000000000000ff", "1-0000000000000001"])
    '3-0000000000000100'
    """
    pairs = [part.split("-") for part in parts]
    total = sum(int(value, 16) for _, value in pairs) % 2**64
    return f"{sum(int(rows) for rows, _ in pairs)}-{total:016x}"


@dataclass(eq=False)
class JoinedGeoPackage:
    """A GeoPackage that parts are appended to.

    Parameters
    ----------
    base : sqlite3.Connection
        Open GeoPackage; the caller commits.
    """

    base: sqlite3.Connection
    _last: dict[str, int] = field(default_factory=dict)
    _triggers: list[str] = field(default_factory=list)

    def add(self, part: Path) -> None:
        """Append all tables of a part to those of the same name, which are made if missing.

        Numbers of its rows are moved behind those that are there.
        """
        with _attached(self.base, part):
            tables = self.base.execute("SELECT table_name FROM part.gpkg_contents").fetchall()
            for (table,) in tables:
                if not self._has(table):
                    self._make(table)
                self._append(table)

    def finish(self) -> None:
        """Set the triggers again that keep the spatial indexes, and list the tables in order."""
        for sql in self._triggers:
            self.base.execute(sql)
        self._triggers = []
        rows = {row[0]: row for row in self.base.execute("SELECT * FROM gpkg_contents")}
        of_job = [PREFIX + name for name in load_schemas("input")]
        known = [name for name in load_schemas("output") if name in rows]
        names = in_order([*known, *(n for n in rows if n not in {*known, *of_job})])
        names += [name for name in of_job if name in rows]
        self.base.execute("BEGIN")
        self.base.execute("DELETE FROM gpkg_contents")
        for name in names:
            marks = ", ".join("?" * len(rows[name]))
            self.base.execute(f"INSERT INTO gpkg_contents VALUES ({marks})", rows[name])
        self.base.execute("COMMIT")

    def _has(self, table: str) -> bool:
        known = "SELECT 1 FROM main.gpkg_contents WHERE table_name = ?"
        return self.base.execute(known, (table,)).fetchone() is not None

    def _make(self, table: str) -> None:
        """Make an empty table as it is in the part, with its index and what is said of it."""
        made = self.base.execute(
            "SELECT type, sql FROM part.sqlite_master WHERE sql IS NOT NULL AND (name = ? OR "
            "tbl_name = ? OR name = 'rtree_' || ? || '_geom') ORDER BY type = 'trigger', rowid",
            (table, table, table),
        ).fetchall()
        for kind, sql in made:
            if kind == "trigger":
                self._triggers.append(sql)
            else:
                self.base.execute(sql)
        for name, column in _ABOUT:
            if self._is_table(name):
                self.base.execute(
                    f"INSERT INTO main.{name} SELECT * FROM part.{name} "
                    f"WHERE lower({column}) = lower(?)", (table,),
                )  # fmt: skip
        self._add_crs()
        self._last[table] = 0

    def _add_crs(self) -> None:
        self.base.execute("INSERT OR IGNORE INTO main.gpkg_spatial_ref_sys "
                          "SELECT * FROM part.gpkg_spatial_ref_sys")  # fmt: skip

    def _is_table(self, name: str) -> bool:
        there = "SELECT 1 FROM {}.sqlite_master WHERE name = ?"
        return all(self.base.execute(there.format(where), (name,)).fetchone() is not None
                   for where in ("main", "part"))  # fmt: skip

    def _append(self, table: str) -> None:
        columns = [
            (str(row[1]), bool(row[5]))
            for row in self.base.execute(f"PRAGMA part.table_info({quoted(table)})")
        ]
        fid = next(name for name, key in columns if key)
        if table not in self._last:
            last = self.base.execute(f"SELECT max({quoted(fid)}) FROM main.{quoted(table)}")
            self._last[table] = last.fetchone()[0] or 0
        move = self._last[table]
        if table in NUMBERED_BY_LINE:  # so that their numbers have gaps
            move = -(-move // OF_LINE) * OF_LINE
        names = ", ".join(quoted(name) for name, _ in columns)
        values = ", ".join(f"{quoted(n)} + {move}" if key else quoted(n) for n, key in columns)
        self.base.execute(
            f"INSERT INTO main.{quoted(table)} ({names}) SELECT {values} FROM part.{quoted(table)}"
        )
        self._append_index(table, move)
        self._extend(table)
        last = self.base.execute(f"SELECT max({quoted(fid)}) FROM part.{quoted(table)}")
        self._last[table] = move + (last.fetchone()[0] or 0)

    def _append_index(self, table: str, move: int) -> None:
        index = f"rtree_{table}_geom"
        if self._is_table(index):
            self.base.execute(
                f"INSERT INTO main.{quoted(index)} SELECT id + {move}, minx, maxx, miny, maxy "
                f"FROM part.{quoted(index)}"
            )

    def _extend(self, table: str) -> None:
        """Extend what is stated of a table: bounds, number of rows, and type of geometry."""
        self.base.execute(
            "UPDATE main.gpkg_geometry_columns SET geometry_type_name = 'GEOMETRY' "
            "WHERE table_name = ?1 AND geometry_type_name <> (SELECT geometry_type_name "
            "FROM part.gpkg_geometry_columns WHERE table_name = ?1)", (table,),
        )  # fmt: skip
        bounds = self.base.execute(
            "SELECT min_x, min_y, max_x, max_y FROM part.gpkg_contents WHERE table_name = ?",
            (table,),
        ).fetchone()
        self.base.execute(
            "UPDATE main.gpkg_contents SET min_x = min(coalesce(min_x, ?1), ?1), "
            "min_y = min(coalesce(min_y, ?2), ?2), max_x = max(coalesce(max_x, ?3), ?3), "
            "max_y = max(coalesce(max_y, ?4), ?4) WHERE table_name = ?5 AND ?1 IS NOT NULL",
            (*bounds, table),
        )
        self.base.execute(
            "UPDATE main.gpkg_ogr_contents SET feature_count = (SELECT count(*) FROM "
            f"main.{quoted(table)}) WHERE table_name = ?", (table,),
        )  # fmt: skip


@contextmanager
def _attached(base: sqlite3.Connection, part: Path) -> Iterator[None]:
    """Attach a part; within a transaction SQLite can't attach, so each part is one."""
    base.execute("ATTACH DATABASE ? AS part", (str(part),))
    try:
        base.execute("BEGIN")
        yield
        base.execute("COMMIT")
    finally:
        if base.in_transaction:
            base.execute("ROLLBACK")
        base.execute("DETACH DATABASE part")


@contextmanager
def open_joined(path: Path) -> Iterator[JoinedGeoPackage]:
    """Open a GeoPackage to append parts to it; it is not flushed to disk."""
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        base.execute("PRAGMA journal_mode = OFF")
        base.execute("PRAGMA synchronous = OFF")
        made = JoinedGeoPackage(base)
        yield made
        made.finish()

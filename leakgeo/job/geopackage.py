"""Write into an open GeoPackage: one transaction, its R-tree triggers, new columns and layers."""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import shapely

from leakgeo.errors import OutputError
from leakgeo.job.column_descriptions import add_description_tables, describe_column
from leakgeo.job.template import write_layer

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from leakgeo.job.schema import Field, LayerSchema

#: Seconds that a writer waits for another program.
WAIT_S = 10.0
# Limit of one transaction: instructions of SQLite's virtual machine. A trigger of the file may not
# run on without end.
_STEPS, _PARTS = 1_000_000_000, 1000
# Functions that triggers may call: those of the R-tree, and of the numbers of rows.
_FUNCTIONS = frozenset(("st_isempty", "st_minx", "st_maxx", "st_miny", "st_maxy", "lower", "upper",
                        "strftime", "datetime", "coalesce", "ifnull", "abs", "max", "min",
                        "length", "typeof"))  # fmt: skip
_NEVER = (sqlite3.SQLITE_ATTACH, sqlite3.SQLITE_DETACH, sqlite3.SQLITE_RECURSIVE)
# Rows that triggers may change or delete are those of tables that count and index.
_CHANGES, _KEPT_BY_TRIGGERS = (sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE), ("gpkg_", "rtree_")
# Geometry header of OGC 12-128r18, 2.1.3: bytes of the envelope by its code.
_HEADER, _ENVELOPES = 8, (0, 32, 48, 48, 64)


@contextmanager
def transaction(path: Path, wait_s: float = WAIT_S) -> Iterator[sqlite3.Connection]:
    """Yield a connection with one open transaction, committed at the end, or undone by any error.

    The file is changed in place, so that another program that has it open sees the rows.

    Parameters
    ----------
    path : pathlib.Path
        GeoPackage that `leakgeo.job.guards.refusal` does not refuse.
    wait_s : float
        How long to wait for another writer.

    Raises
    ------
    OutputError
        If another program is writing, the file is read-only, or SQLite fails.
    """
    uri = f"{path.resolve().as_uri()}?mode=rw"
    try:
        with closing(sqlite3.connect(uri, uri=True, timeout=wait_s)) as base:
            base.isolation_level = None
            _prepare(base)
            base.execute("BEGIN IMMEDIATE")
            try:
                yield base
                base.execute("COMMIT")
            finally:
                if base.in_transaction:
                    base.execute("ROLLBACK")
    except (sqlite3.Error, OverflowError, UnicodeError) as error:
        raise OutputError(f"{path}: nothing was written. {_cause(error, path)}") from error


def _prepare(base: sqlite3.Connection) -> None:
    functions = {
        "ST_IsEmpty": lambda blob: int(shapely.is_empty(shape_of(blob))),
        "ST_MinX": lambda blob: float(shapely.bounds(shape_of(blob))[0]),
        "ST_MinY": lambda blob: float(shapely.bounds(shape_of(blob))[1]),
        "ST_MaxX": lambda blob: float(shapely.bounds(shape_of(blob))[2]),
        "ST_MaxY": lambda blob: float(shapely.bounds(shape_of(blob))[3]),
    }
    for name, function in functions.items():
        base.create_function(name, 1, function, deterministic=True)
    left = iter(range(_PARTS))
    base.set_progress_handler(lambda: next(left, None) is None, _STEPS // _PARTS)
    found = base.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'")
    base.set_authorizer(_authorizer({str(name): str(table) for name, table in found}))


def _authorizer(table_of_trigger: Mapping[str, str]) -> Callable[..., int]:
    """Return what restricts SQL of the file itself: its triggers, which run with each row.

    A trigger may count rows, keep an index, write a log, and fill in columns of its own table. It
    deletes no row, and changes none of another layer.
    """

    def authorize(
        action: int, first: str | None, second: str | None, _: str | None, trigger: str | None
    ) -> int:
        refused = action in _NEVER
        if trigger is not None and action == sqlite3.SQLITE_FUNCTION:
            refused = str(second).casefold() not in _FUNCTIONS
        elif trigger is not None and action in _CHANGES:
            own = action == sqlite3.SQLITE_UPDATE and table_of_trigger.get(trigger) == first
            refused = not own and not str(first).casefold().startswith(_KEPT_BY_TRIGGERS)
        return sqlite3.SQLITE_DENY if refused else sqlite3.SQLITE_OK

    return authorize


def _cause(error: Exception, path: Path) -> str:
    """Return the cause of an error of SQLite, and what to do."""
    text = str(error).rstrip(".")
    if "locked" in text or "busy" in text:
        return "Another program is writing to it. Save or discard the edits there, and try again."
    if "readonly" in text or "unable to open" in text:
        return "It is read-only. Allow writing to the file and its folder, or use a copy of it."
    if "disk is full" in text or "disk I/O" in text:
        return f"SQLite reports: {text}. Make room on the disk of {path.parent}, and try again."
    if "authorized" in text or "prohibited" in text:
        return ("A trigger of the file does more than count, index or log rows. Remove it, or copy "
                "the layers into a new file, and try again.")  # fmt: skip
    return f"SQLite reports: {text}. Save the file again with a GIS, and try again."


def blob_of(point: shapely.Geometry | None, srs_id: int) -> bytes | None:
    """Return a point as the geometry of a GeoPackage (OGC 12-128r18, 2.1.3), None for null.

    Examples
    --------
    >>> blob_of(shapely.Point(1.0, 2.0), 4326)[:8].hex()
    '47500001e6100000'
    """
    if point is None:
        return None
    head = b"GP\0\x01" + srs_id.to_bytes(4, "little", signed=True)
    return head + shapely.to_wkb(point, byte_order=1, flavor="iso")


def shape_of(blob: bytes) -> shapely.Geometry:
    """Return the shape that a GeoPackage stores so (OGC 12-128r18, 2.1.3).

    Examples
    --------
    >>> shape_of(blob_of(shapely.Point(1.0, 2.0), 4326)).wkt
    'POINT (1 2)'
    """
    envelope = _ENVELOPES[blob[3] >> 1 & 7]
    return shapely.from_wkb(blob[_HEADER + envelope :])


def quoted(name: str) -> str:
    """Return a name quoted for SQL."""
    doubled = name.replace('"', '""')
    return f'"{doubled}"'


def table_of(base: sqlite3.Connection, layer: str) -> str:
    """Return the table of a layer by its name in any case; ``""`` if the file has none."""
    found = base.execute(
        "SELECT c.table_name FROM gpkg_contents c JOIN sqlite_master m "
        "ON lower(m.name) = lower(c.table_name) "
        "WHERE lower(c.table_name) = ? AND m.type = 'table' "
        "AND c.data_type IN ('features', 'attributes')",
        (layer.casefold(),),
    ).fetchone()
    return str(found[0]) if found else ""


def columns_of(base: sqlite3.Connection, table: str) -> dict[str, str]:
    """Return the declared type of each column, without the row number and the geometry."""
    shape, _ = geometry_of(base, table)
    rows = base.execute(f"PRAGMA table_info({quoted(table)})").fetchall()
    whole = [r for r in rows if r[5] and "INT" in str(r[2]).upper()]
    return {str(r[1]): str(r[2]).upper() for r in rows if r not in whole and r[1] != shape}


def geometry_of(base: sqlite3.Connection, table: str) -> tuple[str, int]:
    """Return the geometry column of a table and its SRS; ``""`` and 0 if it has none."""
    found = base.execute(
        "SELECT column_name, srs_id FROM gpkg_geometry_columns WHERE lower(table_name) = ?",
        (table.casefold(),),
    ).fetchone()
    return (str(found[0]), int(found[1])) if found else ("", 0)


def add_columns(base: sqlite3.Connection, table: str, fields: Sequence[Field]) -> None:
    """Add columns of the contract to a table, with their descriptions."""
    add_description_tables(base)
    for field in fields:
        kind = _STORED[field.type]
        base.execute(f"ALTER TABLE {quoted(table)} ADD COLUMN {quoted(field.name)} {kind}")
        describe_column(base, table, field)


# Types of OGC 12-128r18, table 1.
_STORED = {"string": "TEXT", "number": "REAL", "integer": "MEDIUMINT", "boolean": "BOOLEAN",
           "datetime": "DATETIME", "date": "DATE"}  # fmt: skip


def add_layer(base: sqlite3.Connection, schema: LayerSchema, wkt: str | None, srs_id: int) -> None:
    """Create an empty layer as GDAL creates it, with its index and descriptions.

    Parameters
    ----------
    base : sqlite3.Connection
        With an open transaction.
    schema : LayerSchema
    wkt : str or None
        CRS of the layer; None makes a table without geometry.
    srs_id : int
        Number of that CRS in the file.
    """
    add_description_tables(base)
    with tempfile.TemporaryDirectory(prefix="leakgeo-") as folder:
        draft = Path(folder) / "layer.gpkg"
        write_layer(draft, schema, wkt)
        with closing(sqlite3.connect(draft)) as made:
            _copy_layer(made, base, schema.name, srs_id)
    for field in schema.fields:
        describe_column(base, schema.name, field)


def _copy_layer(
    made: sqlite3.Connection, base: sqlite3.Connection, layer: str, srs_id: int
) -> None:
    """Copy table, index, triggers and entries of an empty layer from one file into another."""
    counted = "gpkg_ogr_contents" in _tables(base)
    for name, kind, sql in made.execute(
        "SELECT name, type, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid"
    ).fetchall():
        own = name == layer or sql.startswith("CREATE VIRTUAL TABLE")
        if own or (kind == "trigger" and layer in name and (counted or "rtree" in name)):
            base.execute(sql)
    listed = ["gpkg_contents", "gpkg_geometry_columns", "gpkg_extensions"]
    listed += ["gpkg_ogr_contents"] if counted else []
    for table in (name for name in listed if name in _tables(made)):
        for row in _rows(made, table, layer):
            insert(base, table, {**row, "srs_id": srs_id} if row.get("srs_id") else row)


def _tables(base: sqlite3.Connection) -> set[str]:
    return {str(row[0]) for row in base.execute("SELECT name FROM sqlite_master")}


def _rows(made: sqlite3.Connection, table: str, layer: str) -> list[dict[str, object]]:
    found = made.execute(f"SELECT * FROM {quoted(table)} WHERE table_name = ?", (layer,))
    names = [str(column[0]) for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def insert(base: sqlite3.Connection, table: str, row: Mapping[str, object]) -> None:
    """Insert one row; columns that it does not name are null."""
    names, places = ", ".join(map(quoted, row)), ", ".join("?" * len(row))
    base.execute(f"INSERT INTO {quoted(table)} ({names}) VALUES ({places})", tuple(row.values()))


def note_change(
    base: sqlite3.Connection, table: str, bounds: tuple[float, float, float, float] | None
) -> None:
    """Write the time of the change, and an extent that holds `bounds`, into ``gpkg_contents``."""
    base.execute(
        "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now') "
        "WHERE table_name = ?", (table,),
    )  # fmt: skip
    if bounds is None:
        return
    base.execute(
        "UPDATE gpkg_contents SET min_x = min(coalesce(min_x, ?1), ?1), "
        "min_y = min(coalesce(min_y, ?2), ?2), max_x = max(coalesce(max_x, ?3), ?3), "
        "max_y = max(coalesce(max_y, ?4), ?4) WHERE table_name = ?5", (*bounds, table),
    )  # fmt: skip

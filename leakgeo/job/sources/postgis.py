"""Read tables of a PostgreSQL database, with or without PostGIS geometry."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import pyproj
import shapely

from leakgeo.faults import Fault, job_error
from leakgeo.job.sources.address import display_address
from leakgeo.job.sources.batches import GEOMETRY, LayerBatches
from leakgeo.job.sources.layers import RawLayer, unreadable_layer
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import psycopg

    from leakgeo.errors import JobError
    from leakgeo.job.sources.batches import RowFilter

# Messages of libpq may contain parts of a mistyped URL, so they are replaced by a code.
_CODES = (
    ("authentication failed", "database_refuses_login"),
    ("no password", "database_wants_password"),
    ("does not exist", "database_unknown"),
    ("pg_hba", "database_refuses_machine"),
    ("timeout", "database_silent"),
    ("refused", "database_not_there"),
    ("resolve", "host_not_found"),
    ("translate host", "host_not_found"),
)
_TABLES = """
SELECT coalesce(obj_description(c.oid, 'pg_class'), ''),
  n.nspname, c.relname, array_position(current_schemas(false), n.nspname),
  array_agg(a.attname ORDER BY a.attnum), array_agg(t.typname ORDER BY a.attnum),
  array_agg(tn.nspname ORDER BY a.attnum), c.relkind::text
FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
JOIN pg_type t ON t.oid = a.atttypid JOIN pg_namespace tn ON tn.oid = t.typnamespace
WHERE c.relkind IN ('r', 'v', 'm', 'f', 'p') AND has_table_privilege(c.oid, 'SELECT')
  AND n.nspname !~ '^pg_' AND n.nspname NOT IN ('information_schema', 'topology', 'tiger')
  AND c.relname NOT IN ('spatial_ref_sys', 'geometry_columns', 'geography_columns',
                        'raster_columns', 'raster_overviews')
GROUP BY 1, 2, 3, 4, c.relkind ORDER BY 4 NULLS LAST, 2, 3
"""
#: End of the comment of each table that leakgeo created for results; it is none of a job.
RESULT_MARK = "Written by leakgeo."
# SRID in the type of a column, such as geometry(Point,2289); 0 if it states none.
_OF_COLUMN = r"""
SELECT coalesce(substring(format_type(a.atttypid, a.atttypmod) FROM ',(\d+)\)$'), '0')::int
FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE n.nspname = %s AND c.relname = %s AND a.attname = %s
"""
_SHAPES = ("geometry", "geography")


@dataclass(frozen=True)
class DatabaseTable:
    """A table or view that can be read.

    Parameters
    ----------
    schema, name : str
    columns : tuple of str
        Columns without geometry.
    geometry_column : str, optional
        The first geometry column.
    postgis_schema : str, optional
        Schema in which PostGIS is installed.
    types : tuple of str
        Type of each of the columns.
    stored : bool
        Whether it is a table, whose rows have an order; default False, as of a view.
    """

    schema: str
    name: str
    columns: tuple[str, ...]
    geometry_column: str | None = None
    postgis_schema: str | None = None
    types: tuple[str, ...] = ()
    stored: bool = False


@dataclass(frozen=True)
class Database:
    """An open database, read in a single snapshot.

    Parameters
    ----------
    connection : psycopg.Connection
    tables : mapping of str to DatabaseTable
        Tables by name, or by ``schema.name`` if the schema is not in the search path, or an earlier
        one there has a table of this name. Tables of results of leakgeo are left out.
    faults : tuple of Fault
        That such tables were left out.
    """

    connection: psycopg.Connection[Any]
    tables: Mapping[str, DatabaseTable]
    faults: tuple[Fault, ...] = ()

    def read(self, name: str) -> RawLayer:
        """Read a table.

        Raises
        ------
        JobError
            If it can't be read.
        """
        import psycopg

        table = self.tables[name]
        try:
            with self.connection.transaction():
                crs = self._crs(table)
                rows = self.connection.execute(_query(table)).fetchall()
        except psycopg.Error as error:
            raise unreadable_layer(name, error) from error
        return _layer(table, rows, crs)

    def row_count(self, name: str) -> int:
        """Return the number of rows of a table."""
        from psycopg.sql import SQL, Identifier

        table = self.tables[name]
        query = SQL("SELECT count(*) FROM {}").format(Identifier(table.schema, table.name))
        return int(self.connection.execute(query).fetchone()[0])  # type: ignore[index]

    @contextmanager
    def batches(
        self, name: str, rows: int, only: RowFilter | None = None
    ) -> Iterator[LayerBatches]:
        """Open a table to read it batch by batch, through a cursor of the server.

        Parameters
        ----------
        name : str
        rows : int
            Most rows of a batch.
        only : RowFilter, optional
            Rows to read; all by default.

        Raises
        ------
        JobError
            If it can't be read.
        """
        import psycopg

        table = self.tables[name]
        try:
            with self.connection.transaction():
                srid = self._srid(table)
                crs = None if srid is None else self._known_crs(str(table.postgis_schema), srid)
                with self.connection.cursor(name="leakgeo_rows") as cursor:
                    cursor.execute(_query(table, only, srid))
                    parts = _tables(table, iter(lambda: cursor.fetchmany(rows), []))
                    yield LayerBatches(parts, crs, table.geometry_column is not None)
        except psycopg.Error as error:
            raise unreadable_layer(name, error) from error

    def newest(self, name: str, column: str) -> str | None:
        """Return the condition of the rows with the latest finite date or time in a column.

        None if its values are of another type, so that their order is not that of time.
        """
        from psycopg.sql import SQL, Identifier

        table = self.tables[name]
        kind = dict(zip(table.columns, table.types, strict=True)).get(column)
        if kind not in ("date", "timestamp", "timestamptz"):
            return None
        latest = SQL("{0} = (SELECT max({0}) FROM {1} WHERE isfinite({0}))")
        place = Identifier(table.schema, table.name)
        return latest.format(Identifier(column), place).as_string(self.connection)

    def _crs(self, table: DatabaseTable) -> pyproj.CRS | None:
        srid = self._srid(table)
        return None if srid is None else self._known_crs(str(table.postgis_schema), srid)

    def _srid(self, table: DatabaseTable) -> int | None:
        """Return the SRID of all geometries of a table; None if it has none."""
        if table.geometry_column is None or table.postgis_schema is None:
            return None
        from psycopg.sql import SQL, Identifier

        place = [table.schema, table.name, table.geometry_column]
        kind = self.connection.execute(_OF_COLUMN, place).fetchone()
        if kind is not None and kind[0]:  # the column takes no other, so no row is looked at
            return int(kind[0])
        query = SQL("SELECT DISTINCT {}({}::{}) FROM {} WHERE {} IS NOT NULL").format(
            Identifier(table.postgis_schema, "st_srid"), Identifier(table.geometry_column),
            Identifier(table.postgis_schema, "geometry"), Identifier(table.schema, table.name),
            Identifier(table.geometry_column),
        )  # fmt: skip
        found = [srid for (srid,) in self.connection.execute(query)]
        if len(found) > 1:
            reason = Reason("layer_mixes_crs", srids=[str(srid) for srid in found])
            raise job_error(table.name, Fault(table.name, reason))
        return int(found[0]) if found else None

    def _known_crs(self, postgis_schema: str, srid: int) -> pyproj.CRS | None:
        """Return the CRS of an SRID, by its authority code or by its WKT in the database."""
        from psycopg.sql import SQL, Identifier

        query = SQL("SELECT auth_name || ':' || auth_srid, srtext FROM {} WHERE srid = %s")
        named = self.connection.execute(
            query.format(Identifier(postgis_schema, "spatial_ref_sys")), [srid]
        )
        for definition in named.fetchone() or ():
            try:
                return pyproj.CRS.from_user_input(definition)
            except (pyproj.exceptions.ProjError, TypeError):
                continue
        return None


@contextmanager
def open_database(url: str) -> Iterator[Database]:
    """Open a database for reading, and find its tables.

    Parameters
    ----------
    url : str
        ``postgresql://[user[:password]@]host[:port]/database``, or any other URL of libpq.

    Raises
    ------
    JobError
        If it can't be opened; the message contains neither user nor password.
    """
    with connect(url) as connection:
        connection.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        connection.execute("SET LOCAL TIME ZONE 'UTC'")
        connection.execute("SET LOCAL DateStyle TO 'ISO'")
        tables: dict[str, DatabaseTable] = {}
        results: list[str] = []
        for comment, *row in connection.execute(_TABLES):
            if comment.endswith(RESULT_MARK):
                results.append(row[0])
                continue
            name, table = _table(*row)
            # If two schemas of the search path have the same name, the first takes precedence.
            tables[f"{table.schema}.{table.name}" if name in tables else name] = table
        yield Database(connection, tables, _left_out(results))


def _left_out(schemas: Sequence[str]) -> tuple[Fault, ...]:
    """Return the note on tables of results, by the schema of each."""
    if not schemas:
        return ()
    names = ", ".join(dict.fromkeys(schemas))
    reason = Reason("result_tables_left_out", tables=len(schemas), schemas=names)
    return (Fault("job", reason, effect="noted"),)


def connect(url: str) -> psycopg.Connection[Any]:
    """Connect to a database.

    Parameters
    ----------
    url : str

    Returns
    -------
    psycopg.Connection

    Raises
    ------
    JobError
        If psycopg is not installed, or the database can't be opened.
    """
    try:
        import psycopg
        from psycopg.types.numeric import FloatLoader
        from psycopg.types.string import TextLoader
    except ImportError as error:
        raise _connection_error(url, "database_needs_psycopg") from error
    try:
        connection = psycopg.connect(url, connect_timeout=10, application_name="leakgeo")
    except (psycopg.Error, ValueError, UnicodeError) as error:
        message = str(error)
        codes = (code for word, code in _CODES if word in message)
        raise _connection_error(url, next(codes, "database_not_opened")) from None
    connection.adapters.register_loader("numeric", FloatLoader)
    for kind in ("date", "timestamp", "timestamptz"):  # as texts, which may be infinity
        connection.adapters.register_loader(kind, TextLoader)
    return connection


def _connection_error(url: str, code: str) -> JobError:
    return job_error(
        display_address(url), Fault("job", Reason(code), value=display_address(url), effect="stops")
    )


def _table(
    schema: str, name: str, in_path: int | None,
    columns: list[str], kinds: list[str], homes: list[str], relation: str,
) -> tuple[str, DatabaseTable]:  # fmt: skip
    shapes = [(c, h) for c, k, h in zip(columns, kinds, homes, strict=True) if k in _SHAPES]
    plain = tuple(c for c, k in zip(columns, kinds, strict=True) if k not in _SHAPES)
    types = tuple(k for k in kinds if k not in _SHAPES)
    geometry_column, postgis_schema = shapes[0] if shapes else (None, None)
    key = name if in_path is not None else f"{schema}.{name}"
    return key, DatabaseTable(schema, name, plain, geometry_column, postgis_schema, types,
                              relation in ("r", "m"))  # fmt: skip


def _query(table: DatabaseTable, only: RowFilter | None = None, srid: int | None = None) -> Any:
    from psycopg.sql import SQL, Composable, Identifier

    columns: list[Composable] = [Identifier(c) for c in table.columns]
    if table.geometry_column is not None and table.postgis_schema is not None:
        # shapely has no curves, so arcs are converted to lines.
        postgis = table.postgis_schema
        columns.append(SQL("{}({}({}::{}))").format(
            Identifier(postgis, "st_asbinary"), Identifier(postgis, "st_curvetoline"),
            Identifier(table.geometry_column), Identifier(postgis, "geometry"),
        ))  # fmt: skip
    source = Identifier(table.schema, table.name)
    query = SQL("SELECT {} FROM {}").format(SQL(", ").join(columns), source)
    if only is None:
        return query
    end = SQL(" LIMIT 1" if only.one else " ORDER BY ctid" if table.stored else "")
    return SQL("{} WHERE {}{}").format(query, _filter(table, only, srid or 0), end)


def _filter(table: DatabaseTable, only: RowFilter, srid: int) -> Any:
    """Return the condition of a filter; bounds of all boxes first, for a spatial index."""
    from psycopg.sql import SQL, Identifier, Literal

    if only.condition:
        # On a line of its own; nothing in it can end the parentheses.
        return SQL("(\n{}\n)").format(SQL(only.condition))
    parts = []
    if only.boxes is not None and table.geometry_column is not None and len(only.boxes):
        postgis, column = str(table.postgis_schema), Identifier(table.geometry_column)
        low, high = only.boxes[:, :2].min(axis=0), only.boxes[:, 2:].max(axis=0)
        whole, *boxes = (
            SQL("{}({}, {})").format(
                Identifier(postgis, "st_makeenvelope"),
                SQL(", ").join(Literal(float(v)) for v in box), Literal(srid),
            ) for box in ((*low, *high), *only.boxes)
        )  # fmt: skip
        shape, meets = (
            SQL("{}::{}").format(column, Identifier(postgis, "geometry")),
            SQL("OPERATOR({}.&&)").format(Identifier(postgis)),
        )
        parts.append(SQL("({0} {1} {2} AND {0} {1} ANY(ARRAY[{3}]))").format(
            shape, meets, whole, SQL(", ").join(boxes)
        ))  # fmt: skip
    if only.column is not None:
        named = Identifier(only.column)
        parts.append(SQL("{} = ANY({})").format(*_comparable(table, only)))
        if table.geometry_column is None:
            parts.append(SQL("{} IS NULL").format(named))
    return SQL(" OR ").join(parts) if parts else SQL("true")


def _comparable(table: DatabaseTable, only: RowFilter) -> tuple[Any, Any]:
    """Return a column and the names in its own type, so that an index of it can be used."""
    from psycopg.sql import SQL, Identifier, Literal

    column = Identifier(str(only.column))
    kind = dict(zip(table.columns, table.types, strict=True)).get(str(only.column), "")
    if kind in ("int2", "int4", "int8"):
        whole = [int(name) for name in only.names if name.isascii() and name.isdigit()]
        return column, SQL("{}::int8[]").format(Literal(whole))
    own = column if kind in ("text", "varchar") else SQL("{}::text").format(column)
    return own, SQL("{}::text[]").format(Literal(list(only.names)))


def _names(table: DatabaseTable) -> list[str]:
    return [*table.columns, *([table.geometry_column] if table.geometry_column else [])]


def _tables(table: DatabaseTable, parts: Iterator[list[tuple[Any, ...]]]) -> Iterator[pa.Table]:
    """Return rows as Arrow, with values that Arrow does not know as texts."""
    own = [GEOMETRY if name == table.geometry_column else name for name in _names(table)]
    for rows in parts:
        frame = pd.DataFrame.from_records(rows, columns=own)
        columns = {name: _arrow_array(frame[name]) for name in own}
        if GEOMETRY in columns:
            columns[GEOMETRY] = columns[GEOMETRY].cast(pa.binary())
        yield pa.table(columns)


def _arrow_array(column: pd.Series[Any]) -> Any:
    try:
        return pa.array(column, from_pandas=True)
    except (pa.ArrowInvalid, pa.ArrowTypeError, pa.ArrowNotImplementedError):
        return pa.array(column.astype(str).where(column.notna(), None), from_pandas=True)


def _layer(table: DatabaseTable, rows: list[tuple[Any, ...]], crs: pyproj.CRS | None) -> RawLayer:
    frame = pd.DataFrame.from_records(rows, columns=_names(table))
    if table.geometry_column is None:
        return RawLayer(frame, None)
    shapes = shapely.from_wkb(
        frame.pop(table.geometry_column).to_numpy(dtype=object), on_invalid="ignore"
    )
    return RawLayer(gpd.GeoDataFrame(frame, geometry=shapes, crs=crs), crs)

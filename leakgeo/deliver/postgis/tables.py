"""Tables of a PostGIS schema: created by the data contract; tables of others are not touched."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd

from leakgeo.errors import OutputError
from leakgeo.job.crs import is_georeferenced
from leakgeo.job.sources import RESULT_MARK

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    import psycopg
    from pyproj import CRS

    from leakgeo.job.schema import LayerSchema


# Above the SRIDs that PostGIS ships with, and below those that it reserves.
_FREE_SRID = 910_000

_GEOMETRY = "geom"
_TABLES = """
SELECT c.relname, coalesce(obj_description(c.oid, 'pg_class'), '') FROM pg_class c
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE n.nspname = %s AND c.relkind IN ('r', 'v', 'm', 'f', 'p')
"""
_COLUMNS = """
SELECT a.attname, format_type(a.atttypid, a.atttypmod) FROM pg_attribute a
JOIN pg_class c ON c.oid = a.attrelid JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE n.nspname = %s AND c.relname = %s AND a.attnum > 0 AND NOT a.attisdropped ORDER BY a.attnum
"""
_EXTENSION = """
SELECT n.nspname FROM pg_extension e JOIN pg_namespace n ON n.oid = e.extnamespace
WHERE e.extname = 'postgis'
"""


@dataclass(frozen=True)
class TargetSchema:
    """A schema of an open database, and the tables in it.

    Parameters
    ----------
    connection : psycopg.Connection
    schema : str
    postgis : str
        Schema of the extension PostGIS.
    tables : mapping of str to str
        Comment of each table, by its name.
    """

    connection: psycopg.Connection[Any]
    schema: str
    postgis: str
    tables: Mapping[str, str]

    @classmethod
    def find(cls, connection: psycopg.Connection[Any], schema: str) -> TargetSchema:
        """Read the tables of a schema.

        Raises
        ------
        OutputError
            If the database has no PostGIS.
        """
        found = connection.execute(_EXTENSION).fetchone()
        if found is None:
            raise OutputError(
                "The database has no PostGIS. Have its owner call CREATE EXTENSION postgis in it."
            )
        return cls(connection, schema, found[0], dict(connection.execute(_TABLES, [schema])))

    @property
    def own_tables(self) -> list[str]:
        """Names of the tables that leakgeo created."""
        return [name for name, comment in self.tables.items() if comment.endswith(RESULT_MARK)]

    def check_writable(self, names: Iterable[str], *, overwrite: bool) -> None:
        """Check that tables can be written.

        Raises
        ------
        OutputError
            If a table exists and was not created by leakgeo, or `overwrite` is False.
        """
        there = [name for name in names if name in self.tables]
        others = [name for name in there if name not in self.own_tables]
        if others:
            raise OutputError(
                f"The schema {self.schema} has tables that leakgeo did not make "
                f"({', '.join(others)}). Name another schema."
            )
        if there and not overwrite:
            raise OutputError(
                f"The schema {self.schema} holds a result already. Name another schema, or ask to "
                "overwrite it."
            )

    def create(self) -> None:
        """Create the schema if it is missing."""
        from psycopg.sql import SQL, Identifier

        there = "SELECT 1 FROM pg_namespace WHERE nspname = %s"
        if self.connection.execute(there, [self.schema]).fetchone() is None:
            self.connection.execute(SQL("CREATE SCHEMA {}").format(Identifier(self.schema)))

    def lock(self) -> None:
        """Lock the tables of leakgeo against other writers; those who read them are not held up.

        Raises
        ------
        LockedTableError
            If a table stays locked by others.
        """
        from psycopg.sql import SQL

        statement = SQL("LOCK TABLE {} IN SHARE ROW EXCLUSIVE MODE")
        for table in sorted(self.own_tables):  # in one order, so that two writers take turns
            with waiting_for(table):
                self.connection.execute(statement.format(self.identifier(table)))

    def clear(self) -> None:
        """Delete the rows of all tables of leakgeo; who reads them then sees them till the end."""
        from psycopg.sql import SQL

        for table in self.own_tables:
            self.connection.execute(SQL("DELETE FROM {}").format(self.identifier(table)))

    def columns(self, table: str) -> dict[str, str]:
        """Return the type of each column of a table, without the key."""
        found = dict(self.connection.execute(_COLUMNS, [self.schema, table]))
        return {name: _plain(kind) for name, kind in found.items() if name != "fid"}

    def identifier(self, table: str) -> Any:
        """Return the quoted name of a table with its schema."""
        from psycopg.sql import Identifier

        return Identifier(self.schema, table)


class LockedTableError(Exception):
    """A table stays locked by another session; `args` has its name."""


@contextmanager
def waiting_for(table: str) -> Iterator[None]:
    """Name the table in the error of a statement that waits for a lock in vain."""
    from psycopg.errors import LockNotAvailable

    try:
        yield
    except LockNotAvailable as error:
        raise LockedTableError(table) from error


def columns_of(frame: pd.DataFrame, layer: LayerSchema | None, srid: int) -> dict[str, str]:
    """Return the database type of each column, geometry last.

    Parameters
    ----------
    frame : pandas.DataFrame or geopandas.GeoDataFrame
        As `leakgeo.deliver.geopackage.layers.to_schema` returns it.
    layer : LayerSchema or None
    srid : int

    Returns
    -------
    dict of str to str

    Examples
    --------
    >>> columns_of(pd.DataFrame({"a": [1.5], "b": ["x"]}), None, 0)
    {'a': 'double precision', 'b': 'text'}
    """
    shape = frame.geometry.name if isinstance(frame, gpd.GeoDataFrame) else None
    columns = {str(n): _type(frame[n].dtype) for n in frame.columns if n != shape}
    if isinstance(frame, gpd.GeoDataFrame):
        columns[_GEOMETRY] = f"geometry({_shape(frame, layer)},{srid})"
    return columns


def _type(kind: Any) -> str:
    types = pd.api.types
    if types.is_bool_dtype(kind):
        return "boolean"
    if types.is_integer_dtype(kind):
        return "bigint"
    if types.is_float_dtype(kind):
        return "double precision"
    return "timestamp with time zone" if types.is_datetime64_any_dtype(kind) else "text"


def _shape(frame: gpd.GeoDataFrame, layer: LayerSchema | None) -> str:
    """Return the narrowest type that holds all geometries the contract allows."""
    allowed = set(layer.geometry_types) if layer is not None else set()
    seen = set(frame.geometry.geom_type.dropna())
    only = allowed | seen
    return only.pop() if len(only) == 1 else "Geometry"


def prepare(
    target: TargetSchema, name: str, columns: Mapping[str, str], layer: LayerSchema | None
) -> None:
    """Provide an empty table; an existing one is kept if its columns are the same.

    Parameters
    ----------
    target : TargetSchema
    name : str
    columns : mapping of str to str
    layer : LayerSchema or None
    """
    from psycopg.sql import SQL, Identifier

    if name in target.tables:
        if target.columns(name) == dict(columns):
            return
        with waiting_for(name):
            target.connection.execute(SQL("DROP TABLE {}").format(target.identifier(name)))
    kinds = [SQL("{} {}").format(Identifier(c), _typed(target, k)) for c, k in columns.items()]
    key = SQL("fid bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY")
    make = SQL("CREATE TABLE {} ({})").format(
        target.identifier(name), SQL(", ").join([key, *kinds])
    )
    target.connection.execute(make)
    if _GEOMETRY in columns:
        index = SQL("CREATE INDEX ON {} USING gist ({})")
        target.connection.execute(index.format(target.identifier(name), Identifier(_GEOMETRY)))
    _comment(target, name, columns, layer)


def extend(
    target: TargetSchema, name: str, columns: Mapping[str, str], layer: LayerSchema | None
) -> None:
    """Provide a table that takes more rows; what it holds is kept.

    Columns that it lacks are added, and types are widened to hold both.

    Parameters
    ----------
    target : TargetSchema
    name : str
    columns : mapping of str to str
    layer : LayerSchema or None
    """
    from psycopg.sql import SQL, Identifier

    if name not in target.tables:
        prepare(target, name, columns, layer)
        return
    there, table = target.columns(name), target.identifier(name)
    changes = []
    for column, kind in columns.items():
        if column not in there:
            add = SQL("ADD COLUMN {} {}")
            changes.append(add.format(Identifier(column), _typed(target, kind)))
        elif (wide := _wider(there[column], kind)) != there[column]:
            changes.append(SQL("ALTER COLUMN {0} TYPE {1} USING {0}::{1}").format(
                Identifier(column), _typed(target, wide)
            ))  # fmt: skip
    if changes:
        statement = SQL("ALTER TABLE {} {}").format(table, SQL(", ").join(changes))
        with waiting_for(name):
            target.connection.execute(statement)


def _wider(there: str, kind: str) -> str:
    """Return the type that holds the values of two.

    Examples
    --------
    >>> _wider("bigint", "double precision"), _wider("boolean", "text")
    ('double precision', 'text')
    >>> _wider("geometry(Polygon,2289)", "geometry(MultiPolygon,2289)")
    'geometry(Geometry,2289)'
    """
    numbers = {"bigint", "double precision"}
    if there == kind:
        return there
    if there.startswith("geometry(") and kind.startswith("geometry("):
        if (srid := there.rpartition(",")[2]) != kind.rpartition(",")[2]:
            raise OutputError(
                "The tables are in another CRS than this result. Name another schema, or overwrite "
                "them with a run of all lines."
            )
        return f"geometry(Geometry,{srid}"
    return "double precision" if {there, kind} == numbers else "text"


def _plain(kind: str) -> str:
    """Remove the schema of PostGIS from the name of a type."""
    before, found, after = kind.partition("geometry(")
    return f"{found}{after}" if found and before.endswith(("", ".")) else kind


def _typed(target: TargetSchema, kind: str) -> Any:
    from psycopg.sql import SQL, Identifier

    if kind.startswith("geometry("):
        return SQL("{}.{}").format(Identifier(target.postgis), SQL(kind))
    return SQL(kind)


def _comment(
    target: TargetSchema, name: str, columns: Iterable[str], layer: LayerSchema | None
) -> None:
    """Comment table and columns with their descriptions, and mark the table as leakgeo's."""
    from psycopg.sql import SQL, Identifier, Literal

    text = f"{layer.description if layer else name.capitalize()} {RESULT_MARK}".strip()
    target.connection.execute(
        SQL("COMMENT ON TABLE {} IS {}").format(target.identifier(name), Literal(text))
    )
    for field in layer.fields if layer else ():
        if field.name in columns:
            column = Identifier(target.schema, name, field.name)
            comment = SQL("COMMENT ON COLUMN {} IS {}").format(column, Literal(field.description))
            target.connection.execute(comment)


def fill(
    target: TargetSchema, name: str, rows: Iterable[tuple[Any, ...]], columns: Iterable[str]
) -> None:
    """Copy rows into a table; their values are in the order of `columns`."""
    from psycopg.sql import SQL, Identifier

    names = SQL(", ").join(map(Identifier, columns))
    into = SQL("COPY {} ({}) FROM STDIN").format(target.identifier(name), names)
    with target.connection.cursor() as cursor, cursor.copy(into) as copy:
        for row in rows:
            copy.write_row(row)


def find_srid(target: TargetSchema, crs: CRS) -> int:
    """Return the SRID of a CRS in the database; an unknown CRS is added.

    Parameters
    ----------
    target : TargetSchema
    crs : pyproj.CRS

    Returns
    -------
    int
        0, that of no CRS, for a job without positions.
    """
    from psycopg.sql import SQL, Identifier

    if not is_georeferenced(crs):
        return 0
    table = Identifier(target.postgis, "spatial_ref_sys")
    wkt, authority = crs.to_wkt("WKT1_GDAL"), crs.to_authority(min_confidence=100)
    name, code = authority or ("", "0")
    known = SQL("SELECT srid FROM {} WHERE (auth_name = %s AND auth_srid = %s) OR srtext = %s")
    number = int(code) if code.isdigit() else 0
    found = target.connection.execute(known.format(table), [name, number, wkt]).fetchone()
    if found is not None:
        return int(found[0])
    add = SQL(
        "INSERT INTO {0} (srid, srtext) SELECT greatest(max(srid) + 1, {1}), %s FROM {0} "
        "RETURNING srid"
    ).format(table, SQL(str(_FREE_SRID)))
    (srid,) = target.connection.execute(add, [wkt]).fetchone() or (0,)
    return int(srid)

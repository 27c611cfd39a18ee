"""The tables that results go into, made as the contract tells them; those of others stay."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd

from leakgeo.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import psycopg
    from pyproj import CRS

    from leakgeo.job.schema import LayerSchema


# Beyond the numbers that PostGIS ships with, and below those that it keeps for itself.
_FREE_SRID = 910_000

#: What the comment of each table that leakgeo made ends in.
MARK = "Written by leakgeo."
_MAKE = "geom"
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
class Home:
    """A schema of an open database, and the tables that are in it.

    Parameters
    ----------
    connection : psycopg.Connection
    schema : str
    postgis : str
        Schema that PostGIS is installed in.
    tables : mapping of str to str
        Comment of each table, by its name.
    """

    connection: psycopg.Connection[Any]
    schema: str
    postgis: str
    tables: Mapping[str, str]

    @classmethod
    def find(cls, connection: psycopg.Connection[Any], schema: str) -> Home:
        """Look at a schema.

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
    def own(self) -> list[str]:
        """Names of the tables that leakgeo made."""
        return [name for name, comment in self.tables.items() if comment.endswith(MARK)]

    def may_write(self, names: Iterable[str], *, overwrite: bool) -> None:
        """Make sure that tables can be written.

        Raises
        ------
        OutputError
            If one of them is there, and is not leakgeo's, or is not to be replaced.
        """
        there = [name for name in names if name in self.tables]
        others = [name for name in there if name not in self.own]
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

    def empty(self) -> None:
        """Take the rows out of every table that leakgeo made; make the schema if it isn't there."""
        from psycopg.sql import SQL, Identifier

        name = Identifier(self.schema)
        there = "SELECT 1 FROM pg_namespace WHERE nspname = %s"
        if self.connection.execute(there, [self.schema]).fetchone() is None:
            self.connection.execute(SQL("CREATE SCHEMA {}").format(name))
        for table in self.own:
            self.connection.execute(SQL("DELETE FROM {}").format(self.named(table)))

    def named(self, table: str) -> Any:
        """Return a table's name with its schema, quoted."""
        from psycopg.sql import Identifier

        return Identifier(self.schema, table)


def columns_of(frame: pd.DataFrame, layer: LayerSchema | None, srid: int) -> dict[str, str]:
    """Return each column its type in the database, geometry last.

    Parameters
    ----------
    frame : pandas.DataFrame or geopandas.GeoDataFrame
        As `leakgeo.deliver.geopackage.layers.shaped` gives it.
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
        columns[_MAKE] = f"geometry({_shape(frame, layer)},{srid})"
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
    """Find the narrowest type for what the contract allows, so that a table stays as it is."""
    allowed = set(layer.geometry_types) if layer is not None else set()
    seen = set(frame.geometry.geom_type.dropna())
    only = allowed | seen
    return only.pop() if len(only) == 1 else "Geometry"


def prepare(home: Home, name: str, columns: Mapping[str, str], layer: LayerSchema | None) -> None:
    """Have a table ready that is empty: the one that is there, if its columns are the same.

    Parameters
    ----------
    home : Home
    name : str
    columns : mapping of str to str
    layer : LayerSchema or None
    """
    from psycopg.sql import SQL, Identifier

    if name in home.tables:
        there = dict(home.connection.execute(_COLUMNS, [home.schema, name]))
        if {c: _plain(k) for c, k in there.items() if c != "fid"} == dict(columns):
            return
        home.connection.execute(SQL("DROP TABLE {}").format(home.named(name)))
    kinds = [SQL("{} {}").format(Identifier(c), _typed(home, k)) for c, k in columns.items()]
    key = SQL("fid bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY")
    make = SQL("CREATE TABLE {} ({})").format(home.named(name), SQL(", ").join([key, *kinds]))
    home.connection.execute(make)
    if _MAKE in columns:
        index = SQL("CREATE INDEX ON {} USING gist ({})")
        home.connection.execute(index.format(home.named(name), Identifier(_MAKE)))
    _comment(home, name, columns, layer)


def _plain(kind: str) -> str:
    """Return a type without the schema of PostGIS."""
    before, found, after = kind.partition("geometry(")
    return f"{found}{after}" if found and before.endswith(("", ".")) else kind


def _typed(home: Home, kind: str) -> Any:
    from psycopg.sql import SQL, Identifier

    if kind.startswith("geometry("):
        return SQL("{}.{}").format(Identifier(home.postgis), SQL(kind))
    return SQL(kind)


def _comment(home: Home, name: str, columns: Iterable[str], layer: LayerSchema | None) -> None:
    """Put into the database what table and columns mean, and whose they are."""
    from psycopg.sql import SQL, Identifier, Literal

    text = f"{layer.description if layer else name.capitalize()} {MARK}".strip()
    home.connection.execute(
        SQL("COMMENT ON TABLE {} IS {}").format(home.named(name), Literal(text))
    )
    for field in layer.fields if layer else ():
        if field.name in columns:
            column = Identifier(home.schema, name, field.name)
            told = SQL("COMMENT ON COLUMN {} IS {}").format(column, Literal(field.description))
            home.connection.execute(told)


def fill(home: Home, name: str, rows: Iterable[tuple[Any, ...]]) -> None:
    """Put rows into a table; their values stand in the order of its columns, but for its key."""
    from psycopg.sql import SQL, Identifier

    there = [c for c, _ in home.connection.execute(_COLUMNS, [home.schema, name]) if c != "fid"]
    columns = SQL(", ").join(map(Identifier, there))
    into = SQL("COPY {} ({}) FROM STDIN").format(home.named(name), columns)
    with home.connection.cursor() as cursor, cursor.copy(into) as copy:
        for row in rows:
            copy.write_row(row)


def find_srid(home: Home, crs: CRS) -> int:
    """Find the number that a CRS has in the database; one that it lacks is added to it.

    Parameters
    ----------
    home : Home
    crs : pyproj.CRS

    Returns
    -------
    int
    """
    from psycopg.sql import SQL, Identifier

    table = Identifier(home.postgis, "spatial_ref_sys")
    wkt, authority = crs.to_wkt("WKT1_GDAL"), crs.to_authority(min_confidence=100)
    name, code = authority or ("", "0")
    known = SQL("SELECT srid FROM {} WHERE (auth_name = %s AND auth_srid = %s) OR srtext = %s")
    number = int(code) if code.isdigit() else 0
    found = home.connection.execute(known.format(table), [name, number, wkt]).fetchone()
    if found is not None:
        return int(found[0])
    add = SQL(
        "INSERT INTO {0} (srid, srtext) SELECT greatest(max(srid) + 1, {1}), %s FROM {0} "
        "RETURNING srid"
    ).format(table, SQL(str(_FREE_SRID)))
    (srid,) = home.connection.execute(add, [wkt]).fetchone() or (0,)
    return int(srid)

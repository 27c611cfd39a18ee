"""Keys of the tables of a GeoPackage: equal keys mean that GDAL would read the same."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.job.guards import DRIVERS

if TYPE_CHECKING:
    from leakgeo.job.sources.layers import LayerSource

# Reading a longer table takes less time than looking at each of its rows.
_MOST_ROWS = 5_000
# What GDAL looks up besides the rows; some of its notes on one table are made of another.
_OF_FILE = ("gpkg_spatial_ref_sys", "gpkg_geometry_columns", "gpkg_data_columns",
            "gpkg_data_column_constraints", "gpkg_extensions")  # fmt: skip
_SCHEMA = "select type, name, tbl_name, sql from sqlite_master"
_CONTENTS = "select table_name, data_type, identifier, srs_id from gpkg_contents"
_COUNTED = "select * from gpkg_ogr_contents where table_name = ? collate nocase"


def row_keys(source: LayerSource) -> dict[str, str]:
    """Return the key of each table that is short enough, by the name of its layer.

    Parameters
    ----------
    source : LayerSource
        As opened. Only a GeoPackage has keys.

    Returns
    -------
    dict of str to str
        Without views, whose rows depend on other tables, and layers that have been read already.
    """
    # A table of a database is not known by a path.
    files = [file for file, _ in source.layers.values()]
    file = files[0] if files and all(each == files[0] for each in files) else None
    if not isinstance(file, Path) or DRIVERS.get(file.suffix.casefold()) != "GPKG":
        return {}
    try:
        uri = f"{file.resolve().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(uri, uri=True)) as base:
            base.execute("PRAGMA trusted_schema = OFF")
            return _keys(base, {name: table for name, (_, table) in source.layers.items()
                                if name not in source.ready})  # fmt: skip
    except (sqlite3.Error, OverflowError, UnicodeError):  # such as a text that is not UTF-8
        return {}


def _keys(base: sqlite3.Connection, layers: dict[str, str]) -> dict[str, str]:
    schema = base.execute(_SCHEMA).fetchall()
    tables = {str(name) for kind, name, _, sql in schema if kind == "table"
              and not str(sql).casefold().lstrip().startswith("create virtual")}  # fmt: skip
    asked = [_CONTENTS, *(f'select * from "{name}"' for name in _OF_FILE if name in tables)]
    file = repr([schema, *(base.execute(sql).fetchall() for sql in asked)])
    keys = ((name, _key(base, table, file, counted="gpkg_ogr_contents" in tables))
            for name, table in layers.items() if table in tables)  # fmt: skip
    return {name: key for name, key in keys if key is not None}


def _key(base: sqlite3.Connection, table: str, file: str, *, counted: bool) -> str | None:
    """Return the key of one table; None if it is long."""
    own = repr((table, base.execute(_COUNTED, (table,)).fetchall() if counted else None))
    digest = hashlib.blake2b(f"{file}{own}".encode())
    doubled = table.replace('"', '""')
    if base.execute(f'select count(*) from "{doubled}"').fetchone()[0] > _MOST_ROWS:
        return None
    for row in base.execute(f'select * from "{doubled}"'):
        digest.update(repr(row).encode())
    return digest.hexdigest()

"""Write descriptions and codes of columns into a GeoPackage (the OGC "Schema" extension)."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from leakgeo.job.schema import Field, LayerSchema

# Table definitions of OGC 12-128r18 (GeoPackage 1.3), annex F.9.
_TABLES = """
CREATE TABLE IF NOT EXISTS gpkg_extensions (table_name TEXT, column_name TEXT,
  extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE IF NOT EXISTS gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL,
  name TEXT, title TEXT, description TEXT, mime_type TEXT, constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE IF NOT EXISTS gpkg_data_column_constraints (constraint_name TEXT NOT NULL,
  constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC,
  max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
"""
_DEFINITION = "http://www.geopackage.org/spec121/#extension_schema"


def write_column_descriptions(path: Path, schemas: Iterable[LayerSchema]) -> None:
    """Write the description and the codes of each column into an unfinished GeoPackage.

    Parameters
    ----------
    path : pathlib.Path
        GeoPackage with the layers of `schemas`.
    schemas : iterable of LayerSchema
    """
    with closing(sqlite3.connect(path)) as base, base:
        add_description_tables(base)
        for schema in schemas:
            for field in schema.fields:
                describe_column(base, schema.name, field)


def add_description_tables(base: sqlite3.Connection) -> None:
    """Create the tables of the extension in an open GeoPackage that does not have them."""
    for statement in _TABLES.split(";")[:-1]:
        base.execute(statement)
    for table in ("gpkg_data_columns", "gpkg_data_column_constraints"):
        known = base.execute("SELECT 1 FROM gpkg_extensions WHERE table_name = ?", (table,))
        if known.fetchone() is None:
            base.execute(
                "INSERT INTO gpkg_extensions VALUES (?, NULL, 'gpkg_schema', ?, 'read-write')",
                (table, _DEFINITION),
            )


def describe_column(base: sqlite3.Connection, layer: str, field: Field) -> None:
    """Write the description and the codes of one column; those of an earlier one are replaced."""
    codes = f"{layer}_{field.name}" if field.codes else None
    base.execute(
        "INSERT OR REPLACE INTO gpkg_data_columns VALUES (?, ?, NULL, NULL, ?, NULL, ?)",
        (layer, field.name, field.description, codes),
    )
    base.executemany(
        "INSERT OR REPLACE INTO gpkg_data_column_constraints "
        "VALUES (?, 'enum', ?, NULL, NULL, NULL, NULL, ?)",
        [(codes, code, code.replace("_", " ")) for code in field.codes],
    )

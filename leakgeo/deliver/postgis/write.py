"""Write a result into a PostGIS database, in one transaction."""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.deliver.folder.record import run_record
from leakgeo.deliver.folder.spreadsheets import faults_list
from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.deliver.postgis.tables import TargetSchema, columns_of, fill, find_srid, prepare
from leakgeo.errors import JobError, OutputError
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources import display_address, is_database

if TYPE_CHECKING:
    from collections.abc import Iterator

    import psycopg

    from leakgeo.job.schema import LayerSchema
    from leakgeo.result import Result

SCHEMA = "leakgeo"


def write_postgis(
    result: Result,
    url: str,
    *,
    schema: str = SCHEMA,
    overwrite: bool = False,
    units: str = "si",
    language: str = "en",
) -> list[str]:
    """Write every layer of a result into a schema of a PostGIS database.

    Parameters
    ----------
    result : Result
        Layers are written in ``result.job.output_crs``; faults and the record of the run become
        the tables ``faults`` and ``run``.
    url : str
        ``postgresql://...`` of a database with the extension PostGIS.
    schema : str
        Schema of the tables, created if it is missing; default ``leakgeo``.
    overwrite : bool
        Replace the rows of all tables that leakgeo wrote into the schema, also of tables that this
        result lacks: ignore should dig by an older run. Tables with the same columns are emptied
        and filled, so that views, styles and privileges stay. Tables that leakgeo did not create
        are never touched. Default False.
    units : {"si", "us"}
        Units of the texts; default SI. Numbers are always in SI.
    language : str
        Language of the texts, one of `leakgeo.wording.languages`; default English.

    Returns
    -------
    list of str
        Names of the tables written.

    Raises
    ------
    OutputError
        If the database can't be opened, has no PostGIS, holds results and `overwrite` is False,
        or refuses a statement. The database is then unchanged.
    """
    frames = _tables(result.worded(units, language), units, language)
    with _transaction(url) as connection:
        target = TargetSchema.find(connection, schema)
        target.check_writable(list(frames), overwrite=overwrite)
        srid = find_srid(target, result.job.output_crs)
        target.clear()
        for name, (frame, layer) in frames.items():
            prepare(target, name, columns_of(frame, layer, srid), layer)
            fill(target, name, _rows(frame, srid))
    return list(frames)


def check_postgis(url: str, *, schema: str = SCHEMA, overwrite: bool = False) -> None:
    """Check, before a long run, that its results can be written into a database.

    Parameters
    ----------
    url : str
        ``postgresql://...``.
    schema : str
        Schema of the tables; default ``leakgeo``.
    overwrite : bool
        Whether tables of leakgeo may be replaced; default False.

    Raises
    ------
    OutputError
        As `write_postgis`; nothing is written.
    """
    names = [*load_schemas("output"), "faults", "run"]
    with _transaction(url) as connection:
        TargetSchema.find(connection, schema).check_writable(names, overwrite=overwrite)


@contextmanager
def _transaction(url: str) -> Iterator[psycopg.Connection[Any]]:
    """Open a database for one transaction; any error rolls it back."""
    from leakgeo.job.sources import connect

    if not is_database(url):
        raise OutputError(
            f"{display_address(url)} is not the URL of a database. Give postgresql://host/base."
        )
    try:
        connection = connect(url)
    except JobError as error:
        raise OutputError(str(error)) from None
    import psycopg

    try:
        with connection:
            yield connection
    except psycopg.Error as error:
        cause = (error.diag.message_primary or type(error).__name__).rstrip(".")
        raise OutputError(
            f"{display_address(url)}: the results can't be written ({cause}). "
            "The database is as it was."
        ) from error


def _tables(
    result: Result, units: str, language: str
) -> dict[str, tuple[pd.DataFrame, LayerSchema | None]]:
    """Return the tables to write, with their schemas, in the order of the contract."""
    schemas = load_schemas("output")
    names = [n for n in schemas if n in result.layers]
    names += [n for n in result.layers if n not in schemas]
    crs = result.job.output_crs
    frames = {
        n: (to_schema(result.whole(n), schemas.get(n), crs, result.run_id), schemas.get(n))
        for n in names
    }
    record = json.dumps(run_record(result), ensure_ascii=False, allow_nan=False)
    return {
        **frames,
        "faults": (to_schema(faults_list(result, units, language), None, crs), None),
        "run": (pd.DataFrame({"record": [record]}), None),
    }


def _rows(frame: pd.DataFrame, srid: int) -> list[tuple[Any, ...]]:
    """Return the rows for the database: None for missing values, geometries as EWKB."""
    shapes = frame.geometry if isinstance(frame, gpd.GeoDataFrame) else None
    plain = pd.DataFrame(frame if shapes is None else frame.drop(columns=shapes.name))
    columns = [_values(plain[name]) for name in plain]
    if shapes is not None:
        placed = shapely.set_srid(shapes.to_numpy(), srid)
        columns.append(list(shapely.to_wkb(placed, hex=True, include_srid=True)))
    return list(zip(*columns, strict=True))


def _values(column: pd.Series[Any]) -> list[Any]:
    values = column.astype(object).where(column.notna(), None)
    if pd.api.types.is_string_dtype(column.dtype):
        # Texts of PostgreSQL can't contain the character NUL.
        values = values.map(lambda text: str(text).replace("\0", ""), na_action="ignore")
    return list(np.asarray(values.where(values.notna(), None), dtype=object))

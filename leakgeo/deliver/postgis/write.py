"""Results in the tables of a PostGIS database: all of them in one transaction, or none."""

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
from leakgeo.deliver.geopackage.layers import shaped
from leakgeo.deliver.postgis.tables import Home, columns_of, fill, find_srid, prepare
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
        Layers are written in ``result.job.output_crs``, the faults and the record of the run too,
        as the tables ``faults`` and ``run``.
    url : str
        ``postgresql://...`` of a database in which the extension PostGIS is there.
    schema : str
        Schema of the tables; made where it is missing.
    overwrite : bool
        Replace the rows of tables that leakgeo wrote before, in the tables of that schema that it
        does not write now too: what is of an older run would be dug by. A table of the same
        columns is emptied and filled, so that views, styles and rights on it stay. A table that
        leakgeo did not write is never touched.
    units : {"si", "us"}
        Units of the texts; numbers are in SI always.
    language : str
        Language of the texts, one of `leakgeo.wording.languages`.

    Returns
    -------
    list of str
        Names of the tables written.

    Raises
    ------
    OutputError
        If the database can't be opened, has no PostGIS, holds results and `overwrite` is false,
        or refuses anything. Then it is as it was before.
    """
    frames = _frames(result.worded(units, language), units, language)
    with _transaction(url) as connection:
        home = Home.find(connection, schema)
        home.may_write(list(frames), overwrite=overwrite)
        srid = find_srid(home, result.job.output_crs)
        home.empty()
        for name, (frame, layer) in frames.items():
            prepare(home, name, columns_of(frame, layer, srid), layer)
            fill(home, name, _rows(frame, srid))
    return list(frames)


def check_postgis(url: str, *, schema: str = SCHEMA, overwrite: bool = False) -> None:
    """Make sure, before a long run, that its results can go into a database.

    Parameters
    ----------
    url : str
    schema : str
    overwrite : bool

    Raises
    ------
    OutputError
        As `write_postgis` does; nothing is written.
    """
    names = [*load_schemas("output"), "faults", "run"]
    with _transaction(url) as connection:
        Home.find(connection, schema).may_write(names, overwrite=overwrite)


@contextmanager
def _transaction(url: str) -> Iterator[psycopg.Connection[Any]]:
    """Open a database for one transaction; whatever goes wrong undoes all of it."""
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
        said = (error.diag.message_primary or type(error).__name__).rstrip(".")
        raise OutputError(
            f"{display_address(url)}: the results can't be written ({said}). "
            "The database is as it was."
        ) from error


def _frames(
    result: Result, units: str, language: str
) -> dict[str, tuple[pd.DataFrame, LayerSchema | None]]:
    """Return the tables to write, in the order of the contract."""
    schemas = load_schemas("output")
    names = [n for n in schemas if n in result.layers]
    names += [n for n in result.layers if n not in schemas]
    crs = result.job.output_crs
    frames = {
        n: (shaped(result.whole(n), schemas.get(n), crs, result.run_id), schemas.get(n))
        for n in names
    }
    record = json.dumps(run_record(result), ensure_ascii=False, allow_nan=False)
    return {
        **frames,
        "faults": (shaped(faults_list(result, units, language), None, crs), None),
        "run": (pd.DataFrame({"record": [record]}), None),
    }


def _rows(frame: pd.DataFrame, srid: int) -> list[tuple[Any, ...]]:
    """Return the rows as the database takes them: null for what is missing, shapes as EWKB."""
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
        # A text in PostgreSQL can't hold the character NUL.
        values = values.map(lambda text: str(text).replace("\0", ""), na_action="ignore")
    return list(np.asarray(values.where(values.notna(), None), dtype=object))

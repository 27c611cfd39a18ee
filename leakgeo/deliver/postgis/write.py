"""Write a result into a PostGIS database, in one transaction."""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.deliver.folder.record import run_record
from leakgeo.deliver.folder.spreadsheets import faults_list
from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.deliver.postgis.tables import (
    LockedTableError,
    TargetSchema,
    columns_of,
    extend,
    fill,
    find_srid,
    prepare,
)
from leakgeo.deliver.postgis.upsert import (
    delete_lines,
    delete_of_no_line,
    delete_old_runs,
    delete_readings,
    rank_lines,
    rows_of_lines,
)
from leakgeo.errors import JobError, OutputError
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources import display_address, is_database

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import psycopg

    from leakgeo.job.schema import LayerSchema
    from leakgeo.result import Result

SCHEMA = "leakgeo"
#: A lock of another session is waited for so long.
LOCK_SECONDS = 20


def write_postgis(
    result: Result,
    url: str,
    *,
    schema: str = SCHEMA,
    overwrite: bool = False,
    upsert: bool = False,
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
    upsert : bool
        Replace the rows of the lines of this result, and keep those of other lines; then
        ``priority``, ``dig_rank``, ``hold_rank``, ``dig_water_l_per_day`` and the loss behind it
        are computed over all lines in the table. Faults, laws and the record of a run stay as
        long as a line of it does. Default False.
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
        If the database can't be opened, has no PostGIS, holds results and neither `overwrite` nor
        `upsert` is True, refuses a statement, or if another session keeps a table locked. The
        database is then unchanged.
    """
    frames = tables_of(result.worded(units, language), units, language)
    if upsert and "lines" not in frames:
        raise OutputError("Only a result with lines can replace the rows of its lines. Run locate.")
    with transaction(url, schema) as connection:
        target = TargetSchema.find(connection, schema)
        target.check_writable(list(frames), overwrite=overwrite or upsert)
        srid = find_srid(target, result.job.output_crs)
        target.create()
        target.lock()
        if upsert:
            lines = [str(name) for name in texts(frames["lines"][0], "line_id")]
            others = [str(n) for n in texts(result.job.routes, "line_id") if n is not None]
            delete_of_no_line(target, result.run_id)
            write_lines(target, frames, lines, others, srid, result.run_id)
            delete_old_runs(TargetSchema.find(connection, schema))
            rank_lines(target)
        else:
            target.clear()
            for name, (frame, layer) in frames.items():
                prepare(target, name, columns_of(frame, layer, srid), layer)
                copy_rows(target, name, frame, srid)
    return list(frames)


Frames = dict[str, tuple[pd.DataFrame, "LayerSchema | None"]]


def write_lines(
    target: TargetSchema, frames: Frames, lines: Sequence[str], others: Sequence[str], srid: int,
    run_id: str,
) -> None:  # fmt: skip
    """Replace the rows of some lines; those that belong to no line are added.

    Parameters
    ----------
    target : TargetSchema
    frames : dict of str to (pandas.DataFrame, LayerSchema or None)
        Tables as `tables_of` returns them.
    lines, others : sequence of str
        Lines to write, and all lines of the job, whose rows are left out.
    srid : int
    run_id : str
    """
    parts: Frames = {n: (rows_of_lines(f, lines, others), s) for n, (f, s) in frames.items()}
    for name, (frame, layer) in parts.items():
        extend(target, name, columns_of(frame, layer, srid), layer)
    target = TargetSchema.find(target.connection, target.schema)
    delete_lines(target, lines)
    if "readings_on_route" in parts:
        delete_readings(target, parts["readings_on_route"][0], lines, run_id)
    for name, (frame, _) in parts.items():
        copy_rows(target, name, frame, srid)


def copy_rows(target: TargetSchema, name: str, frame: pd.DataFrame, srid: int) -> None:
    """Copy the rows of a frame into a table that has its columns."""
    fill(target, name, _rows(frame, srid), columns_of(frame, None, srid))


def check_postgis(
    url: str, *, schema: str = SCHEMA, overwrite: bool = False, upsert: bool = False
) -> None:
    """Check, before a long run, that its results can be written into a database.

    Parameters
    ----------
    url : str
        ``postgresql://...``.
    schema : str
        Schema of the tables; default ``leakgeo``.
    overwrite : bool
        Whether tables of leakgeo may be replaced; default False.
    upsert : bool
        Whether rows of lines in them may be; default False.

    Raises
    ------
    OutputError
        As `write_postgis`; nothing is written.
    """
    names = [*load_schemas("output"), "faults", "run"]
    with transaction(url, schema) as connection:
        target = TargetSchema.find(connection, schema)
        target.check_writable(names, overwrite=overwrite or upsert)


@contextmanager
def transaction(url: str, schema: str) -> Iterator[psycopg.Connection[Any]]:
    """Open a database for one transaction; any error rolls it back.

    Raises
    ------
    OutputError
        If the database can't be opened, refuses a statement, or a table in the schema stays locked.
    """
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
            connection.execute(f"SET LOCAL lock_timeout = '{LOCK_SECONDS}s'")
            yield connection
    except LockedTableError as error:
        (table,) = error.args
        raise OutputError(
            f"{display_address(url)}: the table {schema}.{table} is locked by another session"
            f"{_holders(url, schema, table)}, and stayed so for {LOCK_SECONDS} s. Save or close "
            "what edits or rebuilds it there, and run again. The database is as it was."
        ) from error
    except psycopg.Error as error:
        cause = (error.diag.message_primary or type(error).__name__).rstrip(".")
        raise OutputError(
            f"{display_address(url)}: the results can't be written ({cause}). "
            "The database is as it was."
        ) from error


_HOLDERS = """
SELECT DISTINCT a.pid, coalesce(nullif(a.application_name, ''), 'no name'), a.state
FROM pg_locks l JOIN pg_stat_activity a ON a.pid = l.pid JOIN pg_class c ON c.oid = l.relation
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE l.granted AND n.nspname = %s AND c.relname = %s AND a.pid <> pg_backend_pid() ORDER BY 1
"""


def _holders(url: str, schema: str, table: str) -> str:
    """Return who holds locks on a table, as far as the database tells."""
    import psycopg

    from leakgeo.job.sources import connect

    try:
        with connect(url) as connection:
            found = connection.execute(_HOLDERS, [schema, table]).fetchall()
    except (JobError, psycopg.Error):
        return ""
    held = "; ".join(f"process {pid}, {name}, {state}" for pid, name, state in found)
    return f" ({held})" if held else ""


def tables_of(result: Result, units: str, language: str) -> Frames:
    """Return the tables to write, with their schemas, in the order of the contract."""
    schemas = load_schemas("output")
    names = [n for n in schemas if n in result.layers]
    names += [n for n in result.layers if n not in schemas]
    crs = result.job.output_crs
    frames = {
        n: (to_schema(result.whole(n), schemas.get(n), crs, result.run_id), schemas.get(n))
        for n in names
    }
    of_layers = {n: (of_run(frame, result.run_id), layer) for n, (frame, layer) in frames.items()}
    return {**of_layers, **run_tables(result, units, language)}


def run_tables(result: Result, units: str, language: str) -> Frames:
    """Return the tables of faults and of the record of a run."""
    record = json.dumps(run_record(result), ensure_ascii=False, allow_nan=False)
    faults = to_schema(faults_list(result, units, language), None, result.job.output_crs)
    run = pd.DataFrame({"record": [record], "run_id": [result.run_id]})
    return {"faults": (faults, None), "run": (run, None)}


def of_run(frame: pd.DataFrame, run_id: str) -> pd.DataFrame:
    """Return a table with the run that each row is of, which layers without lines do not state."""
    if "run_id" in frame:
        return frame
    return frame.assign(run_id=pd.Series([run_id] * len(frame), dtype="str", index=frame.index))


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
    """Return values with None for what is missing, as a text column would take NaN for a text.

    Examples
    --------
    >>> _values(pd.Series(["a", None], dtype="str")), _values(pd.Series([1.5, float("nan")]))
    (['a', None], [1.5, None])
    """
    values = column.astype(object).where(column.notna(), None).tolist()
    if pd.api.types.is_string_dtype(column.dtype):
        # Texts of PostgreSQL can't contain the character NUL.
        return [None if pd.isna(text) else str(text).replace("\0", "") for text in values]
    return [None if value is pd.NA or value is pd.NaT else value for value in values]

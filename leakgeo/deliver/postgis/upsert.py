"""Replace the rows of some lines in the tables of a schema; those of other lines stay."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.dig.order import ORDERED_BY, RANKS, ranks_of

if TYPE_CHECKING:
    from collections.abc import Collection

    from leakgeo.deliver.postgis.tables import TargetSchema

_RANKED_BY = ("line_id", *(name for name in ORDERED_BY if name not in RANKS))


def rows_of_lines(
    frame: pd.DataFrame, lines: Collection[str], others: Collection[str]
) -> pd.DataFrame:
    """Return the rows of a layer that belong to lines, and those that belong to no line at all.

    Parameters
    ----------
    frame : pandas.DataFrame
    lines : collection of str
        Lines that are written.
    others : collection of str
        Further lines of the job.

    Examples
    --------
    >>> frame = pd.DataFrame({"line_id": ["A", "B", None]})
    >>> rows_of_lines(frame, ["A"], ["B"]).index.tolist()
    [0, 2]
    """
    if "line_id" not in frame:
        return frame
    known = set(others) - set(lines)
    kept = [name not in known for name in texts(frame, "line_id")]
    return frame[np.array(kept, dtype=bool)]


# The rows of a table `t` that belong to no line: they name none, or one that is not in the job.
_OF_NO_LINE = "(t.line_id IS NULL OR NOT EXISTS (SELECT 1 FROM {} l WHERE l.line_id = t.line_id))"


def delete_lines(
    target: TargetSchema, lines: Collection[str], only: Collection[str] | None = None
) -> None:
    """Delete all rows of some lines; those in some tables `only`, if these are given."""
    from psycopg.sql import SQL

    statement = SQL("DELETE FROM {} WHERE line_id = ANY(%s)")
    for table in _tables(target, only):
        if "line_id" in target.columns(table):
            target.connection.execute(statement.format(target.identifier(table)), [list(lines)])


def delete_of_no_line(
    target: TargetSchema, run_id: str, only: Collection[str] | None = None
) -> None:
    """Delete what an earlier writing of a run left that belongs to no line."""
    from psycopg.sql import SQL

    for table in _tables(target, only):
        there = target.columns(table)
        if "run_id" in there:
            rest = SQL(" AND " + _OF_NO_LINE).format(target.identifier("lines"))
            statement = SQL("DELETE FROM {} t WHERE t.run_id = %s{}").format(
                target.identifier(table), rest if "line_id" in there else SQL("")
            )
            target.connection.execute(statement, [run_id])


def delete_readings(
    target: TargetSchema, placed: pd.DataFrame, lines: Collection[str], run_id: str
) -> None:
    """Delete readings of no line that another run than this one wrote as well."""
    from psycopg.sql import SQL

    own, table = set(lines), "readings_on_route"
    names = zip(texts(placed, "line_id"), texts(placed, "reading_id"), strict=True)
    ids = [str(one) for line, one in names if line not in own and one is not None]
    if ids and table in target.own_tables:
        rest = SQL(_OF_NO_LINE).format(target.identifier("lines"))
        statement = SQL("DELETE FROM {} t WHERE t.reading_id = ANY(%s) AND t.run_id <> %s AND {}")
        target.connection.execute(statement.format(target.identifier(table), rest), [ids, run_id])


def delete_old_runs(target: TargetSchema) -> None:
    """Delete what is left of runs of which no line is left: faults, records, learned laws."""
    from psycopg.sql import SQL

    lines = target.identifier("lines")
    statement = SQL("DELETE FROM {} t WHERE NOT EXISTS "
                    "(SELECT 1 FROM {} l WHERE l.run_id = t.run_id)")  # fmt: skip
    for table in target.own_tables:
        if table != "lines" and "run_id" in target.columns(table):
            target.connection.execute(statement.format(target.identifier(table), lines))


def delete_other_runs(target: TargetSchema, run_id: str) -> None:
    """Delete the rows of all runs but one."""
    from psycopg.sql import SQL

    for table in target.own_tables:
        known = "run_id" in target.columns(table)
        statement = SQL("DELETE FROM {}{}").format(
            target.identifier(table), SQL(" WHERE run_id IS DISTINCT FROM %s" if known else "")
        )
        target.connection.execute(statement, [run_id] if known else None)


def _tables(target: TargetSchema, only: Collection[str] | None) -> list[str]:
    return [name for name in target.own_tables if only is None or name in only]


def rank_lines(target: TargetSchema) -> None:
    """Compute the columns of ``lines`` that depend on all lines, over all that are in the table."""
    from psycopg.sql import SQL, Identifier

    types = target.columns("lines")
    known = [name for name in _RANKED_BY if name in types]
    columns = SQL(", ").join(map(Identifier, known))
    place = target.identifier("lines")
    rows = target.connection.execute(SQL("SELECT {} FROM {}").format(columns, place)).fetchall()
    lines = pd.DataFrame(rows, columns=known).sort_values("line_id", ignore_index=True)
    numbers = [name for name in known if types[name] == "double precision"]
    ranks = ranks_of(lines.astype(dict.fromkeys(numbers, float)))
    names = [name for name in RANKS if name in types]
    arrays = SQL(", ").join(SQL("%s::{}[]").format(SQL(types[name])) for name in names)
    own = SQL(", ").join(map(Identifier, names))
    new = SQL(", ").join(SQL("n.{}").format(Identifier(name)) for name in names)
    old = SQL(", ").join(SQL("t.{}").format(Identifier(name)) for name in names)
    statement = SQL(
        "UPDATE {} t SET ({}) = ROW({}) FROM unnest(%s::text[], {}) AS n(line_id, {}) "
        "WHERE t.line_id = n.line_id AND ({}) IS DISTINCT FROM ({})"
    ).format(place, own, new, arrays, own, SQL("{}").format(old), new)
    values = [_values(ranks[name]) for name in names]
    target.connection.execute(statement, [lines["line_id"].tolist(), *values])


def _values(column: pd.Series[Any]) -> list[Any]:
    return [None if pd.isna(value) else value for value in column.tolist()]

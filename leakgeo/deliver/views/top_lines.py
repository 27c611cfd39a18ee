"""The most urgent lines of a result, and what is said of all of them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import shapely

from leakgeo.arrays import texts
from leakgeo.deliver.views.line_view import not_stated
from leakgeo.deliver.views.rows import layer, number, records, rows_by_line, text
from leakgeo.job.schema import load_schema
from leakgeo.result import joined

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.result import Result
    from leakgeo.wording import Wording

STATUSES = load_schema("lines").field("status").codes
# Utilities further off than this are of no account for the lines that are shown.
_NEAR_M = 100.0


@dataclass(frozen=True)
class Tally:
    """How all lines stand.

    Parameters
    ----------
    counts : mapping of str to int
        Lines by status, in the order that the statuses are listed.
    held : int
        Located lines whose dig is held.
    paged : int
        Lines with a place to show: a mark or a zone.
    """

    counts: Mapping[str, int]
    held: int
    paged: int

    @property
    def lines(self) -> int:
        """How many lines there are."""
        return sum(self.counts.values())

    def sentence(self, wording: Wording) -> str:
        """Sum up in a line: how many lines, of which status, and how many marks are held.

        Examples
        --------
        >>> from leakgeo.wording import wording
        >>> Tally({"located": 3, "no_leak_heard": 1}, 2, 3).sentence(wording())
        '4 lines: mark set 3 (2 held); no leak heard 1'
        """
        parts = [
            f"{wording.term(status, 'status').lower()} {count}"
            + (f" ({self.held} held)" if status == "located" else "")
            for status, count in self.counts.items()
        ]
        lines = "1 line" if self.lines == 1 else f"{self.lines} lines"
        return f"{lines}: {'; '.join(parts)}" if parts else lines


def tally(result: Result) -> Tally:
    """Count the lines of a result by status, held marks, and lines with a place to show."""
    rows = _line_rows(result)
    found = Counter(text(row, "status") or "rejected" for row in rows.values())
    order = [*STATUSES, *sorted(set(found) - set(STATUSES))]
    counts = {status: found[status] for status in order if status in found}
    return Tally(counts, _held(result, rows), len(_shown(result) & set(rows)))


def _line_rows(result: Result) -> dict[str, dict[str, object]]:
    """How each line stands, by name; of a route that the ``lines`` table lacks, an empty row."""
    table = layer(result, "lines")
    if table is not None:
        table = table[[name for name in ("line_id", "status", "dig_status") if name in table]]
    rows = {text(row, "line_id"): row for row in records(table)}
    return {name: {} for name in _routes(result)} | rows


def _names(result: Result) -> list[str]:
    """Lines by priority, then the routes that the ``lines`` table lacks."""
    table = layer(result, "lines")
    if table is None:
        return _routes(result)
    if "priority" in table:
        table = table.sort_values("priority", kind="stable")
    return list(dict.fromkeys([*map(str, texts(table, "line_id")), *_routes(result)]))


def _routes(result: Result) -> list[str]:
    return list(map(str, texts(result.job.routes, "line_id")))


def _held(result: Result, rows: Mapping[str, dict[str, object]]) -> int:
    """Count the located lines that something holds."""
    digs = rows_by_line(layer(result, "dig_zones"))
    marks = set() if (frame := layer(result, "marks")) is None else set(texts(frame, "line_id"))
    checked = "dig_zones" in result.layers
    located = [n for n, row in rows.items() if n in marks and text(row, "status") == "located"]
    return sum(
        bool(number(dig, "holds"))
        or bool(not_stated(rows[name], dig, located=True, checked=checked))
        for name in located
        for dig in [next(iter(digs.get(name, [])), {})]
    )


def _shown(result: Result) -> set[str]:
    """Lines with a mark or a zone."""
    frames = [layer(result, name) for name in ("marks", "search_zones")]
    return {str(name) for f in frames if f is not None for name in texts(f, "line_id")}


def most_urgent(result: Result, most: int | None, *, paged: bool = False) -> Result:
    """Keep of every layer what belongs to the most urgent lines, or to no line.

    Parameters
    ----------
    result : Result
    most : int or None
        Lines to keep, the first by priority; all if None.
    paged : bool
        Count only those with a mark or a zone.

    Returns
    -------
    Result
        The same where nothing is left out.
    """
    names = _names(result)
    shown = _shown(result) if paged else set(names)
    kept = [name for name in names if name in shown]
    if most is None or len(kept) <= most:
        return result.adding({name: result.whole(name) for name in result.streamed})
    return of_lines(result, kept[:most])


def of_lines(result: Result, names: Sequence[str]) -> Result:
    """Keep of every layer what belongs to some lines, or to no line; of utilities, those near.

    Parameters
    ----------
    result : Result
    names : sequence of str
        Of lines.
    """
    layers = {
        name: frame[frame["line_id"].isin(names) | frame["line_id"].isna()]
        for name, frame in result.layers.items()
        if "line_id" in frame
    }
    # Of a layer that is too long to hold, what is held belongs to the most urgent lines.
    for name in result.streamed:
        if len(names) > result.layers[name]["line_id"].nunique():
            parts = [part[part["line_id"].isin(names)] for part in result.parts(name)]
            layers[name] = joined(parts)
    job = result.job
    routes = job.routes[job.routes["line_id"].isin(names)]
    changed: dict[str, Any] = {"routes": routes}
    if job.utilities is not None:
        shapes = job.utilities.geometry.to_numpy()
        own = routes.geometry.to_numpy()
        tree = shapely.STRtree(own[~shapely.is_missing(own)])
        near = shapely.is_missing(shapes)
        near[tree.query(shapes, predicate="dwithin", distance=_NEAR_M)[0]] = True
        changed["utilities"] = job.utilities[near]
    return replace(result.adding(layers), job=replace(job, **changed))

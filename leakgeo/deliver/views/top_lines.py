"""The top lines of a result by priority, and counts of all its lines."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import shapely

from leakgeo.arrays import texts
from leakgeo.deliver.views.holds import unrecorded_hold
from leakgeo.deliver.views.rows import layer, number, records, rows_by_line, text
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason
from leakgeo.result import joined
from leakgeo.selection import names_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.result import Result
    from leakgeo.selection import Selection
    from leakgeo.wording import Wording

STATUSES = load_schema("lines").field("status").codes
# Utilities further than this from the selected lines are left out.
_NEAR_M = 100.0


@dataclass(frozen=True)
class Tally:
    """Counts of the lines of a result.

    Parameters
    ----------
    counts : mapping of str to int
        Number of lines by status, in the order of the schema.
    held : int
        Number of located lines whose dig is held.
    with_place : int
        Number of lines with a mark or a search zone.
    """

    counts: Mapping[str, int]
    held: int
    with_place: int

    @property
    def lines(self) -> int:
        """Number of all lines."""
        return sum(self.counts.values())

    def sentence(self, wording: Wording) -> str:
        """Return the counts as one line of text.

        Examples
        --------
        >>> from leakgeo.wording import wording
        >>> Tally({"located": 3, "no_leak_heard": 1}, 2, 3).sentence(wording())
        '4 lines: mark set 3 (2 held); no leak heard 1'
        """
        held = wording.text(Reason("tally_held", held=self.held))
        parts = [
            f"{wording.term(status, 'status').lower()} {count}"
            + (f" {held}" if status == "located" else "")
            for status, count in self.counts.items()
        ]
        lines = wording.text(Reason("tally_lines", lines=self.lines))
        return f"{lines}: {'; '.join(parts)}" if parts else lines


def tally(result: Result) -> Tally:
    """Count the lines of a result by status, held marks, and lines with a mark or zone."""
    if result.counted is not None:
        known = result.counted
        return Tally(_in_order(known.status), known.held, known.with_place)
    rows = _line_rows(result)
    found = Counter(text(row, "status") or "rejected" for row in rows.values())
    return Tally(_in_order(found), _held(result, rows), len(_shown(result) & set(rows)))


def _in_order(found: Mapping[str, int]) -> dict[str, int]:
    order = [*STATUSES, *sorted(set(found) - set(STATUSES))]
    return {status: found[status] for status in order if status in found}


def _line_rows(result: Result) -> dict[str, dict[str, object]]:
    """Return status and dig status of each line; a route without a row in ``lines`` gets ``{}``."""
    table = layer(result, "lines")
    if table is not None:
        table = table[[name for name in ("line_id", "status", "dig_status") if name in table]]
    rows = {text(row, "line_id"): row for row in records(table)}
    return {name: {} for name in _routes(result)} | rows


def line_names(result: Result) -> list[str]:
    """Return the lines by priority, then the routes without a row in ``lines``."""
    table = layer(result, "lines")
    if table is None:
        return _routes(result)
    if "priority" in table:
        table = table.sort_values("priority", kind="stable")
    return list(dict.fromkeys([*map(str, texts(table, "line_id")), *_routes(result)]))


def _routes(result: Result) -> list[str]:
    return list(map(str, texts(result.job.routes, "line_id")))


def _held(result: Result, rows: Mapping[str, dict[str, object]]) -> int:
    """Count the located lines whose dig is held."""
    digs = rows_by_line(layer(result, "dig_zones"))
    marks = set() if (frame := layer(result, "marks")) is None else set(texts(frame, "line_id"))
    checked = "dig_zones" in result.layers
    located = [n for n, row in rows.items() if n in marks and text(row, "status") == "located"]
    return sum(
        any(
            bool(number(dig, "holds"))
            or bool(unrecorded_hold(rows[name], dig, located=True, checked=checked))
            for dig in digs.get(name) or [{}]
        )
        for name in located
    )


def _shown(result: Result) -> set[str]:
    """Return the lines with a mark or a search zone."""
    frames = [layer(result, name) for name in ("marks", "search_zones")]
    return {str(name) for f in frames if f is not None for name in texts(f, "line_id")}


def top_lines(result: Result, most: int | None, *, with_place: bool = False) -> Result:
    """Select the top lines by priority, and the rows that belong to no line.

    Parameters
    ----------
    result : Result
    most : int or None
        Maximum number of lines; all if None.
    with_place : bool
        Select only lines with a mark or a search zone; default False.

    Returns
    -------
    Result
        The same result if no line is left out.
    """
    names = line_names(result)
    shown = _shown(result) if with_place else set(names)
    kept = [name for name in names if name in shown]
    if most is None or len(kept) <= most:
        whole = {n: result.whole(n) for n in result.streamed if not _in_memory(result, n, names)}
        return replace(result, layers={**result.layers, **whole})
    return select_lines(result, kept[:most])


def selected(result: Result, selection: Selection) -> Result:
    """Return a result with the lines that were asked for; the same one if those are all.

    Parameters
    ----------
    result : Result
    selection : Selection

    Raises
    ------
    ParameterError
        If a line does not exist, or no line is selected.
    """
    if selection.is_all:
        return result
    return replace(select_lines(result, names_in(result, selection)), counted=None)


def select_lines(result: Result, names: Sequence[str]) -> Result:
    """Select lines in every layer; rows of no line stay, and of the utilities those nearby.

    Parameters
    ----------
    result : Result
    names : sequence of str
        ``line_id`` of the lines to keep.
    """
    wanted = {None, *names}
    layers = {
        name: frame[[line in wanted for line in texts(frame, "line_id")]]
        for name, frame in result.layers.items()
        if "line_id" in frame
    }
    # A streamed layer holds only the rows of its top lines; more have to be read from its parts.
    for name in result.streamed:
        if not _in_memory(result, name, names):
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
    return replace(result, layers={**result.layers, **layers}, job=replace(job, **changed))


def _in_memory(result: Result, name: str, names: Sequence[str]) -> bool:
    """Return whether the rows of some lines in a streamed layer are held: those of top lines are.

    A line without rows there is one of them too, if one of a later priority is held.
    """
    held = result.layers[name]["line_id"].unique()
    lines = layer(result, "lines")
    if lines is not None and "lines" in result.streamed:  # then all layers have the same lines
        return set(names) <= set(lines["line_id"])
    if lines is None or "priority" not in lines:
        return set(names) <= set(held)
    priority = lines.set_index("line_id")["priority"]
    wanted = priority.reindex(list(names))
    return bool(len(held)) and bool(wanted.max() <= priority.reindex(held).max())

"""One line as the map and the report show it, gathered from the layers of a result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from leakgeo.deliver import words
from leakgeo.deliver.tables import by_line, layer, number, records, text, texts

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from leakgeo.result import Result

Row = dict[str, object]
LAYERS = (
    "marks", "search_zones", "profile", "readings_on_route", "next_readings", "conflicts",
    "dig_zones", "survey_bracket", "contact_ranking", "air_tests",
)  # fmt: skip


@dataclass(frozen=True)
class LineView:
    """One line: its row of the ``lines`` table, its route, and its part of every layer.

    Parameters
    ----------
    line_id : str
    row : dict
        Row of the ``lines`` table; of a line that isn't in it, empty.
    route : dict
        Row of the routes, geometry included; empty where the line has none.
    parts : mapping of str to pandas.DataFrame
        Rows of this line by layer, in the job's metre CRS; a layer without rows is absent.
    checked : bool
        Whether the clearance was worked out at all.
    """

    line_id: str
    row: Row
    route: Row
    parts: Mapping[str, pd.DataFrame]
    checked: bool

    @property
    def status(self) -> str:
        """Status as in the data contract; a line without one was not worked out."""
        return text(self.row, "status") or "rejected"

    @property
    def message(self) -> str:
        """Why the line stands as it does, or what to do."""
        return text(self.row, "message") or text(self.route, "reason")

    @property
    def mark(self) -> Row | None:
        """Row of the mark, None where the line has none."""
        rows = records(self.parts.get("marks"))
        return rows[0] if rows else None

    @property
    def zones(self) -> list[Row]:
        """Rows of the search zones, the likeliest first."""
        rows = records(self.parts.get("search_zones"))
        return sorted(rows, key=lambda row: number(row, "rank") or 99)

    @property
    def dig(self) -> Row:
        """Row of the dig zone; empty where there is none."""
        rows = records(self.parts.get("dig_zones"))
        return rows[0] if rows else {}

    @property
    def holds(self) -> tuple[str, ...]:
        """Everything that holds the dig; a mark whose clearance wasn't worked out is held."""
        if self.mark is None and not self.dig:
            return ()
        if not self.checked or not self.dig:
            return (words.NOT_CHECKED,)
        stated = texts(self.dig, "holds")
        said = {text(self.dig, "dig_status"), text(self.row, "dig_status")} - {""}
        ready = said == {"ready_for_hand_dig"}
        return stated or (() if ready else (words.NO_REASON,))

    @property
    def dig_text(self) -> str:
        """Whether the dig is held, in words that never clear it."""
        if self.mark is None and not self.dig:
            return words.NO_DIG
        return words.HOLD if self.holds else words.READY

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind while digging."""
        return texts(self.dig, "cautions")

    def rows(self, name: str) -> list[Row]:
        """Give the rows of this line in a layer."""
        return records(self.parts.get(name))


def line_views(result: Result) -> list[LineView]:
    """Gather every line of the job, those of the ``lines`` table first, by priority.

    Parameters
    ----------
    result : Result
        Any layer may be absent or empty.

    Returns
    -------
    list of LineView
        Lines of the routes that the table lacks come last, as not worked out: none is lost.
    """
    table = records(layer(result, "lines"))
    rows = {text(row, "line_id"): row for row in sorted(table, key=_order)}
    routes = {text(row, "line_id"): row for row in records(result.job.routes)}
    split = {name: by_line(layer(result, name)) for name in LAYERS}
    checked = "dig_zones" in result.layers
    return [
        LineView(
            line_id,
            rows.get(line_id, {}),
            routes.get(line_id, {}),
            {name: parts[line_id] for name, parts in split.items() if line_id in parts},
            checked,
        )
        for line_id in [*rows, *(r for r in routes if r not in rows)]
    ]


def _order(row: Row) -> float:
    priority = number(row, "priority")
    return float("inf") if priority is None else priority

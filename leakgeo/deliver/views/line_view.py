"""One line as the map and the report show it, gathered from the layers of a result."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.locate_request import Request, datum_note, requests_of
from leakgeo.deliver.views.places import mark_places
from leakgeo.deliver.views.profiles import NO_PROFILE, Profile, profiles_by_line
from leakgeo.deliver.views.rows import layer, number, records, rows_by_line, text
from leakgeo.errors import ParameterError
from leakgeo.job.north import grid_convergence_deg
from leakgeo.reason import Reason
from leakgeo.wording import wording as default_wording

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.wording import Wording

Row = dict[str, object]
LAYERS = (
    "marks", "search_zones", "readings_on_route", "next_readings", "conflicts",
    "dig_zones", "holds", "cautions", "locate_requests", "dig_alternatives",
    "survey_bracket", "contact_ranking", "air_tests", "improvements", "meter_results",
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
    parts : mapping of str to list of dict
        Rows of this line by layer, in the job's metre CRS; a layer without rows is absent.
    profile : Profile
        Thinned for a plot; empty where there is none.
    checked : bool
        Whether the clearance was worked out at all.
    places : tuple of (str, str)
        Coordinates of the mark, each as label and text; empty where there is none.
    request : Request or None
        What to ask marks for, where a hole is drawn.
    note : str
        How good its coordinates are, where that is poor.
    convergence_deg : float
        True bearing of grid north at the line, clockwise; NaN where the line has no place.
    wording : Wording
        In the units and the language that people see.
    """

    line_id: str
    row: Row
    route: Row
    parts: Mapping[str, list[Row]]
    profile: Profile
    checked: bool
    places: tuple[tuple[str, str], ...] = ()
    request: Request | None = None
    note: str = ""
    convergence_deg: float = float("nan")
    wording: Wording = field(default_factory=default_wording)

    @property
    def status(self) -> str:
        """Status as in the data contract; a line without one was not worked out."""
        return text(self.row, "status") or "rejected"

    @property
    def message(self) -> str:
        """Why the line stands as it does, or what to do."""
        why = self.route.get("reason")
        return text(self.row, "message") or (
            self.wording.text(why) if isinstance(why, Reason) else ""
        )

    @property
    def mark(self) -> Row | None:
        """Row of the mark, None where the line has none."""
        rows = self.rows("marks")
        return rows[0] if rows else None

    @property
    def located(self) -> bool:
        """Whether the mark is one to dig on; else it is only the likeliest place so far."""
        return self.status == "located" and self.mark is not None

    @property
    def zones(self) -> list[Row]:
        """Rows of the search zones, the likeliest first."""
        return sorted(self.rows("search_zones"), key=lambda row: number(row, "rank") or 99)

    @property
    def dig(self) -> Row:
        """Row of the dig zone; empty where there is none."""
        rows = self.rows("dig_zones")
        return rows[0] if rows else {}

    @property
    def holds(self) -> tuple[str, ...]:
        """Everything that holds the dig; a mark whose clearance wasn't worked out is held."""
        return tuple(hold.text for hold in self._holds)

    @property
    def brief_holds(self) -> tuple[str, ...]:
        """What each hold is about."""
        return tuple(hold.brief for hold in self._holds)

    @cached_property
    def _holds(self) -> tuple[Hold, ...]:
        if self.mark is None and not self.dig:
            return ()
        stated = stated_holds(self.rows("holds"), self.wording) if self.dig else []
        if stated:
            return tuple(stated)
        why = not_stated(self.row, self.dig, located=self.located, checked=self.checked)
        return (Hold(why, why),) if why else ()

    @property
    def dig_text(self) -> str:
        """Whether the dig is held, in words that never clear it."""
        if self.mark is None and not self.dig:
            return sentences.NO_DIG
        return sentences.HOLD if self.holds else sentences.NO_HOLD

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind while digging."""
        return tuple(text(row, "message") for row in _in_order(self.rows("cautions")))

    def rows(self, name: str) -> list[Row]:
        """Give the rows of this line in a layer."""
        return self.parts.get(name, [])


@dataclass(frozen=True)
class Hold:
    """What people read of one cause that holds a dig: in full, and what it is about."""

    text: str
    brief: str


def stated_holds(rows: list[Row], wording: Wording) -> list[Hold]:
    """Say the rows of ``holds`` of a line; those of one utility together, its name once."""
    found: dict[object, list[Reason]] = {}
    for row in _in_order(rows):
        reason = Reason.parse(str(row["code"]), str(row["values"]))
        about = dict(reason.values).get("utility")
        found.setdefault(about or reason, []).append(reason)
    return [
        Hold(_together(name, reasons, wording), wording.text(name))
        if name is not reasons[0]
        else Hold(wording.text(name), wording.part(name, "brief") or wording.text(name))
        for name, reasons in found.items()
        if isinstance(name, Reason)
    ]


def _together(name: Reason, reasons: list[Reason], wording: Wording) -> str:
    said = [wording.part(r, "short") or wording.text(r) for r in reasons]
    return f"{wording.text(name)}: {'; '.join(said)}"


def _in_order(rows: list[Row]) -> list[Row]:
    return sorted(rows, key=lambda row: number(row, "order") or 99)


def not_stated(line: Row, dig: Row, *, located: bool, checked: bool) -> str:
    """Say why a dig without a row in ``holds`` is held all the same; ``""`` where it isn't.

    Parameters
    ----------
    line, dig : dict
        Rows of the ``lines`` table and of the dig zone; empty where there is none.
    located : bool
        Whether the mark is one to dig on.
    checked : bool
        Whether the clearance was worked out at all.
    """
    if not checked or not dig:
        return sentences.NOT_CHECKED
    if not located:
        return sentences.NOT_LOCATED
    said = {text(dig, "dig_status"), text(line, "dig_status")} - {""}
    free = said == {"no_hold_recorded"}
    return "" if free else sentences.NO_REASON


def line_views(result: Result, units: str = "si", language: str = "en") -> list[LineView]:
    """Gather every line of the job, those of the ``lines`` table first, by priority.

    Parameters
    ----------
    result : Result
        Any layer may be absent or empty.
    units : {"si", "us"}
        Units that people see.
    language : str
        Language of the messages.

    Returns
    -------
    list of LineView
        Lines of the routes that the table lacks come last, as not worked out: none is lost.

    Raises
    ------
    ParameterError
        If the result was read back and holds no routes.
    """
    if result.layers and result.read_back and result.job.routes.empty:
        raise ParameterError(
            "The result was written by an earlier version of leakgeo and holds no routes and no "
            "utilities, so it can't be drawn. Run the job again."
        )
    result = result.worded(units, language)
    table = records(layer(result, "lines"))
    rows = {text(row, "line_id"): row for row in sorted(table, key=_order)}
    routes = {text(row, "line_id"): row for row in records(result.job.routes)}
    split = {name: rows_by_line(layer(result, name)) for name in LAYERS}
    profiles = profiles_by_line(layer(result, "profile"))
    checked = "dig_zones" in result.layers
    places = mark_places(layer(result, "marks"), result.job.output_crs)
    requests = requests_of(result)
    note, said = datum_note(result, requests), default_wording(units, language)
    convergence = _convergence(result.job)
    return [
        LineView(
            line_id,
            rows.get(line_id, {}),
            routes.get(line_id, {}),
            {name: parts[line_id] for name, parts in split.items() if line_id in parts},
            profiles.get(line_id, NO_PROFILE),
            checked,
            tuple(places.get(line_id, ())),
            requests.get(line_id),
            note,
            convergence.get(line_id, float("nan")),
            said,
        )
        for line_id in [*rows, *(r for r in routes if r not in rows)]
    ]


def _convergence(job: Job) -> dict[str, float]:
    """Give the meridian convergence in the middle of each route, by ``line_id``."""
    box = job.routes.geometry.bounds
    middle = (box["minx"] + box["maxx"]) / 2, (box["miny"] + box["maxy"]) / 2
    found = grid_convergence_deg(job.crs, *middle)
    return dict(zip(job.routes["line_id"].astype(str), found.tolist(), strict=True))


def _order(row: Row) -> float:
    priority = number(row, "priority")
    return float("inf") if priority is None else priority

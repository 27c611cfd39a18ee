"""Everything that the map and the report show of one line, taken from the layers of a result."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

from leakgeo.deliver.views.card import Card, card
from leakgeo.deliver.views.holds import Hold, holds_of_dig, in_order
from leakgeo.deliver.views.locate_request import Request, datum_note, requests_of
from leakgeo.deliver.views.places import mark_places
from leakgeo.deliver.views.profiles import NO_PROFILE, Profile, profiles_by_line
from leakgeo.deliver.views.rows import layer, mark_of, number, records, rows_by_line, text
from leakgeo.errors import ParameterError
from leakgeo.job.north import grid_convergence_deg
from leakgeo.job.placed import TAPED
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
    "survey_bracket", "contact_ranking", "air_tests", "improvements", "meter_results", "evidence",
    "next_actions", "explanations",
)  # fmt: skip
# Column with the rank of the mark that a row belongs to, by layer.
_RANK = {
    "marks": "rank",
    **dict.fromkeys(("conflicts", "dig_zones", "holds", "cautions", "locate_requests",
                     "dig_alternatives"), "mark_rank"),
}  # fmt: skip
# Columns of a mark and of its dig that stand in for those of the line.
_OF_MARK = ("held_by", "held_by_code", "held_by_values", "next_action", "next_action_code",
            "next_action_values")  # fmt: skip
_OF_DIG = ("dig_status", "conflicts")


@dataclass(frozen=True)
class LineView:
    """One line: its row of ``lines``, its route, and its rows of the other layers.

    Parameters
    ----------
    line_id : str
    row : dict
        Row of the ``lines`` table; empty if the line is not in it.
    route : dict
        Row of the routes, geometry included; empty if the line has none.
    parts : mapping of str to list of dict
        Rows of this line by layer, in the job's metre CRS; layers without rows are absent.
    profile : Profile
        Thinned for plots; empty if there is none.
    checked : bool
        Whether the clearance step ran.
    places : tuple of (str, str)
        Coordinates of the mark as (label, text) pairs; empty if there is no mark.
    request : Request or None
        Locate request, if a hole is proposed.
    note : str
        Accuracy of its coordinates, if that is poor.
    convergence_deg : float
        True bearing of grid north at the line, clockwise; NaN if the line has no geometry.
    wording : Wording
        Texts in the units and the language of the reader.
    of_marks : tuple of LineView
        The view of each mark with what belongs to it, by rank, of a line with several marks; else
        empty.
    mark_name : str
        Name of the mark in the view of one of several; else empty.
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
    of_marks: tuple[LineView, ...] = ()
    mark_name: str = ""

    @property
    def by_mark(self) -> tuple[LineView, ...]:
        """The view of each mark; the line itself if it does not have several."""
        return self.of_marks or (self,)

    @property
    def title(self) -> str:
        """Name of the line and, of one of several marks, of the mark."""
        return ", ".join(part for part in (self.line_id, self.mark_name) if part)

    @property
    def status(self) -> str:
        """Status of the data contract; ``rejected`` for a line without one."""
        return text(self.row, "status") or "rejected"

    @property
    def message(self) -> str:
        """Reason for the status, or what to do next."""
        why = self.route.get("reason")
        return text(self.row, "message") or (
            self.wording.text(why) if isinstance(why, Reason) else ""
        )

    @property
    def address(self) -> str:
        """Address of the line; ``""`` if it is not known."""
        return text(self.route, "address")

    @property
    def work_order(self) -> str:
        """Work order with its label; ``""`` if there is none."""
        order = text(self.route, "work_order")
        return self.wording.text(Reason("fact_order", order=order)) if order else ""

    @property
    def mark(self) -> Row | None:
        """Row of the mark, of several the one of rank 1, or None."""
        return min(self.rows("marks"), key=lambda row: mark_of(row, "rank"), default=None)

    @property
    def located(self) -> bool:
        """Whether the line has a located mark; else ``mark`` is only the likeliest place so far."""
        return self.status == "located" and self.mark is not None

    @property
    def placed(self) -> bool:
        """Whether the line is placed on the ground; else only distances along it are known."""
        return TAPED not in (text(self.row, "trace"), text(self.route, "trace"))

    @property
    def zones(self) -> list[Row]:
        """Rows of the search zones, most likely first."""
        return sorted(self.rows("search_zones"), key=lambda row: number(row, "rank") or 99)

    @property
    def dig(self) -> Row:
        """Row of the dig zone; empty if there is none."""
        rows = self.rows("dig_zones")
        return rows[0] if rows else {}

    @property
    def holds(self) -> tuple[str, ...]:
        """All holds of the dig; a mark without a clearance check is held as well."""
        return tuple(hold.text for hold in self._holds)

    @property
    def brief_holds(self) -> tuple[str, ...]:
        """Subject of each hold."""
        return tuple(hold.brief for hold in self._holds)

    @cached_property
    def _holds(self) -> tuple[Hold, ...]:
        if self.mark is None and not self.dig:
            return ()
        if self.of_marks:
            return tuple(dict.fromkeys(hold for one in self.of_marks for hold in one._holds))
        return holds_of_dig(
            self.row, self.dig, self.rows("holds"), self.wording,
            located=self.located, checked=self.checked,
        )  # fmt: skip

    @cached_property
    def card(self) -> Card:
        """The card of the line."""
        row = {**self.row, "status": self.status, "message": self.message}
        return card(row, self.wording, self._holds if self.mark is not None else ())

    @property
    def dig_text(self) -> str:
        """Status of the dig as a text; no text ever clears it."""
        words = self.wording
        if self.mark is None and not self.dig:
            return words.term("no_dig", "dig_text")
        return words.term("hold", "card") if self.holds else words.term("no_hold", "dig_text")

    @property
    def cautions(self) -> tuple[str, ...]:
        """Cautions while digging, in order."""
        return tuple(text(row, "message") for row in in_order(self.rows("cautions")))

    @property
    def both_cautions(self) -> tuple[str, ...]:
        """The cautions, each with its English words beside a translation, which may be poor."""
        english = self.wording.english()
        if english is None:
            return self.cautions
        rows = in_order(self.rows("cautions"))
        said = (english.text(Reason.parse(text(r, "code"), text(r, "values"))) for r in rows)
        return tuple(f"{one} [{other}]" for one, other in zip(self.cautions, said, strict=True))

    def rows(self, name: str) -> list[Row]:
        """Return the rows of this line in a layer; empty if it has none."""
        return self.parts.get(name, [])


def line_views(result: Result, units: str | None = None, language: str = "en") -> list[LineView]:
    """Return a view of every line of the job, in order of priority.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    units : {"si", "us"} or None
        Units of the texts; those of the job's CRS if None, the default.
    language : str
        Language of the texts, one of `leakgeo.wording.languages`; default English.

    Returns
    -------
    list of LineView
        Routes without a row in ``lines`` come last, with status ``rejected``.

    Raises
    ------
    ParameterError
        If the result was read back and holds no routes.
    """
    units = result.units(units)
    return views_of_worded(result.worded(units, language), units, language)


def views_of_worded(result: Result, units: str, language: str) -> list[LineView]:
    """Return the views of `line_views` for a result that has its texts already."""
    if result.layers and result.read_back and result.job.routes.empty:
        raise ParameterError(
            "The result was written by an earlier version of leakgeo and holds no routes and no "
            "utilities, so it can't be drawn. Run the job again."
        )
    table = records(layer(result, "lines"))
    rows = {text(row, "line_id"): row for row in sorted(table, key=_order)}
    routes = {text(row, "line_id"): row for row in records(result.job.routes)}
    split = {name: rows_by_line(layer(result, name)) for name in LAYERS}
    profiles = profiles_by_line(layer(result, "profile"))
    checked = "dig_zones" in result.layers
    requests = requests_of(result)
    wording = default_wording(units, language)
    note = datum_note(result, requests, wording)
    places = mark_places(layer(result, "marks"), result.job.output_crs, wording)
    convergence = _convergence(result.job)
    views = [
        LineView(
            line_id,
            rows.get(line_id, {}),
            routes.get(line_id, {}),
            {name: parts[line_id] for name, parts in split.items() if line_id in parts},
            profiles.get(line_id, NO_PROFILE),
            checked,
            tuple(places.get((line_id, 1), ())),
            requests.get((line_id, 1)),
            note,
            convergence.get(line_id, float("nan")),
            wording,
        )
        for line_id in [*rows, *(r for r in routes if r not in rows)]
    ]
    return [_by_mark(view, places, requests) for view in views]


def _by_mark(
    view: LineView,
    places: Mapping[tuple[str, int], list[tuple[str, str]]],
    requests: Mapping[tuple[str, int], Request],
) -> LineView:
    """Return a line with the views of its marks, if it has several."""
    marks = sorted(view.rows("marks"), key=lambda row: mark_of(row, "rank"))
    if len(marks) < 2:
        return view
    own = []
    for row in marks:
        name = mark_of(row, "rank")
        parts = {
            layer: [each for each in rows if mark_of(each, _RANK[layer]) == name]
            if layer in _RANK else rows
            for layer, rows in view.parts.items()
        }  # fmt: skip
        parts["search_zones"] = [zone for zone in view.zones if _nearest(zone, marks) is row]
        dig = next(iter(parts.get("dig_zones", ())), {})
        card = {column: row[column] for column in _OF_MARK if column in row}
        status = {column: dig[column] for column in _OF_DIG if column in dig}
        own.append(replace(
            view, row={**view.row, **card, **status, **_message(view, name[1])}, parts=parts,
            places=tuple(places.get(name, ())), request=requests.get(name),
            mark_name=view.wording.text(Reason("mark_named", rank=str(name[1]))),
        ))  # fmt: skip
    every = [(f"Mark {rank}, {label[:1].lower()}{label[1:]}", place)
             for rank, one in enumerate(own, start=1) for label, place in one.places]  # fmt: skip
    return replace(view, places=tuple(every), request=None, of_marks=tuple(own))


def _nearest(zone: Row, marks: list[Row]) -> Row:
    """Return the mark that is nearest to the middle of a zone."""
    ends = (number(zone, "from_chainage_m") or 0.0, number(zone, "to_chainage_m") or 0.0)
    return min(marks, key=lambda row: abs((number(row, "chainage_m") or 0.0) - sum(ends) / 2))


def _message(view: LineView, rank: int) -> Row:
    """Return the message of one of several marks."""
    reason = Reason.parse(text(view.row, "code"), text(view.row, "values"))
    one = {"marks_of_leaks": "mark", "leaks_without_marks": "likeliest"}.get(reason.code)
    if one is None:
        return {}
    values = dict(dict(reason.values)["places"][rank - 1].values)
    return {"message": view.wording.text(Reason(one, **values))}


def _convergence(job: Job) -> dict[str, float]:
    """Return the meridian convergence at the centre of each route, by ``line_id``."""
    box = job.routes.geometry.bounds
    middle = (box["minx"] + box["maxx"]) / 2, (box["miny"] + box["maxy"]) / 2
    found = grid_convergence_deg(job.crs, *middle)
    return dict(zip(job.routes["line_id"].astype(str), found.tolist(), strict=True))


def _order(row: Row) -> float:
    priority = number(row, "priority")
    return float("inf") if priority is None else priority

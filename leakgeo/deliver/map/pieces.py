"""What the page holds of each line: JSON texts, made anew or kept from an earlier run."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import shapely

from leakgeo.deliver.map.latlon import latlon_lists, with_latlon
from leakgeo.deliver.map.line import entry_data, fitting_data, line_data
from leakgeo.deliver.map.pack import delta_encode, json_text, pack_line
from leakgeo.deliver.views.line_view import views_of_worded
from leakgeo.deliver.views.of_all_lines import first_lines, of_all_lines
from leakgeo.deliver.views.rows import with_geometry
from leakgeo.deliver.views.top_lines import line_names, select_lines
from leakgeo.kept_pieces import Shelf

if TYPE_CHECKING:
    from collections.abc import Iterable

    from leakgeo.deliver.map.pack import Origin
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.result import Result

Plain = dict[str, Any]
_PIPE_DEGREES = 2e-6  # tolerance of pipes on the overview, about 0.2 m
# Decimals of a degree of the origin, about 1 km: an edited route rarely moves it.
_ORIGIN_DECIMALS = 2


@dataclass(frozen=True)
class LinePiece:
    """What the page holds of one line.

    Parameters
    ----------
    overview : dict
        JSON values for the overview and the search of all lines.
    entry, details : str
        JSON of its entry in the list, and of all else, packed.
    """

    overview: Plain
    entry: str
    details: str

    @classmethod
    def of(cls, view: LineView, units: str, origin: Origin) -> LinePiece:
        """Return the piece of a line whose rows have a key ``at``; see `with_latlon`."""
        entry = entry_data(view, units)
        details = pack_line(line_data(view, units, entry), origin)
        return cls(_overview(view, origin), json_text(entry), json_text(details))

    @classmethod
    def from_bytes(cls, stored: bytes) -> LinePiece:
        """Return the piece that `to_bytes` stored."""
        overview, entry, details = stored.decode("ascii").split("\n")
        return cls(json.loads(overview), entry, details)

    def to_bytes(self) -> bytes:
        """Return the piece as bytes: a line of JSON for each part."""
        return "\n".join([json_text(self.overview), self.entry, self.details]).encode("ascii")


def line_pieces(
    shown: Result, units: str, language: str, origin: Origin
) -> tuple[list[LinePiece], Result]:
    """Return the pieces of all lines in order of priority; those kept are not made again.

    Parameters
    ----------
    shown : Result
        Lines that the map shows, in a metre CRS.
    units : {"si", "us"}
        Units of the texts.
    language : str
        Language of the texts.
    origin : (latitude, longitude)
        Origin of packed places, as `origin_of` returns it.

    Returns
    -------
    pieces : list of LinePiece
    drawn : Result
        Lines that were made anew, and the rows of no line, with texts, latitudes and longitudes.
    """
    names = line_names(shown)
    first = first_lines(shown)
    shelf = Shelf(shown.kept, "map", [units, language, origin, *of_all_lines(shown, first, units)])
    found = {
        name: LinePiece.from_bytes(stored)
        for name in names
        if (stored := shelf.get(name)) is not None
    }
    fresh = [name for name in names if name not in found]
    some = select_lines(shown, [*fresh, *first] if fresh else []) if found else shown
    drawn = with_latlon(some.worded(units, language))
    for view in views_of_worded(drawn, units, language) if fresh or not found else ():
        if view.line_id not in found:
            found[view.line_id] = piece = LinePiece.of(view, units, origin)
            shelf.put(view.line_id, piece.to_bytes())
    return [found[name] for name in names if name in found], drawn


def origin_of(routes: gpd.GeoDataFrame) -> Origin:
    """Return the latitude and longitude that packed places start from, near the first route."""
    drawn = with_geometry(routes)
    if drawn is None:
        return 0.0, 0.0
    at = latlon_lists(gpd.GeoSeries(drawn.geometry.iloc[:1]))[0]
    while isinstance(at[0], list):
        at = at[0]
    return round(at[0], _ORIGIN_DECIMALS) + 0.0, round(at[1], _ORIGIN_DECIMALS) + 0.0


def _overview(view: LineView, origin: Origin) -> Plain:
    marks = [one.mark.get("at") for one in view.of_marks[1:] if one.mark]
    return {
        "id": view.line_id,
        "status": view.status,
        "held": len(view.holds),
        "mark": (view.mark.get("at") if view.mark else None) or None,
        "more": delta_encode(marks, origin) if view.of_marks else None,
        "pipe": _thin_pipe(view, origin),
        "place": _place(view),
        "levels": _level_range(view),
        "placed": view.placed,
    }


def _place(view: LineView) -> Any:
    """Return a latitude and longitude of the line, or None."""
    if view.mark is not None and view.mark.get("at"):
        return view.mark["at"]
    pipe: Any = view.route.get("at")
    return pipe[0][0] if pipe else None


def _level_range(view: LineView) -> list[float] | None:
    """Return the lowest and highest level of its fittings in dB, or None."""
    levels: Iterable[float | None] = (
        fitting_data(row, view.wording)["db"] for row in view.rows("contact_ranking")
    )
    heard = [level for level in levels if level is not None]
    return [min(heard), max(heard)] if heard else None


def _thin_pipe(view: LineView, origin: Origin) -> list[list[int]] | None:
    parts: Any = view.route.get("at")
    if not parts:
        return None
    thin = [shapely.LineString(p).simplify(_PIPE_DEGREES) if len(p) > 2 else None for p in parts]
    kept = [p if t is None else t.coords for p, t in zip(parts, thin, strict=True)]
    return [delta_encode(list(p), origin) for p in kept]

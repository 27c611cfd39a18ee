"""Compact data of the map: integers, delta encoded and deflated.

A page with few lines holds the same numbers as plain JSON, which any browser can read.
"""

from __future__ import annotations

import base64
import json
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import shapely

from leakgeo.deliver.map.line import entry_data, fitting_data, line_data

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from leakgeo.deliver.views.line_view import LineView

Plain = dict[str, Any]
Origin = tuple[float, float]

#: Up to this number of lines the data are plain JSON; with more they are deflated.
PLAIN_LINES = 200
DETAILS, ENTRIES = 64, 200  # lines in a chunk
#: Keys of the head that go into the chunk "around".
NEIGHBOURHOOD = ("utilities", "fittings", "loose")
_DEGREE = 1e7
_SCALES = {"x": 100, "db": 10, "sd": 10}
_PEAK = 500
_PIPE_DEGREES = 2e-6  # tolerance of pipes on the overview, about 0.2 m


@dataclass(frozen=True)
class PackedPart:
    """One chunk of the map's data; the page decodes it when it is needed.

    Parameters
    ----------
    name : str
        ``"index"``, ``"entries-0"``, ``"details-0"`` ...
    content : object
        JSON values, or a str: JSON, deflated (RFC 1950), in base64.
    """

    name: str
    content: object

    @property
    def packed(self) -> bool:
        """Whether the content is deflated."""
        return isinstance(self.content, str)


def chunks(views: Sequence[LineView], units: str, head: Mapping[str, Any]) -> Iterator[PackedPart]:
    """Yield the chunks: index of all lines, neighbourhood, texts of the list, and details.

    Chunks of the list are in order of priority; a chunk of details holds lines close together.

    Parameters
    ----------
    views : sequence of LineView
    units : {"si", "us"}
        Units of the texts.
    head : mapping
        Views and head as `leakgeo.deliver.map.data.map_views` returns them.
    """
    encode = _deflate if len(views) > PLAIN_LINES else lambda content: content
    origin = _origin(views)
    order = spatial_order(views)
    yield PackedPart("index", encode(_index(views, order, origin)))
    yield PackedPart("around", encode(_neighbourhood(head, origin)))
    for first in range(0, len(views), ENTRIES):
        part = [entry_data(view, units) for view in views[first : first + ENTRIES]]
        yield PackedPart(f"entries-{first // ENTRIES}", encode(part))
    for first in range(0, len(views), DETAILS):
        part = [
            pack_line(line_data(views[k], units), origin) for k in order[first : first + DETAILS]
        ]
        yield PackedPart(f"details-{first // DETAILS}", encode(part))


def _deflate(content: object) -> str:
    plain = json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return base64.b64encode(zlib.compress(plain.encode(), 9)).decode("ascii")


def _neighbourhood(head: Mapping[str, Any], origin: Origin) -> Plain:
    placed = {
        name: [{**row, "at": delta_encode(row["at"], origin)} for row in head[name]]
        for name in ("utilities", "fittings")
    }
    return {**placed, "loose": pack_readings(head["loose"], origin)}


def _place(view: LineView) -> Any:
    """Return a latitude and longitude of the line, or None."""
    if view.mark is not None and view.mark.get("at"):
        return view.mark["at"]
    pipe: Any = view.route.get("at")
    return pipe[0][0] if pipe else None


def _origin(views: Sequence[LineView]) -> Origin:
    lat, lon = next((at for view in views if (at := _place(view))), (0.0, 0.0))
    return round(lat, 3), round(lon, 3)


def spatial_order(views: Sequence[LineView]) -> list[int]:
    """Return the positions of lines in an order that keeps neighbours together (Hilbert curve)."""
    places = [_place(view) for view in views]
    rows = [k for k, at in enumerate(places) if at]
    unplaced = [k for k, at in enumerate(places) if not at]
    if not rows:
        return unplaced
    points = gpd.GeoSeries(shapely.points([places[k][::-1] for k in rows]))
    along = points.hilbert_distance().to_numpy()
    return [rows[k] for k in np.argsort(along, kind="stable")] + unplaced


def _index(views: Sequence[LineView], order: list[int], origin: Origin) -> Plain:
    """Return what the overview and the search need of each line, as columns."""
    status = list(dict.fromkeys(view.status for view in views))
    marks = [view.mark.get("at") if view.mark else None for view in views]
    at = np.empty(len(order), int)
    at[order] = np.arange(len(order))
    return {
        "origin": origin,
        "id": [view.line_id for view in views],
        "statuses": status,
        "status": [status.index(view.status) for view in views],
        "held": [len(view.holds) for view in views],
        "mark": delta_encode([m or None for m in marks], origin),
        "more": _more_marks(views, origin),
        "pipe": [_thin_pipe(view, origin) for view in views],
        "detail": at.tolist(),
        "span": _level_range(views),
        "sizes": {"details": DETAILS, "entries": ENTRIES},
    }


def _more_marks(views: Sequence[LineView], origin: Origin) -> list[Plain]:
    """Return the marks after the first of each line with several."""
    return [
        {"line": k, "at": delta_encode([one.mark.get("at") for one in view.of_marks[1:]
                                        if one.mark], origin)}
        for k, view in enumerate(views)
        if view.of_marks
    ]  # fmt: skip


def _level_range(views: Sequence[LineView]) -> list[float] | None:
    """Return the lowest and highest level of all fittings in dB, or None."""
    rows = (row for view in views for row in view.rows("contact_ranking"))
    heard = [level for row in rows if (level := fitting_data(row)["db"]) is not None]
    return [min(heard), max(heard)] if heard else None


def _thin_pipe(view: LineView, origin: Origin) -> list[list[int]] | None:
    parts: Any = view.route.get("at")
    if not parts:
        return None
    thin = [shapely.LineString(p).simplify(_PIPE_DEGREES) if len(p) > 2 else None for p in parts]
    kept = [p if t is None else t.coords for p, t in zip(parts, thin, strict=True)]
    return [delta_encode(list(p), origin) for p in kept]


def delta_encode(at: Any, origin: Origin) -> Any:
    """Delta encode nested latitudes and longitudes in units of 1e-7 degrees.

    A list of pairs becomes one flat list: the first pair relative to `origin`, each other relative
    to its predecessor; a missing pair becomes two None.

    Examples
    --------
    >>> delta_encode([[50.0000001, 8.0], None, [50.0000003, 8.0000002]], (50.0, 8.0))
    [1, 0, None, None, 2, 2]
    >>> delta_encode([[[50.0, 8.0]], [[50.0000004, 8.0]]], (50.0, 8.0))
    [[0, 0], [4, 0]]
    """
    if at is None:
        return None
    first = next((part for part in at if part is not None), None)
    if isinstance(first, float):
        return delta_encode([at], origin)
    if first is not None and isinstance(first[0], list):
        return [delta_encode(part, origin) for part in at]
    return _delta_encode_pairs(at, origin)


def _delta_encode_pairs(pairs: Sequence[Any], origin: Origin) -> list[int | None]:
    known = [pair for pair in pairs if pair is not None]
    if not known:
        return [None, None] * len(pairs)
    whole = np.round((np.asarray(known) - origin) * _DEGREE).astype(np.int64)
    steps = np.diff(whole, axis=0, prepend=np.zeros((1, 2), np.int64)).tolist()
    if len(known) == len(pairs):
        return [step for pair in steps for step in pair]
    following = iter(steps)
    return [s for pair in pairs for s in ([None, None] if pair is None else next(following))]


def delta_encode_numbers(values: Sequence[float | None], scale: float) -> list[int | None]:
    """Delta encode numbers in units of ``1 / scale``; None stays None.

    Examples
    --------
    >>> delta_encode_numbers([1.0, 1.5, None, 1.25], 100)
    [100, 50, None, -25]
    """
    out: list[int | None] = []
    before = 0
    for value in values:
        whole = None if value is None else round(value * scale)
        out.append(None if whole is None else whole - before)
        before = before if whole is None else whole
    return out


def pack_line(line: Plain, origin: Origin) -> Plain:
    """Delta encode one line of `line_data`; ``assets/map_unpack.js`` decodes it."""
    return {**line, **_pack_dig(line, origin),
            **_pack_rows(line, ("zones", "next", "bracket", "fittings", "air"), origin),
            "pipe": delta_encode(line["pipe"], origin),
            "marks": [{**one, **_pack_dig(one, origin)} for one in line["marks"]],
            "readings": pack_readings(line["readings"], origin),
            "profile": _pack_profile(line["profile"])}  # fmt: skip


def _pack_rows(line: Plain, names: Sequence[str], origin: Origin) -> Plain:
    return {
        name: [{**row, "at": delta_encode(row["at"], origin)} for row in line[name]]
        for name in names
    }


def _pack_dig(line: Plain, origin: Origin) -> Plain:
    """Delta encode a mark and its dig."""
    mark, request = line["mark"], line["request"]
    if mark:
        mark = {
            **mark,
            "at": delta_encode(mark["at"], origin),
            "ring": _semi_axes(mark["ring"], origin),
        }
    if request:
        request = {**request, "at": delta_encode(request["at"], origin)}
    rows = _pack_rows(line, ("conflicts", "others"), origin)
    dig = delta_encode(line["digAt"], origin)
    return {**rows, "digAt": dig, "mark": mark, "request": request}


def _semi_axes(ring: Any, origin: Origin) -> Any:
    """Return the ends of the semi-axes of an ellipse of 48 points; the page draws the rest."""
    return None if ring is None else delta_encode([ring[0][0][0], ring[0][0][12]], origin)


def pack_readings(readings: Plain, origin: Origin) -> Plain:
    """Delta encode the columns of readings."""
    return {
        **readings,
        "at": delta_encode(readings["at"], origin),
        "fix": delta_encode(readings["fix"], origin) if any(readings["fix"]) else [],
        "x": delta_encode_numbers(readings["x"], _SCALES["x"]),
        "db": delta_encode_numbers(readings["db"], _SCALES["db"]),
        "used": [int(used) for used in readings["used"]],
        "why": readings["why"] if any(readings["why"]) else [],
    }


def _pack_profile(profile: Plain) -> Plain:
    peak = max((v for v in profile["density"] if v is not None), default=0.0) or 1.0
    return {
        **{name: delta_encode_numbers(profile[name], scale) for name, scale in _SCALES.items()},
        "density": delta_encode_numbers(profile["density"], _PEAK / peak),
    }

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

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from leakgeo.deliver.map.pieces import LinePiece

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


@dataclass(frozen=True)
class PackedPart:
    """One chunk of the map's data; the page decodes it when it is needed.

    Parameters
    ----------
    name : str
        ``"index"``, ``"entries-0"``, ``"details-0"`` ...
    text : str
        JSON or, if it is packed, JSON deflated (RFC 1950), in base64.
    packed : bool
        Whether the text is deflated.
    """

    name: str
    text: str
    packed: bool


def json_text(content: object) -> str:
    """Return compact JSON in ASCII.

    Raises
    ------
    ValueError
        If a number isn't finite.
    """
    return json.dumps(content, ensure_ascii=True, separators=(",", ":"), allow_nan=False)


def chunks(
    pieces: Sequence[LinePiece], origin: Origin, head: Mapping[str, Any]
) -> Iterator[PackedPart]:
    """Yield the chunks: index of all lines, neighbourhood, texts of the list, and details.

    Chunks of the list are in order of priority; a chunk of details holds lines close together.

    Parameters
    ----------
    pieces : sequence of LinePiece
    origin : (latitude, longitude)
        Origin of packed places.
    head : mapping
        Values of `leakgeo.deliver.map.data.MapData.head`.
    """
    packed = len(pieces) > PLAIN_LINES
    for name, text in _chunk_texts(pieces, origin, head):
        yield PackedPart(name, _deflate(text) if packed else text, packed)


def _chunk_texts(
    pieces: Sequence[LinePiece], origin: Origin, head: Mapping[str, Any]
) -> Iterator[tuple[str, str]]:
    order = spatial_order(pieces)
    yield "index", json_text(_index(pieces, order, origin))
    yield "around", json_text(_neighbourhood(head, origin))
    for first in range(0, len(pieces), ENTRIES):
        part = pieces[first : first + ENTRIES]
        yield f"entries-{first // ENTRIES}", _json_list(piece.entry for piece in part)
    for first in range(0, len(pieces), DETAILS):
        part = [pieces[k] for k in order[first : first + DETAILS]]
        yield f"details-{first // DETAILS}", _json_list(piece.details for piece in part)


def _json_list(texts: Iterable[str]) -> str:
    return f"[{','.join(texts)}]"


def _deflate(text: str) -> str:
    return base64.b64encode(zlib.compress(text.encode(), 6)).decode("ascii")


def _neighbourhood(head: Mapping[str, Any], origin: Origin) -> Plain:
    placed = {
        name: [{**row, "at": delta_encode(row["at"], origin)} for row in head[name]]
        for name in ("utilities", "fittings")
    }
    return {**placed, "loose": pack_readings(head["loose"], origin)}


def spatial_order(pieces: Sequence[LinePiece]) -> list[int]:
    """Return the positions of lines in an order that keeps neighbours together (Hilbert curve)."""
    places = [piece.overview["place"] for piece in pieces]
    rows = [k for k, at in enumerate(places) if at]
    unplaced = [k for k, at in enumerate(places) if not at]
    if not rows:
        return unplaced
    points = gpd.GeoSeries(shapely.points([places[k][::-1] for k in rows]))
    along = points.hilbert_distance().to_numpy()
    return [rows[k] for k in np.argsort(along, kind="stable")] + unplaced


def _index(pieces: Sequence[LinePiece], order: list[int], origin: Origin) -> Plain:
    """Return what the overview and the search need of each line, as columns."""
    lines = [piece.overview for piece in pieces]
    status = list(dict.fromkeys(line["status"] for line in lines))
    at = np.empty(len(order), int)
    at[order] = np.arange(len(order))
    more = [{"line": k, "at": line["more"]} for k, line in enumerate(lines)
            if line["more"] is not None]  # fmt: skip
    return {
        "origin": origin,
        "id": [line["id"] for line in lines],
        "statuses": status,
        "status": [status.index(line["status"]) for line in lines],
        "held": [line["held"] for line in lines],
        "mark": delta_encode([line["mark"] for line in lines], origin),
        "more": more,
        "pipe": [line["pipe"] for line in lines],
        "detail": at.tolist(),
        "span": _level_range(lines),
        "sizes": {"details": DETAILS, "entries": ENTRIES},
    }


def _level_range(lines: Sequence[Plain]) -> list[float] | None:
    """Return the lowest and highest level of all fittings in dB, or None."""
    heard = [line["levels"] for line in lines if line["levels"]]
    return [min(low for low, _ in heard), max(high for _, high in heard)] if heard else None


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

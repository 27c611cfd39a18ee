"""Files of the locate requests: GeoJSON for a GIS, KML for the web map of a one-call centre."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.locate_request import datum_note, requests_of, ties_text
from leakgeo.reason import Reason
from leakgeo.wording import wording
from leakgeo.wording.locales import ENGLISH

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.deliver.views.locate_request import Place, Request
    from leakgeo.result import Result
    from leakgeo.wording import Wording

FILES = ("locate_request.geojson", "locate_request.kml")
_KML = "http://www.opengis.net/kml/2.2"


def has_requests(result: Result) -> bool:
    """Return whether a result has locate requests."""
    requests = result.layers.get("locate_requests")
    return requests is not None and not requests.empty


def write_requests(result: Result, folder: Path, units: str, language: str = ENGLISH) -> None:
    """Write ``locate_request.geojson`` and ``locate_request.kml``.

    Parameters
    ----------
    result : Result
        With ``locate_requests``.
    folder : pathlib.Path
        Existing folder.
    units : {"si", "us"}
        Units of the tie distances in the texts.
    language : str
        Language of the texts; default English. What is asked is in English as well.
    """
    requests, say = requests_of(result), wording(units, language)
    note = datum_note(result, requests, say)
    asked = list(requests.values())
    recorded = say.text(sentences.holds_recorded(result.job))
    collection = json.dumps(
        {**geojson(asked, note, say), "run_id": result.run_id, "written": result.written,
         "holds_recorded": recorded},
        ensure_ascii=False, indent=1,
    )  # fmt: skip
    (folder / FILES[0]).write_text(collection + "\n", encoding="utf-8", newline="\n")
    run = sentences.of_run(result, say)
    (folder / FILES[1]).write_bytes(kml(asked, f"{note} {recorded}. {run}".strip(), say))


def asks(words: Wording) -> str:
    """Return what is asked, and that it clears nothing, in English as well where it is translated.

    Examples
    --------
    >>> asks(wording())[:47]
    'Request to locate and mark utilities before an '
    """
    both = (words, words.english())
    return " ".join(each.term("request_asks") for each in both if each is not None)


def geojson(requests: list[Request], note: str, words: Wording) -> dict[str, Any]:
    """Return requests as a GeoJSON feature collection (RFC 7946).

    Each request is a polygon, its outer ring counterclockwise, and the mark as a point; WGS 84,
    longitude first, six decimals.
    """
    features = [f for request in requests for f in _features(request, note, words)]
    return {"type": "FeatureCollection", "features": features}


def _features(request: Request, note: str, words: Wording) -> list[dict[str, Any]]:
    ring = [_lonlat(place) for place in (*request.corners, request.corners[0])]
    polygon = {"type": "Polygon", "coordinates": [ring]}
    shared: dict[str, Any] = {
        "line_id": request.line_id, "mark_rank": request.rank, **_where(request)
    }  # fmt: skip
    area = {
        **shared, "what": "white line", "asks": asks(words), "size": request.size(words),
        "depth_m": _round(request.depth_m), "length_m": _round(request.length_m),
        "width_m": _round(request.width_m),
        "note": note or None,
    }  # fmt: skip
    features = [{"type": "Feature", "properties": area, "geometry": polygon}]
    if request.mark:
        point = {"type": "Point", "coordinates": _lonlat(request.mark)}
        mark = {**shared, "what": "mark", "ties": ties_text(request.ties, words)}
        for k, tie in enumerate(request.ties, 1):
            mark |= {f"tie_{k}_from": tie.fixed_point, f"tie_{k}_m": round(tie.distance_m, 3)}
        features.append({"type": "Feature", "properties": mark, "geometry": point})
    return features


def _where(request: Request) -> dict[str, str | None]:
    return {"address": request.address or None, "work_order": request.work_order or None}


def _round(length_m: float | None) -> float | None:
    return None if length_m is None else round(length_m, 3)


def _lonlat(place: Place) -> list[float]:
    return [place[1], place[0]]


def kml(requests: list[Request], note: str, words: Wording) -> bytes:
    """Return requests as KML 2.2: a folder per hole, with its white line and its mark."""
    root = ET.Element("kml", xmlns=_KML)
    document = ET.SubElement(root, "Document")
    _text(document, "name", words.title("Locate requests"))
    _text(document, "description", f"{asks(words)} {note}".strip())
    _style(document)
    for request in requests:
        folder = ET.SubElement(document, "Folder")
        _text(folder, "name", request.name(words))
        _white_line(folder, request, words)
        if request.mark:
            name = words.text(Reason("request_mark", name=request.name(words)))
            spot = _placemark(folder, name, ties_text(request.ties, words))
            _data(spot, request)
            _text(ET.SubElement(spot, "Point"), "coordinates", _triple(request.mark))
    ET.indent(root)
    return bytes(ET.tostring(root, encoding="utf-8", xml_declaration=True))


def _style(document: ET.Element) -> None:
    """Add the style of a white line, the uniform colour of a proposed excavation."""
    style = ET.SubElement(document, "Style", id="white-line")
    line, area = ET.SubElement(style, "LineStyle"), ET.SubElement(style, "PolyStyle")
    _text(line, "color", "ffffffff")
    _text(line, "width", "3")
    _text(area, "color", "40ffffff")


def _white_line(folder: ET.Element, request: Request, words: Wording) -> None:
    places = "; ".join(f"{label}: {place}" for label, place in request.places(words))
    name = words.text(Reason("request_white_line", name=request.name(words)))
    spot = _placemark(folder, name, f"{request.size(words)}. {places}")
    _text(spot, "styleUrl", "#white-line")
    _data(spot, request)
    ring = spot
    for tag in ("Polygon", "outerBoundaryIs", "LinearRing"):
        ring = ET.SubElement(ring, tag)
    corners = (*request.corners, request.corners[0])
    _text(ring, "coordinates", " ".join(_triple(place) for place in corners))


def _placemark(folder: ET.Element, name: str, description: str) -> ET.Element:
    spot = ET.SubElement(folder, "Placemark")
    _text(spot, "name", name)
    _text(spot, "description", description)
    return spot


def _data(spot: ET.Element, request: Request) -> None:
    """Add address and work order, which KML puts between the style and the geometry."""
    known = {name: value for name, value in _where(request).items() if value}
    data = ET.SubElement(spot, "ExtendedData") if known else spot
    for name, value in known.items():
        _text(ET.SubElement(data, "Data", name=name), "value", value)


def _triple(place: Place) -> str:
    return f"{place[1]:.6f},{place[0]:.6f},0"


def _text(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = text

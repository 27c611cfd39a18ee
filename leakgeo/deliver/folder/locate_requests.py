"""Files of the locate requests: GeoJSON for a GIS, KML for the web map of a one-call centre."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.locate_request import datum_note, requests_of, ties_text
from leakgeo.wording import wording

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.deliver.views.locate_request import Place, Request
    from leakgeo.result import Result

FILES = ("locate_request.geojson", "locate_request.kml")
ASKS = ("Request to locate and mark utilities before an excavation. It clears nothing: wait for "
        "every owner's answer, and ask private owners too.")  # fmt: skip
_KML = "http://www.opengis.net/kml/2.2"


def has_requests(result: Result) -> bool:
    """Return whether a result has locate requests."""
    requests = result.layers.get("locate_requests")
    return requests is not None and not requests.empty


def write_requests(result: Result, folder: Path, units: str) -> None:
    """Write ``locate_request.geojson`` and ``locate_request.kml``.

    Parameters
    ----------
    result : Result
        With ``locate_requests``.
    folder : pathlib.Path
        Existing folder.
    units : {"si", "us"}
        Units of the tie distances in the texts.
    """
    requests = requests_of(result)
    note = datum_note(result, requests, wording(units))
    asked = list(requests.values())
    say = wording(units)
    recorded = say.text(sentences.holds_recorded(result.job))
    collection = json.dumps(
        {**geojson(asked, note, units), "run_id": result.run_id, "written": result.written,
         "holds_recorded": recorded},
        ensure_ascii=False, indent=1,
    )  # fmt: skip
    (folder / FILES[0]).write_text(collection + "\n", encoding="utf-8", newline="\n")
    run = sentences.of_run(result, say)
    (folder / FILES[1]).write_bytes(kml(asked, f"{note} {recorded}. {run}".strip(), units))


def geojson(requests: list[Request], note: str, units: str) -> dict[str, Any]:
    """Return requests as a GeoJSON feature collection (RFC 7946).

    Each request is a polygon, its outer ring counterclockwise, and the mark as a point; WGS 84,
    longitude first, six decimals.
    """
    features = [f for request in requests for f in _features(request, note, units)]
    return {"type": "FeatureCollection", "features": features}


def _features(request: Request, note: str, units: str) -> list[dict[str, Any]]:
    ring = [_lonlat(place) for place in (*request.corners, request.corners[0])]
    polygon = {"type": "Polygon", "coordinates": [ring]}
    shared: dict[str, Any] = {
        "line_id": request.line_id, "mark_rank": request.rank, **_where(request)
    }  # fmt: skip
    area = {
        **shared, "what": "white line", "asks": ASKS, "size": request.size(wording(units)),
        "depth_m": _round(request.depth_m), "length_m": _round(request.length_m),
        "width_m": _round(request.width_m),
        "note": note or None,
    }  # fmt: skip
    features = [{"type": "Feature", "properties": area, "geometry": polygon}]
    if request.mark:
        point = {"type": "Point", "coordinates": _lonlat(request.mark)}
        mark = {**shared, "what": "mark", "ties": tie_text(request, units)}
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


def tie_text(request: Request, units: str) -> str:
    """Return the tie distances as one line of text.

    Examples
    --------
    >>> from leakgeo.deliver.views.locate_request import Request, Tie
    >>> ties = (Tie("meter C-1", False, 3.6576, 92.0), Tie("hydrant C-2", False, 9.0, 0.0))
    >>> tie_text(Request("L-1", 1, (), None, None, None, None, ties), "us")
    '12 ft from meter C-1, going E (92 deg true); 29 ft 6 in from hydrant C-2, going N (0 deg true)'
    """
    return ties_text(request.ties, wording(units))


def kml(requests: list[Request], note: str, units: str) -> bytes:
    """Return requests as KML 2.2: a folder per hole, with its white line and its mark."""
    root = ET.Element("kml", xmlns=_KML)
    document = ET.SubElement(root, "Document")
    _text(document, "name", "Locate requests")
    _text(document, "description", f"{ASKS} {note}".strip())
    _style(document)
    for request in requests:
        folder = ET.SubElement(document, "Folder")
        _text(folder, "name", request.name)
        _white_line(folder, request, units)
        if request.mark:
            spot = _placemark(folder, f"Mark {request.name}", tie_text(request, units))
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


def _white_line(folder: ET.Element, request: Request, units: str) -> None:
    places = "; ".join(f"{label}: {place}" for label, place in request.places(wording(units)))
    spot = _placemark(
        folder, f"White line {request.name}", f"{request.size(wording(units))}. {places}"
    )
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

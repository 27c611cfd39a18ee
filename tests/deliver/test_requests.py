"""Locate requests as files: white lines around holes, KML that reads back, ties in both units."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import Geod

from leakgeo.deliver.folder.locate_requests import FILES, geojson, kml, write_requests
from leakgeo.deliver.folder.write import write_result
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.locate_request import Request, Tie, datum_note, requests_of
from leakgeo.result import Result
from leakgeo.steps import CLEARANCE
from leakgeo.wording import wording
from tests.deliver.fixture import HOSTILE, hostile_street, street
from tests.deliver.shown import map_data
from tests.wording.english import english_words

KML = "{http://www.opengis.net/kml/2.2}"


@pytest.fixture(scope="module", name="cleared")
def _cleared():
    return CLEARANCE(street())


@pytest.fixture(scope="module", name="folder")
def _folder(cleared, tmp_path_factory):
    out = tmp_path_factory.mktemp("requests")
    write_result(cleared, out, units="us")
    return out


def features(folder, what):
    collection = json.loads((folder / FILES[0]).read_text("utf-8"))
    return [f for f in collection["features"] if f["properties"]["what"] == what]


def test_every_located_line_is_asked_for_and_no_other(cleared, folder):
    located = cleared.layers["lines"].query("status == 'located'")["line_id"].tolist()
    assert [f["properties"]["line_id"] for f in features(folder, "white line")] == located
    assert [f["properties"]["line_id"] for f in features(folder, "mark")] == located


def test_white_lines_hold_the_holes_and_have_four_corners(cleared, folder):
    holes = cleared.layers["dig_zones"].dropna(subset="geometry").to_crs(4326)
    for feature, hole in zip(features(folder, "white line"), holes.geometry, strict=True):
        assert set(feature) == {"type", "properties", "geometry"}
        ring = feature["geometry"]["coordinates"][0]
        assert len(ring) == 5  # closed, four corners
        assert shapely.Polygon(ring).contains(hole)  # longitude first, and no corner lost
        text = json.dumps(ring)
        assert max(len(d) for d in re.findall(r"\.(\d+)", text)) <= 6


def test_gdal_reads_both_files_back_alike(folder):
    white = gpd.read_file(folder / FILES[0]).query("what == 'white line'")
    assert white.crs == "EPSG:4326"
    read = [pyogrio.read_dataframe(folder / FILES[1], layer=name)
            for name, _ in pyogrio.list_layers(folder / FILES[1])]  # fmt: skip
    areas = [g for table in read for g in table.geometry if g.geom_type == "Polygon"]
    assert len(areas) == len(white)
    for ours, theirs in zip(white.geometry, areas, strict=True):
        assert shapely.force_2d(theirs).equals_exact(ours, 1e-9)


def test_ties_measure_as_the_geodesic_does(folder):
    contacts = street().job.contacts.set_index("contact_id").to_crs(4326).geometry
    for feature in features(folder, "mark"):
        properties = feature["properties"]
        assert properties["tie_2_m"] > 0
        names = [properties[f"tie_{k}_from"] for k in (1, 2)]
        for k, name in enumerate(names, 1):
            if name.startswith("meter"):
                spot = contacts[name.split()[-1]]
                lon, lat = feature["geometry"]["coordinates"]
                *_, metres = Geod(ellps="WGS84").inv(spot.x, spot.y, lon, lat)
                assert properties[f"tie_{k}_m"] == pytest.approx(metres, abs=0.12)  # six decimals
        assert re.search(r"\d+ ft \d+ in from", properties["ties"])


def test_kml_has_white_lines_marks_and_the_caution(folder):
    root = ET.parse(folder / FILES[1]).getroot()
    assert root.tag == f"{KML}kml"
    text = "".join(root.itertext())
    assert "It clears nothing" in text
    assert "Mark Alder 12" in text
    assert "Corner 4" in text
    for ring in root.iter(f"{KML}LinearRing"):
        places = ring.find(f"{KML}coordinates").text.split()
        assert len(places) == 5
        assert places[0] == places[-1]


def test_address_work_order_and_time_of_the_holds_are_in_both_files(cleared, tmp_path):
    utilities = cleared.job.utilities
    utilities = utilities.assign(
        notified_time="2026-03-02T10:30:00+02:00", response_time="2026-03-01T08:00:00Z"
    )
    routes = cleared.job.routes.assign(address="12 Alder <Street>", work_order="WO-7")
    job = replace(cleared.job, routes=routes, utilities=utilities)
    write_requests(replace(cleared, job=job), tmp_path, "us")
    for feature in features(tmp_path, "white line") + features(tmp_path, "mark"):
        assert feature["properties"]["address"] == "12 Alder <Street>"
        assert feature["properties"]["work_order"] == "WO-7"
    recorded = "Holds as recorded at 2026-03-02 08:30 UTC"
    assert json.loads((tmp_path / FILES[0]).read_text("utf-8"))["holds_recorded"] == recorded
    read = [pyogrio.read_dataframe(tmp_path / FILES[1], layer=name)
            for name, _ in pyogrio.list_layers(tmp_path / FILES[1])]  # fmt: skip
    assert all(set(table["work_order"]) == {"WO-7"} for table in read)
    text = (tmp_path / FILES[1]).read_text("utf-8")
    assert recorded in text
    assert cleared.run_id in text


def test_requests_are_in_the_language_of_the_run_and_ask_in_english_too(cleared, tmp_path):
    write_requests(cleared, tmp_path, "si", "es")
    asked = wording().term("request_asks")
    for feature in features(tmp_path, "white line"):
        own = feature["properties"]
        assert own["asks"].startswith("Solicitud de localizar")
        assert own["asks"].endswith(asked)
        assert re.search(r"\d,\d\d? (m )?(por|x)", own["size"]), own["size"]
        assert isinstance(own["length_m"], float)
        assert english_words([own["asks"], own["size"], own["note"] or ""], [asked]) == {}
    root = ET.parse(tmp_path / FILES[1]).getroot()
    said = [e.text or "" for tag in ("name", "description") for e in root.iter(f"{KML}{tag}")]
    assert len(said) > 6
    assert "Solicitudes de localización" in said
    assert english_words(said, [asked]) == {}
    assert re.search(r" \d+,\d\d m", " ".join(said))
    places = [e.text for e in root.iter(f"{KML}coordinates")]
    assert all(re.fullmatch(r"(-?\d+\.\d{6},-?\d+\.\d{6},0 ?)+", each) for each in places)


def test_text_from_the_data_stays_text():
    tie = Tie(HOSTILE, False, 3.0, 10.0)
    request = Request(HOSTILE, 1, ((50.0, 10.0),) * 4, (50.0, 10.0), None, None, None, (tie,))
    root = ET.fromstring(kml([request], "", wording()))
    assert [e.text for e in root.iter(f"{KML}name")][1] == HOSTILE
    assert json.loads(json.dumps(geojson([request], "", wording())))["features"][0]["properties"][
        "line_id"
    ] == (HOSTILE)


def test_a_name_of_control_characters_still_makes_xml(tmp_path):
    result = CLEARANCE(hostile_street())
    marks = result.layers["locate_requests"].assign(
        line_id=[f"a\x00\x0b{i}" for i in range(len(result.layers["locate_requests"]))]
    )
    broken = Result(result.job, {**result.layers, "locate_requests": marks})
    write_result(broken, tmp_path)
    assert ET.parse(tmp_path / FILES[1]).getroot().tag == f"{KML}kml"


def test_an_older_request_goes_when_nothing_is_asked_for(cleared, tmp_path):
    write_result(cleared, tmp_path)
    assert (tmp_path / FILES[0]).exists()
    none = replace(cleared, layers={k: v for k, v in cleared.layers.items()
                                    if k != "locate_requests"})  # fmt: skip
    write_result(none, tmp_path, overwrite=True)
    assert not (tmp_path / FILES[0]).exists()
    assert not (tmp_path / FILES[1]).exists()


def test_a_poor_datum_shift_is_told(cleared):
    requests = requests_of(cleared)
    assert datum_note(cleared, requests, wording("us")) == ""  # WGS 84 throughout
    old = replace(cleared.job, crs=cleared.layers["marks"].to_crs(26716).crs)  # NAD27
    note = datum_note(replace(cleared, job=old), requests, wording("us"))
    assert "Set the mark out by its tie distances" in note
    assert re.search(r"good to about \d+ ft here", note)


def test_coordinates_have_the_digits_that_the_datum_allows(cleared):
    fine = requests_of(cleared)["Alder 12", 1]
    assert {len(d) for _, said in fine.places(wording()) for d in re.findall(r"\.(\d+)", said)} == {
        6
    }
    old = cleared.layers["marks"].to_crs(26716).crs  # NAD27, good to some metres without a grid
    moved = {n: frame.set_crs(old, allow_override=True) if n == "marks" else frame
             for n, frame in cleared.layers.items()}  # fmt: skip
    result = replace(cleared, job=replace(cleared.job, crs=old), layers=moved)
    coarse = requests_of(result)["Alder 12", 1]
    assert {
        len(d) for _, said in coarse.places(wording()) for d in re.findall(r"\.(\d+)", said)
    } == {5}
    shown = dict(line_views(result)[0].places)
    assert shown["Latitude, longitude"] == dict(coarse.places(wording()))["Mark"]
    # The white line as a shape still holds the hole.
    assert coarse.corners == fine.corners


def test_the_map_has_the_white_line_the_ties_and_the_corners(cleared):
    data = map_data(cleared, "us")
    by_id = {line["id"]: line for line in data["lines"]}
    ask = by_id["Alder 12"]["request"]
    assert [label for label, _ in ask["places"]] == [*(f"Corner {k}" for k in range(1, 5)), "Mark"]
    assert all(re.fullmatch(r"-?\d+\.\d{6}, -?\d+\.\d{6}", place) for _, place in ask["places"])
    assert len(ask["ties"]) >= 2
    assert len(ask["at"][0][0]) == 5
    assert by_id["Ulica Źródlana 3"]["request"] is None


def test_corners_are_rounded_to_six_decimals(cleared):
    for request in requests_of(cleared).values():
        corners = np.array(request.corners)
        assert np.abs(corners * 1e6 - np.round(corners * 1e6)).max() < 1e-6

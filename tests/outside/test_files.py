"""Files: each kind that we write, by a standard's own validator or by other code that reads it."""

from __future__ import annotations

import importlib.util
import io
import json
import re
import sqlite3
from contextlib import redirect_stdout
from pathlib import Path

import numpy as np
import pyogrio
import pypdf
import pytest
import rasterio
import shapely
from pyproj import CRS, Transformer
from rio_cogeo.cogeo import cog_validate

import leakgeo
from leakgeo.deliver.geopackage.layers import write_geopackage
from leakgeo.job.template import write_template
from leakgeo.runner.by_district import run as by_district
from leakgeo.simulate.town import write_town
from tests.deliver.small import small
from tests.outside.table import outside

SHIPPED = Path(__file__).parents[2] / "examples" / "town" / "job.gpkg"
# Lines with marks, utilities and fittings.
SOME = ["H-101", "H-109", "H-117", "H-126", "S-109", "M-1"]
FOOT = 1200 / 3937  # the town's US survey foot


@pytest.fixture(name="written", scope="module")
def _written(tmp_path_factory):
    """Every kind of file that leakgeo writes, in one folder."""
    folder = tmp_path_factory.mktemp("written")
    write_town(folder / "town.gpkg", lines=5, evidence=False)
    leakgeo.run(SHIPPED, folder / "run", lines=SOME, format="geojson", units="us")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(by_district, "FROM_LINES", 0)
        leakgeo.run(folder / "town.gpkg", folder / "districts", chunk_lines=2, workers=1)
    write_template(folder / "template.gpkg", crs=2263)
    write_template(folder / "degrees.gpkg")
    write_geopackage(small(), folder / "awkward.gpkg")
    write_geopackage(small(output_crs=CRS(
        "+proj=tmerc +lat_0=37.7 +lon_0=-122.4 +k=1.0001 +x_0=1000 +datum=NAD83 +units=us-ft"
    )), folder / "no_code.gpkg")  # fmt: skip
    return folder


def validated(path):
    """Give the exit code of the validator, and what it prints."""
    from osgeo_utils.samples import validate_gpkg

    with redirect_stdout(io.StringIO()) as told:
        code = validate_gpkg.main(["validate_gpkg", "-k", str(path)])
    return code, told.getvalue()


GEOPACKAGES = outside(
    "every GeoPackage written: result, result of a job by district, template, simulated job, the "
    "shipped job",
    against="the requirements of OGC 12-128; one with a wrong application id fails Req 2",
    source="validate_gpkg of GDAL's utilities 3.13",
    close="no finding",
)
NEEDS_VALIDATOR = pytest.mark.skipif(
    importlib.util.find_spec("osgeo_utils") is None,
    reason="needs: pip install --no-deps gdal-utils",
)


@GEOPACKAGES
@NEEDS_VALIDATOR
def test_every_geopackage_is_valid_by_the_ogc_requirements(written):
    paths = [SHIPPED, *written.rglob("*.gpkg")]
    assert len(paths) >= 8
    for path in paths:
        assert validated(path) == (0, ""), path


@GEOPACKAGES
@NEEDS_VALIDATOR
def test_the_validator_finds_what_is_wrong(written, tmp_path):
    broken = tmp_path / "broken.gpkg"
    broken.write_bytes((written / "awkward.gpkg").read_bytes())
    with sqlite3.connect(broken) as base:
        base.execute("pragma application_id = 1")
    base.close()
    code, told = validated(broken)
    assert code == 1
    assert "Req 2" in told


@outside(
    "the density raster is a cloud-optimised GeoTIFF",
    against="rio-cogeo's strict validation; layout and tiles as rasterio reads them",
    source="COG specification, by rio-cogeo 7.0",
    close="no error, no warning",
)
def test_the_density_is_a_cloud_optimised_geotiff(written):
    rasters = list(written.rglob("*.tif"))
    assert len(rasters) == 2
    for path in rasters:
        with rasterio.open(path) as image:
            assert image.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
            assert image.block_shapes == [(512, 512)]
            assert image.nodata == 0
            assert image.units == ("1/m2",)
            assert "square metre" in image.tags()["TIFFTAG_IMAGEDESCRIPTION"]
        assert cog_validate(str(path), strict=True) == (True, [], [])


def positions(geometry):
    """All positions of a GeoJSON geometry, shape (n, 2 or 3)."""
    if geometry["type"] == "GeometryCollection":
        return np.vstack([positions(g) for g in geometry["geometries"]])
    flat = np.array(json.loads(f"[{re.sub(r'[][]', ' ', json.dumps(geometry['coordinates']))}]"))
    depth = {"Point": 1, "LineString": 2, "MultiPoint": 2, "Polygon": 3, "MultiLineString": 3,
             "MultiPolygon": 4}[geometry["type"]]  # fmt: skip
    first = geometry["coordinates"]
    for _ in range(depth - 1):
        first = first[0]
    return flat.reshape(-1, len(first))


def polygons(geometry):
    kind, inside = geometry["type"], geometry["coordinates"]
    return {"Polygon": [inside], "MultiPolygon": inside}.get(kind, [])


def of_feature(feature):
    """What the text of RFC 7946 forbids of a feature, by section."""
    if feature["type"] != "Feature" or not {"geometry", "properties"} <= set(feature):
        return ["3.2: not a Feature"]
    if feature["geometry"] is None:
        return []
    off = np.abs(positions(feature["geometry"])[:, :2]) > [180.0, 90.0]
    found = ["4: not longitude and latitude in degrees"] if off.any() else []
    for polygon in polygons(feature["geometry"]):
        found += [fault for k, ring in enumerate(polygon) for fault in of_ring(ring, k > 0)]
    return found


def of_ring(ring, is_hole):
    if len(ring) < 4 or ring[0] != ring[-1]:
        return ["3.1.6: a ring that is open"]
    turned = shapely.LinearRing(ring).is_ccw == is_hole
    return ["3.1.6: a ring against the right-hand rule"] if turned else []


def faults_by_rfc_7946(collection):
    """What the text of RFC 7946 forbids, by section."""
    forbidden = {
        "3.3: not a FeatureCollection": collection["type"] != "FeatureCollection",
        "4: a crs member": "crs" in collection,
        "7.1: a member of another type": {"geometry", "properties"} & set(collection),
    }
    found = [text for text, is_so in forbidden.items() if is_so]
    return found + [fault for feature in collection["features"] for fault in of_feature(feature)]


GEOJSON = outside(
    "every GeoJSON written: the locate requests and each exported layer",
    against="one collection, no crs member, WGS 84 degrees, closed rings, right-hand rule",
    source="RFC 7946, sections 3.1.6, 3.2, 3.3, 4, 7.1; places by pyproj",
    close="no finding; places to {within:g}° (11 cm) or nearer",
    within=1e-6,
)


@GEOJSON
def test_every_geojson_follows_rfc_7946(written):
    paths = list(written.rglob("*.geojson"))
    assert {"locate_request.geojson", "marks.geojson", "dig_zones.geojson"} <= {
        p.name for p in paths
    }
    rings = 0
    for path in paths:
        collection = json.loads(path.read_text("utf-8"))
        assert faults_by_rfc_7946(collection) == [], path
        rings += sum(len(polygons(f["geometry"])) for f in collection["features"] if f["geometry"])
    assert rings > 20


@GEOJSON
def test_what_is_wrong_by_the_text_is_found(written):
    good = json.loads((written / "run/locate_request.geojson").read_text("utf-8"))
    assert faults_by_rfc_7946({**good, "crs": {}}) == ["4: a crs member"]
    area = next(f for f in good["features"] if f["geometry"]["type"] == "Polygon")
    back = [ring[::-1] for ring in area["geometry"]["coordinates"]]
    turned = {**area, "geometry": {"type": "Polygon", "coordinates": back}}
    (found,) = faults_by_rfc_7946({**good, "features": [turned]})
    assert "right-hand rule" in found


@GEOJSON
def test_places_are_where_pyproj_puts_them(written, within):
    marks = pyogrio.read_dataframe(written / "run/result.gpkg", layer="marks")
    told = json.loads((written / "run/exported/geojson/marks.geojson").read_text("utf-8"))
    there = {f["properties"]["line_id"]: f["geometry"]["coordinates"] for f in told["features"]}
    asked = json.loads((written / "run/locate_request.geojson").read_text("utf-8"))
    there |= {f["properties"]["line_id"]: f["geometry"]["coordinates"] for f in asked["features"]
              if f["properties"]["what"] == "mark"}  # fmt: skip
    lonlat = Transformer.from_crs(marks.crs, 4326, always_xy=True)
    assert len(there) == len(marks) > 2
    for name, place in zip(marks["line_id"], marks.geometry, strict=True):
        expected = lonlat.transform(place.x, place.y)
        assert there[name][:2] == pytest.approx(expected, abs=within)


@outside(
    "what the report says of each mark is what the layers hold",
    against="the text of the PDF, read back by pypdf",
    source="pypdf 7.1 on the report of a simulated town",
    close="the inch that is shown",
)
def test_the_report_tells_the_marks_of_the_layers(written):
    pages = [re.sub(r"\s+", " ", page.extract_text())
             for page in pypdf.PdfReader(written / "run/report.pdf").pages]  # fmt: skip
    text = " ".join(pages)
    lines = pyogrio.read_dataframe(written / "run/result.gpkg", layer="lines")
    located = lines[lines["status"] == "located"]
    assert len(located) > 1
    for row in located.itertuples():
        page = next(p for p in pages if f"Dig sheet: {row.line_id}" in p)
        feet, inches = re.search(r"Mark (?:(\d+) ft ?)?(?:(\d+) in)? ?from", page).groups()
        told = (int(feet or 0) + int(inches or 0) / 12) * FOOT
        taped = json.loads(row.values)["place"]["values"]["by_m"]
        assert told == pytest.approx(taped, abs=FOOT / 24 + 1e-6)
        assert "Nothing recorded here clears the dig." in page
    assert all(name in text for name in lines["line_id"])

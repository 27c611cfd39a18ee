"""One job in every kind of file: what is read, and what is found, is the same."""

from __future__ import annotations

import warnings

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

import leakgeo
from leakgeo.errors import JobError
from leakgeo.job.read import read_job
from leakgeo.job.schema import CUT_NAMES_MARK
from tests.job import foreign, jobs

PLACES = {
    "gpx": '[readings]\nfile = "Stops.gpx"\nlayer = "waypoints"',
    "csv": '[readings]\nfile = "Stops.csv"\nx = "X"\ny = "Y"\ncrs = "EPSG:2277"',
}


def geopackage(folder):
    path = folder / "city.gpkg"
    pyogrio.write_dataframe(foreign.mains(), path, layer="WaterMains")
    pyogrio.write_dataframe(foreign.stops(), path, layer="Stops")
    return path, foreign.MAPPING


def file_geodatabase(folder):
    path = folder / "city.gdb"
    for name, table in {"WaterMains": foreign.mains(), "Stops": foreign.stops()}.items():
        pyogrio.write_dataframe(table, path, layer=name, driver="OpenFileGDB",
                                append=path.exists())  # fmt: skip
    return path, foreign.MAPPING


def files(ending, **options):
    def write(folder):
        for name, table in {"WaterMains": foreign.mains(), "Stops": foreign.stops()}.items():
            crs = 4326 if ending == "geojson" else foreign.FEET
            pyogrio.write_dataframe(table.to_crs(crs), folder / f"{name}.{ending}", **options)
        return folder, foreign.MAPPING

    return write


def geoparquet(folder):
    foreign.mains().to_parquet(folder / "WaterMains.parquet")
    foreign.stops().to_parquet(folder / "Stops.parquet")
    return folder, foreign.MAPPING


def csv(folder):
    foreign.mains().to_file(folder / "WaterMains.shp")
    foreign.with_coordinates(foreign.stops()).to_csv(folder / "Stops.csv", index=False)
    return folder, foreign.MAPPING.replace('[readings]\nlayer = "Stops"', PLACES["csv"])


def gpx(folder):
    foreign.mains().to_file(folder / "WaterMains.shp")
    # GPX 1.1 has no fields of one's own but as extensions, which OGR writes in its own namespace.
    table = foreign.stops(crs=4326).rename(columns={"STOP": "name"})
    pyogrio.write_dataframe(table, folder / "Stops.gpx", layer="waypoints", driver="GPX",
                            dataset_options={"GPX_USE_EXTENSIONS": "YES"})  # fmt: skip
    mapping = foreign.MAPPING.replace('[readings]\nlayer = "Stops"', PLACES["gpx"])
    head, _, tail = mapping.partition("[readings.columns]")
    for name in ("FACILITYID", "LOUD", "OK", "TAKEN", "GRND"):
        tail = tail.replace(f'"{name}"', f'"ogr_{name}"')
    return folder, f"{head}[readings.columns]{tail}".replace('"STOP"', '"name"')


WAYS = {
    "GeoPackage": geopackage, "File Geodatabase": file_geodatabase, "Shapefile": files("shp"),
    "GeoJSON": files("geojson"), "FlatGeobuf": files("fgb"), "GeoParquet": geoparquet, "CSV": csv,
    "GPX": gpx,
}  # fmt: skip


def read(folder, way):
    source, mapping = way(folder)
    (folder / "map.toml").write_text(mapping, encoding="utf-8")
    return read_job(source, mapping=folder / "map.toml")


@pytest.fixture(scope="module")
def mark(tmp_path_factory):
    """Locate on the same job kept in the contract's own terms."""
    routes = foreign.mains().rename(columns={"FACILITYID": "line_id"})
    routes = routes.assign(
        depth_m=[3 * foreign.FOOT, np.nan], diameter_mm=[6 * foreign.INCH, 0.75 * foreign.INCH],
        pressure_kpa=[60 * foreign.PSI, np.nan], material=["ductile_iron", "copper"],
    )  # fmt: skip
    names = {"STOP": "reading_id", "FACILITYID": "line_id", "LOUD": "sound_level"}
    readings = foreign.stops().rename(columns=names)
    readings = readings.assign(
        sound_unit="db", walk_id="W", set_aside=readings["OK"] == "bad",
        surface=readings["GRND"].map({"T": "grass", "BT": "asphalt"}),
    )  # fmt: skip
    path = tmp_path_factory.mktemp("own") / "job.gpkg"
    pyogrio.write_dataframe(routes, path, layer="routes")
    pyogrio.write_dataframe(readings, path, layer="readings")
    return leakgeo.locate(path)["marks"].iloc[0]


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_a_job_is_the_same_in_every_kind_of_file(tmp_path, way, mark):
    job = read(tmp_path, way)
    foreign.check(job)
    found = leakgeo.locate(job)["marks"].iloc[0]
    # Degrees in GeoJSON and GPX are rounded at about a centimetre.
    assert found["chainage_m"] == pytest.approx(mark["chainage_m"], abs=0.11)
    assert found["probability_within_1ft"] == pytest.approx(
        mark["probability_within_1ft"], abs=0.02
    )


def test_what_was_read_leaves_no_trace(tmp_path):
    source, mapping = csv(tmp_path)
    (tmp_path / "map.toml").write_text(mapping)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    job = read_job(source, mapping=tmp_path / "map.toml")
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    assert job.mapping == "map.toml"
    assert len(job.mapping_digest) == 64


def test_usual_names_of_coordinates_are_found_and_bad_ones_told(tmp_path):
    table = foreign.with_coordinates(foreign.stops()).astype({"X": object})
    table.loc[3, "X"] = "n/k"
    foreign.mains().to_file(tmp_path / "WaterMains.shp")
    table.to_csv(tmp_path / "Stops.csv", index=False)
    crs = '[readings]\nlayer = "Stops"\ncrs = "EPSG:2277"'
    text = foreign.MAPPING.replace('[readings]\nlayer = "Stops"', crs)
    (tmp_path / "map.toml").write_text(text)
    job = read_job(tmp_path, mapping=tmp_path / "map.toml")
    assert job.readings["reason"].notna().sum() == 2
    (fault,) = [f for f in job.faults if f.code == "coordinates_no_numbers"]
    assert dict(fault.reason.values) == {"texts": 1, "some": "n/k"}
    assert job.readings.geometry[0].distance(job.routes.geometry[0]) < 0.01


def test_parts_of_a_layer_are_put_together_in_one_crs(tmp_path):
    path, mapping = geopackage(tmp_path)
    line = foreign.mains()[["geometry"]].assign(NO=[1, 2])
    pyogrio.write_dataframe(line.iloc[:1].to_crs(4326), path, layer="Gas")
    pyogrio.write_dataframe(line.iloc[1:].to_crs(foreign.METRES), path, layer="Power")
    mapping += """
[[utilities]]
layer = "Gas"
columns = { utility_id = "NO", kind = { value = "gas_oil_steam" } }
[[utilities]]
layer = "Power"
[utilities.columns]
utility_id = "NO"
kind = { value = "electric" }
"""
    (tmp_path / "map.toml").write_text(mapping)
    job = read_job(path, mapping=tmp_path / "map.toml")
    assert job.utilities["kind"].tolist() == ["gas_oil_steam", "electric"]
    assert job.utilities["utility_id"].tolist() == ["1", "2"]
    assert job.utilities.length.tolist() == pytest.approx(job.routes.length.tolist(), rel=1e-6)
    assert any(f.code == "parts_in_several_crs" for f in job.faults)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_xml_that_declares_entities_is_refused(tmp_path, encoding):
    text = '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx/>'
    (tmp_path / "stops.gpx").write_bytes(text.encode(encoding))
    with pytest.raises(JobError, match="XML entities"):
        read_job(tmp_path / "stops.gpx")


def test_parquet_that_is_none_and_a_table_without_geometry(tmp_path):
    source, mapping = geoparquet(tmp_path)
    pd.DataFrame(foreign.with_coordinates(foreign.stops())).to_parquet(source / "Stops.parquet")
    text = mapping.replace('[readings]\nlayer = "Stops"',
                           '[readings]\nlayer = "Stops"\ncrs = "EPSG:2277"')  # fmt: skip
    (tmp_path / "map.toml").write_text(text)
    foreign.check(read_job(source, mapping=tmp_path / "map.toml"))
    (source / "Stops.parquet").write_bytes(b"PAR1 no more")
    with pytest.raises(JobError):
        read_job(source, mapping=tmp_path / "map.toml")


def test_a_crs_is_given_to_a_layer_that_has_none(tmp_path):
    path, mapping = geopackage(tmp_path)
    bare = gpd.GeoDataFrame(foreign.stops()).set_crs(None, allow_override=True)
    with pytest.warns(UserWarning, match="crs"):
        pyogrio.write_dataframe(bare, path, layer="Stops")
    text = mapping.replace('layer = "Stops"', 'layer = "Stops"\ncrs = "EPSG:2277"')
    (tmp_path / "map.toml").write_text(text)
    foreign.check(read_job(path, mapping=tmp_path / "map.toml"))


def shapefiles(folder):
    """Write a job as Shapefiles: their columns' names end after ten letters."""
    folder.mkdir(exist_ok=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        jobs.routes(diameter_mm=25.0).to_file(folder / "routes.shp")
        jobs.readings().to_file(folder / "readings.shp")
    return folder


def test_names_that_a_shapefile_cuts_off_are_taken_by_their_beginnings(tmp_path):
    job = read_job(shapefiles(tmp_path))
    assert job.readings["sound_level"].tolist() == jobs.readings()["sound_level"].tolist()
    assert job.routes["diameter_mm"].tolist() == [25.0, 25.0]
    told = [f for f in job.faults if "cut off" in f.problem]
    assert {f.layer for f in told} == {"routes", "readings"}
    assert "diameter_m as diameter_mm" in str(told[0])


def test_a_beginning_is_taken_from_a_shapefile_alone(tmp_path):
    cut = jobs.readings().rename(columns={"sound_level": "sound_leve"})
    job = jobs.read(tmp_path, readings=cut)
    assert job.readings["reason"].str.contains("has no such column").all()


def test_a_beginning_is_taken_from_a_layer_that_a_gis_marks_as_one_of_a_shapefile(tmp_path):
    cut = jobs.readings().rename(columns={"sound_level": "sound_leve"})
    path, mark = tmp_path / "job.gpkg", {"DESCRIPTION": CUT_NAMES_MARK}
    pyogrio.write_dataframe(jobs.routes(), path, layer="routes")
    pyogrio.write_dataframe(cut, path, layer="readings", layer_options=mark)
    job = read_job(path)
    assert job.readings["sound_level"].tolist() == jobs.readings()["sound_level"].tolist()
    assert {f.layer for f in job.faults if "cut off" in f.problem} == {"readings"}


@pytest.mark.parametrize("part", [".shx", ".dbf"])
def test_a_part_of_a_shapefile_that_was_left_behind_is_named(tmp_path, part):
    (shapefiles(tmp_path) / f"readings{part}").unlink()
    with pytest.raises(JobError) as refused:
        read_job(tmp_path)
    assert f"readings{part} is missing beside it" in " ".join(map(str, refused.value.faults))


def test_spaces_in_the_names_of_columns_are_no_other_names(tmp_path):
    named = {"sound_level": "Sound Level", "sound_unit": "SOUND-UNIT", "reading_id": "Reading Id"}
    job = jobs.read(tmp_path, readings=jobs.readings().rename(columns=named))
    assert job.readings["reason"].isna().all()


def test_what_a_reader_says_in_its_own_words_is_not_passed_on(tmp_path):
    broken = jobs.routes()
    xy = shapely.get_coordinates(broken.geometry.iloc[1])
    xy[0] = np.nan
    with np.errstate(invalid="ignore"):
        broken.loc[1, "geometry"] = shapely.linestrings(xy)
        path = jobs.write(tmp_path / "job.gpkg", routes=broken)
    job = read_job(path)
    told = [f for f in job.faults if f.layer == "routes"]
    assert [f.problem for f in told] == ["A coordinate is not a finite number."]

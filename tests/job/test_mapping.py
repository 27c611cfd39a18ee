"""A mapping: what it converts, and every mistake in it told at once with its line."""

from __future__ import annotations

import re
import tomllib
from contextlib import suppress
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.conversion import UNITS_BY_KIND
from leakgeo.errors import JobError
from leakgeo.job.mapping.load import load_mapping
from leakgeo.job.mapping.model import line_of
from leakgeo.job.mapping.times import read_times
from leakgeo.job.mapping.values import factor
from leakgeo.job.read import read_job
from tests.job import foreign
from tests.job.test_sources import geopackage

# To metres, kilopascals and litres: NIST SP 811 (2008), appendix B.8, as printed there; kgal, ccf
# and yards follow from them by definition.
PUBLISHED = {
    "length": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "in": 2.54e-2, "ft": 3.048e-1,
               "us_survey_ft": 3.048006e-1, "yd": 9.144e-1},
    "area": {"m2": 1.0, "ft2": 9.290304e-2},
    "pressure": {"kpa": 1.0, "pa": 1e-3, "mpa": 1e3, "bar": 1e2, "mbar": 1e-1, "atm": 1.01325e2,
                 "psi": 6.894757, "m_head": 9.80665, "ft_head": 2.989067},
    "volume": {"l": 1.0, "m3": 1e3, "gal": 3.785412, "kgal": 3785.412, "imperial_gal": 4.54609,
               "ft3": 28.31685, "ccf": 2831.685},
    "level": {"db": 1.0},
}  # fmt: skip


@pytest.mark.parametrize("kind", PUBLISHED)
def test_factors_are_those_of_a_published_table(kind):
    assert PUBLISHED[kind].keys() == UNITS_BY_KIND[kind].keys()
    base = next(iter(UNITS_BY_KIND[kind]))
    for unit, printed in PUBLISHED[kind].items():
        assert factor(unit, base) == pytest.approx(printed, rel=2e-7), unit
        assert factor(base, unit) == pytest.approx(1 / printed, rel=2e-7), unit


def test_feet_of_both_kinds_are_told_apart():
    """1200/3937 m by the Mendenhall order of 1893; 0.3048 m since 1959."""
    assert factor("US survey foot", "m") == pytest.approx(1200 / 3937, rel=1e-15)
    assert factor("ft", "m") == 0.3048
    assert factor("foot", "kPa") is None


def refused(folder, text):
    """Give the faults of a mapping that can't be used, on the job of `foreign`."""
    path, _ = geopackage(folder)
    (folder / "map.toml").write_text(text, encoding="utf-8")
    with pytest.raises(JobError) as caught:
        read_job(path, mapping=folder / "map.toml")
    for fault in caught.value.faults:
        assert fault.problem.endswith(".")
        assert fault.what_to_do
    return [f for f in caught.value.faults if f.layer == "mapping"]


MISTAKES = {
    "[route]\nlayer = 'A'": (1, "Did you mean routes?"),
    "[routes]\nlayers = 'A'": (2, "Did you mean layer?"),
    "[routes]\ndepth_m = 'A'": (2, "Put it under [routes.columns]"),
    "[routes.columns]\ndepht_m = 'A'": (2, "Did you mean depth_m?"),
    "[routes.columns]\ndepth_m = 3": (2, "{ value = ... }"),
    "[routes.columns]\ndepth_m = { unit = 'ft' }": (2, "either column or value"),
    "[routes.columns]\ndepth_m = { column = 'A', value = 2 }": (2, "either column or value"),
    "[routes.columns]\ndepth_m = { column = 'A', units = 'ft' }": (2, "Did you mean unit?"),
    "[routes.columns]\ndepth_m = { column = 'A', unit = 'psi' }": (2, "Use one of: m, mm"),
    "[routes.columns]\nmaterial = { column = 'A', unit = 'ft' }": (2, "the column has none"),
    "[routes.columns]\nmaterial = { value = 'wood' }": (2, "Use one of: copper"),
    "[routes.columns]\ndepth_m = { value = 'deep' }": (2, "Give a number"),
    "[readings.columns]\nset_aside = { value = 'yes' }": (2, "true or false"),
    "[routes.columns.material]\ncolumn = 'M'\n[routes.columns.material.values]\nA = 'pvc'\n"
    "'B.1' = 'coper'": (5, "Did you mean copper?"),
    "[readings.columns]\ntime = { column = 'T', date_format = 'MM/DD/YYYY' }": (2, "%m/%d/%Y"),
    "[readings.columns]\ntime = { column = 'T', time_zone = 'Central' }": (2, "America/Chicago"),
    "[readings.columns]\nline_id = { column = 'T', date_format = '%Y' }": (2, "is not a time"),
    "[readings.columns]\nline_id = { column = 'T', missing = 'x' }": (2, "not a list"),
    "time_zone = 'Moon'": (1, "not a time zone"),
    "[routes]\ncrs = 'EPSG:0'": (2, "EPSG:2277"),
    "[routes]\nx = 'X'\ny = 'Y'": (2, "does not hold points"),
    "[readings]\nx = 'X'": (1, "Only one of x and y"),
    "routes = 3": (1, "[routes]"),
    "routes = false": (1, "[routes]"),
    "[meter_tests.columns]\nstart_reading = { column = 'A', unit = 'gal' }": (2, "volume_unit"),
    "[[utilities]]\nlayer = 'A'\n[[utilities]]\nlayer = 'B'\ncrs = 1": (5, "crs"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "told"), MISTAKES.items())
def test_a_mistake_names_its_line_and_the_remedy(tmp_path, text, told):
    line, words = told
    faults = [f for f in refused(tmp_path, text) if words in str(f)]
    assert [f.feature for f in faults] == [f"map.toml, line {line}"]


def test_all_mistakes_come_at_once(tmp_path):
    text = foreign.MAPPING.replace('"BURY_FT"', '"BURRY"').replace('unit = "in"', 'unit = "psi"')
    text = text.replace('value = "db"', 'value = "loud"').replace("TAKEN", "TAKE")
    lines = [int(f.feature.rpartition(" ")[2]) for f in refused(tmp_path, text)]
    wanted = ("BURRY", 'unit = "psi" }', "loud", "TAKE")
    assert sorted(lines) == [n for n, line in enumerate(text.split("\n"), 1)
                             if any(w in line for w in wanted) and "PRES" not in line]  # fmt: skip


MISFITS = {
    ('layer = "WaterMains"', 'layer = "Watermain"'): (4, "Did you mean WaterMains?"),
    ('"BURY_FT"', '"BURRY_FT"'): (8, "Did you mean BURY_FT?"),
    ('layer = "Stops"', 'layer = "Stops"\ncrs = "EPSG:4326"'): (20, "CRS of its own"),
    ('layer = "Stops"', 'layer = "Stops"\nx = "LOUD"\ny = "LOUD"'): (20, "has geometry already"),
    ('layer = "Stops"', 'file = "Stops.csv"'): (19, "no such file"),
    ('layer = "Stops"', 'file = "../Stops.csv"'): (19, "not in the folder"),
    ('layer = "Stops"', 'file = "/vsicurl/http://example.org/a.csv"'): (19, "not in the folder"),
}  # fmt: skip


@pytest.mark.parametrize(("change", "told"), MISFITS.items(), ids=lambda v: str(v[1])[:30])
def test_what_is_not_in_the_source_names_its_line(tmp_path, change, told):
    (fault,) = refused(tmp_path, foreign.MAPPING.replace(*change))
    assert fault.feature == f"map.toml, line {told[0]}"
    assert told[1] in str(fault)


def test_misfits_of_several_layers_come_at_once(tmp_path):
    text = foreign.MAPPING.replace('"MAT"', '"MATT"').replace('"LOUD"', '"LOUDER"')
    text = text.replace('"PRES_PSI"', '"PRESS"')
    assert len(refused(tmp_path, text)) == 3


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"[routes\n", "line 1"),
        (b"[routes]\nlayer = \n", "line 2"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"a = " + b"[" * 5000 + b"]" * 5000, ""),
        (b"a = " + b"9" * 9000, ""),
    ],
)
def test_a_file_that_is_no_toml(tmp_path, content, words):
    (tmp_path / "map.toml").write_bytes(content)
    with pytest.raises(JobError, match=r"map\.toml") as caught:
        load_mapping(tmp_path / "map.toml")
    assert words in str(caught.value)


def test_a_mapping_that_is_not_there(tmp_path):
    with pytest.raises(JobError, match="Check the path"):
        load_mapping(tmp_path / "map.toml")


def test_a_byte_order_mark_and_the_line_ends_of_windows_are_fine(tmp_path):
    path, text = geopackage(tmp_path)
    (tmp_path / "map.toml").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    foreign.check(read_job(path, mapping=tmp_path / "map.toml"))


def mapped(folder, text=foreign.MAPPING, **layers):
    """Read the job of `foreign` with other layers."""
    path = folder / "city.gpkg"
    for name, table in {
        "WaterMains": foreign.mains(), "Stops": foreign.stops(), **layers
    }.items():  # fmt: skip
        pyogrio.write_dataframe(table, path, layer=name)
    (folder / "map.toml").write_text(text, encoding="utf-8")
    return read_job(path, mapping=folder / "map.toml")


def test_values_that_nothing_covers_are_listed_with_their_count(tmp_path):
    stops = foreign.stops()
    stops["GRND"] = ["T", "XX", "XX", "Y", "grass", None] * 2
    job = mapped(tmp_path, Stops=stops)
    (fault,) = [f for f in job.faults if f.code == "values_not_covered"]
    assert fault.problem == "Values of GRND are not covered by the mapping: XX (4), Y (2)."
    assert (
        fault.feature
        == f"map.toml, line {line_of(foreign.MAPPING, ['readings', 'columns', 'surface'])}"
    )
    assert fault.effect == "noted"
    counts = job.readings["surface"].value_counts(dropna=False).to_dict()
    assert counts == {"unknown": 6, "grass": 4, None: 2}


def test_text_that_is_no_number_is_told_as_it_was(tmp_path):
    mains = foreign.mains().assign(BURY_FT=["deep", "4.5"])
    job = mapped(tmp_path, WaterMains=mains)
    assert job.routes["depth_m"].tolist()[1] == pytest.approx(4.5 * foreign.FOOT)
    assert np.isnan(job.routes["depth_m"].tolist()[0])
    assert any(f.value == "deep" and f.column == "depth_m" for f in job.faults)


def test_fractions_of_an_inch_come_by_their_values(tmp_path):
    mains = foreign.mains().assign(DIAM_IN=["3/4", "1-1/2"])
    text = foreign.MAPPING.replace(
        '{ column = "DIAM_IN", unit = "in" }',
        '{ column = "DIAM_IN", unit = "in", values = { "3/4" = 0.75, "1-1/2" = 1.5 } }',
    )
    assert mapped(tmp_path, text, WaterMains=mains).routes["diameter_mm"].tolist() == (
        pytest.approx([19.05, 38.1])
    )


def test_a_constant_is_converted_too(tmp_path):
    text = foreign.MAPPING.replace('{ column = "PRES_PSI"', "{ value = 50")
    routes = mapped(tmp_path, text).routes
    assert routes["pressure_kpa"].tolist() == pytest.approx([50 * foreign.PSI] * 2)


def test_a_column_of_the_same_name_and_another_meaning_is_left_out(tmp_path):
    stops = foreign.stops().assign(gain_db=7.0)
    assert mapped(tmp_path, Stops=stops).readings["gain_db"].eq(7).all()
    text = foreign.MAPPING.replace("[readings.columns]", "[readings.columns]\ngain_db = false")
    assert mapped(tmp_path, text, Stops=stops).readings["gain_db"].isna().all()


def test_a_layer_of_the_same_name_and_another_meaning_is_left_out(tmp_path):
    other = foreign.mains()
    assert mapped(tmp_path, utilities=other).utilities is not None
    assert mapped(tmp_path, "utilities = false\n" + foreign.MAPPING).utilities is None


def test_columns_that_are_not_used_are_told(tmp_path):
    job = mapped(tmp_path, Stops=foreign.stops().assign(CREW="A"))
    assert any("CREW" in f.value and f.layer == "readings" for f in job.faults)


def test_hundreds_of_cubic_feet_into_the_unit_of_the_meter(tmp_path):
    tests = pd.DataFrame({"L": ["L1"], "A": [10.0], "B": [10.5], "S": ["2025-03-31T08:00Z"],
                          "E": ["2025-03-31T10:00Z"]})  # fmt: skip
    text = (
        foreign.MAPPING
        + """
[meter_tests]
layer = "Tests"
columns.line_id = "L"
columns.start_reading = { column = "A", unit = "ccf" }
columns.end_reading = { column = "B", unit = "ccf" }
columns.start_time = "S"
columns.end_time = "E"
columns.volume_unit = { value = "ft3" }
"""
    )
    job = mapped(tmp_path, text, Tests=tests)
    assert job.meter_tests["end_reading"].tolist() == pytest.approx([1050.0])
    assert job.meter_tests["reason"].isna().all()


@pytest.mark.parametrize(
    ("values", "form", "told"),
    [
        ([1743429900], "unix", "2025-03-31T14:05:00+00:00"),
        ([1743429900000.0], "unix_ms", "2025-03-31T14:05:00+00:00"),
        (["31.03.2025 14:05"], "%d.%m.%Y %H:%M", "2025-03-31T14:05:00-05:00"),
        (["2025-03-31 14:05"], None, "2025-03-31T14:05:00-05:00"),
        (["2025-03-31 14:05+02"], None, "2025-03-31 14:05+02"),
        (["31 Mar 25 14:05 +0100"], "%d %b %y %H:%M %z", "2025-03-31T13:05:00+00:00"),
        # Clocks in Chicago showed 1:30 twice that day, and never 2:30 this one.
        (["2025-11-02 01:30"], None, "2025-11-02 01:30"),
        (["2025-03-09 02:30"], None, "2025-03-09 02:30"),
        (["soon"], "%d.%m.%Y", "soon"),
        ([None], "%d.%m.%Y", None),
        ([pd.Timestamp("2025-03-31T14:05")], None, "2025-03-31T14:05:00-05:00"),
    ],
)
def test_times_in_their_own_form(values, form, told):
    assert read_times(pd.Series(values), form, foreign.ZONE).tolist() == [told]


TOML_KEYS = st.sampled_from([
    "routes", "readings", "columns", "layer", "file", "crs", "x", "line_id", "depth_m", "material",
    "time", "column", "value", "unit", "values", "missing", "date_format", "time_zone", "utilities",
])  # fmt: skip
TOML_VALUES = st.recursive(
    st.sampled_from(["ft", "EPSG:4326", "%Y", "%", "UTC", "copper", "../x", "", "WaterMains"])
    | st.integers(-(2**63), 2**63 - 1) | st.booleans() | st.floats(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TOML_KEYS, inner, max_size=4),
    max_leaves=25,
)  # fmt: skip


def as_toml(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {as_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


def test_the_mapping_of_the_documentation_has_no_mistake(tmp_path):
    page = (Path(__file__).parents[2] / "data_schemas" / "MAPPING.md").read_text("utf-8")
    (text,) = re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL)
    (tmp_path / "map.toml").write_text(text, encoding="utf-8")
    mapping = load_mapping(tmp_path / "map.toml")
    assert not mapping.faults
    assert set(mapping.layers) == {"routes", "readings", "utilities"}


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("any")
    geopackage(folder)
    return folder


@given(st.text() | st.dictionaries(TOML_KEYS, TOML_VALUES, max_size=4))
def test_no_text_of_a_mapping_gives_a_traceback(place, said):
    if isinstance(said, dict):
        said = "\n".join(f"{k} = {as_toml(v)}" for k, v in said.items())
    (place / "map.toml").write_bytes(said.encode("utf-8", "surrogatepass"))
    # Whatever else it raised would fail the test.
    with suppress(JobError):
        read_job(place / "city.gpkg", mapping=place / "map.toml")


@given(st.lists(TOML_KEYS, min_size=1, max_size=3, unique=True), st.integers(0, 20))
def test_a_key_is_found_in_its_line(keys, before):
    *tables, last = keys
    head = f"[{'.'.join(tables)}]\n" if tables else ""
    text = "# x = 1\n" * before + head + f'# {last} = 1\n"{last}" = 2\n'
    tomllib.loads(text)
    assert line_of(text, keys) == before + bool(tables) + 2


def spreadsheet(folder, change="decimal = ','\n"):
    """A folder whose stops are a table with semicolons and decimal commas, and a mapping."""
    foreign.mains().to_file(folder / "WaterMains.geojson")
    stops = foreign.with_coordinates(foreign.stops())
    stops.to_csv(folder / "Stops.csv", index=False, sep=";", decimal=",")
    places = 'file = "Stops.csv"\nx = "X"\ny = "Y"\ncrs = "EPSG:2277"'
    text = change + foreign.MAPPING.replace('layer = "Stops"', places)
    (folder / "map.toml").write_text(text, encoding="utf-8")
    return read_job(folder, mapping=folder / "map.toml")


def test_decimal_commas(tmp_path):
    job = spreadsheet(tmp_path)
    foreign.check(job)
    np.testing.assert_allclose(job.readings["sound_level"], foreign.stops()["LOUD"], rtol=1e-9)


def test_decimal_commas_that_nobody_told_of(tmp_path):
    job = spreadsheet(tmp_path, "")
    assert job.readings["reason"].notna().all()
    assert any(f.code == "coordinates_no_numbers" for f in job.faults)


def test_what_has_both_point_and_comma_is_told(tmp_path):
    spreadsheet(tmp_path)
    text = (tmp_path / "Stops.csv").read_text()
    (tmp_path / "Stops.csv").write_text(
        re.sub(r"^(R3;L1;)\d+,", r"\g<1>1.041,", text, flags=re.MULTILINE)
    )
    job = read_job(tmp_path, mapping=tmp_path / "map.toml")
    (told,) = (f for f in job.faults if f.feature == "R3")
    assert "sound_level is not a finite number: 1.041," in told.problem


def test_a_decimal_mark_that_is_none(tmp_path):
    with pytest.raises(JobError) as caught:
        spreadsheet(tmp_path, 'decimal = ";"\n')
    assert any("decimal is neither a point nor a comma" in str(f) for f in caught.value.faults)

"""The draft of a mapping: it loads as it stands, and guesses nothing that it does not say."""

from __future__ import annotations

import shutil
import tomllib

import pandas as pd
import pyogrio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.deliver.folder.atomic import write_new
from leakgeo.errors import OutputError
from leakgeo.job.mapping.draft import draft_columns, draft_mapping
from leakgeo.job.mapping.guess import column_score, guess_code
from leakgeo.job.mapping.load import load_mapping
from leakgeo.job.model import LAYERS
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schema, load_schemas
from leakgeo.job.sources.layers import RawLayer
from tests.job import foreign
from tests.job.test_sources import WAYS
from tests.test_cli import leakgeo_command
from tests.town import TOWN


def drafted(folder, source):
    text = draft_mapping(source)
    (folder / "draft.toml").write_text(text, encoding="utf-8")
    mapping = load_mapping(folder / "draft.toml")
    assert not mapping.faults
    return text, mapping


def city(folder, **layers):
    path = folder / "city.gpkg"
    tables = {"WaterMains": foreign.mains(), "Stops": foreign.stops(), **layers}
    for name, table in tables.items():
        pyogrio.write_dataframe(table, path, layer=name)
    return path


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_a_draft_loads_as_it_stands(tmp_path, way):
    source, _ = way(tmp_path)
    text, mapping = drafted(tmp_path, source)
    assert "routes" in mapping.layers
    assert "Stops" in text


def test_a_job_of_the_contract_is_drafted_as_it_is(tmp_path):
    _, mapping = drafted(tmp_path, TOWN)
    job, plain = read_job(TOWN, mapping=tmp_path / "draft.toml"), read_job(TOWN)
    for name in LAYERS:
        if getattr(plain, name) is not None:
            pd.testing.assert_frame_equal(getattr(job, name), getattr(plain, name))
    assert {"utility_lines", "history_points"} <= mapping.layers.keys()
    assert len(mapping.layers) >= 7


def test_names_units_codes_and_dates_are_found(tmp_path):
    text, _ = drafted(tmp_path, city(tmp_path))
    table = tomllib.loads(text)
    routes, readings = table["routes"]["columns"], table["readings"]["columns"]
    assert routes["line_id"] == "FACILITYID"
    assert routes["depth_m"] == {"column": "BURY_FT", "unit": "ft"}
    assert routes["diameter_mm"] == {"column": "DIAM_IN", "unit": "in"}
    assert routes["pressure_kpa"] == {"column": "PRES_PSI", "unit": "psi"}
    assert routes["material"] == {"column": "MAT", "values": {"DIP": "ductile_iron"}}
    assert readings["time"] == {"column": "TAKEN", "date_format": "%m/%d/%Y %I:%M %p"}
    assert readings["set_aside"] == {"column": "OK", "values": {"good": False, "bad": True}}
    assert '# "CU/K" = ""' in text
    assert "# sound_unit" in text


def test_what_is_in_doubt_does_nothing(tmp_path):
    """A depth in an unknown unit must not become metres by silence."""
    mains = foreign.mains().rename(columns={"BURY_FT": "DEPTH"})
    stops = foreign.stops().assign(TAKEN="03/04/2025 10:00")
    text, _ = drafted(tmp_path, city(tmp_path, WaterMains=mains, Stops=stops))
    assert "depth_m" not in tomllib.loads(text)["routes"]["columns"]
    assert (
        '# depth_m = { column = "DEPTH", unit = "m" }  # in which unit? values from -99 to 3'
        in text
    )
    assert "time" not in tomllib.loads(text)["readings"]["columns"]
    assert "or %d/%m/%Y %H:%M" in text


def test_an_identifier_whose_values_repeat_is_refused_with_the_reason(tmp_path):
    """A column READING may be the level."""
    stops = foreign.stops(4).drop(columns="STOP").assign(READING=[41, 44, 41, 41])
    text, _ = drafted(tmp_path, city(tmp_path, Stops=stops))
    assert "reading_id" not in tomllib.loads(text)["readings"]["columns"]
    assert (
        '# reading_id = "READING"  # its values repeat: 2 in 4 rows; each row needs its own'
    ) in text


@pytest.mark.parametrize(("name", "unit"), [("TAPE_FT", "ft"), ("TAPE_M", "m"), ("TAPE", None)])
def test_the_unit_of_a_tape_is_that_at_the_end_of_its_name(tmp_path, name, unit):
    stops = foreign.stops(4).assign(**{name: [1.0, 2.0, 3.0, 4.0]})
    text, _ = drafted(tmp_path, city(tmp_path, Stops=stops))
    columns = tomllib.loads(text)["readings"]["columns"]
    assert columns["tape"] == name
    assert columns.get("tape_unit") == (unit and {"value": unit})


def test_a_polybutylene_pipe_is_not_taken_for_lead():
    assert guess_code("PB", load_schema("routes").field("material").codes) is None


def test_utilities_of_several_layers_by_their_names(tmp_path):
    line = foreign.mains()[["FACILITYID", "geometry"]]
    text, mapping = drafted(tmp_path, city(tmp_path, GasMains=line, ElectricDuct=line, Parcel=line))
    kinds = [c.value for part in mapping.layers["utilities"] for c in part.columns if c.value]
    assert sorted(kinds) == ["electric", "gas"]
    assert "nothing was made of: Parcel" in text


def left_out(job):
    return [dict(f.reason.values) for f in job.faults if f.code == "layers_not_used"]


def test_a_layer_that_is_not_used_is_noted_and_louder_if_it_may_be_a_utility(tmp_path):
    """A hold that is missing since nobody named the electric layer is worse than a note."""
    line = foreign.mains()[["FACILITYID", "geometry"]]
    path = city(tmp_path, GasMains=line, Elec=line, Parcel=line, Buried=line.assign(VOLTAGE=13))
    text = f"{foreign.MAPPING}\n[utilities]\nlayer = 'GasMains'\n[utilities.columns]\n"
    (tmp_path / "map.toml").write_text(f"{text}kind = {{ value = 'gas' }}\n")
    (said,) = left_out(read_job(path, mapping=tmp_path / "map.toml"))
    assert said["layers"] == ("Buried", "Elec", "Parcel")
    assert said["utilities"] == ("Buried", "Elec")
    checked = leakgeo_command("check", path, "--mapping", tmp_path / "map.toml")
    assert "Buried, Elec may be utilities: no hold is made of them" in checked.stderr


def test_nothing_is_noted_where_every_layer_is_used_or_left_out_by_name(tmp_path):
    assert not left_out(read_job(TOWN))
    path = city(tmp_path, utilities=foreign.mains())
    (tmp_path / "map.toml").write_text(f"utilities = false\n{foreign.MAPPING}")
    assert not left_out(read_job(path, mapping=tmp_path / "map.toml"))


def test_unknown_layers_of_a_job_without_a_mapping_are_noted_and_results_are_not(tmp_path):
    path = tmp_path / "job.gpkg"
    shutil.copy(TOWN, path)
    roads = foreign.mains()
    for name in ("marks", "layer_of_roads"):
        pyogrio.write_dataframe(roads, path, layer=name)
    (said,) = left_out(read_job(path))
    assert (said["layers"], said["utilities"]) == (("layer_of_roads",), ())


def test_names_that_a_shapefile_cut_short_are_known():
    level = load_schema("readings").field("sound_level")
    assert column_score("sound_leve", level) == 1.0
    assert column_score("sound", level) < 1.0


@given(
    st.dictionaries(
        st.text(min_size=1, max_size=12)
        | st.sampled_from(["MAT", "DEPTH_FT", "time", "set_aside", "OK"]),
        st.text(max_size=8) | st.floats() | st.booleans() | st.none(),
        max_size=6,
    ),
    st.sampled_from(list(load_schemas("input"))),
)  # fmt: skip
def test_whatever_a_layer_holds_its_draft_is_toml(row, name):
    raw = RawLayer(pd.DataFrame([row, row]), None)
    text = "\n".join(draft_columns(load_schema(name), raw, (), {}))
    columns = tomllib.loads(text)[name]["columns"]
    assert set(columns) <= set(load_schema(name).columns)


def test_the_command_writes_a_draft_and_replaces_nothing(tmp_path):
    path, out = city(tmp_path), tmp_path / "map.toml"
    assert leakgeo_command("mapping", path, "--out", out).returncode == 0
    assert out.read_text("utf-8") == leakgeo_command("mapping", path).stdout
    again = leakgeo_command("mapping", path, "--out", out)
    assert again.returncode == 2
    assert "is there already" in again.stderr
    with pytest.raises(OutputError, match="can't be written"):
        write_new("", tmp_path / "no" / "map.toml")


def test_a_corrected_draft_runs_from_the_command_line(tmp_path):
    path = city(tmp_path)
    (tmp_path / "map.toml").write_text(foreign.MAPPING)
    checked = leakgeo_command("check", path, "--mapping", tmp_path / "map.toml")
    assert "readings: 12 read" in checked.stdout
    done = leakgeo_command(
        "locate", path, "--mapping", tmp_path / "map.toml", "--out", tmp_path / "out"
    )
    assert done.returncode == 0, done.stderr
    assert "L1  " in done.stdout


def test_the_command_line_tells_every_mistake_with_its_line(tmp_path):
    path = city(tmp_path)
    wrong = [f"z{i} = 'A'" for i in range(30)]
    (tmp_path / "map.toml").write_text(
        "\n".join(["[routes]", "layer = 'WaterMains'", "[routes.columns]", *wrong])
    )
    done = leakgeo_command("check", path, "--mapping", tmp_path / "map.toml")
    assert done.returncode == 2
    assert "the mapping has 30 mistakes" in done.stderr
    assert all(f"map.toml, line {i}:" in done.stderr for i in range(4, 34))

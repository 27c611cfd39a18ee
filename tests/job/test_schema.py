"""The schemas: valid, complete, and the same as the contract."""

import json

import frictionless
import pytest

from leakgeo.job.schema import _folder, load_schema, load_schemas
from tests.schema_tables import columns_table, layers_table

# As the data contract has it; the layers are the project's public face.
INPUT = [
    "routes", "readings", "contacts", "meter_tests", "valves", "isolation_tests", "closed_valves",
    "action_results", "utilities", "surfaces", "history", "dig_outcomes",
]  # fmt: skip
OUTPUT = [
    "lines", "evidence", "explanations", "marks", "search_zones", "next_readings", "next_actions",
    "readings_on_route", "noise_law", "walk_law", "profile", "dig_zones", "holds", "cautions",
    "conflicts", "locate_requests", "ties", "dig_alternatives", "contact_ranking",
    "survey_bracket", "district_segments", "district_steps", "air_tests", "meter_results",
    "improvements", "learned", "learned_odds", "learned_cases",
]  # fmt: skip


@pytest.mark.parametrize("name", INPUT + OUTPUT)
def test_each_schema_is_a_valid_table_schema(name):
    descriptor = json.loads((_folder() / f"{name}.json").read_text("utf-8"))
    assert not list(frictionless.Schema.metadata_validate(descriptor))
    schema = frictionless.Schema.from_descriptor(descriptor)
    assert tuple(schema.field_names) == load_schema(name).columns


def test_layers_are_those_of_the_contract():
    assert list(load_schemas("input")) == INPUT
    assert list(load_schemas("output")) == OUTPUT
    assert [s.name for s in load_schemas("input").values() if s.required] == INPUT[:2]


@pytest.mark.parametrize("schema", load_schemas().values(), ids=lambda s: s.name)
def test_columns_tell_their_unit_and_meaning(schema):
    names = [f.name for f in schema.fields]
    assert len(set(names)) == len(names)
    # A column called level collides with pandas, and one called fid vanishes on writing.
    assert not {"level", "fid", "geom", "geometry", "index"} & set(names)
    units = {"_m": "m", "_mm": "mm", "_db": "dB", "_kpa": "kPa", "_per_m": "1/m"}
    for field in schema.fields:
        assert field.description.endswith(".")
        for suffix, unit in units.items():
            if field.name.endswith(suffix) and not field.name.endswith("_per_m"):
                assert field.unit == unit, field.name


def test_codes_that_stand_in_are_codes():
    for schema in load_schemas("input").values():
        for field in schema.fields:
            assert field.unknown_code in {None, "reject", *field.codes}


def test_an_unknown_answer_still_holds_the_dig():
    assert load_schema("utilities").field("response").unknown_code == "none"


def test_docs_name_every_column():
    text = "".join(map(layers_table, ("input", "output", "product")))
    for schema in load_schemas().values():
        assert f"| `{schema.name}`" in text
        for field in schema.fields:
            assert field.name in text
            assert field.description in columns_table(schema)

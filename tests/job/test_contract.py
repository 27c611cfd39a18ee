"""What was decided of columns, codes and layers is in the schemas."""

from __future__ import annotations

import pytest

from leakgeo.job.schema import drawn_layers, load_schema, load_schemas

# Columns by layer, each with its codes where it takes some; () where any value will do.
DECIDED = {
    "routes": {"wall_mm": (), "address": (), "work_order": ()},
    "readings": {
        "set_aside": (), "chainage_m": (), "chainage_from": (), "chainage_toward": (),
        "offset_m": (),
    },
    "contacts": {
        "kind": ("pressure_reducing_valve", "pump", "backflow_preventer", "stop_valve"),
        "side": ("utility", "customer"),
    },
    "meter_tests": {"contact_id": (), "house_valve": ("open", "shut"), "water_used": ()},
    "valves": {
        "valve_id": (), "line_id": (),
        "kind": ("isolation", "curb_stop", "house", "pressure_reducing"),
        "normally_closed": (), "leaks_by": (),
    },
    "isolation_tests": {
        "test_id": (), "measured_at": (), "measure": ("meter", "flow", "pressure"), "before": (),
        "after": (), "unit": (), "start_time": (), "end_time": (), "settled": (),
    },
    "closed_valves": {"test_id": (), "valve_id": ()},
    "action_results": {
        "line_id": (), "contact_id": (), "beyond": ("start", "end"), "time": (),
        "action": ("listen_beyond", "look_inside", "find_source", "shut_fitting", "night", "probe"),
        "result": ("found", "not_found"),
    },
    "dig_outcomes": {
        "found": ("leak", "dry", "pipe_not_reached"), "exposed_from_m": (), "exposed_to_m": (),
        "repaired": (), "cause": (),
    },
    "utilities": {
        "kind": ("gas", "oil", "steam", "gas_oil_steam"), "private": ("unknown", "no", "yes"),
        "notified": (), "mark_seen": (),
    },
    "lines": {
        "leak_probability": (), "dig_rank": (), "priority": (),
        "status": ("located", "keep_listening", "ambiguous", "other_source", "beyond_end",
                   "no_leak_heard", "not_listened_to", "rejected"),
        "dig_status": ("hold", "no_hold_recorded"),
    },
    "evidence": {
        "line_id": (), "hypothesis": (), "log10_bayes_factor": (), "code": (), "values": (),
        "message": (),
        "kind": ("sound", "meter", "isolation", "air", "sweep", "dig", "action", "fitting",
                 "neighbour", "history", "prior"),
    },
    "marks": {"from_fitting": (), "from_fitting_m": (), "toward_fitting": ()},
    "search_zones": {"probability": (), "probability_leak_here": ()},
    "readings_on_route": {"level_db": (), "level_comparable_db": ()},
}  # fmt: skip
#: Names that went.
GONE = {
    "readings": ("usable",), "meter_tests": ("all_outlets_closed",),
    "readings_on_route": ("sound_level_db",), "profile": ("sound_level_db",),
    "contact_ranking": ("sound_level_db",),
}  # fmt: skip
# A column of true and false where false, or null, is the usual or the harmless answer.
FALSE_IS_HARMLESS = {
    ("readings", "set_aside"), ("meter_tests", "water_used"), ("valves", "normally_closed"),
    ("valves", "leaks_by"), ("isolation_tests", "settled"), ("dig_outcomes", "repaired"),
    ("utilities", "notified"), ("utilities", "mark_seen"),
}  # fmt: skip


@pytest.mark.parametrize("name", DECIDED)
def test_columns_and_codes_are_those_that_were_decided(name):
    schema = load_schema(name)
    for column, codes in DECIDED[name].items():
        assert column in schema.columns
        assert set(codes) <= set(schema.field(column).codes), column


def test_statuses_and_answers_have_no_other_codes():
    for layer, column in (
        ("lines", "status"),
        ("lines", "dig_status"),
        ("dig_outcomes", "found"),
        ("utilities", "private"),
        ("evidence", "kind"),
        ("valves", "kind"),
    ):
        assert set(load_schema(layer).field(column).codes) == set(DECIDED[layer][column])


def test_former_names_are_gone():
    for layer, columns in GONE.items():
        assert not set(columns) & set(load_schema(layer).columns)


def test_each_column_of_true_and_false_was_looked_at():
    """A form stores null as false: whoever adds a column here words it so that this is harmless."""
    found = {(s.name, f.name) for s in load_schemas("input").values() for f in s.fields
             if f.type == "boolean"}  # fmt: skip
    assert found == FALSE_IS_HARMLESS


def test_layers_that_are_drawn_have_one_geometry():
    drawn = drawn_layers()
    assert {"utility_lines", "utility_areas", "utility_points", "history_points",
            "history_areas"} <= set(drawn)  # fmt: skip
    for schema in drawn.values():
        assert len({t.removeprefix("Multi") for t in schema.geometry_types}) <= 1
    assert [s.name for s in drawn.values() if s.required] == ["routes", "readings"]


def test_units_end_names():
    suffixes = {"m": "_m", "dB": "_db", "kPa": "_kpa", "mm": "_mm"}
    for schema in load_schemas().values():
        for field in schema.fields:
            if field.unit in suffixes:
                assert field.name.endswith(suffixes[field.unit]), (schema.name, field.name)

"""summary.csv and faults.csv, read back as a spreadsheet and as pandas read them."""

from __future__ import annotations

import csv

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from leakgeo.deliver.folder.spreadsheets import (
    FORMULA_STARTS,
    escape_formulas,
    faults_list,
    in_units,
    summary_table,
    write_csv,
)
from leakgeo.job.schema import load_schema
from leakgeo.result import Result
from tests.deliver.fixture import as_given, holds_of
from tests.deliver.small import METRES, X0, Y0, frame, job, layers, small


def test_summary_has_a_row_a_line_with_the_mark_in_degrees():
    table = summary_table(small())
    assert table["line_id"].tolist() == ["L-1", "=L-2"]
    contract = list(load_schema("lines").columns)
    assert table.columns[: len(contract)].tolist() == contract
    lon, lat = Transformer.from_crs(METRES, 4326, always_xy=True).transform(X0, Y0 + 3)
    first = table.iloc[0]
    # From a datum that is known to some metres: five decimals, about a metre.
    assert first["longitude"] == round(lon, 5)
    assert first["latitude"] == round(lat, 5)
    assert (str(first["zones"]), first["zone_length_m"]) == ("2", 1.524)
    assert first["probability_within_1ft"] == 0.87
    assert table.iloc[1][["longitude", "latitude", "zone_length_m"]].isna().all()


def test_summary_says_what_holds_the_dig_and_keeps_the_order_of_the_contract():
    made = layers()
    digs = frame({"line_id": ["L-1"], "holds": [2]}, [None])
    holds = holds_of("L-1", [as_given("gas G-1: no answer"), as_given("no depth")])
    shuffled = made["lines"][made["lines"].columns[::-1]].assign(more=1)
    given = {**made, "lines": shuffled, "dig_zones": digs, "holds": holds}
    table = summary_table(Result(job(), given).worded())
    contract = list(load_schema("lines").columns)
    assert table.columns[: len(contract)].tolist() == contract
    assert table["holds"].tolist() == ["gas G-1: no answer; no depth", "there is no mark to dig at"]
    assert (summary_table(small())["holds"] == "the clearance was not worked out").all()
    assert table["more"].tolist() == [1, 1]


def test_us_units_are_told_by_the_names():
    table = summary_table(small(), "us")
    first = table.iloc[0]
    assert first["chainage_ft"] == 10.0  # 3.048 m
    assert first["loss_gal_per_day"] == 1000.0  # 3785.411784 l, the US gallon by definition
    assert first["zone_length_ft"] == 5.0
    assert not [c for c in table.columns if c.endswith(("_m", "_kpa", "_mm", "_l_per_day"))]
    pressure = in_units(pd.DataFrame({"pressure_kpa": [413.685]}), "us")
    assert pressure["pressure_psi"].item() == pytest.approx(60.0, abs=1e-4)  # NIST SP 811


def test_summary_of_a_result_with_nothing_made_yet_has_its_columns():
    table = summary_table(Result(job()))
    assert table.empty
    assert {"line_id", "longitude", "zone_length_m"} <= set(table.columns)


def test_file_opens_right_in_a_spreadsheet_and_in_pandas(tmp_path):
    path = tmp_path / "summary.csv"
    write_csv(summary_table(small()), path)
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")  # the mark that spreadsheets look for
    assert path.read_bytes().count(b"\r\n") == 3
    back = pd.read_csv(path)
    assert back["message"][0] == "Ünten im Hof, „hier“"
    assert back["chainage_m"][0] == 3.048
    assert back["line_id"][1] == "'=L-2"
    assert back["message"][1] == "'+1 to that"


written = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))


@given(st.lists(written, min_size=1, max_size=6))
def test_no_cell_of_text_starts_a_formula_and_nothing_else_changes(tmp_path_factory, texts):
    path = tmp_path_factory.mktemp("csv") / "t.csv"
    write_csv(pd.DataFrame({"text": texts, "n": range(len(texts))}), path)
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))[1:]
    assert [int(n) for _, n in rows] == list(range(len(texts)))
    for (cell, _), text in zip(rows, texts, strict=True):
        assert not cell.startswith(FORMULA_STARTS)
        assert cell == (f"'{text}" if text.startswith(FORMULA_STARTS) else text)


def test_numbers_are_not_defused():
    assert escape_formulas(pd.DataFrame({"a": [-1.5]}))["a"].item() == -1.5


def test_faults_of_job_and_steps_are_all_listed(tmp_path):
    from leakgeo.faults import Fault
    from leakgeo.reason import Reason

    more = Fault("utilities", Reason("utility_without_position"), "E-9", effect="noted")
    table = faults_list(Result(job(), faults=(more,)))
    assert table.columns.tolist() == ["layer", "feature", "column", "value", "code", "values",
                                      "problem", "what_to_do", "effect", "run_id"]  # fmt: skip
    assert table["feature"].tolist() == ["r3", "E-9"]
    write_csv(table, tmp_path / "faults.csv")
    assert pd.read_csv(tmp_path / "faults.csv")["value"][0] == "'-3"
    assert faults_list(Result(job(faults=()))).empty

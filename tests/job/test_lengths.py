"""Lengths typed with their unit: from text, from CSV, from a workbook, through a mapping."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pyogrio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.job.lengths import length_m
from leakgeo.job.mapping import draft_mapping
from leakgeo.job.read import read_job
from tests.job import jobs

FOOT, INCH = 0.3048, 0.0254  # NIST SP 811, appendix B.6: exact


@given(st.integers(0, 500), st.integers(0, 11), st.sampled_from([0, 1, 3, 5, 7]), st.booleans())
def test_feet_inches_and_eighths_are_read_however_they_are_written(feet, inches, eighths, minus):
    true = feet * FOOT + (inches + eighths / 8) * INCH
    part = f"{inches} {eighths}/8" if eighths else f"{inches}"
    sign = "-" if minus else ""
    for text in (f"{feet}' {part}\"", f"{feet}'-{part}\"", f"{feet} ft {part} in",
                 f"{feet}\u2032{part}\u2033",
                 f" {feet} Feet, {part} INCHES "):  # fmt: skip
        assert length_m(sign + text.strip()) == pytest.approx(-true if minus else true, abs=1e-8)


@pytest.mark.parametrize(
    "text",
    [
        "12",
        "1/2",
        "' 6\"",
        "5' of mud",
        "3 in 2 ft",
        "1/0 in",
        "1e3 ft",
        "inf ft",
        "nan m",
        "",
        "ft",
        "5' 3' 2\"",
        "1 2 ft",
        "9" * 50 + " ft",
    ],
)
def test_what_says_no_unit_or_is_no_length_is_not_read(text):
    assert length_m(text) is None


@given(st.text(max_size=12))
def test_no_text_breaks_it(text):
    found = length_m(text)
    assert found is None or np.isfinite(found)


def test_in_columns_of_metres_and_of_millimetres(tmp_path):
    routes = jobs.routes(depth_m=["3' 6\"", "1.2"], diameter_mm=["3/4 in", '6"'])
    readings = jobs.readings(chainage_m=["38' 6\"", "5'", "3 ft 2 in", "2"])
    job = jobs.read(tmp_path, routes=routes, readings=readings)
    assert job.routes["depth_m"].tolist() == pytest.approx([3.5 * FOOT, 1.2])
    assert job.routes["diameter_mm"].tolist() == pytest.approx([19.05, 152.4])
    assert job.readings["chainage_m"].tolist() == pytest.approx([11.7348, 1.524, 0.9652, 2.0])
    assert not jobs.about(job.faults, "readings", "chainage_m")


def test_from_a_table_and_a_workbook_through_a_mapping(tmp_path):
    jobs.write(tmp_path / "job.gpkg", readings=None)
    folder = tmp_path / "folder"
    folder.mkdir()
    jobs.routes().to_file(folder / "routes.gpkg")
    table = pd.DataFrame(jobs.readings().drop(columns="geometry"))
    table["TAPED"] = ["38' 6\"", "1 1/2", "3 ft 2 in", "12"]
    mapping = tmp_path / "map.toml"
    for name in ("readings.csv", "readings.xlsx"):
        for old in folder.glob("readings.*"):
            old.unlink()
        if name.endswith("csv"):
            table.to_csv(folder / name, index=False)
        else:
            pyogrio.write_dataframe(table, folder / name, driver="XLSX")
        mapping.write_text('[readings.columns]\nchainage_m = { column = "TAPED", unit = "ft" }\n')
        taped = read_job(folder, mapping=mapping).readings["chainage_m"]
        # A length that says its unit is in that, a bare number in that of the mapping.
        assert taped.tolist() == pytest.approx([38.5 * FOOT, 1.5 * FOOT, 38 * INCH, 12 * FOOT])
        drafted = draft_mapping(folder)
        assert "TAPED" in drafted


def test_a_draft_asks_for_no_unit_where_every_value_says_its_own(tmp_path):
    routes = jobs.routes(depth_m=["3' 6\"", "4 ft"]).rename(columns={"depth_m": "DEPTH"})
    path = jobs.write(tmp_path / "job.gpkg", routes=routes)
    assert 'depth_m = "DEPTH"' in draft_mapping(path)


def test_what_is_no_length_says_how_to_write_one():
    job = read_job(
        {"routes": jobs.routes(depth_m=["knee deep", "1.0"]), "readings": jobs.readings()}
    )
    [fault] = jobs.about(job.faults, "routes", "depth_m")
    assert "such as 38' 6\"" in fault.what_to_do

"""A run in another language: its messages in every product, and the same codes."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pandas as pd
import pytest
from pypdf import PdfReader
from pyproj import CRS

from leakgeo.cli.console import Console
from leakgeo.cli.document import result_content
from leakgeo.cli.summary import print_result
from leakgeo.deliver.folder.write import write_result
from leakgeo.deliver.map.write import write_map
from leakgeo.deliver.report.write import write_report
from leakgeo.deliver.views.line_view import line_views
from leakgeo.errors import ParameterError
from leakgeo.options import ALL_LINES, LANGUAGE
from leakgeo.runner.chain import run
from leakgeo.wording import languages, locales
from tests.deliver.fixture import street
from tests.deliver.test_map import PLAIN, data_in
from tests.town import TOWN, layers

HELD = "GAS U-G1 (Northlight Gas): la excavación está dentro de su zona de tolerancia"


def test_the_option_lists_the_languages_that_there_are():
    assert languages() == ("en", "es")
    assert LANGUAGE.choices == locales()
    with pytest.raises(ParameterError, match="language: 'eo' is not allowed; use one of en, es"):
        run(TOWN, "nowhere", language="eo")


def test_every_product_says_it_in_spanish(tmp_path, capsys):
    result = street()
    write_result(result, tmp_path, units="us", language="es")
    stored = layers(tmp_path / "result.gpkg")
    assert stored["holds"]["message"].str.startswith(HELD).any()
    assert (stored["holds"]["code"] == result.layers["holds"]["code"]).all()
    assert stored["lines"]["message"][0].startswith("Marca a 46 ft 7 in desde medidor C-1 hacia")
    assert stored["next_readings"]["reason"].str.startswith("junto al tramo más probable").all()
    summary = pd.read_csv(tmp_path / "summary.csv", encoding="utf-8-sig")
    assert HELD in summary["holds"][0]
    write_map(result, out=tmp_path, units="us", **{**PLAIN, "language": "es"})
    data = data_in((tmp_path / "map.html").read_text("utf-8"))
    first = data["lines"][0]
    assert first["says"] == "Marca puesta"
    assert [hold for hold in first["holds"] if hold.startswith(HELD)]
    assert (
        first["limit"]
        == "Posiciones de las lecturas poco precisas para un error menor: mida los puntos con cinta"
    )
    write_report(
        result, out=tmp_path, units="us", language="es", report_lines=None, workers=1, **ALL_LINES
    )
    pages = PdfReader(io.BytesIO((tmp_path / "report.pdf").read_bytes())).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert HELD in text
    assert "6 lines: marca puesta 2 (1 held)" in text
    print_result(Console(), result, tmp_path, "us", "es")
    assert "Marca a 46 ft 7 in desde medidor" in capsys.readouterr().out
    document = result_content(result, tmp_path, "us", [], "es")
    assert document["language"] == "es"
    assert document["lines"][0]["message"].startswith("Marca a 46 ft 7 in")
    assert document["lines"][0]["code"] == "mark"


def test_a_result_in_python_is_said_in_the_language_that_is_asked_for():
    result = street()
    assert result["lines"]["message"][0].startswith(
        "Mark 46 ft 7 in from meter C-1 toward hydrant C-1"
    )
    said = result.worded("us", "es")
    assert said["lines"]["message"][0].startswith("Marca a 46 ft 7 in")
    assert said.worded("si")["lines"]["message"][0].startswith("Mark 14.20 m")
    spanish = result.summary("us", "es")
    assert spanish["message"].iloc[0].startswith("Marca a 46 ft 7 in")
    assert re.search(r"\bdentro de su zona\b", spanish["holds"].iloc[0])
    assert result.summary("si")["message"].iloc[0].startswith("Mark 14.20 m")


@pytest.mark.parametrize(("crs", "said"), [(2263, "46 ft 7 in"), (25832, "14.20 m")])
def test_texts_are_in_the_units_of_the_job_if_none_are_selected(crs, said):
    result = street()
    result = replace(result, job=replace(result.job, output_crs=CRS(crs)))
    assert said in result["lines"]["message"][0]
    assert said in result.worded()["lines"]["message"][0]
    assert said in result.summary()["message"].iloc[0]
    assert ("chainage_ft" in result.summary()) == (crs == 2263)
    assert said in line_views(result)[0].message

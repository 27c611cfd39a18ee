"""A run in another language: its messages in every product, and the same codes."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pandas as pd
import pytest
from openpyxl import load_workbook
from pypdf import PdfReader
from pyproj import CRS

import leakgeo
from leakgeo.cli.console import Console
from leakgeo.cli.document import result_content
from leakgeo.cli.list_command import LIST
from leakgeo.cli.summary import print_result
from leakgeo.deliver.folder.write import write_result
from leakgeo.deliver.geopackage.layers import write_geopackage
from leakgeo.deliver.map.write import write_map
from leakgeo.deliver.report.write import write_report
from leakgeo.deliver.result_project.project import result_project
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.workbook.write import write_workbook
from leakgeo.dig.rules import load_rules
from leakgeo.errors import ParameterError
from leakgeo.options import ALL_LINES, LANGUAGE
from leakgeo.reason import Reason
from leakgeo.runner.chain import run
from leakgeo.wording import languages, locales, system_language, wording
from leakgeo.wording.layers import texts_of
from tests.deliver.fixture import street
from tests.deliver.test_map import PLAIN, data_in
from tests.town import TOWN, layers
from tests.wording.english import POINT, english_words

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
    assert "6 líneas: marca puesta 2 (1 detenida)" in text
    _check_cautions(data, text, result)
    write_geopackage(result.worded("us"), tmp_path / "en.gpkg")
    _check_figures(stored, layers(tmp_path / "en.gpkg"))
    write_workbook(result, tmp_path / "result.xlsx", "us", "es")
    book = load_workbook(tmp_path / "result.xlsx", read_only=True)
    cells = [str(c) for page in book for row in page.iter_rows(values_only=True) for c in row if c]
    project = result_project(result.worded("us", "es"))
    tree = ET.fromstring(project[project.index("<qgis") :])
    kinds = {"layer-tree-layer": "name", "layer-tree-group": "name", "alias": "name",
             "rule": "label", "attributeEditorContainer": "name"}  # fmt: skip
    titles = [one.get(kinds[one.tag], "") for one in tree.iter() if one.tag in kinds]
    said = [*_texts(data), *cells, *titles, *(page.extract_text() for page in pages)]
    said += [str(text) for name in _SENTENCES for text in summary[name].dropna()]
    said += pd.read_csv(tmp_path / "faults.csv", encoding="utf-8-sig")["problem"].tolist()
    assert len(said) > 300
    assert _english(said, result) == {}
    print_result(Console(), result, tmp_path, "us", "es")
    printed = capsys.readouterr().out
    assert "Marca a 46 ft 7 in desde medidor" in printed
    assert _english([printed.replace(str(tmp_path), "")], result) == {}
    document = result_content(result, tmp_path, "us", [], "es")
    assert document["language"] == "es"
    assert document["lines"][0]["message"].startswith("Marca a 46 ft 7 in")
    assert document["lines"][0]["code"] == "mark"


_SENTENCES = ("message", "advice", "held_by", "next_action", "prior", "holds", "further_marks")


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


def _english(said, result):
    """Return the English words in texts, without English cautions and data."""
    english = wording("us")
    rows = result.worded("us").layers["cautions"]["message"]
    quoted = [english.term(f"report_caution{end}") for end in ("", "_more")]
    quoted += [english.term("terminal_caution"), result.job.simulated or "", *rows]
    quoted += [*result.job.utilities["owner"].dropna(), result.job.crs.name]
    # Names and a reason without a code, which the fixture has.
    quoted += ["U-unknown", "Only two usable readings; at least four are needed."]
    return english_words(said, filter(None, quoted))


def _texts(data):
    """Yield the texts that the map shows, without codes and names."""
    if isinstance(data, str):
        yield data
    elif isinstance(data, list):
        for each in data:
            yield from _texts(each)
    elif isinstance(data, dict):
        for key, each in data.items():
            if key not in (
                "status",
                "statuses",
                "verdict",
                "kind",
                "id",
                "shape",
                "looks",
                "units",
            ):
                yield from _texts(each)


def _check_cautions(data, text, result):
    """A caution is in English beside its translation, on the map and on the dig sheet."""
    english = result.worded("us").layers["cautions"]["message"]
    spanish = result.worded("us", "es").layers["cautions"]["message"]
    assert len(english) > 3
    shown = " ".join(caution for line in data["lines"] for caution in line["cautions"])
    for each, other in zip(english, spanish, strict=True):
        assert f"{other} [{each}]" in shown
    squeezed = re.sub(r"\W+", "", text)
    assert any(re.sub(r"\W+", "", each) in squeezed for each in english)
    assert "Nothing recorded here clears the dig." in data["caution"][0]
    assert "Nothing recorded here clears the dig." in text


def _check_figures(stored, english):
    """Figures and codes of a file do not depend on the language; texts of people do."""
    assert english.keys() == stored.keys()
    compared, other = 0, 0
    for name, frame in english.items():
        own = set(texts_of(frame))
        assert list(stored[name].columns) == list(frame.columns), name
        for column in frame.columns if name != "run_record" else ():
            same = frame[column].astype(str).equals(stored[name][column].astype(str))
            assert same or column in own, column
            compared, other = compared + (column not in own), other + (not same)
    assert compared > 150
    assert other > 5


@pytest.mark.parametrize(("given", "language"), [
    ({"LANG": "es_MX.UTF-8"}, "es-419"), ({"LANG": "es_ES.UTF-8"}, "es"), ({"LANG": "C"}, "en"),
    ({"LANG": "C.UTF-8"}, "en"), ({"LANG": "xx_YY.UTF-8"}, "en"), ({}, "en"),
    ({"LANG": "en_US.UTF-8", "LC_MESSAGES": "es_AR.UTF-8"}, "es"),
    ({"LC_ALL": "POSIX", "LC_MESSAGES": "es_AR.UTF-8"}, "en"), ({"LANG": "es_XX"}, "es"),
    ({"LANG": "; rm -rf"}, "en"),
])  # fmt: skip
def test_the_environment_chooses_the_language_and_its_numbers(given, language):
    assert system_language(given) == language


def test_the_command_line_asks_the_environment_unless_a_language_is_given(monkeypatch):
    option = next(p for p in LIST.params if p.name == "language")
    for name in ("LC_ALL", "LC_MESSAGES"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LANG", "es_PE.UTF-8")
    assert LIST.make_context("list", ["out"]).params[option.name] == "es-419"
    args = ["out", "--language", "en"]
    assert LIST.make_context("list", args).params["language"] == "en"
    args = ["out", "--language", "es_CL.UTF-8"]
    assert LIST.make_context("list", args).params["language"] == "es"


def test_numbers_and_days_are_those_of_the_region():
    comma, point, english = (wording("si", each) for each in ("es", "es-419", "en"))
    loss = Reason("shown_loses", loss=43_210.0)
    assert comma.text(loss) == "Medidor: pierde 43\u00a0000 litros al día"
    assert point.text(loss) == "Medidor: pierde 43,000 litros al día"
    assert comma.quantities.length(12.345) == "12,35 m"
    assert point.quantities.length(12.345) == english.quantities.length(12.345) == "12.35 m"
    rows = Reason("report_all_readings", readings=12_345)
    assert comma.text(rows) == "12\u00a0345 lecturas"
    repaired = Reason("not_listened_since_repair", day="2026-11-30")
    assert "30 nov 2026" in comma.text(repaired)
    assert "30 nov 2026" in point.text(repaired)
    assert "2026-11-30" in english.text(repaired)


def test_the_map_of_the_town_has_no_english_words(whole, tmp_path):
    result = leakgeo.read_result(whole)
    write_map(result, out=tmp_path, units="si", **{**PLAIN, "language": "es"})
    said = list(_texts(data_in((tmp_path / "map.html").read_text("utf-8"))))
    assert len(said) > 2000
    english = wording("si")
    quoted = [*result.worded("si").layers["cautions"]["message"], result.job.simulated]
    quoted += [english.term(f"report_caution{end}") for end in ("", "_more")]
    quoted += [*result.job.utilities["owner"].dropna(), *result.job.routes["address"].dropna()]
    rules = load_rules().values()
    quoted += [text for rule in rules for text in (rule.source, rule.date)]
    assert english_words(said, quoted) == {}
    assert POINT.findall(" ".join(text for text in said if "[" not in text)) == []

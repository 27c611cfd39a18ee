"""The project of a result: what it holds, in the order of work, the same for the same result."""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from xml.etree import ElementTree as ET

import pyogrio
import pytest

from leakgeo.deliver.geopackage.layers import write_geopackage
from leakgeo.deliver.qgis.expressions import layer_id
from leakgeo.deliver.qgis.words import project_words
from leakgeo.deliver.result_project.project import PROJECT, write_project
from leakgeo.deliver.views import sentences
from leakgeo.wording import languages, wording
from tests.deliver.fixture import street

GROUPS = ["What holds the dig", "Marks", "Zones", "Readings", "Pipes and ground",
          "Evidence and records"]  # fmt: skip
# Words of what the result of the street does not have, or in capitals on the card.
UNSAID = ("bookmarks", "cautions")
# No colour and no word means that a dig may begin.
GO = re.compile(r"\b(safe|cleared|clear to|all clear|go ahead)\b", re.IGNORECASE)


def project_of(result, folder, units="us", language="en"):
    """Write a project, and return its XML."""
    write_project(result.worded(units, language), folder / PROJECT)
    with zipfile.ZipFile(folder / PROJECT) as archive:
        (name,) = archive.namelist()
        return ET.fromstring(archive.read(name))


@pytest.fixture(name="made", scope="module")
def _made(tmp_path_factory):
    folder, result = tmp_path_factory.mktemp("project"), street()
    write_geopackage(result.worded("us"), folder / "result.gpkg")
    return result, folder, project_of(result, folder)


def layers_of(root):
    return {layer.findtext("id"): layer for layer in root.iter("maplayer")}


def test_groups_are_in_the_order_of_work_and_every_source_has_rows(made):
    result, folder, root = made
    tree = root.find("layer-tree-group")
    assert [g.get("name") for g in tree.findall("layer-tree-group")] == GROUPS
    in_tree = [layer.get("id") for layer in tree.iter("layer-tree-layer")]
    order = [item.text for item in tree.find("custom-order")]
    assert sorted(in_tree) == sorted(order) == sorted(layers_of(root))
    assert tree.find("custom-order").get("enabled") == "1"
    assert order.index("leakgeo_marks") < min(
        order.index(layer_id(n)) for n in ("dig_zones", "search_zones", "conflicts")
    )
    tables = dict.fromkeys(pyogrio.list_layers(folder / "result.gpkg")[:, 0])
    for layer in layers_of(root).values():
        file, table, *_ = layer.findtext("datasource").split("|")
        name = table.removeprefix("layername=")
        assert (file, name in tables, layer.get("readOnly")) == ("./result.gpkg", True, "1")
        assert pyogrio.read_info(folder / "result.gpkg", layer=name)["features"]
    empty = {name for name, frame in result.layers.items() if frame.empty}
    assert empty.isdisjoint(name.removeprefix("leakgeo_") for name in in_tree)


def test_labels_scale_bar_and_measuring_have_the_units_of_the_reader(made, tmp_path):
    result, _, feet = made
    metres = project_of(result, tmp_path, "si")
    for root, unit, bar, other in (
        (feet, "' ft'", "feet", "' m'"),
        (metres, "' m'", "meters", "' ft'"),
    ):
        assert root.findtext("properties/Measurement/DistanceUnits") == bar
        label = layers_of(root)["leakgeo_marks"].find(".//text-style").get("fieldName")
        assert (unit in label, other in label) == (True, False)
        assert [i.get("unitType") for i in root.iter("LayoutItem") if i.get("unitType")] == [bar]


@pytest.mark.parametrize("language", languages())
def test_equal_results_give_equal_bytes_and_nothing_says_go(made, tmp_path, language):
    result, _, _ = made
    root = project_of(result, tmp_path, language=language)
    first = (tmp_path / PROJECT).read_bytes()
    write_project(result.worded("us", language), tmp_path / PROJECT)
    assert (tmp_path / PROJECT).read_bytes() == first
    text = ET.tostring(root, encoding="unicode")
    assert not GO.search(text)
    assert str(tmp_path) not in text
    (layout,) = root.iter("Layout")
    texts = " ".join(item.get("labelText", "") for item in layout.iter("LayoutItem"))
    assert sentences.CAUTION in texts
    assert result.run_id in texts
    assert (wording().term("project_caution_more") in texts) == (language == "en")


def test_groups_themes_forms_and_sheets_are_in_the_language_of_the_reader(made, tmp_path):
    result, _, english = made
    spanish = project_of(result, tmp_path, language="es")
    known, own = (project_words(wording("us", name)) for name in languages())
    headings = [code for code in known if code not in ("yes", "no", "from") and
                known[code] != own[code]]  # fmt: skip
    said = {root: texts_of(root) for root in (english, spanish)}
    layers = {layer.findtext("layername") for layer in english.iter("maplayer")}
    for code in headings:
        assert any(known[code] in text for text in said[english]) or code in UNSAID, code
        # Titles of layers are those of the data contract, in English.
        assert known[code] not in said[spanish] - layers, code
        assert any(own[code] in text for text in said[spanish]) or code in UNSAID, code


def texts_of(root):
    """Return the texts in a project, and its values other than ids."""
    return {
        text
        for part in root.iter()
        for text in (part.text or "", *(v for k, v in part.attrib.items() if k != "id"))
    }


def test_no_text_of_a_job_becomes_an_expression(made, tmp_path):
    result, _, _ = made
    evil = "[% env('HOME') %]\x01\ud800"
    job = replace(result.job, simulated=evil, source=f"{evil}.gpkg")
    root = project_of(replace(result, job=job), tmp_path)
    assert "[% env" not in ET.tostring(root, encoding="unicode")
    assert "env('HOME')" in root.findtext("properties/CopyrightLabel/Label")


def test_a_result_without_marks_opens_on_its_pipes_without_dig_sheets(made, tmp_path):
    result, _, _ = made
    marks = result["marks"].iloc[:0]
    root = project_of(result.adding({"marks": marks}), tmp_path)
    assert root.find("Layouts") is None
    assert "leakgeo_marks" not in layers_of(root)
    box = [float(root.findtext(f"mapcanvas/extent/{e}")) for e in ("xmin", "ymin", "xmax", "ymax")]
    west, south, east, north = result.job.routes.to_crs(result.job.output_crs).total_bounds
    assert box[0] < west < east < box[2]
    assert box[1] < south < north < box[3]

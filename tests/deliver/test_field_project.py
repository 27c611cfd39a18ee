"""The field project: every column in a form, every code in words, nothing of this machine."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from html import unescape
from xml.etree import ElementTree as ET

import pyogrio
import pytest
from pyproj import CRS

from leakgeo.deliver.field_project import write_field_project, write_job_form
from leakgeo.deliver.field_project.form_fields import form_title
from leakgeo.deliver.field_project.job_styles import setting_of
from leakgeo.deliver.field_project.project import project_text
from leakgeo.deliver.qgis.expressions import layer_id
from leakgeo.deliver.views import sentences
from leakgeo.errors import OutputError
from leakgeo.job.read import read_job
from leakgeo.job.schema import drawn_layers
from tests.job import jobs
from tests.wording.english import POINT, english_words

FOOT_CRS = CRS(2263)
SETTING = setting_of(FOOT_CRS)
TEXT = project_text(FOOT_CRS, SETTING)
ROOT = ET.fromstring(TEXT)
LAYERS = {layer.findtext("id"): layer for layer in ROOT.iter("maplayer")}


def layer_of(name):
    return LAYERS[layer_id(name)]


def columns_in(form):
    """Return the columns of a form, and those of each box that is shown at times."""
    fields = [f.get("name") for f in form.iter("attributeEditorField")]
    boxes = [tuple(f.get("name") for f in box.iter("attributeEditorField"))
             for box in form.iter("attributeEditorContainer")
             if box.get("visibilityExpressionEnabled") == "1"]  # fmt: skip
    return fields, boxes


@pytest.mark.parametrize("name", drawn_layers())
def test_a_form_has_every_column_once_with_label_help_and_words(name):
    schema, layer = drawn_layers()[name], layer_of(name)
    form = layer.find("attributeEditorForm")
    fields, boxes = columns_in(form)
    # A column of a walk stands in one of two boxes, of which one is shown.
    twice = boxes[0] if boxes else ()
    assert boxes in ([], [twice, twice])
    assert sorted(fields) == sorted((*schema.columns, *twice))
    shown = [c.get("visibilityExpression") for c in form.iter("attributeEditorContainer")
             if c.get("visibilityExpression")]  # fmt: skip
    assert not shown or shown[1] == f"NOT ({shown[0]})"
    help_ = form.findtext(".//attributeEditorHtmlElement")
    aliases = {a.get("field"): a.get("name") for a in layer.find("aliases")}
    widgets = {f.get("name"): f.find("editWidget") for f in layer.find("fieldConfiguration")}
    for field in schema.fields:
        assert aliases[field.name] == form_title(field, SETTING) != ""
        assert field.description in unescape(help_)
        listed = {o.get("value"): o.get("name") for o in
                  widgets[field.name].iterfind(".//Option[@name='map']/Option/Option")}  # fmt: skip
        assert list(listed)[1:] == list(field.codes)
        assert all(words and "_" not in words for words in listed.values())
        if field.required:
            # No code is chosen beforehand: the first entry is no value.
            (rule,) = layer.iterfind(f"constraints/constraint[@field='{field.name}']")
            assert int(rule.get("constraints")) & 1


def test_the_first_page_of_a_stop_has_little_on_it():
    page = layer_of("readings").find("attributeEditorForm/attributeEditorContainer")
    first = [f.get("name") for f in page.findall("attributeEditorField")]
    assert first == ["sound_level", "surface", "air", "tape", "chainage_from", "chainage_toward"]


def test_a_chainage_is_never_written_and_no_unit_is_chosen():
    defaults = {d.get("field"): d.get("expression") for d in layer_of("readings").find("defaults")}
    assert defaults["chainage_m"] == defaults["tape"] == ""
    assert "'db'" not in defaults["sound_unit"]
    assert "'scale'" not in defaults["sound_unit"]
    editable = {f.get("name"): f.get("editable") for f in layer_of("readings").find("editable")}
    assert editable["chainage_m"] == "0"
    assert editable["tape"] == "1"


def test_it_has_no_path_of_a_machine_and_is_the_same_each_time():
    assert "{{" not in TEXT
    assert {s.text for s in ROOT.iter("datasource")} >= {"./job.gpkg|layername=readings"}
    assert all(s.text.startswith("./job.gpkg|layername=") for s in ROOT.iter("datasource"))
    assert all(o.get("value").startswith("./job.gpkg") for o in
               ROOT.iterfind(".//Option[@name='LayerSource']"))  # fmt: skip
    assert project_text(FOOT_CRS, setting_of(FOOT_CRS)) == TEXT
    assert sentences.CAUTION in ROOT.findtext("title")


def test_every_layer_is_in_the_tree_and_in_both_themes():
    tree = [n.get("id") for n in ROOT.iter("layer-tree-layer")]
    assert sorted(tree) == sorted(LAYERS)
    assert tree[:3] == [layer_id(n) for n in ("readings", "contacts", "dig_outcomes")]
    for theme in ROOT.iter("visibility-preset"):
        styles = {n.get("id"): n.get("style") for n in theme}
        assert styles[layer_id("readings")] == theme.get("name")
        assert set(LAYERS) - set(styles) <= {layer_id("night_ground")}


def test_stops_snap_to_the_pipe_but_not_to_its_vertices():
    kinds = {s.get("id"): int(s.get("type")) for s in ROOT.iter("layer-setting")
             if s.get("enabled") == "1"}  # fmt: skip
    assert kinds[layer_id("contacts")] == 1
    assert kinds[layer_id("routes")] & 1 == 0
    assert kinds[layer_id("routes")] & 2 == 2
    assert layer_id("readings") not in kinds


@pytest.mark.parametrize(("crs", "units", "unit"), [
    (2263, None, "feet"), (2263, "si", "meters"), (4326, None, "meters"), (4326, "us", "feet"),
])  # fmt: skip
def test_units_are_those_of_the_crew(crs, units, unit):
    root = ET.fromstring(project_text(CRS(crs), setting_of(CRS(crs), units)))
    assert root.findtext("properties/Measurement/DistanceUnits") == unit
    (layer,) = (one for one in root.iter("maplayer") if one.findtext("id") == layer_id("routes"))
    echoed = [f.get("name") for f in layer.find("dataDefinedFieldProperties")]
    assert ("depth_m" in echoed) == (unit == "feet")


@pytest.mark.parametrize(("units", "depth", "pressure"), [
    ("us", "Depth, METRES (3 ft = 0.91)", "Pressure, KILOPASCALS (60 psi = 414)"),
    ("si", "Depth (m)", "Pressure (kPa)"),
])  # fmt: skip
def test_a_crew_that_reads_feet_is_told_to_type_metres(units, depth, pressure):
    root = ET.fromstring(project_text(FOOT_CRS, setting_of(FOOT_CRS, units)))
    (layer,) = (one for one in root.iter("maplayer") if one.findtext("id") == layer_id("routes"))
    aliases = {a.get("field"): a.get("name") for a in layer.find("aliases")}
    assert (aliases["depth_m"], aliases["pressure_kpa"]) == (depth, pressure)
    rules = {c.get("field"): c for c in layer.find("constraintExpressions")}
    asked = {name: rules[name].get("desc") for name in ("depth_m", "pressure_kpa")}
    assert ["typed in" in why for why in asked.values()] == [units == "us"] * 2
    assert ('"depth_m" <= 2.5' in rules["depth_m"].get("exp")) == (units == "us")
    # It asks, and hinders nobody.
    for name in asked:
        assert layer.find(f"constraints/constraint[@field='{name}']").get("exp_strength") != "1"


def test_the_job_beside_it_is_read_without_a_word_about_styles(tmp_path):
    job, project = write_field_project(tmp_path / "monday", crs=jobs.CRS, units="us")
    for name in ("routes", "readings"):
        pyogrio.write_dataframe(getattr(jobs, name)(), job, layer=name, append=True,
                                promote_to_multi=name == "routes")  # fmt: skip
    read = read_job(job)
    assert read.readings["reason"].isna().all()
    assert read_job(project.parent).layers_digest == read.layers_digest
    assert not [f for f in read.faults if "style" in f"{f.layer} {f.problem}"]
    # Neither file is replaced, and none is written beside one that is there.
    job.unlink()
    with pytest.raises(OutputError, match="exists"):
        write_field_project(project.parent)
    assert [path.name for path in project.parent.iterdir()] == ["job.qgs"]


def test_the_file_has_the_form_of_every_layer(tmp_path):
    path = write_job_form(tmp_path / "job.gpkg", crs=2263)
    with closing(sqlite3.connect(path)) as base:
        styles = dict(base.execute("SELECT f_table_name, styleQML FROM layer_styles"))
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert set(styles) == set(drawn_layers())
    for name, text in styles.items():
        # Without the project no layer has the id that a list of values would need.
        assert "ValueRelation" not in text
        fields, _ = columns_in(ET.fromstring(text).find("attributeEditorForm"))
        assert set(fields) == set(drawn_layers()[name].columns)


def test_what_lies_on_the_pipe_is_drawn_above_it():
    order = [layer.get("id") for layer in ROOT.find("layerorder")]
    pipe = order.index(layer_id("routes"))
    for name in ("readings", "contacts", "valves", "dig_outcomes"):
        assert order.index(layer_id(name)) < pipe


def test_the_project_and_its_forms_are_in_the_language_of_the_crew():
    text = project_text(FOOT_CRS, setting_of(FOOT_CRS, "si", language="es"))
    root = ET.fromstring(text[text.index("<qgis") :])
    kinds = {"layer-tree-layer": "name", "layer-tree-group": "name", "alias": "name",
             "attributeEditorContainer": "name", "visibility-preset": "name", "rule": "label",
             "map-layer-style": "name"}  # fmt: skip
    said = [one.get(kinds[one.tag], "") for one in root.iter() if one.tag in kinds]
    said += [one.get("desc", "") for one in root.iter("constraint")]
    choices = [one.get("name", "") for widget in root.iter("editWidget")
               if widget.get("type") == "ValueMap" for one in widget.iter("Option")]  # fmt: skip
    said += [choice for choice in choices if choice not in ("map", "")]
    assert {"Tubería", "Paradas y accesorios", "Recorrido y más", "hidrante", "Noche"} <= set(said)
    assert "Esto no es una longitud. Escríbala como 38' 6\", 38,5 o 11,7 m." in said
    assert english_words(each for each in said if each != "default") == {}
    assert POINT.findall(" ".join(said)) == []
    assert "según la posición" in text
    assert "Nada de lo anotado aquí autoriza la excavación. Nothing recorded here clears" in text
    # Columns and codes are the same in every language.
    codes = {one.get("value") for one in root.iter("Option") if one.get("name") == "hidrante"}
    assert codes == {"hydrant"}

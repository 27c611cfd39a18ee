"""Styles: what they say of a layer, in three forms, and inside the GeoPackage."""

from __future__ import annotations

import operator
import os
import shutil
import sqlite3
import subprocess
from xml.etree import ElementTree as ET

import pandas as pd
import pyogrio
import pytest

from leakgeo.deliver.geopackage.forms import CARD
from leakgeo.deliver.geopackage.layer_styles import style_files, write_styles
from leakgeo.deliver.geopackage.layers import write_geopackage
from leakgeo.deliver.geopackage.metadata import iso_record
from leakgeo.deliver.geopackage.sld import sld
from leakgeo.deliver.geopackage.styles import STYLES, styles_of
from leakgeo.deliver.views import colours
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources.simulated import simulated_note
from leakgeo.wording import wording
from tests.deliver.fixture import street

OGC = "{http://www.opengis.net/ogc}"


@pytest.fixture(name="result", scope="module")
def _result():
    made = street()
    return made.adding({"marks": made["marks"].assign(status=["located", "keep_listening"])})


@pytest.fixture(name="written", scope="module")
def _written(result, tmp_path_factory):
    path = tmp_path_factory.mktemp("styled") / "result.gpkg"
    write_geopackage(result, path)
    return path


TESTS = {"=": operator.eq, "<>": operator.ne, "<": operator.lt, ">=": operator.ge}


def holds(row, where) -> bool:
    """Tell whether a feature meets the conditions; nothing compares with null, as in SQL."""
    return all(
        not pd.isna(row[column]) and bool(TESTS[sign](row[column], value))
        for column, sign, value in where
    )


def test_every_layer_with_shapes_has_a_style_and_its_columns_are_there():
    schemas = load_schemas("output")
    assert set(STYLES) == {name for name, schema in schemas.items() if schema.geometry_types}
    for name, make in STYLES.items():
        style = make(street(), wording())
        named = {c for rule in style.rules for c, _, _ in rule.where} | {style.label} - {""}
        assert named <= set(schemas[name].columns)
        kinds = {k.removeprefix("Multi") for k in schemas[name].geometry_types}
        kind = {"point": "Point", "line": "LineString", "area": "Polygon"}[style.kind]
        assert kind in kinds


def test_every_feature_is_drawn_by_one_rule_whatever_is_null(result):
    for style in styles_of(result):
        frame = result[style.layer]
        columns = {c for rule in style.rules for c, _, _ in rule.where}
        rows = frame.to_dict("records")
        rows += [{**row, **dict.fromkeys(columns)} for row in rows[:1]]
        for row in rows:
            full = {**dict.fromkeys(columns), **row}
            met = [r for r in style.rules if not r.otherwise and holds(full, r.where)]
            rest = [r for r in style.rules if r.otherwise]
            assert len(met) == 1 or (not met and len(rest) == 1) or style.layer in (
                "search_zones", "profile"), (style.layer, full)  # fmt: skip


def test_nothing_that_is_no_mark_looks_like_one(result):
    marks = STYLES["marks"](result, wording())
    shapes = {rule.title: {p.shape for p in rule.paints} for rule in marks.rules}
    assert shapes == {
        "Mark": {"cross", "circle"},
        "Likeliest place so far: no mark yet": {"circle"},
    }
    assert [r.where for r in marks.rules if r.title == "Mark"] == [(("status", "=", "located"),)]


def test_no_colour_says_go_and_no_hold_never_stands_alone(result):
    dig = STYLES["dig_zones"](result, wording())
    assert {p.stroke for rule in dig.rules for p in rule.paints} == {colours.INK}
    free = next(rule for rule in dig.rules if "No hold" in rule.title)
    assert "Nothing recorded here clears the dig." in free.title


@pytest.mark.parametrize("version", ["1.0.0", "1.1.0"])
def test_an_sld_says_the_same_as_the_style(result, version):
    space = "http://www.opengis.net/" + ("sld" if version == "1.0.0" else "se")
    for style in styles_of(result):
        root = ET.fromstring(sld(style, version).encode())
        assert root.get("version") == version
        rules = root.findall(f".//{{{space}}}Rule")
        assert len(rules) == len(style.rules) + bool(style.label)
        for rule, made in zip(style.rules, rules, strict=False):
            symbols = [e for e in made if e.tag.endswith("Symbolizer")]
            assert len(symbols) == len(rule.paints)
            colours_there = {e.text for e in made.iter() if (e.text or "").startswith("#")}
            assert {p.stroke for p in rule.paints if p.stroke} <= colours_there
            literals = [e.text for e in made.iter(f"{OGC}Literal")]
            if not rule.otherwise:
                assert len(literals) == len(rule.where)
        assert "ElseFilter" not in sld(style, version)


def test_files_have_names_that_clearing_knows(result, tmp_path):
    written = write_styles(result, tmp_path / "styles")
    assert {p.name for p in written} <= set(style_files())
    assert len(written) == 3 * len(styles_of(result)) + 1  # and the form of lines


def test_layer_styles_is_the_table_that_a_desktop_gis_reads(written, result):
    with sqlite3.connect(written) as base:
        rows = base.execute(
            "select f_table_name, f_geometry_column, useAsDefault, styleQML, styleSLD "
            "from layer_styles"
        ).fetchall()
        kind = base.execute(
            "select data_type from gpkg_contents where table_name = 'layer_styles'"
        ).fetchone()
        geometry = dict(base.execute("select table_name, column_name from gpkg_geometry_columns"))
    base.close()
    assert kind == ("attributes",)
    with_rows = {name for name, column in geometry.items() if name != "mine"}
    assert {name for name, *_ in rows} == with_rows | {"lines"}
    for name, column, default, own, ogc in rows:
        assert geometry.get(name, "") == column
        assert default == 1
        assert ET.fromstring(own).tag == "qgis"
        if column and ogc:
            assert ET.fromstring(ogc.encode()).tag.endswith("StyledLayerDescriptor")


def test_forms_begin_with_the_card_and_have_every_column(written):
    with sqlite3.connect(written) as base:
        styles = dict(base.execute("select f_table_name, styleQML from layer_styles"))
    base.close()
    for name in ("lines", "marks"):
        root = ET.fromstring(styles[name])
        assert root.findtext("editorlayout") == "tablayout"
        assert "Forms" in root.get("styleCategories")
        fields = [e.get("name") for e in root.iter("attributeEditorField")]
        assert fields[:4] == ["held_by", "message", "next_action", "evidence"]
        assert sorted(fields) == sorted(load_schemas()[name].columns)
        assert "Nothing recorded here clears the dig." in root.findtext("mapTip")
    assert "attributeEditorForm" not in styles["search_zones"]


def test_columns_are_explained_inside_the_file(written):
    with sqlite3.connect(written) as base:
        said = dict(base.execute(
            "select column_name, description from gpkg_data_columns where table_name = 'marks'"
        ))  # fmt: skip
    base.close()
    assert said == {f.name: f.description for f in load_schemas()["marks"].fields}


def test_metadata_tells_source_method_versions_and_limits(written, result):
    notes = pyogrio.read_info(written, layer="marks")["layer_metadata"]
    assert "simulated_street.gpkg" in notes["SOURCE"]
    assert "posterior" in notes["METHOD"] or "evidence" in notes["METHOD"]
    assert "gdal" in notes["VERSIONS"]
    assert "clears the dig" in notes["CAUTION"]
    assert "leakgeo" not in notes
    with sqlite3.connect(written) as base:
        (record,) = base.execute(
            "select metadata from gpkg_metadata join gpkg_metadata_reference on id = md_file_id "
            "where reference_scope = 'geopackage' and md_standard_uri like '%isotc211%'"
        ).fetchone()
    base.close()
    root = ET.fromstring(record)
    assert root.tag == "{http://www.isotc211.org/2005/gmd}MD_Metadata"
    said = " ".join(e.text or "" for e in root.iter())
    assert "simulated_street.gpkg" in said
    assert "clears the dig" in said


def test_a_result_of_a_simulated_job_says_so_and_hands_it_on(result, tmp_path):
    from dataclasses import replace
    from datetime import UTC, datetime

    made = replace(result, job=replace(result.job, simulated="Simulated: invented."))
    write_geopackage(made, tmp_path / "result.gpkg")
    assert simulated_note(tmp_path / "result.gpkg") == "Simulated: invented."
    assert "Simulated: invented." in iso_record(made, datetime(2031, 5, 12, tzinfo=UTC))


DRAW = """
import sys
from qgis.core import (
    QgsApplication, QgsExpression, QgsExpressionContext, QgsExpressionContextUtils,
    QgsMapRendererSequentialJob, QgsMapSettings, QgsVectorLayer,
)
from qgis.PyQt.QtCore import QSize
app = QgsApplication([], False)
app.initQgis()
path, names, picture = sys.argv[1], sys.argv[2].split(","), sys.argv[3]
layers = [QgsVectorLayer(f"{path}|layername={name}", name, "ogr") for name in names]
for layer in layers:
    kind = layer.renderer().type()
    count = len(layer.renderer().rootRule().children()) if kind == "RuleRenderer" else 0
    print(layer.name(), kind, count, layer.featureCount())
lines = QgsVectorLayer(f"{path}|layername=lines", "lines", "ogr")
lines.setName("form")
page, rest = lines.editFormConfig().tabs()
boxes = page.children()[0].children()
print(lines.name(), *[part.name() for box in boxes for part in box.children()])
print("boxes", *[box.visibilityExpression().enabled() for box in boxes])
told = QgsExpressionContext(QgsExpressionContextUtils.globalProjectLayerScopes(lines))
told.setFeature(next(lines.getFeatures()))
print("tip", QgsExpression.replaceExpressionText(lines.mapTipTemplate(), told))
settings = QgsMapSettings()
settings.setLayers(layers)
settings.setDestinationCrs(layers[0].crs())
settings.setExtent(layers[0].extent().buffered(12))
settings.setOutputSize(QSize(500, 400))
job = QgsMapRendererSequentialJob(settings)
job.start()
job.waitForFinished()
job.renderedImage().save(picture)
sys.stdout.flush()
import os
os._exit(0)
"""


@pytest.mark.skipif(not shutil.which("qgis_process") and not shutil.which("qgis"),
                    reason="needs QGIS: apt-get install qgis python3-qgis")  # fmt: skip
def test_qgis_opens_the_layers_drawn_as_they_are_meant(written, result, tmp_path):
    image = pytest.importorskip("PIL.Image")
    names = [s.layer for s in styles_of(result)]
    picture = tmp_path / "drawn.png"
    env = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": ""}
    done = subprocess.run(
        ["/usr/bin/python3", "-c", DRAW, str(written), ",".join(names), str(picture)],
        capture_output=True, text=True, env=env, check=False, timeout=120,
    )  # fmt: skip
    told = {
        line.split()[0]: line.split()[1:]
        if line.startswith(("form", "boxes"))
        else line.split()[1:3]
        for line in done.stdout.splitlines()
    }
    wanted = {s.layer: ["RuleRenderer", str(len(s.rules))] for s in styles_of(result)}
    assert told.pop("form", None) == list(CARD), done.stderr
    assert told.pop("boxes", None) == ["True"] * len(CARD)
    assert "clears the dig" in done.stdout.split("\ntip ")[1]
    assert told.pop("tip", None)
    assert told == wanted, done.stderr
    seen = image.open(picture).convert("RGB").getcolors(maxcolors=200_000)
    pixels = {rgb: count for count, rgb in seen}
    assert pixels.get((20, 24, 29), 0) > 20  # the mark, in ink
    assert sum(n for (r, g, b), n in pixels.items() if r > 170 and g < 150 and b > 100) > 20

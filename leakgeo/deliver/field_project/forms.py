"""Forms of the layers of a job: first what a crew enters, then the rest, then help."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.field_project import expressions as ex
from leakgeo.deliver.field_project.form_fields import add_fields, column_help
from leakgeo.deliver.qgis.forms import container
from leakgeo.deliver.qgis.words import caution_in_both

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.deliver.field_project.form_fields import Setting
    from leakgeo.job.schema import LayerSchema
    from leakgeo.wording import Wording

#: Title of the first page of each form, and its columns; without columns, all of the layer.
FIRST = {
    "routes": ("Pipe", ("line_id", "material", "diameter_mm", "depth_m", "address")),
    "readings": ("Stop", ("sound_level", "surface", "air", "tape", "chainage_from",
                          "chainage_toward")),
    "contacts": ("Fitting", ("contact_id", "kind", "sound_level")),
    "meter_tests": ("Test", ("line_id", "contact_id", "volume_unit", "start_reading", "start_time",
                             "end_reading", "end_time", "water_used", "house_valve")),
    "valves": ("Valve", ("valve_id", "kind", "normally_closed", "leaks_by")),
    "isolation_tests": ("Test", ()),
    "closed_valves": ("Valve", ()),
    "action_results": ("Result", ()),
    "utility_lines": ("Utility", ("kind", "owner", "quality_level", "private", "depth_m",
                                  "width_m")),
    "surfaces": ("Ground", ()),
    "history_points": ("Event", ()),
    "history_areas": ("Event", ()),
    "dig_outcomes": ("Hole", ("found", "leak_chainage_m", "exposed_from_m", "exposed_to_m",
                              "repaired", "cause", "photos", "note")),
}  # fmt: skip
FIRST |= dict.fromkeys(("utility_areas", "utility_points"), FIRST["utility_lines"])
# Columns that hold for a walk, and must not hide where one begins.
_WALK = {
    "readings": ("sensor", "sound_unit", "gain_db", "position_sd_m"),
    "contacts": ("sound_unit", "gain_db"),
}
_REST = {"readings": "Walk and more"}
_MORE, _HELP = "More", "Help"
# Titles of their box where a walk begins, and where it goes on.
_BOXES = {"readings": ("For all stops of this walk", "This walk"),
          "contacts": ("For all fittings of this survey", "This survey")}  # fmt: skip
#: What QGIS takes from a style with a form.
CATEGORIES = "Fields|Forms|MapTips"


def add_form(root: ET.Element, schema: LayerSchema, setting: Setting) -> None:
    """Add the settings of the columns of a layer, and its form.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Layer of a project, or root of a style.
    schema : LayerSchema
        Layer that a GIS edits, of one geometry type.
    setting : Setting
    """
    add_fields(root, schema, setting)
    ET.SubElement(root, "editforminitcodesource").text = "0"
    ET.SubElement(root, "featformsuppress").text = "0"
    ET.SubElement(root, "editorlayout").text = "tablayout"
    form = ET.SubElement(root, "attributeEditorForm")
    said = setting.words.title
    title, columns = FIRST.get(schema.name, ("Data", ()))
    walk = _WALK.get(schema.name, ())
    first, rest = container(form, said(title)), None
    columns = columns or schema.columns
    _add_columns(first, columns, schema)
    others = [name for name in schema.columns if name not in (*columns, *walk)]
    if others:
        rest = container(form, said(_REST.get(schema.name, _MORE)))
    if walk and rest is not None:
        # The same widgets, at one of two places.
        begins = ex.begins_walk() if "walk_id" in schema.columns else ex.begins_survey()
        titles = _BOXES[schema.name]
        _add_columns(container(first, said(titles[0]), begins), walk, schema)
        _add_columns(container(rest, said(titles[1]), f"NOT ({begins})"), walk, schema)
    if rest is not None:
        _add_columns(rest, others, schema)
    _add_help(form, schema, setting.words)


def _add_columns(parent: ET.Element, names: Sequence[str], schema: LayerSchema) -> None:
    for name in names:
        place = schema.columns.index(name) + 1
        ET.SubElement(parent, "attributeEditorField", name=name, index=str(place), showLabel="1")


def _add_help(form: ET.Element, schema: LayerSchema, words: Wording) -> None:
    title, about = words.title(_HELP), words.help(schema.description)
    page = container(form, title)
    html = ET.SubElement(page, "attributeEditorHtmlElement", name=title, showLabel="0")
    html.text = f"<p>{about}</p><p>{caution_in_both(words)}</p>{column_help(schema.fields, words)}"

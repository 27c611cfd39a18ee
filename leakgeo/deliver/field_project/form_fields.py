"""Widget, default, constraints and label of each column in the forms of QGIS."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.field_project import expressions as ex
from leakgeo.deliver.field_project.positions import nearest_line, tape_label
from leakgeo.deliver.qgis.expressions import layer_id, literal
from leakgeo.job.sources import FIELD_JOB
from leakgeo.job.walk_values import KEPT
from leakgeo.reason import Reason
from leakgeo.wording import wording
from leakgeo.wording.locales import ENGLISH

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.job.schema import Field, LayerSchema
    from leakgeo.wording import Wording

#: Column of the keys of a GeoPackage, which no form shows.
KEY = "fid"
# Value of QGIS for "no value" in a list.
_NULL = "{2839923C-8B7D-419E-B84B-CA2FE9B80EC7}"
_NO_VALUE = "\u2014"
# Constraints of QGIS: bits, and strengths.
_NOT_NULL, _UNIQUE, _EXPRESSION = 1, 2, 4
_HARD, _SOFT = "1", "2"
# Units that a crew that reads feet has to convert: the term that says so, and its example.
_CONVERTED = {"m": ("form_in_metres", "0.91"), "mm": ("form_in_millimetres", "19"),
              "kPa": ("form_in_kilopascals", "414")}  # fmt: skip
# What a value is that was hardly typed in feet or psi, and what is asked of another.
_DOUBTED = {
    "depth_m": ('"depth_m" <= 2.5', "form_is_it_feet", "2.5", "3.281"),
    "pressure_kpa": (
        '"pressure_kpa" = 0 OR "pressure_kpa" >= 140',
        "form_is_it_psi",
        "140",
        "6.895",
    ),
}
# A test is begun at one time and ended at another, and is saved in between.
_LATER = {"end_reading", "end_time", "after"}
_FITTINGS = ("chainage_from", "chainage_toward", "tap_open")
# Layers whose rows are on a line: a column that differs between rows, and the last with a default.
_ROWS = {"readings": ("reading_id", "time"), "contacts": ("contact_id", "time"),
         "valves": ("valve_id", "leaks_by"), "dig_outcomes": ("time", "time")}  # fmt: skip
_IDS = {"contacts": ("contact_id", "F"), "valves": ("valve_id", "V"),
        "utility_lines": ("utility_id", "U"), "utility_areas": ("utility_id", "U"),
        "utility_points": ("utility_id", "U"), "isolation_tests": ("test_id", "T"),
        "dig_outcomes": ("dig_id", "D")}  # fmt: skip
# Where the box has the keys first, or does not select its word NULL at a click, that would become
# a part of what is typed.
_TYPED = {("routes", "line_id")}
_WRITTEN = {"note", "photos"}
_NOW = {("readings", "time"), ("contacts", "time"), ("dig_outcomes", "time"),
        ("action_results", "time"), ("meter_tests", "start_time"),
        ("isolation_tests", "start_time")}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Setting:
    """What forms depend on beside the schemas.

    Parameters
    ----------
    units : {"si", "us"}
        Units that the crew reads.
    unit_m : float or None
        Unit of the CRS in metres; None for degrees.
    geographic : str
        Geographic CRS on the datum of the CRS, such as ``EPSG:4269``.
    in_project : bool
        Whether the layers have the ids of the project, so that one may refer to another.
    language : str
        Language of labels, choices, groups and hints.
    """

    units: str
    unit_m: float | None
    geographic: str
    in_project: bool = True
    language: str = ENGLISH

    @property
    def words(self) -> Wording:
        """Texts in the language of the crew."""
        return wording(self.units, self.language)


def add_fields(root: ET.Element, schema: LayerSchema, setting: Setting) -> None:
    """Add widgets, labels, defaults and constraints of the columns of a layer.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Layer of a project, or root of a style.
    schema : LayerSchema
    setting : Setting
    """
    _add_widgets(root, schema, setting)
    names = (KEY, *schema.columns)
    aliases = ET.SubElement(root, "aliases")
    for place, field in enumerate(schema.fields, start=1):
        title = form_title(field, setting)
        ET.SubElement(aliases, "alias", index=str(place), field=field.name, name=title)
    defaults = ET.SubElement(root, "defaults")
    values = default_values(schema, setting)
    for name in names:
        ET.SubElement(defaults, "default", field=name, expression=values.get(name, ""),
                      applyOnUpdate="0")  # fmt: skip
    _add_constraints(root, schema, setting)
    editable = ET.SubElement(root, "editable")
    for name in names:
        fixed = name == KEY or (schema.name, name) == ("readings", "chainage_m")
        ET.SubElement(editable, "field", name=name, editable=str(int(not fixed)))
    on_top = ET.SubElement(root, "labelOnTop")
    for name in schema.columns:
        ET.SubElement(on_top, "field", name=name, labelOnTop=str(int(name == "tape")))
    _add_labels(root, schema, setting)


def form_title(field: Field, setting: Setting) -> str:
    """Return the label of a column; where the crew reads feet, it says loudly what to type.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> form_title(load_schema("routes").field("depth_m"), Setting("us", 0.3048, "EPSG:4269"))
    'Depth, METRES (3 ft = 0.91)'
    """
    words, unit = setting.words, _converted(field, setting)
    title = words.title(field.title)
    if not unit:
        return title
    code, value = _CONVERTED[unit]
    typed = words.text(Reason(code, value=words.number(value)))
    return f"{title.removesuffix(f' ({unit})')}, {typed}"


def _converted(field: Field, setting: Setting) -> str:
    """Return the unit of a column that the crew has to convert into; of others, nothing."""
    unit = field.unit if setting.units == "us" and field.type == "number" else None
    return unit if unit in _CONVERTED else ""


def default_values(schema: LayerSchema, setting: Setting) -> dict[str, str]:
    """Return the default of each column that has one, as an expression.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> values = default_values(load_schema("readings"), Setting("us", 0.3048, "EPSG:4269"))
    >>> "chainage_m" in values, "'ft'" in values["tape_unit"]
    (False, True)
    """
    name = schema.name
    values = _of_readings(setting) if name == "readings" else {}
    values |= {column: ex.same_as_last(column) for column in KEPT.get(name, ())}
    if name in _ROWS:
        values["line_id"] = nearest_line(setting.unit_m, setting.geographic)
        key, late = _ROWS[name]
        values = {column: ex.once(column, value, key=key, late=late)
                  for column, value in values.items()}  # fmt: skip
    if name in _IDS:
        column, prefix = _IDS[name]
        values[column] = ex.short_id(prefix)
    values |= {column: ex.NOW for layer, column in _NOW if layer == name}
    values |= {column: "''" for layer, column in _TYPED if layer == name}
    values |= {f.name: "''" for f in schema.fields if f.name in _WRITTEN}
    # A box that nobody ticked is false, also where the form did not show it.
    values |= {f.name: "false" for f in schema.fields if f.type == "boolean"}
    return values | ({"reading_id": ex.stamp_id()} if name == "readings" else {})


def _of_readings(setting: Setting) -> dict[str, str]:
    unit = literal("ft" if setting.units == "us" else "m")
    tape = {name: ex.same_on_line(name) for name in ("chainage_from", "chainage_toward")}
    return {"walk_id": ex.walk_id(), "tape_unit": ex.same_as_last("tape_unit", unit), **tape}


def _add_widgets(root: ET.Element, schema: LayerSchema, setting: Setting) -> None:
    fields = ET.SubElement(root, "fieldConfiguration")
    _widget(fields, KEY, "Hidden", {})
    for field in schema.fields:
        kind, options = _widget_of(field, schema, setting)
        _widget(fields, field.name, kind, options)


def _widget(parent: ET.Element, name: str, kind: str, options: Mapping[str, object]) -> None:
    field = ET.SubElement(parent, "field", name=name, configurationFlags="None")
    config = ET.SubElement(ET.SubElement(field, "editWidget", type=kind), "config")
    _option(config, None, options)


def _option(parent: ET.Element, name: str | None, value: object) -> None:
    """Write a value as QGIS does: maps and lists nested, others with their type."""
    named = {} if name is None else {"name": name}
    if isinstance(value, dict):
        out = ET.SubElement(parent, "Option", {"type": "Map", **named})
        for key, one in value.items():
            _option(out, key, one)
    elif isinstance(value, list):
        out = ET.SubElement(parent, "Option", {"type": "List", **named})
        for one in value:
            _option(out, None, one)
    else:
        kind = {bool: "bool", int: "int"}.get(type(value), "QString")
        text = str(value).lower() if kind == "bool" else str(value)
        ET.SubElement(parent, "Option", {"type": kind, "value": text, **named})


def _widget_of(
    field: Field, schema: LayerSchema, setting: Setting
) -> tuple[str, dict[str, object]]:
    """Return the widget of a column, and its settings."""
    if field.codes:
        codes = [{setting.words.choice(field.name, field.words(code)): code}
                 for code in field.codes]  # fmt: skip
        return "ValueMap", {"map": [{_NO_VALUE: _NULL}, *codes]}
    if field.type == "boolean":
        return "CheckBox", {"CheckedState": "", "UncheckedState": "", "TextDisplayMethod": 0}
    if field.type in ("datetime", "date"):
        form = "yyyy-MM-dd HH:mm:ss" if field.type == "datetime" else "yyyy-MM-dd"
        return "DateTime", {"display_format": form, "field_format": form, "calendar_popup": True,
                            "allow_null": True, "field_iso_format": False}  # fmt: skip
    if field.name == "photos":
        return "ExternalResource", {"DocumentViewer": 1, "RelativeStorage": 1, "StorageMode": 0,
                                    "FileWidget": True, "FileWidgetButton": True}  # fmt: skip
    target = _target(field, schema)
    if target is not None and setting.in_project:
        return "ValueRelation", _relation(
            *target, setting.words, of_line="line_id" in schema.columns
        )
    return "TextEdit", {"IsMultiline": field.name == "note", "UseHtml": False}


def _target(field: Field, schema: LayerSchema) -> tuple[str, str] | None:
    """Return the layer and the column of the values that a column refers to."""
    if field.name == "line_id" and schema.refers_to_routes:
        return "routes", "line_id"
    # A list shows the rows of one layer.
    return field.refers_to[0] if len(field.refers_to) == 1 else None


def _relation(layer: str, column: str, words: Wording, *, of_line: bool) -> dict[str, object]:
    own = "\"line_id\" = current_value('line_id')"
    any_line = "\"line_id\" IS NULL OR current_value('line_id') IS NULL"
    title = words.title(_titles()[layer])
    return {
        "Layer": layer_id(layer), "LayerName": title, "LayerProviderName": "ogr",
        "LayerSource": f"./{FIELD_JOB}|layername={layer}", "Key": column, "Value": column,
        "FilterExpression": f"{own} OR {any_line}" if of_line and column == "contact_id" else "",
        "AllowNull": True, "AllowMulti": False, "OrderByValue": True, "UseCompleter": False,
        "NofColumns": 1,
    }  # fmt: skip


def _titles() -> dict[str, str]:
    from leakgeo.job.schema import drawn_layers

    return {name: schema.title for name, schema in drawn_layers().items()}


def _add_constraints(root: ET.Element, schema: LayerSchema, setting: Setting) -> None:
    words = setting.words
    constraints = ET.SubElement(root, "constraints")
    texts = ET.SubElement(root, "constraintExpressions")
    for field in schema.fields:
        rule, why = _rule(field, setting)
        named = (schema.name, field.name) in _TYPED
        if named:
            rule, why = (
                ex.is_written(field.name),
                words.text(Reason("form_write_name", title=words.title(field.title))),
            )
        bits = _NOT_NULL * field.required + _UNIQUE * _is_unique(field, schema)
        ET.SubElement(
            constraints, "constraint", field=field.name,
            constraints=str(bits + _EXPRESSION * bool(rule)),
            notnull_strength=_strength(field.required, field.name in _LATER),
            unique_strength=_strength(_is_unique(field, schema), not field.unique),
            exp_strength=_strength(bool(rule), not named),
        )  # fmt: skip
        ET.SubElement(texts, "constraint", field=field.name, exp=rule, desc=why)


def _strength(there: bool, soft: bool) -> str:
    return (_SOFT if soft else _HARD) if there else "0"


def _is_unique(field: Field, schema: LayerSchema) -> bool:
    return field.unique or schema.key == (field.name,)


def _rule(field: Field, setting: Setting) -> tuple[str, str]:
    """Return the expression that a value must fulfil, and what to say if it does not."""
    words = setting.words
    if field.name == "tape":
        return ex.is_tape(), words.term("form_no_length")
    if field.name in _FITTINGS:
        return ex.on_same_line(field.name), words.term("form_other_line")
    if _converted(field, setting) and field.name in _DOUBTED:
        within = ex.within(field.name, field.minimum, field.maximum)
        likely, code, *numbers = _DOUBTED[field.name]
        value, factor = map(words.number, numbers)
        asks = words.text(Reason(code, value=value, factor=factor))
        return f"({within}) AND coalesce({likely}, true)", asks
    if field.minimum is None and field.maximum is None:
        return "", ""
    least, most = (
        "" if end is None else words.number(f"{end:g}") for end in (field.minimum, field.maximum)
    )
    unit = f" {field.unit}" if field.unit and not field.unit.startswith("as ") else ""
    code = "form_between" if least and most else "form_least" if least else "form_most"
    text = words.text(Reason(
        code, title=words.title(field.title), least=f"{least}{unit}", most=f"{most}{unit}"
    ))  # fmt: skip
    return ex.within(field.name, field.minimum, field.maximum), text


def label_expressions(schema: LayerSchema, setting: Setting) -> dict[str, str]:
    """Return the label of each column whose label depends on the row or on the version."""
    labels = {}
    for field in schema.fields:
        title = setting.words.title(field.title)
        if (schema.name, field.name) == ("readings", "tape") and setting.in_project:
            labels[field.name] = tape_label(title, setting.geographic, setting.words)
        elif field.type == "datetime":
            labels[field.name] = ex.clock_label(title)
        elif unit := _converted(field, setting):
            labels[field.name] = ex.echo_label(form_title(field, setting), field.name, unit)
    return labels


def _add_labels(root: ET.Element, schema: LayerSchema, setting: Setting) -> None:
    properties = ET.SubElement(root, "dataDefinedFieldProperties")
    for name, expression in label_expressions(schema, setting).items():
        field = ET.SubElement(properties, "field", name=name)
        alias = {"active": True, "expression": expression, "type": 3}
        _option(field, None, {"name": "", "properties": {"dataDefinedAlias": alias},
                              "type": "collection"})  # fmt: skip


def column_help(fields: Sequence[Field], words: Wording) -> str:
    """Return label and meaning of columns as HTML."""
    from html import escape

    rows = "".join(f"<dt><b>{escape(words.title(f.title))}</b></dt>"
                   f"<dd>{escape(words.help(f.description))}</dd>"
                   for f in fields)  # fmt: skip
    return f"<dl>{rows}</dl>"

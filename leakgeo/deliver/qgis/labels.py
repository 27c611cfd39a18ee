"""Labels on the map, and map tips, in QGIS."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from leakgeo.deliver.qgis import expressions as ex
from leakgeo.deliver.qgis.symbols import rgba
from leakgeo.deliver.qgis.words import caution, project_words
from leakgeo.deliver.views import colours
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.deliver.qgis.drawn_styles import Light
    from leakgeo.job.schema import LayerSchema
    from leakgeo.wording import Wording


@dataclass(frozen=True, slots=True)
class Label:
    """Labels of a layer.

    Parameters
    ----------
    expression : str
        Text of a feature.
    scale : int
        Labels are hidden on maps of a smaller scale than one to this; 0 for none.
    size_pt : float
    priority : int
        0 to 10; the highest are placed first.
    repeat_mm : float
        Distance after which the label of a line is repeated; 0 for once.
    """

    expression: str
    scale: int
    size_pt: float = 9.0
    priority: int = 5
    repeat_mm: float = 0.0


def utility_letters() -> str:
    """Return the letter of a utility, with a question mark where its position is not known."""
    cases = " ".join(f"WHEN \"kind\" = {ex.literal(kind)} THEN {ex.literal(look.letter)}"
                     for kind, look in colours.UTILITY.items() if kind != "unknown")  # fmt: skip
    unplaced = "if(coalesce(\"quality_level\", 'D') = 'D', '?', '')"
    return f"coalesce((CASE {cases} END) || {unplaced}, '?')"


_UTILITY = Label(utility_letters(), 3000, 8.0, repeat_mm=35.0)
LABELS = {
    "readings": Label('to_string(round("sound_level", 1))', 750, 10.0, 9),
    "contacts": Label('"contact_id"', 1500, 9.0, 8),
    "routes": Label('"line_id"', 5000, 9.0, 7),
    "valves": Label('"valve_id"', 1500, 8.0, 6),
    "utility_lines": _UTILITY, "utility_areas": _UTILITY, "utility_points": _UTILITY,
    "dig_outcomes": Label("coalesce(replace(\"found\", '_', ' '), 'hole')", 1500, 8.0, 6),
    "history_points": Label("replace(\"kind\", '_', ' ')", 1000, 7.0, 2),
    "history_areas": Label("replace(\"kind\", '_', ' ')", 1000, 7.0, 2),
    "surfaces": Label('"surface"', 750, 7.0, 1),
}  # fmt: skip
_NONE = Label("''", 1)
# Placement modes of QGIS: around a point, along a line, at the centre of an area.
_PLACEMENT = {"point": "6", "line": "2", "area": "1"}
#: Columns of the map tips, beside the first page of the form.
TIPS = {
    "readings": ("line_id", "walk_id", "sound_level", "surface", "tape", "chainage_from"),
    "contacts": ("contact_id", "line_id", "kind", "sound_level"),
    "routes": ("line_id", "material", "address"),
    "valves": ("valve_id", "kind", "normally_closed", "leaks_by"),
    "dig_outcomes": ("line_id", "found", "repaired", "note"),
    "surfaces": ("surface",),
    "history_points": ("kind", "date"), "history_areas": ("kind", "date"),
    **dict.fromkeys(("utility_lines", "utility_areas", "utility_points"),
                    ("kind", "owner", "quality_level", "private", "response")),
}  # fmt: skip


def add_labels(root: ET.Element, layer: str, kind: str, light: Light) -> None:
    """Add the labels of a layer of a job.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Layer of a project, or root of a style.
    layer : str
    kind : {"point", "line", "area"}
    light : Light
    """
    add_label(root, LABELS.get(layer, _NONE), kind, light.ink, light.ground)


def add_label(root: ET.Element, label: Label, kind: str, ink: str, ground: str = "#ffffff") -> None:
    """Add labels to a layer.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        Layer of a project, or root of a style.
    label : Label
    kind : {"point", "line", "area"}
    ink, ground : str
        Hex colours of the text, and of the ground around it.
    """
    settings = ET.SubElement(ET.SubElement(root, "labeling", type="simple"), "settings")
    text = ET.SubElement(settings, "text-style", fieldName=label.expression, isExpression="1",
                         fontSize=f"{label.size_pt:g}", fontSizeUnit="Point", fontFamily="Sans",
                         fontWeight="75", namedStyle="Bold", textColor=rgba(ink),
                         textOpacity="1")  # fmt: skip
    ET.SubElement(text, "text-buffer", bufferDraw="1", bufferSize="0.9", bufferSizeUnits="MM",
                  bufferColor=rgba(ground), bufferOpacity="1")  # fmt: skip
    ET.SubElement(settings, "placement", placement=_PLACEMENT[kind], dist="1.2", distUnits="MM",
                  priority=str(label.priority), repeatDistance=f"{label.repeat_mm:g}",
                  repeatDistanceUnits="MM", placementFlags="9" if label.repeat_mm else "10",
                  predefinedPositionOrder="TR,TL,BR,BL,R,L,TSR,BSR")  # fmt: skip
    ET.SubElement(settings, "rendering", drawLabels="1", obstacle="0",
                  scaleVisibility=str(int(label.scale > 0)), scaleMin="0",
                  scaleMax=str(label.scale), fontLimitPixelSize="0",
                  displayAll="0")  # fmt: skip


def add_map_tip(root: ET.Element, schema: LayerSchema, words: Wording | None = None) -> None:
    """Add the text of a layer of a job that is shown beside the pointer."""
    words = words or wording()
    rows = tip_rows(schema, TIPS.get(schema.name, schema.columns[:4]), words)
    tip = ET.SubElement(root, "mapTip", enabled="1")
    tip.text = f"[% concat({', '.join(rows)}) %]<p>{caution(words)}</p>"


def tip_rows(schema: LayerSchema, columns: Sequence[str], words: Wording) -> list[str]:
    """Return an expression for each column: its title and value as HTML, empty without a value."""
    known, rows = project_words(words), []
    yes, no = ex.literal(known["yes"]), ex.literal(known["no"])
    for field in map(schema.field, columns):
        value = f'"{field.name}"'
        if field.codes:
            shown = [(c, words.choice(field.name, field.words(c))) for c in field.codes]
            pairs = ", ".join(ex.literal(text) for pair in shown for text in pair)
            value = f"map_get(map({pairs}), {value})"
        if field.type == "boolean":
            value = f"if({value}, {yes}, {no})"
        # Columns that no person enters have no title.
        name = field.title or field.name.removesuffix("_m").removesuffix("_db").replace("_", " ")
        title = ex.literal(f"<p>{words.title(name)}: <b>")
        rows.append(f"coalesce({title} || {ex.escaped(value)} || '</b></p>', '')")
    return rows

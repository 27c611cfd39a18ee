"""The print layout of the dig sheets: one page for each mark, its holds before its map."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5
from xml.etree import ElementTree as ET

from leakgeo.deliver.qgis.expressions import layer_id, literal, plain_text
from leakgeo.deliver.qgis.words import caution, project_words
from leakgeo.deliver.result_project.layers import THEMES
from leakgeo.deliver.result_project.lists import bullets, caution_messages, hold_messages, of_line
from leakgeo.deliver.views import sentences
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.deliver.result_project.layers import ResultLayer
    from leakgeo.deliver.result_project.lists import Given
    from leakgeo.result import Result
    from leakgeo.wording import Wording

_THEME = next(iter(THEMES))
# Numbers of the kinds of items, of QGIS.
_LABEL, _MAP, _SCALE_BAR, _LEGEND, _PAGE = "65641", "65639", "65646", "65642", "65638"
_MARGIN = 11.0
_MANY_DIGS = 1_000_000  # more than there are
# Sheets of paper in millimetres, and scales of the map that people measure with.
_PAPER = {"us": (215.9, 279.4), "si": (210.0, 297.0)}
_SCALE = {"us": 240, "si": 200}
# Texts longer than this many lines end with the number of the rest.
_MOST_HOLDS, _MOST_CAUTIONS = "24", "9"
# Long lists of holds leave room for fewer cautions.
_MANY_HOLDS, _FEWER_CAUTIONS = 9, 5
_LEGEND_MM = 54.0
_LOWEST_MAP_MM = 70.0
# Layers of the legend, and the words of the catalogue for each.
_LEGEND_LAYERS = {
    "marks": "group_marks", "ties": "legend_ties", "locate_requests": "group_request",
    "dig_zones": "group_dig", "search_zones": "group_zones", "conflicts": "group_conflicts",
    "next_readings": "group_next", "job_utility_lines": "group_utilities",
    "job_utility_areas": "group_utilities", "job_routes": "group_pipes",
}  # fmt: skip


_NOWHERE = "$geometry IS NULL"


@dataclass(frozen=True)
class Box:
    """Place of an item in millimetres: numbers, or expressions that depend on the mark.

    An item that is `placed` is hidden where the mark has no place on the ground.
    """

    x: float
    y: str
    width: float
    height: str
    placed: bool = False

    def computed(self) -> dict[str, str]:
        """Return the properties that QGIS computes for each page."""
        values = {"dataDefinedPositionY": self.y, "dataDefinedHeight": self.height}
        # Without a place, QGIS would leave the map of another mark on the page.
        seen = {"dataDefinedOpacity": f"if({_NOWHERE}, 0, 100)"} if self.placed else {}
        return seen | {name: value for name, value in values.items() if not _is_number(value)}


@dataclass
class _Sheet:
    """A layout to which items are added, each above those before it."""

    layout: ET.Element
    name: str
    items: int = field(default=0)

    def id(self, item: str) -> str:
        return f"{{{uuid5(NAMESPACE_URL, f'leakgeo/{self.name}/{item}')}}}"

    def add(self, item: str, kind: str, box: Box, settings: Mapping[str, str]) -> ET.Element:
        """Add an item; heights and places that are no numbers are computed for each page."""
        self.items += 1
        y, height = (_number(value) for value in (box.y, box.height))
        at = f"{box.x:g},{y:g},mm"
        out = ET.SubElement(self.layout, "LayoutItem", {
            "type": kind, "id": item, "uuid": self.id(item), "templateUuid": self.id(item),
            "position": at, "positionOnPage": at, "size": f"{box.width:g},{height:g},mm",
            "visibility": "1", "zValue": str(self.items), "opacity": "1", "blendMode": "0",
            "itemRotation": "0", "referencePoint": "0", "positionLock": "false",
            "excludeFromExports": "0", "frame": "false", "background": "false",
            "frameJoinStyle": "miter", "outlineWidthM": "0.3,mm", "groupUuid": "", **settings,
        })  # fmt: skip
        _colour(out, "FrameColor", 20, 24, 29)
        _colour(out, "BackgroundColor", 255, 255, 255)
        _data_defined(out, box.computed())
        return out

    def text(self, item: str, box: Box, text: str, size: float, *, bold: bool = False,
             frame: bool = False, right: bool = False) -> None:  # fmt: skip
        """Add a text with expressions of QGIS in it."""
        out = self.add(item, _LABEL, box, {
            "labelText": text, "htmlState": "0", "halign": "2" if right else "1", "valign": "32",
            "marginX": "1.5" if frame else "0", "marginY": "1" if frame else "0",
            "frame": str(frame).lower(),
        })  # fmt: skip
        weight = 75 if bold else 50
        ET.SubElement(out, "LabelFont", style="",
                      description=f"Sans,{size:g},-1,5,{weight},0,0,0,0,0")  # fmt: skip
        _colour(out, "FontColor", 20, 24, 29)


def add_dig_sheet(
    parent: ET.Element, result: Result, layers: Mapping[str, ResultLayer], given: Given
) -> None:
    """Add the layout of the dig sheets, with an atlas over the marks.

    Parameters
    ----------
    parent : xml.etree.ElementTree.Element
        Element ``Layouts`` of the project.
    result : Result
        For its units, its language and its run id.
    layers : mapping of str to ResultLayer
        Of the project.
    given : Given
        What expressions may refer to.
    """
    words, known = given.words, project_words(given.words)
    units = words.units
    width, height = _PAPER[units]
    layout = ET.SubElement(parent, "Layout", name=known["sheet"], units="mm", printResolution="200",
                           worldFileMap="")  # fmt: skip
    sheet = _Sheet(layout, "dig sheet")
    _add_page(sheet, width, height)
    inner, bottom = width - 2 * _MARGIN, height - _MARGIN
    places = _Places(given, inner, bottom)
    _add_texts(sheet, places, result, words, inner)
    _add_map(sheet, places, words, inner)
    _add_legend(sheet, places, layers, words)
    ET.SubElement(layout, "Atlas", {
        "enabled": "1", "coverageLayer": layer_id("marks"), "coverageLayerName": "Marks",
        "coverageLayerProvider": "ogr", "coverageLayerSource": layers["marks"].in_tree().source,
        "hideCoverage": "0", "filterFeatures": "0", "sortFeatures": "1", "sortAscending": "1",
        "sortKey": _sheet_order(),
        "pageNameExpression": '"line_id"',
        "filenamePattern": "'dig_sheet_' || @atlas_featurenumber",
    })  # fmt: skip


def _sheet_order() -> str:
    """Return the expression that sorts sheets: digs by rank, then held ones, then other marks."""
    dig, held = of_line("dig_rank"), of_line("hold_rank")
    return f"coalesce({dig}, {_MANY_DIGS} + {held}, 2 * {_MANY_DIGS}) * {_MANY_DIGS} + $id"


class _Places:
    """Heights and places of the parts of a sheet, which depend on the texts of its mark."""

    def __init__(self, given: Given, inner: float, bottom: float) -> None:
        self.holds = _shortened(hold_messages("marks", given), _MOST_HOLDS, "holds", given.words)
        cautions = caution_messages("marks", given)
        most = (f"if(array_length({self.holds}) > {_MANY_HOLDS}, "
                f"{_FEWER_CAUTIONS}, {_MOST_CAUTIONS})")  # fmt: skip
        self.cautions = _shortened(cautions, most, "cautions", given.words)
        beside = inner - _LEGEND_MM
        # Characters in a line of each size of type, of the width of the sheet.
        chars = {size: int(width * share) for size, width, share in
                 ((10, inner, 0.53), (9, inner, 0.58), (8, beside, 0.64))}  # fmt: skip
        card = "array(coalesce(\"message\", ''), coalesce(\"next_action\", ''))"
        card_mm = f"(2 + 4.4 * {_lines(card, chars[10])})"
        holds_mm = f"(3 + 3.75 * {_lines(self.holds, chars[9])})"
        cautions_mm = f"(1 + 3.5 * {_lines(self.cautions, chars[8])})"
        top, footer = _MARGIN + 18.0, 9.0
        self.card = Box(_MARGIN, f"{top:g}", inner, card_mm)
        self.hold_title = Box(_MARGIN, f"{top + 1:g} + {card_mm}", inner, "5")
        self.hold = Box(_MARGIN, f"{top + 6:g} + {card_mm}", inner, holds_mm)
        map_y = f"({top + 9:g} + {card_mm} + {holds_mm})"
        map_mm = f"max({_LOWEST_MAP_MM:g}, {bottom - footer - 2:g} - {cautions_mm} - {map_y})"
        self.map = Box(_MARGIN, map_y, beside, map_mm, placed=True)
        self.below_map = f"{map_y} + {map_mm}"
        self.caution = Box(_MARGIN, f"{self.below_map} + 1.5", beside, cautions_mm)
        self.legend = Box(_MARGIN + beside + 2, map_y, _LEGEND_MM - 2, "10", placed=True)
        self.footer = Box(_MARGIN, f"{bottom - footer:g}", inner, f"{footer:g}")


def _add_page(sheet: _Sheet, width: float, height: float) -> None:
    pages = ET.SubElement(sheet.layout, "PageCollection")
    ET.SubElement(pages, "LayoutItem", {
        "type": _PAGE, "id": "", "uuid": sheet.id("page"), "templateUuid": sheet.id("page"),
        "position": "0,0,mm", "positionOnPage": "0,0,mm", "size": f"{width:g},{height:g},mm",
        "visibility": "1", "zValue": "0", "referencePoint": "0", "background": "true",
    })  # fmt: skip


def _add_texts(
    sheet: _Sheet, places: _Places, result: Result, words: Wording, inner: float
) -> None:
    """Add title, card, holds, cautions and footer."""
    known = project_words(words)
    marked, unmarked = (literal(f"{known[code]}: ") for code in ("sheet", "unmarked"))
    of_mark = literal(words.text(Reason("project_of_mark", rank="%1")))
    rank = f"if(\"rank\" > 1, replace({of_mark}, '%1', \"rank\"), '')"
    title = f'[% if("status" = \'located\', {marked}, {unmarked}) || "line_id" || {rank} %]'
    sheet.text("title", Box(_MARGIN, f"{_MARGIN:g}", inner, "8"), title, 17, bold=True)
    warning = f"{caution(words)} {known['caution_more']}"
    sheet.text("caution", Box(_MARGIN, f"{_MARGIN + 8.5:g}", inner, "9"), warning, 8.5, bold=True)
    card = "[% coalesce(\"message\", '') || coalesce('\n' || {} || \"next_action\", '') %]"
    after = literal(f"{words.term('next', 'card')}: ")
    sheet.text("card", places.card, card.format(after), 10)
    sheet.text("hold", places.hold_title, words.term("hold", "card"), 11, bold=True)
    sheet.text("holds", places.hold, f"[% {bullets(places.holds)} %]", 9, frame=True)
    sheet.text("cautions", places.caution, f"[% {bullets(places.cautions)} %]", 8)
    job = plain_text(sentences.job_name(result) or words.term("made_not_named"))
    notes = (plain_text(sentences.superseded(result, words)), plain_text(result.job.simulated))
    simulated = "".join(f"{note} " for note in notes if note)
    made = words.text(Reason(
        "project_footer", job=job, run=words.text(sentences.run_and_time(result)),
        line='[% "line_id" %]',
        page="[% @atlas_featurenumber %]", pages="[% @atlas_totalfeatures %]",
    ))  # fmt: skip
    english = "" if words.english() is None else f" {sentences.CAUTION}"
    sheet.text("footer", places.footer, f"{simulated}{made} {caution(words)}{english}", 8)


def _add_map(sheet: _Sheet, places: _Places, words: Wording, inner: float) -> None:
    """Add the map, its scale bar and its north."""
    units, known = words.units, project_words(words)
    out = sheet.add("map", _MAP, places.map, {
        "followPreset": "true", "followPresetName": known[_THEME], "keepLayerSet": "false",
        "drawCanvasItems": "false", "mapRotation": "0", "mapFlags": "0", "labelMargin": "0,mm",
        "frame": "true", "background": "true",
    })  # fmt: skip
    scale = str(_SCALE[units])
    _data_defined(out, {**places.map.computed(), "dataDefinedMapScale": scale})
    ET.SubElement(out, "Extent", xmin="0", ymin="0", xmax=f"{inner:g}", ymax=f"{inner / 2:g}")
    ET.SubElement(out, "AtlasMap", scalingMode="0", atlasDriven="1", margin="0.1")
    low = Box(_MARGIN + 2, f"{places.below_map} - 12", 60, "11", placed=True)
    bar = sheet.add("scale bar", _SCALE_BAR, low, {
        "mapUuid": sheet.id("map"), "style": "Single Box", "height": "2", "segmentSizeMode": "0",
        "unitType": "feet" if units == "us" else "meters",
        "unitLabel": "ft" if units == "us" else "m", "numMapUnitsPerScaleBarUnit": "1",
        "numUnitsPerSegment": "10" if units == "us" else "2", "numSegments": "2",
        "numSegmentsLeft": "0", "boxContentSpace": "1", "labelBarSpace": "1.5",
        "background": "true", "alignment": "0", "minBarWidth": "20", "maxBarWidth": "80",
    })  # fmt: skip
    ET.SubElement(bar, "text-style", fontFamily="Sans", fontSize="8", fontSizeUnit="Point",
                  fontWeight="50", textColor="20,24,29,255", textOpacity="1")  # fmt: skip
    north = Box(_MARGIN + 2, f"{places.map.y} + 2", 12, "10", placed=True)
    sheet.text("north", north, f"\u25b2\n{known['north']}", 8, bold=True)
    nowhere = f"[% if({_NOWHERE}, {literal(known['no_map'])}, '') %]"
    sheet.text("no map", replace(places.map, placed=False), nowhere, 10)


def _add_legend(
    sheet: _Sheet, places: _Places, layers: Mapping[str, ResultLayer], words: Wording
) -> None:
    """Add a legend of what the map of the page shows."""
    out = sheet.add("legend", _LEGEND, places.legend, {
        "map_uuid": sheet.id("map"), "resizeToContents": "1",
        "legendFilterByMap": "1", "legendFilterByAtlas": "0", "title": "", "columnCount": "1",
        "splitLayer": "0", "equalColumnWidth": "0", "symbolWidth": "4", "symbolHeight": "3",
        "boxSpace": "1", "columnSpace": "2", "lineSpacing": "0.5", "background": "true",
        "fontColor": "#14181d", "wrapChar": "", "titleAlignment": "1", "symbolAlignment": "1",
    })  # fmt: skip
    styles = ET.SubElement(out, "styles")
    sizes = {"title": 9, "group": 8, "subgroup": 7, "symbol": 7, "symbolLabel": 7}
    for name, size in sizes.items():
        style = ET.SubElement(styles, "style", name=name, alignment="1", indent="0",
                              marginTop="1", marginBottom="0", marginLeft="1")  # fmt: skip
        weight = 75 if name == "subgroup" else 50
        ET.SubElement(style, "styleFont", style="",
                      description=f"Sans,{size},-1,5,{weight},0,0,0,0,0")  # fmt: skip
    tree = ET.SubElement(out, "layer-tree-group")
    for name, code in _LEGEND_LAYERS.items():
        if name in layers:
            layer = layers[name].in_tree()
            one = ET.SubElement(tree, "layer-tree-layer", id=layer_id(name), name=layer.title,
                          source=layer.source, providerKey="ogr", checked="Qt::Checked",
                          expanded="1")  # fmt: skip
            own = ET.SubElement(ET.SubElement(one, "customproperties"), "Option", type="Map")
            ET.SubElement(own, "Option", name="legend/title-label", type="QString",
                          value=words.term(code))  # fmt: skip


def _shortened(texts: str, most: str, layer: str, words: Wording) -> str:
    """Return an array of texts with at most `most` of them, and the number of the others."""
    more = literal(words.text(Reason("project_more", count="%1", layer=layer)))
    rest = f"replace({more}, '%1', to_string(array_length(@a) - {most}))"
    return (f"with_variable('a', {texts}, if(array_length(@a) <= {most}, @a, "
            f"array_append(array_slice(@a, 0, {most} - 1), {rest})))")  # fmt: skip


def _lines(texts: str, chars: int) -> str:
    """Return how many lines an array of texts takes, about."""
    return (
        f"coalesce(array_sum(array_foreach({texts}, ceil((length(@element) + 4) / {chars:g}))), 0)"
    )


def _colour(parent: ET.Element, tag: str, red: int, green: int, blue: int) -> None:
    ET.SubElement(parent, tag, red=str(red), green=str(green), blue=str(blue), alpha="255")


def _data_defined(item: ET.Element, expressions: Mapping[str, str]) -> None:
    """Let QGIS compute properties of an item for each page."""
    for old in item.findall("LayoutObject"):
        item.remove(old)
    if not expressions:
        return
    parent = ET.SubElement(ET.SubElement(item, "LayoutObject"), "dataDefinedProperties")
    every = ET.SubElement(parent, "Option", type="Map")
    ET.SubElement(every, "Option", name="name", type="QString", value="")
    properties = ET.SubElement(every, "Option", name="properties", type="Map")
    for name, expression in expressions.items():
        own = ET.SubElement(properties, "Option", name=name, type="Map")
        ET.SubElement(own, "Option", name="active", type="bool", value="true")
        ET.SubElement(own, "Option", name="expression", type="QString", value=expression)
        ET.SubElement(own, "Option", name="type", type="int", value="3")
    ET.SubElement(every, "Option", name="type", type="QString", value="collection")


def _is_number(value: str) -> bool:
    return value.replace(".", "", 1).isdigit()


def _number(value: str) -> float:
    """Return a length in millimetres; one that is computed later begins as a short one."""
    return float(value) if _is_number(value) else 10.0

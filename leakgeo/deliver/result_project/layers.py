"""The layers of a result in a project: groups in the order of work, shapes and symbols."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np

from leakgeo.deliver.geopackage.order import GROUPS, REST
from leakgeo.deliver.geopackage.styles import STYLES, styles_of, words_of
from leakgeo.deliver.qgis.drawn_styles import DAY, field_styles
from leakgeo.deliver.qgis.project_parts import NO_SHAPES, SHAPES, TreeGroup, TreeLayer
from leakgeo.deliver.qgis.words import project_words
from leakgeo.deliver.views import colours
from leakgeo.job.results.read_back import FILE
from leakgeo.job.results.stored_record import PREFIX
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from leakgeo.deliver.geopackage.styles import Condition, Style
    from leakgeo.job.schema import LayerSchema
    from leakgeo.result import Result
    from leakgeo.wording import Wording

_KINDS = {"Point": "point", "LineString": "line", "LinearRing": "line", "Polygon": "area"}
_SINGLE = {"point": "Point", "line": "LineString", "area": "Polygon"}
_OPEN = ("group_holds", "group_marks")
_SHOWN = {"conflicts", "locate_requests", "job_utility_points", "job_utility_lines",
          "job_utility_areas", "marks", "ties", "dig_alternatives", "dig_zones", "search_zones",
          "next_readings", "job_dig_outcomes", "job_contacts", "job_valves",
          "job_routes"}  # fmt: skip
#: Map themes by words of the project, and the layers that they draw.
THEMES: Mapping[str, frozenset[str]] = {
    "theme_dig": frozenset(_SHOWN),
    "theme_readings": frozenset({"marks", "next_readings", "readings_on_route", "air_tests",
                           "contact_ranking", "search_zones", "profile", "survey_bracket",
                           "district_segments", "job_contacts", "job_routes"}),
}  # fmt: skip
# Drawn in the order of `STYLES`, with the layers of the job among and below them.
_BELOW = ("job_dig_outcomes", "job_contacts", "job_valves", "job_readings")
_LOWEST = ("job_routes", "job_utility_points", "job_utility_lines", "job_utility_areas",
           "job_history_points", "job_history_areas", "job_surfaces")  # fmt: skip
# Legends of more symbols than this are closed.
_FEW = 6


@dataclass(frozen=True)
class ResultLayer:
    """A layer of a result, or of its job, in the project.

    Parameters
    ----------
    name, table : str
        Name in the project, and in the GeoPackage.
    title : str
    columns : tuple of str
    schema : LayerSchema or None
        None for a layer that is not of the contract.
    style : Style or None
        None for a table without shapes.
    one_of_several : bool
        Whether the table has other shapes as well.
    """

    name: str
    table: str
    title: str
    columns: tuple[str, ...]
    schema: LayerSchema | None = None
    style: Style | None = None
    one_of_several: bool = False

    @property
    def shape(self) -> str:
        """The kind of its shapes, as QGIS names it."""
        return NO_SHAPES if self.style is None else SHAPES[self.style.kind]

    @property
    def of_job(self) -> bool:
        """Whether it is a layer of the job."""
        return self.table.startswith(PREFIX)

    def in_tree(self) -> TreeLayer:
        """Return the layer in the tree of the project."""
        source = f"./{FILE}|layername={self.table}"
        if self.one_of_several and self.style is not None:
            source += f"|geometrytype={_SINGLE[self.style.kind]}"
        few = self.style is not None and len(self.style.rules) <= _FEW
        shown = self.name in _SHOWN
        return TreeLayer(self.name, self.title, source, shown, expanded=few and shown)


def project_layers(result: Result) -> dict[str, ResultLayer]:
    """Return the layers of a result that have rows, and those of its job, by their names."""
    found = [*_of_result(result), *_of_job(result)]
    return {layer.name: layer for layer in found}


def groups_of(layers: Mapping[str, ResultLayer], known: Mapping[str, str]) -> list[TreeGroup]:
    """Return the groups of the tree, titled by words of the project; none is empty."""
    listed = {name for names in GROUPS.values() for name in names}
    every = {**GROUPS, REST: tuple(name for name in layers if name not in listed)}
    groups = [
        TreeGroup(known[code], tuple(layers[n].in_tree() for n in names if n in layers),
                  code in _OPEN)
        for code, names in every.items()
    ]  # fmt: skip
    return [group for group in groups if group.layers]


def drawing_order(layers: Mapping[str, ResultLayer]) -> list[str]:
    """Return the names of the layers as they are drawn, topmost first: marks above all zones."""
    points = [n for n in STYLES if n not in ("profile", "survey_bracket", "district_segments")]
    lines = [n for n in STYLES if n not in points]
    at = points.index("locate_requests")
    names = [*points[:at], *_BELOW, *points[at:], *lines, *_LOWEST]
    names += [name for name in layers if name not in names]
    return [name for name in names if name in layers]


def _of_result(result: Result) -> Iterator[ResultLayer]:
    schemas = load_schemas("output")
    styles, words = {style.layer: style for style in styles_of(result)}, words_of(result)
    for name in (*(n for n in schemas if n in result.layers),
                 *(n for n in result.layers if n not in schemas)):  # fmt: skip
        frame, schema = result.layers[name], schemas.get(name)
        if frame.empty:
            continue
        style = styles.get(name)
        if style is not None and name not in result.streamed:
            style = _occurring(style, frame)
        title = words.title(schema.title) if schema is not None else name
        columns = schema.columns if schema is not None else tuple(map(str, frame.columns))
        yield ResultLayer(name, name, title, columns, schema, style, len(_types(frame)) > 1)


def _of_job(result: Result) -> Iterator[ResultLayer]:
    words = words_of(result)
    as_entered = project_words(words)["readings_of_job"]
    styles, schemas = field_styles(DAY), load_schemas("input")
    for name, frame in result.job.items():
        if frame is None or frame.empty:
            continue
        schema, types = schemas[str(name)], _types(frame)
        for part in schema.parts() or (schema,):
            style, own = styles.get(part.name), frame
            if style is not None and isinstance(frame, gpd.GeoDataFrame):
                kinds = frame.geometry.geom_type.str.removeprefix("Multi").map(_KINDS)
                own = frame[kinds == style.kind]
                if own.empty and schema.parts():
                    continue
                style = _in_words(_occurring(style, own), words)
            title = as_entered if name == "readings" else words.title(part.title)
            yield ResultLayer(PREFIX + part.name, PREFIX + str(name), title, part.columns, part,
                              style, len(types) > 1)  # fmt: skip


def _in_words(style: Style, words: Wording) -> Style:
    """Return a style of a layer of the job with its legend in the language of the reader."""
    kinds = {"surfaces": "surface"}.get(style.layer, "")
    rules = tuple(
        replace(rule, title=words.term(rule.title, kinds) if kinds else _legend(rule.title, words))
        for rule in style.rules
    )  # fmt: skip
    return replace(style, rules=rules)


def _legend(title: str, words: Wording) -> str:
    code = next((code for code, look in colours.UTILITY.items() if look.name == title), "")
    return words.term(code, "utility") if code else words.title(title)


def _types(frame: pd.DataFrame) -> list[str]:
    if not isinstance(frame, gpd.GeoDataFrame):
        return []
    return sorted(map(str, frame.geometry.geom_type.dropna().unique()))


def _occurring(style: Style, frame: pd.DataFrame) -> Style:
    """Return a style with the symbols of the rows that there are, so that the legend is short."""
    left, kept = np.ones(len(frame), dtype=bool), []
    for rule in style.rules:
        if rule.otherwise or not rule.where:
            continue
        own = np.logical_and.reduce([_meets(frame, where) for where in rule.where])
        left &= ~own
        kept += [rule] if own.any() else []
    kept += [rule for rule in style.rules
             if (rule.otherwise and left.any()) or not (rule.where or rule.otherwise)]  # fmt: skip
    return replace(style, rules=tuple(kept)) if kept else style


def _meets(frame: pd.DataFrame, where: Condition) -> np.ndarray:
    name, operator, value = where
    if name not in frame:
        return np.zeros(len(frame), dtype=bool)
    column = frame[name]
    if operator in (">=", "<"):
        numbers = column.to_numpy(float, na_value=np.nan)
        return np.asarray(numbers >= value if operator == ">=" else numbers < value)
    same = (column == value).fillna(value=False).to_numpy(bool)
    return same if operator == "=" else ~same & column.notna().to_numpy(bool)

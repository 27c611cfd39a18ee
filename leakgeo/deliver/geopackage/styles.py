"""The GIS style of each layer, from which QML and SLD are made."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np

from leakgeo.deliver.geopackage.labels import SCALES, result_labels
from leakgeo.deliver.qgis.words import caution
from leakgeo.deliver.views import colours
from leakgeo.deliver.views.rows import layer
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from leakgeo.deliver.qgis.labels import Label
    from leakgeo.result import Result
    from leakgeo.wording import Wording

Shape = Literal["circle", "cross", "square", "triangle", "x"]
Operator = Literal["=", "<>", ">=", "<"]
Condition = tuple[str, Operator, str | float | bool]
BELOW_WHITE = "#ffffff"
# Opacity of areas that hide nothing.
_FAINT = 0.15


@dataclass(frozen=True, slots=True)
class Paint:
    """One layer of a symbol; a symbol has one or more, lowest first.

    Parameters
    ----------
    fill, stroke : str or None
        Hex colours; None draws no fill or stroke.
    width_mm : float
        Width of the stroke on paper, in millimetres.
    dash_mm : tuple of float
        On and off lengths in millimetres; empty for a solid stroke.
    opacity : float
        Opacity of the fill, 0 to 1.
    shape : {"circle", "cross", "square", "triangle", "x"} or None
        Shape of a marker, for point layers.
    size_mm : float
        Size of the marker in millimetres.
    """

    fill: str | None = None
    stroke: str | None = None
    width_mm: float = 0.3
    dash_mm: tuple[float, ...] = ()
    opacity: float = 1.0
    shape: Shape | None = None
    size_mm: float = 3.0


@dataclass(frozen=True, slots=True)
class StyleRule:
    """A symbol, and the features that it applies to.

    Parameters
    ----------
    title : str
        Legend text.
    paints : tuple of Paint
        Layers of the symbol, lowest first.
    where : tuple of (str, str, value)
        Conditions (column, operator, value), all of which must hold; empty for every feature.
    otherwise : bool
        Whether the rule applies to all features that no other rule matches.
    """

    title: str
    paints: tuple[Paint, ...]
    where: tuple[Condition, ...] = ()
    otherwise: bool = False


@dataclass(frozen=True, slots=True)
class Style:
    """The style of one layer.

    Parameters
    ----------
    layer, title : str
        Name of the layer, and its legend text.
    kind : {"point", "line", "area"}
        Kind of geometry.
    rules : tuple of StyleRule
        A feature matches at most one of them.
    label : str
        Column of the labels in SLD, which has no expressions; empty for no labels.
    words : Label or None
        Labels in QGIS.
    scale : int
        The layer is hidden on maps of a smaller scale than one to this; 0 for none.
    """

    layer: str
    title: str
    kind: Literal["point", "line", "area"]
    rules: tuple[StyleRule, ...] = field(default=())
    label: str = ""
    words: Label | None = None
    scale: int = 0


def see_through(style: Style) -> Style:
    """Return a style with areas that hide no mark below them, for a file that a GIS opens alone."""
    rules = tuple(
        replace(rule, paints=tuple(
            replace(paint, opacity=min(paint.opacity, _FAINT)) for paint in rule.paints
        ))
        for rule in style.rules
    )  # fmt: skip
    return replace(style, rules=rules) if style.kind == "area" else style


def _halo(paint: Paint, wider_mm: float = 0.8) -> tuple[Paint, Paint]:
    """Return a white stroke and the paint above it, to be visible on any background."""
    below = replace(paint, stroke=BELOW_WHITE, width_mm=paint.width_mm + wider_mm, dash_mm=())
    return below, paint


def _marks(_: Result, words: Wording) -> Style:
    """Return the style of marks: a cross in a ring if located, else only a ring."""
    ring = _halo(Paint(stroke=colours.INK, width_mm=0.5, shape="circle", size_mm=3.6))
    cross = _halo(Paint(stroke=colours.INK, width_mm=0.5, shape="cross", size_mm=6.0))
    rules = (
        StyleRule(
            words.term("mark", "legend"),
            (cross[0], ring[0], cross[1], ring[1]),
            (("status", "=", "located"),),
        ),
        StyleRule(words.term("likeliest_place", "legend"), ring, otherwise=True),
    )
    return Style("marks", "Marks", "point", rules, "line_id")


def _zones(_: Result, words: Wording) -> Style:
    last = len(colours.ZONES)
    edge = Paint(stroke="#5b0145", width_mm=0.25, opacity=0.55)
    rules = [
        StyleRule(words.text(_zone_title(rank)),
             (replace(edge, fill=colours.zone_colour(rank)),), (("rank", "=", float(rank)),))
        for rank in range(1, last)
    ]  # fmt: skip
    rest = (replace(edge, fill=colours.zone_colour(last)),)
    rules.append(
        StyleRule(
            words.text(Reason("legend_zones_from", rank=last)), rest, (("rank", ">=", float(last)),)
        )
    )
    return Style("search_zones", "Search zones", "area", tuple(rules))


def _zone_title(rank: int) -> Reason:
    return Reason("legend_zone_first") if rank == 1 else Reason("legend_zone", rank=rank)


def _dig(_: Result, words: Wording) -> Style:
    """Return the style of dig zones: white, with a solid edge if held; no colour means "go"."""
    none = f"{words.term('no_hold', 'dig_text')}. {caution(words)}"
    white = Paint(fill=colours.EXCAVATION, stroke=colours.INK, width_mm=0.7, opacity=0.6)
    rules = (
        StyleRule(none,
                  (replace(white, width_mm=0.4, dash_mm=(2, 1)),),
                  (("dig_status", "=", "no_hold_recorded"),)),
        StyleRule(words.term("held", "legend"), (white,), otherwise=True),
    )  # fmt: skip
    return Style("dig_zones", "Dig zones", "area", rules)


def _conflicts(_: Result, words: Wording) -> Style:
    rules = []
    for kind, look in colours.UTILITY.items():
        edge = Paint(fill=look.colour, stroke=look.colour, width_mm=0.5, opacity=0.15)
        lost = replace(edge, dash_mm=(0.5, 1.2), opacity=0.1)
        of: Condition = ("kind", "=", kind)
        unknown: Condition = ("severity", "=", "unknown_position")
        placed: Condition = ("severity", "<>", "unknown_position")
        lost_title = words.text(Reason("legend_position_unknown", kind=kind))
        rules.append(StyleRule(lost_title, (lost,), (of, unknown)))
        if kind != "unknown":
            rules.append(StyleRule(words.term(kind, "utility"), (edge,), (of, placed)))
    rules.append(StyleRule(words.term("unknown", "utility"), (edge,), otherwise=True))
    return Style("conflicts", "Conflicts", "area", tuple(rules))


def _classes(result: Result, name: str, column: str, count: int) -> list[tuple[float, float]]:
    """Divide the range of a column into equal classes, with its ends rounded outwards."""
    frame = layer(result, name)
    values = np.empty(0) if frame is None or column not in frame else frame[column].to_numpy(float)
    values = values[np.isfinite(values)]
    low, high = (float(values.min()), float(values.max())) if values.size else (0.0, 1.0)
    edges = np.linspace(np.floor(low), max(np.ceil(high), np.floor(low) + 1.0), count + 1).round(1)
    return list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))


def _between(column: str, low: float, high: float) -> tuple[Condition, ...]:
    """Return conditions for ``low <= column < high``; an infinite end sets no condition."""
    ends: list[Condition] = [(column, ">=", low)] if np.isfinite(low) else []
    return (*ends, (column, "<", high)) if np.isfinite(high) else tuple(ends)


def _readings(result: Result, words: Wording) -> Style:
    """Return the style of readings: by level, on one scale for all lines; unused ones crosses."""
    dot = Paint(stroke="#333333", width_mm=0.2, shape="circle", size_mm=2.2)
    parts = _classes(result, "readings_on_route", "level_comparable_db", 5)
    last, rules = len(parts) - 1, []
    for place, (low, high) in enumerate(parts):
        fill = colours.level_colour(place, 0, last)
        ends = (low if place else -np.inf, high if place < last else np.inf)
        where = (("used", "=", True), *_between("level_comparable_db", *ends))
        title = words.text(Reason("legend_levels", low_db=low, high_db=high))
        rules.append(StyleRule(title, (replace(dot, fill=fill),), where))
    # A small ring would look like a likeliest place.
    not_used = words.term("not_used", "legend")
    unused = StyleRule(not_used, (replace(dot, width_mm=0.3, shape="x", size_mm=1.6),),
                       otherwise=True)  # fmt: skip
    return Style("readings_on_route", "Readings", "point", (*rules, unused))


def _profile(_: Result, words: Wording) -> Style:
    """Return the style of the profile: classes of density by factors of three."""
    ends = (-np.inf, 0.03, 0.1, 0.3, 1.0, np.inf)
    rules = []
    for place, fill in enumerate(("#c9cdd2", *reversed(colours.ZONES))):
        dot = Paint(fill=fill, shape="circle", size_mm=0.8 + 0.3 * place)
        title = words.text(Reason("legend_density_from", per_m=ends[place]) if place
                           else Reason("legend_density_under", per_m=ends[1]))  # fmt: skip
        where = _between("leak_density_per_m", ends[place], ends[place + 1])
        rules.append(StyleRule(title, (dot,), where))
    return Style("profile", "Leak density, given a leak on the line", "point", tuple(rules))


def _segments(_: Result, words: Wording) -> Style:
    """Return the style of a district's segments: by probability; wider where it is higher."""
    ends, rules = (-np.inf, 0.05, 0.2, 0.5, 0.9, np.inf), []
    shades = ("#c9cdd2", "#fbb4b9", "#f768a1", "#ae017e", "#5b0145")
    for place, colour in enumerate(shades):
        title = words.text(Reason("legend_share_from", probability=ends[place]) if place
                           else Reason("legend_share_under", probability=ends[1]))  # fmt: skip
        stroke = _halo(Paint(stroke=colour, width_mm=0.8 + 0.3 * place))
        rules.append(StyleRule(title, stroke, _between("probability", *ends[place : place + 2])))
    return Style("district_segments", "Segments: probability of the loss", "line", tuple(rules),
                 "segment")  # fmt: skip


def _one(name: str, title: str, kind: Literal["point", "line", "area"], *paints: Paint,
         label: str = "") -> Callable[[Result, Wording], Style]:  # fmt: skip
    return lambda _, words: Style(
        name, title, kind, (StyleRule(words.term(name, "legend"), paints),), label
    )


_RING = Paint(fill=BELOW_WHITE, stroke=colours.SURVEY, width_mm=0.4, shape="circle", size_mm=4.4)
_WHITE_LINE = (Paint(stroke=colours.INK, width_mm=0.9, dash_mm=(2.4, 1.2)),
               Paint(stroke=colours.EXCAVATION, width_mm=0.5, dash_mm=(2.4, 1.2)))  # fmt: skip

# Topmost layer first, as a GIS lists them.
STYLES: Mapping[str, Callable[[Result, Wording], Style]] = MappingProxyType(
    {
        "marks": _marks,
        "next_readings": _one("next_readings", "Listen next", "point", _RING, label="order"),
        "air_tests": _one("air_tests", "Air tests", "point",
                          Paint(fill="#9bd5e8", stroke=colours.INK, shape="triangle")),
        "readings_on_route": _readings,
        "contact_ranking": _one("contact_ranking", "Fittings by loudness", "point",
                                Paint(fill="#2c728e", stroke=BELOW_WHITE, shape="square"),
                                label="rank"),
        "learned_cases": _one("learned_cases", "Digs compared with marks", "point",
                              Paint(fill="#21918c", stroke=colours.INK, shape="x", size_mm=3.4)),
        "ties": _one("ties", "Ties to the mark", "line",
                     Paint(stroke=colours.INK, width_mm=0.2, dash_mm=(1.0, 0.6)),
                     label="fixed_point"),
        "locate_requests": _one("locate_requests", "White line", "area", *_WHITE_LINE),
        "conflicts": _conflicts,
        "dig_alternatives": _one("dig_alternatives", "Other place for the hole", "area",
                                 Paint(fill=colours.EXCAVATION, stroke=colours.INK, opacity=0.35,
                                       width_mm=0.3, dash_mm=(0.8, 0.8))),
        "dig_zones": _dig,
        "search_zones": _zones,
        "profile": _profile,
        "survey_bracket": _one("survey_bracket", "Stretches to walk", "line",
                               Paint(stroke=colours.SURVEY, width_mm=1.2)),
        "district_segments": _segments,
    }
)  # fmt: skip


def styles_of(result: Result, words: Wording | None = None) -> list[Style]:
    """Return the style of each layer with geometry in a result.

    Parameters
    ----------
    result : Result
    words : Wording, optional
        Units and language of the labels; those of the texts of the result if None.

    Returns
    -------
    list of Style
        Topmost layer first.
    """
    words = words or words_of(result)
    labels = result_labels(words)
    return [replace(make(result, words), words=labels.get(name), scale=SCALES.get(name, 0))
            for name, make in STYLES.items() if name in result.layers]  # fmt: skip


def words_of(result: Result) -> Wording:
    """Return units and language of the texts of a result."""
    units, language = result.text_options
    return wording(result.units(units), language)

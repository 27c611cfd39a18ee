"""Symbols of the layers of a job, by day and by night; no colour means "go" or "stop"."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from leakgeo.deliver.geopackage.styles import Paint, Style, StyleRule, see_through
from leakgeo.deliver.views import colours
from leakgeo.job.schema import drawn_layers, load_schemas

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.deliver.geopackage.styles import Condition
    from leakgeo.job.schema import LayerSchema

# Line patterns of the map are in pixels.
_PIXEL_MM = 0.2


@dataclass(frozen=True, slots=True)
class Light:
    """Colours that depend on the ground behind the map.

    Parameters
    ----------
    ground, ink, pipe, quiet : str
        Hex colours of the ground, of text and edges, of the pipe, and of what is in the background.
    brighter : float
        Share of white that is mixed into the colours of utilities, 0 to 1.
    cover_opacity : float
        Opacity of the ground cover, 0 to 1.
    """

    ground: str
    ink: str
    pipe: str
    quiet: str
    brighter: float
    cover_opacity: float


DAY = Light("#ffffff", colours.INK, colours.PIPE, "#6b7580", 0.0, 0.55)
NIGHT = Light("#10161d", "#e6ebf0", "#aebccb", "#93a0ad", 0.3, 0.16)
_COVER = {
    "concrete": "#c9cbcd", "asphalt": "#9aa0a6", "tile": "#d9c7bb", "paver": "#cdbfb2",
    "gravel": "#d6d0b8", "soil": "#c6ac88", "grass": "#c4cfae", "carpet": "#d6c8cf",
}  # fmt: skip
# In the file of a result: share of the sizes, and the scale of points.
_SMALLER, _SCALE = 0.6, 3000


def field_styles(light: Light) -> Mapping[str, Style]:
    """Return the style of each layer with geometry that a crew edits, by its name.

    Parameters
    ----------
    light : Light

    Examples
    --------
    >>> field_styles(DAY)["readings"].kind
    'point'
    """
    made = {
        "readings": _readings(light), "contacts": _contacts(light), "routes": _routes(light),
        "valves": _valves(light), "dig_outcomes": _digs(light), "surfaces": _surfaces(light),
        "history_points": _history(light, "point"), "history_areas": _history(light, "area"),
        **{name: _utilities(light, name) for name in
           ("utility_points", "utility_lines", "utility_areas")},
    }  # fmt: skip
    return {
        name: replace(made.get(name) or _other(light, schema), layer=name, title=schema.title)
        for name, schema in drawn_layers().items() if schema.geometry_types
    }  # fmt: skip


def of_job(name: str) -> list[Style]:
    """Return the style of a layer of the job in the file of a result, of each kind of geometry.

    QGIS lists the tables of a file by name, so these layers may come above the marks: they are
    smaller there than where a crew edits them, and points are hidden on maps of small scales.

    Parameters
    ----------
    name : str
        Layer of the job.

    Examples
    --------
    >>> [style.kind for style in of_job("utilities")]
    ['line', 'area', 'point']
    """
    # The readings on the route are drawn at the same places, by level.
    dot = Paint(fill=DAY.quiet, shape="circle", size_mm=1.0)
    styles = {**field_styles(DAY), "readings": _style("point", StyleRule("As entered", (dot,)))}
    schema = load_schemas("input")[name]
    parts = [part.name for part in schema.parts() or (schema,)]
    return [see_through(_smaller(styles[part])) for part in parts if part in styles]


def _smaller(style: Style) -> Style:
    rules = []
    for rule in style.rules:
        seen = [p for p in rule.paints if style.kind != "line" or p.stroke != DAY.ground]
        paints = (replace(p, width_mm=_SMALLER * p.width_mm, size_mm=_SMALLER * p.size_mm)
                  for p in seen)  # fmt: skip
        rules.append(replace(rule, paints=tuple(paints)))
    return replace(style, rules=tuple(rules), scale=_SCALE if style.kind == "point" else 0)


def _other(light: Light, schema: LayerSchema) -> Style:
    """Return the style of a layer that has none here, as it was added to the contract."""
    kind = {"Point": "point", "LineString": "line"}.get(
        schema.geometry_types[0].removeprefix("Multi"), "area"
    )
    paint = Paint(stroke=light.quiet, width_mm=0.5, shape="circle")
    return _style(kind, StyleRule(schema.title, (paint,)))


def _style(kind: str, *rules: StyleRule) -> Style:
    return Style("", "", kind, rules)  # type: ignore[arg-type]


def _halo(paint: Paint, light: Light, wider_mm: float = 0.8) -> tuple[Paint, Paint]:
    below = replace(paint, stroke=light.ground, width_mm=paint.width_mm + wider_mm, dash_mm=())
    return below, paint


def _readings(light: Light) -> Style:
    dot = Paint(fill=colours.SURVEY, stroke=light.ground, width_mm=0.4, shape="circle", size_mm=3.2)
    aside = Paint(stroke=light.quiet, width_mm=0.5, shape="circle", size_mm=2.8)
    cross = Paint(stroke=light.quiet, width_mm=0.5, shape="x", size_mm=2.2)
    return _style("point", StyleRule("Set aside", (aside, cross), (("set_aside", "=", True),)),
                  StyleRule("Stop", (dot,), otherwise=True))  # fmt: skip


def _contacts(light: Light) -> Style:
    paint = Paint(fill=light.ground, stroke=colours.SURVEY, width_mm=0.8, shape="square",
                  size_mm=3.2)  # fmt: skip
    return _style("point", StyleRule("Fitting", (paint,)))


def _valves(light: Light) -> Style:
    open_ = Paint(fill=light.ground, stroke=light.ink, width_mm=0.5, shape="triangle", size_mm=3.4)
    shut = replace(open_, fill=light.ink)
    return _style(
        "point", StyleRule("Normally closed", (shut,), (("normally_closed", "=", True),)),
        StyleRule("Valve", (open_,), otherwise=True),
    )  # fmt: skip


def _routes(light: Light) -> Style:
    # Wide, as a hand must hit it on a screen.
    pipe = _halo(Paint(stroke=light.pipe, width_mm=0.9), light, 1.0)
    return _style("line", StyleRule("Pipe", pipe))


def _utilities(light: Light, name: str) -> Style:
    kind = {"utility_points": "point", "utility_lines": "line"}.get(name, "area")
    rules = []
    for code, look in colours.UTILITY.items():
        where: tuple[Condition, ...] = (("kind", "=", code),)
        other = code == "unknown"
        words = "not known" if other else drawn_layers()[name].field("kind").words(code)
        paints = _utility(colours.lighter(look.colour, light.brighter), look.dash, kind, light)
        rules.append(StyleRule(words, paints, () if other else where, otherwise=other))
    return _style(kind, *rules)


def _utility(colour: str, dash: tuple[int, ...], kind: str, light: Light) -> tuple[Paint, ...]:
    pattern = tuple(_PIXEL_MM * length for length in dash)
    edge = Paint(fill=colour, stroke=colour, width_mm=0.7, dash_mm=pattern, opacity=0.15)
    if kind == "point":
        return (Paint(fill=colour, stroke=light.ink, width_mm=0.3, shape="square", size_mm=2.6),)
    if kind == "area":
        return (edge,)
    # A dark rim, as yellow is hardly seen on white.
    rim = Paint(stroke=light.quiet, width_mm=1.1, dash_mm=pattern)
    return rim, replace(edge, fill=None)


def _digs(light: Light) -> Style:
    """Return the style of holes: white, as a proposed excavation is marked on the ground."""
    edge = light.ink if light is DAY else light.quiet
    hole = Paint(fill=colours.EXCAVATION, stroke=edge, width_mm=0.6, shape="square", size_mm=4.2)
    return _style("point", StyleRule("Hole", (hole,)))


def _surfaces(light: Light) -> Style:
    rules = []
    field = drawn_layers()["surfaces"].field("surface")
    for code, colour in _COVER.items():
        paint = Paint(fill=colour, stroke=light.quiet, width_mm=0.15, opacity=light.cover_opacity)
        rules.append(StyleRule(field.words(code), (paint,), (("surface", "=", code),)))
    edge = Paint(stroke=light.quiet, width_mm=0.2, dash_mm=(1.0, 1.0))
    return _style("area", *rules, StyleRule("other", (edge,), otherwise=True))


def _history(light: Light, kind: str) -> Style:
    if kind == "point":
        paint = Paint(fill=light.quiet, stroke=light.quiet, width_mm=0.6, shape="x", size_mm=2.8)
    else:
        paint = Paint(stroke=light.quiet, width_mm=0.4, dash_mm=(0.6, 0.8))
    return _style(kind, StyleRule("Past event", (paint,)))

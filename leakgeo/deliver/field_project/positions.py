"""Expressions of places on the ground: the nearest line, and the distance along it.

Degrees are stretched to lengths at the latitude of the feature, in the datum of its layer, so that
lengths are those on the ground in any CRS, and no datum is shifted. The time in which QGIS parses
an expression doubles with each level of nesting, so that the inner part of each is parsed apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.qgis.expressions import layer_id, literal
from leakgeo.job.lengths import INCH_M

if TYPE_CHECKING:
    from leakgeo.wording import Wording

#: A stop is on the nearest line within this distance on the ground.
REACH_M = 15
# At a tee, lines are about equally near; then the reading is assigned by its position.
_AS_NEAR_CM = 50
# Centimetres per degree of a great circle, within 0.5 % of that of a meridian: enough to compare.
_DEGREE_CM = 11_120_000
# Metres per degree on the ellipsoid of WGS 84, by latitude (National Geospatial-Intelligence
# Agency, "Length of a Degree of Latitude and Longitude Calculator").
_NORTH_M = "111132.92 - 559.82 * cos(2 * @phi) + 1.175 * cos(4 * @phi)"
_EAST_M = "111412.84 * cos(@phi) - 93.5 * cos(3 * @phi) + 0.118 * cos(5 * @phi)"


def _with(variables: dict[str, str], inner: str) -> str:
    """Return an expression in which each variable may use those before it."""
    for name, value in reversed(variables.items()):
        inner = f"with_variable({literal(name)}, {value}, {inner})"
    return inner


def _apart(inner: str) -> str:
    """Return an expression that QGIS parses by itself."""
    return f"eval({literal(inner)})"


def _degrees(shape: str, layer: str, geographic: str) -> str:
    crs = f"layer_property({layer}, 'crs')"
    return f"transform({shape}, {crs}, {literal(geographic)})"


def _stretched(shape: str, east: str, north: str) -> str:
    return f"affine_transform({shape}, 0, 0, 0, {east}, {north})"


def nearest_line(unit_m: float | None, geographic: str) -> str:
    """Return the line within `REACH_M` of the feature; null if there is none, or two as near.

    Parameters
    ----------
    unit_m : float or None
        Unit of the CRS of the layer, in metres; None if it is in degrees.
    geographic : str
        Geographic CRS on the datum of the layer, such as ``EPSG:4269``.
    """
    # Degrees of longitude are the shorter ones. A grid may stretch lengths, as Web Mercator does.
    reach = f"{3 * REACH_M / unit_m:.4g}" if unit_m else f"{100 * REACH_M} / @east"
    routes = literal(layer_id("routes"))
    near = (f"overlay_nearest({routes}, array(\"line_id\", $geometry), limit:=8, "
            f"max_distance:={reach})")  # fmt: skip
    route = _stretched(_degrees("@element[1]", routes, geographic), "@east", str(_DEGREE_CM))
    far = f"lpad(round(distance({route}, @here)), 8, '0') || @element[0]"
    variables = {
        "place": _degrees("$geometry", "@layer_id", geographic),
        "east": f"{_DEGREE_CM} * cos(radians(y(@place)))",
        "here": _stretched("@place", "@east", str(_DEGREE_CM)),
        "near": f"array_sort({_apart(f'array_foreach({near}, {far})')})",
    }
    found = (f"if(left(@near[0], 8) <= {100 * REACH_M} AND "
             f"coalesce(left(@near[1], 8) - left(@near[0], 8) > {_AS_NEAR_CM}, true), "
             "substr(@near[0], 9), NULL)")  # fmt: skip
    return f"try({_with(variables, found)})"


def tape_label(title: str, geographic: str, words: Wording) -> str:
    """Return the label of the tape: its unit, and the distance by position, which is not stored.

    Parameters
    ----------
    title : str
    geographic : str
        Geographic CRS on the datum of the layer, such as ``EPSG:4269``.
    words : Wording
    """
    routes, contacts = (literal(layer_id(name)) for name in ("routes", "contacts"))
    route = f"geometry(get_feature({routes}, 'line_id', \"line_id\"))"
    fitting = f"geometry(get_feature({contacts}, 'contact_id', \"chainage_from\"))"
    plane = {"place": _degrees("$geometry", "@layer_id", geographic),
             "phi": "radians(y(@place))", "north": _NORTH_M, "east": _EAST_M}  # fmt: skip
    shapes = {
        "here": _stretched("@place", "@east", "@north"),
        "route": _stretched(_degrees(route, routes, geographic), "@east", "@north"),
        "line": "line_merge(@route)",
        "start": _stretched(_degrees(fitting, contacts, geographic), "@east", "@north"),
    }
    lengths = {"by": _along(), "inches": f"round(@by / {INCH_M})"}
    feet = "concat(floor(@inches / 12), ''' ', @inches % 12, '\"')"
    sign = words.number(".")
    metres = "round(@by, 1)" if sign == "." else f"replace(round(@by, 1), '.', {literal(sign)})"
    shown = f"if(\"tape_unit\" = 'm', concat({metres}, ' m'), {feet})"
    start, by, since, in_feet, in_metres = (
        literal(words.term(code))
        for code in ("form_start", "form_by", "form_from", "form_feet", "form_metres")
    )
    origin = f'coalesce("chainage_from", {start})'
    text = f"if(@by IS NULL, '', concat('; ', {by}, ' ', {shown}, ' ', {since}, ' ', {origin}))"
    feet, metres = (f"concat(' (', {name}, ')')" for name in (in_feet, in_metres))
    unit = f"map_get(map('ft', {feet}, 'm', {metres}), \"tape_unit\")"
    by = _with(plane, _apart(_with(shapes, _apart(_with(lengths, text)))))
    return f"concat({literal(title)}, {unit}, try({by}))"


def _along() -> str:
    """Return the distance along the line from the fitting, or from the start of the line."""
    # Parts that do not join have no distance; others may be merged against the first one.
    apart = "coalesce(num_geometries(@line) > 1, false)"
    turned = "distance(start_point(@line), start_point(geometry_n(@route, 1))) > 0.01"
    origin = (f"if(\"chainage_from\" IS NULL, if({turned}, NULL, 0), "
              "line_locate_point(@line, @start))")  # fmt: skip
    beside = f"distance(@line, @here) > {REACH_M}"
    along = f"abs(line_locate_point(@line, @here) - {origin})"
    return f"if({beside} OR {apart}, NULL, {along})"

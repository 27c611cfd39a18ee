"""Expressions of places on the ground: the nearest line, and the distance along it.

Lengths are measured on a plane in metres through the feature, in the datum of its layer, so that
they are those on the ground in any CRS, and no datum is shifted.
"""

from __future__ import annotations

from leakgeo.deliver.field_project.expressions import feet_text, layer_id, literal

#: A stop is on the nearest line within this distance on the ground.
REACH_M = 15
# At a tee, lines are about equally near; then the reading is assigned by its position.
_AS_NEAR_CM = 50
# Metres per degree on the ellipsoid of WGS 84, by latitude (National Geospatial-Intelligence
# Agency, "Length of a Degree of Latitude and Longitude Calculator").
_NORTH_M = "111132.92 - 559.82 * cos(2 * @phi) + 1.175 * cos(4 * @phi)"
_EAST_M = "111412.84 * cos(@phi) - 93.5 * cos(3 * @phi) + 0.118 * cos(5 * @phi)"


def _on_plane(inner: str, geographic: str) -> str:
    """Set the variables by which `_metres` works: place, latitude, and metres per degree."""
    place = _degrees("$geometry", "@layer_id", geographic)
    sets = (("place", place), ("phi", "radians(y(@place))"), ("north", _NORTH_M),
            ("east", _EAST_M))  # fmt: skip
    for name, value in reversed(sets):
        inner = f"with_variable({literal(name)}, {value}, {inner})"
    return inner


def _degrees(shape: str, layer: str, geographic: str) -> str:
    return f"transform({shape}, layer_property({layer}, 'crs'), {literal(geographic)})"


def _metres(shape: str, layer: str, geographic: str) -> str:
    """Return a geometry of a layer on the plane, whose origin is the feature."""
    return (f"affine_transform({_degrees(shape, literal(layer_id(layer)), geographic)}, "
            "-x(@place) * @east, -y(@place) * @north, 0, @east, @north)")  # fmt: skip


_HERE = "make_point(0, 0)"


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
    reach = f"{3 * REACH_M / unit_m:.4g}" if unit_m else f"{REACH_M} / @east"
    near = (f"overlay_nearest({literal(layer_id('routes'))}, array(\"line_id\", $geometry), "
            f"limit:=8, max_distance:={reach})")  # fmt: skip
    route = _metres("@element[1]", "routes", geographic)
    distance_cm = f"round(100 * distance({route}, {_HERE}))"
    by_distance = f"array_sort(array_foreach({near}, lpad({distance_cm}, 8, '0') || @element[0]))"
    away = "to_int(left(@near[{}], 8))"
    clear = (f"{away.format(0)} <= {100 * REACH_M} AND (array_length(@near) = 1 OR "
             f"{away.format(1)} - {away.format(0)} > {_AS_NEAR_CM})")  # fmt: skip
    chosen = f"if({clear}, substr(@near[0], 9), NULL)"
    found = f"with_variable('near', {by_distance}, {chosen})"
    return f"try({_on_plane(found, geographic)})"


def _by_position(geographic: str) -> str:
    """Return the distance in metres along the line from ``chainage_from``, by position."""
    routes, contacts = (literal(layer_id(name)) for name in ("routes", "contacts"))
    route = _metres(
        f"geometry(get_feature({routes}, 'line_id', \"line_id\"))", "routes", geographic
    )
    fitting = _metres(f"geometry(get_feature({contacts}, 'contact_id', \"chainage_from\"))",
                      "contacts", geographic)  # fmt: skip
    # Parts may be merged against the direction of the first one.
    same_start = "distance(start_point(@line), start_point(geometry_n(@route, 1))) < 0.01"
    start = (f"if(\"chainage_from\" IS NULL, if({same_start}, 0, NULL), "
             f"line_locate_point(@line, {fitting}))")  # fmt: skip
    along = f"abs(line_locate_point(@line, {_HERE}) - {start})"
    near = (f"distance(@line, {_HERE}) <= {REACH_M} AND geometry_type(@line) = 'Line' "
            "AND coalesce(num_geometries(@line), 1) = 1")  # fmt: skip
    return (f"with_variable('route', {route}, with_variable('line', line_merge(@route), "
            f"if({near}, {along}, NULL)))")  # fmt: skip


def tape_label(title: str, geographic: str) -> str:
    """Return the label of the tape: its unit, and the distance by position, which is not stored.

    Parameters
    ----------
    title : str
    geographic : str
        Geographic CRS on the datum of the layer, such as ``EPSG:4269``.
    """
    unit = "map_get(map('ft', ' (feet)', 'm', ' (metres)'), \"tape_unit\")"
    metres = "to_string(round(@by, 1)) || ' m'"
    shown = f"if(\"tape_unit\" = 'm', {metres}, {feet_text('@by')})"
    origin = "coalesce(\"chainage_from\", 'the start of the line')"
    text = f"'; by position ' || {shown} || ' from ' || {origin}"
    by = _on_plane(f"with_variable('by', {_by_position(geographic)}, {text})", geographic)
    return f"{literal(title)} || coalesce({unit}, '') || coalesce(try({by}), '')"

"""Expressions in the core language of QGIS 3.22, for defaults, checks and labels of forms.

They also run in mobile apps that are built on QGIS. None of them fails where a layer is missing.
"""

from __future__ import annotations

from leakgeo.conversion import UNITS_BY_KIND
from leakgeo.job.lengths import INCH_M

#: A walk ends when nothing was heard for so long; the next stop begins another.
WALK_H = 4
#: A stop is on the nearest line within this distance on the ground.
REACH_M = 15
# At a tee, lines are about equally near; then the reading is assigned by its position.
_AS_NEAR_CM = 50
# Versions before 3.34.8, and 3.36, write the clock of a local time as if it were UTC.
_WRITES_CLOCK = (
    "(@qgis_version_no < 33408 OR (@qgis_version_no >= 33500 AND @qgis_version_no < 33800))"
)
_UTC = "(to_datetime('1970-01-01T00:00:00Z') + make_interval(seconds:=floor(epoch(now())/1000)))"
_CLOCK = "'yyyy-MM-dd HH:mm:ss'"
#: The time now, which every version writes into a GeoPackage as UTC.
NOW = f"if({_WRITES_CLOCK}, to_datetime(format_date({_UTC}, {_CLOCK})), {_UTC})"


def layer_id(name: str) -> str:
    """Return the id of a layer in the project.

    Examples
    --------
    >>> layer_id("readings")
    'leakgeo_readings'
    """
    return f"leakgeo_{name}"


def literal(text: str) -> str:
    """Return a text as a literal of an expression.

    Examples
    --------
    >>> print(literal("owner's"))
    'owner''s'
    """
    return "'{}'".format(text.replace("\\", "\\\\").replace("'", "''"))


def clock_label(title: str) -> str:
    """Return the label of a time: a version that writes the clock alone asks for UTC."""
    utc = f" || ' (UTC; now ' || format_date({_UTC}, 'HH:mm') || ')'"
    return f"{literal(title)} || if({_WRITES_CLOCK}, {utc[4:]}, '')"


def stamp_id() -> str:
    """Return an identifier from the time to the millisecond, which differs between crews."""
    return f"format_date({_UTC}, 'yyyyMMdd-HHmmss') || '-' || lpad(epoch(now()) % 1000, 3, '0')"


def short_id(prefix: str) -> str:
    """Return a short identifier, from the day and the time to the second."""
    return f"{literal(prefix)} || format_date({_UTC}, 'dd-HHmmss')"


def last(column: str) -> str:
    """Return the value of the last row of the layer itself, by its time.

    Committed and new rows may differ in their time zone, so their clocks are compared.
    """
    return (f"array_last(aggregate(@layer_id, 'array_agg', \"{column}\", \"time\" IS NOT NULL, "
            f"order_by:=format_date(\"time\", {_CLOCK})))")  # fmt: skip


def begins_walk() -> str:
    """Return whether the last row is older than a walk lasts, or there is none."""
    latest = f"aggregate(@layer_id, 'max', format_date(\"time\", {_CLOCK}))"
    age_ms = f"epoch(now()) - epoch(to_datetime({latest} || 'Z'))"
    return f"coalesce(try({age_ms}) > {WALK_H * 3_600_000}, true)"


def walk_id() -> str:
    """Return the walk of the last stop; a new one if that is over."""
    new = f"'W' || format_date({_UTC}, 'yyyyMMdd-HHmm') || '-' || upper(substr(uuid(), 2, 4))"
    return f"if({begins_walk()}, {new}, coalesce(try({last('walk_id')}), {new}))"


def same_as_last(column: str, other: str = "NULL") -> str:
    """Return the value of the last row, or another value where that has none."""
    return f"coalesce(try({last(column)}), {other})"


def same_on_line(column: str) -> str:
    """Return the value of the last row if it is on the line of this one."""
    return f'if(try({last("line_id")}) = "line_id", try({last(column)}), NULL)'


def _here(inner: str) -> str:
    """Set ``here`` and ``utm``: the feature in the UTM zone of its place, and that zone."""
    crs = "layer_property(@layer_id, 'crs')"
    return (f"with_variable('lonlat', transform($geometry, {crs}, 'EPSG:4326'), "
            "with_variable('utm', 'EPSG:' || to_string(if(y(@lonlat) < 0, 32701, 32601) "
            "+ floor((x(@lonlat) + 180) / 6)), "
            f"with_variable('here', transform($geometry, {crs}, @utm), {inner})))")  # fmt: skip


def _on_ground(shape: str) -> str:
    routes = literal(layer_id("routes"))
    return f"transform({shape}, layer_property({routes}, 'crs'), @utm)"


def nearest_line(*, unit_m: float | None) -> str:
    """Return the line within `REACH_M` of the feature; null if there is none, or two as near.

    Parameters
    ----------
    unit_m : float or None
        Unit of the CRS of the layer, in metres; None if it is in degrees.
    """
    # Degrees of longitude are the shorter ones. A grid may stretch lengths, as Web Mercator does.
    reach = (f"{3 * REACH_M / unit_m:.4g}" if unit_m else
             f"{REACH_M / 110_000:.4g} / cos(radians(y(@lonlat)))")  # fmt: skip
    near = (f"overlay_nearest({literal(layer_id('routes'))}, array(\"line_id\", $geometry), "
            f"limit:=8, max_distance:={reach})")  # fmt: skip
    distance = f"round(100 * distance({_on_ground('@element[1]')}, @here))"
    sorted_ = f"array_sort(array_foreach({near}, lpad({distance}, 8, '0') || @element[0]))"
    away = "to_int(left(@near[{}], 8))"
    clear = (f"{away.format(0)} <= {100 * REACH_M} AND (array_length(@near) = 1 OR "
             f"{away.format(1)} - {away.format(0)} > {_AS_NEAR_CM})")  # fmt: skip
    chosen = f"if({clear}, substr(@near[0], 9), NULL)"
    found = f"with_variable('near', {sorted_}, {chosen})"
    return f"try({_here(found)})"


def _by_position() -> str:
    """Return the distance in metres along the line from ``chainage_from``, by position."""
    route = f"geometry(get_feature({literal(layer_id('routes'))}, 'line_id', \"line_id\"))"
    line = f"line_merge({_on_ground(route)})"
    contacts = literal(layer_id("contacts"))
    fitting = f"geometry(get_feature({contacts}, 'contact_id', \"chainage_from\"))"
    start = (f"if(\"chainage_from\" IS NULL, if(distance(start_point(@line), "
             f"start_point(geometry_n({_on_ground(route)}, 1))) < 0.01, 0, NULL), "
             f"line_locate_point(@line, transform({fitting}, "
             f"layer_property({contacts}, 'crs'), @utm)))")  # fmt: skip
    # A UTM zone is shorter than the ground at its centre, and longer at its edge.
    scale = "(0.9996 * (1 + ((x(@here) - 500000) / 6378000) ^ 2 / 2))"
    along = f"abs(line_locate_point(@line, @here) - {start}) / {scale}"
    merged = "geometry_type(@line) = 'Line' AND coalesce(num_geometries(@line), 1) = 1"
    return f"with_variable('line', {line}, if({merged}, {along}, NULL))"


def feet_text(metres: str) -> str:
    """Return a length in feet and inches."""
    inches = f"round({metres} / {INCH_M})"
    return f"to_string(floor({inches} / 12)) || ''' ' || to_string({inches} % 12) || '\"'"


def tape_label(title: str) -> str:
    """Return the label of the tape: its unit, and the distance by position, which is not stored."""
    unit = "map_get(map('ft', ' (feet)', 'm', ' (metres)'), \"tape_unit\")"
    metres = "to_string(round(@by, 1)) || ' m'"
    shown = f"if(\"tape_unit\" = 'm', {metres}, {feet_text('@by')})"
    origin = "coalesce(\"chainage_from\", 'the start of the line')"
    text = f"'; by position ' || {shown} || ' from ' || {origin}"
    by = _here(f"with_variable('by', {_by_position()}, {text})")
    return f"{literal(title)} || coalesce({unit}, '') || coalesce(try({by}), '')"


# Each unit of a column, and the number that people know, with decimals and sign.
_KNOWN = {"mm": (1000 * INCH_M, 2, " in"),
          "kPa": (float(UNITS_BY_KIND["pressure"]["psi"]), 0, " psi")}  # fmt: skip


def echo_label(title: str, column: str, unit: str) -> str:
    """Return the label of a column, with its value in feet, inches or psi.

    Parameters
    ----------
    title, column : str
    unit : {"m", "mm", "kPa"}
    """
    if unit == "m":
        feet = feet_text(f'abs("{column}")')
        value = f"if(\"{column}\" < 0, '-', '') || {feet}"
    else:
        factor, decimals, sign = _KNOWN[unit]
        value = f'to_string(round("{column}" / {factor:.7g}, {decimals})) || {literal(sign)}'
    return f"{literal(title)} || coalesce(' = ' || try({value}), '')"


_NUMBER = ("([0-9]+ */ *[1-9][0-9]*|([0-9]+[.,]?[0-9]*|[.,][0-9]+)"
           "([ -]+[0-9]+ */ *[1-9][0-9]*)?)")  # fmt: skip
_FEET = f"{_NUMBER} *(['\u2018\u2019\u2032]|ft[.]?|foot|feet)"
_INCHES = f"{_NUMBER} *('{{2}}|[\"\u201c\u201d\u2033]|in[.]?|inch|inches)"
_TAPE = (f"^ *[+]?({_NUMBER}|{_FEET}[ ,-]*({_INCHES}|{_NUMBER})?|{_INCHES}"
         f"|{_NUMBER} *(mm|cm|km|m)[.]?) *$")  # fmt: skip


def is_tape() -> str:
    """Return whether ``tape`` is empty or a length, as `leakgeo.job.lengths` reads it."""
    return f'coalesce(regexp_match(lower("tape"), {literal(_TAPE)}) > 0, true)'


def within(column: str, minimum: float | None, maximum: float | None) -> str:
    """Return whether a number is null or in its range."""
    ends = [f'"{column}" >= {minimum:.10g}'] if minimum is not None else []
    ends += [f'"{column}" <= {maximum:.10g}'] if maximum is not None else []
    return f'"{column}" IS NULL OR ({" AND ".join(ends)})'

"""Expressions in the core language of QGIS 3.22, for defaults, checks and labels of forms.

They also run in mobile apps that are built on QGIS. None of them fails where a layer is missing.
"""

from __future__ import annotations

from leakgeo.conversion import UNITS_BY_KIND
from leakgeo.deliver.qgis.expressions import layer_id, literal
from leakgeo.job.lengths import INCH_M
from leakgeo.job.walk_values import WALK_H

# Older versions write the clock of a time that a person typed as if it were UTC.
_WRITES_CLOCK = "@qgis_version_no < 33408"
_UTC = "(to_datetime('1970-01-01T00:00:00Z') + make_interval(seconds:=floor(epoch(now())/1000)))"
_CLOCK = "'yyyy-MM-dd HH:mm:ss'"
#: The time now, which every version writes into a GeoPackage as UTC. A form of an older version
#: shows its clock of UTC too, as people have to type it there.
NOW = f"if({_WRITES_CLOCK}, to_datetime(format_date({_UTC}, {_CLOCK})), {_UTC})"


def clock_label(title: str) -> str:
    """Return the label of a time: a version that writes the clock alone asks for UTC."""
    asks = f"concat(' (UTC; now ', format_date({_UTC}, 'HH:mm'), ')')"
    return f"concat({literal(title)}, if({_WRITES_CLOCK}, {asks}, ''))"


def stamp_id() -> str:
    """Return an identifier from the time to the millisecond, which differs between crews."""
    return f"format_date({_UTC}, 'yyyyMMdd-HHmmss') || '-' || lpad(epoch(now()) % 1000, 3, '0')"


def short_id(prefix: str) -> str:
    """Return a short identifier, from the day and the time to the second."""
    return f"{literal(prefix)} || format_date({_UTC}, 'dd-HHmmss')"


# Rows that are not saved yet have negative numbers, which fall. Aggregates are kept while the
# defaults of one row are computed, so that a long layer is read once for all of them.
_LEAST, _MOST = (f"aggregate(@layer_id, '{kind}', $id)" for kind in ("min", "max"))
_LAST = f"get_feature_by_id(@layer_id, if({_LEAST} < 0, {_LEAST}, {_MOST}))"


def last(column: str) -> str:
    """Return the value of the last row of the layer itself; null if there is none."""
    return f"try(attribute({_LAST}, {literal(column)}))"


def begins_survey() -> str:
    """Return whether the last row is older than a walk lasts, or there is none."""
    # Saved rows and new ones may differ in their time zone; their clocks are all of UTC.
    clock = f"format_date({last('time')}, {_CLOCK}) || 'Z'"
    age_ms = f"epoch(now()) - epoch(to_datetime({clock}))"
    return f"coalesce(try({age_ms}) > {WALK_H * 3_600_000}, true)"


def begins_walk() -> str:
    """Return whether the layer has no other row of the walk of this one."""
    return f"{_row_with('walk_id')} IS NULL"


def walk_id() -> str:
    """Return the walk of the last stop; a new one if that is over."""
    new = f"'W' || format_date({_UTC}, 'yyyyMMdd-HHmm') || '-' || upper(substr(uuid(), 2, 4))"
    return f"if({begins_survey()}, {new}, coalesce({last('walk_id')}, {new}))"


def same_as_last(column: str, other: str = "NULL") -> str:
    """Return the value of the last row, or another value where that has none."""
    return f"coalesce({last(column)}, {other})"


def same_on_line(column: str) -> str:
    """Return the value of the last row if it is on the line of this one."""
    return f'if({last("line_id")} = "line_id", {last(column)}, NULL)'


def _row_with(column: str) -> str:
    return f'get_feature(@layer_id, {literal(column)}, "{column}")'


def once(column: str, value: str, *, key: str, late: str) -> str:
    """Return a default that is computed when a row is made, and then left to the person.

    QGIS computes a default again at each change in the form of a new row, where the expression may
    depend on the column that was changed; that would undo what was typed.

    Parameters
    ----------
    column : str
    value : str
        Expression of the default.
    key : str
        Column that differs between rows. An app may begin a row as a copy of the one before.
    late : str
        Column with a default whose default is computed after that of `column`.
    """
    return f'if("{late}" IS NULL OR {_row_with(key)} IS NOT NULL, {value}, "{column}")'


def feet_text(metres: str) -> str:
    """Return a length in feet and inches."""
    inches = f"round({metres} / {INCH_M})"
    return f"to_string(floor({inches} / 12)) || ''' ' || to_string({inches} % 12) || '\"'"


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
    matched = f'regexp_match(lower("tape"), {literal(_TAPE)}) > 0'
    return f"coalesce(trim(\"tape\") = '' OR {matched}, true)"


def on_same_line(column: str) -> str:
    """Return whether a fitting that the row names is on its line, as far as is known."""
    fitting = f'get_feature({literal(layer_id("contacts"))}, {literal("contact_id")}, "{column}")'
    return f"coalesce(try(attribute({fitting}, 'line_id') = \"line_id\"), true)"


def is_written(column: str) -> str:
    """Return whether a text is more than spaces."""
    return f"trim(coalesce(\"{column}\", '')) <> ''"


def within(column: str, minimum: float | None, maximum: float | None) -> str:
    """Return whether a number is null or in its range."""
    ends = [f'"{column}" >= {minimum:.10g}'] if minimum is not None else []
    ends += [f'"{column}" <= {maximum:.10g}'] if maximum is not None else []
    return f'"{column}" IS NULL OR ({" AND ".join(ends)})'

"""Parse lengths with a unit, as people type them: ``38' 6"``, ``3 ft 2 in``, ``1/2 in``."""

from __future__ import annotations

import re

# Exact by definition.
INCH_M = 0.0254
_INCHES_IN_FOOT = 12.0
_NUMBER = r"\d+\s*/\s*\d+|(?:\d+\.?\d*|\.\d+)(?:[\s-]+\d+\s*/\s*\d+)?"
_FEET = rf"(?P<feet>{_NUMBER})\s*(?:'|ft\b\.?|foot\b|feet\b)"
# A number without unit after feet is in inches, as in 38'6.
_INCHES = rf"(?P<inches>{_NUMBER})\s*(?P<mark>''|\"|in\b\.?|inch\b|inches\b)?"
_FEET_AND_INCHES = re.compile(rf"(?:{_FEET})?[\s,-]*(?:{_INCHES})?", re.ASCII)
_METRIC = re.compile(rf"(?P<value>{_NUMBER})\s*(?P<unit>mm|cm|km|m)\.?", re.ASCII)
_PARTS = re.compile(
    r"(?P<whole>\d+\.?\d*|\.\d+)?[\s-]*(?:(?<![\d.])(?P<top>\d+)\s*/\s*(?P<bottom>\d+))?", re.ASCII
)
_METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0, "km": 1000.0}
# Signs that spreadsheets and telephones put in place of straight quotes and plain spaces.
_MARKS = str.maketrans({
    **dict.fromkeys("\u2032\u2019\u2018\u00b4\u02b9\u02bc\u201b\uff07`", "'"),
    **dict.fromkeys("\u2033\u201d\u201c\u201e\u201f\u02ba\uff02", '"'),
    **dict.fromkeys("\u00a0\u2007\u2009\u202f", " "),
})  # fmt: skip
_LONGEST = 40


def length_m(text: str) -> float | None:
    r"""Parse a length with a unit; return None if the text is not a length or has no unit.

    Parameters
    ----------
    text : str
        Feet are international feet. Inches beside feet are below 12.

    Returns
    -------
    float or None
        In metres.

    Examples
    --------
    >>> [round(length_m(text), 4) for text in ("38' 6\"", "5'", "3 ft 2 in", "1/2 in", "250 mm")]
    [11.7348, 1.524, 0.9652, 0.0127, 0.25]
    >>> length_m("12"), length_m("5' of mud"), length_m("1/0 in"), length_m("5' 13\"")
    (None, None, None, None)
    """
    if len(text) > _LONGEST:
        return None
    plain = text.translate(_MARKS).strip().casefold()
    sign = -1.0 if plain.startswith("-") else 1.0
    plain = plain.lstrip("+-").strip() if plain[:1] in ("+", "-") else plain
    try:
        metres = _metres(plain)
    except ZeroDivisionError:
        return None
    return None if metres is None else sign * metres


def _metres(plain: str) -> float | None:
    metric = _METRIC.fullmatch(plain)
    if metric:
        return mixed_number(metric["value"]) * _METRES[metric["unit"]]
    found = _FEET_AND_INCHES.fullmatch(plain)
    if found is None or not (found["feet"] or found["mark"]):
        return None
    inches = mixed_number(found["inches"] or "0")
    if found["feet"] and inches >= _INCHES_IN_FOOT:
        return None  # a slip of the pen or of the eye: no tape shows it
    return round((_INCHES_IN_FOOT * mixed_number(found["feet"] or "0") + inches) * INCH_M, 9)


def mixed_number(text: str) -> float:
    """Parse a number, a fraction, or both: ``2.5``, ``1/2``, ``1 1/2``, ``1-1/2``.

    Raises
    ------
    ValueError
        If the text is not a number.
    ZeroDivisionError
        If the denominator of a fraction is 0.

    Examples
    --------
    >>> mixed_number("1 1/2"), mixed_number("3/4"), mixed_number("2")
    (1.5, 0.75, 2.0)
    """
    found = _PARTS.fullmatch(text.strip())
    if found is None or not (found["whole"] or found["top"]):
        raise ValueError(f"{text!r} is not a number.")
    part = int(found["top"]) / int(found["bottom"]) if found["top"] else 0.0
    return float(found["whole"] or 0) + part

"""Lengths, volumes and pressures as people read them, in metres or in feet and inches."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from leakgeo.conversion import conversion

if TYPE_CHECKING:
    from collections.abc import Iterable

Rounding = Literal["nearest", "up", "down"]

UNKNOWN = "unknown"
# Pipes are made in steps of an eighth of an inch or so, holes are not.
_IN_EIGHTHS = 0.5


def is_known(value: object) -> bool:
    """Tell whether `value` is a finite number.

    Examples
    --------
    >>> is_known(1.5), is_known(float("nan")), is_known(None), is_known("x")
    (True, False, False, False)
    """
    try:
        return math.isfinite(float(value))  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return False


def whole(value: float, rounding: Rounding = "nearest") -> int:
    """Round to a whole number; a hair of float error never moves it by one.

    Examples
    --------
    >>> whole(2.5), whole(2.0000000001, "up"), whole(2.4, "up"), whole(1.9999999999, "down")
    (3, 2, 3, 2)
    """
    if rounding == "up":
        return math.ceil(value - 1e-6)
    if rounding == "down":
        return math.floor(value + 1e-6)
    return math.floor(value + 0.5)


def on_tape(metres: float, units: str, rounding: Rounding = "nearest") -> float:
    """Move a length to the nearest mark of a tape, a centimetre or an inch; metres in and out.

    Examples
    --------
    >>> round(on_tape(12.3441, "si", "up"), 6), round(on_tape(0.31, "us", "down"), 6)
    (12.35, 0.3048)
    """
    step = conversion("inch", "metre") if units == "us" else 0.01
    return whole(metres / step, rounding) * step


def tape_text(metres: float | None, units: str, rounding: Rounding = "nearest") -> str:
    """Give a length as it is read off a tape: centimetres, or feet and inches.

    Parameters
    ----------
    metres : float or None
        Length in metres; not finite means unknown.
    units : {"si", "us"}
    rounding : {"nearest", "up", "down"}
        A span that must hold the leak is rounded up, a clearance down: never the bolder way.

    Returns
    -------
    str

    Examples
    --------
    >>> tape_text(12.344, "si"), tape_text(0.7112, "us"), tape_text(0.30479, "us")
    ('12.34 m', '2 ft 4 in', '1 ft')
    >>> tape_text(0.401, "us", "up"), tape_text(None, "us"), tape_text(-0.1, "us")
    ('1 ft 4 in', 'unknown', '-4 in')
    """
    if metres is None or not is_known(metres):
        return UNKNOWN
    if units == "us":
        return _feet_and_inches(whole(metres / conversion("inch", "metre"), rounding))
    return f"{whole(metres * 100, rounding) / 100:.2f} m"


def _feet_and_inches(inches: int) -> str:
    sign = "-" if inches < 0 else ""
    feet, rest = divmod(abs(inches), 12)
    if not feet:
        return f"{sign}{rest} in"
    return f"{sign}{feet} ft {rest} in" if rest else f"{sign}{feet} ft"


# Metres in a sentence, alone or as the second of "3.1 to 4.2 m"; not where feet follow in brackets.
_METRES = re.compile(r"(?:(\d+(?:\.\d+)?) to )?(\d+(?:\.\d+)?) m\b(?! \([\d.]+ ft)")
_MILLIMETRES = re.compile(r"(?:(\d+\.\d{3,}) to )?(\d+\.\d{3,}) m\b")
_LITRES = re.compile(r"(?:([\d,]+(?:\.\d+)?) to )?([\d,]+(?:\.\d+)?) litres\b")
# An error that rounding has taken away.
_NO_ERROR = re.compile(r" \(95 %: about [\d,.]+ (?:litres|gallons)\)")
_OTHERS = re.compile(r"(?:([\d,]+(?:\.\d+)?) to )?([\d,]+(?:\.\d+)?) (mm|kPa)\b")


def lengths_in(sentence: str, units: str) -> str:
    """Say the metres, litres, millimetres and kPa of a sentence in the units people asked for.

    Layers hold sentences in metric units; people see them through this. In either, litres are
    rounded to two figures, and metres to a mark of the tape, once; a range whose ends are then the
    same is one figure, and goes where it is but the error of the figure before it.

    Examples
    --------
    >>> lengths_in("Mark at 6.40 m from the start. Also possible: 3.0 to 4.2 m.", "us")
    'Mark at 21 ft from the start. Also possible: 9 ft 10 in to 13 ft 9 in.'
    >>> lengths_in("Loses 1,200 litres a day (900 to 1,500 litres), as 1.2 mm at 400 kPa.", "us")
    'Loses 320 gallons a day (240 to 400 gallons), as 0.047 in at 58 psi.'
    >>> lengths_in("Loses 3,698 litres a day (95 %: 3,694 to 3,701 litres).", "si")
    'Loses 3,700 litres a day.'
    >>> lengths_in("on M-1, about 122.4 m (99 %), 1.52 m (5 ft) deep", "us")
    'on M-1, about 401 ft 7 in (99 %), 1.52 m (5 ft) deep'
    >>> lengths_in("Mark at 6.404 m from the start, 3.0 m on.", "si")
    'Mark at 6.40 m from the start, 3.0 m on.'
    """

    def metres(found: re.Match[str]) -> str:
        return _range(tape_text(end, units) for end in _ends(found))

    def litres(found: re.Match[str]) -> str:
        return f"{_range(_volume(end, units) for end in _ends(found))} {_VOLUME[units]}"

    def others(found: re.Match[str]) -> str:
        say = diameter_text if found.group(3) == "mm" else pressure_text
        return _range(say(end, units) for end in _ends(found))

    said = _NO_ERROR.sub("", _LITRES.sub(litres, sentence))
    if units == "si":
        return _MILLIMETRES.sub(metres, said)
    return _OTHERS.sub(others, _METRES.sub(metres, said))


def has_lengths(text: str) -> bool:
    """Tell whether a text has anything that `lengths_in` would convert."""
    return any(pattern.search(text) for pattern in (_METRES, _LITRES, _OTHERS))


def _ends(found: re.Match[str]) -> list[float]:
    return [float(end.replace(",", "")) for end in found.groups()[:2] if end is not None]


def _range(ends: Iterable[str]) -> str:
    """Join the ends of a range; what rounding has made one figure is said once."""
    told = list(ends)
    return f"about {told[0]}" if len(told) == 2 and told[0] == told[1] else " to ".join(told)


def axis_unit(units: str) -> tuple[str, float]:
    """Give the name of the unit on a plot's axis, and its length in metres.

    Examples
    --------
    >>> axis_unit("us")
    ('ft', 0.3048)
    """
    return ("ft", conversion("foot", "metre")) if units == "us" else ("m", 1.0)


_VOLUME = {"si": "litres", "us": "gallons"}


def _volume(litres: float, units: str) -> str:
    """Give a volume to two figures, in litres or US gallons."""
    value = two_figures(litres * conversion("litre", "gallon") if units == "us" else litres)
    return f"{value:,.2g}" if value < 10 else f"{value:,.0f}"


def loss_text(litres_per_day: float | None, units: str) -> str:
    """Give a loss of water to two figures, in litres or US gallons a day.

    Examples
    --------
    >>> loss_text(4321.0, "si"), loss_text(4321.0, "us"), loss_text(float("nan"), "us")
    ('4,300 litres a day', '1,100 gallons a day', 'unknown')
    """
    if litres_per_day is None or not is_known(litres_per_day):
        return UNKNOWN
    return f"{_volume(litres_per_day, units)} {_VOLUME[units]} a day"


def two_figures(value: float) -> float:
    """Round to two significant figures.

    Examples
    --------
    >>> two_figures(1920.997), two_figures(0.0472), two_figures(0.0)
    (1900.0, 0.047, 0.0)
    """
    if value == 0 or not math.isfinite(value):
        return value
    return round(value, 1 - math.floor(math.log10(abs(value))))


def diameter_text(millimetres: float | None, units: str) -> str:
    """Give a diameter in millimetres, or in eighths of an inch; a fine hole to two figures.

    Examples
    --------
    >>> diameter_text(25.0, "us"), diameter_text(150, "us"), diameter_text(1.5, "us")
    ('1 in', '5 7/8 in', '0.059 in')
    >>> diameter_text(150, "si"), diameter_text(None, "si")
    ('150 mm', 'unknown')
    """
    if millimetres is None or not is_known(millimetres):
        return UNKNOWN
    if units != "us":
        return f"{millimetres:.3g} mm"
    inches = millimetres * conversion("millimetre", "inch")
    if inches < _IN_EIGHTHS:
        return f"{two_figures(inches):g} in"
    whole_in, part = divmod(Fraction(whole(8 * inches), 8), 1)
    return " ".join(f"{n}" for n in (whole_in, part) if n) + " in"


def pressure_text(kilopascals: float | None, units: str) -> str:
    """Give a pressure in kPa or psi.

    Examples
    --------
    >>> pressure_text(413.7, "us"), pressure_text(413.7, "si")
    ('60 psi', '414 kPa')
    """
    if kilopascals is None or not is_known(kilopascals):
        return UNKNOWN
    if units == "us":
        return f"{kilopascals * conversion('kilopascal', 'psi'):.0f} psi"
    return f"{kilopascals:.0f} kPa"

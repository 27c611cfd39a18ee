"""Texts of quantities in SI or US units, and the functions that messages call."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal

from leakgeo.conversion import conversion
from leakgeo.wording.locales import ENGLISH, local_day, local_number

if TYPE_CHECKING:
    from collections.abc import Callable

Rounding = Literal["nearest", "up", "down"]

UNKNOWN = "unknown"
# Smallest diameter in inches that is rounded to eighths, as pipe sizes are.
_IN_EIGHTHS = 0.5
_FEET_PER_MILE = 5280
# Feet or metres of a way that is not given in miles or kilometres.
_SHORT_DRIVE = 1000.0


def is_known(value: object) -> bool:
    """Return whether `value` is a finite number.

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
    """Round to a whole number, up or down without the effect of float errors.

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
    """Round a length in metres to a mark of a tape: a centimetre or an inch.

    Examples
    --------
    >>> round(on_tape(12.3441, "si", "up"), 6), round(on_tape(0.31, "us", "down"), 6)
    (12.35, 0.3048)
    """
    step = conversion("in", "m") if units == "us" else 0.01
    return whole(metres / step, rounding) * step


def tape_text(metres: float | None, units: str, rounding: Rounding = "nearest") -> str:
    """Return a length as read from a tape: in metres, or in feet and inches.

    Parameters
    ----------
    metres : float or None
        Length in metres; not finite means unknown.
    units : {"si", "us"}
    rounding : {"nearest", "up", "down"}
        A stretch that must hold the leak is rounded up, a clearance down.

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
        return _feet_and_inches(whole(metres / conversion("in", "m"), rounding))
    return f"{whole(metres * 100, rounding) / 100:.2f} m"


def _feet_and_inches(inches: int) -> str:
    sign = "-" if inches < 0 else ""
    feet, rest = divmod(abs(inches), 12)
    if not feet:
        return f"{sign}{rest} in"
    return f"{sign}{feet} ft {rest} in" if rest else f"{sign}{feet} ft"


def axis_unit(units: str) -> tuple[str, float]:
    """Return the unit of a plot's axis and its length in metres.

    Examples
    --------
    >>> axis_unit("us")
    ('ft', 0.3048)
    """
    return ("ft", conversion("ft", "m")) if units == "us" else ("m", 1.0)


def volume_text(litres: float | None, units: str) -> str:
    """Return a volume to two figures, in litres or US gallons, without the unit.

    Examples
    --------
    >>> volume_text(1234.0, "si"), volume_text(1234.0, "us"), volume_text(None, "si")
    ('1,200', '330', 'unknown')
    """
    if litres is None or not is_known(litres):
        return UNKNOWN
    value = two_figures(litres * conversion("l", "gal") if units == "us" else litres)
    return f"{value:,.2g}" if value < 10 else f"{value:,.0f}"


def loss_text(litres_per_day: float | None, units: str) -> str:
    """Return a loss of water to two figures, in litres or US gallons a day.

    Examples
    --------
    >>> loss_text(4321.0, "si"), loss_text(4321.0, "us"), loss_text(float("nan"), "us")
    ('4,300 litres a day', '1,100 gallons a day', 'unknown')
    """
    volume = volume_text(litres_per_day, units)
    return (
        volume
        if volume == UNKNOWN
        else f"{volume} {'gallons' if units == 'us' else 'litres'} a day"
    )


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
    """Return a diameter in millimetres, or in eighths of an inch; a small hole to two figures.

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
    inches = millimetres * conversion("mm", "in")
    if inches < _IN_EIGHTHS:
        return f"{two_figures(inches):g} in"
    whole_in, part = divmod(Fraction(whole(8 * inches), 8), 1)
    return " ".join(f"{n}" for n in (whole_in, part) if n) + " in"


def pressure_text(kilopascals: float | None, units: str) -> str:
    """Return a pressure in kPa or psi.

    Examples
    --------
    >>> pressure_text(413.7, "us"), pressure_text(413.7, "si")
    ('60 psi', '414 kPa')
    """
    if kilopascals is None or not is_known(kilopascals):
        return UNKNOWN
    if units == "us":
        return f"{kilopascals * conversion('kpa', 'psi'):.0f} psi"
    return f"{kilopascals:.0f} kPa"


def percent(probability: float | None) -> str:
    """Return a probability as a percentage, never 0 or 100.

    Examples
    --------
    >>> percent(0.8), percent(0.9996), percent(0.0), percent(None)
    ('80 %', 'over 99 %', 'under 1 %', 'unknown')
    """
    if probability is None or not is_known(probability):
        return UNKNOWN
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def odds_text(probability: float | None, of: str = "in") -> str:
    """Return a probability as a count out of ten; near 0 and 1 as a count out of a hundred.

    Examples
    --------
    >>> odds_text(0.72), odds_text(0.97), odds_text(0.999), odds_text(0.03), odds_text(None)
    ('7 in 10', '97 in 100', 'over 99 in 100', '3 in 100', 'unknown')
    """
    if probability is None or not is_known(probability):
        return UNKNOWN
    if 0.095 <= probability < 0.95:
        return f"{whole(10 * probability)} {of} 10"
    bound = "over" if probability > 0.99 else "under" if probability < 0.01 else ""
    count = min(max(whole(100 * probability), 1), 99)
    return f"{bound} {count} {of} 100".strip()


def length_about(metres: float | None, units: str) -> str:
    """Return a length to a decimetre, or to an inch.

    Examples
    --------
    >>> length_about(3.04, "si"), length_about(3.04, "us")
    ('3.0 m', '9 ft 10 in')
    """
    if metres is None or not is_known(metres):
        return UNKNOWN
    # Rounded to a decimetre first, so that both units give the same place.
    return tape_text(round(metres, 1), units) if units == "us" else f"{metres:.1f} m"


def far_text(metres: float | None, units: str) -> str:
    """Return a long distance in whole kilometres or miles.

    Examples
    --------
    >>> far_text(12_340.0, "si"), far_text(12_340.0, "us"), far_text(None, "us")
    ('12 km', '8 mi', 'unknown')
    """
    if metres is None or not is_known(metres):
        return UNKNOWN
    if units == "us":
        return f"{metres * conversion('m', 'ft') / _FEET_PER_MILE:,.0f} mi"
    return f"{metres / 1000:,.0f} km"


def drive_text(metres: float | None, units: str) -> str:
    """Return the length of a way to drive: in feet or metres where it is short, else in tenths.

    Examples
    --------
    >>> drive_text(120.0, "us"), drive_text(2400.0, "us"), drive_text(2400.0, "si")
    ('390 ft', '1.5 mi', '2.4 km')
    """
    if metres is None or not is_known(metres):
        return UNKNOWN
    far = metres * conversion("m", "ft") if units == "us" else metres
    if far < _SHORT_DRIVE:
        return f"{round(far, -1):.0f} {'ft' if units == 'us' else 'm'}"
    return f"{far / _FEET_PER_MILE:,.1f} mi" if units == "us" else f"{far / 1000:,.1f} km"


class Quantities:
    """The functions that messages call on their values.

    Parameters
    ----------
    units : {"si", "us"}
        Units of the texts.
    term : callable
        Returns the text of a code of a kind; see `leakgeo.wording.Wording.term`.
    locale : str
        One of `leakgeo.wording.locales`, whose signs numbers have.

    Notes
    -----
    A message calls them in capitals, such as ``LENGTH($x_m, round: "up")``.
    """

    def __init__(self, units: str, term: Callable[[str, str], str], locale: str = ENGLISH) -> None:
        self.units, self._term, self.locale = units, term, locale

    def functions(self) -> dict[str, Callable[..., str]]:
        """Return the functions by their names in messages."""
        return {
            name.upper(): getattr(self, name)
            for name in vars(Quantities)
            if not name.startswith("_") and name != "functions"
        }

    def length(self, metres: float | None, round: Rounding = "nearest") -> str:  # noqa: A002
        """Return a length as read from a tape."""
        return self._each(lambda value: tape_text(value, self.units, round), metres)

    def about(self, metres: float | None) -> str:
        """Return a length to a decimetre, or to an inch."""
        return self._each(lambda value: length_about(value, self.units), metres)

    def far(self, metres: float | None) -> str:
        """Return a length in whole kilometres or miles."""
        return self._each(lambda value: far_text(value, self.units), metres)

    def span(self, begin_m: float, end_m: float, outward: str = "no") -> str:
        """Return the two ends of a stretch as read from a tape.

        What was seen is rounded to the nearest mark; a stretch that must hold a leak, outward.
        """
        outer = outward == "yes"
        begin = self.length(begin_m, "down" if outer else "nearest")
        end = self.length(end_m, "up" if outer else "nearest")
        if self.units == "si" and begin != end:
            begin = begin.removesuffix(" m")
        return self._range(begin, end)

    def litres(self, *volumes: float) -> str:
        """Return a volume, or the two ends of its range."""
        unit = self._term("gallons" if self.units == "us" else "litres", "unit")
        texts = (self._local(volume_text(volume, self.units)) for volume in volumes)
        return f"{self._range(*texts)} {unit}"

    def volume(self, litres: float | None) -> str:
        """Return a volume without its unit."""
        return self._local(volume_text(litres, self.units))

    def loss(self, litres_per_day: float | None) -> str:
        """Return a loss of water a day, with its unit."""
        volume = volume_text(litres_per_day, self.units)
        unit = self._term("gallons" if self.units == "us" else "litres", "per_day")
        return self._local(volume) if volume == UNKNOWN else f"{self._local(volume)} {unit}"

    def drive(self, metres: float | None) -> str:
        """Return the length of a way to drive."""
        return self._each(lambda value: drive_text(value, self.units), metres)

    def day(self, day: str) -> str:
        """Return a day in ISO 8601 as people write it."""
        return local_day(str(day), self.locale)

    def alike(self, *volumes: float) -> str:
        """Return ``yes`` if the volumes have the same text, else ``no``."""
        return "yes" if len({volume_text(volume, self.units) for volume in volumes}) == 1 else "no"

    def percent(self, probability: float | None, at: str = "") -> str:
        """Return a probability, never 0 or 100 %; with a capital ``at: "start"``."""
        known = percent(probability)
        codes = {"over 99 %": "over_99", "under 1 %": "under_1"}
        text = self._term(codes[known], "percent") if known in codes else known
        return text[:1].upper() + text[1:] if at == "start" else text

    def odds(self, probability: float | None) -> str:
        """Return a probability as a count out of ten or a hundred."""
        text = odds_text(probability, self._term("in", "odds"))
        for bound in ("over", "under"):
            if text.startswith(bound):
                return self._term(bound, "odds") + text.removeprefix(bound)
        return text

    def pressure(self, kilopascals: float | None) -> str:
        """Return a pressure."""
        return self._each(lambda value: pressure_text(value, self.units), kilopascals)

    def diameter(self, millimetres: float | None) -> str:
        """Return a diameter."""
        return self._local(diameter_text(millimetres, self.units))

    def figures(self, value: float | None, digits: float = 3) -> str:
        """Return a number with `digits` significant figures."""
        return self._each(lambda each: _formatted(each, f".{int(digits)}g"), value)

    def decimals(self, value: float | None, digits: float = 0) -> str:
        """Return a number with `digits` decimals."""
        return self._each(lambda each: _formatted(each, f",.{int(digits)}f"), value)

    def signed(self, value: float | None, digits: float = 1) -> str:
        """Return a number with its sign and `digits` decimals."""
        return self._local(_formatted(value, f"+.{int(digits)}f"))

    def term(self, code: str, kind: str = "") -> str:
        """Return the text of a code of the data contract."""
        return self._term(str(code), kind)

    def join(self, several: object, by: str = ", ", kind: str = "") -> str:
        """Return the texts of a list, joined; with `kind` they are codes of that kind."""
        texts = getattr(several, "texts", [str(several)])
        return by.join(self._term(text, kind) if kind else text for text in texts)

    def foot(self) -> str:
        """Return the distance of one foot."""
        one = self._term("one_foot", "")
        metres = self._local(tape_text(conversion("ft", "m"), "si"))
        return one if self.units == "us" else f"{metres} ({one})"

    def _each(self, text_of: Callable[[Any], str], value: object) -> str:
        """Return the text of a value, or of the two ends of a range."""
        ends = getattr(value, "values", (value,))
        return self._range(*(self._local(text_of(end)) for end in ends))

    def _local(self, text: str) -> str:
        """Return the text of a quantity with the signs of the locale."""
        return self._term(UNKNOWN, "") if text == UNKNOWN else local_number(text, self.locale)

    def _range(self, *ends: str) -> str:
        """Return a range; ends that rounding has made equal are printed once."""
        if len(ends) == 1:
            return ends[0]
        alike = len(set(ends)) == 1
        between = self._term("about" if alike else "to", "range")
        return f"{between} {ends[0]}" if alike else f" {between} ".join(ends)


def _formatted(value: float | None, spec: str) -> str:
    return format(float(value), spec) if value is not None and is_known(value) else UNKNOWN

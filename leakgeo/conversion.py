"""Factors between units, exact by definition."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from types import MappingProxyType

FOOT_M = 0.3048
"""International foot in metres, exact by definition."""
US_SURVEY_FOOT_M = 1200 / 3937
"""US survey foot in metres, exact by definition."""

# International yard and pound agreement of 1959; standard gravity of the CGPM of 1901.
_INCH = Fraction(254, 10_000)
_FOOT = 12 * _INCH
_POUND = Fraction(45_359_237, 100_000_000)
_GRAVITY = Fraction(980_665, 100_000)

#: Sizes of units in the first unit of their kind, which is that of the data contract. A head is of
#: water at 1000 kg/m3 under standard gravity.
UNITS_BY_KIND = MappingProxyType({
    "length": {
        "m": Fraction(1), "mm": Fraction(1, 1000), "cm": Fraction(1, 100), "km": Fraction(1000),
        "in": _INCH, "ft": _FOOT, "us_survey_ft": Fraction(1200, 3937), "yd": 3 * _FOOT,
    },
    "area": {"m2": Fraction(1), "ft2": _FOOT**2},
    "pressure": {
        "kpa": Fraction(1), "pa": Fraction(1, 1000), "mpa": Fraction(1000), "bar": Fraction(100),
        "mbar": Fraction(1, 10), "atm": Fraction(101_325, 1000),
        "psi": _POUND * _GRAVITY / _INCH**2 / 1000, "m_head": _GRAVITY, "ft_head": _GRAVITY * _FOOT,
    },
    "volume": {
        "l": Fraction(1), "m3": Fraction(1000), "gal": 231 * _INCH**3 * 1000,
        "kgal": 231 * _INCH**3 * 1_000_000, "imperial_gal": Fraction(454_609, 100_000),
        "ft3": _FOOT**3 * 1000, "ccf": _FOOT**3 * 100_000,
    },
    "level": {"db": Fraction(1)},
})  # fmt: skip


@cache
def conversion(unit: str, target: str) -> float:
    """Return the factor that converts a value in `unit` to `target`.

    Parameters
    ----------
    unit, target : str
        Units of one kind of `UNITS_BY_KIND`.

    Returns
    -------
    float
        Rounded to 15 significant digits.

    Raises
    ------
    ValueError
        If a unit is not known, or the two are of different kinds.

    Examples
    --------
    >>> conversion("ft", "m"), conversion("gal", "l")
    (0.3048, 3.785411784)
    """
    for sizes in UNITS_BY_KIND.values():
        if unit in sizes and target in sizes:
            return float(f"{float(sizes[unit] / sizes[target]):.15g}")
    raise ValueError(f"No factor is known from {unit} to {target}.")

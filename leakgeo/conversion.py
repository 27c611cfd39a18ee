"""Factors between units. pint, slow to import, gives only those that are not written here."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pint import UnitRegistry


FOOT_M = 0.3048
"""International foot in metres, exact by definition."""
INCH_M = 0.0254
"""International inch in metres, exact by definition."""
US_SURVEY_FOOT_M = 1200 / 3937
"""US survey foot in metres, exact by definition."""

# Factors that deliverables in US units need, as pint gives them.
FREQUENT = {
    ("metre", "foot"): 3.28083989501312,
    ("metre", "mile"): 0.000621371192237334,
    ("millimetre", "inch"): 0.0393700787401575,
    ("1 / metre", "1 / foot"): 0.3048,
    ("metre ** 2", "foot ** 2"): 10.7639104167097,
    ("litre", "gallon"): 0.264172052358149,
    ("kilopascal", "psi"): 0.145037737730209,
}


@cache
def _registry() -> UnitRegistry[float]:
    import pint

    return pint.UnitRegistry()


@cache
def conversion(unit: str, target: str) -> float:
    """Return the factor that converts a value in `unit` to `target`.

    Parameters
    ----------
    unit, target : str
        Names that pint knows, or products of them.

    Returns
    -------
    float
        Rounded to 15 significant digits, so that factors exact by definition are exact.

    Raises
    ------
    pint.PintError
        If a unit is not known, or the two are of different dimensions.

    Examples
    --------
    >>> conversion("foot", "metre"), conversion("gallon", "litre")
    (0.3048, 3.785411784)
    """
    if unit == target:
        return 1.0
    if (unit, target) in FREQUENT:
        return FREQUENT[unit, target]
    return by_pint(unit, target)


def by_pint(unit: str, target: str) -> float:
    """Return the factor of `conversion`, worked out by pint."""
    units = _registry()
    return float(f"{(units(unit) / units(target)).to('dimensionless').magnitude:.15g}")

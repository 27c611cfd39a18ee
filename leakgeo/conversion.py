"""Factors between units. pint is imported only when a factor is needed."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pint import UnitRegistry


FOOT_M = 0.3048
"""International foot in metres, exact by definition."""
US_SURVEY_FOOT_M = 1200 / 3937
"""US survey foot in metres, exact by definition."""


@cache
def _registry() -> UnitRegistry[float]:
    import pint  # slow to import

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
    units = _registry()
    return float(f"{(units(unit) / units(target)).to('dimensionless').magnitude:.15g}")

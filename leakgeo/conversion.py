"""Conversion factors between units, from pint."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pint import UnitRegistry


@cache
def _registry() -> UnitRegistry[float]:
    import pint  # slow to import: a short command would wait for it

    return pint.UnitRegistry()


@cache
def conversion(unit: str, target: str) -> float:
    """Return the factor that converts a value in `unit` to `target`.

    Parameters
    ----------
    unit, target : str
        Units of pint, or products of them.

    Returns
    -------
    float
        Rounded to 15 figures, so that factors that are exact by definition stay exact.

    Raises
    ------
    pint.PintError
        If a unit is unknown, or the units have different dimensions.

    Examples
    --------
    >>> conversion("foot", "metre"), conversion("gallon", "litre")
    (0.3048, 3.785411784)
    """
    if unit == target:
        return 1.0
    units = _registry()
    return float(f"{(units(unit) / units(target)).to('dimensionless').magnitude:.15g}")

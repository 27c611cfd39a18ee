"""Factors between units, of pint; it is imported only where one is needed."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pint import UnitRegistry


@cache
def _registry() -> UnitRegistry[float]:
    import pint  # takes longer than all else that a short command does

    return pint.UnitRegistry()


@cache
def conversion(unit: str, target: str) -> float:
    """Give what a value in `unit` is multiplied by to be in `target`.

    Parameters
    ----------
    unit, target : str
        As pint names them, or products of them.

    Returns
    -------
    float
        To 15 figures, so that what is exact by definition is exact here.

    Raises
    ------
    pint.PintError
        If a unit is not known, or they are of different kinds.

    Examples
    --------
    >>> conversion("foot", "metre"), conversion("gallon", "litre")
    (0.3048, 3.785411784)
    """
    if unit == target:
        return 1.0
    units = _registry()
    return float(f"{(units(unit) / units(target)).to('dimensionless').magnitude:.15g}")

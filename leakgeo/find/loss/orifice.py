"""How loss, hole and pressure go together, and the loss that no system is without."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo import options

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.arrays import Floats

# A sharp-edged hole lets through about 0.6 of the ideal flow; 0.63 is what fits the published
# table of losses at 60 psi that the tests hold.
DISCHARGE = options.DISCHARGE.number
# Theory's exponent of pressure for a hole of fixed size; leaks in the field show 0.36 to 2.95
# (Water Loss Control, 2008, p. 141).
N1_ORIFICE = options.N1.number
_WATER_KG_PER_M3 = 1000.0
_L_PER_DAY = 1000.0 * 86400.0
_KPA_PER_M = 9.80665


def _speed(pressure_kpa: ArrayLike) -> Floats:
    """Speed of the ideal jet in m/s; NaN where there is no pressure."""
    pressure = np.asarray(pressure_kpa, dtype=float)
    positive = np.where(pressure > 0, pressure, np.nan)
    return np.asarray(np.sqrt(2.0 * 1000.0 * positive / _WATER_KG_PER_M3))


def orifice_loss(
    diameter_mm: ArrayLike, pressure_kpa: ArrayLike, discharge: float = DISCHARGE
) -> Floats:
    r"""Loss through a round hole, in litres a day.

    Parameters
    ----------
    diameter_mm : array_like of float
    pressure_kpa : array_like of float
        Gauge pressure in the line.
    discharge : float
        Coefficient of discharge.

    Returns
    -------
    ndarray of float
        Litres a day; NaN where the pressure is not above zero.

    Notes
    -----
    The orifice equation :math:`Q = C_d A \sqrt{2 p / \rho}` (any textbook of hydraulics).

    Examples
    --------
    >>> orifice_loss(3.175, 413.7).round(-2).item()
    12400.0
    """
    area = np.pi / 4.0 * (np.asarray(diameter_mm, dtype=float) / 1000.0) ** 2
    return np.asarray(discharge * area * _speed(pressure_kpa) * _L_PER_DAY)


def equivalent_hole(
    loss_l_per_day: ArrayLike, pressure_kpa: ArrayLike, discharge: float = DISCHARGE
) -> Floats:
    """Diameter of the round hole that would lose as much, in millimetres.

    Parameters
    ----------
    loss_l_per_day, pressure_kpa : array_like of float
    discharge : float
        Coefficient of discharge.

    Returns
    -------
    ndarray of float
        Millimetres; NaN where the pressure is not above zero.

    Examples
    --------
    >>> equivalent_hole(orifice_loss(3.0, 400.0), 400.0).round(9).item()
    3.0
    """
    flow = np.asarray(loss_l_per_day, dtype=float) / _L_PER_DAY
    area = flow / (discharge * _speed(pressure_kpa))
    return np.asarray(1000.0 * np.sqrt(4.0 * area / np.pi))


def loss_at_pressure(
    loss_l_per_day: ArrayLike, pressure_kpa: ArrayLike, other_kpa: ArrayLike,
    n1: float = N1_ORIFICE,
) -> Floats:  # fmt: skip
    r"""Loss of the same leak at another pressure.

    Parameters
    ----------
    loss_l_per_day : array_like of float
        Loss at `pressure_kpa`.
    pressure_kpa, other_kpa : array_like of float
    n1 : float
        Exponent of pressure.

    Returns
    -------
    ndarray of float
        Litres a day.

    Notes
    -----
    :math:`Q_1 / Q_0 = (P_1 / P_0)^{N1}`: the paths open with pressure where N1 is above 0.5
    (fixed and variable area discharge; Water Loss Control, 2008).

    Examples
    --------
    >>> loss_at_pressure(1000.0, 400.0, 200.0, n1=1.0).item()
    500.0
    """
    pressure = np.asarray(pressure_kpa, dtype=float)
    ratio = np.asarray(other_kpa, dtype=float) / np.where(pressure > 0, pressure, np.nan)
    return np.asarray(np.asarray(loss_l_per_day, dtype=float) * ratio**n1)


def unavoidable_loss(
    mains_m: float, services: float, private_m: float, pressure_kpa: float
) -> float:
    """Loss that a sound, well-run system can't avoid, in litres a day.

    Parameters
    ----------
    mains_m : float
        Length of mains.
    services : float
        Number of service connections.
    private_m : float
        Length of all service lines between curb stop and meter together.
    pressure_kpa : float
        Average pressure.

    Returns
    -------
    float

    Notes
    -----
    (18 L + 0.8 N + 25 l) P, lengths in km and pressure in metres of water: unavoidable annual real
    losses of the International Water Association (Lambert and others, 1999; from memory).

    Examples
    --------
    >>> round(unavoidable_loss(10_000.0, 500.0, 0.0, 9.80665 * 50.0))
    29000
    """
    head_m = pressure_kpa / _KPA_PER_M
    return (18.0 * mains_m / 1000.0 + 0.8 * services + 25.0 * private_m / 1000.0) * head_m

"""Orifice equation and pressure exponent: relation of loss, hole and pressure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo import options

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.arrays import Floats

# A sharp-edged hole has about 0.6; 0.63 fits the published table of losses at 60 psi in the tests.
DISCHARGE = options.DISCHARGE.number
# Theoretical exponent of pressure for a hole of fixed size; field values are 0.36 to 2.95
# (Water Loss Control, 2008, p. 141).
N1_ORIFICE = options.N1.number
_WATER_KG_PER_M3 = 1000.0
_L_PER_DAY = 1000.0 * 86400.0


def _jet_speed(pressure_kpa: ArrayLike) -> Floats:
    """Return the speed of the ideal jet in m/s; NaN where the pressure is not above zero."""
    pressure = np.asarray(pressure_kpa, dtype=float)
    positive = np.where(pressure > 0, pressure, np.nan)
    return np.asarray(np.sqrt(2.0 * 1000.0 * positive / _WATER_KG_PER_M3))


def equivalent_hole(
    loss_l_per_day: ArrayLike, pressure_kpa: ArrayLike, discharge: float = DISCHARGE
) -> Floats:
    r"""Return the diameter of the round hole with the same loss, in millimetres.

    Parameters
    ----------
    loss_l_per_day, pressure_kpa : array_like of float
    discharge : float
        Discharge coefficient.

    Returns
    -------
    ndarray of float
        Millimetres; NaN where the pressure is not above zero.

    Notes
    -----
    The orifice equation :math:`Q = C_d A \sqrt{2 p / \rho}` (any textbook of hydraulics).

    Examples
    --------
    >>> equivalent_hole(12_400.0, 413.7).round(2).item()
    3.18
    """
    flow = np.asarray(loss_l_per_day, dtype=float) / _L_PER_DAY
    area = flow / (discharge * _jet_speed(pressure_kpa))
    return np.asarray(1000.0 * np.sqrt(4.0 * area / np.pi))


def loss_at_pressure(
    loss_l_per_day: ArrayLike, pressure_kpa: ArrayLike, other_kpa: ArrayLike,
    n1: float = N1_ORIFICE,
) -> Floats:  # fmt: skip
    r"""Return the loss of the same leak at another pressure.

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
    :math:`Q_1 / Q_0 = (P_1 / P_0)^{N1}`: the leak area grows with pressure where N1 is above 0.5
    (fixed and variable area discharge; Water Loss Control, 2008).

    Examples
    --------
    >>> loss_at_pressure(1000.0, 400.0, 200.0, n1=1.0).item()
    500.0
    """
    pressure = np.asarray(pressure_kpa, dtype=float)
    ratio = np.asarray(other_kpa, dtype=float) / np.where(pressure > 0, pressure, np.nan)
    return np.asarray(np.asarray(loss_l_per_day, dtype=float) * ratio**n1)

"""The record of a survey of a simulated line, with the truth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from leakgeo.simulate.spread import Floats
    from leakgeo.simulate.truth import Truth


@dataclass(frozen=True)
class Survey:
    """True constants of a survey: the instrument, and errors of positions.

    Parameters
    ----------
    gain_db : tuple of float
        Gain of each walk.
    sensor_offset_db : float
        Offset of the sensor.
    full_db : float
        Level of full scale on a linear display.
    position_sd_m : float
        True standard deviation of a chainage (tape) or of each axis of a fix (satellite).
    common_share, common_readings : float
        Share of the drift in the variance of a fix, and its correlation length in stops.
    step_m : tuple of float
        Step of each walk.
    stride_sd_m : float
        Standard deviation of a stop about its regular place.
    outlier : ndarray of int, shape (stops,)
        1 for a burst, -1 for a bad contact, 0 for neither.
    """

    gain_db: tuple[float, ...]
    sensor_offset_db: float
    full_db: float
    position_sd_m: float
    common_share: float
    common_readings: float
    step_m: tuple[float, ...]
    stride_sd_m: float
    outlier: NDArray[np.intp]


@dataclass(frozen=True)
class Recorded:
    """A simulated line: its record, its readings (arrays with one row per reading), and the truth.

    Parameters
    ----------
    material : str
        Material on record, or ``unknown``.
    depth_m, position_sd_m : float
        On record: cover or nan; 1-sigma of the trace.
    diameter_mm, pressure_kpa, length_m : float
        On record: diameter and pressure; length of the trace.
    taped : bool
        Whether stops were taped; otherwise they have satellite fixes.
    trace_xy : ndarray, shape (vertices, 2)
        The trace, in a local plane in metres; chainage starts at its first vertex.
    stop : ndarray of int, shape (n,)
        Stop of each reading; readings in several bands have the same stop.
    walk, seq : ndarray of int, shape (n,)
        Walk (0 coarse, 1 fine), and order within it.
    chainage_m, chainage_sd_m : ndarray, shape (n,)
        Taped chainage, or chainage of the point of the trace nearest to the fix; claimed 1-sigma.
    xy, fix_sd_m : ndarray, shape (n, 2) and (n,)
        Satellite fix and its claimed 1-sigma (large where stops were taped).
    level : ndarray, shape (n,)
        Displayed level.
    unit : str
        ``db`` or ``scale``.
    gain_db : ndarray, shape (n,)
        Gain on record, nan where not recorded.
    band, surface : ndarray of str, shape (n,)
        Filter band (``wide``, ``low`` or ``high``); surface under the sensor.
    sensor : str
        Name of the sensor.
    true_chainage_m : ndarray, shape (n,)
        True chainages of the stops. Hidden from a locator.
    leak_chainage_m : float or None
        Chainage of the leak in the reference of the mark: along the true pipe if taped, else along
        the trace. Hidden from a locator.
    leak_xy : ndarray, shape (2,), or None
        True position of the leak. Hidden from a locator.
    truth, survey : Truth, Survey
        All true constants. Hidden from a locator.
    """

    material: str
    depth_m: float
    position_sd_m: float
    diameter_mm: float
    pressure_kpa: float
    length_m: float
    taped: bool
    trace_xy: Floats
    stop: NDArray[np.intp]
    walk: NDArray[np.intp]
    seq: NDArray[np.intp]
    chainage_m: Floats
    chainage_sd_m: Floats
    xy: Floats
    fix_sd_m: Floats
    level: Floats
    unit: str
    gain_db: Floats
    band: NDArray[np.str_]
    surface: NDArray[np.str_]
    sensor: str
    true_chainage_m: Floats
    leak_chainage_m: float | None
    leak_xy: Floats | None
    truth: Truth
    survey: Survey

    @property
    def leaks(self) -> bool:
        """Whether there is a leak on the line."""
        return self.leak_chainage_m is not None

"""What the crew would hand in for a simulated line, and the hidden truth beside it."""

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
    """True circumstances of the survey: the instrument, and errors of position.

    Parameters
    ----------
    gain_db : tuple of float
        Gain of each walk.
    sensor_offset_db : float
        Offset of the sensor.
    full_db : float
        Level that fills a linear display.
    position_sd_m : float
        True standard deviation of a chainage (tape) or of each axis of a fix (satellite).
    common_share, common_readings : float
        Share of a fix's variance that drifts with the walk, and over how many stops.
    step_m : tuple of float
        Step of each walk.
    stride_sd_m : float
        Standard deviation of a stop about its even step.
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
    """A line, its record, the readings (arrays of one length, a row a reading), and the truth.

    Parameters
    ----------
    material, depth_m, position_sd_m
        What the record says: material or ``unknown``; cover or nan; 1-sigma of the trace.
    diameter_mm, pressure_kpa, length_m : float
    taped : bool
        Whether stops were taped; otherwise they are satellite fixes.
    trace_xy : ndarray, shape (vertices, 2)
        The trace, in a local plane in metres; chainage starts at its first vertex.
    stop : ndarray of int, shape (n,)
        Stop of each reading; readings in several bands share one.
    walk, seq : ndarray of int, shape (n,)
        Walk, 0 the coarse and 1 the fine one; order within it.
    chainage_m, chainage_sd_m : ndarray, shape (n,)
        Taped chainage or that of the fix's nearest point on the trace, with the claimed 1-sigma.
    xy, fix_sd_m : ndarray, shape (n, 2) and (n,)
        Satellite fix and its claimed 1-sigma (rough where stops were taped).
    level : ndarray, shape (n,)
        As displayed.
    unit : str
        ``db`` or ``scale``.
    gain_db : ndarray, shape (n,)
        Gain on the record, nan where untold.
    band, surface : ndarray of str, shape (n,)
        ``wide``, ``low`` or ``high``; surface underfoot.
    sensor : str
    true_chainage_m : ndarray, shape (n,)
        Where the stops truly were, on the true pipe. Hidden from a locator.
    leak_chainage_m : float or None
        The leak's chainage in the frame that a mark is made in: the tape's, or the trace's.
        Hidden from a locator.
    leak_xy : ndarray, shape (2,), or None
        The leak's true place. Hidden from a locator.
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

"""True state of a simulated line, hidden from a locator."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from leakgeo.simulate.constants import METALS

if TYPE_CHECKING:
    from leakgeo.simulate.spread import Floats, SpreadTable


@dataclass(frozen=True)
class Ground:
    """The line and its cover.

    Parameters
    ----------
    length_m, depth_m, diameter_mm, pressure_kpa : float
    material : str
    surfaces : tuple of str
        Surface of each stretch, in order of chainage.
    surface_ends_m : ndarray, shape (stretches - 1,)
        Chainage at which each stretch ends, except the last.
    surface_db : ndarray, shape (stretches,)
        Change of the level by the surface of each stretch.
    smear_m : ndarray, shape (stretches,)
        Full width over which the surface of each stretch spreads the sound.
    soil_db_per_m, pipe_db_per_m : ndarray, shape (bands,)
        Attenuation of the soil, decay along the pipe, in each octave band.
    pipe_radiates_db : float
        Power radiated by a metre of pipe, relative to the leak itself.
    reflects : float
        Share of the power in the pipe that an end reflects.
    """

    length_m: float
    depth_m: float
    diameter_mm: float
    pressure_kpa: float
    material: str
    surfaces: tuple[str, ...]
    surface_ends_m: Floats
    surface_db: Floats
    smear_m: Floats
    soil_db_per_m: Floats
    pipe_db_per_m: Floats
    pipe_radiates_db: float
    reflects: float

    @property
    def metal(self) -> bool:
        """Whether the pipe is of metal."""
        return self.material in METALS

    def stretch(self, chainage_m: Floats) -> NDArray[np.intp]:
        """Return the index of the stretch of surface at each chainage."""
        return np.searchsorted(self.surface_ends_m, chainage_m)


@dataclass(frozen=True)
class Noise:
    """True constants of the noise of readings, in decibels, metres and shares.

    A share `burst_share` of the readings has a burst of 2 dB plus an exponential of mean
    `burst_db`, over `burst_readings` readings on average. A bad contact reduces the level by 2 dB
    plus an exponential of mean `bad_contact_db`.
    """

    coupling_sd_db: float
    coupling_length_m: float
    coupling_shared_by_bands: float
    reading_sd_db: float
    reading_shared_by_bands: float
    burst_share: float
    burst_readings: float
    burst_db: float
    bad_contact_share: float
    bad_contact_db: float


@dataclass(frozen=True)
class Truth:
    """The true state of a simulated line.

    Parameters
    ----------
    ground : Ground
        The line and its cover.
    noise : Noise
        Noise of the readings.
    leak_chainage_m : float or None
        Chainage of the leak on the true pipe; None without a leak.
    other_chainage_m : float or None
        Chainage of another steady source, or of the point next to it; None without one.
    other_beside_m : float
        Distance of the other source from the line; 0 for a source on it.
    bands : tuple of str
        Filter bands of the readings.
    leak, other : tuple of SpreadTable or None
        Power by distance, one table for each filter band, with a row for each stretch of surface.
    floor : ndarray, shape (filter bands,)
        Ambient power.
    """

    ground: Ground
    noise: Noise
    leak_chainage_m: float | None
    other_chainage_m: float | None
    other_beside_m: float
    bands: tuple[str, ...]
    leak: tuple[SpreadTable, ...]
    other: tuple[SpreadTable, ...] | None
    floor: Floats

    def level_db(self, band: int, stop_m: Floats, leak_m: Floats | float | None) -> Floats:
        """Return the level at the ground without noise, before gain and sensor offset.

        Parameters
        ----------
        band : int
            Index in `bands`.
        stop_m : ndarray
            Chainage of the stops.
        leak_m : ndarray, float or None
            Chainage of the leak, broadcast against `stop_m`; None without a leak.

        Returns
        -------
        ndarray
        """
        ground = self.ground
        stretch = ground.stretch(stop_m)
        power = np.full(np.shape(stop_m), self.floor[band])
        if self.other is not None and self.other_chainage_m is not None:
            other_m = np.asarray(self.other_chainage_m)
            power = power + self.other[band].power(
                stretch, stop_m, other_m, ground.length_m, ground.reflects
            )
        if leak_m is not None:
            power = power + self.leak[band].power(
                stretch, stop_m, np.asarray(leak_m), ground.length_m, ground.reflects
            )
        level: Floats = 10.0 * np.log10(power) + ground.surface_db[stretch]
        return level

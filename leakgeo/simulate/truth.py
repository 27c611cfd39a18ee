"""What is truly in the ground of a simulated line: drawn once, and never shown to a locator."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from leakgeo.simulate.constants import METALS

if TYPE_CHECKING:
    from leakgeo.simulate.spread import Floats, SpreadTable


@dataclass(frozen=True)
class Soil:
    """The line and its cover.

    Parameters
    ----------
    length_m, depth_m, diameter_mm, pressure_kpa : float
    material : str
    surfaces : tuple of str
        Surface of each stretch, in order of chainage.
    surface_ends_m : ndarray, shape (stretches - 1,)
        Chainage where each stretch but the last ends.
    surface_db : ndarray, shape (stretches,)
        Step in level of each stretch.
    smear_m : ndarray, shape (stretches,)
        Full width over which the surface of each stretch sounds together.
    soil_db_per_m, pipe_db_per_m : ndarray, shape (bands,)
        Attenuation of the soil, decay along the pipe, in each octave band.
    pipe_radiates_db : float
        Power that a metre of pipe radiates, against the leak itself.
    reflects : float
        Share of the power in the pipe that an end throws back.
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
        """Give the number of the stretch of surface that each chainage lies in."""
        return np.searchsorted(self.surface_ends_m, chainage_m)


@dataclass(frozen=True)
class Noise:
    """True constants of the noise of a line's readings, in decibels, metres, shares.

    A reading gets a burst with `burst_share`, of 2 dB plus an exponential of mean `burst_db`,
    lasting `burst_readings` readings on average; a bad contact takes off 2 dB plus an exponential
    of mean `bad_contact_db`.
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
    """All that a simulated line hides.

    Parameters
    ----------
    ground : Soil
    noise : Noise
    leak_chainage_m : float or None
        Chainage of the leak on the true pipe, None with no leak.
    other_chainage_m : float or None
        Chainage of (or opposite) another steady source, None with none.
    other_beside_m : float
        Distance of the other source from the line, 0 for one on it.
    bands : tuple of str
        Filter bands listened in.
    leak, other : tuple of SpreadTable or None
        Power by distance, a table for each filter band, rows as the stretches of surface.
    floor : ndarray, shape (filter bands,)
        Ambient power.
    """

    ground: Soil
    noise: Noise
    leak_chainage_m: float | None
    other_chainage_m: float | None
    other_beside_m: float
    bands: tuple[str, ...]
    leak: tuple[SpreadTable, ...]
    other: tuple[SpreadTable, ...] | None
    floor: Floats

    def level_db(self, band: int, stop_m: Floats, leak_m: Floats | float | None) -> Floats:
        """Level at the ground with no noise, before gain and sensor offset.

        Parameters
        ----------
        band : int
            Which of `bands`.
        stop_m : ndarray
            Chainage of the stops.
        leak_m : ndarray, float or None
            Chainage of the leak, broadcast against `stop_m`; None for no leak.

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

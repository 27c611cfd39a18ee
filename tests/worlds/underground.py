"""Mean levels on the ground over a buried pipe: of a leak, of the pipe's hum, of a machine.

A leak sounds in two ways. It radiates from its place into the soil, and it sends sound along the
pipe, which loses some at each metre, comes back in part from the ends, and radiates upward
everywhere. Both spread between cylinders and spheres, are absorbed by the soil, and are felt by
the sensor the less the more slantwise they arrive. Powers add.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

REFLECTED = 0.25  # of the power, at an end of the pipe
PIECE_M = 0.1


@dataclass(frozen=True)
class Soil:
    """How sound fades on its way up.

    Parameters
    ----------
    spreading_db : float
        Loss for ten times the distance: 10 from a cylinder, 20 from a sphere.
    absorption_db_per_m : float
        Loss by absorption.
    slant_db : float
        Loss for ten times the ratio of slant distance to depth: 0 for a sensor that feels all
        directions alike, 20 for one that feels the upward part alone.
    """

    spreading_db: float
    absorption_db_per_m: float
    slant_db: float

    def loss_db(self, along_m: np.ndarray, depth_m: float) -> np.ndarray:
        """Loss from 1 m off a source to the ground, some way along from above it."""
        slant = np.hypot(along_m, depth_m)
        loss: np.ndarray = (
            self.spreading_db * np.log10(slant)
            + self.absorption_db_per_m * (slant - 1)
            + self.slant_db * np.log10(slant / depth_m)
        )
        return loss


@dataclass(frozen=True)
class Pipe:
    """A pipe that conducts sound.

    Parameters
    ----------
    length_m : float
    depth_m : float
        From the ground to the pipe's middle.
    loss_db_per_m : float
        Of the sound along the pipe.
    hum_db : float
        Level that a metre of pipe radiates beside the source, below that of the source itself.
    """

    length_m: float
    depth_m: float
    loss_db_per_m: float
    hum_db: float


def source_level(
    stop_m: np.ndarray, at_m: float, source_db: float, soil: Soil, pipe: Pipe
) -> np.ndarray:
    """Level on the ground of a source at the pipe.

    Parameters
    ----------
    stop_m : ndarray, shape (n,)
        Chainages on the ground.
    at_m : float
        Chainage of the source.
    source_db : float
        Level in the soil 1 m from it.
    soil : Soil
    pipe : Pipe

    Returns
    -------
    ndarray, shape (n,)
        Levels in decibels.
    """
    direct = source_db - soil.loss_db(stop_m - at_m, pipe.depth_m)
    pieces = np.arange(PIECE_M / 2, pipe.length_m, PIECE_M)
    fade = pipe.loss_db_per_m / 10
    along = 10 ** (-fade * np.abs(pieces - at_m)) + REFLECTED * (
        10 ** (-fade * (pieces + at_m)) + 10 ** (-fade * (2 * pipe.length_m - pieces - at_m))
    )
    up = 10 ** (-soil.loss_db(stop_m[:, None] - pieces, pipe.depth_m) / 10)
    hum = source_db - pipe.hum_db + 10 * np.log10(up @ along * PIECE_M)
    return power_sum(direct, hum)


def machine_level(stop_m: np.ndarray, at_m: float, aside_m: float, source_db: float) -> np.ndarray:
    """Level of a machine that stands on the ground beside the line.

    Parameters
    ----------
    stop_m : ndarray, shape (n,)
    at_m, aside_m : float
        Chainage of the machine, and its distance from the line.
    source_db : float
        Level 1 m from it.

    Returns
    -------
    ndarray, shape (n,)
        Levels in decibels.
    """
    away = np.hypot(stop_m - at_m, aside_m)
    return source_db - 15 * np.log10(away) - 0.5 * (away - 1)


def power_sum(*levels_db: np.ndarray) -> np.ndarray:
    """Level of independent sounds together."""
    powers = [10 ** (level / 10) for level in np.broadcast_arrays(*levels_db)]
    level: np.ndarray = 10 * np.log10(np.sum(powers, axis=0))
    return level

"""What covers the ground, and how a sensor stands on it: slabs, soft tops, contact resonance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.wave_soil import Soil, surface_stiffness


@dataclass(frozen=True)
class Slab:
    """A slab that bends.

    Parameters
    ----------
    thick_m : float
        Thickness, m.
    modulus_pa : float
        Young's modulus, Pa.
    loss : float
        Loss factor.
    density_kg_m3 : float
        Density, kg/m3.
    base : Soil
        What it lies on.
    """

    thick_m: float
    modulus_pa: float
    loss: float
    density_kg_m3: float
    base: Soil


@dataclass(frozen=True)
class SoftTop:
    """A soft layer with roots and air in it.

    Parameters
    ----------
    thick_m : float
        Thickness, m.
    speed_m_s : float
        Speed of the waves that cross it, m/s.
    loss : float
        Loss factor.
    impedance : float
        Its impedance relative to that of the soil under it.
    """

    thick_m: float
    speed_m_s: float
    loss: float
    impedance: float


@dataclass(frozen=True)
class Cover:
    """What lies on the ground along a stretch, and how the sensor stands on it.

    Parameters
    ----------
    kind : str
        `surface` as in the schema.
    from_m, to_m : float
        Chainages of its ends, m.
    layer : Slab or SoftTop
    contact_hz, contact_damping : float
        Resonance of the sensor's mass on the ground, Hz, and its damping ratio.
    air_db : float
        How much louder than elsewhere the noise in the air is in the sensor, dB.
    """

    kind: str
    from_m: float
    to_m: float
    layer: Slab | SoftTop
    contact_hz: float
    contact_damping: float
    air_db: float


def contact(cover: Cover, hz: np.ndarray) -> np.ndarray:
    """Energy that the sensor shows, relative to that of the ground it stands on, shape (f,)."""
    ratio = hz / cover.contact_hz
    damped = 2j * cover.contact_damping * ratio
    return np.abs((1 + damped) / (1 - ratio**2 + damped)) ** 2


def through(cover: Cover, hz: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Motion at the top of a cover relative to that of the bare ground.

    Parameters
    ----------
    cover : Cover
    hz : ndarray, shape (f,)
        Frequencies, Hz.
    k : ndarray, shape (f, m) or (1, m)
        Wavenumbers along the surface, rad/m.

    Returns
    -------
    ndarray of complex, shape (f, m)
    """
    layer = cover.layer
    if isinstance(layer, Slab):
        ground = surface_stiffness(layer.base, hz, k)
        bending = layer.modulus_pa * (1 + 1j * layer.loss) * layer.thick_m**3 / 12 / (1 - 0.25**2)
        mass = layer.density_kg_m3 * layer.thick_m * (2 * np.pi * hz[:, None]) ** 2
        return ground / (ground + bending * k**4 - mass)
    phase = 2 * np.pi * hz[:, None] / layer.speed_m_s * (1 - 0.5j * layer.loss) * layer.thick_m
    return 1 / (np.cos(phase) + 1j * layer.impedance * np.sin(phase)) + 0 * k


def at_top(
    cover: Cover, hz: np.ndarray, motion: np.ndarray, at_m: np.ndarray, wide_m: float
) -> np.ndarray:
    """Motion at the top of one cover, nil beside it.

    Parameters
    ----------
    cover : Cover
    hz : ndarray, shape (f,)
        Frequencies, Hz.
    motion : ndarray of complex, shape (f, n)
        Motion of the bare ground.
    at_m : ndarray, shape (n,)
        Chainages at even steps, m.
    wide_m : float
        Width over which the ground moves across the line, m.

    Returns
    -------
    ndarray of complex, shape (f, n)
    """
    under = (at_m >= cover.from_m) & (at_m < cover.to_m)
    if isinstance(cover.layer, SoftTop):
        return motion * under * through(cover, hz, np.zeros((1, 1)))
    padded = at_m.size + round(5 / (at_m[1] - at_m[0]))
    k = 2 * np.pi * np.fft.fftfreq(padded, at_m[1] - at_m[0])
    # The ground moves over some width across the line too, which the slab has to bend over. A free
    # edge follows the ground as the middle does, so the ground is taken to go on beyond it.
    bent = through(cover, hz, np.hypot(k, 1 / wide_m)[None, :])
    spectrum = np.fft.fft(motion, padded, axis=1) * bent
    return np.fft.ifft(spectrum, axis=1)[:, : at_m.size] * under

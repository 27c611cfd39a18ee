"""The wave in the water of a buried pipe, and the motion of the ground that the pipe makes.

The wavenumber of the fluid-borne wave is that of Muggleton, Brennan and Pinnington (J. Sound and
Vibration, 2002) with the soil around the wall, which slips along it (Muggleton and Yan, 2013).
Time goes as exp(+i w t).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import hankel2

if TYPE_CHECKING:
    from tests.worlds.wave_soil import Soil

BULK_PA = 2.25e9
SOUND_M_S = 1480.0
VISCOSITY_M2_S = 1.1e-6
NEPER_DB = 20 / np.log(10)


@dataclass(frozen=True)
class Pipe:
    """A pipe full of water.

    Parameters
    ----------
    radius_m : float
        Mean radius, m.
    wall_m : float
        Wall thickness, m.
    modulus_pa : float
        Young's modulus of the wall, Pa.
    loss : float
        Loss factor of the wall.
    density_kg_m3 : float
        Density of the wall, kg/m3.
    fittings_db_m : float
        Loss at couplings, bends and scale at 600 Hz, spread along the pipe, dB/m.
    """

    radius_m: float
    wall_m: float
    modulus_pa: float
    loss: float
    density_kg_m3: float
    fittings_db_m: float = 0.0


@dataclass(frozen=True)
class Ends:
    """Where the pipe ends, and what its ends send back.

    Parameters
    ----------
    start_m, end_m : float
        Chainages of the ends, m.
    at_start, at_end : float
        Reflection of pressure at each.
    """

    start_m: float
    end_m: float
    at_start: float
    at_end: float


def free_wavenumber(pipe: Pipe, hz: np.ndarray) -> np.ndarray:
    """Wavenumber of the fluid-borne wave in a thin-walled pipe without soil, rad/m."""
    hoop = 2 * BULK_PA * pipe.radius_m / (pipe.modulus_pa * (1 + 1j * pipe.loss) * pipe.wall_m)
    return 2 * np.pi * hz / SOUND_M_S * np.sqrt(1 + hoop)


def decay_db_m(k: np.ndarray) -> np.ndarray:
    """Decay of a wave along the pipe, dB/m."""
    return -NEPER_DB * np.imag(k)


def soil_stiffness(soil: Soil, hz: np.ndarray, k: np.ndarray, radius_m: float) -> np.ndarray:
    """Pressure of the soil on a pipe for unit radial displacement that goes as exp(-i k s), Pa/m.

    Parameters
    ----------
    soil : Soil
    hz : ndarray, shape (f,)
        Frequencies, Hz.
    k : ndarray, shape (f,)
        Real wavenumbers along the pipe, rad/m.
    radius_m : float
        Radius of the pipe, m.

    Returns
    -------
    ndarray of complex, shape (f,)
    """
    k_p, k_s = soil.k_p(hz), soil.k_s(hz)
    inertia = soil.density_kg_m3 * (2 * np.pi * hz) ** 2
    shear = inertia / k_s**2
    across_p, across_s = np.sqrt(k_p**2 - k**2), np.sqrt(k_s**2 - k**2)
    potential = -_ratio(across_p * radius_m) / across_p
    slope = -(across_p**2) * potential - 1 / radius_m
    slope += 2 * k**2 / (across_s**2 - k**2) * (across_s * _ratio(across_s * radius_m))
    slope -= 2 * k**2 / (across_s**2 - k**2) / radius_m
    stress = -(inertia - 2 * shear * k_p**2) * potential + 2 * shear * slope
    return -stress * (across_s**2 - k**2) / k_s**2


def _ratio(x: np.ndarray) -> np.ndarray:
    return hankel2(0, x) / hankel2(1, x)


def wall_compliance(pipe: Pipe, soil: Soil, hz: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Radial displacement of the wall for unit pressure of the water, m/Pa."""
    hoop = pipe.modulus_pa * (1 + 1j * pipe.loss) * pipe.wall_m / pipe.radius_m**2
    mass = (2 * np.pi * hz) ** 2 * pipe.density_kg_m3 * pipe.wall_m
    return 1 / (hoop - mass + soil_stiffness(soil, hz, k, pipe.radius_m))


def buried_wavenumber(pipe: Pipe, soil: Soil, hz: np.ndarray) -> np.ndarray:
    """Wavenumber of the fluid-borne wave in a buried pipe, rad/m, shape (f,).

    Beside wall and soil there is the friction of the water (Kirchhoff), and a loss at fittings.
    """
    k = free_wavenumber(pipe, hz)
    for _ in range(4):
        compliance = wall_compliance(pipe, soil, hz, k.real)
        k = 2 * np.pi * hz / SOUND_M_S * np.sqrt(1 + 2 * BULK_PA / pipe.radius_m * compliance)
    friction = np.sqrt(np.pi * hz * VISCOSITY_M2_S) / (pipe.radius_m * SOUND_M_S)
    fittings = pipe.fittings_db_m / NEPER_DB * np.sqrt(hz / 600)
    return k - 1j * (friction + fittings)


def pressure(k: np.ndarray, ends: Ends, source_m: float, at_m: np.ndarray) -> np.ndarray:
    """Pressure along a pipe with a source of unit strength and waves sent back by its ends.

    Parameters
    ----------
    k : ndarray, shape (f,)
        Wavenumbers, rad/m.
    ends : Ends
    source_m : float
        Chainage of the source, m.
    at_m : ndarray, shape (n,)
        Chainages, m; the pressure is nil beyond the ends.

    Returns
    -------
    ndarray of complex, shape (f, n)
    """
    length = ends.end_m - ends.start_m
    near = np.minimum(at_m, source_m) - ends.start_m
    far = ends.end_m - np.maximum(at_m, source_m)
    apart = length - near - far

    def wave(run_m: np.ndarray) -> np.ndarray:
        return np.exp(-1j * k[:, None] * run_m[None, :])

    both = ends.at_start * ends.at_end
    direct = wave(apart) + both * wave(2 * length - apart)
    back = ends.at_start * wave(apart + 2 * near) + ends.at_end * wave(apart + 2 * far)
    inside = (at_m >= ends.start_m) & (at_m <= ends.end_m)
    return (direct + back) / (1 - both * np.exp(-2j * k * length))[:, None] * inside


def ground_over_wall(
    soil: Soil, hz: np.ndarray, k: np.ndarray, radius_m: float, above_m: float
) -> np.ndarray:
    """Motion of the ground right above a pipe, relative to that of its wall.

    Parameters
    ----------
    soil : Soil
    hz : ndarray, shape (f,)
        Frequencies, Hz.
    k : ndarray, shape (m,)
        Wavenumbers along the pipe, rad/m.
    radius_m : float
        Radius of the pipe, m.
    above_m : float
        Distance from the pipe's axis to the surface, m.

    Returns
    -------
    ndarray of complex, shape (f, m)
    """
    k_p, k_s, k = soil.k_p(hz)[:, None], soil.k_s(hz)[:, None], np.abs(k)[None, :]
    across_p, across_s = np.sqrt(k_p**2 - k**2), np.sqrt(k_s**2 - k**2)
    of_p = hankel2(1, across_p * above_m) / hankel2(1, across_p * radius_m)
    of_s = hankel2(1, across_s * above_m) / hankel2(1, across_s * radius_m)
    return ((across_s**2 - k**2) * of_p + 2 * k**2 * of_s) / k_s**2


def radiated(
    pipe: Pipe, soil: Soil, hz: np.ndarray, inside: np.ndarray, step_m: float, above_m: float
) -> np.ndarray:
    """Vertical motion of the ground above a pipe, by the pressure inside it.

    The pipe is a line source with phase: its wall moves as the pressure does, and every
    wavenumber along it makes its own P and S waves in the soil, near field included.

    Parameters
    ----------
    pipe : Pipe
    soil : Soil
    hz : ndarray, shape (f,)
        Frequencies, Hz.
    inside : ndarray of complex, shape (f, n)
        Pressure at even steps along the pipe.
    step_m : float
        Step, m.
    above_m : float
        Distance from the pipe's axis to the surface, m.

    Returns
    -------
    ndarray of complex, shape (f, n)
    """
    n = inside.shape[1]
    padded = n + round(12 / step_m)
    k = 2 * np.pi * np.fft.fftfreq(padded, step_m)
    # The pipe's wave has no shorter waves, and the soil none that reach the surface.
    longest = 1.3 * free_wavenumber(pipe, hz).real.max() + 6
    some = np.flatnonzero((np.abs(k) < longest) & (k >= 0))
    half = np.zeros((hz.size, padded), dtype=complex)
    half[:, some] = ground_over_wall(soil, hz, k[some], pipe.radius_m, above_m)
    half[:, -some[1:]] = half[:, some[1:]]
    spectrum = np.fft.fft(inside, padded, axis=1) * half
    compliance = wall_compliance(pipe, soil, hz, free_wavenumber(pipe, hz).real)
    return np.fft.ifft(spectrum, axis=1)[:, :n] * compliance[:, None]

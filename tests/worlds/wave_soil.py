"""Waves of a point source in soil: P and S with their near field, and the stiffness of soil.

Time goes as exp(+i w t), so that a wave that leaves goes as exp(-i k r) and a loss makes the
imaginary part of k negative. Arrays of waves have a row for each frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Soil:
    """Elastic soil with a loss factor.

    Parameters
    ----------
    p_m_s, s_m_s : float
        Speeds of P and S waves, m/s.
    loss : float
        Loss factor, twice the damping ratio.
    density_kg_m3 : float
        Density, kg/m3.
    """

    p_m_s: float
    s_m_s: float
    loss: float
    density_kg_m3: float = 1800.0

    def k_p(self, hz: np.ndarray) -> np.ndarray:
        """Wavenumber of P waves, rad/m."""
        return 2 * np.pi * hz / self.p_m_s * (1 - 0.5j * self.loss)

    def k_s(self, hz: np.ndarray) -> np.ndarray:
        """Wavenumber of S waves, rad/m."""
        return 2 * np.pi * hz / self.s_m_s * (1 - 0.5j * self.loss)


@dataclass(frozen=True)
class Strengths:
    """Complex strengths of the parts of a point source, each of unit size far above the source.

    Parameters
    ----------
    volume : complex
        A pulsating volume, which sends P waves only.
    upward, along : complex
        A vertical force and one along the line, which send P and S waves.
    """

    volume: complex = 1.0
    upward: complex = 0.0
    along: complex = 0.0


def point_source(
    soil: Soil, hz: np.ndarray, ahead_m: np.ndarray, depth_m: float, strengths: Strengths
) -> np.ndarray:
    """Vertical motion of the ground over and beside a buried point source.

    The displacement of a force in an elastic space is that of Stokes (1849) in the frequency
    domain, with its near field; the free surface only doubles it, which is left out here.

    Parameters
    ----------
    soil : Soil
    hz : ndarray, shape (f,)
        Frequencies, Hz.
    ahead_m : ndarray, shape (n,)
        Horizontal distance of each place from the source, signed, m.
    depth_m : float
        Depth of the source, m.
    strengths : Strengths

    Returns
    -------
    ndarray of complex, shape (f, n)
        Motion relative to 1/r.
    """
    r = np.hypot(ahead_m, depth_m)[None, :]
    up, side = depth_m / r, ahead_m[None, :] / r
    k_p, k_s = soil.k_p(hz)[:, None], soil.k_s(hz)[:, None]
    g_p, g_s = np.exp(-1j * k_p * r) / r, np.exp(-1j * k_s * r) / r
    curved_p, plain_p = _second_derivatives(k_p, r, g_p)
    curved_s, plain_s = _second_derivatives(k_s, r, g_s)
    volume = up * (1j + 1 / (k_p * r)) * g_p
    upward = (k_s**2 * g_s + up**2 * (curved_s - curved_p) - (plain_s - plain_p)) / k_p**2
    along = up * side * (curved_s - curved_p) / k_s**2
    return strengths.volume * volume + strengths.upward * upward + strengths.along * along


def _second_derivatives(
    k: np.ndarray, r: np.ndarray, g: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    # d2g/dxi dxj = curved * direction_i * direction_j - plain * (i == j), with g = exp(-ikr)/r
    return (-(k**2) + 3j * k / r + 3 / r**2) * g, (1j * k / r + 1 / r**2) * g


def surface_stiffness(soil: Soil, hz: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Pressure on the surface of a half-space for unit displacement, Pa/m.

    The pressure goes as exp(i k x); there is no shear on the surface (Rayleigh's function, as
    used by Lamb, 1904).

    Parameters
    ----------
    soil : Soil
    hz : ndarray, shape (f,)
        Frequencies, Hz.
    k : ndarray, shape (f, m) or (1, m)
        Wavenumbers along the surface, rad/m.

    Returns
    -------
    ndarray of complex, shape (f, m)
    """
    k_p, k_s = soil.k_p(hz)[:, None], soil.k_s(hz)[:, None]
    shear = soil.density_kg_m3 * (2 * np.pi * hz[:, None]) ** 2 / k_s**2
    fall_p, fall_s = _fall(k, k_p), _fall(k, k_s)
    rayleigh = (2 * k**2 - k_s**2) ** 2 - 4 * k**2 * fall_p * fall_s
    return -shear * rayleigh / (k_s**2 * fall_p)


def _fall(k: np.ndarray, k_wave: np.ndarray) -> np.ndarray:
    # The principal root: the wave falls downward, or leaves downward.
    return np.sqrt(k**2 - k_wave**2)

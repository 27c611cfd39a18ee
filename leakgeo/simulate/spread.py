"""Spreading of leak sound in the simulator: directly through the soil, and along the pipe.

Power at the ground surface from a source of unit power at one metre. It depends only on the
distance along the line, and is tabulated once for each line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft

Floats = NDArray[np.float64]


def through_soil(along_m: Floats, depth_m: float, soil_db_per_m: Floats) -> Floats:
    """Return the power at the ground from a buried point source, by distance along the line.

    Spherical spreading (power as 1/r^2, 6.02 dB a doubling; acoustics textbooks) and linear
    attenuation of the soil.

    Parameters
    ----------
    along_m : ndarray, shape (n,)
        Horizontal distance from the source.
    depth_m : float
        Distance from the source to the line on the ground, greater than zero.
    soil_db_per_m : ndarray, shape (bands,)
        Attenuation of the soil.

    Returns
    -------
    ndarray, shape (bands, n)
        Power; 1 at one metre without attenuation.

    Examples
    --------
    >>> far = through_soil(np.array([500.0, 1000.0]), 0.1, np.zeros(1))[0]
    >>> round(float(10 * np.log10(far[0] / far[1])), 2)
    6.02
    """
    r = np.hypot(along_m, depth_m)
    power: Floats = 10.0 ** (-np.asarray(soil_db_per_m)[:, None] * r / 10.0) / r**2
    return power


def along_pipe(step_m: float, soil: Floats, pipe_db_per_m: Floats) -> Floats:
    """Return the power at the ground radiated by the whole pipe from a decaying wave in it.

    Each metre of pipe radiates as a point source with the power that the wave has left there: the
    convolution of the two-sided exponential with the power of a point source (a line source is the
    integral of point sources; acoustics textbooks).

    Parameters
    ----------
    step_m : float
        Step of the table.
    soil : ndarray, shape (bands, 2 n + 1)
        `through_soil` at distances ``-n .. n`` steps.
    pipe_db_per_m : ndarray, shape (bands,)
        Decay along the pipe.

    Returns
    -------
    ndarray, shape (bands, 2 n + 1)
        Power by distance from the leak, for a pipe that radiates 1 per metre at the leak.
    """
    n = soil.shape[1] // 2
    x = step_m * np.arange(-n, n + 1)
    wave = 10.0 ** (-np.asarray(pipe_db_per_m)[:, None] * np.abs(x) / 10.0)
    return _convolve(soil, wave) * step_m


def smear(step_m: float, power: Floats, width_m: float) -> Floats:
    """Smooth power as a slab does, with a raised-cosine kernel of full width `width_m`.

    Shape and width are assumptions; the total power is preserved.

    Parameters
    ----------
    step_m : float
        Step of the table.
    power : ndarray, shape (..., 2 n + 1)
        Power by distance.
    width_m : float
        Full width of the kernel.

    Returns
    -------
    ndarray, shape (..., 2 n + 1)
    """
    n = power.shape[-1] // 2
    x = step_m * np.arange(-n, n + 1)
    kernel = np.where(np.abs(x) < width_m / 2, 1 + np.cos(2 * np.pi * x / width_m), 0.0)
    return _convolve(power, kernel / kernel.sum())


def _convolve(a: Floats, b: Floats) -> Floats:
    """Convolve along the last axis, keep the middle, and remove negative rounding errors."""
    n = a.shape[-1]
    size = next_fast_len(2 * n - 1, real=True)
    full = irfft(rfft(a, size) * rfft(b, size), size)[..., n // 2 : n // 2 + n]
    kept: Floats = np.maximum(full, a.max() * 1e-15)
    return kept


@dataclass(frozen=True)
class SpreadTable:
    """Power by distance from a source, for each surface of a line, through soil and by pipe.

    Parameters
    ----------
    step_m : float
        Step of the table, from distance zero.
    soil : ndarray, shape (surfaces, n)
        Power directly through soil.
    pipe : ndarray, shape (surfaces, n)
        Power by pipe, without reflections.
    """

    step_m: float
    soil: Floats
    pipe: Floats

    def at(self, table: Floats, surface: NDArray[np.intp], along_m: Floats) -> Floats:
        """Interpolate one of the two tables linearly.

        Parameters
        ----------
        table : ndarray, shape (surfaces, n)
            ``soil`` or ``pipe``.
        surface : ndarray of int
            Row of the table, broadcast against `along_m`.
        along_m : ndarray
            Distance, positive or negative.
        """
        steps = np.minimum(np.abs(along_m) / self.step_m, table.shape[1] - 1.001)
        low = steps.astype(np.intp)
        part = steps - low
        value: Floats = table[surface, low] * (1 - part) + table[surface, low + 1] * part
        return value

    def power(
        self, surface: NDArray[np.intp], stop_m: Floats, source_m: Floats, length_m: float,
        reflects: float,
    ) -> Floats:  # fmt: skip
        """Return the power at stops from a source, with reflections at the ends of the pipe.

        Each end reflects the share `reflects` of the power in the pipe: image sources up to two
        reflections (textbook method of images).

        Parameters
        ----------
        surface, stop_m, source_m : ndarray
            Row of the table, chainage of the stop and of the source; broadcast together.
        length_m : float
            Length of the line.
        reflects : float
            Share of the power that an end reflects, 0 to 1.
        """
        near = stop_m - source_m
        total = self.at(self.soil, surface, near) + self.at(self.pipe, surface, near)
        if reflects:
            once = self.at(self.pipe, surface, stop_m + source_m)
            once = once + self.at(self.pipe, surface, 2 * length_m - stop_m - source_m)
            twice = self.at(self.pipe, surface, 2 * length_m - near)
            twice = twice + self.at(self.pipe, surface, 2 * length_m + near)
            total = total + reflects * once + reflects**2 * twice
        return total

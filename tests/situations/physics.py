"""The sound field of a street: pipes that carry sound, sources on them, machines beside them.

Energies are relative to the usual background over the ground. Each source has bands of a third
octave, which add without phase, as a wide filter averages standing waves. A wave in the pipe
decays by the decibels per metre of `tests.worlds.wave_pipe`, comes back from the ends, and leaks
into the soil along its way; sound in the soil spreads by the inverse square and loses decibels per
metre. A slab averages the motion under it. Places are metres in the plan of the street.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    Array = np.ndarray

HZ = 1000 * 2 ** (np.arange(-7, 3) / 3)
STEP_M = 0.2


@dataclass(frozen=True, eq=False)
class Run:
    """A straight pipe in the ground, with chainages of its own from its first end.

    Parameters
    ----------
    start, end : ndarray, shape (2,)
        Its ends in the plan, m.
    axis_m : float
        Depth of its axis, m.
    decay_db_m, soil_db_m : ndarray, shape (f,)
        Decay along the pipe and in the soil for each band, dB/m.
    back : tuple of float
        Shares of the energy that its ends send back.
    losses : tuple of (float, float)
        Chainage and loss in dB of fittings that the wave passes.
    muffled : tuple of (float, float, float)
        Stretches, from and to, that send less into the soil, and by how many dB.
    vertical : float
        Share of the motion at the surface that is seen by its vertical part only.
    """

    start: Array
    end: Array
    axis_m: float
    decay_db_m: Array
    soil_db_m: Array
    back: tuple[float, float]
    losses: tuple[tuple[float, float], ...] = ()
    muffled: tuple[tuple[float, float, float], ...] = ()
    vertical: float = 0.5

    @property
    def length_m(self) -> float:
        """Length of the pipe, m."""
        return float(np.hypot(*(self.end - self.start)))

    def at(self, run_m: Array | float) -> Array:
        """Give the places at some chainages of the pipe, shape (n, 2)."""
        share = np.atleast_1d(run_m)[:, None] / self.length_m
        return self.start + share * (self.end - self.start)


def guided(run: Run, source_m: float, at_m: Array) -> Array:
    """Energy of the wave in a pipe, relative to that at its source without ends, shape (f, n)."""
    length = run.length_m
    near = np.minimum(at_m, source_m)
    far = length - np.maximum(at_m, source_m)
    apart = np.abs(at_m - source_m)

    def after(way_m: Array | float) -> Array:
        return np.exp(-run.decay_db_m[:, None] * np.log(10) / 10 * np.atleast_1d(way_m)[None, :])

    first, last = run.back
    both = first * last
    energy = after(apart) + both * after(2 * length - apart)
    energy += first * after(apart + 2 * near) + last * after(apart + 2 * far)
    passed = np.zeros(at_m.size)
    for place, loss_db in run.losses:
        passed += loss_db * ((at_m - place) * (source_m - place) < 0)
    return energy / (1 - both * after(2 * length)) * 10 ** (-passed / 10)


def spread(r_m: Array, soil_db_m: Array) -> Array:
    """Energy of a point in soil after a distance: inverse square and loss, shape (f, ...)."""
    loss = np.multiply.outer(soil_db_m * np.log(10) / 10, r_m)
    return np.exp(-loss) / (4 * np.pi * r_m**2)


@dataclass(frozen=True, eq=False)
class Source:
    """A source on a pipe: a leak, a valve that hisses, an open tap.

    Parameters
    ----------
    run : Run
    at_m : float
        Chainage on the run, m.
    spectrum : ndarray, shape (f,)
        Energy of each band.
    in_pipe, direct : float
        Strength of the wave in the pipe, and of the sound that goes straight into the soil.
    contact_db : float
        How much louder a bare fitting at the source is than the ground over it, dB.
    air_db : float
        Change with compressed air in the line, dB.
    sounds : callable, optional
        Whether it sounds at some seconds of the survey; always if none is given.
    """

    run: Run
    at_m: float
    spectrum: Array
    in_pipe: float
    direct: float
    contact_db: float = 6.0
    air_db: float = 0.0
    sounds: Callable[[Array], Array] | None = None

    @cached_property
    def _weights(self) -> Array:
        # energy that each piece of the pipe sends out, shape (f, s)
        pipe_m = self._pipe_m
        weights = guided(self.run, self.at_m, pipe_m) * STEP_M
        for from_m, to_m, less_db in self.run.muffled:
            inside = (pipe_m > from_m) & (pipe_m < to_m)
            weights = weights * np.where(inside, 10 ** (-less_db / 10), 1)
        return self.spectrum[:, None] * weights

    @cached_property
    def _pipe_m(self) -> Array:
        return np.arange(STEP_M / 2, self.run.length_m, STEP_M)

    def energy(self, places: Array) -> Array:
        """Energy at places on bare ground, shape (n,)."""
        pieces = self._up(places, self.run.at(self._pipe_m))
        straight = self._up(places, self.run.at(self.at_m))[:, :, 0]
        by_pipe = np.einsum("fs,fns->n", self._weights, pieces)
        return self.in_pipe * by_pipe + self.direct * (self.spectrum @ straight)

    def _up(self, places: Array, sources: Array) -> Array:
        run = self.run
        flat = np.hypot(*(places[:, None, :] - sources[None, :, :]).transpose(2, 0, 1))
        r = np.hypot(flat, run.axis_m)
        seen = 1 - run.vertical + run.vertical * (run.axis_m / r) ** 2
        return spread(r, run.soil_db_m) * seen

    def at_fitting(self, run_m: float) -> float:
        """Energy that a sensor on a bare fitting of its run shows."""
        there, here = (
            self.spectrum @ guided(self.run, self.at_m, np.array([x]))[:, 0]
            for x in (run_m, self.at_m)
        )
        over = self.energy(self.run.at(self.at_m))[0]
        return float(over * 10 ** (self.contact_db / 10) * there / here)


@dataclass(frozen=True, eq=False)
class Machine:
    """A machine on or near the surface, whose waves run along the surface.

    Parameters
    ----------
    place : ndarray, shape (2,)
    near_m : float
        Its size, and its distance at which it has its strength, m.
    strength : float
        Energy there.
    fall_db_m : float
        Loss beside the spreading along the surface, dB/m.
    sounds : callable, optional
        As in `Source`.
    air_db : float
        As in `Source`; a machine does not notice air.
    """

    place: Array
    near_m: float
    strength: float
    fall_db_m: float
    sounds: Callable[[Array], Array] | None = None
    air_db: float = 0.0

    def energy(self, places: Array) -> Array:
        """Energy at places, shape (n,)."""
        r = np.maximum(np.hypot(*(places - self.place).T), self.near_m)
        return self.strength * self.near_m / r * 10 ** (-self.fall_db_m * (r - self.near_m) / 10)


@dataclass(frozen=True)
class Waves:
    """A smooth random field over the plan, in dB: a sum of plane waves of random directions."""

    sd_db: float
    k: Array
    phase: Array

    def at(self, places: Array) -> Array:
        """Values at places, shape (n,)."""
        many = self.phase.size
        return self.sd_db * np.sqrt(2 / many) * np.cos(places @ self.k.T + self.phase).sum(axis=1)


def draw_waves(rng: np.random.Generator, sd_db: float, over_m: float) -> Waves:
    """Draw a field that is alike over some metres."""
    return Waves(sd_db, rng.normal(size=(60, 2)) / over_m, rng.uniform(0, 2 * np.pi, 60))


@dataclass(frozen=True)
class Slab:
    """A cover that averages the motion under it over some width, in part louder at its joints.

    Parameters
    ----------
    over_m : float
        Width; 0 for bare ground.
    joints : tuple of (float, float, float)
        Places of joints along the plan's first axis, how much louder they are in dB, and width.
    """

    over_m: float
    joints: tuple[tuple[float, float, float], ...] = ()

    def averaged(self, energy: Callable[[Array], Array], places: Array) -> Array:
        """Energy on the cover, from that on bare ground."""
        if self.over_m == 0:
            return energy(places)
        radii, angles = self.over_m * np.array([0.4, 1.1, 2.2]), np.arange(6) * np.pi / 3
        total, weight = energy(places), 1.0
        for radius in radii:
            # A ring stands for the area around it, and waves in the slab fall by 1/e a width.
            part = np.exp(-radius / self.over_m) * radius / self.over_m / angles.size
            for angle in angles + radius:
                beside = radius * np.array([np.cos(angle), np.sin(angle)])
                total, weight = total + part * energy(places + beside), weight + part
        return total / weight

    def joint_db(self, places: Array) -> Array:
        """How much louder the ground is at joints, dB."""
        return sum(
            (up * np.exp(-(((places[:, 0] - at) / wide) ** 2)) for at, up, wide in self.joints),
            np.zeros(len(places)),
        )


def scaled(source: Source, over_db: float, direct_db: float, slab: Slab) -> Source:
    """Make a source as loud as wanted on the ground over it.

    Parameters
    ----------
    source : Source
    over_db : float
        Level over the usual background at the place over the source, dB.
    direct_db : float
        How much louder there the straight sound is than that of the pipe, dB.
    slab : Slab
    """
    here = source.run.at(source.at_m)

    def over(in_pipe: float, direct: float) -> float:
        part = replace(source, in_pipe=in_pipe, direct=direct)
        return float(slab.averaged(part.energy, here)[0])

    direct = over(1, 0) / over(0, 1) * 10 ** (direct_db / 10)
    strength = 10 ** (over_db / 10) / over(1, direct)
    return replace(source, in_pipe=strength, direct=direct * strength)

"""The sound along one line: of its leak, of the ground and of the air, without noise and gain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.worlds.wave_pipe import buried_wavenumber, pressure, radiated
from tests.worlds.wave_soil import Strengths, point_source
from tests.worlds.wave_surface import at_top, contact, through

if TYPE_CHECKING:
    from tests.worlds.wave_ground import Service

STEP_M = 0.05
BEYOND_M = 3.0
# Three frequencies in each third-octave from 200 to 2000 Hz, each for the band around it.
HZ = 1000 * 2 ** (np.arange(-22, 11) / 9)
BANDS = {"wide": (200.0, 2000.0), "low": (200.0, 700.0), "high": (600.0, 2000.0)}


@dataclass(frozen=True)
class Sound:
    """Energies along a line, relative to that of the usual background.

    Parameters
    ----------
    at_m : ndarray, shape (n,)
        Chainages, m, from before the start to beyond the end.
    leak, ground, air : ndarray, shape (n,)
        Energy of the leak, of the noise that comes through the ground and so through the foot of
        the sensor, and of noise in the air and in the sensor.
    band : str
        Band of the sensor.
    leak_chainage_m, over_floor_db : float
        As in the truth.
    other : str
        As in the truth.
    """

    at_m: np.ndarray
    leak: np.ndarray
    ground: np.ndarray
    air: np.ndarray
    band: str
    leak_chainage_m: float
    over_floor_db: float
    other: str

    @property
    def background(self) -> np.ndarray:
        """Energy without the leak."""
        return self.ground + self.air


def draw_sound(rng: np.random.Generator, service: Service) -> Sound:
    """Draw what is to be heard along a line; 70 % of lines leak."""
    at = np.arange(-BEYOND_M, service.length_m + BEYOND_M, STEP_M)
    leaks = rng.random() < 0.7
    band = str(rng.choice(list(BANDS), p=[0.7, 0.15, 0.15]))
    sensor = _sensor(rng, band) * HZ
    ground, air = _background(rng, service, at, sensor)
    machine = rng.random() < (0.06 if leaks else 0.3)
    if machine:
        ground = ground + _machine(rng, service, at, sensor)
    if not leaks:
        none = np.zeros_like(at)
        return Sound(at, none, ground, air, band, np.nan, np.nan, _other(machine))
    leak_m = float(service.length_m * rng.uniform(0.02, 0.98))
    leak = _leak(rng, service, at, leak_m, sensor)
    on = (at >= 0) & (at <= service.length_m)
    loudest = int(np.argmax(np.where(on, leak, 0)))
    over_db = float(rng.uniform(-8, 35))
    leak = leak / leak[loudest] * (ground + air)[loudest] * 10 ** (over_db / 10)
    return Sound(at, leak, ground, air, band, leak_m, over_db, _other(machine))


def _other(machine: bool) -> str:
    return "machine" if machine else ""


def _sensor(rng: np.random.Generator, band: str) -> np.ndarray:
    # energy at each frequency: a filter of second order at either side, and the sensor's resonance
    low, high = BANDS[band]
    filtered = 1 / (1 + (low / HZ) ** 4) / (1 + (HZ / high) ** 4)
    own, sharp = rng.uniform(500, 1600), rng.uniform(1, 4)
    ratio = HZ / own
    return filtered * (1 + (sharp**2 - 1) / (1 + (sharp * (ratio - 1 / ratio)) ** 2))


def _covered(service: Service, at: np.ndarray, noise: np.ndarray) -> np.ndarray:
    # energy of noise of each frequency that comes up steeply, through every cover, shape (f, n)
    energy = np.zeros((HZ.size, at.size))
    k = 0.5 * service.soil.k_p(HZ).real[:, None]
    for cover in service.covers:
        under = (at >= cover.from_m) & (at < cover.to_m)
        up = np.abs(through(cover, HZ, k))[:, 0] ** 2 * contact(cover, HZ)
        energy += (noise * up)[:, None] * under
    return energy


def _background(
    rng: np.random.Generator, service: Service, at: np.ndarray, sensor: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    trend = _traffic(rng, service.length_m, at)
    ground = _covered(service, at, HZ ** -rng.uniform(1.5, 3.5) * sensor).sum(axis=0)
    # The covers keep their contrast, but less of it: much traffic noise runs in the covers.
    ground = ground ** rng.uniform(0.3, 0.8) * 10 ** (trend / 10)
    air = 10 ** (trend * rng.uniform(0.2, 0.8) / 10)
    for cover in service.covers:
        air = np.where(
            (at >= cover.from_m) & (at < cover.to_m), air * 10 ** (cover.air_db / 10), air
        )
    share = rng.uniform(0.4, 0.95)
    return share * ground / np.median(ground), (1 - share) * air / np.median(air)


def _traffic(rng: np.random.Generator, length_m: float, at: np.ndarray) -> np.ndarray:
    away = at if rng.random() < 0.7 else length_m - at
    trend = -10 * rng.uniform(0, 1.6) * np.log10(away + rng.uniform(4, 15))
    for _ in range(2):
        phase, wave_m = rng.uniform(0, 2 * np.pi), rng.uniform(6, 30)
        trend = trend + rng.uniform(0, 0.8) * np.cos(2 * np.pi * at / wave_m + phase)
    return trend


def _machine(
    rng: np.random.Generator, service: Service, at: np.ndarray, sensor: np.ndarray
) -> np.ndarray:
    # Rayleigh waves of a machine that stands beside the line
    place, aside = rng.uniform(0, service.length_m), rng.uniform(0.4, 4)
    r = np.hypot(at - place, aside)[None, :]
    spectrum = HZ ** -rng.uniform(2, 5) * (1 + 4 * (rng.random(HZ.size) < 0.2)) * sensor
    falls = np.exp(2 * service.soil.k_s(HZ).imag[:, None] / 0.93 * r) / r
    energy = (_covered(service, at, spectrum) * falls).sum(axis=0)
    return energy / energy.max() * 10 ** (rng.uniform(5, 20) / 10)


def _leak(
    rng: np.random.Generator, service: Service, at: np.ndarray, leak_m: float, sensor: np.ndarray
) -> np.ndarray:
    pipe, soil, deep = service.pipe, service.soil, service.axis_m
    k = buried_wavenumber(pipe, soil, HZ)
    inside = pressure(k, service.ends, leak_m, at) * _spectrum(rng, service.metal)[:, None]
    by_pipe = radiated(pipe, soil, HZ, inside, STEP_M, deep)
    straight = point_source(soil, HZ, at - leak_m, deep, _draw_strengths(rng))
    straight = straight * _spectrum(rng, service.metal)[:, None]
    # How much of its sound a leak gives to the pipe follows from no formula: the ratio is drawn.
    over_pipe_db = rng.uniform(8, 30) if service.metal else rng.uniform(-6, 16)
    near = np.abs(at - leak_m) < deep
    ratio = _most(by_pipe, sensor, near) / _most(straight, sensor, near)
    straight = straight * np.sqrt(ratio * 10 ** (over_pipe_db / 10))
    straight = straight * np.exp(1j * rng.uniform(0, 2 * np.pi))
    return _at_sensor(service, at, by_pipe, straight, sensor, rng.uniform(0.3, 1))


def _spectrum(rng: np.random.Generator, metal: bool) -> np.ndarray:
    # amplitude: turbulence up to a corner, and often a whistle of the hole
    corner = rng.uniform(500, 1500) if metal else rng.uniform(250, 900)
    turbulence = 1 / (1 + (HZ / corner) ** rng.uniform(2, 5))
    whistle = rng.uniform(0, 6) / (1 + (6 * np.log2(HZ / rng.uniform(250, 1500))) ** 2)
    return np.sqrt(turbulence * (1 + whistle))


def _draw_strengths(rng: np.random.Generator) -> Strengths:
    # A hole sits anywhere around the pipe, and its jet leaves across the pipe; one at a joint or a
    # crack leaves along the pipe in part. A force across the line moves nothing up over the line.
    force = np.exp(rng.normal(0, 0.7))
    up = force * np.abs(np.cos(rng.uniform(0, 2 * np.pi)))
    along = force * rng.uniform(0, 0.5)
    phase = np.exp(1j * rng.uniform(0, 2 * np.pi, 2))
    return Strengths(1.0, complex(up * phase[0]), complex(along * phase[1]))


def _most(motion: np.ndarray, sensor: np.ndarray, near: np.ndarray) -> float:
    return float((sensor[:, None] * np.abs(motion[:, near]) ** 2).sum(axis=0).max())


def _at_sensor(
    service: Service,
    at: np.ndarray,
    by_pipe: np.ndarray,
    straight: np.ndarray,
    sensor: np.ndarray,
    coherent: float,
) -> np.ndarray:
    # energy in the sensor's band of two sources that are alike in a share of their energy
    energy = np.zeros(at.size)
    for cover in service.covers:
        a, b = (at_top(cover, HZ, m, at, 2 * service.axis_m) for m in (by_pipe, straight))
        apart = np.abs(a) ** 2 + np.abs(b) ** 2
        both = coherent * np.abs(a + b) ** 2 + (1 - coherent) * apart
        energy += ((sensor * contact(cover, HZ))[:, None] * both).sum(axis=0)
    return energy

"""A street with its background, and what a crew reads on it: contact, gusts, tape and display."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tests.situations.physics import HZ, Machine, Run, Slab, Source, Waves, draw_waves, scaled
from tests.worlds.wave_ground import Service, draw_service
from tests.worlds.wave_pipe import NEPER_DB, buried_wavenumber, decay_db_m

if TYPE_CHECKING:
    Array = np.ndarray

# Width over which a cover averages, from and to, m.
_SLABS = {"grass": (0.0, 0.0), "asphalt": (0.1, 0.3), "concrete": (0.2, 0.55)}


@dataclass
class Street:
    """Ground, background and everything that sounds.

    Parameters
    ----------
    service : Service
        Pipe and soil, drawn by the physics of waves.
    cover : str
        Cover, as `surface` of the readings.
    slab : Slab
    background, coupling : Waves
        How the background, and the coupling of a sensor, vary over the plan.
    air_share : float
        Share of the background that reaches the sensor through the air.
    sources : list of Source or Machine
    """

    service: Service
    cover: str
    slab: Slab
    background: Waves
    coupling: Waves
    air_share: float
    sources: list[Source | Machine] = field(default_factory=list)

    def sound(self, places: Array, seconds: Array, air: Array) -> Array:
        """Energy of all sources at places and times, with compressed air or without, shape (n,)."""
        total = np.zeros(len(places))
        for source in self.sources:
            energy = self.slab.averaged(source.energy, places)
            if source.sounds is not None:
                energy = energy * source.sounds(seconds)
            total += energy * np.where(air, 10 ** (source.air_db / 10), 1)
        return total


def draw_street(rng: np.random.Generator, material: str, cover: str, good: bool) -> Street:
    """Draw a street; `material` is one of the schema, metal, plastic or any."""
    service = draw_service(rng)
    while not _fits(service, material):
        service = draw_service(rng)
    cover = cover or str(rng.choice(list(_SLABS)))
    coupling_db = rng.uniform(0.4, 1.0) if good else rng.uniform(0.6, 2.0)
    return Street(
        service=service,
        cover=cover,
        slab=Slab(rng.uniform(*_SLABS[cover])),
        background=draw_waves(rng, rng.uniform(0.3, 1.5), rng.uniform(4, 15)),
        coupling=draw_waves(rng, coupling_db, rng.uniform(0.3, 1.5)),
        air_share=rng.uniform(0.05, 0.5),
    )


def _fits(service: Service, material: str) -> bool:
    kind = "metal" if service.metal else "plastic"
    return material in {"", kind, service.material}


def run_of(
    rng: np.random.Generator, street: Street, start: Array, end: Array, depth_m: float
) -> Run:
    """Lay a pipe of the street's kind, whose ends send some of the wave back."""
    service = street.service
    k = buried_wavenumber(service.pipe, service.soil, HZ)
    return Run(
        np.asarray(start, float),
        np.asarray(end, float),
        depth_m + service.pipe.radius_m,
        decay_db_m(k),
        -NEPER_DB * service.soil.k_p(HZ).imag,
        (rng.uniform(0.1, 0.5), rng.uniform(0.1, 0.6)),
        vertical=rng.uniform(0.2, 0.9),
    )


def draw_source(
    rng: np.random.Generator,
    street: Street,
    run: Run,
    at_m: float,
    over_db: float,
    direct_db: tuple[float, float] | None = None,
) -> Source:
    """Draw a source on a pipe; metal carries more beside what goes straight into the soil."""
    metal = street.service.metal
    corner = rng.uniform(500, 1500) if metal else rng.uniform(250, 900)
    spectrum = 1 / (1 + (HZ / corner) ** rng.uniform(2, 5))
    source = Source(run, at_m, spectrum, 1, 1, contact_db=rng.uniform(3, 12))
    low, high = direct_db or ((4, 15) if metal else (0, 12))
    return scaled(source, over_db, rng.uniform(low, high), street.slab)


@dataclass(frozen=True)
class Crew:
    """How a crew measures.

    Parameters
    ----------
    base_db : float
        What the display shows for the usual background without gain, dB.
    noise_db, flicker_db : float
        Error of a reading, and change of the background between readings, dB.
    step_db : float
        Step of the display, dB; 0 for a linear display.
    scale : float
        What a linear display shows for the usual background.
    tape_m, fix_m : float
        Errors of the tape, and of positions by satellite, m.
    missed, gusts : float
        Shares of readings with a bad contact, and at which a gust begins.
    sensor : str
    """

    base_db: float
    noise_db: float
    flicker_db: float
    step_db: float
    scale: float
    tape_m: float
    fix_m: float
    missed: float
    gusts: float
    sensor: str


def draw_crew(rng: np.random.Generator, good: bool, sensor: str) -> Crew:
    """Draw a crew; a good one works on a still day with a tape and with good positions."""
    return Crew(
        base_db=rng.uniform(18, 40),
        noise_db=rng.uniform(0.3, 0.6) if good else rng.uniform(0.4, 1.0),
        flicker_db=rng.uniform(0.3, 0.8) if good else rng.uniform(0.5, 1.8),
        step_db=float(rng.choice([1.0, 0.5, 0.0], p=[0.6, 0.2, 0.2])),
        scale=rng.uniform(4, 7),
        tape_m=rng.uniform(0.02, 0.05) if good else rng.uniform(0.03, 0.08),
        fix_m=rng.uniform(0.02, 0.05) if good or rng.random() < 0.6 else rng.uniform(0.2, 0.6),
        missed=0.0 if good else 1 / 60,
        gusts=0.0 if good else 1 / 50,
        sensor=sensor,
    )


def listen(
    rng: np.random.Generator, street: Street, crew: Crew, places: Array, seconds: Array, air: Array
) -> Array:
    """Give the energy that a sensor takes up at each stop, shape (n,)."""
    n = len(places)
    flicker = 10 ** (crew.flicker_db * rng.normal(size=(2, n)) / 10)
    usual = 10 ** (street.background.at(places) / 10)
    ground = (1 - street.air_share) * usual * flicker[0] + street.sound(places, seconds, air)
    missed = np.where(rng.random(n) < crew.missed, rng.uniform(6, 15, n), 0)
    contact = street.coupling.at(places) + street.slab.joint_db(places) - missed
    wind = street.air_share * usual * flicker[1] * _gusts(rng, crew, n)
    return ground * 10 ** (contact / 10) + wind


def _gusts(rng: np.random.Generator, crew: Crew, n: int) -> Array:
    rise_db = np.zeros(n)
    for first in np.flatnonzero(rng.random(n) < crew.gusts):
        rise_db[first : first + rng.integers(1, 5)] = rng.uniform(4, 12)
    return 10 ** (rise_db / 10)


def shown(
    rng: np.random.Generator, crew: Crew, energy: Array, gain_db: float
) -> tuple[Array, float, str]:
    """Give what the display shows, the gain, which a linear display needs turned down, its unit."""
    level = 10 * np.log10(energy) + crew.noise_db * rng.normal(size=energy.size)
    if crew.step_db == 0:
        over_db = level.max() + 20 * np.log10(crew.scale / 95)
        gain_db = -5.0 * max(0, np.ceil(over_db / 5))
        return np.round(crew.scale * 10 ** ((level + gain_db) / 20)), gain_db, "scale"
    level = crew.base_db + gain_db + level
    return np.round(level / crew.step_db) * crew.step_db, gain_db, "db"

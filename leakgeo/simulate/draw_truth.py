"""Random draw of the true state of a simulated line: ground, pipe, leak, other source, noise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.simulate.constants import (
    BANDS_HZ,
    FILTER_WEIGHT_DB,
    METALS,
    PLASTICS,
    SENSOR_WEIGHT_DB,
    SLABS,
    SURFACE_STEP_DB,
    SURFACES,
    draw,
)
from leakgeo.simulate.spread import SpreadTable, along_pipe, smear, through_soil
from leakgeo.simulate.truth import Ground, Noise, Truth

if TYPE_CHECKING:
    from leakgeo.simulate.constants import Conditions, World
    from leakgeo.simulate.spread import Floats

TABLE_STEP_M = 0.05
_OCTAVES = np.log2(np.asarray(BANDS_HZ) / 500.0)


def draw_truth(
    rng: np.random.Generator, conditions: Conditions, sensor: str, length_m: float
) -> Truth:
    """Draw a line, its sources and its noise.

    Parameters
    ----------
    rng : numpy.random.Generator
    conditions : Conditions
    sensor : str
        Code of the sensor; the tables include its weighting of the bands.
    length_m : float
        Length of the line.

    Returns
    -------
    Truth
    """
    c = conditions.constants
    ground = _draw_ground(rng, conditions, length_m)
    weights = np.array([
        np.asarray(SENSOR_WEIGHT_DB[sensor]) + FILTER_WEIGHT_DB[b]
        for b in ("wide", *conditions.bands)
    ])  # fmt: skip
    hum = -draw(rng, c.floor_fall_db_octave) * _OCTAVES
    floor_db = hum - _sum_db(hum) + draw(rng, c.floor_db)
    floor = np.sum(10 ** ((floor_db + weights) / 10), axis=1)
    leak_m, leak = _draw_leak(rng, conditions, ground, weights, floor)
    other_m, beside, other = _draw_other(rng, conditions, ground, weights, floor)
    noise = _draw_noise(rng, c)
    bands = conditions.bands
    return Truth(ground, noise, leak_m, other_m, beside, bands, leak, other, floor[1:])


def _sum_db(levels_db: Floats) -> float:
    return float(10 * np.log10(np.sum(10 ** (levels_db / 10))))


def _draw_ground(rng: np.random.Generator, conditions: Conditions, length: float) -> Ground:
    c = conditions.constants
    plastic = rng.random() < conditions.plastic_share
    material = conditions.material or str(rng.choice(PLASTICS if plastic else METALS))
    surfaces, ends = _draw_surfaces(rng, conditions, length)
    decay = draw(rng, c.plastic_db_per_m) * 2 ** (_OCTAVES * draw(rng, c.pipe_power))
    carries, reflects = draw(rng, c.metal_carries_times), draw(rng, c.metal_reflects)
    metal = material in METALS
    slab = {s: draw(rng, c.slab_m if s in SLABS else c.soft_m) for s in SURFACES}
    step_sd = draw(rng, c.surface_step_sd_db)
    step = {s: SURFACE_STEP_DB[s] + step_sd * rng.standard_normal() for s in SURFACES}
    return Ground(
        length_m=length,
        depth_m=draw(rng, c.depth_m),
        diameter_mm=float(rng.choice([20.0, 25.0, 32.0, 40.0, 50.0, 100.0])),
        pressure_kpa=draw(rng, c.pressure_kpa),
        material=material,
        surfaces=surfaces,
        surface_ends_m=ends,
        surface_db=np.array([step[s] for s in surfaces]),
        smear_m=np.array([slab[s] for s in surfaces]),
        soil_db_per_m=draw(rng, c.soil_db_per_m) * 2 ** (_OCTAVES * draw(rng, c.soil_power)),
        pipe_db_per_m=decay / carries if metal else decay,
        pipe_radiates_db=draw(rng, c.pipe_radiates_db),
        reflects=reflects if metal else 0.0,
    )


def _draw_surfaces(
    rng: np.random.Generator, conditions: Conditions, length_m: float
) -> tuple[tuple[str, ...], Floats]:
    """Draw the stretches of surface; adjacent stretches differ."""
    if conditions.surface:
        return (conditions.surface,), np.empty(0)
    changes = int(rng.integers(1, 3)) if rng.random() < conditions.surface_change_share else 0
    soft = tuple(s for s in SURFACES if s not in SLABS)
    surfaces: list[str] = []
    while len(surfaces) <= changes:
        hard = rng.random() < conditions.hard_surface_share
        drawn = str(rng.choice(SLABS if hard else soft))
        if not surfaces or drawn != surfaces[-1]:
            surfaces.append(drawn)
    return tuple(surfaces), np.sort(rng.uniform(0.1, 0.9, changes)) * length_m


def _tables(
    ground: Ground, source_db: Floats, weights: Floats, beside_m: float
) -> tuple[SpreadTable, ...]:
    """Tabulate power by distance, for each row of weights; without pipe for a source beside it."""
    reach = int(np.ceil(2 * ground.length_m / TABLE_STEP_M))
    x = TABLE_STEP_M * np.arange(-reach, reach + 1)
    soil = through_soil(
        x.astype(np.float64), float(np.hypot(ground.depth_m, beside_m)), ground.soil_db_per_m
    )
    pipe = along_pipe(TABLE_STEP_M, soil, ground.pipe_db_per_m)
    pipe = pipe * (10 ** (ground.pipe_radiates_db / 10) if beside_m == 0 else 0.0)
    power = 10 ** ((source_db + weights) / 10)
    both = np.stack([power @ soil, power @ pipe])
    rows = np.stack([smear(TABLE_STEP_M, both, w)[..., reach:] for w in ground.smear_m], axis=2)
    return tuple(SpreadTable(TABLE_STEP_M, rows[0, k], rows[1, k]) for k in range(len(weights)))


def _spectrum(rng: np.random.Generator, c: World, pitch: float) -> Floats:
    """Draw a source spectrum: a peak with linear slopes in dB per octave, normalized to 0 dB."""
    peak = np.log2(draw(rng, c.spectrum_peak_hz) * pitch / 500.0)
    rise, fall = draw(rng, c.spectrum_rise_db_octave), draw(rng, c.spectrum_fall_db_octave)
    below = np.maximum(peak - _OCTAVES, 0.0)
    above = np.maximum(_OCTAVES - peak, 0.0)
    shape: Floats = -rise * below - fall * above
    return shape - _sum_db(shape)


def _draw_leak(
    rng: np.random.Generator, conditions: Conditions, ground: Ground, weights: Floats, floor: Floats
) -> tuple[float | None, tuple[SpreadTable, ...]]:
    """Draw place and level of the leak, raised to the least excess at which a survey hears it."""
    c = conditions.constants
    orifice = draw(rng, c.orifice_mm)
    size, press = orifice / 3.0, ground.pressure_kpa / 400.0
    level = draw(rng, c.source_level_db) + 20 * np.log10(size) + 25 * np.log10(press)
    spectrum = _spectrum(rng, c, np.sqrt(press) / size**0.5)
    where = ground.length_m * float(rng.uniform(0.05, 0.95))
    where = where if conditions.leak_chainage_m is None else conditions.leak_chainage_m
    leaks = rng.random() < conditions.leak_share
    tables = _tables(ground, spectrum + level, weights, 0.0)
    lack = draw(rng, c.least_excess_db) - _excess_db(ground, tables[0], floor[0], where)
    louder = 10 ** (max(lack, 0.0) / 10)
    louder_tables = tuple(
        SpreadTable(t.step_m, t.soil * louder, t.pipe * louder) for t in tables[1:]
    )
    return (where if leaks else None), louder_tables


def _excess_db(ground: Ground, table: SpreadTable, floor: float, where_m: float) -> float:
    """Level directly above a source, relative to the ambient floor."""
    row = int(ground.stretch(np.asarray(where_m)))
    return float(10 * np.log10((table.soil[row, 0] + table.pipe[row, 0]) / floor))


def _draw_other(
    rng: np.random.Generator, conditions: Conditions, ground: Ground, weights: Floats, floor: Floats
) -> tuple[float | None, float, tuple[SpreadTable, ...] | None]:
    """Draw another steady source, on the line or beside it, with its level above the floor."""
    c = conditions.constants
    present, on_line = rng.random() < conditions.other_source_share, rng.random() < 0.5
    where = ground.length_m * float(rng.random())
    beside = 0.0 if on_line else draw(rng, c.other_beside_m)
    spectrum = _spectrum(rng, c, float(rng.uniform(0.4, 1.5)))
    excess = draw(rng, c.other_excess_db)
    if not present:
        return None, 0.0, None
    tables = _tables(ground, spectrum, weights, beside)
    level = excess - _excess_db(ground, tables[0], floor[0], where)
    gain = 10 ** (level / 10)
    scaled = tuple(SpreadTable(t.step_m, t.soil * gain, t.pipe * gain) for t in tables[1:])
    return where, beside, scaled


def _draw_noise(rng: np.random.Generator, c: World) -> Noise:
    """Draw the constants of the noise."""
    return Noise(
        coupling_sd_db=draw(rng, c.coupling_sd_db),
        coupling_length_m=draw(rng, c.coupling_length_m),
        coupling_shared_by_bands=min(draw(rng, c.coupling_shared_by_bands), 1.0),
        reading_sd_db=draw(rng, c.reading_sd_db),
        reading_shared_by_bands=min(draw(rng, c.reading_shared_by_bands), 1.0),
        burst_share=draw(rng, c.burst_share),
        burst_readings=max(draw(rng, c.burst_readings), 1.0),
        burst_db=draw(rng, c.burst_db),
        bad_contact_share=draw(rng, c.bad_contact_share),
        bad_contact_db=draw(rng, c.bad_contact_db),
    )

"""Constants of the simulator.

All ranges are assumptions unless a comment names a source: they cover plausible values, and were
not fitted to any locator. Values are drawn uniformly from a range unless a comment says otherwise.
Levels are decibels with an arbitrary common reference.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np

Range = tuple[float, float]

METALS = ("copper", "steel", "galvanized_steel", "ductile_iron")
PLASTICS = ("pvc", "pe", "pex")
SURFACES = ("concrete", "asphalt", "tile", "paver", "gravel", "soil", "grass")
SLABS = ("concrete", "asphalt", "tile", "paver")

# Octave bands (exact mid-band frequencies 1000 * 10^(0.3 k), IEC 61260-1, rounded as named there).
BANDS_HZ = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0)

# Weight of each octave band in decibels, by sensor and by filter: assumptions.
SENSOR_WEIGHT_DB: Mapping[str, tuple[float, ...]] = MappingProxyType({
    "contact_probe": (-8.0, -4.0, -1.0, 0.0, 0.0, -1.0),
    "magnet": (-9.0, -5.0, -2.0, 0.0, 0.0, 0.0),
    "ground_plate": (-5.0, -1.0, 0.0, 0.0, -4.0, -10.0),
    "ground_spike": (-6.0, -2.0, 0.0, 0.0, -2.0, -6.0),
})  # fmt: skip
FILTER_WEIGHT_DB: Mapping[str, tuple[float, ...]] = MappingProxyType({
    "wide": (0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    "low": (0.0, 0.0, 0.0, -12.0, -24.0, -36.0),
    "high": (-36.0, -24.0, -12.0, 0.0, 0.0, 0.0),
})  # fmt: skip

# Change of the level by the surface, relative to soil, in decibels: assumptions.
SURFACE_STEP_DB: Mapping[str, float] = MappingProxyType({
    "concrete": 2.0, "asphalt": 1.0, "tile": 2.5, "paver": 0.0,
    "gravel": -2.0, "soil": 0.0, "grass": -3.0,
})  # fmt: skip


@dataclass(frozen=True)
class World:
    """Ranges of the physical constants and the noise of a simulated line.

    Units are in the names: metres, decibels, kilopascals, millimetres, hertz. `scaled` changes one
    range.

    Examples
    --------
    >>> from leakgeo.simulate import World
    >>> World().scaled("coupling_sd_db", 2.0).coupling_sd_db
    (2.0, 4.0)
    """

    # The leak: a jet through a hole. Level as 20 lg of its size and 25 lg of the pressure, and the
    # peak of the spectrum as speed over size (Strouhal scaling, fluid mechanics textbooks); the
    # references are assumptions.
    orifice_mm: Range = (1.5, 6.0)
    pressure_kpa: Range = (250.0, 700.0)
    source_level_db: Range = (35.0, 47.0)
    spectrum_peak_hz: Range = (250.0, 900.0)
    spectrum_rise_db_octave: Range = (1.0, 4.0)
    spectrum_fall_db_octave: Range = (3.0, 8.0)
    least_excess_db: Range = (6.0, 6.0)
    # The ground: spreading is spherical, attenuation grows with frequency to a power near one
    # (constant Q, seismology textbooks); values at 500 Hz.
    soil_db_per_m: Range = (1.0, 5.0)
    soil_power: Range = (0.8, 1.2)
    depth_m: Range = (0.4, 1.8)
    # The pipe: decay at 500 Hz. That plastic decays in tenths of a decibel a metre at tens of hertz
    # agrees with Hunaidi and Chu, Applied Acoustics 58, 1999 (from memory); all else is assumed.
    plastic_db_per_m: Range = (1.2, 3.5)
    metal_carries_times: Range = (4.0, 6.0)
    pipe_power: Range = (0.5, 1.0)
    pipe_radiates_db: Range = (-22.0, -10.0)
    metal_reflects: Range = (0.1, 0.6)
    # The surface: full width over which a slab spreads the sound, and its change of the level.
    slab_m: Range = (1.5, 3.0)
    soft_m: Range = (0.1, 0.3)
    surface_step_sd_db: Range = (1.5, 1.5)
    # Ambient noise and other sources.
    floor_db: Range = (18.0, 32.0)
    floor_fall_db_octave: Range = (2.0, 6.0)
    other_excess_db: Range = (0.0, 10.0)
    other_beside_m: Range = (0.5, 4.0)
    # Noise of a reading.
    coupling_sd_db: Range = (1.0, 2.0)
    coupling_length_m: Range = (0.3, 2.0)
    coupling_shared_by_bands: Range = (0.75, 0.95)
    reading_sd_db: Range = (0.5, 1.2)
    reading_shared_by_bands: Range = (0.3, 0.7)
    burst_share: Range = (0.0, 0.03)
    burst_readings: Range = (1.0, 2.5)
    burst_db: Range = (4.0, 9.0)
    bad_contact_share: Range = (0.0, 0.04)
    bad_contact_db: Range = (4.0, 10.0)
    # The instrument.
    sensor_offset_sd_db: Range = (3.0, 3.0)
    gain_change_db: Range = (3.0, 12.0)
    display_full_db: Range = (3.0, 9.0)
    # Errors of positions.
    tape_sd_m: Range = (0.03, 0.1)
    stride_sd_m: Range = (0.02, 0.06)
    trace_sd_m: Range = (0.05, 0.3)
    fix_sd_m: tuple[float, ...] = (0.02, 0.5, 1.5, 3.0)
    common_share: Range = (0.0, 0.8)
    common_readings: Range = (20.0, 80.0)
    tagged_fix_sd_m: Range = (3.0, 3.0)
    claimed_sd_ratio: Range = (0.8, 1.25)
    depth_known_ratio_sd: Range = (0.15, 0.15)

    def scaled(self, name: str, factor: float) -> World:
        """Return a copy with one range multiplied by `factor`.

        Raises
        ------
        ValueError
            If there is no constant of that name.
        """
        if name not in {f.name for f in fields(self)}:
            raise ValueError(f"The simulator has no constant {name!r}.")
        return replace(self, **{name: tuple(v * factor for v in getattr(self, name))})


@dataclass(frozen=True)
class Conditions:
    """Conditions of simulated lines: share of each condition, and steps of the walks.

    Parameters
    ----------
    constants : World
        Ranges of the physics and the noise.
    length_m : (float, float)
        Range of the line's length.
    coarse_step_m, fine_step_m : float
        Steps of the first walk, and of the second walk around its loudest stop.
    fine_steps : (int, int)
        Range of the number of steps of the second walk to each side.
    leak_share, other_source_share, plastic_share, hard_surface_share : float
        Share of lines with a leak, with another steady source, of plastic; share of hard surface.
    surface_change_share, curved_share : float
        Share of lines whose surface changes once or twice; share of lines with bends.
    unknown_gain_share, known_gain_share : float
        Share of lines whose gain changes between the walks, not recorded; recorded.
    scale_share : float
        Share of lines read from a linear display (0 to 100) instead of whole decibels.
    tape_share : float
        Share of lines with taped positions; the others have satellite fixes.
    depth_unknown_share, material_unknown_share : float
        Share of lines without depth on record; without material on record.
    bands : tuple of str
        Filter bands of the readings at each stop, from ``wide``, ``low``, ``high``.
    material, surface, fix_sd_m, leak_chainage_m : optional
        Fixed value, not drawn.

    Examples
    --------
    >>> from leakgeo.simulate import Conditions
    >>> Conditions(tape_share=1.0).bands
    ('wide',)
    """

    constants: World = field(default_factory=World)
    length_m: Range = (12.0, 60.0)
    coarse_step_m: float = 1.2
    fine_step_m: float = 0.3
    fine_steps: tuple[int, int] = (6, 8)
    leak_share: float = 0.92
    other_source_share: float = 0.25
    plastic_share: float = 0.5
    hard_surface_share: float = 0.6
    surface_change_share: float = 0.4
    curved_share: float = 0.5
    unknown_gain_share: float = 0.2
    known_gain_share: float = 0.2
    scale_share: float = 0.1
    tape_share: float = 0.5
    depth_unknown_share: float = 0.35
    material_unknown_share: float = 0.1
    bands: tuple[str, ...] = ("wide",)
    material: str | None = None
    surface: str | None = None
    fix_sd_m: float | None = None
    leak_chainage_m: float | None = None


def draw(rng: np.random.Generator, span: Range) -> float:
    """Draw uniformly from a range."""
    return float(rng.uniform(*span))

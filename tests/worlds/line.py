"""One line as it is: pipe, soil, leak, other source, ground, and the sizes of its noise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from tests.worlds import field_noise
from tests.worlds.underground import Pipe, Soil, machine_level, power_sum, source_level


@dataclass(frozen=True)
class Material:
    """What a material does to sound: ranges of the loss along the pipe and of its hum.

    Parameters
    ----------
    loss_db_per_m, hum_db : tuple of float
        Lowest and highest; see `tests.worlds.underground.Pipe`.
    diameters_mm : tuple of int
        In use for services.
    source_db : float
        What a leak in it sounds above others.
    """

    loss_db_per_m: tuple[float, float]
    hum_db: tuple[float, float]
    diameters_mm: tuple[int, ...]
    source_db: float


MATERIALS = {
    "copper": Material((0.2, 0.9), (7, 17), (20, 25), 1),
    "galvanized_steel": Material((0.3, 1.2), (7, 17), (20, 25, 40), 2),
    "cast_iron": Material((0.2, 0.8), (9, 19), (80, 100), 0),
    "ductile_iron": Material((0.2, 0.8), (9, 19), (80, 100), 0),
    "pvc": Material((1.5, 4.5), (9, 19), (32, 50), -1),
    "pe": Material((3, 9), (9, 19), (25, 32, 50), -2),
}
SHARES = (0.27, 0.15, 0.08, 0.1, 0.18, 0.22)
# Level on each surface beside that on asphalt, and how much it differs from line to line.
SURFACES = {"grass": (-4.0, 2.0), "asphalt": (0.0, 0.0), "concrete": (1.5, 1.5)}


@dataclass(frozen=True)
class Noise:
    """Sizes of the noise of a line; see `tests.worlds.field_noise`."""

    smooth: bool
    contact_sd_db: float
    skew: float
    patch_sd_db: float
    drift_sd_db: float
    flicker_db: float
    dropout_chance: float
    cars_per_hour: float


@dataclass(frozen=True)
class Other:
    """Another source.

    Parameters
    ----------
    kind : str
        ``traffic``, ``machine_beside`` or ``machine_at_end``.
    at_m : float
        Its chainage: of traffic the end at the street.
    level_db : float
        1 m from a machine; of traffic the rise of the background at the street.
    aside_m : float
        Distance of a machine from the line; of traffic the distance in which it fades to 37 %.
    """

    kind: str
    at_m: float
    level_db: float
    aside_m: float


@dataclass(frozen=True)
class Line:
    """A line, with what nobody sees; `known` is the row of its route."""

    line_id: str
    known: dict[str, Any]
    course: shapely.LineString
    pipe: Pipe
    soil: Soil
    leak_m: float
    source_db: float
    ambient_db: float
    street_m: float
    other: Other | None
    surface: field_noise.Steps
    surface_db: dict[str, float]
    patches: field_noise.Steps
    noise: Noise

    @property
    def leaks(self) -> bool:
        """Whether it leaks."""
        return bool(np.isfinite(self.leak_m))

    def leak_db(self, stop_m: np.ndarray) -> np.ndarray:
        """Level of the leak at some chainages, without noise; minus infinity without a leak."""
        if not self.leaks:
            return np.full(stop_m.shape, -np.inf)
        return source_level(stop_m, self.leak_m, self.source_db, self.soil, self.pipe)

    def traffic_db(self, stop_m: np.ndarray) -> np.ndarray:
        """Level of the background without machines, and what steady traffic adds to it."""
        other = self.other
        if other is None or other.kind != "traffic":
            return np.full(stop_m.shape, self.ambient_db)
        return self.ambient_db + other.level_db * np.exp(
            -np.abs(stop_m - other.at_m) / other.aside_m
        )

    def machine_db(self, stop_m: np.ndarray) -> np.ndarray:
        """Level of the machine, if there is one."""
        other = self.other
        if other is None or other.kind == "traffic":
            return np.full(stop_m.shape, -np.inf)
        if other.kind == "machine_beside":
            return machine_level(stop_m, other.at_m, other.aside_m, other.level_db)
        return source_level(stop_m, other.at_m, other.level_db, self.soil, self.pipe)

    def background_db(self, stop_m: np.ndarray) -> np.ndarray:
        """Level of all but the leak, without noise."""
        return power_sum(self.traffic_db(stop_m), self.machine_db(stop_m))

    def ground_db(self, stop_m: np.ndarray) -> np.ndarray:
        """What surface and ground add at some chainages."""
        covers = self.surface.at(stop_m)
        added: np.ndarray = self.patches.at(stop_m) + [self.surface_db[c] for c in covers]
        return added


def draw_line(line_id: str, place_m: tuple[float, float], rng: np.random.Generator) -> Line:
    """Draw a line whose route starts at a place.

    Parameters
    ----------
    line_id : str
    place_m : tuple of float
        Easting and northing.
    rng : Generator

    Returns
    -------
    Line
    """
    name = str(rng.choice(list(MATERIALS), p=SHARES))
    diameter_mm = int(rng.choice(MATERIALS[name].diameters_mm))
    length_m = float(rng.uniform(15, 40))
    cover_m = float(rng.uniform(0.4, 1.5))
    pipe = Pipe(
        length_m,
        cover_m + diameter_mm / 2000,
        float(rng.uniform(*MATERIALS[name].loss_db_per_m)),
        float(rng.uniform(*MATERIALS[name].hum_db)),
    )
    soil = Soil(
        float(rng.uniform(10, 20)),
        float(rng.lognormal(np.log(2.5), 0.5)),
        float(rng.uniform(0, 20)),
    )
    ambient_db = float(rng.normal(30, 5))
    pressure_kpa = float(rng.uniform(250, 650))
    over_db = 10 * np.log10(pressure_kpa / 450) + MATERIALS[name].source_db
    faint = rng.random() < 0.25
    over_db += rng.uniform(0, 7) if faint else rng.normal(18, 5)
    leak_m = _leak(length_m, rng) if rng.random() < 0.7 else np.nan
    street_m = float(rng.choice([0.0, length_m]))
    other = _other(length_m, street_m, ambient_db, rng)
    noise = _noise(other, rng)
    course = _course(place_m, length_m, rng)
    return Line(
        line_id=line_id,
        known={
            "line_id": line_id,
            "material": name if rng.random() < 0.95 else "unknown",
            "diameter_mm": float(diameter_mm) if rng.random() < 0.85 else np.nan,
            "depth_m": _reported(cover_m, rng),
            "pressure_kpa": round(pressure_kpa, -1) if rng.random() < 0.7 else np.nan,
            **_traced(course, rng),
        },
        course=course,
        pipe=pipe,
        soil=soil,
        leak_m=leak_m,
        source_db=ambient_db + over_db,
        ambient_db=ambient_db,
        street_m=street_m,
        other=other,
        surface=_surface(length_m, rng),
        surface_db={k: float(rng.normal(*v)) for k, v in SURFACES.items()},
        patches=field_noise.patches(length_m, noise.patch_sd_db, rng),
        noise=noise,
    )


def _leak(length_m: float, rng: np.random.Generator) -> float:
    """Leaks are anywhere, some at the fittings of the ends."""
    if rng.random() < 0.2:
        near = rng.uniform(0.05, 1.5)
        return float(near if rng.random() < 0.5 else length_m - near)
    return float(rng.uniform(0.5, length_m - 0.5))


def _other(
    length_m: float, street_m: float, ambient_db: float, rng: np.random.Generator
) -> Other | None:
    kind = rng.choice(
        ["", "traffic", "machine_beside", "machine_at_end"], p=[0.75, 0.1, 0.08, 0.07]
    )
    if kind == "traffic":
        return Other("traffic", street_m, float(rng.uniform(6, 18)), float(rng.uniform(4, 12)))
    if kind == "machine_beside":
        at, aside = rng.uniform(0, length_m), rng.uniform(1.5, 5)
        return Other("machine_beside", at, ambient_db + float(rng.uniform(12, 26)), aside)
    if kind == "machine_at_end":
        at = float(rng.choice([0.0, length_m]))
        return Other("machine_at_end", at, ambient_db + float(rng.uniform(6, 18)), 0.0)
    return None


def _noise(other: Other | None, rng: np.random.Generator) -> Noise:
    smooth = bool(rng.random() < 1 / 7)
    rough = rng.lognormal(np.log(0.25 if smooth else 1), 0.35)
    street = other is not None and other.kind == "traffic"
    busy = rng.lognormal(np.log(12 if street else 3), 0.7)
    return Noise(
        smooth=smooth,
        contact_sd_db=float(1.4 * rough),
        skew=float(rng.uniform(0.5, 1.8)),
        patch_sd_db=float(1.6 * rough * rng.lognormal(0, 0.2)),
        drift_sd_db=float(0.8 * rough * rng.lognormal(0, 0.5)),
        flicker_db=float(0.8 * rough),
        dropout_chance=0.0
        if smooth or rng.random() < 0.3
        else float(rng.lognormal(np.log(0.03), 0.6)),
        cars_per_hour=0.0 if smooth else float(busy),
    )


def _surface(length_m: float, rng: np.random.Generator) -> field_noise.Steps:
    """Stretches of some metres; neighbours differ."""
    cuts = field_noise.edges(length_m, 9, 0.6, rng)
    names = list(SURFACES)
    now = int(rng.integers(3))
    values = [names[now]]
    for _ in cuts:
        now = (now + int(rng.integers(1, 3))) % 3
        values.append(names[now])
    return field_noise.Steps(cuts, np.array(values))


def _course(
    place_m: tuple[float, float], length_m: float, rng: np.random.Generator
) -> shapely.LineString:
    """A pipe with up to two gentle bends."""
    bends = int(rng.integers(0, 3))
    pieces = length_m * rng.dirichlet(np.full(bends + 1, 5.0))
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum([0.0, *rng.normal(0, 0.2, bends)])
    steps = pieces[:, None] * np.column_stack([np.cos(heading), np.sin(heading)])
    return shapely.LineString(np.vstack([place_m, place_m + np.cumsum(steps, axis=0)]))


def _reported(cover_m: float, rng: np.random.Generator) -> float:
    """Depth as the crew has it: from a locator, to 5 cm, or not at all."""
    read = round(cover_m * rng.normal(1, 0.08) / 0.05) * 0.05
    return round(max(read, 0.2), 2) if rng.random() < 0.85 else np.nan


def _traced(course: shapely.LineString, rng: np.random.Generator) -> dict[str, Any]:
    """The route that was traced lies somewhat beside the pipe."""
    sd = float(rng.choice([0.05, 0.1, 0.2, 0.3]))
    (x0, y0), (x1, y1) = course.coords[0], course.coords[-1]
    across = np.array([y0 - y1, x1 - x0]) / np.hypot(x1 - x0, y1 - y0)
    beside = rng.normal(0, sd) * across
    return {
        "position_sd_m": sd,
        "geometry": shapely.transform(course, lambda xy: xy + beside),
    }

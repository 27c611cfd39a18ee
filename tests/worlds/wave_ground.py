"""Draws of what lies in the ground: pipes by material, soils, and covers along a line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.wave_pipe import Ends, Pipe
from tests.worlds.wave_soil import Soil
from tests.worlds.wave_surface import Cover, Slab, SoftTop

PASCAL_GPA = 1e9


@dataclass(frozen=True)
class Service:
    """A service pipe in the ground.

    Parameters
    ----------
    material : str
        As in the schema of routes.
    diameter_mm : float
        Nominal diameter, mm.
    length_m : float
        Length of the traced route, m.
    depth_m : float
        Cover over the crown, m.
    pipe : Pipe
    ends : Ends
    soil : Soil
    covers : tuple of Cover
        Along the route, and beyond its ends.
    """

    material: str
    diameter_mm: float
    length_m: float
    depth_m: float
    pipe: Pipe
    ends: Ends
    soil: Soil
    covers: tuple[Cover, ...]

    @property
    def axis_m(self) -> float:
        """Depth of the pipe's axis, m."""
        return self.depth_m + self.pipe.radius_m

    @property
    def metal(self) -> bool:
        """Whether the pipe is of metal."""
        return self.material not in {"pe", "pvc"}


def draw_service(rng: np.random.Generator) -> Service:
    """Draw a service line of 15 to 40 m and the ground around it."""
    names, shares = list(_PIPES), [0.27, 0.15, 0.13, 0.27, 0.18]
    material = names[rng.choice(len(names), p=shares)]
    diameter_mm, pipe = _draw_pipe(rng, material)
    length = float(rng.uniform(15, 40))
    beyond = rng.uniform(0, 2, 2)
    # A main takes the pressure away; a shut valve or a meter sends most of it back.
    ends = Ends(-beyond[0], length + beyond[1], -rng.uniform(0.5, 0.95), rng.uniform(0.2, 0.95))
    soil = _draw_soil(rng)
    return Service(
        material=material,
        diameter_mm=diameter_mm,
        length_m=length,
        depth_m=float(rng.uniform(0.4, 1.5)),
        pipe=pipe,
        ends=ends,
        soil=soil,
        covers=_draw_covers(rng, length),
    )


# Outer diameters and walls in mm, modulus in GPa from and to, loss factor from and to, kg/m3.
_PIPES: dict[str, tuple[tuple[tuple[float, float], ...], tuple[float, ...], float]] = {
    "copper": (((15, 1.0), (22, 1.0), (28, 1.2)), (110, 125, 0.001, 0.003), 8900),
    "galvanized_steel": (((26.9, 2.6), (33.7, 3.2), (48.3, 3.2)), (195, 210, 0.001, 0.004), 7850),
    "cast_iron": (((66, 7.0), (98, 8.0)), (90, 130, 0.002, 0.008), 7200),
    "pe": (((25, 2.3), (32, 3.0), (63, 5.8)), (0.9, 2.0, 0.045, 0.08), 950),
    "pvc": (((26.7, 2.9), (33.4, 3.4), (60.3, 3.9)), (2.8, 3.6, 0.02, 0.05), 1400),
}


def _draw_pipe(rng: np.random.Generator, material: str) -> tuple[float, Pipe]:
    sizes, (soft, stiff, low, high), density = _PIPES[material]
    outer, wall = sizes[rng.integers(len(sizes))]
    metal = soft > 50
    fittings = float(np.exp(rng.uniform(np.log(0.03), np.log(0.5 if metal else 0.3))))
    modulus, loss = rng.uniform(soft, stiff) * PASCAL_GPA, rng.uniform(low, high)
    pipe = Pipe((outer - wall) / 2000, wall / 1000, modulus, loss, density, fittings)
    return float(outer), pipe


def _draw_soil(rng: np.random.Generator) -> Soil:
    s = float(np.exp(rng.uniform(np.log(80), np.log(300))))
    p = float(np.clip(s * rng.uniform(1.7, 3.2), max(200.0, 1.5 * s), 800))
    loss = float(np.exp(rng.uniform(np.log(0.04), np.log(0.25))))
    return Soil(p, s, loss, float(rng.uniform(1500, 2050)))


def _draw_covers(rng: np.random.Generator, length_m: float) -> tuple[Cover, ...]:
    count = rng.choice([1, 2, 3], p=[0.35, 0.4, 0.25])
    between = np.sort(rng.uniform(0.1, 0.9, count - 1)) * length_m
    bounds = [-np.inf, *between, np.inf]
    kinds = list(rng.permutation(["grass", "asphalt", "concrete"])[:count])
    return tuple(_COVERS[kind](rng, bounds[i], bounds[i + 1]) for i, kind in enumerate(kinds))


def _grass(rng: np.random.Generator, from_m: float, to_m: float) -> Cover:
    top = SoftTop(
        rng.uniform(0.05, 0.25), rng.uniform(90, 220), rng.uniform(0.15, 0.4), rng.uniform(0.3, 0.9)
    )
    return Cover(
        "grass", from_m, to_m, top, rng.uniform(220, 550), rng.uniform(0.25, 0.5), rng.normal(0, 1)
    )


def _asphalt(rng: np.random.Generator, from_m: float, to_m: float) -> Cover:
    stones = Soil(rng.uniform(450, 800), rng.uniform(200, 320), rng.uniform(0.05, 0.15), 2000)
    gpa, loss = rng.uniform(1.5, 6), rng.uniform(0.08, 0.25)
    slab = Slab(rng.uniform(0.04, 0.1), gpa * PASCAL_GPA, loss, 2350, stones)
    return Cover(
        "asphalt",
        from_m,
        to_m,
        slab,
        rng.uniform(700, 1400),
        rng.uniform(0.15, 0.35),
        rng.normal(0.5, 1),
    )


def _concrete(rng: np.random.Generator, from_m: float, to_m: float) -> Cover:
    bed = Soil(rng.uniform(350, 700), rng.uniform(150, 280), rng.uniform(0.05, 0.2), 1900)
    gpa, loss = rng.uniform(22, 33), rng.uniform(0.01, 0.06)
    slab = Slab(rng.uniform(0.08, 0.14), gpa * PASCAL_GPA, loss, 2400, bed)
    return Cover(
        "concrete",
        from_m,
        to_m,
        slab,
        rng.uniform(900, 2200),
        rng.uniform(0.1, 0.3),
        rng.normal(0.5, 1),
    )


_COVERS = {"grass": _grass, "asphalt": _asphalt, "concrete": _concrete}

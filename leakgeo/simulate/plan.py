"""Plan of the simulated town: two streets, their mains, and a service line to each house."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.simulate.spread import Floats

LONGITUDE, LATITUDE = -87.3, 43.2  # Open water of Lake Michigan: no real street.
TOWN_CRS = "EPSG:2289"  # NAD83 / Wisconsin South, US survey feet.


@dataclass(frozen=True)
class Street:
    """A straight street: name, prefix of line names, start, heading and length."""

    name: str
    prefix: str
    start_m: tuple[float, float]
    heading_deg: float
    length_m: float

    def at(self, along_m: Floats, across_m: Floats) -> Floats:
        """Return points at distances along and across the street (left positive), shape (n, 2)."""
        turn = np.radians(self.heading_deg)
        ahead, left = (
            np.array([np.cos(turn), np.sin(turn)]),
            np.array([-np.sin(turn), np.cos(turn)]),
        )
        points: Floats = (
            np.asarray(self.start_m)
            + np.multiply.outer(along_m, ahead)
            + np.multiply.outer(across_m, left)
        )
        return points

    def path(self, *along_across_m: tuple[float, float]) -> Floats:
        """Return the points of a path of (along, across) pairs."""
        pairs = np.asarray(along_across_m, dtype=np.float64)
        turn = np.radians(self.heading_deg)
        axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        path: Floats = np.asarray(self.start_m) + pairs @ axes
        return path


@dataclass(frozen=True)
class Service:
    """A line of the town: name, address, street, place along it, side, and true route."""

    line_id: str
    address: str
    street: Street
    along_m: float
    side: int
    pipe_xy: Floats
    main: bool = False


HERON = Street("Heron Street", "H", (0.0, 0.0), 12.0, 150.0)
STURGEON = Street("Sturgeon Lane", "S", (58.0, 40.0), 104.0, 105.0)


def lay_out(rng: np.random.Generator, lines: int) -> list[Service]:
    """Lay out the mains, then services to the left and right of each street.

    Parameters
    ----------
    rng : numpy.random.Generator
    lines : int
        Number of services.
    """
    heron = HERON.path((7, 2.2), (74, 2.2), (146, 2.7))
    sturgeon = STURGEON.path((-22, -1.9), (56, -2.0), (102, -1.9))
    mains = [
        Service("M-1", HERON.name, HERON, 75.0, 1, heron, main=True),
        Service("M-2", STURGEON.name, STURGEON, 30.0, -1, sturgeon, main=True),
    ]
    first = int(np.ceil(lines * 0.6))
    return [*mains, *_along(rng, HERON, first), *_along(rng, STURGEON, lines - first)]


def _along(rng: np.random.Generator, street: Street, houses: int) -> list[Service]:
    """Place houses in pairs, left and right; each service bends once."""
    pairs = int(np.ceil(houses / 2))
    places = np.linspace(12.0, street.length_m - 8.0, max(pairs, 1))
    made = []
    for i in range(houses):
        side, along = (1 if i % 2 == 0 else -1), float(places[i // 2] + rng.uniform(-2.0, 2.0))
        main = 2.2 if street is HERON else -1.9
        deep, aside = float(rng.uniform(14.0, 27.0)), float(rng.uniform(-2.5, 2.5))
        pipe = street.path((along, main), (along, side * 8.0), (along + aside, side * deep))
        number = 101 + 2 * (i // 2) * 4 + (0 if side > 0 else 1)
        name = f"{street.prefix}-{number}"
        made.append(Service(name, f"{number} {street.name}", street, along, side, pipe))
    return made

"""Fields of a benchmark, each drawn from a seed of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.simulate import simulate_field

if TYPE_CHECKING:
    from leakgeo.simulate import Conditions, Recorded


def draw_fields(n: int, seed: int, conditions: Conditions) -> list[Recorded]:
    """Draw fields, each from its own seed, so that more of them leave the first as they were."""
    return [simulate_field(np.random.default_rng([seed, i]), conditions) for i in range(n)]

"""Levels heard on the walks along a simulated line, with all errors, before the display."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from leakgeo.simulate.constants import draw
from leakgeo.simulate.noise import coupling_from, draw_outliers, draw_shared

if TYPE_CHECKING:
    from leakgeo.simulate.constants import Conditions
    from leakgeo.simulate.spread import Floats
    from leakgeo.simulate.truth import Truth


@dataclass(frozen=True)
class HeardLevels:
    """Stops in the order of listening, and the levels at each stop and band, before the display."""

    stop_m: Floats
    walk: NDArray[np.intp]
    level_db: Floats
    outlier: NDArray[np.intp]
    stride_sd_m: float


def listen(rng: np.random.Generator, conditions: Conditions, truth: Truth) -> HeardLevels:
    """Simulate a walk in coarse steps, then one in fine steps around the loudest stop."""
    length = truth.ground.length_m
    coarse = np.arange(0.0, length, conditions.coarse_step_m)
    reach = int(rng.integers(conditions.fine_steps[0], conditions.fine_steps[1] + 1))
    fine = conditions.fine_step_m * np.arange(-reach, reach + 1)
    walk = np.repeat([0, 1], [coarse.size, fine.size])
    stride_sd = draw(rng, conditions.constants.stride_sd_m)
    stride = stride_sd * rng.standard_normal(walk.size)
    coarse = np.clip(coarse + stride[walk == 0], 0.0, length)
    errors = _ReadingErrors.draw(rng, truth, walk.size)
    loudest = coarse[np.argmax(errors.levels(truth, coarse)[:, 0])]
    stops = np.concatenate([coarse, loudest + fine + stride[walk == 1]])
    on = (stops >= 0.0) & (stops <= length)
    levels = errors.levels(truth, np.clip(stops, 0.0, length))
    return HeardLevels(stops[on], walk[on], levels[on], errors.outlier[on], stride_sd)


@dataclass(frozen=True)
class _ReadingErrors:
    """Errors of the readings of a survey, drawn before the first stop."""

    coupling: Floats
    shift_db: Floats
    outlier: NDArray[np.intp]

    @classmethod
    def draw(cls, rng: np.random.Generator, truth: Truth, stops: int) -> _ReadingErrors:
        noise, shape = truth.noise, (stops, len(truth.bands))
        coupling = draw_shared(rng, shape, noise.coupling_shared_by_bands)
        own = noise.reading_sd_db * draw_shared(rng, shape, noise.reading_shared_by_bands)
        shift, outlier = draw_outliers(rng, stops, noise, shape[1])
        return cls(coupling, own + shift, outlier)

    def levels(self, truth: Truth, stop_m: Floats) -> Floats:
        """Return levels with errors at the first stops, shape (stops, bands)."""
        n = stop_m.size
        clean = np.column_stack(
            [truth.level_db(k, stop_m, truth.leak_chainage_m) for k in range(len(truth.bands))]
        )
        jitter = 1e-6 * np.arange(
            n
        )  # Clipped stops may coincide, which makes the correlation matrix singular.
        coupling = coupling_from(self.coupling[:n], stop_m + jitter, truth.noise)
        return clean + coupling + self.shift_db[:n]

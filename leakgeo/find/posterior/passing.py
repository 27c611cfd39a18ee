"""Sources that sound during a part of the survey only, as an engine at the kerb or a pump.

A leak sounds all the time. So a source that some walks hear and others do not, at the same places,
is not the leak; what the other walks hear may be.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import adaptive_scan, fit, scan
from leakgeo.find.posterior.initial_fit import initial_fit
from leakgeo.find.posterior.level_peaks import level_peaks
from leakgeo.find.posterior.noise import line_noise
from leakgeo.find.posterior.problem import with_other_source
from leakgeo.find.posterior.reference_walk import log_density
from leakgeo.find.posterior.rivals import load_rival_weights
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats
    from leakgeo.find.posterior.grid import Scan
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.sound.constants import Constants

# Stops of two walks this close are compared; a comparison needs so many.
_SAME_PLACE_M, _LEAST_STOPS = 0.5, 4
# One is louder if it is so by this much at so many stops, relative to the others.
_DIFFERENT_DB, _LEAST_LOUDER = 7.0, 2
# Share of the stops at which a source is not heard, at least.
_NOT_HEARD = 0.2
# Log power of the floor over a leak that is not heard, and the precision that keeps it there.
_FAR_BELOW, _FIXED = 10.0, 1e6
# Most walks that are tried in turn, and most sets of walks that are computed.
_MOST_WALKS, _MOST_SETS = 8, 2


@dataclass(frozen=True)
class PassingSource:
    """A source that a part of the readings heard.

    Parameters
    ----------
    leaks : ndarray of float, shape (g,)
        Log evidence of a leak in each cell, with this source.
    alone : float
        Log evidence of this source and no leak.
    """

    leaks: Floats
    alone: float


def sets_of_walks(problem: Problem) -> list[Bools]:
    """Return which readings may have heard a source that others did not.

    These are the readings of the first or last walks in time, or of a single one, where they are
    louder on a stretch than the other walks there.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    list of ndarray of bool, shape (n,)
        Empty if the walks agree, or their order is not known.
    """
    walks = np.unique(problem.visit)
    # The readings of a stop in several bands, and those of a reference walk, can't be separated.
    apart = not problem.codes[:, kernel.BAND].any() and problem.reference < 0
    apart = apart and bool((problem.codes[:, kernel.STOP] == 1).all())
    if not apart or not 2 <= len(walks) <= _MOST_WALKS or walks[0] < 0:
        return []
    chosen = {tuple(walks[:k].tolist()) for k in range(1, len(walks))}
    chosen |= {tuple(walks[k:].tolist()) for k in range(1, len(walks))}
    chosen |= {(int(walk),) for walk in walks}
    masks = [np.isin(problem.visit, each) for each in sorted(chosen)]
    return [mask for mask in masks if _is_louder(problem, mask)]


def _is_louder(problem: Problem, heard: Bools) -> bool:
    """Return whether some readings are louder than the others on a stretch, not all along.

    A single reading that is louder, as by a gust, is not enough.
    """
    x, y = problem.readings[:, kernel.X], problem.readings[:, kernel.Y]
    one, other = np.flatnonzero(heard), np.flatnonzero(~heard)
    near = np.abs(x[other][:, None] - x[one]) <= _SAME_PLACE_M
    compared = near.any(axis=1)
    if compared.sum() < _LEAST_STOPS:
        return False
    near = near[compared]
    away = (near @ y[one]) / near.sum(axis=1) - y[other[compared]]
    # The offset between walks is the difference where the source is not heard.
    louder = away - np.quantile(away, _NOT_HEARD) >= _DIFFERENT_DB
    return bool(louder.sum() >= _LEAST_LOUDER and near[louder].any(axis=0).sum() >= _LEAST_LOUDER)


def passing_sources(
    problem: Problem, span: tuple[float, float], chainage: Floats, constants: Constants
) -> list[PassingSource]:
    """Return the evidence of sources that some readings heard, with a leak and without.

    Parameters
    ----------
    problem : Problem
    span : tuple of float
        Stretch of the line that is searched.
    chainage : ndarray of float, shape (g,)
        Midpoints of equal cells.
    constants : Constants

    Returns
    -------
    list of PassingSource
        The likeliest sets of walks that heard one; empty if the walks agree.
    """
    heard = [_Heard.by(problem, mask, span, constants) for mask in sets_of_walks(problem)]
    likely = sorted(heard, key=lambda h: -h.alone(problem.noise))[:_MOST_SETS]
    return [each.source(span, chainage, constants) for each in likely]


@dataclass(frozen=True)
class _Heard:
    """A set of readings that heard a source, and those that did not.

    `both` is the problem of a leak and this source, `rest` that of a leak in the others.
    """

    both: Problem
    rest: Problem

    @classmethod
    def by(
        cls, problem: Problem, heard: Bools, span: tuple[float, float], constants: Constants
    ) -> _Heard:
        place, _ = initial_fit(problem.cut(heard), span)
        both = with_other_source(problem, place, span[1] - span[0], constants)
        readings = both.readings.copy()
        readings[~heard, kernel.OTHER_SILENT] = 1.0
        return cls(replace(both, readings=readings), problem.cut(~heard))

    def source(
        self, span: tuple[float, float], chainage: Floats, constants: Constants
    ) -> PassingSource:
        """Return the evidence, averaged over the noise of the readings that did not hear it."""
        place, start = initial_fit(self.rest, span)
        noise = line_noise(self.rest, place, start, constants.noise_law)
        alone = self._alone(noise.centre)
        both = replace(self.both, noise=noise.centre)
        _, fitted, _ = fit(kernel.TWO, place, both, np.append(start, self._other(alone)))
        found = adaptive_scan(kernel.TWO, span, both, fitted, place)
        leaks = log_density(noise.averaged(kernel.TWO, found, both), chainage, both)
        problem = replace(_without_leak(self.both), noise=noise.centre)
        return PassingSource(
            leaks, float(noise.averaged(kernel.TWO, alone, problem).evidence.max())
        )

    def alone(self, noise: Floats) -> float:
        """Return the log evidence of this source and no leak, for one noise vector."""
        return float(self._alone(noise).evidence.max())

    def _alone(self, noise: Floats) -> Scan:
        """Return the fits of this source from each peak of the level, without a leak."""
        problem = replace(_without_leak(self.both), noise=noise)
        heard = problem.readings[:, kernel.OTHER_SILENT] == 0.0
        peaks = level_peaks(problem.cut(heard))
        starts = np.tile(problem.mean, (len(peaks), 1))
        starts[:, -kernel.PER_OTHER + kernel.OTHER_PLACE] = peaks
        # The place of a leak that is not heard does not matter.
        return scan(kernel.TWO, np.zeros(len(peaks)), problem, starts)

    def _other(self, alone: Scan) -> Floats:
        """Return the constants of the source as fitted alone, relative to an audible leak."""
        other = alone.fitted[int(np.argmax(alone.evidence)), -kernel.PER_OTHER :].copy()
        other[kernel.OTHER_LEVEL] -= _FAR_BELOW - self.both.mean[kernel.BANDS + kernel.FLOOR]
        return other


def _without_leak(problem: Problem) -> Problem:
    """Return a problem of a leak and another source whose leak is far below the floor."""
    mean, precision = problem.mean.copy(), problem.precision.copy()
    floor = kernel.BANDS + kernel.FLOOR
    level = kernel.level_index(kernel.TWO, len(mean))
    other = level + 1 + kernel.OTHER_LEVEL
    # Levels are relative to the leak: floor and source keep their distance, and its uncertainty.
    apart = 1.0 / precision[other] + 1.0 / precision[floor]
    mean[other] += _FAR_BELOW - mean[floor]
    mean[level] -= DB * (_FAR_BELOW - mean[floor])
    mean[floor], precision[floor] = _FAR_BELOW, _FIXED
    precision[other] = 1.0 / apart
    return replace(problem, mean=mean, precision=precision)


def prior_of_each(sets: int) -> float:
    """Return the prior probability of each set of walks that may have heard such a source."""
    return load_rival_weights()["passing"]["probability"] / max(sets, 1)

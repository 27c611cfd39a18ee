"""Readings of one line with a level of any shape, and their posterior."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from leakgeo.find.posterior.posterior import posterior
from leakgeo.find.posterior.problem import build_problem
from leakgeo.sound.constants import load_constants
from tests.benchmarks.efficiency import one_walk

LENGTH_M, PRIOR = 30.0, 0.9
# A coarse walk, and a fine one in one-foot steps around a leak at 12.3 m.
LEAK_M = 12.3
STOPS_M = np.unique(np.concatenate([np.arange(0.5, 30.0, 1.5), np.arange(10.0, 14.6, 0.305)]))


def noise(seed, x=STOPS_M):
    """Whole decibels of noise at each stop."""
    return np.round(np.random.default_rng(seed).normal(0.0, 1.0, x.size))


def hump(height_db, width_m, x=STOPS_M):
    """Level over a leak above a floor of 0 dB: power that falls with the fourth power far off."""
    power = 10 ** (height_db / 10) / (1 + ((x - LEAK_M) / width_m) ** 2) ** 2
    return 10 * np.log10(1 + power)


def found(
    level_db, x=STOPS_M, material="copper", smear_m=0.6, surface=None, length_m=LENGTH_M,
    fittings=(), open_ends=(),
):  # fmt: skip
    """Posterior of a line with these levels."""
    readings = replace(
        one_walk(x, np.asarray(level_db, dtype=float)),
        rounding_sd_db=np.full(x.size, 0.29),
        position_sd_m=np.full(x.size, 0.05),
        smear_m=np.full(x.size, smear_m),
    )
    if surface is not None:
        readings = replace(readings, surface=surface)
    constants = load_constants()
    problem = build_problem(readings, constants.materials[material], 0.9, constants)
    return posterior(problem, length_m, constants, PRIOR, fittings=fittings, open_ends=open_ends)

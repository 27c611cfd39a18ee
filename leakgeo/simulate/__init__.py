"""Simulation of lines, leaks and surveys, for tests and training; richer than the fitted models."""

from leakgeo.simulate.constants import Conditions, World
from leakgeo.simulate.field import Recorded, simulate_field
from leakgeo.simulate.truth import Truth

__all__ = ["Conditions", "Recorded", "Truth", "World", "simulate_field"]

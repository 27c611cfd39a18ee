"""Invented lines, leaks and surveys, to rehearse and test on; richer than any model fitted here."""

from leakgeo.simulate.constants import Conditions, World
from leakgeo.simulate.field import Recorded, simulate_field
from leakgeo.simulate.truth import Truth

__all__ = ["Conditions", "Recorded", "Truth", "World", "simulate_field"]

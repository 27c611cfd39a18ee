"""Invented lines, leaks and surveys, to rehearse and test on; richer than any model fitted here."""

from leakgeo.simulate.constants import Conditions, Constants
from leakgeo.simulate.field import Field, simulate_field
from leakgeo.simulate.truth import Truth

__all__ = ["Conditions", "Constants", "Field", "Truth", "simulate_field"]

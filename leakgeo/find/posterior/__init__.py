"""Posterior of the position of a leak along a line. README.md describes the method."""

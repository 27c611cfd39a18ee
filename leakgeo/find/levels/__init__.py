"""Positions and comparable levels of readings along their line, and the interpolated profile."""

"""Levels that can be compared: decibel arithmetic, gain, sensors, surfaces, spreading."""

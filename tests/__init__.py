"""Tests of leakgeo."""

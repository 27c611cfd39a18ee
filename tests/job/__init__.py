"""Tests of what comes in."""

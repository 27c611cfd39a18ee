"""Tests of what goes out: map and report."""

"""Tests that open the map in a browser."""

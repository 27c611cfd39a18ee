"""Dig zones, tolerance rules, utility conflicts, and what must be cleared before digging."""

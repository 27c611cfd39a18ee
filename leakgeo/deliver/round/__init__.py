"""Digging rounds: places of a result in the order that a van drives."""

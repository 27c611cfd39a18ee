"""Readings along their line: levels that compare, positions, and the profile between them."""

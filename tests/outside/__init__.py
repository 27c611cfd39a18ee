"""Checks against the outside: a published figure, another library, a standard, known practice."""

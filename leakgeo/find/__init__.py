"""Locate the leak: first survey, comparable levels, posterior, zones and mark, next readings."""

"""Worlds of their own physics and noise, which judge the locator and never tune it."""

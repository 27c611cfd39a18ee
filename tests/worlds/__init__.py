"""Worlds that are independent of the package's own simulator, to judge the locator by."""

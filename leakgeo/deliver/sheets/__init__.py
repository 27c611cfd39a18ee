"""Sheets to print, for a crew without a screen: fittings, walks, tests and digs."""

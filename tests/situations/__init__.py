"""Situations of the trade, and the verdict that a senior locator would accept in each.

The battery measures whether the locator decides by all that is known about a line: sound, meter,
valves, digs, repairs, maps, air. It judges the locator, which is not tuned to it; the advice was,
on some seeds of its streets. Place and names are invented. ``python -m tests.situations`` prints
the table.
"""

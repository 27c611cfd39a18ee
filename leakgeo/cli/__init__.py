"""The command line, made from the steps; it holds no logic of its own."""

from leakgeo.cli.entry import main

__all__ = ["main"]

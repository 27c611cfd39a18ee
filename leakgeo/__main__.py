"""The command line, as ``python -m leakgeo``."""

from leakgeo.cli import main

main()

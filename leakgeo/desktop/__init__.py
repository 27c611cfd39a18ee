"""leakgeo inside a desktop GIS: the plugin's sources, and what builds them into a ZIP.

What is under ``plugin/`` runs in the GIS's own Python, which is often older: it imports nothing of
leakgeo, and calls it as a program.
"""

from leakgeo.desktop.build import write_plugin

__all__ = ["write_plugin"]

"""leakgeo in QGIS: the sources of the plugin, and the build of its ZIP.

The modules in ``plugin/`` run in the Python of QGIS, which is often older: they import nothing of
leakgeo, and run it as a program.
"""

from leakgeo.desktop.build import write_plugin

__all__ = ["write_plugin"]

"""leakgeo in QGIS: its steps as Processing algorithms, run in leakgeo's own Python environment."""

from __future__ import annotations


def classFactory(iface):  # noqa: N802 - QGIS calls it by this name
    """Return the plugin; QGIS calls this when it loads the package."""
    from .plugin import Plugin

    return Plugin(iface)

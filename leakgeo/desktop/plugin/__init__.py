"""leakgeo inside QGIS: its steps as Processing algorithms, run in leakgeo's own environment."""

from __future__ import annotations


def classFactory(iface):  # noqa: N802 - QGIS calls it by this name
    """Give the plugin, as QGIS asks for it."""
    from .plugin import Plugin

    return Plugin(iface)

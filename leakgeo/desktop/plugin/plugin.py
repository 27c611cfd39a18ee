"""The plugin: it registers the Processing provider and removes it again."""

from __future__ import annotations

from qgis.core import QgsApplication

from .provider import Provider


class Plugin:
    """The object that QGIS loads and unloads."""

    def __init__(self, iface):
        self.iface, self.provider = iface, None

    def initProcessing(self):  # noqa: N802 - names of the QGIS API, here and below
        """Register the provider; ``qgis_process`` calls this method only."""
        if self.provider is None:
            self.provider = Provider()
            QgsApplication.processingRegistry().addProvider(self.provider)

    def initGui(self):  # noqa: N802
        """Register the provider, and show a warning if leakgeo is missing."""
        self.initProcessing()
        if self.provider.problem:
            self.iface.messageBar().pushWarning("leakgeo", self.provider.problem)

    def unload(self):
        """Remove the provider."""
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            self.provider = None

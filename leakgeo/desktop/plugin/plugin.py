"""The plugin: puts the provider into the host, and takes it away."""

from __future__ import annotations

from qgis.core import QgsApplication

from .provider import Provider


class Plugin:
    """What the host starts and ends."""

    def __init__(self, iface):
        self.iface, self.provider = iface, None

    def initProcessing(self):  # noqa: N802 - the host's names, here and below
        """Add the provider; without a window this is all that is called."""
        if self.provider is None:
            self.provider = Provider()
            QgsApplication.processingRegistry().addProvider(self.provider)

    def initGui(self):  # noqa: N802
        """Add the provider, and say so where leakgeo is missing."""
        self.initProcessing()
        if self.provider.trouble:
            self.iface.messageBar().pushWarning("leakgeo", self.provider.trouble)

    def unload(self):
        """Take the provider away."""
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            self.provider = None

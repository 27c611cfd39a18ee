"""The plugin: the Processing provider, toolbar and menu, and the panel of one line."""

from __future__ import annotations

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QCoreApplication, Qt

from .language import install_translator
from .provider import Provider


class Plugin:
    """The object that QGIS loads and unloads."""

    def __init__(self, iface):
        self.iface, self.provider, self.panel, self.toolbar = iface, None, None, None
        # Before anything else, as texts are translated when their widgets are made.
        self.translator = install_translator()

    def initProcessing(self):  # noqa: N802 - names of the QGIS API, here and below
        """Register the provider; ``qgis_process`` calls this method only."""
        if self.provider is None:
            self.provider = Provider()
            QgsApplication.processingRegistry().addProvider(self.provider)

    def initGui(self):  # noqa: N802
        """Register the provider, add toolbar and panel, and warn if leakgeo is missing."""
        self.initProcessing()
        if self.provider.problem:
            self.iface.messageBar().pushWarning("leakgeo", self.provider.problem)
        from .panel import Panel  # qgis_process has no map to draw on
        from .toolbar import Toolbar

        self.panel = Panel(self.iface, self.provider)
        self.toolbar = Toolbar(self.iface, self.provider)
        self.iface.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, self.panel)
        self.panel.hide()
        self.panel.setToggleVisibilityAction(self.toolbar.panel)

    def unload(self):
        """Remove panel, toolbar and provider."""
        if self.panel is not None:
            self.panel.release()
            self.toolbar.release()
            self.iface.removeDockWidget(self.panel)
            self.panel.deleteLater()
            self.panel = self.toolbar = None
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            self.provider = None
        if self.translator is not None:
            QCoreApplication.removeTranslator(self.translator)
            self.translator = None

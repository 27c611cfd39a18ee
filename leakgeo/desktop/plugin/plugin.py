"""The plugin: the Processing provider, and the panel of one line."""

from __future__ import annotations

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtGui import QIcon
from qgis.PyQt.QtWidgets import QAction

from .provider import Provider

MENU = "leakgeo"


class Plugin:
    """The object that QGIS loads and unloads."""

    def __init__(self, iface):
        self.iface, self.provider, self.panel, self.action = iface, None, None, None

    def initProcessing(self):  # noqa: N802 - names of the QGIS API, here and below
        """Register the provider; ``qgis_process`` calls this method only."""
        if self.provider is None:
            self.provider = Provider()
            QgsApplication.processingRegistry().addProvider(self.provider)

    def initGui(self):  # noqa: N802
        """Register the provider, add the panel, and show a warning if leakgeo is missing."""
        self.initProcessing()
        if self.provider.problem:
            self.iface.messageBar().pushWarning("leakgeo", self.provider.problem)
        from .panel import Panel  # qgis_process has no map to draw on
        from .step import ICON

        self.panel = Panel(self.iface, self.provider)
        self.iface.addDockWidget(Qt.RightDockWidgetArea, self.panel)
        self.panel.hide()
        self.action = QAction(QIcon(ICON), "Panel of one line", self.iface.mainWindow())
        self.action.setObjectName("leakgeoPanelAction")
        self.action.setCheckable(True)
        self.panel.setToggleVisibilityAction(self.action)
        self.iface.addPluginToMenu(MENU, self.action)
        self.iface.addToolBarIcon(self.action)

    def unload(self):
        """Remove the panel and the provider."""
        if self.panel is not None:
            self.panel.release()
            self.iface.removePluginMenu(MENU, self.action)
            self.iface.removeToolBarIcon(self.action)
            self.iface.removeDockWidget(self.panel)
            self.panel.deleteLater()
            self.panel = self.action = None
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            self.provider = None

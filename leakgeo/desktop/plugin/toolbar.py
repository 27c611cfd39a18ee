"""The toolbar and the menu of the plugin."""

from __future__ import annotations

from pathlib import Path

from qgis.core import QgsApplication
from qgis.PyQt.QtGui import QIcon
from qgis.PyQt.QtWidgets import QAction

from .help_pages import open_help
from .language import tr

MENU = "leakgeo"
_ICONS = Path(__file__).with_name("icons")


class Toolbar:
    """Buttons and menu entries: the whole chain, a new job, the panel and help.

    Attributes
    ----------
    run, new_job, panel, help : QAction
    """

    def __init__(self, iface, provider):
        self.iface, self.provider = iface, provider
        # A reference, as the part of a dialog that is in Python would be deleted without one.
        self.dialog = None
        self.run = self._action("run", tr("Run the whole chain"), self.open_run)
        self.new_job = self._action("new_job", tr("New job"), self.open_new_job)
        self.panel = self._action("panel", tr("Panel of one line"))
        self.panel.setCheckable(True)
        self.help = self._action("help", tr("Help"), open_help)
        self.bar = iface.addToolBar(MENU)
        self.bar.setObjectName("leakgeoToolBar")
        self.bar.addActions([self.run, self.new_job, self.panel])
        for action in self._actions():
            iface.addPluginToMenu(MENU, action)

    def _actions(self):
        return self.run, self.new_job, self.panel, self.help

    def _action(self, name, text, slot=None):
        action = QAction(_icon(name), text, self.iface.mainWindow())
        # Names by which QGIS keeps shortcuts.
        action.setObjectName(f"leakgeo_{name}")
        if slot is not None:
            action.triggered.connect(lambda _checked: slot())
        return action

    def release(self):
        """Remove toolbar and menu."""
        for action in self._actions():
            self.iface.removePluginMenu(MENU, action)
            action.deleteLater()
        self.iface.mainWindow().removeToolBar(self.bar)
        self.bar.deleteLater()

    def open_run(self):
        """Open the dialog of the whole chain."""
        self._open("run")

    def open_new_job(self):
        """Open the dialog of a new job."""
        self._open("new_job")

    def _open(self, name):
        """Open the dialog of an algorithm; that of the set-up if leakgeo was not found."""
        import processing

        name = name if self.provider.catalog else "set_up"
        self.dialog = processing.createAlgorithmDialog(f"leakgeo:{name}")
        self.dialog.show()


def _icon(name):
    file = _ICONS / f"{name}.svg"
    theme = QgsApplication.getThemeIcon("/mActionHelpContents.svg")
    return QIcon(str(file)) if file.is_file() else theme

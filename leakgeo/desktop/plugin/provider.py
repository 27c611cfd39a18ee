"""The provider: finds leakgeo, asks it for its steps, and gives each as an algorithm."""

from __future__ import annotations

from pathlib import Path

from processing.core.ProcessingConfig import ProcessingConfig, Setting
from qgis.core import Qgis, QgsApplication, QgsMessageLog, QgsProcessingProvider
from qgis.PyQt.QtGui import QIcon

from . import program
from .set_up import SetUpAlgorithm
from .step import ICON, StepAlgorithm

SETTING = "LEAKGEO_PROGRAM"


def cache_file():
    """Give the file that keeps what leakgeo says of its steps, in the user's profile."""
    return Path(QgsApplication.qgisSettingsDirPath()) / "leakgeo" / "steps.json"


class Provider(QgsProcessingProvider):
    """leakgeo in the toolbox."""

    def __init__(self):
        super().__init__()
        self.executable, self.said, self.trouble = None, None, ""

    def id(self):
        """Give the first part of the algorithms' ids."""
        return "leakgeo"

    def name(self):
        """Give the name."""
        return "leakgeo"

    def longName(self):  # noqa: N802 - the host's names, here and below
        """Give the name and the version that was found."""
        return f"leakgeo ({self.said['leakgeo']})" if self.said else "leakgeo (not set up)"

    def icon(self):
        """Give the icon."""
        return QIcon(ICON)

    def svgIconPath(self):  # noqa: N802
        """Give the icon's file."""
        return ICON

    def warningMessage(self):  # noqa: N802
        """Say what is wrong, where the host shows it."""
        return self.trouble

    def supportsNonFileBasedOutput(self):  # noqa: N802
        """Say that results are files."""
        return False

    def load(self):
        """Add the setting, and the algorithms."""
        ProcessingConfig.settingIcons[self.name()] = self.icon()
        ProcessingConfig.addSetting(Setting(
            self.name(), SETTING, "Program leakgeo (empty: it is looked for)", "",
            valuetype=Setting.FILE,
        ))  # fmt: skip
        ProcessingConfig.readSettings()
        self.refreshAlgorithms()
        return True

    def unload(self):
        """Take the setting away."""
        ProcessingConfig.removeSetting(SETTING)

    def loadAlgorithms(self):  # noqa: N802
        """Give one algorithm a step; without leakgeo the one that tells how to set it up."""
        self.look()
        self.addAlgorithm(SetUpAlgorithm(self))
        for step in self.said["steps"] if self.said else ():
            self.addAlgorithm(StepAlgorithm(self.executable, step, self.said))

    def look(self, *, anew=False):
        """Find leakgeo and its steps, and remember what is wrong."""
        self.executable, self.said, self.trouble = None, None, ""
        try:
            executable = program.find(ProcessingConfig.getSetting(SETTING))
            if anew and cache_file().exists():
                cache_file().unlink()
            self.said = program.steps(executable, cache_file())
            self.executable = executable
        except program.ProgramError as error:
            self.trouble = str(error)
            QgsMessageLog.logMessage(self.trouble, "leakgeo", Qgis.Warning)

    def choose(self, path):
        """Take the program at `path` from now on; empty for the one that is found."""
        if path:
            path = str(program.find(path))
        ProcessingConfig.setSettingValue(SETTING, path)

"""The Processing provider: it finds leakgeo, and adds an algorithm for each step."""

from __future__ import annotations

from pathlib import Path

from processing.core.ProcessingConfig import ProcessingConfig, Setting
from qgis.core import Qgis, QgsApplication, QgsMessageLog, QgsProcessingProvider
from qgis.PyQt.QtGui import QIcon

from . import program
from .language import tr
from .new_job import NewJobAlgorithm
from .set_up import SetUpAlgorithm
from .step import ICON, StepAlgorithm
from .toolbox import places

SETTING = "LEAKGEO_PROGRAM"


def cache_file():
    """Return the path of the cached step catalog, in the user's profile."""
    return Path(QgsApplication.qgisSettingsDirPath()) / "leakgeo" / "steps.json"


class Provider(QgsProcessingProvider):
    """leakgeo in the Processing toolbox.

    Attributes
    ----------
    executable : pathlib.Path or None
        Program leakgeo; None if it was not found or can't be used.
    catalog : dict or None
        Steps, parameters and layers, as ``leakgeo steps --json`` prints them.
    problem : str
        Why leakgeo can't be used, and what to do; empty if it can.
    """

    def __init__(self):
        super().__init__()
        self.executable, self.catalog, self.problem = None, None, ""

    def id(self):
        """Return the prefix of the algorithm ids."""
        return "leakgeo"

    def name(self):
        """Return the name."""
        return "leakgeo"

    def longName(self):  # noqa: N802 - names of the QGIS API, here and below
        """Return the name with the version of leakgeo."""
        if not self.catalog:
            return tr("leakgeo (not set up)")
        return f"leakgeo ({self.catalog['leakgeo']})"

    def icon(self):
        """Return the icon."""
        return QIcon(ICON)

    def svgIconPath(self):  # noqa: N802
        """Return the path of the icon."""
        return ICON

    def warningMessage(self):  # noqa: N802
        """Return the problem that the toolbox shows, or an empty text."""
        return self.problem

    def supportsNonFileBasedOutput(self):  # noqa: N802
        """Return False: results are files."""
        return False

    def load(self):
        """Add the setting and the algorithms."""
        ProcessingConfig.settingIcons[self.name()] = self.icon()
        label = tr("Path of the program leakgeo (empty: found automatically)")
        ProcessingConfig.addSetting(
            Setting(self.name(), SETTING, label, "", valuetype=Setting.FILE)
        )
        ProcessingConfig.readSettings()
        self.refreshAlgorithms()
        return True

    def unload(self):
        """Remove the setting."""
        ProcessingConfig.removeSetting(SETTING)

    def loadAlgorithms(self):  # noqa: N802
        """Add the set-up algorithm and, if leakgeo is found, that of a new job and each step."""
        self.find_leakgeo()
        self.addAlgorithm(SetUpAlgorithm(self))
        if not self.catalog:
            return
        self.addAlgorithm(NewJobAlgorithm(self.executable))
        for command, place in places(self.catalog):
            self.addAlgorithm(StepAlgorithm(self.executable, command, self.catalog, place))

    def find_leakgeo(self, *, clear_cache=False):
        """Find leakgeo and read its catalog; set and log the problem if that fails."""
        self.executable, self.catalog, self.problem = None, None, ""
        try:
            executable = program.find(ProcessingConfig.getSetting(SETTING))
            if clear_cache and cache_file().exists():
                cache_file().unlink()
            self.catalog = program.read_catalog(executable, cache_file())
            self.executable = executable
        except program.ProgramError as error:
            self.problem = str(error)
            QgsMessageLog.logMessage(self.problem, "leakgeo", Qgis.Warning)

    def set_program(self, path):
        """Store the path of leakgeo in the settings; an empty one means an automatic search."""
        if path:
            path = str(program.find(path))
        ProcessingConfig.setSettingValue(SETTING, path)

"""The algorithm that finds leakgeo, or tells how it is installed."""

from __future__ import annotations

from html import escape

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingException,
    QgsProcessingOutputString,
    QgsProcessingParameterFile,
)
from qgis.PyQt.QtCore import QTimer
from qgis.PyQt.QtGui import QIcon

from . import program
from .words import CAUTION


class SetUpAlgorithm(QgsProcessingAlgorithm):
    """Look for leakgeo, and read its steps anew."""

    def __init__(self, provider):
        super().__init__()
        self.owner = provider

    def createInstance(self):  # noqa: N802 - the host's names, here and below
        """Give another one, for a run of its own."""
        return SetUpAlgorithm(self.owner)

    def flags(self):
        """Run where the provider lives."""
        return super().flags() | self.FlagNoThreading

    def name(self):
        """Give the name."""
        return "set_up"

    def displayName(self):  # noqa: N802
        """Give the name as people see it."""
        return "Set up leakgeo"

    def icon(self):
        """Give the icon."""
        from .step import ICON

        return QIcon(ICON)

    def shortHelpString(self):  # noqa: N802
        """Say how leakgeo is installed, and what is wrong now."""
        said = self.owner.said
        state = f"leakgeo {said['leakgeo']} is at {self.owner.executable}." if said else (
            self.owner.trouble)  # fmt: skip
        about = (
            "leakgeo runs in a Python environment of its own, beside this program. This looks for "
            "it, and reads its steps into the toolbox."
        )
        told = (about, state, program.install_words(), CAUTION)
        return "".join(f"<p>{escape(text)}</p>" for text in told)

    def initAlgorithm(self, configuration=None):  # noqa: N802
        """Declare the path, and what was found."""
        path = QgsProcessingParameterFile(
            "program", "Program leakgeo, if it isn't found by itself", optional=True
        )
        self.addParameter(path)
        self.addOutput(QgsProcessingOutputString("program", "Program"))
        self.addOutput(QgsProcessingOutputString("version", "Version"))

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Look for it, and say what was found."""
        try:
            given = self.parameterAsFile(parameters, "program", context)
            if given:
                self.owner.choose(given)
        except (program.ProgramError, ValueError) as error:
            raise QgsProcessingException(str(error)) from error
        self.owner.look(anew=True)
        if self.owner.trouble:
            raise QgsProcessingException(self.owner.trouble)
        # Not now: this algorithm is one of those that are made anew.
        QTimer.singleShot(0, self.owner.refreshAlgorithms)
        version = self.owner.said["leakgeo"]
        feedback.pushInfo(f"leakgeo {version} is at {self.owner.executable}. Its steps are in the "
                          "toolbox.")  # fmt: skip
        return {"program": str(self.owner.executable), "version": version}

"""The algorithm that finds leakgeo, or shows how to install it."""

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
from .messages import CAUTION


class SetUpAlgorithm(QgsProcessingAlgorithm):
    """Algorithm that finds leakgeo and reloads its steps."""

    def __init__(self, provider):
        super().__init__()
        self.parent_provider = provider

    def createInstance(self):  # noqa: N802 - names of the QGIS API, here and below
        """Return a new instance, as QGIS needs for each run."""
        return SetUpAlgorithm(self.parent_provider)

    def flags(self):
        """Return flags with which QGIS runs it in the main thread, where the provider is."""
        return super().flags() | self.FlagNoThreading

    def name(self):
        """Return the name."""
        return "set_up"

    def displayName(self):  # noqa: N802
        """Return the name shown in the toolbox."""
        return "Set up leakgeo"

    def icon(self):
        """Return the icon."""
        from .step import ICON

        return QIcon(ICON)

    def shortHelpString(self):  # noqa: N802
        """Return how to install leakgeo, and what is wrong now."""
        catalog = self.parent_provider.catalog
        state = self.parent_provider.problem
        if catalog:
            state = f"leakgeo {catalog['leakgeo']} is at {self.parent_provider.executable}."
        about = (
            "leakgeo runs in its own Python environment, outside QGIS. This algorithm finds it and "
            "adds its steps to the toolbox."
        )
        texts = (about, state, program.install_instructions(), CAUTION)
        return "".join(f"<p>{escape(text)}</p>" for text in texts)

    def initAlgorithm(self, configuration=None):  # noqa: N802
        """Declare the path as parameter, and path and version as outputs."""
        path = QgsProcessingParameterFile(
            "program", "Path of the program leakgeo, if not found automatically", optional=True
        )
        self.addParameter(path)
        self.addOutput(QgsProcessingOutputString("program", "Program"))
        self.addOutput(QgsProcessingOutputString("version", "Version"))

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Find leakgeo, and report path and version."""
        try:
            given = self.parameterAsFile(parameters, "program", context)
            if given:
                self.parent_provider.set_program(given)
        except (program.ProgramError, ValueError) as error:
            raise QgsProcessingException(str(error)) from error
        self.parent_provider.find_leakgeo(clear_cache=True)
        if self.parent_provider.problem:
            raise QgsProcessingException(self.parent_provider.problem)
        # Later, as this algorithm is among those that are replaced.
        QTimer.singleShot(0, self.parent_provider.refreshAlgorithms)
        version, path = self.parent_provider.catalog["leakgeo"], self.parent_provider.executable
        feedback.pushInfo(f"leakgeo {version} is at {path}. Its steps are in the toolbox.")
        return {"program": str(path), "version": version}

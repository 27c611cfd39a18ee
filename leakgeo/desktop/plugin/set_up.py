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
from .help_pages import help_url
from .language import tr
from .messages import caution


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
        return tr("Set up leakgeo")

    def icon(self):
        """Return the icon."""
        from .step import ICON

        return QIcon(ICON)

    def shortHelpString(self):  # noqa: N802
        """Return how to install leakgeo, and what is wrong now."""
        catalog = self.parent_provider.catalog
        state = self.parent_provider.problem
        if catalog:
            state = self._place()
        about = tr(
            "leakgeo runs in its own Python environment, outside QGIS. This algorithm finds it and "
            "adds its steps to the toolbox."
        )
        texts = (about, state, program.install_instructions(), caution())
        return "".join(f"<p>{escape(text)}</p>" for text in texts)

    def _place(self):
        """Return where leakgeo is, and its version."""
        provider = self.parent_provider
        return tr("leakgeo {version} is at {program}.").format(
            version=provider.catalog["leakgeo"], program=provider.executable
        )

    def helpUrl(self):  # noqa: N802
        """Return the URL of its part of the help page."""
        return help_url(part=self.name())

    def initAlgorithm(self, configuration=None):  # noqa: N802
        """Declare the path as parameter, and path and version as outputs."""
        path = QgsProcessingParameterFile(
            "program", tr("Path of the program leakgeo, if not found automatically"), optional=True
        )
        self.addParameter(path)
        self.addOutput(QgsProcessingOutputString("program", tr("Program")))
        self.addOutput(QgsProcessingOutputString("version", tr("Version")))

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
        feedback.pushInfo(f"{self._place()} {tr('Its steps are in the toolbox.')}")
        provider = self.parent_provider
        return {"program": str(provider.executable), "version": provider.catalog["leakgeo"]}

"""The algorithm that writes an empty job with its project, to draw and type into."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingException,
    QgsProcessingOutputString,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterCrs,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFolderDestination,
    QgsProject,
)
from qgis.PyQt.QtCore import QTimer
from qgis.PyQt.QtGui import QIcon

from .child import Canceled, run
from .help_pages import help_url
from .language import language_of_leakgeo, tr
from .messages import caution
from .toolbox import place_of_new_job

# In the order of the choices.
_UNITS = ("", "us", "si")


def about():
    """Return what the algorithm writes, and what follows."""
    return tr(
        "Writes a folder with an empty job (job.gpkg) and a project with forms for stops, "
        "fittings, pipes and utilities (job.qgs). Draw the pipe into Routes, then tap each stop "
        "and type its level. Then run the whole chain: its dialog proposes the job of the open "
        "project."
    )


class NewJobAlgorithm(QgsProcessingAlgorithm):
    """Algorithm that writes a field project, and opens it."""

    def __init__(self, executable):
        super().__init__()
        self.executable = executable

    def createInstance(self):  # noqa: N802 - names of the QGIS API, here and below
        """Return a new instance, as QGIS needs for each run."""
        return NewJobAlgorithm(self.executable)

    def name(self):
        """Return the name."""
        return "new_job"

    def displayName(self):  # noqa: N802
        """Return the name shown in the toolbox."""
        return place_of_new_job().title

    def group(self):
        """Return the heading in the toolbox."""
        return place_of_new_job().group

    def groupId(self):  # noqa: N802
        """Return the id of the heading."""
        return place_of_new_job().group_id

    def icon(self):
        """Return the icon."""
        from .step import ICON

        return QIcon(ICON)

    def shortDescription(self):  # noqa: N802
        """Return what it does, in a sentence."""
        return tr("Write an empty job with a project to draw and type into.")

    def shortHelpString(self):  # noqa: N802
        """Return what it writes, and the caution."""
        return f"<p>{about()}</p><p>{caution()}</p>"

    def helpUrl(self):  # noqa: N802
        """Return the URL of its part of the help page."""
        return help_url(part=self.name())

    def initAlgorithm(self, configuration=None):  # noqa: N802
        """Declare folder, CRS and units, and the project as output."""
        self.addParameter(QgsProcessingParameterCrs("crs", tr("CRS of the job"), "ProjectCrs"))
        self.addParameter(QgsProcessingParameterEnum(
            "units", tr("Units that people type and read"),
            [tr("As the CRS"), tr("Feet and inches"), tr("Metres")], defaultValue=0,
        ))  # fmt: skip
        self.addParameter(QgsProcessingParameterBoolean(
            "open", tr("Open the project, if the current one has no unsaved changes"), True
        ))  # fmt: skip
        self.addParameter(QgsProcessingParameterFolderDestination("out", tr("Folder of the job")))
        self.addOutput(QgsProcessingOutputString("project", tr("Project")))
        self.addOutput(QgsProcessingOutputString("job", tr("Job")))

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Write job and project."""
        out = Path(self.parameterAsString(parameters, "out", context))
        crs = self.parameterAsCrs(parameters, "crs", context)
        units = _UNITS[self.parameterAsEnum(parameters, "units", context)]
        self.opens = self.parameterAsBoolean(parameters, "open", context)
        command = [str(self.executable), "template", str(out), "--project", "--json",
                   "--crs", crs.authid() or crs.toWkt(),
                   "--language", language_of_leakgeo(self.provider().catalog)]  # fmt: skip
        command += ["--units", units] if units else []
        feedback.pushCommandInfo(" ".join(command))
        self._run(command, feedback)
        self.project = out / "job.qgs"
        return {"out": str(out), "project": str(self.project), "job": str(out / "job.gpkg")}

    @staticmethod
    def _run(command, feedback):
        """Run leakgeo; raise QgsProcessingException with its sentence if it fails."""
        scratch, texts = tempfile.mkdtemp(prefix="leakgeo-"), []

        def on_event(event):
            texts.append(event.get("message", "") if isinstance(event, dict) else event)

        try:
            code, _ = run(command, scratch, on_event, feedback.isCanceled)
        except Canceled as error:
            raise QgsProcessingException(tr("Stopped.")) from error
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
        if code != 0:
            ended = tr("It ended with exit code {code}.").format(code=code)
            raise QgsProcessingException("\n".join(filter(None, texts)) or ended)

    def postProcessAlgorithm(self, context, feedback):  # noqa: N802
        """Open the project in the main thread, unless unsaved changes would be lost."""
        from qgis.utils import iface

        if self.opens and iface is not None:
            if QgsProject.instance().isDirty():
                unsaved = tr("The current project has unsaved changes. Save it, then open {file}.")
                feedback.pushWarning(unsaved.format(file=self.project))
            else:
                # Later, as opening replaces layers that Processing still refers to.
                QTimer.singleShot(0, lambda: iface.addProject(str(self.project)))
        return {}

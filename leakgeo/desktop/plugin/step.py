"""A step of leakgeo as an algorithm: everything that is said of it comes from leakgeo itself."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingException,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterDefinition,
    QgsProcessingParameterNumber,
)
from qgis.PyQt.QtGui import QIcon

from . import handover
from .child import OutFolder, Stopped, run
from .loading import MOST_APART, Plan, load, open_faults
from .outputs import outputs_of
from .outputs import values as output_values
from .parameters import layer_parameter, step_parameters
from .values import options
from .words import help_of, sentence, tell, tell_faults, tell_lines

ICON = str(Path(__file__).with_name("icon.svg"))
LOAD, APART = "load_results", "lines_apart"


class StepAlgorithm(QgsProcessingAlgorithm):
    """One step, or `run` for all of them."""

    def __init__(self, executable, step, said):
        super().__init__()
        self.executable, self.step, self.said = executable, step, said
        self.sources, self.call = {}, []

    def createInstance(self):  # noqa: N802 - the host's names, here and below
        """Give another one, for a run of its own."""
        return StepAlgorithm(self.executable, self.step, self.said)

    def name(self):
        """Give the name of the step."""
        return self.step["name"]

    def displayName(self):  # noqa: N802
        """Give the name as people see it."""
        return "Run the whole chain" if self.name() == "run" else self.name().capitalize()

    def group(self):
        """Give the heading that it stands under."""
        return self.step["group"]

    def groupId(self):  # noqa: N802
        """Give the heading's id."""
        return self.step["group"].lower().replace(" ", "_")

    def shortDescription(self):  # noqa: N802
        """Say what it does in a sentence."""
        return self.step["summary"]

    def shortHelpString(self):  # noqa: N802
        """Say what it does, and what each parameter is."""
        return help_of(self.step, self.said["input_layers"])

    def icon(self):
        """Give the icon."""
        return QIcon(ICON)

    def svgIconPath(self):  # noqa: N802
        """Give the icon's file."""
        return ICON

    def initAlgorithm(self, configuration=None):  # noqa: N802
        """Declare layers, parameters and outputs, as leakgeo lists them."""
        for layer in self.said["input_layers"]:
            self.addParameter(layer_parameter(layer))
        for parameter in step_parameters(self.step):
            self.addParameter(parameter)
        for own in _own_parameters():
            self.addParameter(own)
        for output in outputs_of(self.step, self.said):
            self.addOutput(output)

    def prepareAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Take hold of the layers, where the host lets them be touched."""
        self.sources = handover.chosen(self, self.said["input_layers"], parameters, context)
        self.call = options(self, self.step, parameters, context)
        return True

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Hand the layers over, run leakgeo, and take in what it made."""
        out = self.parameterAsString(parameters, "out", context)
        folder = OutFolder(out)
        scratch = Path(tempfile.mkdtemp(prefix="leakgeo-"))
        try:
            self._run(parameters, context, feedback, scratch)
        except Stopped:
            self._tidy(folder, feedback)
            return {}
        except BaseException:
            folder.put_back()
            raise
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
        if self.parameterAsBoolean(parameters, LOAD, context):
            apart = self.parameterAsInt(parameters, APART, context)
            load(Plan(out, self.said, apart), f"leakgeo: {Path(out).name}", context)
        return {"out": out, **output_values(self.step, self.said, out)}

    def _run(self, parameters, context, feedback, scratch):
        job = scratch / "job.gpkg"
        mapping = parameters.get("mapping") and self.parameterAsFile(parameters, "mapping", context)
        counts = handover.write(self.sources, job, context, feedback.isCanceled, mapping)
        if feedback.isCanceled():
            raise Stopped
        told = ", ".join(f"{name} {count}" for name, count in counts.items())
        feedback.pushInfo(f"Handed over: {told}.")
        command = [str(self.executable), self.name(), str(job), "--json", *self.call]
        feedback.pushCommandInfo(" ".join(command))
        steps = self._steps_that_run()
        errors = []

        def heard(event):
            error = tell(feedback, event, steps)
            if error:
                errors.append(error)

        code, document = run(command, scratch, heard, feedback.isCanceled)
        try:
            self._judge(code, document, errors, feedback)
        except QgsProcessingException:
            open_faults(document.get("faults", []), context.project())
            raise

    def _tidy(self, folder, feedback):
        """Leave nothing of a run that was stopped, but for parts that it may go on from."""
        if "--resume" in self.call:
            feedback.pushInfo(f"Stopped. Its parts stay in {folder.path}: run it again to go on.")
            return
        folder.put_back()
        kept = "Nothing was written." if folder.is_as_it_was() else "The new results are in place."
        feedback.pushInfo(f"Stopped. {kept}")

    def _judge(self, code, document, errors, feedback):
        """Say what was found; stop where there is no result."""
        faults = document.get("faults", [])
        tell_faults(feedback, [f for f in faults if sentence(f) not in errors])
        if code not in (0, 1) or not document:
            said = "\n".join(errors) or f"leakgeo ended with code {code} and without a word."
            raise QgsProcessingException(said)
        tell_lines(feedback, document)
        feedback.setProgress(100)

    def _steps_that_run(self):
        """Give the names of the steps that progress is told of, in their order."""
        if self.name() != "run":
            return [self.name()]
        return [step["name"] for step in self.said["steps"] if step["name"] != "run"]


def _own_parameters():
    """Give those that are the host's own: what is opened, and how."""
    opened = QgsProcessingParameterBoolean(LOAD, "Open the results, drawn as they are meant", True)
    opened.setHelp("Marks on top, then a group for each line, then tables with the faults.")
    apart = QgsProcessingParameterNumber(
        APART, "Lines that get a group of their own", QgsProcessingParameterNumber.Integer,
        MOST_APART, False, 0, 100,
    )  # fmt: skip
    apart.setHelp("The most urgent ones; all others share one group.")
    apart.setFlags(apart.flags() | QgsProcessingParameterDefinition.FlagAdvanced)
    return opened, apart

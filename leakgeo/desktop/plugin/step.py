"""A Processing algorithm for a step, built from the catalog that leakgeo prints."""

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

from .child import Canceled, OutFolder, run
from .help_pages import help_url
from .job_export import chosen_sources, export_job
from .language import tr
from .loading import MAX_LINE_GROUPS, LoadPlan, load, open_faults
from .messages import fault_text, help_html, show_event, show_faults, show_lines
from .options import command_options
from .outputs import output_definitions, output_values
from .parameters import layer_parameter, step_parameters

ICON = str(Path(__file__).with_name("icon.svg"))
LOAD, LINE_GROUPS = "load_results", "lines_apart"


class StepAlgorithm(QgsProcessingAlgorithm):
    """One step, or `run` for all steps."""

    def __init__(self, executable, step, catalog):
        super().__init__()
        self.executable, self.step, self.catalog = executable, step, catalog
        self.sources, self.options = {}, []

    def createInstance(self):  # noqa: N802 - names of the QGIS API, here and below
        """Return a new instance, as QGIS needs for each run."""
        return StepAlgorithm(self.executable, self.step, self.catalog)

    def name(self):
        """Return the name of the step."""
        return self.step["name"]

    def displayName(self):  # noqa: N802
        """Return the name shown in the toolbox."""
        return "Run the whole chain" if self.name() == "run" else self.name().capitalize()

    def group(self):
        """Return the heading in the toolbox."""
        return self.step["group"]

    def groupId(self):  # noqa: N802
        """Return the id of the heading."""
        return self.step["group"].lower().replace(" ", "_")

    def shortDescription(self):  # noqa: N802
        """Return what the step does, in a sentence."""
        return self.step["summary"]

    def shortHelpString(self):  # noqa: N802
        """Return the help of the step and its parameters, as HTML."""
        return help_html(self.step, self.catalog["input_layers"])

    def helpUrl(self):  # noqa: N802
        """Return the URL of the help page of the step."""
        return help_url(self.name())

    def icon(self):
        """Return the icon."""
        return QIcon(ICON)

    def svgIconPath(self):  # noqa: N802
        """Return the path of the icon."""
        return ICON

    def initAlgorithm(self, configuration=None):  # noqa: N802
        """Declare layers, parameters and outputs from the catalog."""
        for layer in self.catalog["input_layers"]:
            self.addParameter(layer_parameter(layer))
        for parameter in step_parameters(self.step):
            self.addParameter(parameter)
        for parameter in _loading_parameters():
            self.addParameter(parameter)
        for output in output_definitions(self.step, self.catalog):
            self.addOutput(output)

    def prepareAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Read layers and options in the main thread, where QGIS allows access to layers."""
        self.sources = chosen_sources(self, self.catalog["input_layers"], parameters, context)
        self.options = command_options(self, self.step, parameters, context)
        return True

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Export the layers, run leakgeo, and open the results."""
        out = self.parameterAsString(parameters, "out", context)
        folder = OutFolder(out)
        scratch = Path(tempfile.mkdtemp(prefix="leakgeo-"))
        try:
            self._run(parameters, context, feedback, scratch)
        except Canceled:
            self._clean_up(folder, feedback)
            return {}
        except BaseException:
            folder.restore()
            raise
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
        if self.parameterAsBoolean(parameters, LOAD, context):
            line_groups = self.parameterAsInt(parameters, LINE_GROUPS, context)
            load(LoadPlan(out, self.catalog, line_groups), f"leakgeo: {Path(out).name}", context)
        return {"out": out, **output_values(self.step, self.catalog, out)}

    def _run(self, parameters, context, feedback, scratch):
        job = scratch / "job.gpkg"
        mapping = parameters.get("mapping") and self.parameterAsFile(parameters, "mapping", context)
        counts = export_job(self.sources, job, context, feedback.isCanceled, mapping)
        if feedback.isCanceled():
            raise Canceled
        exported = ", ".join(f"{name} {count}" for name, count in counts.items())
        feedback.pushInfo(f"Features exported: {exported}.")
        command = [str(self.executable), self.name(), str(job), "--json", *self.options]
        feedback.pushCommandInfo(" ".join(command))
        steps = self._step_names()
        errors = []

        def on_event(event):
            error = show_event(feedback, event, steps)
            if error:
                errors.append(error)

        code, document = run(command, scratch, on_event, feedback.isCanceled)
        try:
            self._report(code, document, errors, feedback)
        except QgsProcessingException:
            open_faults(document.get("faults", []), context.project())
            raise

    def _clean_up(self, folder, feedback):
        """Remove the files of a canceled run, except for chunks that ``--resume`` starts from."""
        if "--resume" in self.options:
            feedback.pushInfo(
                f"Stopped. Finished chunks are kept in {folder.path}: run it again to continue."
            )
            return
        folder.restore()
        state = "Nothing was written." if folder.is_unchanged() else "The results were written."
        feedback.pushInfo(f"Stopped. {state}")

    def _report(self, code, document, errors, feedback):
        """Show faults and lines in the log; raise QgsProcessingException if there is no result."""
        faults = document.get("faults", [])
        show_faults(feedback, [f for f in faults if fault_text(f) not in errors])
        if code not in (0, 1) or not document:
            silent = tr(
                "leakgeo ended with exit code {code} and no message. Run the command in the log in "
                "a terminal."
            )
            raise QgsProcessingException("\n".join(errors) or silent.format(code=code))
        show_lines(feedback, document)
        feedback.setProgress(100)

    def _step_names(self):
        """Return the names of the steps of the run, in order."""
        if self.name() != "run":
            return [self.name()]
        return [step["name"] for step in self.catalog["steps"] if step["name"] != "run"]


def _loading_parameters():
    """Return the parameters of the plugin: whether and how results are opened."""
    load_results = QgsProcessingParameterBoolean(LOAD, "Open the results with their styles", True)
    load_results.setHelp("Marks on top, then groups of lines, then tables, faults included.")
    line_groups = QgsProcessingParameterNumber(
        LINE_GROUPS, "Number of lines with a separate group", QgsProcessingParameterNumber.Integer,
        MAX_LINE_GROUPS, False, 0, 100,
    )  # fmt: skip
    line_groups.setHelp("The most urgent lines have a group each; the others share one.")
    line_groups.setFlags(line_groups.flags() | QgsProcessingParameterDefinition.FlagAdvanced)
    return load_results, line_groups

"""A Processing algorithm for a command, built from the catalog that leakgeo prints."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingException,
    QgsProcessingParameterBoolean,
)
from qgis.PyQt.QtGui import QIcon

from .child import Canceled, OutFolder, run
from .defaults import propose
from .help_pages import help_url
from .job_input import JobInput
from .language import tr, tr_catalog
from .loading import load, open_faults, refresh
from .messages import (
    fault_text,
    help_html,
    nothing_done,
    show_event,
    show_faults,
    show_lines,
)
from .options import command_options
from .outputs import fault_counts, output_definitions, output_values, writes_result
from .parameters import step_parameters
from .result_file import ResultFile

ICON = str(Path(__file__).with_name("icon.svg"))
LOAD = "load_results"


class StepAlgorithm(QgsProcessingAlgorithm):
    """One step, `run` for all steps, or a tool such as `check`.

    Parameters
    ----------
    executable : pathlib.Path
    step : dict
        The command of the catalog.
    catalog : dict
    place : Place
        Where the toolbox has it.
    """

    def __init__(self, executable, step, catalog, place):
        super().__init__()
        self.executable, self.step, self.catalog = executable, step, catalog
        self.place = place
        has_job = any(p["kind"] == "job" for p in step["parameters"])
        self.job = JobInput(step, catalog) if has_job else None
        self.out, self.options, self.result = "", [], None

    def createInstance(self):  # noqa: N802 - names of the QGIS API, here and below
        """Return a new instance, as QGIS needs for each run."""
        return StepAlgorithm(self.executable, self.step, self.catalog, self.place)

    def name(self):
        """Return the name of the step."""
        return self.step["name"]

    def displayName(self):  # noqa: N802
        """Return the name shown in the toolbox."""
        return self.place.title

    def group(self):
        """Return the heading in the toolbox."""
        return self.place.group

    def groupId(self):  # noqa: N802
        """Return the id of the heading."""
        return self.place.group_id

    def shortDescription(self):  # noqa: N802
        """Return what the step does, in a sentence."""
        return tr_catalog(self.step["summary"])

    def shortHelpString(self):  # noqa: N802
        """Return the help of the step and its parameters, as HTML."""
        return help_html(self.step, self.job.layers if self.job else [])

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
        """Declare job file, layers, parameters and outputs from the catalog."""
        for parameter in self.job.parameters() if self.job else ():
            self.addParameter(parameter)
        for parameter in step_parameters(self.step):
            self.addParameter(parameter)
        for parameter in _loading_parameters(self.step):
            self.addParameter(parameter)
        for output in output_definitions(self.step, self.catalog):
            self.addOutput(output)

    def createCustomParametersWidget(self, parent):  # noqa: N802
        """Propose values from the open project; the dialog is that of QGIS."""
        propose(self, self.job.layers if self.job else [])

    def checkParameterValues(self, parameters, context):  # noqa: N802
        """Return whether the values can be used, and what to do if not."""
        problem = self.job.problem(parameters) if self.job else ""
        return (False, problem) if problem else super().checkParameterValues(parameters, context)

    def prepareAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Read layers and options in the main thread, where QGIS allows access to layers."""
        if self.job:
            self.job.read(self, parameters, context)
        values = dict(parameters)
        if self.parameterDefinition("out") is not None:
            # Once, as each call makes another temporary folder.
            self.out = values["out"] = self.parameterAsFileOutput(parameters, "out", context)
        self.options = command_options(self, self.step, values, context)
        return True

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        """Export the layers, run leakgeo, and read the project of its results."""
        folder = OutFolder(self.out) if writes_result(self.step) else None
        scratch = Path(tempfile.mkdtemp(prefix="leakgeo-"))
        opens = self.parameterAsBoolean(parameters, LOAD, context)
        try:
            document = self._run(context, feedback, scratch, opens)
        except Canceled:
            self._clean_up(folder, feedback)
            return {}
        except BaseException:
            if folder:
                folder.restore()
            raise
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
        if not folder:
            return {"out": self.out} if self.out else fault_counts(document)
        if opens:
            self.result = ResultFile(self.out)
        return {"out": self.out, **output_values(self.step, self.catalog, self.out)}

    def postProcessAlgorithm(self, context, feedback):  # noqa: N802
        """Let open layers show the new results, and open others."""
        if writes_result(self.step):
            refresh(self.out, context)
        if self.result:
            load(self.result, context)
        return {}

    def _run(self, context, feedback, scratch, opens):
        job = [self.job.write(scratch, context, feedback)] if self.job else []
        if feedback.isCanceled():
            raise Canceled
        command = [str(self.executable), self.name(), *job, "--json", *self.options]
        feedback.pushCommandInfo(" ".join(command))
        steps = self._step_names()
        errors = []

        def on_event(event):
            error = show_event(feedback, event, steps)
            if error:
                errors.append(error)

        code, document = run(command, scratch, on_event, feedback.isCanceled)
        faults = document.get("faults", [])
        try:
            self._report(code, document, errors, feedback)
        except QgsProcessingException:
            open_faults(faults, context.project())
            raise
        if self.name() == "check" and opens:
            open_faults(faults, context.project())
        return document

    def _clean_up(self, folder, feedback):
        """Remove the files of a canceled run, except for chunks that ``--resume`` starts from."""
        if "--resume" in self.options:
            kept = tr("Stopped. Finished chunks are kept in {folder}: run it again to continue.")
            feedback.pushInfo(kept.format(folder=folder.path))
            return
        if folder is None:
            feedback.pushInfo(tr("Stopped."))
            return
        folder.restore()
        nothing, written = tr("Nothing was written."), tr("The results were written.")
        feedback.pushInfo(f"{tr('Stopped.')} {nothing if folder.is_unchanged() else written}")

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
        if writes_result(self.step):
            reasons = nothing_done(code, document, self.step["makes"])
            if reasons:
                where = tr("All faults are in {folder}.").format(folder=self.out)
                raise QgsProcessingException(f"{reasons} {where}")
            show_lines(feedback, document)
        elif self.name() == "mapping":
            draft = tr("A draft is in {file}. Correct it, then run Check with it.")
            feedback.pushInfo(draft.format(file=self.out))
        feedback.setProgress(100)

    def _step_names(self):
        """Return the names of the steps of the run, in order."""
        if self.name() not in ("run", "demo"):
            return [self.name()]
        return [step["name"] for step in self.catalog["steps"] if step["name"] != "run"]


def _loading_parameters(step):
    """Return the parameters of the plugin: whether and how results are opened."""
    if not writes_result(step):
        opens = QgsProcessingParameterBoolean(LOAD, tr("Open the faults as a table"), True)
        return [opens] if step["name"] == "check" else []
    opens = QgsProcessingParameterBoolean(LOAD, tr("Open the results in the project"), True)
    opens.setHelp(tr("Layers, map themes, bookmarks and dig sheets, as in result.qgz."))
    return [opens]

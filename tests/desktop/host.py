"""Script for the Python of QGIS: it starts QGIS without a window, and runs scenes.

Called as ``python3 host.py PROFILE``. Each line of stdin is a scene as JSON: its name, its
arguments, and the file that its answer is written to as JSON, before `ANSWERED` is printed. Only
packages of QGIS may be imported here.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from pathlib import Path

from qgis.core import (
    QgsApplication,
    QgsProcessingContext,
    QgsProcessingFeatureSourceDefinition,
    QgsProcessingFeedback,
    QgsProcessingModelAlgorithm,
    QgsProcessingModelChildAlgorithm,
    QgsProcessingModelChildParameterSource,
    QgsProcessingModelParameter,
    QgsProcessingParameterFeatureSource,
    QgsProject,
    QgsSettings,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QCoreApplication, QLocale

SCENES = {}
ANSWERED = "answered"


def scene(function):
    """Register a scene by its name."""
    SCENES[function.__name__] = function
    return function


class Log(QgsProcessingFeedback):
    """Feedback that keeps messages, and cancels the run at a progress text."""

    def __init__(self, stop_at=None):
        super().__init__(False)
        self.messages, self.percentages, self.stop_at = [], [], stop_at
        self.progressChanged.connect(self.percentages.append)

    def pushInfo(self, text):  # noqa: N802
        """Keep the message."""
        self.messages.append(text)

    def pushWarning(self, text):  # noqa: N802
        """Keep the message."""
        self.messages.append(text)

    def setProgressText(self, text):  # noqa: N802
        """Keep the text; cancel if it begins with `stop_at`."""
        self.messages.append(text)
        if self.stop_at is not None and text.startswith(self.stop_at):
            # Later and from another thread, as the Cancel button does.
            threading.Timer(0.3, self.cancel).start()


def layer_of(address, name):
    """Open a layer and add it to the project."""
    layer = QgsVectorLayer(address, name, "ogr")
    assert layer.isValid(), address
    QgsProject.instance().addMapLayer(layer)
    return layer


def go(algorithm, parameters, feedback=None):
    """Run an algorithm as scripts do; return results, error and messages."""
    import processing

    feedback = feedback or Log()
    try:
        results = processing.run(algorithm, parameters, feedback=feedback)
        error = None
    except Exception as failed:
        results, error = {}, str(failed)
    return {"results": results, "error": error, "messages": feedback.messages,
            "percentages": feedback.percentages}  # fmt: skip


@scene
def nothing_done(code, document, made):
    """Return why a run gave no result."""
    from leakgeo_desktop import messages

    return messages.nothing_done(code, document, made)


@scene
def spoken(locale, numbers="C"):
    """Return texts of the plugin in a language of QGIS with its numbers, and that of leakgeo."""
    from leakgeo_desktop import language
    from leakgeo_desktop.help_pages import help_url
    from leakgeo_desktop.set_up import SetUpAlgorithm

    settings = QgsSettings()
    settings.setValue("locale/overrideFlag", True)
    settings.setValue("locale/userLocale", locale)
    QLocale.setDefault(QLocale(numbers))
    translator = language.install_translator()
    provider = QgsApplication.processingRegistry().providerById("leakgeo")
    try:
        return {
            "label": SetUpAlgorithm(provider).displayName(),
            "problem": _problem_of("/nowhere"),
            "leakgeo": language.language_of_leakgeo(provider.catalog),
            "choice": _default_of(provider, "language"),
            "toolbox": _words_of(provider.algorithm("clearance").create()),
            "help": [help_url(), help_url("locate"), help_url("new_job")],
            "number": language.local_number("0.25 %"),
        }
    finally:
        if translator is not None:
            QCoreApplication.removeTranslator(translator)
        settings.remove("locale")
        QLocale.setDefault(QLocale("C"))


def _words_of(algorithm):
    day = algorithm.parameterDefinition("dig_date")
    first = algorithm.shortDescription().split()[0]
    return [
        first,
        day.description(),
        day.help(),
        algorithm.shortHelpString().replace("&#x27;", "'"),
    ]


def _default_of(provider, name):
    algorithm = provider.algorithm("run").create()  # kept, as it owns the definition
    return algorithm.parameterDefinition(name).defaultValue()


def _problem_of(path):
    from leakgeo_desktop.program import ProgramError, find

    try:
        return find(path)
    except ProgramError as error:
        return str(error)


@scene
def listing():
    """Return provider and algorithms as QGIS lists them."""
    provider = QgsApplication.processingRegistry().providerById("leakgeo")
    return {
        "provider": [provider.name(), provider.longName(), provider.warningMessage()],
        "icon": not provider.icon().isNull() and not provider.icon().pixmap(16, 16).isNull(),
        "algorithms": {
            algorithm.name(): _algorithm(algorithm) for algorithm in provider.algorithms()
        },
    }


def _algorithm(algorithm):
    flags = int(algorithm.flags())
    return {
        "title": algorithm.displayName(), "group": algorithm.group(),
        "help": algorithm.shortHelpString(),
        "summary": algorithm.shortDescription(), "batch": bool(flags & algorithm.FlagSupportsBatch),
        "cancel": bool(flags & algorithm.FlagCanCancel),
        "parameters": [_parameter(p) for p in algorithm.parameterDefinitions()],
        "outputs": [[o.name(), o.type(), o.description()] for o in algorithm.outputDefinitions()],
    }  # fmt: skip


def _parameter(p):
    values = p.toVariantMap()
    values = {k: v for k, v in values.items() if isinstance(v, (str, int, float, bool, list))}
    return {**values, "type": p.type(), "help": p.help(), "label": p.description(),
            "default": p.defaultValue(), "optional": bool(p.flags() & p.FlagOptional)}  # fmt: skip


@scene
def run(algorithm, parameters):
    """Run an algorithm."""
    return go(algorithm, parameters)


@scene
def batch(algorithm, rows):
    """Run an algorithm for each row, as the batch panel of QGIS does."""
    from processing.gui.AlgorithmExecutor import execute

    made = QgsApplication.processingRegistry().createAlgorithmById(algorithm)
    context = QgsProcessingContext()
    done = [execute(made, row, context, Log(), catch_exceptions=False) for row in rows]
    return [{"fine": fine, "results": results} for fine, results in done]


@scene
def selected(job, lines, parameters):
    """Run `profile` on the features of some lines, selected in QGIS; the job may be Shapefiles."""
    line_ids = ", ".join(f"'{line}'" for line in lines)
    for name in ("routes", "readings"):
        packed = job.endswith(".gpkg")
        layer = layer_of(f"{job}|layername={name}" if packed else f"{job}/{name}.shp", name)
        layer.selectByExpression(f'"line_id" IN ({line_ids})')
        parameters[name] = QgsProcessingFeatureSourceDefinition(layer.id(), True)
    return go("leakgeo:profile", parameters)


@scene
def proposed(algorithm, layers):
    """Open layers, each with address, name and filter; return what the dialog of `run` proposes."""
    for address, name, subset in layers:
        layer_of(address, name).setSubsetString(subset)
    made = QgsApplication.processingRegistry().createAlgorithmById(algorithm)
    plain = {p.name(): p.defaultValue() for p in made.parameterDefinitions()}
    assert made.createCustomParametersWidget(None) is None
    found = {p.name(): p.defaultValue() for p in made.parameterDefinitions()}
    named = QgsProject.instance().mapLayers()

    def shown(value):
        if isinstance(value, list):
            return [shown(one) for one in value]
        return named[value].name() if value in named else value

    return {name: shown(value) for name, value in found.items() if value != plain[name]}


@scene
def edited_job(job, line, reading, parameters):
    """Run `profile` on a job file whose reading is deleted in the project, and not saved."""
    layer = layer_of(f"{job}|layername=readings", "readings")
    layer.startEditing()
    layer.deleteFeatures([f.id() for f in layer.getFeatures() if f["reading_id"] == reading])
    return go("leakgeo:profile", {**parameters, "job_file": job, "lines": line})


@scene
def edited(job, line, reading, level, parameters):
    """Run `profile` on layers in memory, the readings with unsaved edits."""
    for name in ("routes", "readings"):
        layer = layer_of(f"{job}|layername={name}", name)
        copy = layer.materialize(_request(line))
        copy.setName(f"copy of {name}")
        QgsProject.instance().addMapLayer(copy)
        parameters[name] = copy.id()
        if name == "readings":
            copy.startEditing()
            found = next(f for f in copy.getFeatures() if f["reading_id"] == reading)
            column = copy.fields().lookupField("sound_level")
            copy.changeAttributeValue(found.id(), column, level)
            gone = [f.id() for f in copy.getFeatures() if f["reading_id"].endswith("/001")]
            copy.deleteFeatures(gone)
    return go("leakgeo:profile", parameters)


@scene
def unsaved(job, changed, gone):
    """Edit the readings of a job: one changed, one deleted, one added; return what is not saved."""
    from leakgeo_desktop.job_layers import JobLayers, job_of_project
    from qgis.core import QgsFeature

    layer, watched, told = layer_of(f"{job}|layername=readings", "readings"), JobLayers(), []
    watched.use(job_of_project())
    watched.changed.connect(lambda: told.append("changed"))
    watched.saved.connect(told.append)
    rows = {f["reading_id"]: f for f in layer.getFeatures()}
    layer.startEditing()
    column = layer.fields().lookupField("sound_level")
    layer.changeAttributeValue(rows[changed].id(), column, 77.0)
    layer.deleteFeature(rows[gone].id())
    new = QgsFeature(rows[changed])
    new.setAttribute("fid", None)
    new.setAttribute("reading_id", "new")
    layer.addFeature(new)
    found, deleted = watched.unsaved()
    edited = list(told)
    saved = layer.commitChanges()
    return {"rows": found, "deleted": deleted, "edited": edited, "saved": saved,
            "told": told[len(edited):], "left": watched.unsaved(), "job": watched.path}  # fmt: skip


def _request(line):
    from qgis.core import QgsFeatureRequest

    return QgsFeatureRequest().setFilterExpression(f"\"line_id\" = '{line}'")


@scene
def stopped(algorithm, parameters, stop_at):
    """Cancel a run during a step."""
    return go(algorithm, parameters, Log(stop_at))


@scene
def model(job, out, line, buffered):
    """Run a model of a step and an algorithm of QGIS."""
    made = QgsProcessingModelAlgorithm("marks around", "leakgeo")
    child = QgsProcessingModelChildAlgorithm("leakgeo:locate")
    child.setChildId("locate")
    for name in ("routes", "readings"):
        made.addModelParameter(
            QgsProcessingParameterFeatureSource(name, name), QgsProcessingModelParameter(name)
        )
        source = QgsProcessingModelChildParameterSource.fromModelParameter(name)
        child.addParameterSources(name, [source])
    fixed = QgsProcessingModelChildParameterSource.fromStaticValue
    child.addParameterSources("lines", [fixed(line)])
    child.addParameterSources("out", [fixed(out)])
    made.addChildAlgorithm(child)
    around = QgsProcessingModelChildAlgorithm("native:buffer")
    around.setChildId("around")
    marks = QgsProcessingModelChildParameterSource.fromChildOutput("locate", "marks")
    around.addParameterSources("INPUT", [marks])
    around.addParameterSources("DISTANCE", [fixed(2)])
    around.addParameterSources("OUTPUT", [fixed(buffered)])
    made.addChildAlgorithm(around)
    sources = {name: f"{job}|layername={name}" for name in ("routes", "readings")}
    context = QgsProcessingContext()
    context.setProject(QgsProject.instance())
    results, fine = made.run(sources, context, Log(), catchExceptions=False)
    return {"fine": fine, "results": {str(k): str(v) for k, v in results.items()},
            "opens": [one.name for one in context.layersToLoadOnCompletion().values()]}  # fmt: skip


@scene
def output_layers(step, out):
    """Return the layers that a model gets from a step: rows, CRS and type of each."""
    from leakgeo_desktop.outputs import output_name, output_values
    from qgis.core import QgsProcessingUtils, QgsWkbTypes

    catalog, found = QgsApplication.processingRegistry().providerById("leakgeo").catalog, {}
    (step,) = [one for one in catalog["steps"] if one["name"] == step]
    context, values = QgsProcessingContext(), output_values(step, catalog, out)
    for product in step["makes"]:
        value = values[output_name(product, {p["name"] for p in step["parameters"]})]
        layer = QgsProcessingUtils.mapLayerFromString(value or "", context)
        found[product] = layer and [layer.featureCount(), layer.crs().authid(),
                                    QgsWkbTypes.displayString(layer.wkbType())]  # fmt: skip
    return found


@scene
def loaded(parameters):
    """Run and open the results as the toolbox does, in an empty project; return what it has."""
    import processing

    processing.runAndLoadResults("leakgeo:run", parameters, feedback=Log())
    for _ in range(5):
        QgsApplication.processEvents()
    return _told()


@scene
def placed(actions):
    """Act on the open project; return what it has after each action that has a name, by the name.

    An action is ``[KIND, PATH, NAME]``: "by hand" opens a project, "by plugin" a folder; "outside"
    replaces files that are open by those of a folder; "user" adds layers of a file, a map theme, a
    layout and a bookmark.
    """
    from leakgeo_desktop.opening import open_result
    from leakgeo_desktop.result_file import ResultFile

    project, told = QgsProject.instance(), {}
    for kind, path, name in actions:
        if kind == "by hand":
            assert project.read(path)
        elif kind == "by plugin":
            open_result(project, ResultFile(path))
        elif kind == "outside":
            for file in Path(path).iterdir():
                file.replace(Path(project.fileName()).parent / file.name)
        else:
            _add_of_user(project, path)
        # QGIS removes layers without a node in the next round of events.
        for _ in range(3):
            QgsApplication.processEvents()
        if name:
            told[name] = _told()
    return told


def _add_of_user(project, path):
    """Add a layer to the group of marks and on top, and what the user made of the sheet."""
    from qgis.core import QgsBookmark, QgsMapThemeCollection

    marks = project.mapLayer("leakgeo_marks")
    inner = QgsVectorLayer(f"{path}|layername=readings", "mine", "ogr")
    project.addMapLayer(inner, False)
    project.layerTreeRoot().findLayer(marks.id()).parent().addLayer(inner)
    project.addMapLayer(QgsVectorLayer(f"{path}|layername=readings", "on top", "ogr"))
    (sheet,) = project.layoutManager().layouts()
    project.layoutManager().duplicateLayout(sheet, "my sheet")
    record = QgsMapThemeCollection.MapThemeRecord()
    record.addLayerRecord(QgsMapThemeCollection.MapThemeLayerRecord(marks))
    project.mapThemeCollection().insert("mine", record)
    mine = QgsBookmark()
    mine.setName("mine")
    project.bookmarkManager().addBookmark(mine)


def _told():
    """Return what the project has: tree, layers and their order, layouts, map themes and more."""
    project = QgsProject.instance()
    root, themes = project.layerTreeRoot(), project.mapThemeCollection()
    layers = project.mapLayers()
    return {
        "tree": _tree(root),
        "layers": {name: [layer.name(), layer.source(), layer.featureCount(), layer.isValid()]
                   for name, layer in layers.items()},
        "order": [layer.id() for layer in root.layerOrder()],
        "cards": {name: [row["card"] for row in layer.getFeatures()]
                  for name, layer in layers.items() if "card" in layer.fields().names()},
        "layouts": {one.name(): _first_page(one) for one in project.layoutManager().layouts()},
        "themes": {name: sorted(themes.mapThemeVisibleLayerIds(name))
                   for name in themes.mapThemes()},
        "bookmarks": [[one.id(), one.group(), one.name(), one.extent().asWktPolygon()]
                      for one in project.bookmarkManager().bookmarks() if one.name() != "mine"],
        "of_user": [one.name() for one in project.bookmarkManager().bookmarks()].count("mine"),
        "caution": project.readEntry("CopyrightLabel", "/Label")[0],
        "time": project.timeSettings().temporalRange().begin(), "crs": project.crs().authid(),
    }  # fmt: skip


def _first_page(layout):
    """Return coverage layer, theme of the map, and texts of the first page of a layout."""
    from qgis.core import QgsLayoutItemLabel, QgsLayoutItemMap

    atlas = layout.atlas()
    atlas.beginRender()
    atlas.first()
    items = layout.items()
    told = {
        "covers": atlas.coverageLayer().id(),
        "theme": [one.followVisibilityPresetName() for one in items
                  if isinstance(one, QgsLayoutItemMap)],
        "texts": {one.id(): one.currentText() for one in items
                  if isinstance(one, QgsLayoutItemLabel)},
    }  # fmt: skip
    atlas.endRender()
    return told


def _tree(node):
    """Return name, visibility, expansion and children of what is below a node."""
    return [[one.name(), one.itemVisibilityChecked(), one.isExpanded(), _tree(one)]
            for one in node.children()]  # fmt: skip


@scene
def faults_table(parameters):
    """Run a job that can't be run; return the rows of the table that is opened."""
    done = go("leakgeo:profile", parameters)
    tables = [layer for layer in QgsProject.instance().mapLayers().values()
              if layer.name().startswith("leakgeo")]  # fmt: skip
    rows = [dict(zip(f.fields().names(), f.attributes())) for t in tables for f in t.getFeatures()]
    return {**done, "rows": rows}


def _faults(layer):
    """Return what QGIS says against the expressions of the columns of a layer, on an empty row."""
    from qgis.core import QgsExpression, QgsFeature, QgsGeometry

    context = layer.createExpressionContext()
    row = QgsFeature(layer.fields())
    row.setGeometry(QgsGeometry.fromWkt("Point(1 1)"))
    context.setFeature(row)
    faults = []
    for place, field in enumerate(layer.fields()):
        labels = layer.editFormConfig().dataDefinedFieldProperties(field.name())
        texts = [labels.property(key).expressionString() for key in labels.propertyKeys()]
        texts += [layer.defaultValueDefinition(place).expression(),
                  layer.constraintExpression(place)]  # fmt: skip
        for text in filter(None, texts):
            expression = QgsExpression(text)
            expression.evaluate(context)
            wrong = expression.parserErrorString() or expression.evalErrorString()
            faults += [[layer.name(), field.name(), wrong]] if wrong else []
    return faults


def _form(layer, row):
    """Build the form of a new row."""
    from qgis.gui import QgsAttributeEditorContext, QgsAttributeForm, QgsGui

    if not QgsGui.editorWidgetRegistry().factories().get("TextEdit"):
        QgsGui.editorWidgetRegistry().initEditors()
    form = QgsAttributeForm(layer, row, QgsAttributeEditorContext())
    form.setMode(QgsAttributeEditorContext.AddFeatureMode)
    form.setFeature(row)
    return form


def _new(layer, shape, **values):
    """Make a row as the drawing tools do, with its defaults."""
    from qgis.core import QgsGeometry, QgsVectorLayerUtils

    layer.startEditing()
    row = QgsVectorLayerUtils.createFeature(
        layer, QgsGeometry.fromWkt(shape), {}, layer.createExpressionContext()
    )
    for column, value in values.items():
        row[column] = value
    return row


def _saved(layer, shape, **values):
    layer.addFeature(_new(layer, shape, **values))
    assert layer.commitChanges(), layer.commitErrors()


@scene
def field_project(path):
    """Open a field project; return its layers, the faults of its expressions, and its forms."""
    from qgis.PyQt.QtWidgets import QTabWidget

    project = QgsProject.instance()
    assert project.read(path)
    layers = project.mapLayers()
    pages = {}
    for name, layer in layers.items():
        form = _form(layer, _new(layer, ""))
        tabs = form.findChildren(QTabWidget)
        pages[name] = [t.tabText(i) for t in tabs for i in range(t.count())]
    return {
        "crs": project.crs().authid(), "pages": pages, "dark": _ground(project, "Night"),
        "light": _ground(project, "Day"),
        "invalid": [name for name, layer in layers.items() if not layer.isValid()],
        "faults": [fault for layer in layers.values() for fault in _faults(layer)],
        "themes": project.mapThemeCollection().mapThemes(),
    }  # fmt: skip


def _ground(project, theme):
    """Return the colour of the ground that a theme draws."""
    from qgis.core import QgsMapRendererSequentialJob, QgsMapSettings, QgsRectangle
    from qgis.PyQt.QtCore import QSize

    settings, themes = QgsMapSettings(), project.mapThemeCollection()
    settings.setLayers(themes.mapThemeVisibleLayers(theme))
    settings.setLayerStyleOverrides(themes.mapThemeStyleOverrides(theme))
    settings.setDestinationCrs(project.crs())
    settings.setExtent(QgsRectangle(0, 0, 50, 50))
    settings.setOutputSize(QSize(20, 20))
    job = QgsMapRendererSequentialJob(settings)
    job.start()
    job.waitForFinished()
    return job.renderedImage().pixelColor(10, 10).name()


def _read(layer):
    """Return the faults of labels, map tip and computed columns of a layer on its first row."""
    from qgis.core import (
        QgsExpression,
        QgsExpressionContext,
        QgsExpressionContextScope,
        QgsExpressionContextUtils,
        QgsFields,
    )

    row = next(layer.getFeatures())
    context = QgsExpressionContext(QgsExpressionContextUtils.globalProjectLayerScopes(layer))
    context.appendScope(QgsExpressionContextScope())
    context.lastScope().setVariable("map_scale", 200)
    context.setFeature(row)
    fields = layer.fields()
    texts = [layer.expressionField(i) for i in range(fields.count())
             if fields.fieldOrigin(i) == QgsFields.OriginExpression]  # fmt: skip
    if layer.labeling():
        texts.append(layer.labeling().settings().fieldName)
    texts += [part.split("%]")[0] for part in layer.mapTipTemplate().split("[%")[1:]]
    faults, values = [], {}
    for text in texts:
        expression = QgsExpression(text)
        values[text] = expression.evaluate(context)
        wrong = expression.parserErrorString() or expression.evalErrorString()
        faults += [[layer.name(), wrong]] if wrong else []
    return faults, values


@scene
def result_project(path, picture):
    """Open the project of a result; return its layers, faults, pages and what a page says."""
    from qgis.core import QgsLayoutExporter, QgsLayoutItemLabel, QgsLayoutItemMap

    project = QgsProject.instance()
    assert project.read(path)
    layers = project.mapLayers()
    read = {name: _read(layer) for name, layer in layers.items()}
    (layout,) = project.layoutManager().layouts()
    atlas, pages = layout.atlas(), []
    atlas.beginRender()
    while atlas.next():
        (mapped,) = [item for item in layout.items() if isinstance(item, QgsLayoutItemMap)]
        mark = atlas.layout().reportContext().feature()
        centre = mapped.extent().center()
        placed = not mark.geometry().isNull()
        pages.append({
            "line": mark["line_id"], "placed": placed,
            "off": centre.distance(mark.geometry().asPoint()) if placed else 0.0,
            "shown": [_shown(item) for item in layout.items() if _shown(item) is not None],
            "height": mapped.rect().height(), "scale": mapped.scale(),
            "texts": {item.id(): item.currentText() for item in layout.items()
                      if isinstance(item, QgsLayoutItemLabel)},
        })  # fmt: skip
        if picture and len(pages) <= 2:
            settings = QgsLayoutExporter.ImageExportSettings()
            QgsLayoutExporter(layout).exportToImage(f"{picture}-{len(pages)}.png", settings)
    atlas.endRender()
    return {
        "invalid": [name for name, layer in layers.items() if not layer.isValid()],
        "faults": [fault for faults, _ in read.values() for fault in faults],
        "card": next(iter(read["leakgeo_marks"][1].values())),
        "marks": layers["leakgeo_marks"].featureCount(), "pages": pages,
        "plays": project.timeSettings().temporalRange().begin().isValid()
        and layers["leakgeo_readings_on_route"].temporalProperties().isActive(),
        "bookmarks": len(project.bookmarkManager().bookmarks()),
    }  # fmt: skip


def _shown(item):
    """Return whether an item is drawn on this page; None if it is on all, or no item of a page."""
    from qgis.core import QgsLayoutItem, QgsLayoutObject

    if not isinstance(item, QgsLayoutItem):
        return None
    opacity = item.dataDefinedProperties().property(QgsLayoutObject.Opacity)
    if not opacity.isActive():
        return None
    return opacity.valueAsDouble(item.createExpressionContext(), 100.0)[0] > 0


@scene
def opened_alone(path, picture):
    """Open all layers of a result as its file alone gives them; return how the marks are seen."""
    from qgis.core import Qgis, QgsProviderRegistry, QgsProviderSublayerDetails

    flags = Qgis.SublayerQueryFlags(Qgis.SublayerQueryFlag.ResolveGeometryType)
    found = QgsProviderRegistry.instance().querySublayers(path, flags)
    options = QgsProviderSublayerDetails.LayerOptions(QgsProject.instance().transformContext())
    # The dialog that asks which layers to add lists them by name, and adds them in its order.
    layers = [one.toLayer(options) for one in sorted(found, key=lambda one: one.name())]
    styled = {layer.name(): layer.loadDefaultStyle()[1] for layer in layers}
    drawn = [layer for layer in layers if layer.isSpatial()]
    (marks,) = [layer for layer in drawn if layer.name().endswith("marks")]
    answer = {
        "order": [one.name() for one in found],
        "rows": {layer.name(): layer.featureCount() for layer in layers},
        "unstyled": [layer.name() for layer in drawn if not styled[layer.name()]],
        "labels_far": [layer.name() for layer in drawn if layer.labelsEnabled()
                       and not layer.labeling().settings().scaleVisibility],
        "arms": {mark["line_id"]: _arms(drawn, marks, mark, picture) for mark in marks.getFeatures()
                 if mark["status"] == "located"},
    }  # fmt: skip
    if picture:
        for scale in (200, 1000, 20_000):
            _drawn(drawn, marks, marks.extent().center(), scale, 1000).save(
                f"{picture}-{scale}.png"
            )
    return answer


def _drawn(layers, marks, centre, scale, size, labels=True):
    """Draw layers in their order, the first one on top, with 96 pixels an inch."""
    from qgis.core import (
        QgsMapRendererSequentialJob,
        QgsMapSettings,
        QgsRectangle,
        QgsUnitTypes,
    )
    from qgis.PyQt.QtCore import QSize

    settings = QgsMapSettings()
    settings.setLayers(layers)
    settings.setFlag(QgsMapSettings.DrawLabeling, labels)
    settings.setDestinationCrs(marks.crs())
    settings.setOutputDpi(96)
    settings.setOutputSize(QSize(size, size))
    metre = QgsUnitTypes.fromUnitToUnitFactor(QgsUnitTypes.DistanceMeters, marks.crs().mapUnits())
    half = size / 96 * 0.0254 * scale * metre / 2
    x, y = centre.x(), centre.y()
    settings.setExtent(QgsRectangle(x - half, y - half, x + half, y + half))
    job = QgsMapRendererSequentialJob(settings)
    job.start()
    job.waitForFinished()
    return job.renderedImage()


def _arms(layers, marks, mark, picture):
    """Return how dark the ends of the cross of a mark are drawn, 0 to 255 (white)."""
    image = _drawn(layers, marks, mark.geometry().asPoint(), 200, 101, labels=False)
    if picture:
        image.save(f"{picture}-{mark['line_id']}.png")
    ends = [(50 - 9, 50), (50 + 9, 50), (50, 50 - 9), (50, 50 + 9)]
    return [min(image.pixelColor(x + i, y + j).lightness() for i in (-1, 0, 1) for j in (-1, 0, 1))
            for x, y in ends]  # fmt: skip


@scene
def field_stops(jobs):
    """Draw stops into field projects, each with its shapes."""
    return [_stops(path, shapes) for path, shapes in jobs]


def _stops(path, shapes):
    """Draw lines, a fitting and stops into a field project; return rows, labels and changes."""
    from qgis.PyQt.QtWidgets import QLabel

    assert QgsProject.instance().read(path)
    routes, contacts, readings = (QgsProject.instance().mapLayer(f"leakgeo_{name}")
                                  for name in ("routes", "contacts", "readings"))  # fmt: skip
    for place, shape in enumerate(shapes["routes"]):
        _saved(routes, shape, line_id=f"L{place}")
    _saved(contacts, shapes["fitting"], contact_id="CS-12", sound_level=1, sound_unit="db")
    _saved(readings, shapes["stops"][0], sound_level=30, sound_unit="db", gain_db=20,
           chainage_from="CS-12")  # fmt: skip
    rows = []
    for shape in shapes["stops"]:
        row = _new(readings, shape)
        rows.append({f.name(): row[f.name()] for f in readings.fields() if f.name() != "fid"})
    form = _form(readings, _new(readings, shapes["stops"][0]))
    labels = [label.text() for label in form.findChildren(QLabel)]
    for column, value in (("gain_db", 33), ("sound_level", 41), ("tape", "by the tree")):
        form.changeAttribute(column, value)
    changed = form.currentFormFeature()
    return {"rows": rows, "labels": labels, "gain": changed["gain_db"]}


@scene
def watched_stop(project, shape, level, record):
    """Save a stop in a field project that stays open; return what is beside it, and the run after.

    `record` is the record of the run, which is replaced when the stop is answered.
    """
    assert QgsProject.instance().read(project)
    before = json.loads(Path(record).read_text("utf-8"))
    _saved(QgsProject.instance().mapLayer("leakgeo_readings"), shape, sound_level=level)
    beside = sorted(path.name for path in Path(project).parent.iterdir())
    until = time.monotonic() + 120
    while time.monotonic() < until:
        now = json.loads(Path(record).read_text("utf-8"))
        if now["counts"] != before["counts"]:
            return {"beside": beside, "run_id": now["run_id"]}
        time.sleep(0.05)
    return {"beside": beside, "run_id": None}


@scene
def field_job(path, layers):
    """Open layers of a job without a project; return styles and the faults of expressions."""
    answer = {}
    for name in layers:
        layer = layer_of(f"{path}|layername={name}", f"job \u2014 {name}")
        layer.loadDefaultStyle()
        answer[name] = [layer.renderer().type() if layer.isSpatial() else "", _faults(layer)]
    return answer


def main():
    """Start QGIS, run the scenes, each in an empty project, and write the answers."""
    (profile,) = sys.argv[1:]
    sys.path.insert(0, str(Path(profile) / "python" / "plugins"))
    QgsApplication.setPrefixPath("/usr", True)
    host = QgsApplication([], True, str(Path(profile).parents[1]))
    host.initQgis()
    sys.path.append(str(Path(QgsApplication.pkgDataPath()) / "python" / "plugins"))
    from processing.core.Processing import Processing

    Processing.initialize()
    import leakgeo_desktop

    plugin = leakgeo_desktop.classFactory(None)
    plugin.initProcessing()
    for line in sys.stdin:
        name, arguments, answer = json.loads(line)
        result = SCENES[name](*arguments)
        Path(answer).write_text(json.dumps(result, default=str), "utf-8")
        QgsProject.instance().clear()
        sys.stdout.write(f"\n{ANSWERED}\n")
        sys.stdout.flush()
    plugin.unload()
    host.exitQgis()


if __name__ == "__main__":
    main()

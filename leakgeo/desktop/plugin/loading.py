"""Results as layers of the open project: marks on top, then a group for each urgent line."""

from __future__ import annotations

import csv
from pathlib import Path

from qgis.core import (
    QgsFeature,
    QgsProcessingContext,
    QgsProcessingLayerPostProcessorInterface,
    QgsProviderRegistry,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QObject, QTimer, pyqtSignal

from .language import tr
from .outputs import layer_source, query, row_counts

#: Default for the number of lines with a group; with more, the layer list is too long to read.
MAX_LINE_GROUPS = 10
# Property of a group: the folder whose results are in it.
_FOLDER = "leakgeo_folder"
# On top of the list, with the features of all lines.
_TOP_LAYERS = ("marks",)
# References that keep post-processors alive until QGIS has called them.
_active = []


def faults_table():
    """Return the name of the table of faults of a job that was checked, or can't be run."""
    return tr("leakgeo: faults of the job")


class LoadPlan:
    """The layers to open and their groups, from the top of the layer list down.

    Parameters
    ----------
    out : str
        Folder of the results.
    catalog : dict
        Document of ``leakgeo steps --json``.
    line_groups : int
        Number of lines that have a separate group.
    """

    def __init__(self, out, catalog, line_groups):
        self.out = Path(out)
        self.titles = {layer["name"]: layer["title"] for layer in catalog["output_layers"]}
        self.row_counts = {name: count for name, count in row_counts(out).items() if count}
        self.grouped_lines = self._urgent_lines()[:line_groups]

    def layers(self):
        """Yield source, name and group of each layer."""
        spatial = [n for n in self._spatial_layers() if n not in _TOP_LAYERS]
        yield from (self._layer(name, "", "") for name in _TOP_LAYERS if name in self.row_counts)
        for line in self.grouped_lines:
            row_filter = f"\"line_id\" = '{_quoted(line)}'"
            group = tr("Line {line}").format(line=line)
            yield from (
                self._layer(n, group, row_filter) for n in self._layers_of_line(spatial, line)
            )
        group, row_filter = self._other_lines()
        yield from (
            self._layer(name, group, row_filter)
            for name in spatial
            if self._has_rows(name, row_filter)
        )
        tables = [
            n for n in self.titles if n in self.row_counts and n not in (*spatial, *_TOP_LAYERS)
        ]
        yield from (self._layer(name, tr("Tables"), "") for name in tables)
        faults = self.out / "faults.csv"
        if faults.is_file() and _row_count(faults):
            yield str(faults), tr("Faults"), tr("Tables")

    def _layer(self, name, group, row_filter):
        return layer_source(self.out, name, row_filter), self.titles.get(name, name), group

    def _spatial_layers(self):
        """Return the layers with geometries in the drawing order of leakgeo, topmost first."""
        tables = query(
            self.out, "SELECT table_name FROM gpkg_contents WHERE data_type = 'features'"
        )
        # The layers of the job as used are left out: they have no style, and hide the others.
        names = [name for (name,) in tables if name in self.row_counts and name in self.titles]
        styled = query(self.out, "SELECT f_table_name FROM layer_styles ORDER BY id") \
            if query(self.out, "SELECT 1 FROM gpkg_contents WHERE table_name = 'layer_styles'") \
            else []  # fmt: skip
        order = [name for (name,) in styled]
        return sorted(names, key=lambda n: order.index(n) if n in order else len(order))

    def _urgent_lines(self):
        """Return the lines with a leak or a possible leak, the most urgent first."""
        if "lines" not in self.row_counts:
            return []
        with_leak = "status IN ('located', 'keep_listening', 'ambiguous')"
        rows = query(
            self.out, f"SELECT line_id FROM lines WHERE {with_leak} ORDER BY priority, line_id"
        )
        return [line for (line,) in rows]

    def _layers_of_line(self, names, line):
        return [n for n in names if self._has_rows(n, f"\"line_id\" = '{_quoted(line)}'")]

    def _other_lines(self):
        """Return the group of all lines without a separate one, and its filter."""
        if not self.grouped_lines:
            return "", ""
        line_ids = ", ".join(f"'{_quoted(line)}'" for line in self.grouped_lines)
        return tr("Other lines"), f'("line_id" IS NULL OR "line_id" NOT IN ({line_ids}))'

    def _has_rows(self, name, row_filter):
        if not row_filter:
            return True
        return bool(query(self.out, f'SELECT 1 FROM "{name}" WHERE {row_filter} LIMIT 1'))


def _quoted(text):
    return str(text).replace("'", "''")


def _row_count(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return sum(1 for _ in csv.reader(file)) - 1


def is_inside(layer, folder):
    """Return whether a layer of the project shows a file in a folder."""
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    path = parts.get("path")
    return bool(path) and Path(folder).resolve() in Path(path).resolve().parents


def refresh(folder, context):
    """Let layers that show files of a folder read them again, as a run has replaced the files.

    QGIS keeps the old files open. A table of faults that an earlier run opened is removed.
    """
    if context.project() is not None:
        _main_thread.replaced.emit(str(folder), context.project())


def load(plan, context):
    """Let QGIS open the layers of a plan at the end of the run.

    Parameters
    ----------
    plan : LoadPlan
    context : QgsProcessingContext
        Nothing is opened if it has no project.
    """
    project = context.project()
    if project is None:
        return
    groups, layers = {}, []
    for source, name, group in plan.layers():
        layer = QgsVectorLayer(source, name, "ogr")
        if layer.isValid():
            groups[layer.id()] = group
            layers.append(layer)
    grouping = _Grouping(plan.out, groups)
    _active.append(grouping)
    for layer in layers:
        context.temporaryLayerStore().addMapLayer(layer)
        details = QgsProcessingContext.LayerDetails(layer.name(), project, layer.name())
        details.forceName = True
        # One for each layer, as QGIS deletes the post-processor with the details.
        details.setPostProcessor(grouping.post_processor())
        context.addLayerToLoadOnCompletion(layer.id(), details)


class _MainThread(QObject):
    """Changes of the project; signals move the calls to the main thread, also from a model."""

    found = pyqtSignal(object, object)
    replaced = pyqtSignal(str, object)

    def __init__(self):
        super().__init__()
        self.found.connect(self.open_faults)
        self.replaced.connect(self.refresh)

    def open_faults(self, faults, project):
        """Open faults as a table, in place of the table of an earlier run."""
        for old in project.mapLayersByName(faults_table()):
            project.removeMapLayer(old.id())
        if not faults:
            return
        columns = "&".join(f"field={name}:string" for name in faults[0])
        table = QgsVectorLayer(f"none?{columns}", faults_table(), "memory")
        features = [QgsFeature(table.fields()) for _ in faults]
        for row, fault in zip(features, faults):
            row.setAttributes([str(value) for value in fault.values()])
        table.dataProvider().addFeatures(features)
        project.addMapLayer(table)

    def refresh(self, folder, project):
        """Read the layers of a folder again, and remove a table of faults."""
        for layer in list(project.mapLayers().values()):
            if layer.name() == faults_table():
                project.removeMapLayer(layer.id())
            elif is_inside(layer, folder):
                layer.dataProvider().reloadData()
                layer.triggerRepaint()


_main_thread = _MainThread()


def open_faults(faults, project):
    """Open the faults of a job as a table in the project; without faults, remove an old table."""
    if project is not None:
        _main_thread.found.emit(faults, project)


class _Grouping:
    """Moves layers into their groups, once, after QGIS has added all of them to the project."""

    def __init__(self, folder, groups):
        self.folder, self.groups = folder, groups
        self.project, self.post_processors = None, []

    def post_processor(self):
        """Return a post-processor for one layer."""
        self.post_processors.append(_PostProcessor(self))
        return self.post_processors[-1]

    def start(self, project):
        """Schedule the move at the first layer; QGIS adds the others in the same event."""
        if self.project is None:
            self.project = project
            QTimer.singleShot(0, self.arrange)

    def arrange(self):
        """Move the layers into their groups."""
        arrange(self.project, self.folder, self.groups)
        if self in _active:
            _active.remove(self)


class _PostProcessor(QgsProcessingLayerPostProcessorInterface):
    """Starts the grouping when QGIS has added the layer to the project."""

    def __init__(self, grouping):
        super().__init__()
        self.grouping = grouping

    def postProcessLayer(self, layer, context, feedback):  # noqa: N802 - name of the QGIS API
        """Start the grouping."""
        self.grouping.start(context.project())


def arrange(project, folder, groups):
    """Move layers into a group for their folder, in place of that of an earlier run.

    Parameters
    ----------
    project : QgsProject
    folder : pathlib.Path
    groups : dict of str to str
        Name of the group inside it (or ""), by layer id.
    """
    root = project.layerTreeRoot()
    place = _remove_earlier(project, folder, groups)
    top = root.insertGroup(place, _title(root, folder))
    top.setCustomProperty(_FOLDER, str(folder.resolve()))
    for number, (layer, group) in enumerate(groups.items()):
        node = root.findLayer(layer)
        if node is None:
            continue
        parent = top if not group else (top.findGroup(group) or top.addGroup(group))
        moved = node.clone()
        parent.addChildNode(moved)
        node.parent().removeChildNode(node)
        moved.setExpanded(number == 0)
    top.setExpanded(True)
    _expand_first(top)


def _remove_earlier(project, folder, new):
    """Remove the groups of earlier runs into a folder; return the place of the first of them.

    What the user put into them stays in the project.
    """
    root, place = project.layerTreeRoot(), 0
    # Found before any is removed, as that deletes the groups inside it.
    for group in [one for one in root.findGroups(True) if _is_of(one, folder)]:
        own = [node.layer() for node in group.findLayers() if node.layer() is not None]
        gone = [one for one in own if is_inside(one, folder) and one.id() not in new]
        if group.parent() == root:
            place = root.children().index(group)
        for layer in own:
            if layer not in gone:
                root.addLayer(layer)
        group.parent().removeChildNode(group)
        project.removeMapLayers([layer.id() for layer in gone])
    return place


def _is_of(group, folder):
    """Return whether a group has the results of a folder."""
    layers = [node.layer() for node in group.findLayers() if node.layer() is not None]
    named = group.name() == _plain_title(folder)
    return group.customProperty(_FOLDER) == str(folder.resolve()) or (
        named and any(is_inside(layer, folder) for layer in layers)
    )


def _plain_title(folder):
    return f"leakgeo: {folder.name}"


def _title(root, folder):
    """Return a title that no other group has: the folder, with its parents if needed."""
    taken = {group.name() for group in root.findGroups(True)}
    parts = folder.resolve().parts
    titles = (f"leakgeo: {'/'.join(parts[-count:])}" for count in range(1, len(parts)))
    return next((title for title in titles if title not in taken), _plain_title(folder))


def _expand_first(top):
    """Expand the first group only, so that the list stays short."""
    groups = [node for node in top.children() if not hasattr(node, "layerId")]
    for index, group in enumerate(groups):
        group.setExpanded(index == 0)

"""A result into the open project: marks on top, the most urgent lines in groups of their own."""

from __future__ import annotations

import csv
from pathlib import Path

from qgis.core import (
    QgsFeature,
    QgsProcessingContext,
    QgsProcessingLayerPostProcessorInterface,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QObject, QTimer, pyqtSignal

from .outputs import layer_address, query, rows

#: So many lines get a group of their own: more, and the list of layers is too long to read.
MOST_APART = 10
#: Name of the table with what stops a job.
STOPPED_BY = "leakgeo: faults that stop the job"
# On top and whole, however many lines there are.
_WHOLE = ("marks",)
# The host lets go of a post-processor as soon as nobody holds it.
_held = []


class Plan:
    """Which layers are opened, each with the group that it goes into, the highest first."""

    def __init__(self, out, said, most_apart):
        self.out, self.said = Path(out), said
        self.titles = {layer["name"]: layer["title"] for layer in said["output_layers"]}
        self.rows = {name: count for name, count in rows(out).items() if count}
        self.apart = self._urgent()[:most_apart]

    def layers(self):
        """Give address, name and group of each layer."""
        shaped = [n for n in self._drawn() if n not in _WHOLE]
        yield from (self._layer(name, "", "") for name in _WHOLE if name in self.rows)
        for line in self.apart:
            only = f"\"line_id\" = '{_quoted(line)}'"
            yield from (self._layer(n, f"Line {line}", only) for n in self._of_line(shaped, line))
        rest, only = self._rest()
        yield from (self._layer(name, rest, only) for name in shaped if self._has(name, only))
        tables = [n for n in self.titles if n in self.rows and n not in (*shaped, *_WHOLE)]
        yield from (self._layer(name, "Tables", "") for name in tables)
        faults = self.out / "faults.csv"
        if faults.is_file() and _featuresin(faults):
            yield str(faults), "Faults", "Tables"

    def _layer(self, name, group, only):
        return layer_address(self.out, name, only), self.titles.get(name, name), group

    def _drawn(self):
        """Give the layers with shapes, in the order that leakgeo draws them, highest first."""
        found = query(self.out, "SELECT table_name FROM gpkg_contents WHERE data_type = 'features'")
        names = [name for (name,) in found if name in self.rows]
        styled = query(self.out, "SELECT f_table_name FROM layer_styles ORDER BY id") \
            if query(self.out, "SELECT 1 FROM gpkg_contents WHERE table_name = 'layer_styles'") \
            else []  # fmt: skip
        order = [name for (name,) in styled]
        return sorted(names, key=lambda n: order.index(n) if n in order else len(order))

    def _urgent(self):
        """Give the lines on which something is to be done, the most urgent first."""
        if "lines" not in self.rows:
            return []
        heard = "status IN ('located', 'keep_listening', 'ambiguous')"
        found = query(
            self.out, f"SELECT line_id FROM lines WHERE {heard} ORDER BY priority, line_id"
        )
        return [line for (line,) in found]

    def _of_line(self, names, line):
        return [n for n in names if self._has(n, f"\"line_id\" = '{_quoted(line)}'")]

    def _rest(self):
        if not self.apart:
            return "", ""
        named = ", ".join(f"'{_quoted(line)}'" for line in self.apart)
        return "Other lines", f'("line_id" IS NULL OR "line_id" NOT IN ({named}))'

    def _has(self, name, only):
        if not only:
            return True
        return bool(query(self.out, f'SELECT 1 FROM "{name}" WHERE {only} LIMIT 1'))


def _quoted(text):
    return str(text).replace("'", "''")


def _featuresin(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return sum(1 for _ in csv.reader(file)) - 1


def load(plan, title, context):
    """Have the host open the layers of a plan when the run is over; gives how many.

    Parameters
    ----------
    plan : Plan
    title : str
        Of the group that they go into.
    context : QgsProcessingContext
        One without a project opens nothing.
    """
    project = context.project()
    if project is None:
        return 0
    places, opened = {}, []
    for address, name, group in plan.layers():
        layer = QgsVectorLayer(address, name, "ogr")
        if layer.isValid():
            places[layer.id()] = (title, group)
            opened.append(layer)
    turn = _Turn(places)
    _held.append(turn)
    for layer in opened:
        context.temporaryLayerStore().addMapLayer(layer)
        details = QgsProcessingContext.LayerDetails(layer.name(), project, layer.name())
        details.forceName = True
        # One each: the host deletes the post-processor of every layer.
        details.setPostProcessor(turn.processor())
        context.addLayerToLoadOnCompletion(layer.id(), details)
    return len(opened)


class _Faults(QObject):
    """Puts faults into the project where the project lives, whoever found them."""

    found = pyqtSignal(object, object)

    def __init__(self):
        super().__init__()
        self.found.connect(self.open)

    def open(self, faults, project):
        """Open them as a table; what an earlier run opened goes."""
        for old in project.mapLayersByName(STOPPED_BY):
            project.removeMapLayer(old.id())
        columns = "&".join(f"field={name}:string" for name in faults[0])
        table = QgsVectorLayer(f"none?{columns}", STOPPED_BY, "memory")
        features = [QgsFeature(table.fields()) for _ in faults]
        for row, fault in zip(features, faults):
            row.setAttributes([str(value) for value in fault.values()])
        table.dataProvider().addFeatures(features)
        project.addMapLayer(table)


_faults = _Faults()


def open_faults(faults, project):
    """Open the faults of a job that can't be run as a table of the project."""
    if faults and project is not None:
        _faults.found.emit(faults, project)


class _Turn:
    """Moves layers into their groups once, when the host has put all of them into its list."""

    def __init__(self, places):
        self.places, self.project, self.processors = places, None, []

    def processor(self):
        """Give one for one layer."""
        self.processors.append(_Noted(self))
        return self.processors[-1]

    def begin(self, project):
        """Take note of the first layer; the rest follow in the same breath of the host."""
        if self.project is None:
            self.project = project
            QTimer.singleShot(0, self.arrange)

    def arrange(self):
        """Move them."""
        arrange(self.project, self.places)
        if self in _held:
            _held.remove(self)


class _Noted(QgsProcessingLayerPostProcessorInterface):
    """Tells that a layer is in the list."""

    def __init__(self, turn):
        super().__init__()
        self.turn = turn

    def postProcessLayer(self, layer, context, feedback):  # noqa: N802 - the host's name
        """Tell it."""
        self.turn.begin(context.project())


def arrange(project, places):
    """Put layers into the groups of their lines, in the order of `places`, the job's group on top.

    Parameters
    ----------
    project : QgsProject
    places : dict of str to tuple of str
        Title of the job's group and of the line's, by the id of a layer.
    """
    root = project.layerTreeRoot()
    tops = {}
    for number, (layer, (title, group)) in enumerate(places.items()):
        node = root.findLayer(layer)
        if node is None:
            continue
        top = tops.get(title)
        if top is None:
            top = tops[title] = root.insertGroup(0, title)
        under = top if not group else (top.findGroup(group) or top.addGroup(group))
        moved = node.clone()
        under.addChildNode(moved)
        node.parent().removeChildNode(node)
        moved.setExpanded(number == 0)
    for top in tops.values():
        _fold(top)


def _fold(top):
    """Leave the first line open, so that the list can be taken in at a glance."""
    groups = [node for node in top.children() if not hasattr(node, "layerId")]
    for place, group in enumerate(groups):
        group.setExpanded(place == 0)

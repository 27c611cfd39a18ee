"""A result put into a project: its layers and their tree, as its own project has them."""

from __future__ import annotations

from qgis.core import QgsLayerTree, QgsReadWriteContext, QgsVectorLayer

from .result_extras import add_times, replace_bookmarks, replace_layouts, replace_themes
from .result_place import ResultPlace
from .result_view import ViewOfEmpty, add_caution
from .result_xml import elements


def open_result(project, result):
    """Put the project of a result into an open project, in place of what was opened before.

    Layers and groups of the user stay, also inside the groups of the result.

    Parameters
    ----------
    project : QgsProject
    result : ResultFile
    """
    view = ViewOfEmpty(project)
    place = ResultPlace(project, result)
    document = result.document(place.suffix)
    root, ids = document.documentElement(), {name + place.suffix for name in result.ids}
    timed = not project.timeSettings().temporalRange().isInfinite()
    _read_layers(project, root)
    tree = QgsLayerTree.readXml(root.firstChildElement("layer-tree-group"), QgsReadWriteContext())
    tree.resolveReferences(project)
    _arrange(place, tree)
    _draw_in_order(place, _drawn(root), ids)
    project.removeMapLayers(list(place.own - ids))
    names = replace_themes(project, root, ids, place.label)
    replace_layouts(project, document, ids, place.label, names)
    replace_bookmarks(project, document, place.suffix, place.label)
    if not timed:
        add_times(project, root)
    if not place.own:
        add_caution(project, root)
    view.show(root)


def _read_layers(project, root):
    """Read the layers; one that is there is kept, as layouts of the user may refer to it."""
    for element in elements(root, "projectlayers", "maplayer"):
        old = project.mapLayer(element.firstChildElement("id").text())
        layer = old or QgsVectorLayer()
        layer.readLayerXml(element, QgsReadWriteContext())
        if old is None:
            project.addMapLayer(layer, False)
        else:
            layer.triggerRepaint()


def _arrange(place, tree):
    """Put the groups of a result where those of the earlier opening are."""
    root, parent = place.project.layerTreeRoot(), place.parent
    old = [group for group in parent.findGroups() if _own_nodes(group, place.own)]
    inside = [node for group in old for node in group.children()]
    strays = [node for node in root.findLayers()
              if node.layerId() in place.own and node not in inside]  # fmt: skip
    at = parent.children().index(old[0]) if old else 0
    new = [node.clone() for node in tree.children()]
    # New nodes come before old ones go, as QGIS removes a layer without a node.
    parent.insertChildNodes(at, new)
    for group in old:
        _keep_others(group, new, parent, place.own)
        parent.removeChildNode(group)
    for node in strays:
        node.parent().removeChildNode(node)


def _own_nodes(group, own):
    return [n for n in group.children() if QgsLayerTree.isLayer(n) and n.layerId() in own]


def _keep_others(group, new, parent, own):
    """Move what the user put into a group into the new one of its name, or beside the groups."""
    own_nodes = _own_nodes(group, own)
    others = [node.clone() for node in group.children() if node not in own_nodes]
    same = (one for one in new if QgsLayerTree.isGroup(one) and one.name() == group.name())
    next(same, parent).insertChildNodes(-1, others)


def _drawn(root):
    return [item.text() for item in elements(root, "layer-tree-group", "custom-order", "item")]


def _draw_in_order(place, drawn, ids):
    """Draw the layers of a result in its order, at one place among the others.

    The order of the tree would draw utilities over marks.
    """
    root, project = place.project.layerTreeRoot(), place.project
    if place.own and not root.hasCustomLayerOrder():
        # The user has switched it off since.
        return
    known = place.own & ids if root.hasCustomLayerOrder() else ids
    order = root.layerOrder()
    first = next((k for k, layer in enumerate(order) if layer.id() in known), 0)
    at = sum(layer.id() not in ids for layer in order[:first])
    rest = [layer for layer in order if layer.id() not in ids]
    own = [layer for layer in map(project.mapLayer, drawn) if layer and layer.isSpatial()]
    root.setCustomLayerOrder([*rest[:at], *own, *rest[at:]])
    root.setHasCustomLayerOrder(True)

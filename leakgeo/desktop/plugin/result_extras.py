"""Map themes, layouts, bookmarks and times of a result, in a project that may have such ones."""

from __future__ import annotations

import re
from itertools import chain, count

from qgis.core import QgsBookmark, QgsMapThemeCollection, QgsPrintLayout, QgsReadWriteContext

from .result_xml import elements

_THEME = "followPresetName"


def replace_themes(project, root, ids, label):
    """Replace the map themes of a result; return their names in the project by those in its file.

    Parameters
    ----------
    project : QgsProject
    root : QDomElement
        Of the project of the result.
    ids : set of str
        Ids of the layers of the result.
    label : str
        Ends a name that others have too.
    """
    themes, names = project.mapThemeCollection(), {}
    for element in elements(root, "visibility-presets", "visibility-preset"):
        base = element.attribute("name")
        own = [name for name in themes.mapThemes()
               if _is_named(name, base) and _shown(themes, name) <= ids]  # fmt: skip
        name = names[base] = _name(base, own, themes.mapThemes(), label)
        for old in own:
            themes.removeMapTheme(old)
        themes.insert(name, _theme(project, element))
    return names


def replace_layouts(project, document, ids, label, themes):
    """Replace the print layouts of a result; those that the user renamed or made stay.

    Parameters
    ----------
    project : QgsProject
    document : QDomDocument
        Project of the result.
    ids : set of str
        Ids of the layers of the result.
    label : str
        Ends a name that others have too.
    themes : dict of str to str
        Names of the map themes, by those in the document.
    """
    manager = project.layoutManager()
    for element in elements(document.documentElement(), "Layouts", "Layout"):
        base = element.attribute("name")
        own = [one for one in manager.printLayouts()
               if _is_named(one.name(), base) and _covered(one) <= ids]  # fmt: skip
        taken = [one.name() for one in manager.layouts()]
        name = _name(base, [one.name() for one in own], taken, label)
        for old in own:
            manager.removeLayout(old)
        for item in elements(element, "LayoutItem"):
            if item.hasAttribute(_THEME):
                item.setAttribute(_THEME, themes[item.attribute(_THEME)])
        layout = QgsPrintLayout(project)
        layout.readXml(element, document, QgsReadWriteContext())
        layout.setName(name)
        manager.addLayout(layout)


def replace_bookmarks(project, document, suffix, label):
    """Replace the bookmarks of a result, whose ids end with its suffix."""
    manager = project.bookmarkManager()
    own = [one for one in manager.bookmarks() if re.fullmatch(rf"leakgeo_\d+{suffix}", one.id())]
    before = [one.group() for one in own]
    for one in own:
        manager.removeBookmark(one.id())
    taken = [one.group() for one in manager.bookmarks()]
    for element in elements(document.documentElement(), "Bookmarks", "Bookmark"):
        bookmark = QgsBookmark.fromXml(element, document)
        bookmark.setId(bookmark.id() + suffix)
        bookmark.setGroup(_name(bookmark.group(), before, taken, label))
        manager.addBookmark(bookmark)


def add_times(project, root):
    """Take over the times that the temporal controller plays."""
    for element in elements(root, "ProjectTimeSettings"):
        project.timeSettings().readXml(element, QgsReadWriteContext())


def _theme(project, element):
    record = QgsMapThemeCollection.MapThemeRecord()
    for one in elements(element, "layer"):
        layer = QgsMapThemeCollection.MapThemeLayerRecord(project.mapLayer(one.attribute("id")))
        layer.isVisible = one.attribute("visible") == "1"
        layer.usingCurrentStyle, layer.currentStyle = True, one.attribute("style")
        record.addLayerRecord(layer)
    return record


def _shown(themes, name):
    """Return the ids of the layers that a theme draws; none if their layers were removed."""
    layers = (one.layer() for one in themes.mapThemeState(name).layerRecords())
    return {layer.id() for layer in layers if layer is not None}


def _covered(layout):
    layer = layout.atlas().coverageLayer()
    return set() if layer is None else {layer.id()}


def _is_named(name, base):
    return name == base or (name.startswith(f"{base} (") and name.endswith(")"))


def _name(base, own, taken, label):
    """Return the name of before, or else one that is not taken."""
    numbered = (f"{base} ({label} {number})" for number in count(2))
    free = (name for name in chain([base, f"{base} ({label})"], numbered) if name not in taken)
    return own[0] if own else next(free)

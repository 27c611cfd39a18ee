"""Where the results of a folder are in a project: their group, their layers, and their ids."""

from __future__ import annotations

import re
from itertools import chain, count
from pathlib import Path

from qgis.core import QgsProviderRegistry

from .outputs import RESULT
from .result_file import FAULTS, PREFIX, PROJECT

# Property of a group: the folder whose results are in it.
_FOLDER = "leakgeo_folder"
_TITLE = "leakgeo: "


def path_of(layer):
    """Return the file that a layer of the project shows, or None."""
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    return Path(parts["path"]).resolve() if parts.get("path") else None


class ResultPlace:
    """The place of the results of a folder in a project, before they are opened.

    Parameters
    ----------
    project : QgsProject
    result : ResultFile

    Attributes
    ----------
    own : set of str
        Ids of the layers that an earlier opening left, also by hand.
    suffix : str
        Ends the ids of the layers, as another folder may have the plain ids.
    parent : QgsLayerTreeGroup
        Has their groups: the root of a project that was opened from the folder by hand, or else
        a group of the folder.
    """

    def __init__(self, project, result):
        self.project, self.folder = project, result.folder
        files = {self.folder / RESULT, self.folder / FAULTS}
        layers = project.mapLayers()
        self.own = {name for name, layer in layers.items()
                    if name.startswith(PREFIX) and path_of(layer) in files}  # fmt: skip
        self.suffix = self._free_suffix(result.ids)
        self.parent = self._found() or self._new_group()

    @property
    def label(self):
        """The name of the folder in names that another folder has too."""
        named = self.parent.customProperty(_FOLDER) is not None
        return self.parent.name().replace(_TITLE, "", 1) if named else self.folder.name

    def _free_suffix(self, ids):
        """Return the suffix of the earlier opening, or else one that no other layer has."""
        others = set(self.project.mapLayers()) - self.own
        taken = _suffixes(others, ids)
        known = (one for one in sorted(_suffixes(self.own, ids)))
        numbered = (f"_{number}" for number in count(2))
        return next(one for one in chain(known, [""], numbered) if one not in taken)

    def _found(self):
        root = self.project.layerTreeRoot()
        for group in root.findGroups(True):
            folder = group.customProperty(_FOLDER)
            # A project that was moved knows the folder by another path.
            moved = folder is not None and self.own & set(group.findLayerIds())
            if folder == str(self.folder) or moved:
                group.setCustomProperty(_FOLDER, str(self.folder))
                return group
        file = self.project.fileName()
        by_hand = bool(file) and Path(file).resolve() == self.folder / PROJECT
        return root if by_hand or self.own & set(root.findLayerIds()) else None

    def _new_group(self):
        root = self.project.layerTreeRoot()
        group = root.insertGroup(0, _title(root, self.folder))
        group.setCustomProperty(_FOLDER, str(self.folder))
        return group


def _suffixes(names, ids):
    """Return the suffixes that names have of which the rest is one of the ids."""
    found = (re.fullmatch(r"(.+?)((?:_\d+)?)", name) for name in names)
    return {match[2] for match in found if match[1] in ids}


def _title(root, folder):
    """Return a title that no other group has: the folder, with its parents if needed."""
    taken = {group.name() for group in root.findGroups(True)}
    titles = (_TITLE + "/".join(folder.parts[-number:]) for number in range(1, len(folder.parts)))
    return next((title for title in titles if title not in taken), _TITLE + str(folder))

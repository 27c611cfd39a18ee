"""The project of a result, ``result.qgz``, as XML that can be put into another project."""

from __future__ import annotations

import csv
import re
import zipfile
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from qgis.PyQt.QtXml import QDomDocument

from .language import tr
from .outputs import RESULT

PROJECT, FAULTS = "result.qgz", "faults.csv"
#: Ids of the layers in the project of a result begin with this; others are layers of the user.
PREFIX = "leakgeo_"
_FAULTS_ID = f"{PREFIX}faults"
_INSIDE = "result.qgs"
_ID = re.compile(rf"<id>({PREFIX}\w+)</id>")
_WORD = re.compile(rf"\b{PREFIX}\w+")


class ResultFile:
    """The project of the results in a folder, with the table of faults at its end.

    Parameters
    ----------
    out : str or pathlib.Path
        Folder of the results.

    Raises
    ------
    OSError, KeyError, zipfile.BadZipFile
        If the folder has no project, or it can't be read.
    """

    def __init__(self, out):
        self.folder = Path(out).resolve()
        with zipfile.ZipFile(self.folder / PROJECT) as archive:
            text = archive.read(_INSIDE).decode("utf-8")
        self.text = _with_faults(text) if _has_rows(self.folder / FAULTS) else text
        #: Ids of the layers.
        self.ids = frozenset(_ID.findall(self.text))

    def document(self, suffix):
        """Return the project as XML: ids with a suffix, also in expressions, and whole paths."""
        text = _WORD.sub(lambda word: word[0] + suffix * (word[0] in self.ids), self.text)
        for name in (RESULT, FAULTS):
            path = escape((self.folder / name).as_posix(), {'"': "&quot;"})
            text = text.replace(f"./{name}", path)
        document = QDomDocument()
        document.setContent(text)
        return document


def _has_rows(path):
    if not path.is_file():
        return False
    with path.open(encoding="utf-8-sig", newline="") as file:
        return sum(1 for _ in csv.reader(file)) > 1


def _with_faults(text):
    """Return a project with the table of faults as its last layer."""
    source, name = f"./{FAULTS}", tr("Faults")
    layer = (f'<maplayer type="vector" geometry="No geometry"><id>{_FAULTS_ID}</id>'
             f"<datasource>{source}</datasource><layername>{escape(name)}</layername>"
             '<provider encoding="UTF-8">ogr</provider></maplayer>')  # fmt: skip
    node = (f'<layer-tree-layer id="{_FAULTS_ID}" name={quoteattr(name)} providerKey="ogr" '
            f'source="{source}" checked="Qt::Checked" expanded="0"/>')  # fmt: skip
    text = text.replace("</projectlayers>", f"{layer}</projectlayers>", 1)
    return text.replace("<custom-order", f"{node}<custom-order", 1)

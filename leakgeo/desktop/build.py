"""Build the plugin: its sources, the version, and where this leakgeo is, in one ZIP."""

from __future__ import annotations

import json
import sys
import zipfile
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import leakgeo
from leakgeo.deliver.folder.atomic import write_atomic
from leakgeo.errors import OutputError

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

#: Folder of the plugin inside the ZIP, and name that QGIS knows it by.
FOLDER = "leakgeo_desktop"
# The earliest that a ZIP can hold: the same sources give the same file.
_WHEN = (1980, 1, 1, 0, 0, 0)
_KINDS = (".py", ".txt", ".svg")


def write_plugin(path: Path, *, overwrite: bool = False) -> Path:
    """Write the QGIS plugin as a ZIP that "Install from ZIP" takes.

    Parameters
    ----------
    path : pathlib.Path
        File to make, ending in ``.zip``.
    overwrite : bool
        Whether a file that is there may be replaced.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    OutputError
        If the name does not end in ``.zip``, there is such a file already, or it can't be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     made = write_plugin(Path(folder) / "leakgeo.zip")
    ...     "leakgeo_desktop/metadata.txt" in zipfile.ZipFile(made).namelist()
    True
    """
    if path.suffix.lower() != ".zip":
        raise OutputError(f"{path}: the plugin is a ZIP; give a name that ends in .zip.")
    if path.exists() and not overwrite:
        raise OutputError(f"{path} is there already; give another name, or --overwrite.")
    write_atomic(path, _write)
    return path


def _write(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, text in sorted(_texts().items()):
            entry = zipfile.ZipInfo(f"{FOLDER}/{name}", _WHEN)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            out.writestr(entry, text)


def _texts() -> dict[str, str]:
    sources: Traversable = files("leakgeo.desktop") / "plugin"
    texts = {
        source.name: source.read_text("utf-8")
        for source in sources.iterdir()
        if Path(source.name).suffix in _KINDS
    }
    texts["metadata.txt"] = texts["metadata.txt"].replace("@VERSION@", leakgeo.__version__)
    texts["LICENSE"] = _license()
    # Where the plugin looks last, on the machine that it was built on.
    texts["built.json"] = json.dumps({"leakgeo": leakgeo.__version__, "executable": _program()})
    return texts


def _program() -> str:
    name = "leakgeo.exe" if sys.platform == "win32" else "leakgeo"
    return str(Path(sys.executable).with_name(name))


def _license() -> str:
    from importlib.metadata import files as installed

    found = [f for f in installed("leakgeo") or () if f.name == "LICENSE"]
    beside = Path(leakgeo.__file__).parents[1] / "LICENSE"
    path = Path(str(found[0].locate())) if found else beside
    return path.read_text("utf-8")

"""Build of the QGIS plugin: a ZIP of its sources, with version and path of this leakgeo."""

from __future__ import annotations

import json
import sys
import zipfile
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import leakgeo
from leakgeo.deliver.folder.atomic import write_atomic
from leakgeo.desktop.help_pages import ALGORITHMS, algorithm_list, help_pages, page_name
from leakgeo.errors import OutputError
from leakgeo.wording import languages

if TYPE_CHECKING:
    from collections.abc import Iterator
    from importlib.resources.abc import Traversable

#: Folder of the plugin inside the ZIP, and its name in QGIS.
FOLDER = "leakgeo_desktop"
# Earliest date of a ZIP entry, the same in each build, so that builds are reproducible.
_DATE = (1980, 1, 1, 0, 0, 0)
# Sources of translations stay out: QGIS reads the compiled ones.
_SUFFIXES = (".py", ".txt", ".svg", ".qm", ".html", ".css")


def write_plugin(path: Path, *, overwrite: bool = False) -> Path:
    """Write the QGIS plugin as a ZIP, for "Install from ZIP" in QGIS.

    Parameters
    ----------
    path : pathlib.Path
        File to write; its name ends in ``.zip``.
    overwrite : bool
        Whether to replace an existing file.

    Returns
    -------
    pathlib.Path
        The path of the ZIP.

    Raises
    ------
    OutputError
        If the name does not end in ``.zip``, or the file exists or can't be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     plugin = write_plugin(Path(folder) / "leakgeo.zip")
    ...     "leakgeo_desktop/metadata.txt" in zipfile.ZipFile(plugin).namelist()
    True
    """
    if path.suffix.lower() != ".zip":
        raise OutputError(f"{path}: the plugin is a ZIP; use a name that ends in .zip.")
    if path.exists() and not overwrite:
        raise OutputError(f"{path} exists already; use another name, or --overwrite.")
    write_atomic(path, _write)
    return path


def _write(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in sorted(_contents().items()):
            entry = zipfile.ZipInfo(f"{FOLDER}/{name}", _DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            out.writestr(entry, content)


def _contents() -> dict[str, bytes]:
    found = dict(_sources(files("leakgeo.desktop") / "plugin"))
    metadata = found["metadata.txt"].decode()
    for mark, value in {"@VERSION@": leakgeo.__version__, **_addresses()}.items():
        metadata = metadata.replace(mark, value)
    texts = {"metadata.txt": metadata}
    for language in languages():
        index = f"help/{page_name('index', language)}"
        if index in found:
            texts[index] = _filled(found[index], ALGORITHMS, algorithm_list(language))
        texts |= {f"help/{name}": page for name, page in help_pages(language).items()}
    texts["LICENSE"] = _license()
    # The last place where the plugin looks for leakgeo.
    texts["built.json"] = json.dumps({"leakgeo": leakgeo.__version__, "executable": _executable()})
    return found | {name: text.encode() for name, text in texts.items()}


def _sources(folder: Traversable, prefix: str = "") -> Iterator[tuple[str, bytes]]:
    """Yield path inside the plugin and content of each source file."""
    for source in folder.iterdir():
        if source.is_dir():
            yield from _sources(source, f"{prefix}{source.name}/")
        elif Path(source.name).suffix in _SUFFIXES:
            yield f"{prefix}{source.name}", source.read_bytes()


def _filled(text: bytes, mark: str, value: str) -> str:
    return text.decode().replace(mark, value)


def _addresses() -> dict[str, str]:
    """Return the addresses of the project, which `pyproject.toml` alone has; empty if unset."""
    from email.utils import parseaddr
    from importlib.metadata import metadata

    told = metadata("leakgeo")
    urls = dict(each.split(", ", 1) for each in told.get_all("Project-URL") or ())
    return {
        "@EMAIL@": parseaddr("".join(told.get_all("Author-email") or ()))[1],
        "@HOMEPAGE@": urls.get("Homepage", ""),
        "@REPOSITORY@": urls.get("Repository", ""),
        "@TRACKER@": urls.get("Issues", ""),
    }


def _executable() -> str:
    name = "leakgeo.exe" if sys.platform == "win32" else "leakgeo"
    return str(Path(sys.executable).with_name(name))


def _license() -> str:
    from importlib.metadata import files as installed

    found = [f for f in installed("leakgeo") or () if f.name == "LICENSE"]
    in_sources = Path(leakgeo.__file__).parents[1] / "LICENSE"
    path = Path(str(found[0].locate())) if found else in_sources
    return path.read_text("utf-8")

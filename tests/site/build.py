"""The build of the site: copy the sources, write the reference, run Sphinx, check the links."""

from __future__ import annotations

import re
import shutil
import tempfile
import warnings
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from sphinx.application import Sphinx
from sphinx.util.docutils import docutils_namespace, patch_docutils

from tests.site import api, commands, layers, messages, parameters, shipped
from tests.site.links import broken
from tests.site.public import public_names

if TYPE_CHECKING:
    from collections.abc import Iterator

GUIDE = Path(__file__).parents[2] / "examples" / "guide"
#: What Sphinx takes from the guide itself, not from the copy with the reference.
_LEFT = ("_static", "_templates", "gallery", "conf.py")
_COLOUR = re.compile(r"\x1b\[[0-9;]*m")


def reference() -> Iterator[tuple[str, str]]:
    """Give the path and text of every page that is made from the code."""
    for module in (api, commands, layers, messages, parameters, shipped):
        yield from module.pages().items()


def write_sources(folder: Path) -> None:
    """Write all pages into a folder, those of the guide and the reference, with files they show."""
    shutil.copytree(GUIDE, folder, dirs_exist_ok=True, ignore=lambda at, names: {
        n for n in names if (Path(at) == GUIDE and n in _LEFT) or n == "__pycache__"})  # fmt: skip
    # Pages show its files as they are: `../../nightly/` from a page in a folder of the guide.
    shutil.copytree(GUIDE.parent / "nightly", folder.parent / "nightly", dirs_exist_ok=True)
    for path, text in reference():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, "utf-8")


def build(out: Path, *, figures: bool = True) -> list[str]:
    """Build the site as HTML; return what is wrong with it.

    Parameters
    ----------
    out : pathlib.Path
        Folder of the HTML, written anew.
    figures : bool
        Whether the scripts of the gallery are run.

    Returns
    -------
    list of str
        Warnings of Sphinx, links that lead nowhere, and public names without a page.
    """
    shutil.rmtree(out, ignore_errors=True)
    with (
        tempfile.TemporaryDirectory() as folder, patch_docutils(str(GUIDE)), docutils_namespace(),
        warnings.catch_warnings(),
    ):  # fmt: skip
        # Extensions call what a later Sphinx will not have.
        warnings.simplefilter("ignore", DeprecationWarning)
        warnings.simplefilter("ignore", PendingDeprecationWarning)
        source = Path(folder).resolve() / "source"
        write_sources(source)
        said = StringIO()
        app = Sphinx(
            source, GUIDE, out.resolve(), Path(folder) / "doctrees", "html", status=None,
            warning=said,  confoverrides={} if figures else {"plot_gallery": "False"},
        )  # fmt: skip
        app.build()
        documented = {name for name, *_ in app.env.get_domain("py").get_objects()}
    told = _COLOUR.sub("", said.getvalue()).replace(f"{source}/", "").split("\n")
    return [*filter(None, told), *without_page(documented), *broken(out)]


def without_page(documented: set[str]) -> list[str]:
    """Give a sentence for each public name that is not among those documented."""
    return [f"{name}: no page." for name in public_names() if name not in documented]

"""The help pages that come with the plugin, for the browser, without a network."""

from __future__ import annotations

from pathlib import Path

from qgis.PyQt.QtCore import QUrl
from qgis.PyQt.QtGui import QDesktopServices

from .language import language

_FOLDER = Path(__file__).with_name("help")


def help_url(page="index", part=""):
    """Return the URL of a page, or of a part of it, in the language of QGIS if it is there.

    A page that is not there is replaced by that of the plugin, where `page` is the part.
    """
    file = _file(page)
    if not file.is_file():
        file, part = _file("index"), page
    url = QUrl.fromLocalFile(str(file))
    if part:
        url.setFragment(part)
    return url.toString()


def _file(page):
    translated = _FOLDER / f"{page}_{language()}.html"
    return translated if translated.is_file() else _FOLDER / f"{page}.html"


def open_help(page="index", part=""):
    """Open a help page in the browser."""
    return QDesktopServices.openUrl(QUrl(help_url(page, part)))

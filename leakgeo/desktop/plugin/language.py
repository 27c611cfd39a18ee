"""The language of the plugin: that of QGIS, if the plugin has a translation into it."""

from __future__ import annotations

from pathlib import Path

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QCoreApplication, QLocale, QTranslator

_FOLDER = Path(__file__).with_name("i18n")
# In it the texts of the sources are.
_ENGLISH = "en"


def tr(text):
    """Return a text of the plugin in the language of QGIS; a literal, so that tools find it."""
    return QCoreApplication.translate("leakgeo", text)


def tr_catalog(text):
    """Return a text of leakgeo's catalog in the language of QGIS; unchanged if it is unknown."""
    return QCoreApplication.translate("leakgeo", text) if text else text


def language():
    """Return the language of QGIS if the plugin has it, else English."""
    name = QgsApplication.locale()[:2].lower()
    return name if (_FOLDER / f"leakgeo_{name}.qm").is_file() else _ENGLISH


def language_of_leakgeo(catalog):
    """Return the language of QGIS with its decimal sign if leakgeo has it, else its default.

    Parameters
    ----------
    catalog : dict
        Document of ``leakgeo steps --json``.
    """
    (offered,) = [p for p in catalog["steps"][0]["parameters"] if p["name"] == "language"]
    return default_language(offered)


def default_language(parameter):
    """Return the choice of the parameter with language and decimal sign of QGIS, or its default.

    A choice may have a region, such as es-419, where the sign is not that of the language itself.
    """
    name = QgsApplication.locale()[:2].lower()
    spoken = [each for each in parameter["choices"] if each.partition("-")[0] == name]
    sign = _locale().decimalPoint()
    same = [each for each in spoken if QLocale(each.replace("-", "_")).decimalPoint() == sign]
    return [*same, *spoken, parameter["default"]][0]


def _locale():
    """Return the locale of QGIS; a language without a country has the numbers of QGIS."""
    name, numbers = QgsApplication.locale(), QLocale()
    return numbers if numbers.name()[:2] == name.lower() else QLocale(name)


def local_number(text):
    """Return the text of a number with the decimal sign of QGIS, if the plugin has its language."""
    if language() == _ENGLISH:
        return text
    return text.replace(".", _locale().decimalPoint())


def install_translator():
    """Install the translation into the language of QGIS; return it, or None for English."""
    translator = QTranslator()
    if language() == _ENGLISH or not translator.load(str(_FOLDER / f"leakgeo_{language()}.qm")):
        return None
    QCoreApplication.installTranslator(translator)
    return translator

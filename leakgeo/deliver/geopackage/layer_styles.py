"""Styles as the table ``layer_styles`` of a GeoPackage, and as files."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from leakgeo.deliver.geopackage.forms import form_qml
from leakgeo.deliver.geopackage.qml import qml
from leakgeo.deliver.geopackage.sld import sld
from leakgeo.deliver.geopackage.styles import STYLES, see_through, styles_of, words_of
from leakgeo.deliver.qgis.drawn_styles import of_job
from leakgeo.deliver.qgis.symbols import VERSION
from leakgeo.job.results.stored_record import PREFIX

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from pathlib import Path

    from leakgeo.result import Result
    from leakgeo.wording import Wording

# The table of QGIS, registered as a table without geometry.
_TABLE = """
CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256),
  f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
  useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')));
INSERT INTO gpkg_contents (table_name, data_type, identifier, description)
  VALUES ('layer_styles', 'attributes', 'layer_styles', 'How the layers are drawn.');
"""
_ENDS = (".qml", ".sld", "-1.1.sld")
_ROW = (
    "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, "
    "styleName, styleQML, styleSLD, useAsDefault, description, owner) "
    "VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '')"
)
# Table without geometry, which has a form and no symbols.
_TABLE_WITH_FORM = "lines"


def add_styles(base: sqlite3.Connection, result: Result, tables: Collection[str]) -> None:
    """Add the style of each layer to a GeoPackage, instead of an earlier one.

    Parameters
    ----------
    base : sqlite3.Connection
    result : Result
    tables : collection of str
        Layers that the GeoPackage has.
    """
    words = words_of(result)
    # QGIS lists the tables of a file by name, and draws the first one on top.
    styles = [see_through(style) if style.layer < "marks" else style
              for style in styles_of(result) if style.layer in tables]  # fmt: skip
    rows = [(s.layer, "geom", s.layer[:30], qml(s, words), sld(s), s.title) for s in styles]
    for name in tables:
        if name.startswith(PREFIX) and (own := of_job(name.removeprefix(PREFIX))):
            ogc = sld(own[0]) if len(own) == 1 else ""  # which has one kind of geometry
            rows.append((name, "geom", name[:30], qml(own[0], words, *own[1:]), ogc, own[0].title))
    if _TABLE_WITH_FORM in tables:
        name = _TABLE_WITH_FORM
        rows.append((name, "", name, form_qml(name, VERSION, words), "", "Form of the lines"))
    base.execute("DROP TABLE IF EXISTS layer_styles")
    base.execute("DELETE FROM gpkg_contents WHERE table_name = 'layer_styles'")
    if rows:
        write_rows(base, rows)


def write_rows(base: sqlite3.Connection, rows: Sequence[tuple[str, ...]]) -> None:
    """Write the table ``layer_styles`` into a GeoPackage that lacks it.

    Parameters
    ----------
    base : sqlite3.Connection
    rows : sequence of tuple of str
        Layer, geometry column, name, QML, SLD and description of each style.
    """
    for statement in _TABLE.split(";")[:-1]:
        base.execute(statement)
    base.executemany(_ROW, rows)


def style_files() -> list[str]:
    """Return the names of all files that `write_styles` may write."""
    return [f"{_TABLE_WITH_FORM}.qml", *(f"{name}{end}" for name in STYLES for end in _ENDS)]


def write_styles(result: Result, folder: Path, words: Wording | None = None) -> list[Path]:
    """Write the styles as files: ``LAYER.qml``, ``LAYER.sld`` (1.0.0), ``LAYER-1.1.sld``.

    Parameters
    ----------
    result : Result
    folder : pathlib.Path
        Created if it is missing.
    words : Wording, optional
        Units and language of the labels; those of the texts of the result if None.

    Returns
    -------
    list of pathlib.Path
        Files written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    words = words or words_of(result)
    texts = {
        f"{style.layer}{end}": text
        for style in styles_of(result, words)
        for end, text in zip(
            _ENDS, (qml(style, words), sld(style, "1.0.0"), sld(style, "1.1.0")), strict=True
        )
    }
    if _TABLE_WITH_FORM in result.layers:
        texts[f"{_TABLE_WITH_FORM}.qml"] = form_qml(_TABLE_WITH_FORM, VERSION, words)
    for name, text in texts.items():
        (folder / name).write_text(text + "\n", encoding="utf-8", newline="\n")
    return [folder / name for name in texts]

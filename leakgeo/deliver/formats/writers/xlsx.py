"""XLSX: the cards of the lines, their profiles as pictures, and their stops, for spreadsheets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.formats.format import Format
from leakgeo.deliver.workbook.write import FILE, MAX_SHEETS, write_workbook

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from leakgeo.result import Result


def _write(_: Mapping[str, pd.DataFrame], result: Result, folder: Path) -> list[str]:
    units, language = result.text_options
    write_workbook(result, folder / FILE, result.units(units), language)
    return []


FORMAT = Format(
    "XLSX", _write,
    ("It has texts and stops of the lines, no places, and no layer as a whole.",
     f"The first {MAX_SHEETS} lines by priority have a sheet of their own."),
)  # fmt: skip

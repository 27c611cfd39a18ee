"""Sheets of a crew without a GIS: their names and headers, how they are read, and an empty one."""

from __future__ import annotations

from leakgeo.job.workbook.names import sheet_named
from leakgeo.job.workbook.read import SHEET_FILES, with_sheets
from leakgeo.job.workbook.template import OWN_SHEETS, write_workbook

__all__ = ["OWN_SHEETS", "SHEET_FILES", "sheet_named", "with_sheets", "write_workbook"]

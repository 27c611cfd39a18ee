"""Sheets of a crew without a GIS: their names and headers, how they are read, and an empty one."""

from __future__ import annotations

from leakgeo.job.workbook.read import SHEET_FILES, with_sheets
from leakgeo.job.workbook.template import write_workbook

__all__ = ["SHEET_FILES", "with_sheets", "write_workbook"]

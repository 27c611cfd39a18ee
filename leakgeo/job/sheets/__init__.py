"""Sheets of a crew without a GIS: their names and headers, how they are read, and an empty one."""

from __future__ import annotations

from leakgeo.job.sheets.read import with_sheets
from leakgeo.job.sheets.template import write_sheets

__all__ = ["with_sheets", "write_sheets"]

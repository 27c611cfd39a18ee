"""What is refused of a file before it is opened, and GDAL opened with one driver and no network."""

from __future__ import annotations

from leakgeo.job.guards import gdal
from leakgeo.job.guards.files import KNOWN, trouble
from leakgeo.job.guards.gdal import DRIVERS, URI_LETTERS
from leakgeo.job.guards.memory import PARQUET, too_many

__all__ = [
    "DRIVERS",
    "KNOWN",
    "PARQUET",
    "URI_LETTERS",
    "gdal",
    "too_many",
    "trouble",
]

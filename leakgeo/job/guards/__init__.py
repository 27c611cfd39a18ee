"""Protection from malicious and damaged files; see README.md for the threat model."""

from __future__ import annotations

from leakgeo.job.guards import gdal
from leakgeo.job.guards.files import READABLE, SQLITE, refusal
from leakgeo.job.guards.gdal import DRIVERS, URI_LETTERS
from leakgeo.job.guards.memory import PARQUET, SIDECARS, table_too_large
from leakgeo.job.guards.whole import looks_whole

__all__ = [
    "DRIVERS",
    "PARQUET",
    "READABLE",
    "SIDECARS",
    "SQLITE",
    "URI_LETTERS",
    "gdal",
    "looks_whole",
    "refusal",
    "table_too_large",
]

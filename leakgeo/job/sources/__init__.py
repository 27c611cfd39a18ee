"""What a job is read from: files, folders, databases, tables in memory; all only ever read.

`open_source` finds the layers, `read_layer` reads one.
"""

from __future__ import annotations

from leakgeo.job.sources.address import is_database, is_local, shown
from leakgeo.job.sources.coordinates import place, usual_columns
from leakgeo.job.sources.layers import LayerSource, Memory, RawLayer
from leakgeo.job.sources.postgis import Database, connect
from leakgeo.job.sources.read_only_copy import read_only_copy
from leakgeo.job.sources.simulated import KEY, simulated_note
from leakgeo.job.sources.source import JobSource, digest, layer_names, open_source, read_layer

__all__ = [
    "KEY",
    "Database",
    "JobSource",
    "LayerSource",
    "Memory",
    "RawLayer",
    "connect",
    "digest",
    "is_database",
    "is_local",
    "layer_names",
    "open_source",
    "place",
    "read_layer",
    "read_only_copy",
    "shown",
    "simulated_note",
    "usual_columns",
]

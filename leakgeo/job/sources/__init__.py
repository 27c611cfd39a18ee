"""Sources of a job: files, folders, databases, tables in memory; they are never written.

`open_source` finds the layers, `read_layer` reads one.
"""

from __future__ import annotations

from leakgeo.job.sources.address import display_address, is_database, is_local
from leakgeo.job.sources.batches import (
    GEOMETRY,
    LayerBatches,
    RowFilter,
    can_be_batched,
    open_batches,
    raw_layer,
    row_count,
)
from leakgeo.job.sources.coordinates import points_from_columns, usual_columns
from leakgeo.job.sources.edited import EditedSource
from leakgeo.job.sources.layers import LayerSource, Memory, RawLayer
from leakgeo.job.sources.partial import PartialSource
from leakgeo.job.sources.postgis import RESULT_MARK, Database, connect
from leakgeo.job.sources.read_only_copy import (
    BUSY,
    LOGS,
    file_state,
    has_open_journal,
    read_only_copy,
)
from leakgeo.job.sources.row_keys import row_keys
from leakgeo.job.sources.simulated import SIMULATED_KEY, simulated_note, simulated_note_of
from leakgeo.job.sources.source import (
    FIELD_JOB,
    JobSource,
    digest,
    layer_names,
    open_source,
    read_columns,
    read_layer,
)

__all__ = [
    "BUSY",
    "FIELD_JOB",
    "GEOMETRY",
    "LOGS",
    "RESULT_MARK",
    "SIMULATED_KEY",
    "Database",
    "EditedSource",
    "JobSource",
    "LayerBatches",
    "LayerSource",
    "Memory",
    "PartialSource",
    "RawLayer",
    "RowFilter",
    "can_be_batched",
    "connect",
    "digest",
    "display_address",
    "file_state",
    "has_open_journal",
    "is_database",
    "is_local",
    "layer_names",
    "open_batches",
    "open_source",
    "points_from_columns",
    "raw_layer",
    "read_columns",
    "read_layer",
    "read_only_copy",
    "row_count",
    "row_keys",
    "simulated_note",
    "simulated_note_of",
    "usual_columns",
]

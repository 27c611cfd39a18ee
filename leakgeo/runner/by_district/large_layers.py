"""The layers of a job that are read by district."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.job.source_layers import has_sheets, source_layers
from leakgeo.job.sources import can_be_batched

if TYPE_CHECKING:
    from leakgeo.job.mapping import JobMapping
    from leakgeo.job.source_layers import SourceLayer
    from leakgeo.job.sources import LayerSource

#: Layers of the job that grow with readings and streets, not with the pipes.
LARGE = ("readings", "utilities", "surfaces")


def large_layers(opened: LayerSource, mapping: JobMapping | None) -> tuple[SourceLayer, ...] | None:
    """Return the large layers of a source; None if one of them can only be read as a whole."""
    found = source_layers(opened, mapping, LARGE)
    names = [one.name for one in found]
    if has_sheets(opened):
        return None
    if not all(name in opened.layers and can_be_batched(opened, name) for name in names):
        return None
    return found

"""Mappings from other schemas, and from older files, to the data contract.

`load_mapping` reads a mapping, `apply_mapping` reads a source through it, and `draft_mapping`
drafts one from the names and values in a source.
"""

from __future__ import annotations

from leakgeo.job.mapping.apply import apply_mapping
from leakgeo.job.mapping.draft import draft_mapping
from leakgeo.job.mapping.former import codes_for_booleans, rename_former_columns
from leakgeo.job.mapping.guess import (
    guess_code,
    may_be_utility,
    nearest_column,
    synonyms,
    unit_in,
    words,
)
from leakgeo.job.mapping.load import load_mapping
from leakgeo.job.mapping.model import JobMapping, LayerMap

__all__ = [
    "JobMapping",
    "LayerMap",
    "apply_mapping",
    "codes_for_booleans",
    "draft_mapping",
    "guess_code",
    "load_mapping",
    "may_be_utility",
    "nearest_column",
    "rename_former_columns",
    "synonyms",
    "unit_in",
    "words",
]

"""Checks of a job's rows, from the text of a column to rows of other layers.

`check_layer` types a layer and checks it by its schema; `run_checks` runs the checks that are
declared with `check`; a `CheckedLayer` keeps every row with its reason, and an `IssueCollector`
takes what is reported.
"""

from __future__ import annotations

from leakgeo.job.checks.collector import IssueCollector
from leakgeo.job.checks.crs_mismatch import looks_like_degrees, place_faults
from leakgeo.job.checks.layer import CheckedLayer, check_layer, joined, to_local
from leakgeo.job.checks.lines import (
    ASIDE_M,
    NO_SD_M,
    REACH_SD,
    as_names,
    link_layers,
    link_lines,
    may_be_taped,
    pick_lines,
    put_on_routes,
)
from leakgeo.job.checks.registry import check, check_settings, load_checks, run_checks
from leakgeo.job.checks.rows import copy_of
from leakgeo.job.checks.tape_origin import tape_along_routes

__all__ = [
    "ASIDE_M",
    "NO_SD_M",
    "REACH_SD",
    "CheckedLayer",
    "IssueCollector",
    "as_names",
    "check",
    "check_layer",
    "check_settings",
    "copy_of",
    "joined",
    "link_layers",
    "link_lines",
    "load_checks",
    "looks_like_degrees",
    "may_be_taped",
    "pick_lines",
    "place_faults",
    "put_on_routes",
    "run_checks",
    "tape_along_routes",
    "to_local",
]

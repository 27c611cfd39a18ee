"""Checks of a job's rows: types, values, geometry, and references to other layers.

`check_layer` converts columns to their types and checks a layer by its schema. `run_checks` runs
the checks declared with `check`. A `CheckedLayer` keeps every row with its reason; an
`IssueCollector` records reasons and faults.
"""

from __future__ import annotations

from leakgeo.job.checks.actions import ends_listened_beyond
from leakgeo.job.checks.collector import IssueCollector, merged_faults
from leakgeo.job.checks.crs_mismatch import looks_like_degrees, position_faults
from leakgeo.job.checks.digs import hole_chainages, place_digs_by_chainage
from leakgeo.job.checks.displays import displays_in_doubt
from leakgeo.job.checks.drawn_and_typed import MERGED
from leakgeo.job.checks.layer import CheckedLayer, check_layer, merge_parts, to_local
from leakgeo.job.checks.lines import (
    CHAINAGE_ONLY_SD_M,
    OFF_LINE_M,
    OFF_LINE_SD,
    as_names,
    can_be_placed_by_chainage,
    has_chainage,
    link_lines,
    link_rows,
    place_by_chainage,
    referred_layers,
    selection_faults,
    with_selection,
)
from leakgeo.job.checks.registry import check, check_settings, load_checks, run_checks
from leakgeo.job.checks.repairs import HOLE_SD_M, before_repair, with_repairs
from leakgeo.job.checks.rows import FLOW_RISES_SHARE, RISES_SHARE, depths_in_doubt, identical_row
from leakgeo.job.checks.sweeps import ASIDE_M, FARTHEST_M, TAPED_SD_M, offsets_across, sweep_places
from leakgeo.job.checks.tape_origin import FITTING_SD_M, tape_along_routes
from leakgeo.job.checks.tape_text import (
    is_in_feet,
    is_plain_number,
    mostly_in_feet,
    names_start,
    tape_m,
    tapes_in_feet,
)
from leakgeo.job.checks.taped_lines import place_taped_lines
from leakgeo.job.checks.taped_lists import PLACED_BY_TAPE, lines_with_lists
from leakgeo.job.checks.taps import with_tap_points

__all__ = [
    "ASIDE_M",
    "CHAINAGE_ONLY_SD_M",
    "FARTHEST_M",
    "FITTING_SD_M",
    "FLOW_RISES_SHARE",
    "HOLE_SD_M",
    "MERGED",
    "OFF_LINE_M",
    "OFF_LINE_SD",
    "PLACED_BY_TAPE",
    "RISES_SHARE",
    "TAPED_SD_M",
    "CheckedLayer",
    "IssueCollector",
    "as_names",
    "before_repair",
    "can_be_placed_by_chainage",
    "check",
    "check_layer",
    "check_settings",
    "depths_in_doubt",
    "displays_in_doubt",
    "ends_listened_beyond",
    "has_chainage",
    "hole_chainages",
    "identical_row",
    "is_in_feet",
    "is_plain_number",
    "lines_with_lists",
    "link_lines",
    "link_rows",
    "load_checks",
    "looks_like_degrees",
    "merge_parts",
    "merged_faults",
    "mostly_in_feet",
    "names_start",
    "offsets_across",
    "place_by_chainage",
    "place_digs_by_chainage",
    "place_taped_lines",
    "position_faults",
    "referred_layers",
    "run_checks",
    "selection_faults",
    "sweep_places",
    "tape_along_routes",
    "tape_m",
    "tapes_in_feet",
    "to_local",
    "with_repairs",
    "with_selection",
    "with_tap_points",
]

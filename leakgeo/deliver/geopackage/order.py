"""The order of the layers of a result, in its file and in its project: that of the work."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

#: Groups in the order of work, and their layers, those of the job by geometry type.
GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "group_holds": (
            "conflicts", "locate_requests", "job_utility_points", "job_utility_lines",
            "job_utility_areas", "holds", "cautions",
        ),
        "group_marks": ("marks", "ties", "lines", "next_actions"),
        "group_zones": ("dig_alternatives", "dig_zones", "search_zones", "survey_bracket",
                  "district_segments", "profile"),
        "group_readings": ("next_readings", "readings_on_route", "air_tests", "contact_ranking"),
        "group_pipes": (
            "job_dig_outcomes", "job_contacts", "job_valves", "job_routes", "job_history_points",
            "job_history_areas", "job_surfaces",
        ),
    }
)  # fmt: skip
#: Group of all other layers; it comes last.
REST = "group_rest"


def in_order(names: Iterable[str]) -> list[str]:
    """Return names of layers in the order of work; those of no group last, as they come.

    Examples
    --------
    >>> in_order(["learned", "search_zones", "marks", "holds"])
    ['holds', 'marks', 'search_zones', 'learned']
    """
    listed = [name for group in GROUPS.values() for name in group]
    return sorted(names, key=lambda name: listed.index(name) if name in listed else len(listed))

"""What is wrong with the utilities layer itself, as holds and as faults."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.faults import Fault

if TYPE_CHECKING:
    from leakgeo.dig.facilities import Facilities
    from leakgeo.job.model import Job


def layer_hold(job: Job, facilities: Facilities) -> str | None:
    """Say what is wrong with the utilities layer as a whole; it then holds every dig."""
    if job.utilities is None:
        return "there is no utilities layer: absence of data holds the dig, it clears nothing"
    if not len(job.utilities):
        return "the utilities layer has no rows: absence of data holds the dig, it clears nothing"
    if lost := int(facilities.unplaced.sum()):
        return (
            f"{lost} utility records have no usable position and could be anywhere (correct them)"
        )
    return None


def facility_faults(facilities: Facilities) -> list[Fault]:
    """Report utilities that the job's own checks let by but that can't be measured as they are."""
    table, fresh = facilities.table, facilities.table["reason"].isna().to_numpy()
    lost, bent = facilities.unplaced & fresh, facilities.repaired & fresh
    name = table["utility_id"].fillna("row " + (table.index + 1).astype(str).to_series(table.index))
    return [
        *(Fault("utilities", "It has no usable position, and could be anywhere.",
                "Give it a geometry; until then it holds every dig.", str(who))
          for who in name[lost]),
        *(Fault("utilities", "Its shape is invalid, and was repaired to measure from.",
                "Correct the shape; until then it holds the digs near it.", str(who),
                effect="noted")
          for who in name[bent]),
    ]  # fmt: skip

"""What is wrong with the utilities layer itself, as holds and as faults."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.faults import Fault
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.dig.facilities import Facilities
    from leakgeo.job.model import Job


def layer_hold(job: Job, facilities: Facilities) -> Reason | None:
    """Say what is wrong with the utilities layer as a whole; it then holds every dig."""
    if job.utilities is None:
        return Reason("no_utilities_layer")
    if not len(job.utilities):
        return Reason("no_utilities_rows")
    if lost := int(facilities.unplaced.sum()):
        return Reason("utilities_without_position", records=lost)
    return None


def facility_faults(facilities: Facilities) -> list[Fault]:
    """Report utilities that the job's own checks let by but that can't be measured as they are."""
    table, fresh = facilities.table, facilities.table["reason"].isna().to_numpy()
    lost, bent = facilities.unplaced & fresh, facilities.repaired & fresh
    name = table["utility_id"].fillna("row " + (table.index + 1).astype(str).to_series(table.index))
    return [
        *(Fault("utilities", Reason("utility_without_position"), str(who)) for who in name[lost]),
        *(Fault("utilities", Reason("utility_shape_repaired"), str(who), effect="noted")
          for who in name[bent]),
    ]  # fmt: skip

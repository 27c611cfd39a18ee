"""Whether anything speaks for a leak on a line, before anyone walks along it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.faults import Fault
from leakgeo.find.loss.meter_tests import losses
from leakgeo.find.survey.words import SHOWN_NATS
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats
    from leakgeo.find.posterior.place_prior import PlacePrior
    from leakgeo.job.model import Job
    from leakgeo.route.lines import Lines

_NAMED = 5


def unsupported(job: Job, lines: Lines, heard_nats: Floats, past: PlacePrior) -> Bools:
    """Tell which of the lines asked for have nothing that speaks for a leak.

    Parameters
    ----------
    job : Job
    lines : Lines
    heard_nats : ndarray of float, shape (l,)
        Log evidence of the fittings for a leak on each line, NaN where none was heard.
    past : PlacePrior
        Of past leaks and repairs.

    Returns
    -------
    ndarray of bool, shape (l,)
    """
    found = losses(job.meter_tests)
    losing = lines.table.index.isin(
        [n for n, loss in found.items() if loss.verdict == "loss_shown"]
    )
    recorded = np.isin(np.arange(len(heard_nats)), past.bumps.line)
    heard = np.nan_to_num(heard_nats, nan=-np.inf) > SHOWN_NATS
    return np.asarray(lines.asked & ~losing & ~heard & ~recorded)


def unsupported_fault(lines: Lines, bare: Bools) -> list[Fault]:
    """Say so once, before anyone walks."""
    if not bare.any():
        return []
    names = [str(name) for name in lines.table.index[bare]]
    more = len(names) - _NAMED
    named = ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
    reason = Reason("no_evidence", lines=len(names), every=bool(bare[lines.asked].all()))
    return [Fault("job", reason, named, effect="noted")]

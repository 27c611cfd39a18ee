"""Lines that were repaired and not listened to since: what tests show of the repair."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import expit, logit, logsumexp

from leakgeo.arrays import texts
from leakgeo.find.levels.before_repair import BEFORE_REPAIR
from leakgeo.find.locate.finding import Weighed
from leakgeo.find.locate.status import LIKELIER_THAN_NOT
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Bools
    from leakgeo.find.evidence.likelihood import Evidence
    from leakgeo.route.lines import Lines

# Cells of the line that the evidence is averaged over.
_CELLS = 50
# Kinds of evidence that verify a repair: tests from before it are set aside.
_TESTS = ("meter", "isolation")


@dataclass(frozen=True)
class Repaired:
    """A repaired line without a reading since.

    Parameters
    ----------
    leak_probability : float
        Probability that there is another leak; NaN where nothing was tested since.
    message : Reason
    further : tuple of Weighed
        Evidence since the repair.
    """

    leak_probability: float
    message: Reason
    further: tuple[Weighed, ...]

    @property
    def status(self) -> str:
        """Status of the line: a code of the data contract."""
        if np.isnan(self.leak_probability):
            return "not_listened_to"
        likely = self.leak_probability >= LIKELIER_THAN_NOT
        return "keep_listening" if likely else "no_leak_heard"


def repaired_lines(
    readings: pd.DataFrame, lines: Lines, evidence: Mapping[int, Sequence[Evidence]],
    leak_prior: float,
) -> dict[str, Repaired]:  # fmt: skip
    """Return the selected lines all of whose readings are, or may be, from before their repair.

    A reading that is not used for another reason tells nothing of the line since either, unless it
    was taken since.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    evidence : mapping of int to sequence of Evidence
        By index of the line.
    leak_prior : float
        Probability of a leak before these tests.

    Returns
    -------
    dict of str to Repaired
        By ``line_id``.
    """
    old = np.isin(texts(readings, "reason_code").astype(str), BEFORE_REPAIR)
    since = ~old & (readings["used"].to_numpy(dtype=bool) | _taken_since(readings, lines))
    by_line = readings.assign(old=old, since=since).groupby("line_id")[["old", "since"]].any()
    found = {}
    for name in by_line.index[by_line["old"] & ~by_line["since"]]:
        line = int(lines.index_of([name])[0])
        if line >= 0 and lines.selected[line]:
            found[str(name)] = _repaired(line, lines, evidence.get(line, ()), leak_prior)
    return found


def _taken_since(readings: pd.DataFrame, lines: Lines) -> Bools:
    """Return whether each reading was taken after the repair of its line."""
    if "repaired_time" not in lines.table:
        return np.zeros(len(readings), dtype=bool)
    line = lines.index_of(readings["line_id"])
    repaired = pd.Series(lines.table["repaired_time"].array.take(line, allow_fill=True))
    time = pd.to_datetime(readings["time"], utc=True).reset_index(drop=True)
    return (time >= repaired).to_numpy(dtype=bool)


def _repaired(line: int, lines: Lines, evidence: Sequence[Evidence], leak_prior: float) -> Repaired:
    cells = np.linspace(0.0, float(lines.length_m[line]), _CELLS)
    given = [e for e in (one.likelihood(cells, ()) for one in evidence) if e.kind in _TESTS]
    further = tuple(
        Weighed(e.kind, float(logsumexp(e.leak) - np.log(_CELLS)) - e.none, e.reason) for e in given
    )
    day = lines.repair_day(line)
    if not further:
        return Repaired(np.nan, Reason("not_listened_since_repair", day=day), further)
    probability = float(expit(logit(leak_prior) + sum(one.log_bf for one in further)))
    odds = Reason("leak_on_line", probability=probability)
    shown = (*(one.reason for one in further), odds)
    message = Reason("not_listened_since_repair", *shown, day=day)
    return Repaired(probability, message, further)

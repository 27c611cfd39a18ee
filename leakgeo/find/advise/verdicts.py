"""What the verdict of a line and its sweeps say must be done, whatever else could be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import sum_by_line, texts
from leakgeo.find.locate.status import HEARD, SHOWN_NATS
from leakgeo.find.loss.meter_tests import losses
from leakgeo.reason import Reason, reasons_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from leakgeo.find.levels.readings import Readings
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines

# What to do after a sweep that is loudest beside the trace.
_AFTER_SWEEP = {"sweep_beside": "trace_again", "sweep_beyond": "sweep_further"}
# What to do about another explanation of the sound, by the code of the message.
_ABOUT = {
    "fitting_sounds": "shut_fitting", "leak_beyond": "listen_beyond",
    "sounds_elsewhere": "find_source",
}  # fmt: skip

# Stops are set down a little beside where they were meant, so that a step may come out longer.
_BESIDE = 1.25
# Probability of a leak on the line from which stops go on beside the fittings beyond its end.
_MAY_BE_HERE = 0.3


def explained_otherwise(lines: pd.DataFrame) -> dict[str, str]:
    """Return the action about what explains the sound of each line, other than a leak on it.

    More stops along such a line would not help.

    Parameters
    ----------
    lines : pandas.DataFrame
        Layer ``lines``.

    Returns
    -------
    dict of str to str
        By ``line_id``: the code of the action.
    """
    return {name: _ABOUT[message.code] for name, message in _messages(lines)
            if message.code in _ABOUT}  # fmt: skip


def fittings_beside(lines: pd.DataFrame) -> dict[str, str]:
    """Return the ``contact_id`` of the fitting beside each mark that may sound by itself.

    Parameters
    ----------
    lines : pandas.DataFrame
        Layer ``lines``.
    """
    return {
        name: str(dict(dict(part.values)["fitting"].values)["contact"])
        for name, message in _messages(lines)
        for part in message.then
        if part.code == "beside_fitting"
    }


def lines_to_read_again(result: Result) -> set[str]:
    """Return the lines with a meter none of whose tests is valid."""
    tested = losses(result.job.meter_tests)
    return {name for name, loss in tested.items() if loss.verdict == "not_valid"}


def lines_shown_to_leak(evidence: pd.DataFrame) -> set[str]:
    """Return the lines on which evidence that is not heard, as of a meter, shows a leak."""
    unheard = evidence[~evidence["kind"].isin(("prior", "sound", *HEARD))]
    total = sum_by_line(unheard, "log10_bayes_factor")
    return {name for name, factor in total.items() if factor >= SHOWN_NATS / np.log(10.0)}


def is_walked(readings: Readings, lines: Lines, line: int, step_m: float) -> bool:
    """Return whether no stretch of a line much longer than a step is without a reading."""
    ends = 0.0, float(lines.length_m[line])
    longest = float(np.diff(np.sort([*readings.chainage_m, *ends])).max())
    return longest <= _BESIDE * step_m


def may_be_here(action: str, leak_probability: float) -> bool:
    """Return whether stops go on although an action helps: a leak at an end is on either side."""
    return action == "listen_beyond" and leak_probability >= _MAY_BE_HERE


def _messages(lines: pd.DataFrame) -> Iterator[tuple[str, Reason]]:
    """Yield the id and the message of each line that has one."""
    for name, message in zip(texts(lines, "line_id"), reasons_in(lines, "message"), strict=True):
        if message is not None:
            yield str(name), message


def after_sweeps(evidence: pd.DataFrame) -> dict[str, Reason]:
    """Return what to do on each line that sounds beside its trace.

    Parameters
    ----------
    evidence : pandas.DataFrame
        Layer ``evidence``.

    Returns
    -------
    dict of str to Reason
        By ``line_id``: to trace the pipe again, or to sweep further.
    """
    table = evidence[evidence["code"].isin(list(_AFTER_SWEEP))]
    found: dict[str, Reason] = {}
    for name, swept in zip(texts(table, "line_id"), reasons_in(table, "message"), strict=True):
        if swept is not None:
            # The first sweep of a line says where, but one that reached the source comes first.
            again = Reason(_AFTER_SWEEP[swept.code], **dict(swept.values))
            if found.setdefault(str(name), again).code == "sweep_further":
                found[str(name)] = again
    return found

"""What to do on a line besides more stops along it, or instead of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
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
# What to do about another explanation of the sound, by the code of the message or of its part, and
# the name of its place.
_ABOUT = {
    "fitting_sounds": ("shut_fitting", "fitting"), "leak_beyond": ("listen_beyond", "end"),
    "sounds_elsewhere": ("find_other_source", None),
}  # fmt: skip
_ABOUT_ALSO = {
    "also_fitting": ("shut_fitting", "fitting"), "also_beyond": ("listen_beyond", "end"),
}  # fmt: skip


# Stops are set down a little beside where they were meant, so that a step may come out longer.
_BESIDE = 1.25
# Probability of a leak on the line from which stops come before fittings beyond its end.
_MAY_BE_HERE = 0.3


def may_be_here(action: Reason, leak_probability: float) -> bool:
    """Return whether stops go on although an action helps: a leak at an end is on either side."""
    return action.code == "listen_beyond" and leak_probability >= _MAY_BE_HERE


def instead_of_stops(result: Result, open_lines: set[str]) -> dict[str, Reason]:
    """Return what to do on lines where more stops along the line would not help.

    Parameters
    ----------
    result : Result
        With ``lines`` and ``evidence``.
    open_lines : set of str
        Lines that are neither located nor free of a leak.

    Returns
    -------
    dict of str to Reason
        By ``line_id``: where something else explains the sound, or it is loudest beside the trace.
    """
    found = {}
    for name, message in _messages(result.layers["lines"]):
        if message.code in _ABOUT:
            action, place = _ABOUT[message.code]
            named = {} if place is None else {place: dict(message.values)[place]}
            found[name] = Reason(action, **named)
    swept = _after_sweeps(result.layers["evidence"])
    return found | {name: what for name, what in swept.items() if name in open_lines}


def besides_stops(result: Result) -> dict[str, list[Reason]]:
    """Return what to do besides on lines that are neither located nor rejected.

    That is about what may sound besides a leak here, and to read a meter again whose tests are all
    invalid.

    Parameters
    ----------
    result : Result
        With ``lines``.

    Returns
    -------
    dict of str to list of Reason
        By ``line_id``.
    """
    table, found = result.layers["lines"], dict[str, list[Reason]]()
    open_ = set(texts(table, "line_id")[~table["status"].isin(("located", "rejected"))])
    for name, message in _messages(table):
        for also in (part for part in message.then if part and part.code == "also_possible"):
            for place in dict(also.values)["places"]:
                if place.code in _ABOUT_ALSO and name in open_:
                    action, key = _ABOUT_ALSO[place.code]
                    reason = Reason(action, **{key: dict(place.values)["place"]})
                    found.setdefault(name, []).append(reason)
    for name, loss in losses(result.job.meter_tests).items():
        if loss.verdict == "not_valid" and name in open_:
            found.setdefault(name, []).append(Reason("read_meter_again"))
    return found


def lines_shown_to_leak(evidence: pd.DataFrame) -> set[str]:
    """Return the lines on which evidence that is not heard, as of a meter, shows a leak."""
    unheard = evidence[~evidence["kind"].isin(("prior", "sound", *HEARD))]
    total = unheard.groupby("line_id")["log10_bayes_factor"].sum()
    return set(total.index[total >= SHOWN_NATS / np.log(10.0)])


def is_walked(readings: Readings, lines: Lines, line: int, step_m: float) -> bool:
    """Return whether no stretch of a line much longer than a step is without a reading."""
    ends = 0.0, float(lines.length_m[line])
    longest = float(np.diff(np.sort([*readings.chainage_m, *ends])).max())
    return longest <= _BESIDE * step_m


def _messages(lines: pd.DataFrame) -> Iterator[tuple[str, Reason]]:
    """Yield the id and the message of each line that has one."""
    for name, message in zip(texts(lines, "line_id"), reasons_in(lines, "message"), strict=True):
        if message is not None:
            yield str(name), message


def _after_sweeps(evidence: pd.DataFrame) -> dict[str, Reason]:
    """Return what to do on each line that sounds beside its trace."""
    table = evidence[evidence["code"].isin(list(_AFTER_SWEEP))]
    found: dict[str, Reason] = {}
    for name, swept in zip(texts(table, "line_id"), reasons_in(table, "message"), strict=True):
        if swept is not None:
            # The first sweep of a line says where, but one that reached the source comes first.
            again = Reason(_AFTER_SWEEP[swept.code], **dict(swept.values))
            if found.setdefault(str(name), again).code == "sweep_further":
                found[str(name)] = again
    return found

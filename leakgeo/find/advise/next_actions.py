"""The layer ``next_actions``: what can be done next on each line, the best first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.reason import columns_of, with_next

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from leakgeo.find.advise.next_stops import Advice
    from leakgeo.find.advise.ranking import Ranked
    from leakgeo.reason import Reason

_COLUMNS = (
    "line_id", "order", "action", "chainage_m", "contact_id", "valve_id", "expected_gain_bits",
    "minutes", "gain_bits_per_hour", "then_action", "basis", "message",
)  # fmt: skip
#: Actions whose stops are in ``next_readings``.
LISTENING = ("listen", "walk_on")


def next_actions(advices: Sequence[Advice], stops_at: Mapping[str, Reason]) -> pd.DataFrame:
    """Return the layer ``next_actions``.

    Parameters
    ----------
    advices : sequence of Advice
    stops_at : mapping of str to Reason
        First stops of each line, as a crew tapes them.
    """
    rows = [row for advice in advices for row in _rows(advice, stops_at)]
    table = pd.DataFrame(rows, columns=list(_COLUMNS))
    floats = ["chainage_m", "expected_gain_bits", "minutes", "gain_bits_per_hour"]
    table = table.astype(dict.fromkeys(floats, float) | {"order": np.int64})
    return table.assign(**columns_of("message", table.pop("message")))


def _rows(advice: Advice, stops_at: Mapping[str, Reason]) -> Iterator[tuple[object, ...]]:
    for order, each in enumerate(advice.actions, start=1):
        yield _row(advice.line_id, order, each, stops_at.get(advice.line_id))


def _row(line_id: str, order: int, one: Ranked, stops: Reason | None) -> tuple[object, ...]:
    each = one.candidate
    message = with_next(each.message, stops if each.action in LISTENING else None)
    return (
        line_id, order, each.action, each.chainage_m, each.contact_id,
        ",".join(each.valves) or None, each.gain_bits, each.minutes, one.bits_per_hour,
        one.then and one.then.action, each.basis, message,
    )  # fmt: skip

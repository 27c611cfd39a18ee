"""The card of a line as plain text: what holds the dig, the place, and the next action."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from leakgeo.dig.headline import JOB_WIDE
from leakgeo.reason import reasons_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from typing import Any

    from leakgeo.deliver.views.holds import Hold
    from leakgeo.result import Result
    from leakgeo.wording import Wording


@dataclass(frozen=True)
class Card:
    """Texts of one line in the order in which they are read; ``""`` where there is none.

    Parameters
    ----------
    hold_label, hold : str
        The word for a hold, and what holds the dig.
    state : str
        Status of a line without a mark.
    place : str
        Place of the mark with its probability, or the reason for the status.
    next : str
        Next action with its label and, at a mark, the caution.
    """

    hold_label: str
    hold: str
    state: str
    place: str
    next: str

    @property
    def held(self) -> str:
        """What holds the dig, with its label."""
        return f"{self.hold_label}: {self.hold}" if self.hold else ""

    @property
    def where(self) -> str:
        """Status of a line without a mark, and the place."""
        return ". ".join(part for part in (self.state, self.place) if part)


def card(row: Mapping[Any, object], words: Wording, holds: Sequence[Hold] = ()) -> Card:
    """Return the card of a line: terminal, map and report show the same.

    Parameters
    ----------
    row : mapping
        Row of ``lines`` with texts.
    words : Wording
    holds : sequence of Hold
        Holds of the dig at the mark; their subjects stand on the card where ``held_by`` is empty.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> row = {"status": "located", "held_by": "GAS in the hole", "message": "Mark at the meter.",
    ...        "next_action": "get the gas owner's answer."}
    >>> shown = card(row, wording())
    >>> shown.held, shown.where
    ('HOLD: GAS in the hole', 'Mark at the meter.')
    >>> shown.next
    "Next: get the gas owner's answer. Nothing here clears the dig."
    """
    held_by = _text(row.get("held_by"))
    status, marked = str(row.get("status")), row.get("status") == "located"
    after = _text(row.get("next_action")) or _text(row.get("advice"))
    caution = f" {words.term('caution', 'card')}" if marked else ""
    return Card(
        words.term("hold", "card"),
        held_by or ("; ".join(hold.brief for hold in holds) if marked else ""),
        "" if marked or row.get("code") == status else words.term(status, "status"),
        _text(row.get("message")),
        f"{words.term('next', 'card')}: {after}{caution}" if after else "",
    )


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def every_dig(result: Result, words: Wording) -> list[str]:
    """Return what holds every dig of the job alike, which readers read once."""
    holds = result.layers.get("holds")
    if holds is None or holds.empty:
        return []
    shared = holds[holds["code"].isin(JOB_WIDE)].drop_duplicates(["code", "values"])
    reasons = [reason for reason in reasons_in(shared, "message") if reason is not None]
    return [f"{words.term('every_dig', 'card')}: {words.text(reason)}" for reason in reasons]

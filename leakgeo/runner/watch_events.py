"""Events of a watch: what is thought of a line, files in place, or why there are none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.deliver.views.card import Card
    from leakgeo.faults import Fault
    from leakgeo.result import Result


@dataclass(frozen=True)
class LineAnswer:
    """What is thought of a line after a save.

    Parameters
    ----------
    line_id : str
    status : str
        Status of the data contract; ``""`` if the line is no longer in the job.
    before : str
        Status before the save; ``""`` for a new line.
    card : Card or None
        Its card, as the map shows it; None if the line is gone.
    text : str
        What is thought of it, the next stop, and when to stop, in one line; ``""`` if it is gone.
    advice : str
        The next stops, or why no more are needed.
    stops : tuple of dict
        Rows of ``next_readings``, in order.
    seconds : float
        From the save to the answer.
    """

    line_id: str
    status: str
    before: str
    card: Card | None
    text: str
    advice: str
    stops: tuple[Mapping[str, object], ...]
    seconds: float


@dataclass(frozen=True)
class Committed:
    """Files of a run that are in place; they are those of all saves told of before.

    Parameters
    ----------
    result : Result
        Its ``kept`` names the lines worked out, and has the notes, since the files before.
    seconds : float
        From the save until they were in place.
    """

    result: Result
    seconds: float


@dataclass(frozen=True)
class Problem:
    """Why a save is not answered; the files put in place last stay.

    Parameters
    ----------
    message : str
    faults : tuple of Fault
    waits : bool
        Whether the save will be answered as soon as another run into the folder is done.
    """

    message: str
    faults: tuple[Fault, ...] = ()
    waits: bool = False


@dataclass(frozen=True)
class Unchanged:
    """A save that changed no row of the job; its results are in place.

    Parameters
    ----------
    seconds : float
        From the save until that was known.
    """

    seconds: float


Event = LineAnswer | Committed | Unchanged | Problem

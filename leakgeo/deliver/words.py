"""What the map and the report say: one wording for statuses, odds and cautions."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from leakgeo.deliver.units import is_known, tape_text
from leakgeo.find.status import percent as percent  # noqa: PLC0414 - said here too

if TYPE_CHECKING:
    from collections.abc import Mapping

STATUS: Mapping[str, str] = MappingProxyType(
    {
        "located": "Mark set",
        "narrow_further": "Listen more before digging",
        "ambiguous": "Several places possible",
        "no_leak_heard": "No leak heard",
        "rejected": "Not worked out",
    }
)
LIMITS: Mapping[str, str] = MappingProxyType(
    {
        "sound": "what limits it: the sound itself; more readings near the mark help",
        "position": "what limits it: position; tape the stops and trace the pipe better",
        "spacing": "what limits it: spacing; listen again in shorter steps",
    }
)
SEVERITY: Mapping[str, str] = MappingProxyType(
    {
        "inside_tolerance": "inside the tolerance zone",
        "near": "near",
        "unknown_position": "position not known",
    }
)
READY = "Ready for hand dig"
HOLD = "HOLD"
NO_DIG = "No dig proposed"
NOT_CHECKED = "Clearance was not checked: utilities and one-call answers are not known"
NOT_LOCATED = "The leak is not located on this line; listen more first"
NO_REASON = "The dig is held; the reason was not recorded"
CAUTION = "Nothing recorded here clears the dig."
CAUTION_MORE = (
    "Get the one-call ticket and every utility's answer, "
    "follow local law, and let licensed people decide on the ground. Dig by hand near a mark."
)
ODDS_MEANING = (
    "Odds are worked out from the readings and their errors, for the sound of one leak on a traced "
    "pipe. '9 in 10' means that of ten such lines about nine have the leak there, and one does not."
)


def odds(probability: float | None) -> str:
    """Say a probability as a count out of ten, twenty or a hundred; never as certain.

    Parameters
    ----------
    probability : float or None
        0 to 1; not finite means unknown.

    Returns
    -------
    str

    Examples
    --------
    >>> odds(0.9), odds(0.87), odds(0.96), odds(None)
    ('9 in 10', 'about 9 in 10', '96 in 100', 'unknown')
    >>> odds(0.9999), odds(0.001)
    ('more than 99 in 100', 'less than 1 in 100')
    """
    if probability is None or not is_known(probability):
        return "unknown"
    if probability > 0.99:
        return "more than 99 in 100"
    if probability < 0.01:
        return "less than 1 in 100"
    if probability >= 0.925 or probability < 0.075:
        return f"{round(probability * 100)} in 100"
    tenths = round(probability * 10)
    about = "" if abs(probability * 10 - tenths) < 0.05 else "about "
    return f"{about}{tenths} in 10"


def odds_and_percent(probability: float | None) -> str:
    """Say a probability in words and as a percentage.

    Examples
    --------
    >>> odds_and_percent(0.87), odds_and_percent(0.99999), odds_and_percent(None)
    ('about 9 in 10 (87 %)', 'more than 99 in 100 (over 99 %)', 'unknown')
    """
    if probability is None or not is_known(probability):
        return "unknown"
    return f"{odds(probability)} ({percent(probability)})"


def one_foot(units: str) -> str:
    """Name the distance that ``probability_within_1ft`` is about.

    Examples
    --------
    >>> one_foot("si"), one_foot("us")
    ('0.30 m (one foot)', 'one foot')
    """
    return "one foot" if units == "us" else f"{tape_text(0.3048, 'si')} (one foot)"


def status_text(status: str) -> str:
    """Say a line's status; one that isn't known is said as it stands.

    Examples
    --------
    >>> status_text("located"), status_text("half_done")
    ('Mark set', 'half done')
    """
    return STATUS.get(status, status.replace("_", " "))

"""What frames the map and the report: cautions, and what probabilities mean."""

from __future__ import annotations

from leakgeo.wording.quantities import percent as percent  # noqa: PLC0414 - said here too
from leakgeo.wording.quantities import tape_text

NO_HOLD = "No hold recorded"
HOLD = "HOLD"
NO_DIG = "No dig proposed"
NOT_CHECKED = "Clearance was not checked: utilities and one-call answers are not known"
NOT_LOCATED = "The leak is not located on this line; narrow it down first"
NO_REASON = "The dig is held; the reason was not recorded"
CAUTION = "Nothing recorded here clears the dig."
CAUTION_MORE = (
    "Get the one-call ticket and every utility's answer, "
    "follow local law, and let licensed people decide on the ground. Dig by hand near a mark."
)
ODDS_MEANING = (
    "Probabilities are worked out from the readings and their errors, for the sound of one leak on "
    "a traced pipe. Each is that of a leak in the place named: '90 %' means that of a hundred such "
    "places about ninety have a leak, and ten have none."
)


def one_foot(units: str) -> str:
    """Name the distance that ``probability_within_1ft`` is about.

    Examples
    --------
    >>> one_foot("si"), one_foot("us")
    ('0.30 m (one foot)', 'one foot')
    """
    return "one foot" if units == "us" else f"{tape_text(0.3048, 'si')} (one foot)"

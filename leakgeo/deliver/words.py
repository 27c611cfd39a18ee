"""What the map and the report say: one wording for statuses, probabilities and cautions."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from leakgeo.wording.quantities import percent as percent  # noqa: PLC0414 - said here too
from leakgeo.wording.quantities import tape_text

if TYPE_CHECKING:
    from collections.abc import Mapping

STATUS: Mapping[str, str] = MappingProxyType(
    {
        "located": "Mark set",
        "keep_listening": "Keep listening",
        "ambiguous": "Several places possible",
        "other_source": "Another source of sound",
        "beyond_end": "Beyond the end of the line",
        "no_leak_heard": "No leak heard",
        "not_listened_to": "Not listened to",
        "rejected": "Not worked out",
    }
)
LIMITS: Mapping[str, str] = MappingProxyType(
    {
        "sound": "the sound limits it",
        "position": "the positions of the readings limit it",
        "spacing": "the spacing of the readings limits it",
    }
)
SEVERITY: Mapping[str, str] = MappingProxyType(
    {
        "inside_tolerance": "inside the tolerance zone",
        "near": "near",
        "unknown_position": "position not known",
    }
)
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


def status_text(status: str) -> str:
    """Say a line's status; one that isn't known is said as it stands.

    Examples
    --------
    >>> status_text("located"), status_text("half_done")
    ('Mark set', 'half done')
    """
    return STATUS.get(status, status.replace("_", " "))

"""What it means that an optional layer is not there, said once each."""

from __future__ import annotations

from types import MappingProxyType

#: Problem and remedy, by layer.
ABSENT = MappingProxyType({
    "contacts": (
        "No fittings were listened to, so no survey bracket is drawn.",
        "Add the layer if a first survey was made.",
    ),
    "meter_tests": (
        "There is no meter test, so the loss of water is not known.",
        "Add the table if the meter was read before and after a time of no use.",
    ),
    "utilities": (
        "No other utilities are given. That is not clearance: they may be there all the same.",
        "Have them located and marked before any digging, and add them.",
    ),
    "surfaces": ("Ground surfaces are not given.", "Add the layer if the ground cover changes."),
    "history": ("Past leaks and repairs are not given.", "Add the layer if there are records."),
    "dig_outcomes": ("Outcomes of digs are not given.", "Add the layer as holes are opened."),
})  # fmt: skip

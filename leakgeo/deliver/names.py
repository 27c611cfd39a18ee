"""Names that users gave, kept as they are inside sentences that are converted or taken apart."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from leakgeo.deliver.tables import printable
from leakgeo.deliver.units import has_lengths, lengths_in

if TYPE_CHECKING:
    from collections.abc import Iterable

    from leakgeo.result import Result

# What a hold is cut down to ends before one of these.
_BRIEF_ENDS = re.compile(r" \(|: ")
# Sentences name things between these. A name that is nothing but a length is told from one here.
_BEFORE = ("on ", "line ", "and ", "from ", "that ", "Beyond ", "beside ", "Between ", "between ")
_AFTER = ", about |, the |, and see |, \\d| and | does |, which |[,:]"
_COLUMNS = {
    "routes": ("line_id",), "readings": ("line_id", "walk_id"), "contacts": ("contact_id",),
    "utilities": ("utility_id", "owner", "ticket"), "lines": ("line_id",),
    "conflicts": ("utility_id", "owner", "ticket"),
    "survey_bracket": ("from_contact", "to_contact"),
    "contact_ranking": ("contact_id",),
}  # fmt: skip


@dataclass(frozen=True)
class Names:
    """Names that a reader of a sentence could take for something else.

    Parameters
    ----------
    pattern : re.Pattern or None
        Finds them in a sentence, as its only group; None where there are none.
    """

    pattern: re.Pattern[str] | None = None

    @classmethod
    def of(cls, result: Result) -> Names:
        """Gather them from a result and its job: the few that look like part of a sentence."""
        return cls.given(
            name
            for name in _given(result)
            if ";" in name or has_lengths(name) or _BRIEF_ENDS.search(name)
        )

    @classmethod
    def given(cls, names: Iterable[str]) -> Names:
        """Make it of names.

        Examples
        --------
        >>> Names.given(["2: DN 150 mm"]).lengths_in("water 2: DN 150 mm: 3.00 m off", "us")
        'water 2: DN 150 mm: 9 ft 10 in off'
        """
        both = {form for name in names for form in (name, printable(name)) if form}
        ordered = sorted(both, key=lambda name: (-len(name), name))
        if not ordered:
            return cls()
        plain = [re.escape(name) for name in ordered if not _IS_LENGTH.fullmatch(name)]
        bare = [re.escape(name) for name in ordered if _IS_LENGTH.fullmatch(name)]
        ways = [rf"(?<![\w.])(?:{'|'.join(plain)})(?!\w)"] if plain else []
        if bare:
            before = "|".join(f"(?<={word})" for word in _BEFORE)
            ways.append(f"(?:{before})(?:{'|'.join(bare)})(?={_AFTER})")
        return cls(re.compile(f"({'|'.join(ways)})"))

    def _parts(self, sentence: str) -> list[str]:
        """Take a sentence apart: every other part is a name."""
        return [sentence] if self.pattern is None else self.pattern.split(sentence)

    def lengths_in(self, sentence: str, units: str) -> str:
        """Say a sentence in the units people asked for, its names as they are."""
        parts = self._parts(sentence)
        return "".join(p if k % 2 else lengths_in(p, units) for k, p in enumerate(parts))

    def split(self, joined: str) -> tuple[str, ...]:
        """Split a text that was joined by semicolons, but not within a name.

        Examples
        --------
        >>> Names.given(["3 ft; 2 m"]).split("gas 3 ft; 2 m (A): no answer; no depth")
        ('gas 3 ft; 2 m (A): no answer', 'no depth')
        """
        said = [""]
        for k, part in enumerate(self._parts(joined)):
            first, *more = [part] if k % 2 else part.split(";")
            said[-1] += first
            said += more
        return tuple(text.strip() for text in said if text.strip())

    def brief(self, hold: str) -> str:
        """Cut a hold down to what it is about.

        Examples
        --------
        >>> Names().brief("electric U-02 (Northlight): its position is not known (have it located)")
        'electric U-02'
        >>> Names.given(["2: DN 150 mm"]).brief("water 2: DN 150 mm (A): no answer")
        'water 2: DN 150 mm'
        """
        kept = ""
        for k, part in enumerate(self._parts(hold)):
            end = None if k % 2 else _BRIEF_ENDS.search(part)
            kept += part if end is None else part[: end.start()]
            if end is not None:
                break
        return kept


_IS_LENGTH = re.compile(r"[\d.,]+ (?:m|mm|kPa|litres)")


def _given(result: Result) -> set[str]:
    """Every name that a user gave to something that sentences tell of."""
    found: set[str] = set()
    for layer, columns in _COLUMNS.items():
        frame = result.layers.get(layer)
        frame = getattr(result.job, layer, None) if frame is None else frame
        if frame is not None:
            for column in columns:
                if column in frame:
                    found.update(map(str, pd.unique(frame[column].dropna())))
    return found

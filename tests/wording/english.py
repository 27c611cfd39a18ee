"""English words that are left in texts of another language."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

# English words that are no Spanish ones; codes, names of files and of rules have none of them.
ENGLISH = re.compile(
    r"\b("
    r"the|and|of|is|are|was|from|with|not|this|that|for|by|it|leak|line|"
    r"lines|hole|mark|marks|reading|readings|shut|fitting|hydrant|meter|unknown|"
    r"status|dig|layers|needed|default|required|least|most|joint|older|newer|"
    r"held|record|request|marked|assumed|size|single|above|below|near|because|"
    r"there|which|when|where|than|into|has|have|been|only|owner|answer|beside|"
    r"across|between"
    r")\b",
    re.IGNORECASE,
)
# A number with a decimal point; not a date, an address, a version or a name such as EPSG:2289.
POINT = re.compile(r"(?<![\w.#/-])\d+\.\d+(?= ?(?:m|ft|mi|km|dB|kPa|psi|l|gal|%)\b)")


def english_words(said: Iterable[str], quoted: Iterable[str] = ()) -> dict[str, list[str]]:
    """Give the English words in texts, without what is quoted, by text."""
    left = {}
    known = sorted({_plain(one).strip() for one in quoted}, key=len, reverse=True)
    for text in said:
        plain = _plain(text)
        for one in filter(None, known):
            plain = plain.replace(one, " ")
        if found := ENGLISH.findall(plain):
            left[text] = found
    return left


def _plain(text: str) -> str:
    """Give the words of a text, without options, and names such as ``A-201/meter``."""
    return re.sub(r"\W+", " ", re.sub(r"--[\w-]+|[\w.-]+/[\w./-]+", " ", text))

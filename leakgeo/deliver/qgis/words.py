"""Words of the project and the styles of a result, in the language of the reader."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leakgeo.wording import Wording

WORDS = (
    "bookmarks", "caution_more", "cautions", "evidence", "from", "group_holds", "group_marks",
    "group_pipes", "group_readings", "group_rest", "group_zones", "held", "held_by", "message",
    "next_action", "no", "no_map", "no_mark", "north", "page_card", "page_columns",
    "readings_of_job", "sheet", "theme_dig", "theme_readings", "unmarked", "yes",
)  # fmt: skip


def project_words(words: Wording) -> dict[str, str]:
    """Return the words by code: ``project_CODE`` in the catalogues.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> project_words(wording(language="es"))["sheet"]
    'Hoja de excavación'
    """
    return {code: words.term(code, "project") for code in WORDS}


def caution(words: Wording) -> str:
    """Return the caution of every product: nothing clears a dig."""
    return words.term("sheet_caution")


def caution_in_both(words: Wording) -> str:
    """Return the caution of every product, in English as well where it is translated."""
    both = (words, words.english())
    return " ".join(caution(each) for each in both if each is not None)

"""Taped distances as people write them, converted to chainages in metres."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.job.lengths import INCH_M, length_m, mixed_number
from leakgeo.reason import Reason
from leakgeo.wording import languages, wording

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.arrays import Bools
    from leakgeo.job.checks.collector import IssueCollector

_UNIT_M = {"m": 1.0, "ft": 12.0 * INCH_M}
# Both may be given, and are then rounded differently: to the inch, to the centimetre.
_AGREE_M = 0.05


def with_written_tapes(frame: pd.DataFrame, issues: IssueCollector) -> pd.DataFrame:
    """Fill ``chainage_m`` where only ``tape`` is given, and report tapes that can't be read.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns of ``readings`` in their types.
    issues : IssueCollector
        A tape that can't be read, or that contradicts ``chainage_m``, rejects its reading, as its
        place would be that of a tap on a screen at best.

    Returns
    -------
    pandas.DataFrame
    """
    written, units = texts(frame, "tape"), texts(frame, "tape_unit")
    given = np.array([text is not None for text in written], dtype=bool)
    if not given.any():
        return frame
    pairs = zip(written, units, strict=True)
    read = [np.nan if text is None else tape_m(str(text), unit) for text, unit in pairs]
    taped = np.array([np.nan if each is None else each for each in read])
    unread = np.array([each is None for each in read], dtype=bool)
    plain = unread & np.array([is_plain_number(text) for text in written], dtype=bool)
    for wrong, code in ((plain, "tape_without_unit"), (unread & ~plain, "tape_not_a_length")):
        issues.report(wrong, Reason(code), column="tape", values=frame["tape"])
    chainage = floats(frame, "chainage_m")
    issues.report(
        np.abs(taped - chainage) > _AGREE_M, Reason("tape_contradicts_chainage"),
        column="tape", values=frame["tape"],
    )  # fmt: skip
    filled = np.where(np.isfinite(chainage), chainage, taped)
    return frame.assign(chainage_m=pd.Series(filled, index=frame.index))


def tape_m(text: str, unit: object) -> float | None:
    r"""Return a taped distance in metres; None if it is not a length, or a number without unit.

    Parameters
    ----------
    text : str
        A length with its unit, or a plain number.
    unit : {"m", "ft"} or None
        Unit of a plain number.

    Examples
    --------
    >>> tape_m("38' 6\"", None), round(tape_m("38.5", "ft"), 4), tape_m("11,73", "m")
    (11.7348, 11.7348, 11.73)
    >>> tape_m("38.5", None), tape_m("by the tree", "ft")
    (None, None)
    """
    text = text.strip().replace(",", ".") if text.count(",") == 1 else text.strip()
    length = length_m(text)
    if length is not None or unit not in _UNIT_M:
        return length
    try:
        return mixed_number(text) * _UNIT_M[str(unit)]
    except (ValueError, ZeroDivisionError):
        return None


def names_start(name: object) -> bool:
    """Return whether a name stands for the start of the line as the origin of a tape.

    Parameters
    ----------
    name : str or None
        As typed; the word that sheets print for it, in any language and in any case.

    Examples
    --------
    >>> names_start("Start"), names_start("inicio"), names_start("CS-12"), names_start(None)
    (True, True, False, False)
    """
    return isinstance(name, str) and name.casefold() in _start_words()


@cache
def _start_words() -> frozenset[str]:
    known = (wording(language=each).term("start_of_tape") for each in languages())
    return frozenset(word.casefold() for word in known)


def is_plain_number(text: object) -> bool:
    """Return whether a text is a number that lacks only its unit.

    Examples
    --------
    >>> is_plain_number("38.5"), is_plain_number("by the tree")
    (True, False)
    """
    return text is not None and length_m(str(text)) is None and tape_m(str(text), "m") is not None


def tapes_in_feet(tables: Mapping[str, pd.DataFrame]) -> Bools:
    """Return whether each taped length of the layers is written in feet or inches.

    Parameters
    ----------
    tables : mapping of str to pandas.DataFrame
        Layers by name; those without tapes, and those that are not there, have none.

    Examples
    --------
    >>> stops = pd.DataFrame({"tape": ["3'", "2 m", None], "tape_unit": None})
    >>> tapes_in_feet({"readings": stops}).tolist()
    [True, False]
    """
    found = [
        is_in_feet(str(text), unit)
        for name, column in (("contacts", "tape_from_previous"), ("readings", "tape"))
        if name in tables and column in tables[name]
        for text, unit in zip(texts(tables[name], column), texts(tables[name], "tape_unit"),
                              strict=True)
        if text is not None
    ]  # fmt: skip
    return np.array(found, dtype=bool)


def mostly_in_feet(tables: Mapping[str, pd.DataFrame]) -> bool:
    """Return whether most of the taped lengths of the layers are in feet or inches."""
    found = tapes_in_feet(tables)
    return 2 * int(found.sum()) > len(found)


def is_in_feet(text: str, unit: object) -> bool:
    r"""Return whether a taped distance is written in feet or inches.

    Examples
    --------
    >>> is_in_feet("38' 6\"", None), is_in_feet("38.5", "ft"), is_in_feet("11.7 m", "ft")
    (True, True, False)
    """
    if length_m(text) is None:
        return unit == "ft"
    # Only metric lengths end in m; those in feet end in a foot, an inch or their marks.
    return not text.rstrip(" .").casefold().endswith("m")

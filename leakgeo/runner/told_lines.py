"""What was told of each line of a job last, and which lines a save makes worth telling of."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.arrays import texts
from leakgeo.deliver.views.card import card
from leakgeo.deliver.views.line_in_short import line_in_short
from leakgeo.deliver.views.rows import records
from leakgeo.job.row_hashes import row_hashes
from leakgeo.result import joined
from leakgeo.runner.watch_events import LineAnswer
from leakgeo.wording import wording
from leakgeo.wording.layers import with_texts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.runner.kept_lines import Share
    from leakgeo.wording import Wording

# Columns of `lines` that say what is thought of a line, and what to do.
_SAYS = ("status", "code", "values", "advice_code", "advice_values", "held_by_code",
         "held_by_values", "next_action_code", "next_action_values")  # fmt: skip


@dataclass
class ToldLines:
    """What was told of each line last; the first result tells of all lines at once.

    Parameters
    ----------
    units : {"si", "us"} or None
        Units of the texts; by the job if None.
    language : str
    rows : dict
        Columns of its row of `lines` that say something, by ``line_id``.
    readings : dict of str to int
        Digest of its readings.
    inputs : dict of str to str
        Digest of all inputs of its result; see `leakgeo.runner.layer_steps.Chunking.answered_of`.
    """

    units: str | None
    language: str
    rows: dict[str, dict[str, Any]] = field(default_factory=dict)
    readings: dict[str, int] = field(default_factory=dict)
    inputs: dict[str, str] = field(default_factory=dict)

    def gone(self, job: Job, begin: float) -> Iterator[LineAnswer]:
        """Tell of the lines that are no longer in the job."""
        for name in sorted(set(self.rows) - set(texts(job.routes, "line_id"))):
            status = str(self.rows.pop(name)["status"])
            self.readings.pop(name, None)
            self.inputs.pop(name, None)
            yield LineAnswer(name, "", status, None, "", "", (), time.time() - begin)

    def changed(self, shares: Sequence[Share], job: Job, begin: float) -> Iterator[LineAnswer]:
        """Tell of those lines whose own readings changed, or what is said of them."""
        if not self.rows:
            return
        placed = joined([share.layer("readings_on_route") for share in shares])
        raw = _by_line(joined([share.layer("lines") for share in shares]))
        readings = _readings_by_line(job, placed)
        own = {name for name in raw if readings.get(name, 0) != self.readings.get(name, 0)}
        unlike = {name: row for name, row in raw.items() if row != self.rows.get(name)}
        words = wording(job.units(self.units), self.language)
        now, before = _worded(own | set(unlike), raw, words), _worded(unlike, self.rows, words)
        stops = joined([share.layer("next_readings") for share in shares])
        for name, row in now.items():
            if name in own or name not in before or not _says_alike(row, before[name], words):
                known = str(before.get(name, self.rows.get(name, {})).get("status", ""))
                yield _line_answer(name, row, known, stops, words, time.time() - begin)
        self.rows |= raw
        self.readings |= {name: readings.get(name, 0) for name in raw}

    def written(self, job: Job, result: Result) -> None:
        """Note what the files of a result say of all lines."""
        if not self.readings:
            self.readings = _readings_by_line(job, result.layers["readings_on_route"])
        self.rows = _by_line(result.layers["lines"])


def _line_answer(
    name: str, row: Mapping[str, Any], before: str, stops: pd.DataFrame, words: Wording,
    seconds: float,
) -> LineAnswer:  # fmt: skip
    own = with_texts(pd.DataFrame(stops[stops["line_id"] == name]), words)
    proposed = tuple(
        {key: value for key, value in each.items() if key != "geometry"}
        for each in records(own.sort_values("order"))
    )
    return LineAnswer(
        name, str(row["status"]), before, card(row, words), line_in_short(row, words),
        str(row.get("advice") or ""), proposed, seconds,
    )  # fmt: skip


def _says_alike(one: Mapping[str, Any], other: Mapping[str, Any], words: Wording) -> bool:
    """Return whether the same is said of a line, in words that people read."""
    same = (one[column] == other[column] for column in ("status", "advice"))
    return all(same) and card(one, words) == card(other, words)


def _by_line(table: pd.DataFrame) -> dict[str, dict[str, Any]]:
    """Return what is said of each line; what is missing is None."""
    columns = table[["line_id", *_SAYS]]
    rows: Any = columns.astype(object).where(columns.notna(), None).to_dict("records")
    return {str(row["line_id"]): row for row in rows}


def _worded(
    names: Iterable[str], rows: Mapping[str, dict[str, Any]], words: Wording
) -> dict[str, dict[str, Any]]:
    """Return the rows of those lines that are there, with texts, in the order of the lines."""
    wanted = set(names)
    found = pd.DataFrame([row for name, row in rows.items() if name in wanted],
                         columns=["line_id", *_SAYS])  # fmt: skip
    worded: Any = with_texts(found, words).to_dict("records")
    return {str(row["line_id"]): row for row in worded}


def _readings_by_line(job: Job, placed: pd.DataFrame) -> dict[str, int]:
    """Return a digest of the readings of each line, by the lines that they were placed on."""
    own = job.readings[job.readings["reading_id"].isin(placed["reading_id"])]
    of_reading: dict[object, int] = {}
    for name, value in zip(own["reading_id"], row_hashes(own).tolist(), strict=True):
        of_reading[name] = of_reading.get(name, 0) + value
    found: dict[str, int] = {}
    for line, name in zip(placed["line_id"], placed["reading_id"], strict=True):
        found[str(line)] = found.get(str(line), 0) + of_reading.get(name, 0)
    return found

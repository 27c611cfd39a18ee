"""Faults: what is wrong with the data, where, and what to do about it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Literal

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterable

Effect = Literal["noted", "rejected", "stops"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a job.

    Parameters
    ----------
    layer : str
        Layer that the fault is in, as the data contract names it.
    problem : str
        What is wrong, as a sentence.
    what_to_do : str
        The remedy, as a sentence.
    feature : str
        Identifier of the feature (``line_id``, ``reading_id`` ...), or its row, or ``""`` for the
        whole layer.
    column : str
        Column at fault, or ``""``.
    value : str
        The offending value as text, or ``""``.
    effect : {"noted", "rejected", "stops"}
        ``noted``: told, nothing dropped; ``rejected``: the feature is not used; ``stops``: the job
        can't be run.

    Examples
    --------
    >>> str(Fault("routes", "diameter_mm is negative.", "Correct it or leave it empty.", "L-7"))
    'routes L-7: diameter_mm is negative. Correct it or leave it empty.'
    """

    layer: str
    problem: str
    what_to_do: str
    feature: str = ""
    column: str = ""
    value: str = ""
    effect: Effect = "rejected"

    def __str__(self) -> str:
        where = f"{self.layer} {self.feature}".strip()
        return f"{where}: {self.problem} {self.what_to_do}"


def faults_table(faults: Iterable[Fault]) -> pd.DataFrame:
    """Lay faults out as the table that ``faults.csv`` holds.

    Parameters
    ----------
    faults : iterable of Fault

    Returns
    -------
    pandas.DataFrame
        One row a fault, columns as the fields of `Fault`; empty with those columns if none.

    Examples
    --------
    >>> faults_table([]).columns.tolist()[:3]
    ['layer', 'problem', 'what_to_do']
    """
    return pd.DataFrame([asdict(f) for f in faults], columns=[f.name for f in fields(Fault)])

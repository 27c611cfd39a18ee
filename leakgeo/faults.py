"""Faults: what is wrong with the data, where, and what to do about it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

Effect = Literal["noted", "rejected", "stops"]
_GRAVEST_FIRST: tuple[Effect, ...] = ("stops", "rejected", "noted")
# So many features are named where many have the same trouble.
_NAMED = 5


@dataclass(frozen=True, slots=True, repr=False)
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
    >>> Fault("routes", "It has no geometry.", "Draw it.", "L-7")
    <Fault rejected: routes L-7: It has no geometry. Draw it.>
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

    def __repr__(self) -> str:
        return f"<Fault {self.effect}: {self}>"


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
    import pandas as pd

    return pd.DataFrame([asdict(f) for f in faults], columns=[f.name for f in fields(Fault)])


def alike(faults: Iterable[Fault]) -> list[Fault]:
    """Tell faults that say the same once, of all their features; the gravest come first.

    Parameters
    ----------
    faults : iterable of Fault

    Returns
    -------
    list of Fault
        For people to read; what counts faults uses them one by one.

    Examples
    --------
    >>> two = [Fault("readings", "It has no geometry.", "Draw it.", name) for name in "ab"]
    >>> [str(fault) for fault in alike(two)]
    ['readings a, b: It has no geometry. Draw it.']
    """
    groups: dict[Fault, dict[str, None]] = {}
    for fault in faults:
        same = replace(fault, feature="", column="", value="")
        groups.setdefault(same, {})[fault.feature] = None
    told = [replace(fault, feature=_named(list(names))) for fault, names in groups.items()]
    return sorted(told, key=lambda fault: _GRAVEST_FIRST.index(fault.effect))


def _named(names: list[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")

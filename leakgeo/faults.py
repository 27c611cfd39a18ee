"""Faults: what is wrong with the data, where, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from leakgeo.errors import JobError
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import pandas as pd

    from leakgeo.wording import Wording

Effect = Literal["noted", "rejected", "stops"]
_GRAVEST_FIRST: tuple[Effect, ...] = ("stops", "rejected", "noted")
_KEPT = ("layer", "feature", "column", "value", "effect", "features")
# So many features are named where many have the same trouble.
_NAMED = 5
COLUMNS = ("layer", "feature", "column", "value", "code", "values", "problem", "what_to_do",
           "effect")  # fmt: skip


@dataclass(frozen=True, slots=True, repr=False)
class Fault:
    """One thing wrong with a job.

    Parameters
    ----------
    layer : str
        Layer that the fault is in, as the data contract names it.
    reason : Reason
        What is wrong; its message in the catalogue has the remedy as ``.remedy``.
    feature : str
        Identifier of the feature (``line_id``, ``reading_id`` ...), or its row, or ``""`` for the
        whole layer.
    column : str
        Column at fault, or ``""``.
    value : str
        The offending value as text, or ``""``.
    effect : {"noted", "rejected", "stops"}
        ``noted``: reported, nothing dropped; ``rejected``: the feature is not used; ``stops``: the
        job can't be run.
    features : int
        How many features share it, where it is reported once for all.

    Examples
    --------
    >>> fault = Fault("routes", Reason("no_geometry"), "L-7")
    >>> fault.problem, fault.what_to_do
    ('It has no geometry.', 'Draw it.')
    >>> fault
    <Fault rejected: routes L-7: It has no geometry. Draw it.>
    """

    layer: str
    reason: Reason
    feature: str = ""
    column: str = ""
    value: str = ""
    effect: Effect = "rejected"
    features: int = 1

    @property
    def code(self) -> str:
        """Code of what is wrong: the same whatever the language and the units."""
        return self.reason.code

    @property
    def problem(self) -> str:
        """What is wrong, as a sentence in English and SI."""
        return self.texts(wording())[0]

    @property
    def what_to_do(self) -> str:
        """The remedy, as a sentence in English and SI."""
        return self.texts(wording())[1]

    def texts(self, wording: Wording) -> tuple[str, str]:
        """Say what is wrong, and what to do about it."""
        problem = wording.text(self.reason)
        if self.features > 1:
            problem = wording.text(Reason("features", features=self.features, problem=problem))
        return problem, wording.part(self.reason, "remedy")

    def row(self, wording: Wording) -> dict[str, str]:
        """Give it as a row of ``faults.csv``, by `COLUMNS`."""
        problem, what_to_do = self.texts(wording)
        said = {"code": self.code, "values": self.reason.to_json(), "problem": problem,
                "what_to_do": what_to_do}  # fmt: skip
        return {name: said.get(name) or str(getattr(self, name, "")) for name in COLUMNS}

    def to_dict(self) -> dict[str, object]:
        """Give it as JSON holds it; see `from_dict`."""
        kept = {name: getattr(self, name) for name in _KEPT}
        return {**kept, "code": self.code, "values": self.reason.to_json()}

    @classmethod
    def from_dict(cls, held: Mapping[str, Any]) -> Fault:
        """Make it of what `to_dict` gave."""
        reason = Reason.parse(held["code"], held["values"])
        return cls(reason=reason, **{name: held[name] for name in _KEPT})

    def __str__(self) -> str:
        where = f"{self.layer} {self.feature}".strip()
        return f"{where}: {self.problem} {self.what_to_do}".strip()

    def __repr__(self) -> str:
        return f"<Fault {self.effect}: {self}>"


def job_error(source: str, fault: Fault, faults: Sequence[Fault] | None = None) -> JobError:
    """Make the error of a job that can't be run; its message says what the fault says.

    Parameters
    ----------
    source : str
        What the message begins with: the job, a file, a place in one.
    fault : Fault
    faults : sequence of Fault, optional
        What the error carries, `fault` alone if None.

    Returns
    -------
    JobError

    Examples
    --------
    >>> print(job_error("job.gpkg", Fault("routes", Reason("no_geometry"))))
    job.gpkg: It has no geometry. Draw it.
    """
    said = f"{source}: {fault.problem} {fault.what_to_do}".strip()
    return JobError(said, [fault] if faults is None else faults)


def faults_table(faults: Iterable[Fault], wording: Wording) -> pd.DataFrame:
    """Lay faults out as the table that ``faults.csv`` holds.

    Parameters
    ----------
    faults : iterable of Fault
    wording : Wording
        What their sentences are said with.

    Returns
    -------
    pandas.DataFrame
        One row a fault; empty with those columns if none.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> faults_table([], wording()).columns.tolist()[:3]
    ['layer', 'feature', 'column']
    """
    import pandas as pd

    return pd.DataFrame([fault.row(wording) for fault in faults], columns=list(COLUMNS))


def merge_alike(faults: Iterable[Fault]) -> list[Fault]:
    """Give faults that are the same once, of all their features; the gravest come first.

    Parameters
    ----------
    faults : iterable of Fault

    Returns
    -------
    list of Fault
        For people to read; what counts faults uses them one by one.

    Examples
    --------
    >>> two = [Fault("readings", Reason("no_geometry"), name) for name in "ab"]
    >>> [str(fault) for fault in merge_alike(two)]
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

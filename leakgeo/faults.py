"""Faults of a job: what is wrong, where, and what to do."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

from leakgeo.errors import JobError
from leakgeo.reason import Reason
from leakgeo.wording import active_wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import pandas as pd

    from leakgeo.wording import Wording

Effect = Literal["noted", "rejected", "stops"]
_GRAVEST_FIRST: tuple[Effect, ...] = ("stops", "rejected", "noted")
_FIELDS = ("layer", "feature", "column", "value", "effect", "features", "line_id")
# Number of features that are named where more have the same fault.
_MOST_NAMES = 5
COLUMNS = ("layer", "feature", "column", "value", "code", "values", "problem", "what_to_do",
           "effect")  # fmt: skip


@dataclass(frozen=True, slots=True, repr=False)
class Fault:
    """A fault of a job.

    Parameters
    ----------
    layer : str
        Layer with the fault, by its name in the data contract.
    reason : Reason
        What is wrong; the attribute ``.remedy`` of its message is what to do.
    feature : str
        Identifier of the feature (``line_id``, ``reading_id`` ...) or its row; ``""`` for the
        whole layer.
    column : str
        Column with the fault, or ``""``.
    value : str
        The offending value as text, or ``""``.
    effect : {"noted", "rejected", "stops"}
        ``noted``: reported only; ``rejected``: the feature is not used; ``stops``: the job can't
        be run.
    features : int
        Number of features with the fault, if it is reported once for all of them.
    line_id : str
        Line that a step found the fault on; ``""`` for one of the job. Faults that differ in it
        alone are equal.

    Examples
    --------
    >>> import leakgeo
    >>> from leakgeo.reason import Reason
    >>> fault = leakgeo.Fault("routes", Reason("no_geometry"), "L-7")
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
    line_id: str = field(default="", compare=False)

    @property
    def code(self) -> str:
        """Code of the fault, independent of language and units."""
        return self.reason.code

    @property
    def problem(self) -> str:
        """What is wrong, as a sentence in the active language and units."""
        return self.texts(active_wording())[0]

    @property
    def what_to_do(self) -> str:
        """What to do, as a sentence in the active language and units."""
        return self.texts(active_wording())[1]

    def texts(self, wording: Wording) -> tuple[str, str]:
        """Return what is wrong, and what to do, as sentences."""
        problem = wording.text(self.reason)
        if self.features > 1:
            problem = wording.text(Reason("features", features=self.features, problem=problem))
        return problem, wording.part(self.reason, "remedy")

    def row(self, wording: Wording) -> dict[str, str]:
        """Return the fault as a row of ``faults.csv``, by `COLUMNS`."""
        problem, what_to_do = self.texts(wording)
        texts = {"code": self.code, "values": self.reason.to_json(), "problem": problem,
                 "what_to_do": what_to_do}  # fmt: skip
        return {name: texts.get(name) or str(getattr(self, name, "")) for name in COLUMNS}

    def to_dict(self) -> dict[str, object]:
        """Return the fault as a dict for JSON; see `from_dict`."""
        fields = {name: getattr(self, name) for name in _FIELDS}
        return {**fields, "code": self.code, "values": self.reason.to_json()}

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Fault:
        """Return the fault of a dict made by `to_dict`."""
        reason = Reason.parse(stored["code"], stored["values"])
        return cls(reason=reason, **{name: stored[name] for name in _FIELDS})

    def __str__(self) -> str:
        where = f"{self.layer} {self.feature}".strip()
        problem, what_to_do = self.texts(active_wording())
        return f"{where}: {problem} {what_to_do}".strip()

    def __repr__(self) -> str:
        return f"<Fault {self.effect}: {self}>"


def job_error(source: str, fault: Fault, faults: Sequence[Fault] | None = None) -> JobError:
    """Return the error of a job that can't be run, with the text of a fault as its message.

    Parameters
    ----------
    source : str
        Start of the message: the job, a file, or a place in a file.
    fault : Fault
    faults : sequence of Fault, optional
        Faults of the error; `fault` only if None.

    Returns
    -------
    JobError

    Examples
    --------
    >>> print(job_error("job.gpkg", Fault("routes", Reason("no_geometry"))))
    job.gpkg: It has no geometry. Draw it.
    """
    problem, what_to_do = fault.texts(active_wording())
    return JobError(
        f"{source}: {problem} {what_to_do}".strip(), [fault] if faults is None else faults
    )


def faults_table(faults: Iterable[Fault], wording: Wording) -> pd.DataFrame:
    """Return faults as the table of ``faults.csv``.

    Parameters
    ----------
    faults : iterable of Fault
    wording : Wording
        Language and units of the sentences.

    Returns
    -------
    pandas.DataFrame
        One row per fault.

    Examples
    --------
    >>> from leakgeo.wording import active_wording
    >>> faults_table([], active_wording()).columns.tolist()[:3]
    ['layer', 'feature', 'column']
    """
    import pandas as pd

    return pd.DataFrame([fault.row(wording) for fault in faults], columns=list(COLUMNS))


def merge_alike(faults: Iterable[Fault]) -> list[Fault]:
    """Merge faults that differ in their feature only, and sort them, most serious first.

    Parameters
    ----------
    faults : iterable of Fault

    Returns
    -------
    list of Fault
        For display. To count faults, use them unmerged.

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
    merged = [replace(fault, feature=_named(list(names))) for fault, names in groups.items()]
    return sorted(merged, key=lambda fault: _GRAVEST_FIRST.index(fault.effect))


def causes_text(faults: Iterable[Fault], most: int = 5) -> str:
    """Return the sentences of faults for the message of an error, of many the first `most`.

    Examples
    --------
    >>> two = [Fault("routes", Reason("no_geometry"), "a"), Fault("routes", Reason("no_crs"), "b")]
    >>> causes_text(two, most=1)
    'routes a: It has no geometry. Draw it. ... and 1 more.'
    """
    merged = merge_alike(faults)
    rest = [f"... and {len(merged) - most} more."] if len(merged) > most else []
    return " ".join((*map(str, merged[:most]), *rest))


def _named(names: list[str]) -> str:
    more = len(names) - _MOST_NAMES
    return ", ".join(names[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")

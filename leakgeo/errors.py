"""Errors raised by leakgeo; all derive from `LeakgeoError`."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from leakgeo.faults import Fault

# Labels of parameters in messages: the Python name, unless the command line sets its options.
_LABEL: ContextVar[Callable[[str], str]] = ContextVar("leakgeo_parameter_names", default=str)


def parameter_label(name: str) -> str:
    """Return the label of a parameter in messages: its Python name, or its option.

    Examples
    --------
    >>> parameter_label("leak_prior")
    'leak_prior'
    >>> with parameter_labels(lambda name: f"--{name}"):
    ...     parameter_label("rule")
    '--rule'
    """
    return _LABEL.get()(name)


@contextmanager
def parameter_labels(label: Callable[[str], str]) -> Iterator[None]:
    """Set the labels of parameters in the messages of this thread, such as ``--rule``."""
    before = _LABEL.set(label)
    try:
        yield
    finally:
        _LABEL.reset(before)


class LeakgeoError(Exception):
    """Base class of all errors raised by leakgeo."""


class JobError(LeakgeoError):
    """The job can't be run.

    Parameters
    ----------
    message : str
        Cause, and what to do.
    faults : sequence of Fault, optional
        All faults found up to this error, in the order found.
    complete : bool
        Whether the message says all of them, so that they are not printed again.
    """

    def __init__(
        self, message: str, faults: Sequence[Fault] = (), *, complete: bool = False
    ) -> None:
        super().__init__(message)
        self.faults, self.complete = tuple(faults), complete


class ParameterError(LeakgeoError):
    """A parameter of a step is unknown, of the wrong type, or out of its range."""

    @classmethod
    def of(cls, parameter: str, problem: str) -> Self:
        """Return the error for one parameter, its label in front of the problem.

        Examples
        --------
        >>> import leakgeo
        >>> error = leakgeo.ParameterError.of("units", "'feet' is not allowed; use one of si, us.")
        >>> str(error)
        "units: 'feet' is not allowed; use one of si, us."
        """
        return cls(f"{parameter_label(parameter)}: {problem}")


class OutputError(LeakgeoError):
    """The output can't be written."""


class FolderInUseError(OutputError):
    """Another run is writing into the output folder."""


class ContractError(LeakgeoError):
    """A step and the data contract (``data_schemas/``) differ; a programming error."""

"""The errors that leakgeo raises: one small tree, each with a message a person can act on."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from leakgeo.faults import Fault

# How messages name a parameter: as in Python, unless whoever reads them knows it otherwise.
_NAMED: ContextVar[Callable[[str], str]] = ContextVar("leakgeo_parameter_names", default=str)


def parameter_label(name: str) -> str:
    """Name a parameter in a message as its reader knows it.

    Examples
    --------
    >>> parameter_label("leak_prior")
    'leak_prior'
    >>> with parameter_labels(lambda name: f"--{name}"):
    ...     parameter_label("rule")
    '--rule'
    """
    return _NAMED.get()(name)


@contextmanager
def parameter_labels(named: Callable[[str], str]) -> Iterator[None]:
    """Let messages of this thread name parameters as `named` does: the command line, by options."""
    before = _NAMED.set(named)
    try:
        yield
    finally:
        _NAMED.reset(before)


class LeakgeoError(Exception):
    """Root of every error that leakgeo raises on purpose."""


class JobError(LeakgeoError):
    """The job can't be run at all; `faults` holds everything that was found wrong with it.

    Parameters
    ----------
    message : str
        What stops the job, and what to do.
    faults : sequence of Fault, optional
        All faults found before giving up, in the order found.
    """

    def __init__(self, message: str, faults: Sequence[Fault] = ()) -> None:
        super().__init__(message)
        self.faults = tuple(faults)


class ParameterError(LeakgeoError):
    """A parameter of a step is unknown, of the wrong type, or out of its range."""

    @classmethod
    def of(cls, parameter: str, problem: str) -> Self:
        """Give the error of one parameter, named as its reader knows it.

        Examples
        --------
        >>> str(ParameterError.of("units", "'feet' is not allowed; use one of si, us."))
        "units: 'feet' is not allowed; use one of si, us."
        """
        return cls(f"{parameter_label(parameter)}: {problem}")


class OutputError(LeakgeoError):
    """The output can't be written where it was asked for."""


class ContractError(LeakgeoError):
    """Code and data contract (``data_schemas/``) differ: an error of a program, never of a job."""

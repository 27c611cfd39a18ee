"""Chunks worked off by the workers of a Dask cluster, each reading the job for itself."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakgeo.errors import JobError, ParameterError
from leakgeo.job.read import read_job
from leakgeo.job.sources import is_database
from leakgeo.options import of_checks
from leakgeo.runner.chunks import Cut, settled

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from leakgeo.job.sources import JobSource
    from leakgeo.runner.chunks import Errors
    from leakgeo.runner.journal import Journal
    from leakgeo.runner.task import Task

# A task that fails for want of a worker is begun again so many times, by the scheduler.
_RETRIES = 2
_PATIENCE = "10s"


@dataclass(frozen=True)
class Where:
    """Where a worker finds the job, and what it must find there.

    Parameters
    ----------
    source, mapping : str
        Address of the job, and of its mapping or None: shared storage, or a database.
    lines : tuple of str
        Lines that were asked for; all where empty.
    size : int
        Lines a chunk.
    ground : Errors
    digest : str
        Of the input, as the one who asks has read it.
    """

    source: str
    mapping: str | None
    lines: tuple[str, ...]
    size: int
    ground: Errors
    digest: str


def shared(source: JobSource, mapping: str | Path | None) -> tuple[str, str | None]:
    """Addresses of a job and its mapping as workers may open them.

    Raises
    ------
    ParameterError
        If the job is in memory.
    """
    if not isinstance(source, (str, Path)):
        raise ParameterError.of("scheduler", "a job in memory can't be read by workers elsewhere. "
                             "Write it to a file that they reach.")  # fmt: skip
    there = str(source) if is_database(source) else str(Path(source).resolve())
    return there, None if mapping is None else str(Path(mapping).resolve())


def work_off(
    numbers: Iterable[int], where: Where, task: Task, journal: Journal, address: str,
    told: Callable[[], None],
) -> None:  # fmt: skip
    """Have chunks worked off by a cluster, and keep what comes back.

    Parameters
    ----------
    numbers : iterable of int
        Chunks to do.
    where : Where
    task : Task
    journal : Journal
    address : str
        Of the scheduler, such as ``tcp://10.0.0.5:8786``.
    told : callable
        Called after each chunk.

    Raises
    ------
    ParameterError
        If no scheduler answers there.
    JobError
        If a worker reads another job at that address.
    """
    distributed = _distributed()
    try:
        client = distributed.Client(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ParameterError.of("scheduler", f"none answers at {address} ({error}).") from error
    with client:
        same = client.scatter(task, broadcast=True)
        futures = {client.submit(far, where, n, same, pure=False, retries=_RETRIES): n
                   for n in numbers}  # fmt: skip
        for future, sent in distributed.as_completed(futures, client.loop, with_results=True):
            journal.keep(futures[future], sent)
            future.release()
            told()


def _distributed() -> Any:
    try:
        import distributed
    except ImportError as error:
        raise ParameterError.of(
            "scheduler",
            "Dask is not installed here. Install it with: pip install 'leakgeo[cluster]'",
        ) from error
    return distributed


def far(where: Where, number: int, task: Task) -> dict[str, bytes]:
    """Work one chunk off in a worker; what comes back are the files of the part."""
    return task.done(_cut(where).chunk(number)).files()


@lru_cache(maxsize=2)
def _cut(where: Where) -> Cut:
    """The job as this worker reads it, cut; read once for all of its chunks."""
    read = read_job(
        where.source, lines=where.lines or None, mapping=where.mapping,
        **of_checks(asdict(where.ground)),
    )  # fmt: skip
    job = settled(read, where.ground)
    if job.layers_digest != where.digest:
        raise JobError(
            f"A worker reads another job at {where.source} than the one who asks: the file or the "
            "versions differ there. Let both see the same."
        )
    return Cut.of(job, where.size, where.ground)

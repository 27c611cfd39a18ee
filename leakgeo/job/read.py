"""Read a job: its layers, checked, in one local metre CRS; again and again if wanted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.errors import ParameterError
from leakgeo.job.checks import as_names, check_settings
from leakgeo.job.mapping import load_mapping
from leakgeo.job.reading import Reading
from leakgeo.job.reuse import Reuse
from leakgeo.job.window import check_condition, read_window

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.job.model import Job
    from leakgeo.job.sources import EditedSource, JobSource


def read_job(
    source: JobSource,
    *,
    lines: str | Sequence[str] | None = None,
    where: str | None = None,
    mapping: str | Path | None = None,
    **parameters: object,
) -> Job:
    """Read and check a job.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A local GeoPackage, another vector file with several layers, a folder of files named after
        the layers, the URL of a PostgreSQL database (``postgresql://...``), or GeoDataFrames by
        layer name (DataFrames for tables without geometry). The source is only read; nothing is
        written to it or next to it.
    lines : str or sequence of str, optional
        Identifiers of the lines to read, all if None. Rows of other lines are kept, with
        the reason that they are not selected, so that readings without line_id can still be
        assigned to a line by position.
    where : str, optional
        SQL condition on the layer of routes, with its own column names, such as
        ``"district = 7"``. It selects lines as `lines` does, and only their window is read: the
        routes near them, and the rows around these, or of these. Faults of other rows are not
        reported. The network of pipes is read as a whole if the job has valves or isolation tests.
    mapping : str or pathlib.Path, optional
        TOML file that maps layers, columns, codes and units of the source to those of the data
        contract.
    **parameters
        Parameters of the checks: ``route_sd_m``, ``reading_sd_m`` and ``tape_sd_m``, the 1-sigma
        errors in metres of routes, readings and taped chainages that state none. Pass the same
        values to the steps.

    Returns
    -------
    Job
        Every layer in one local metre CRS, with every row, and the column ``reason``.

    Raises
    ------
    JobError
        If the job can't be run at all; it carries every fault found.
    ParameterError
        If `mapping` is not a path, a parameter is unknown or its value is not allowed, or the
        source refuses the condition or no line meets it.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/two_walks/job.gpkg")
    >>> len(job.routes), len(job.readings)
    (1, 39)
    >>> try:
    ...     leakgeo.read_job("nowhere.gpkg")
    ... except leakgeo.JobError as error:
    ...     print(error)
    nowhere.gpkg: There is no such file or folder. Check the path of the job.
    """
    return JobReader(source, lines=lines, where=where, mapping=mapping, **parameters).read()


class JobReader:
    """A job that is read again and again; what did not change is not made again.

    Each reading gives the job that `read_job` would give. A layer of the same content as in the
    reading before is the same object, so that callers can keep what they made of it.

    Parameters
    ----------
    source, lines, where, mapping, **parameters
        As of `read_job`.

    Raises
    ------
    ParameterError
        If `mapping` is not a path, or a parameter is unknown or its value is not allowed.

    Examples
    --------
    >>> reader = JobReader("examples/town/job.gpkg")
    >>> first, again = reader.read(), reader.read()
    >>> again.readings is first.readings, again.layers_digest == first.layers_digest
    (True, True)
    """

    def __init__(
        self,
        source: JobSource,
        *,
        lines: str | Sequence[str] | None = None,
        where: str | None = None,
        mapping: str | Path | None = None,
        **parameters: object,
    ) -> None:
        self._source, self._mapping = source, _checked_path(mapping)
        self._lines, self._settings = as_names(lines), check_settings(parameters)
        if where is not None and lines is not None:
            raise ParameterError("where and lines: give one of them.")
        self._where = None if where is None else check_condition(where)
        self._reuse = Reuse()

    def read(self, edits: EditedSource | None = None) -> Job:
        """Read the job as it is now.

        Parameters
        ----------
        edits : EditedSource, optional
            The source with rows that are not saved yet, to read in its place.

        Raises
        ------
        JobError
            If the job can't be run at all, or is being written; the reading before is kept, and
            the next one reuses it.
        """
        mapping = None if self._mapping is None else load_mapping(self._mapping)
        source, lines, window = edits or self._source, self._lines, None
        if self._where is not None:
            window = read_window(source, self._where, self._mapping)
            source, lines = window.source, list(window.lines)
        job = Reading(source, self._settings, self._reuse).read(lines, mapping)
        self._reuse.keep()
        return job if window is None else window.into(job)


def _checked_path(mapping: object) -> str | Path | None:
    if mapping is None or isinstance(mapping, (str, Path)):
        return mapping
    kind = type(mapping).__name__
    raise ParameterError.of("mapping", f"a {kind} is not allowed; give the path of a TOML file.")

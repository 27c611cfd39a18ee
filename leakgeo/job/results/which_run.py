"""Which run a result is of, when it was written, and whether another one superseded it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, NamedTuple

from leakgeo.faults import Fault
from leakgeo.job.results.stored_record import stored_record
from leakgeo.job.sources import read_columns
from leakgeo.provenance import utc_text
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.job.sources import LayerSource

#: Notice for programs, in the folder of a superseded result.
NOTICE = "superseded.json"
#: Code of the fault of a superseded result.
CODE = "result_superseded"


class WhichRun(NamedTuple):
    """The run of a result.

    Parameters
    ----------
    run_id : str
        ``""`` if it is not known.
    written : str
        Time in UTC (ISO 8601); ``""`` if it is not known.
    superseded : Fault or None
        That another result superseded it.
    """

    run_id: str = ""
    written: str = ""
    superseded: Fault | None = None


def which_run(opened: LayerSource, folder: Path) -> WhichRun:
    """Return the run of a result.

    Parameters
    ----------
    opened : LayerSource
        Its ``result.gpkg``.
    folder : pathlib.Path
        Folder of that.
    """
    record = stored_record(opened)
    run = record.get("run_id") or next(
        iter(read_columns(opened, "lines", ("run_id",))["run_id"].dropna()), ""
    )
    faults = superseded_faults(folder)
    return WhichRun(str(run), str(record.get("written") or ""), faults[0] if faults else None)


def superseded_faults(folder: Path) -> tuple[Fault, ...]:
    """Return the fault of a result that was superseded; none for another.

    Parameters
    ----------
    folder : pathlib.Path
        Of the result. A notice that can't be read marks the result all the same.
    """
    path = folder / NOTICE
    if not path.exists():
        return ()
    try:
        read = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        read = {}
    return (superseded_fault(read if isinstance(read, dict) else {}),)


def superseded_fault(notice: dict[str, object]) -> Fault:
    """Return the fault of a notice.

    Examples
    --------
    >>> notice = {"run_id": "a", "written": "2026-03-01T08:00:00+00:00", "superseded_by": "b"}
    >>> print(superseded_fault(notice).reason.values)
    (('at', '?'), ('by', 'b'), ('run', 'a'), ('written', '2026-03-01 08:00:00 UTC'))
    """
    run, by = (str(notice.get(key) or "?") for key in ("run_id", "superseded_by"))
    times = (utc_text(str(notice.get(key) or "")) for key in ("written", "superseded_at"))
    written, at = (time or "?" for time in times)
    return Fault("lines", Reason(CODE, run=run, written=written, by=by, at=at), effect="noted")

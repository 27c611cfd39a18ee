"""Exit codes of a run, for the shell and for whoever watches over it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leakgeo.result import Result

#: All lines were computed; some were rejected; nothing was written, earlier results are unchanged.
DONE, SOME_REJECTED, CANNOT_RUN = 0, 1, 2


def exit_code(result: Result) -> int:
    """Return the exit code of a result: 0 if all lines were computed, else 1."""
    from leakgeo.deliver.folder.record import lines_by_status  # slow to import

    # A rejected route, or a selected line that does not exist, has no row in lines.
    faults = (*result.job.faults, *result.faults)
    if any(f.layer == "routes" and f.effect == "rejected" for f in faults):
        return SOME_REJECTED
    return SOME_REJECTED if lines_by_status(result).get("rejected") else DONE

"""What a job says about a line in the heads of its sheets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import shapely

from leakgeo.deliver.views.rows import records, text

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import Row
    from leakgeo.job.model import Job


@dataclass(frozen=True)
class SheetLine:
    """A line as the heads of its sheets name it.

    Parameters
    ----------
    line_id, address : str
        ``""`` on a blank sheet.
    fittings : tuple of (str, str)
        Name and kind of the fittings on the line, in the order of the pipe.
    """

    line_id: str = ""
    address: str = ""
    fittings: tuple[tuple[str, str], ...] = ()

    @property
    def meter(self) -> str:
        """Name of the only meter on the line, else ``""``."""
        meters = [name for name, kind in self.fittings if kind == "meter"]
        return meters[0] if len(meters) == 1 else ""


def sheet_lines(job: Job) -> list[SheetLine]:
    """Return the usable lines of a job, in the order of the layer."""
    routes = job.routes[job.routes["reason"].isna()]
    return [
        SheetLine(text(row, "line_id"), text(row, "address"), _fittings(job, row))
        for row in records(routes)
    ]


def _fittings(job: Job, row: Row) -> tuple[tuple[str, str], ...]:
    contacts = job.contacts
    if contacts is None:
        return ()
    own = contacts[(contacts["line_id"] == row["line_id"]).to_numpy(dtype=bool)]
    route: Any = row["geometry"]
    along = shapely.line_locate_point(route, own.geometry.to_numpy(dtype=object))
    placed = sorted(zip(along.tolist(), own["contact_id"], own["kind"], strict=True),
                    key=lambda each: each[0])  # fmt: skip
    return tuple(dict.fromkeys((str(name), str(kind or "")) for _, name, kind in placed))

"""Close a line after its dig: add the rows to the job, read it again, and write the record."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.deliver.folder.atomic import out_folder
from leakgeo.deliver.records.facts import record_of
from leakgeo.deliver.records.page import write_page
from leakgeo.deliver.records.table import FILE, add_row, page_of, read_table
from leakgeo.dig.closing import Closing, MeterAfter, closing_rows
from leakgeo.errors import LeakgeoError, OutputError
from leakgeo.faults import Fault
from leakgeo.job.append import append_rows, require_geopackage
from leakgeo.job.read import read_job
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.deliver.records.facts import DigRecord
    from leakgeo.job.model import Job

# Folder beside the job for its records.
FOLDER = "records"
# A leak this far from the mark may be a wrong line or a tape in the wrong direction.
FAR_M = 3.0
# Names of pages, as they are made here: the table that lists them may be anybody's.
_PAGE = re.compile(r"D-\d{8}-\d+(?:-\d+)?\.pdf")


@dataclass(frozen=True)
class Closed:
    """A line that was closed.

    Parameters
    ----------
    record : DigRecord
    files : tuple of pathlib.Path
        The page of the record, and the table of all records.
    units : {"si", "us"}
        Of the texts.
    faults : tuple of Fault
        What is noted of the line in its job, and of a leak far from the mark.
    """

    record: DigRecord
    files: tuple[Path, ...]
    units: str
    faults: tuple[Fault, ...]


def close_line(
    job: str | Path, line_id: str, *, found: str, at: str | float | None = None,
    exposed: tuple[str | float, str | float] | None = None, repaired: bool = False,
    cause: str | None = None, photos: Sequence[str | Path] = (),
    meter_start: str | float | None = None, meter_end: str | float | None = None,
    meter_minutes: float | None = None, volume_unit: str | None = None,
    meter: str | None = None, time: datetime | None = None, crew: str | None = None,
    note: str | None = None, supersedes: str | None = None, results: str | Path | None = None,
    out: str | Path | None = None, units: str | None = None, language: str = "en",
) -> Closed:  # fmt: skip
    r"""Record the result of a dig in its job, and write the page that the utility keeps.

    A row of ``dig_outcomes`` and, for the meter afterwards, one of ``meter_tests`` are added to the
    job in one transaction; nothing else of it changes. The next run takes them into account.

    Parameters
    ----------
    job : str or pathlib.Path
        GeoPackage of the job, which another program may have open.
    line_id : str
        Line that was dug on.
    found : {"leak", "dry", "pipe_not_reached"}
        What the hole showed.
    at : str or float, optional
        Place of the leak: a length along the line, or one from a fitting, as
        ``21' 5" from CS-12 toward M-3``. A number is in metres; in a text without a unit it is
        refused where `units` are us.
    exposed : tuple of two str or float, optional
        Both ends of the pipe that was seen, like `at`.
    repaired : bool
        Whether the leak was repaired.
    cause : str, optional
        Cause of the leak, such as a split or a joint.
    photos : sequence of str or pathlib.Path
        Stored as paths from the folder of the job.
    meter_start, meter_end : str or float, optional
        Register of the meter after the dig, with no water used between the two.
    meter_minutes : float, optional
        Minutes between the two.
    volume_unit : {"l", "m3", "gal", "ft3"}, optional
        Unit of the register.
    meter : str, optional
        ``contact_id`` of the meter, on a line that has several.
    crew : str, optional
        Crew that dug.
    note : str, optional
        Remark.
    time : datetime.datetime, optional
        Of the repair or the dig, with its zone; without one, that of this machine. By default now,
        or when the meter was read first.
    supersedes : str, optional
        ``dig_id`` of the record that this one corrects.
    results : str or pathlib.Path, optional
        Result whose mark was dug; by default the latest one of this job beside it.
    out : str or pathlib.Path, optional
        Folder of the page and of ``records.csv``; by default ``records`` beside the job.
    units : {"si", "us"}, optional
        Units of the page; by default us for a job in a foot CRS, else si.
    language : str
        Language of the page.

    Returns
    -------
    Closed
        The record, the files written, and what is noted of the record.

    Raises
    ------
    JobError
        If anything that was given can't be true of the job, with every fault. Nothing is written.
    OutputError
        If the job or the record can't be written; the message says which of them is written.

    Examples
    --------
    >>> import shutil, tempfile
    >>> import leakgeo
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     job = shutil.copy("examples/town/job.gpkg", folder)
    ...     closed = leakgeo.close_line(
    ...         job, "H-117", found="dry", exposed=("20'", "24' 6\"")
    ...     )
    ...     print(closed.record.believed.code, [path.suffix for path in closed.files])
    closed_dry ['.pdf', '.csv']
    """
    path = Path(job)
    require_geopackage(path)  # before a folder is made
    before = read_job(path)
    texts = None if exposed is None else (_place(exposed[0]), _place(exposed[1]))
    closing = Closing(
        str(line_id), found, None if at is None else _place(at), texts, repaired, _zoned(time),
        MeterAfter(_typed(meter_start), _typed(meter_end), meter_minutes, volume_unit, meter),
        tuple(Path(photo) for photo in photos), cause, crew, note, supersedes,
    )  # fmt: skip
    units = before.units(units)
    rows = closing_rows(before, closing, path.parent, say=wording(units, language))
    folder = out_folder(path.parent / FOLDER if out is None else Path(out))
    read_table(folder / FILE)  # a table that is none is reported before anything is written
    append_rows(path, rows)
    own = rows["dig_outcomes"].iloc[0]
    dig_id, zone = str(own["dig_id"]), datetime.fromisoformat(own["time"]).tzinfo or UTC
    try:
        return _recorded(path, dig_id, folder, results, (units, language, zone))
    except (LeakgeoError, OSError) as error:
        raise OutputError(
            f"The record {dig_id} is in the job, and its page or its row in {FILE} is not written: "
            f"{error}"
        ) from error


def _place(value: str | float) -> str:
    """Return a place as text: a number of Python is in metres, whatever the units of the page."""
    return value if isinstance(value, str) else f"{value} m"


def _typed(value: object) -> str | None:
    return None if value is None else str(value)


def _zoned(time: datetime | None) -> datetime | None:
    """Return a time with its zone: that of this machine if it has none."""
    return time if time is None or time.tzinfo else time.astimezone()


def _recorded(
    path: Path, dig_id: str, folder: Path, results: str | Path | None,
    locale: tuple[str, str, tzinfo],
) -> Closed:  # fmt: skip
    """Read the job again, and write page and row of a record."""
    job, (units, language, zone) = read_job(path), locale
    record = record_of(job, dig_id, None if results is None else Path(results), zone)
    page = _new_file(folder, dig_id)
    write_page(record, page, units, language)
    _mark_corrected(job, record, folder, (units, language))
    table = add_row(record, folder, page.name)
    return Closed(record, (page, table), units, _notes(job, record))


def _mark_corrected(
    job: Job, record: DigRecord, folder: Path, locale: tuple[str, str]
) -> None:  # fmt: skip
    """Write the page of the record that a record corrects again, with a note of that."""
    old = record.dig["supersedes"]
    name = page_of(folder, record.job, old) if isinstance(old, str) else ""
    if _PAGE.fullmatch(name):
        write_page(record_of(job, str(old), zone=record.zone), folder / name, *locale)


def _new_file(folder: Path, name: str) -> Path:
    """Return a name that no file of the folder has: records of several jobs may share it."""
    names = (f"{name}.pdf", *(f"{name}-{k}.pdf" for k in range(2, 10_000)))
    return next(folder / each for each in names if not (folder / each).exists())


def _notes(job: Job, record: DigRecord) -> tuple[Fault, ...]:
    """Return the faults of the record, and of the one that it corrects; a leak far off is noted."""
    names = {record.dig_id, str(record.dig["supersedes"])}
    notes = [f for f in job.faults if f.layer == "dig_outcomes" and f.feature in names]
    if abs(record.off_mark_m) > FAR_M:
        far = Reason("closing_far_from_mark", off_m=abs(record.off_mark_m))
        at_m = f"{record.chainage_m('leak_chainage_m'):.2f}"
        notes.append(Fault("dig_outcomes", far, record.dig_id, "leak_chainage_m", at_m, "noted"))
    return tuple(notes)

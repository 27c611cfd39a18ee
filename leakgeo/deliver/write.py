"""Write a result into its folder: whole, or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.deliver.atomic import out_folder
from leakgeo.deliver.export import clear as clear_export
from leakgeo.deliver.files import FILES
from leakgeo.deliver.geopackage import write_geopackage
from leakgeo.deliver.record import run_record, write_record
from leakgeo.deliver.request_files import FILES as REQUESTS
from leakgeo.deliver.request_files import has_requests, write_requests
from leakgeo.deliver.spreadsheets import faults_list, summary_table, write_csv
from leakgeo.errors import OutputError, ParameterError

if TYPE_CHECKING:
    from leakgeo.deliver.draft import Draft
    from leakgeo.result import Result

# Made by steps of these names. Those of an older run go when they were not made anew: a report that
# shows an older mark beside a newer result would be dug by.
_BY_STEP = {"map": "map.html", "report": "report.pdf"}
# Left by a program that has the old file open; beside a new file they would corrupt what it reads.
_SIDECARS = ("-wal", "-shm", "-journal")


def write_result(
    result: Result, out: str | Path, *, overwrite: bool = False, units: str = "si",
    draft: Draft | None = None,
) -> list[Path]:  # fmt: skip
    """Write result.gpkg, summary.csv, faults.csv, locate requests and run.json into a folder.

    Everything is written and flushed to disk in a hidden folder inside `out` first, and moved into
    place only when all of it is there. A run that fails leaves what was in the folder as it was.

    Parameters
    ----------
    result : Result
        Whatever layers it has are written, in ``result.job.output_crs``.
    out : str or pathlib.Path
        Folder; made where it is missing.
    overwrite : bool
        Replace a result that is there, and take away a map.html, report.pdf or locate request of
        an older run: one that no step of this result made.
    units : {"si", "us"}
        Units of summary.csv and of the texts in the locate requests; the GeoPackage is in SI
        always.
    draft : Draft, optional
        The GeoPackage, if it is in the making already.

    Returns
    -------
    list of pathlib.Path
        The files written.

    Raises
    ------
    OutputError
        If the folder holds a result already, is not a folder, or can't be written to; or if the
        result is one that was read back.
    ParameterError
        If `units` is neither.
    """
    if units not in ("si", "us"):
        raise ParameterError(f"units: {units!r} is not allowed; use one of si, us.")
    if result.read_back:
        raise OutputError(
            "A result that was read back is written already; export gives other forms."
        )
    folder = _refuse(Path(out), (*FILES, *REQUESTS), overwrite=overwrite)
    record = run_record(result)
    files = (*(REQUESTS if has_requests(result) else ()), *FILES)
    stale = [file for step, file in _BY_STEP.items() if step not in result.parameters]
    stale += [file for file in REQUESTS if file not in files]
    beside = _beside(folder)
    try:
        if draft is None or not draft.moved(result, beside / "result.gpkg"):
            write_geopackage(result, beside / "result.gpkg")
        write_csv(summary_table(result, units), beside / "summary.csv")
        write_csv(faults_list(result), beside / "faults.csv")
        if has_requests(result):
            write_requests(result, beside, units)
        write_record(record, beside / "run.json")
        written = _move(beside, folder, files, stale if overwrite else [])
        if overwrite and "export" not in result.parameters:
            clear_export(folder)
    except OSError as error:
        raise OutputError(f"{folder}: the result can't be written ({error}).") from error
    else:
        return written
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def check_folder(out: Path, *, overwrite: bool = False) -> Path:
    """Make sure, before a long run, that its results can go where they are asked to.

    Parameters
    ----------
    out : pathlib.Path
        Folder; made where it is missing.
    overwrite : bool
        Whether results that are there may be replaced.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    OutputError
        If the folder holds a result, map or report already, is not a folder, or can't be written.
    """
    folder = _refuse(out, (*FILES, *REQUESTS, *_BY_STEP.values()), overwrite=overwrite)
    _beside(folder).rmdir()
    return folder


def _refuse(out: Path, files: tuple[str, ...], *, overwrite: bool) -> Path:
    if out.exists() and not out.is_dir():
        raise OutputError(f"{out} is a file, not a folder. Name a folder to write into.")
    there = [name for name in files if (out / name).exists()]
    if there and not overwrite:
        raise OutputError(
            f"{out} already holds a result ({', '.join(there)}). Name another folder, or "
            "overwrite it (--overwrite)."
        )
    return out_folder(out)


def _beside(folder: Path) -> Path:
    try:
        return Path(tempfile.mkdtemp(prefix=".writing-", dir=folder))
    except OSError as error:
        raise OutputError(
            f"{folder}: nothing can be written there ({error.strerror}). Name another folder."
        ) from error


def _move(beside: Path, folder: Path, files: tuple[str, ...], stale: list[str]) -> list[Path]:
    """Flush all to disk, then put each in place in one move; put the old ones back on failure."""
    for name in files:
        _flush(beside / name)
    names = (*files, *stale, *(f"result.gpkg{end}" for end in _SIDECARS))
    old = [name for name in names if (folder / name).exists()]
    for name in old:
        _keep(folder / name, beside / f"old-{name}")
    try:
        for name in set(old) - set(files):
            (folder / name).unlink()
        for name in files:
            (beside / name).replace(folder / name)
    except OSError:
        _put_back(beside, folder, files, old)
        raise
    if os.name == "posix":  # elsewhere a folder can't be opened to be flushed
        _flush(folder)
    return [folder / name for name in files]


def _keep(path: Path, kept: Path) -> None:
    """Hold on to an old file under another name, without taking it away."""
    try:
        kept.hardlink_to(path)
    except OSError:  # a file system without hard links
        shutil.copy2(path, kept)


def _put_back(beside: Path, folder: Path, files: tuple[str, ...], old: list[str]) -> None:
    for name in files:
        if name not in old:
            (folder / name).unlink(missing_ok=True)
    for name in old:
        kept = beside / f"old-{name}"
        if not (folder / name).exists() or not kept.samefile(folder / name):
            kept.replace(folder / name)


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

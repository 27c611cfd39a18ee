"""Write all files of a result into its folder, atomically."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.folder.atomic import out_folder
from leakgeo.deliver.folder.changes import FILE as CHANGES
from leakgeo.deliver.folder.changes import changes_between, write_changes
from leakgeo.deliver.folder.locate_requests import FILES as REQUESTS
from leakgeo.deliver.folder.locate_requests import has_requests, write_requests
from leakgeo.deliver.folder.record import run_record, write_record
from leakgeo.deliver.folder.spreadsheets import faults_list, summary_table, write_csv
from leakgeo.deliver.folder.superseded import keep
from leakgeo.deliver.formats.export import exported_files
from leakgeo.deliver.geopackage.layers import write_geopackage
from leakgeo.deliver.result_project.project import PROJECT, write_project
from leakgeo.deliver.round.write import FILES as ROUND
from leakgeo.deliver.workbook.write import FILE as WORKBOOK
from leakgeo.deliver.workbook.write import write_workbook
from leakgeo.errors import OutputError, ParameterError, parameter_label
from leakgeo.find.ground.file import ground_toml
from leakgeo.job.placed import has_taped_lists, on_the_ground
from leakgeo.job.results.read_back import FILE as GEOPACKAGE
from leakgeo.job.schema import load_schemas
from leakgeo.provenance import check_one_origin
from leakgeo.sound.noise_law import NoiseLaw
from leakgeo.sound.walk_law import WalkLaw
from leakgeo.staging import FILES, RECORD, Staging, exclusive, is_superseded, staged

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.deliver.geopackage.draft import Draft
    from leakgeo.result import Result

# Files of later steps, by step.
_BY_STEP = {"map": "map.html", "report": "report.pdf"}


def write_result(
    result: Result,
    out: str | Path,
    *,
    overwrite: bool = False,
    keep_earlier: bool = False,
    units: str | None = None,
    language: str = "en",
) -> list[Path]:
    """Write result.gpkg, result.qgz, summary.csv, faults.csv, ground.toml, run.json and more.

    A job with lines by tape alone, or placed by two of their fittings, gets result.xlsx as well.

    All files are written and flushed to disk in a hidden folder inside `out`, and moved into place
    when they are complete. A run that fails leaves the folder as it was.

    Parameters
    ----------
    result : Result
        All of its layers are written, in ``result.job.output_crs``.
    out : str or pathlib.Path
        Folder; created if it is missing.
    overwrite : bool
        Replace an existing result, and remove other files of an earlier run: map, report, locate
        request, styles and exports that no step of this result wrote. Default False.
    keep_earlier : bool
        Keep the files of a result that is replaced in ``superseded/TIME-RUN`` inside `out`, with a
        notice that it was superseded, by which run and when. Default False.
    units : {"si", "us"}, optional
        Units of summary.csv and of the texts in the layers and the locate requests; "us" for a job
        in a foot CRS, else "si", if None.
        Numbers in layers are always in SI.
    language : str
        Language of the messages; default English.

    Returns
    -------
    list of pathlib.Path
        The files written.

    Raises
    ------
    OutputError
        If the folder holds a result already, is not a folder, or can't be written to; or if the
        result was read back, or its layers come from different runs.
    ParameterError
        If `units` is neither "si" nor "us".

    Examples
    --------
    >>> import tempfile
    >>> import leakgeo
    >>> result = leakgeo.meter(leakgeo.read_job("examples/town/job.gpkg"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     files = leakgeo.write_result(result, folder)
    >>> {"result.gpkg", "run.json"} <= {path.name for path in files}
    True
    """
    if result.read_back:
        raise OutputError(
            "A result that was read back is written already; export gives other forms."
        )
    folder, units = Path(out), result.job.units(units)
    with exclusive(folder):
        _refuse(folder, (*FILES, WORKBOOK, *REQUESTS), overwrite=overwrite)
        with staged(folder) as staging:
            write_files(result, staging, units=units, language=language)
            kept = [file for step, file in _BY_STEP.items() if step in result.parameters]
            kept += exported_files(folder) if "export" in result.parameters else []
            earlier = set(earlier_files(folder) if overwrite else []) - set(kept)
            name = keep(result, staging, earlier, language) if keep_earlier else ""
            return staging.commit(earlier, name)


def write_files(
    result: Result,
    staging: Staging,
    *,
    units: str,
    language: str = "en",
    draft: Draft | None = None,
    compare: bool = False,
) -> None:
    """Write the files of a result into a staging folder; see `write_result`.

    Parameters
    ----------
    result : Result
    staging : Staging
    units : {"si", "us"}
    language : str
        Language of the messages; default English.
    draft : Draft, optional
        The GeoPackage, if a thread is writing it already.
    compare : bool
        Write what changed since the result that is in the folder, if there is one; default False.

    Raises
    ------
    OutputError
        If a file can't be written, or the layers come from different runs.
    ParameterError
        If `units` is neither "si" nor "us".
    """
    if units not in ("si", "us"):
        raise ParameterError.of("units", f"{units!r} is not allowed; use one of si, us.")
    check_one_origin(result, load_schemas("output"))
    record, folder, result = run_record(result), staging.path, on_the_ground(result)
    try:
        path = folder / GEOPACKAGE
        contents = None if draft is None else draft.moved(result, path)
        result = result.worded(units, language)
        checkpoint()
        contents = write_geopackage(result, path) if contents is None else contents
        checkpoint()
        changes = written_changes(staging, units, result.run_id) if compare else None
        write_project(result, folder / PROJECT)
        write_csv(summary_table(result, units, language), folder / "summary.csv")
        write_csv(faults_list(result, units, language), folder / "faults.csv")
        if has_taped_lists(result.job.routes):
            write_workbook(result, folder / WORKBOOK, units, language)
        if has_requests(result):
            write_requests(result, folder, units, language)
        write_laws(result, folder)
        write_list_of_files({**record, "changes": changes}, folder, contents)
    except OSError as error:
        raise OutputError(f"{staging.out}: the result can't be written ({error}).") from error


def written_changes(staging: Staging, units: str, run_id: str) -> dict[str, object] | None:
    """Write what changed since the result in the folder, if there is one; return its record."""
    changes = changes_between(staging.out / GEOPACKAGE, staging.path / GEOPACKAGE)
    if changes is None:
        return None
    write_changes(changes, staging.path / CHANGES, units, run_id)
    return changes.record()


def write_laws(result: Result, folder: Path) -> None:
    """Write ``ground.toml``, if the result has laws of noise and of walks."""
    if "noise_law" in result.layers:
        law = NoiseLaw.from_table(result.layers["noise_law"])
        walks = WalkLaw.from_table(result.layers["walk_law"])
        (folder / "ground.toml").write_text(ground_toml(law, walks), encoding="utf-8")


def write_list_of_files(
    record: Mapping[str, object], folder: Path, contents: Mapping[str, str]
) -> None:
    """Write ``run.json``: the record of a run, the digest of each layer, and the files there."""
    files = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    more = {"contents": contents, "files": sorted({*files, RECORD})}
    write_record({**record, **more}, folder / RECORD)


def earlier_files(folder: Path) -> list[str]:
    """Return the files that an earlier run left in a folder, or may have left.

    Parameters
    ----------
    folder : pathlib.Path
    """
    known = [*FILES, WORKBOOK, *REQUESTS, *_BY_STEP.values(), *exported_files(folder), *ROUND]
    try:
        files = json.loads((folder / RECORD).read_text("utf-8")).get("files", [])
    except (OSError, ValueError, AttributeError):
        files = []
    # What is kept of earlier results is never removed, whatever a record says.
    own = (name for name in files if isinstance(name, str) and not is_superseded(Path(name)))
    return [*known, *own]


def check_folder(out: Path, *, overwrite: bool = False) -> Path:
    """Check, before a long run, that its results can be written into a folder.

    Parameters
    ----------
    out : pathlib.Path
        Folder; created if it is missing.
    overwrite : bool
        Whether existing results may be replaced; default False.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    OutputError
        If the folder holds a result, map or report already, is not a folder, or can't be written.
    """
    folder = _refuse(out, (*FILES, WORKBOOK, *REQUESTS, *_BY_STEP.values()), overwrite=overwrite)
    with Staging(folder):
        return folder


def _refuse(out: Path, files: tuple[str, ...], *, overwrite: bool) -> Path:
    if out.exists() and not out.is_dir():
        raise OutputError(f"{out} is a file, not a folder. Name a folder to write into.")
    there = [name for name in files if (out / name).exists()]
    if there and not overwrite:
        raise OutputError(
            f"{out} already holds a result ({', '.join(there)}). Name another folder, or "
            f"replace it with {parameter_label('overwrite')}."
        )
    return out_folder(out)

"""The step ``export``: styles as files, leak density as a raster, layers in other formats."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.folder.atomic import out_folder
from leakgeo.deliver.folder.record import lines_by_status
from leakgeo.deliver.formats.density_raster import TIFF, write_density
from leakgeo.deliver.formats.registry import format_names, parse_formats
from leakgeo.deliver.formats.write import FOLDER, LOSES, export_formats
from leakgeo.deliver.geopackage.layer_styles import style_files, write_styles
from leakgeo.deliver.views.top_lines import selected, top_lines
from leakgeo.errors import OutputError, parameter_label
from leakgeo.faults import Fault
from leakgeo.reason import Reason
from leakgeo.selection import Selection
from leakgeo.staging import final_folder, staged
from leakgeo.wording import wording

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result

STYLES = "styles"


def export(
    result: Result, *, out: Path | None, units: str, language: str,
    lines: tuple[str, ...], top: int | None, status: str, near: str,
    format: str | None,  # noqa: A002
    density: bool, density_lines: int | None, density_pixel_m: float,
) -> Result:  # fmt: skip
    """Write styles, the leak density on the ground, and the layers in other formats.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent.
    out : pathlib.Path
        Folder, created if it is missing; files of an earlier export are removed.
    units : {"si", "us"}
        Units of the texts; numbers are always in SI.
    language : str
        Language of the texts, one of `leakgeo.wording.languages`.
    lines : tuple of str
        Lines to write, by ``line_id``; all if empty.
    top : int or None
        Of the selected lines so many, the first in the order of the digs.
    status : str
        Statuses of lines or of their digs, as `leakgeo.selection.parse_statuses` reads them.
    near : str
        Place and radius, as `leakgeo.selection.parse_near` reads them; everywhere if empty.
    format : str or None
        Names of formats separated by commas, or ``all``; none if None.
    density : bool
        Whether to write ``leak_density.tif``.
    density_lines : int or None
        Maximum number of lines in the raster, first by priority; a fault reports those left out.
        All if None.
    density_pixel_m : float
        Size of its pixels on the ground, in metres.

    Returns
    -------
    Result
        The same result, with faults for what each format loses.

    Raises
    ------
    ParameterError
        If no folder was given, no line is selected, or a format is not known.
    OutputError
        If a file can't be written, the folder holds the result of another run, or a folder of a
        format was not made by leakgeo.
    """
    folder = out_folder(out, result.run_id)
    shown = selected(result, Selection(lines, top, status, near))
    _refuse_foreign(final_folder(folder) / FOLDER, format or "")
    with staged(folder) as staging:
        write_styles(shown, staging.path / STYLES, wording(result.units(units), language))
        faults: list[Fault] = []
        if density:
            some, left = _limited(shown, density_lines)
            faults += [*left, *write_density(some, staging.path, density_pixel_m)]
        if format:
            faults += export_formats(shown.worded(units, language), staging.path / FOLDER, format)
        staging.commit(exported_files(folder))
    return result.adding({}, faults)


def _refuse_foreign(inside: Path, names: str) -> None:
    for name in parse_formats(names):
        path = inside / name
        if path.exists() and not (path / LOSES).is_file():
            raise OutputError(
                f"{path}: it is there, and was not made by leakgeo. Name another folder."
            )


def _limited(result: Result, most: int | None) -> tuple[Result, list[Fault]]:
    """Return the result with at most `most` lines, and a fault for those left out."""
    every = sum(lines_by_status(result).values())
    if most is None or every <= most:
        return result, []
    reason = Reason("density_leaves_out", left=every - most, lines=every, shown=most,
                    parameter=parameter_label("density_lines"))  # fmt: skip
    left = Fault("lines", reason, effect="noted")
    return top_lines(result, most), [left]


def exported_files(folder: Path) -> list[str]:
    """Return the files that an earlier export left in a folder, or may have left.

    Only files that the step itself writes are listed.

    Parameters
    ----------
    folder : pathlib.Path
    """
    made = [folder / STYLES / name for name in style_files()]
    made.append(folder / TIFF)
    for name in format_names():
        if (folder / FOLDER / name / LOSES).is_file():
            made += (p for p in (folder / FOLDER / name).rglob("*") if p.is_file())
    return [path.relative_to(folder).as_posix() for path in made]

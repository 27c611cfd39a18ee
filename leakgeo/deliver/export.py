"""The step that hands a result over: styles as files, the density as a raster, other formats."""

from __future__ import annotations

import shutil
from contextlib import suppress
from typing import TYPE_CHECKING

from leakgeo.deliver.atomic import out_folder
from leakgeo.deliver.density_raster import MOSAIC, TIFF, TILES, write_density
from leakgeo.deliver.exports import FOLDER, FORMATS, LOSES, chosen, export_formats
from leakgeo.deliver.layer_styles import style_files, write_styles
from leakgeo.deliver.urgent import most_urgent
from leakgeo.faults import Fault

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result

STYLES = "styles"


def export(
    result: Result, *, out: Path | None, format: str | None, density: bool,  # noqa: A002
    density_lines: int | None, density_pixel_m: float,
) -> Result:  # fmt: skip
    """Write styles, the leak's density over the ground, and the layers in other formats.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent.
    out : pathlib.Path
        Folder; what an earlier export left in it is taken away.
    format : str or None
        Formats with commas between, or ``all``; none if None.
    density : bool
        Whether to write ``leak_density.tif``.
    density_lines : int or None
        Lines at the most that it shows, the first by priority; those left out are told.
    density_pixel_m : float
        Side of its pixels.

    Returns
    -------
    Result
        The same, with what each format lost among its faults.

    Raises
    ------
    ParameterError
        If no folder was given, or a format is not known.
    OutputError
        If a file can't be written.
    """
    folder = out_folder(out)
    chosen(format or "")
    clear(folder)
    write_styles(result, folder / STYLES)
    faults: list[Fault] = []
    if density:
        some, left = _urgent(result, density_lines)
        faults += [*left, *write_density(some, folder, density_pixel_m)[1]]
    if format:
        inside = out_folder(folder / FOLDER)
        faults += export_formats(result, inside, format)[1]
    return result.adding({}, faults)


def _urgent(result: Result, most: int | None) -> tuple[Result, list[Fault]]:
    """The result with no more than so many lines, and how many that leaves out."""
    lines = result.layers.get("lines")
    if most is None or lines is None or len(lines) <= most:
        return result, []
    left = Fault(
        "lines", f"The density raster leaves out {len(lines) - most} of {len(lines)} lines; the "
        f"{most} most urgent are on it.", "Give density_lines a higher number.", effect="noted",
    )  # fmt: skip
    return most_urgent(result, most), [left]


def clear(folder: Path) -> None:
    """Take away what an earlier export left: an older shape must not stand beside a newer result.

    Only files that the step makes go; what else is in those folders stays.

    Parameters
    ----------
    folder : pathlib.Path
    """
    made = [folder / STYLES / name for name in style_files()]
    made += [folder / name for name in (TIFF, MOSAIC)]
    made += (folder / TILES).glob("leak_density_*.tif")
    for path in made:
        path.unlink(missing_ok=True)
    for name in FORMATS:
        if (folder / FOLDER / name / LOSES).is_file():
            shutil.rmtree(folder / FOLDER / name)
    for name in (STYLES, TILES, FOLDER):
        with suppress(OSError):  # not there, or not empty
            (folder / name).rmdir()

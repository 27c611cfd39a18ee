"""Write the layers of a result in other formats, each with a list of what it loses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.formats.registry import parse_formats
from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.deliver.views.sentences import run_and_time
from leakgeo.errors import OutputError
from leakgeo.faults import Fault
from leakgeo.job.schema import load_schemas
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import pandas as pd

    from leakgeo.result import Result

FOLDER = "exported"
LOSES = "what_is_lost.txt"
_ALL = ("Styles, what columns mean, codes and metadata are not in it: result.gpkg has them.",)


def export_formats(result: Result, folder: Path, names: str) -> list[Fault]:
    """Write a result in other formats, each in a subfolder named after the format.

    Parameters
    ----------
    result : Result
    folder : pathlib.Path
        Created if it is missing.
    names : str
        Names of formats separated by commas, or ``all``.

    Returns
    -------
    list of Fault
        What each format loses, as in ``what_is_lost.txt`` in its folder.

    Raises
    ------
    ParameterError
        If a format is not known.
    OutputError
        If a format can't be written.
    """
    faults = []
    layers = dict(_layers(result))
    for name, wanted in parse_formats(names).items():
        path = folder / name
        try:
            path.mkdir(parents=True)
            lost = [*wanted.loses, *wanted.write(layers, result, path), *_ALL]
            text = "\n".join(f"- {loss}" for loss in lost)
            run = wording().text(run_and_time(result))
            head = f"What {wanted.title} loses of {run}:"
            (path / LOSES).write_text(f"{head}\n{text}\n", encoding="utf-8")
        except (OSError, RuntimeError) as error:
            raise OutputError(f"{path}: {wanted.title} can't be written ({error}).") from error
        faults.append(Fault(name, Reason("format_loses", loses=" ".join(lost)),
                            effect="noted"))  # fmt: skip
    return faults


def _layers(result: Result) -> Iterator[tuple[str, pd.DataFrame]]:
    """Yield the layers with rows, typed as in the GeoPackage, in the output CRS."""
    for name, schema in load_schemas("output").items():
        if name in result.layers and len(result.layers[name]):
            yield name, to_schema(result.whole(name), schema, result.job.output_crs, result.run_id)

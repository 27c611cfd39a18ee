"""run.json: input, parameters, versions, and an account of every reading."""

from __future__ import annotations

import json
import math
import platform
from collections import Counter
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pyogrio
import pyproj
import shapely

import leakgeo
from leakgeo.errors import LeakgeoError
from leakgeo.job.model import LAYERS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.model import Job
    from leakgeo.result import Result

PACKAGES = ("numpy", "pandas", "geopandas", "shapely", "pyogrio", "pyproj", "scipy", "numba",
            "celerite2", "rasterio", "folium", "reportlab",
            "click")  # fmt: skip
NOT_PLACED = "profile_not_run"


def run_record(result: Result) -> dict[str, object]:
    """Return the record of a run.

    Parameters
    ----------
    result : Result

    Returns
    -------
    dict
        JSON values only. The input is named without its folder, so that a record that is passed on
        does not disclose the folders of a machine.

    Raises
    ------
    LeakgeoError
        If a reading is neither used nor rejected with a reason. This is an error of leakgeo or of
        an added step, never of the data.
    """
    job = result.job
    record = {
        "run_id": result.run_id,
        "written": result.written,
        "input": {"name": Path(job.source).name, "sha256": job.digest or None},
        "mapping": {"name": job.mapping, "sha256": job.mapping_digest} if job.mapping else None,
        "crs": {"computed_in": _crs(job.crs), "written_in": _crs(job.output_crs)},
        "counts": counts(result),
        "absent": [name for name in LAYERS if getattr(job, name) is None],
        "layers": rows_by_layer(result),
        "noise_law": _law(result, "noise_law"),
        "walk_law": _law(result, "walk_law"),
        "parameters": result.parameters,
        "seconds": dict(result.timings),
        "versions": versions(),
    }
    values: dict[str, object] = plain(record)  # type: ignore[assignment]
    return values


def _law(result: Result, layer: str) -> list[dict[str, object]] | None:
    """Return a law that the result was computed with."""
    law = result.layers.get(layer)
    return None if law is None else law.to_dict("records")  # type: ignore[return-value]


def write_record(record: Mapping[str, object], path: Path) -> None:
    """Write a record as JSON, UTF-8, with two-space indents."""
    text = json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False)
    path.write_text(f"{text}\n", encoding="utf-8")


def versions() -> dict[str, str | None]:
    """Return the versions of leakgeo and of the packages that can change a number.

    Examples
    --------
    >>> sorted(versions())[:3]
    ['celerite2', 'click', 'folium']
    """
    found: dict[str, str | None] = {
        "leakgeo": leakgeo.__version__,
        "python": platform.python_version(),
        "platform": platform.platform(),
        "gdal": ".".join(map(str, pyogrio.__gdal_version__)),
        "proj": pyproj.proj_version_str,
        "geos": shapely.geos_version_string,
    }
    return found | _versions_of_packages()


@cache
def _versions_of_packages() -> dict[str, str | None]:
    found: dict[str, str | None] = {}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = None
    return found


def show_versions() -> None:
    """Print the versions of leakgeo, Python and the packages below, for a bug report.

    Examples
    --------
    >>> import leakgeo
    >>> leakgeo.show_versions()
    leakgeo: 0.1.0
    python: ...
    """
    for name, found in versions().items():
        print(f"{name}: {found or 'not installed'}")  # noqa: T201 - prints on purpose


def counts(result: Result) -> dict[str, object]:
    """Count rows, readings used and rejected, lines and digs by status, marks, and faults.

    Raises
    ------
    LeakgeoError
        If readings read is not used + rejected with a reason.
    """
    job, known = result.job, result.counted
    placed = result.layers.get("readings_on_route")
    return {
        "rows_read": dict(job.counts),
        "readings": readings_account(job, placed) if known is None else known.readings,
        "lines_by_status": lines_by_status(result),
        "digs_by_status": digs_by_status(result),
        "marks": marks_set(result),
        "faults_by_effect": dict(Counter(f.effect for f in (*job.faults, *result.faults))),
    }


def digs_by_status(result: Result) -> dict[str, int]:
    """Return the number of located lines by the status of their dig."""
    if result.counted is not None:
        return dict(result.counted.digs)
    lines = result.layers.get("lines")
    if lines is None or "dig_status" not in lines:
        return {}
    return dict(Counter(lines.loc[lines["status"] == "located", "dig_status"].dropna()))


def marks_set(result: Result) -> int:
    """Return the number of marks to dig at."""
    if result.counted is not None:
        return result.counted.marks
    marks = result.layers.get("marks", pd.DataFrame(columns=["status"]))
    return int(marks["status"].eq("located").sum()) if "status" in marks else 0


def lines_by_status(result: Result) -> dict[str, int]:
    """Return the number of all lines of a result by status."""
    if result.counted is not None:
        return dict(result.counted.status)
    lines = result.layers.get("lines")
    return {} if lines is None else dict(Counter(lines["status"].fillna("unknown")))


def rows_by_layer(result: Result) -> dict[str, int]:
    """Return the number of rows of each layer in the file of a result."""
    counted = {} if result.counted is None else result.counted.rows
    return {**{name: len(frame) for name, frame in result.layers.items()}, **counted}


def readings_account(job: Job, placed: pd.DataFrame | None) -> dict[str, object]:
    """Count the readings: read, used, and rejected by reason.

    Raises
    ------
    LeakgeoError
        If readings read is not used + rejected with a reason.
    """
    came_in = int(job.counts.get("readings", len(job.readings)))
    if placed is None:
        known = job.readings["reason"]
        reasons = known.map(lambda reason: reason.code, na_action="ignore").fillna(NOT_PLACED)
        used = 0
    else:
        was_used = placed["used"].fillna(value=False).astype(bool)
        reasons, used = placed.loc[~was_used, "reason_code"], int(was_used.sum())
    unexplained = int(reasons.isna().sum() + (reasons == "").sum())
    rejected = len(reasons) - unexplained
    if came_in != used + rejected:
        raise LeakgeoError(
            f"Internal error: {came_in} readings came in, but {used} were used and {rejected} "
            f"rejected with a reason ({unexplained} without one). Please report this."
        )
    by_reason = dict(Counter(reasons).most_common())
    return {"in": came_in, "used": used, "rejected": rejected, "rejected_by_reason": by_reason}


def _crs(crs: pyproj.CRS) -> dict[str, object]:
    authority = crs.to_authority()
    return {"name": crs.name, "code": ":".join(authority) if authority else None,
            "wkt": crs.to_wkt()}  # fmt: skip


def plain(value: object) -> object:
    """Convert a value to JSON types: arrays to lists, paths to texts, NaN and infinities to None.

    Examples
    --------
    >>> plain({"a": float("nan"), "b": (1, pd.NaT)})
    {'a': None, 'b': [1, None]}
    """
    if isinstance(value, dict) or hasattr(value, "items"):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple, set, frozenset, np.ndarray)):
        return [plain(v) for v in value]
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is pd.NaT or value is pd.NA:
        return None
    return value if value is None or isinstance(value, (str, int, bool)) else str(value)

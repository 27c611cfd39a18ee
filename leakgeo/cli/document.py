"""The JSON document of a command."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import leakgeo
from leakgeo.commands import JSON_FORMAT
from leakgeo.runner.exit_codes import DONE
from leakgeo.wording import active_wording, wording
from leakgeo.wording.layers import with_texts

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.result import Result

CAUTION = ("Nothing here clears a dig: local law, the one-call centre and licensed people decide.",
           "What still holds each dig is in the map, the report and summary.csv.")  # fmt: skip
_OF_LINE = ("line_id", "status", "dig_status", "leak_probability", "chainage_m", "priority",
            "loss_l_per_day", "conflicts", "message", "code", "values", "advice", "advice_code",
            "advice_values", "held_by", "held_by_code", "held_by_values", "next_action",
            "next_action_code", "next_action_values")  # fmt: skip
_OF_MARK = ("rank", "chainage_m", "probability_within_1ft", "along_sd_m", "along_95_m",
            "across_95_m", "limited_by", "status")  # fmt: skip
# Lines that the document names for each kind of change; changes.csv has all.
_FIRST = 100
# Layers whose texts the document has.
_TOLD = ("lines", "meter_results", "learned")


@dataclass(frozen=True)
class Outcome:
    """Exit code of a command, the content of its JSON document, and faults."""

    code: int = DONE
    content: dict[str, object] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    #: Whether the document ends a stream of JSON lines.
    in_a_line: bool = False


def document(
    command: str, outcome: Outcome, error: tuple[str, str] | None = None
) -> dict[str, object]:
    """Return the document of a command that ended well or with an `error`."""
    return {
        "leakgeo": leakgeo.__version__,
        "format": JSON_FORMAT,
        "command": command,
        "exit_code": outcome.code,
        "error": error and {"kind": error[0], "message": error[1]},
        **outcome.content,
        "faults": [f.row(active_wording()) for f in outcome.faults],
    }


def result_content(
    result: Result, out: Path, units: str, files: Iterable[Path], language: str = "en"
) -> dict[str, object]:
    """Return the content of a result: status and mark of each line, counts and files."""
    from leakgeo.deliver.folder.record import counts, lines_by_status, plain

    words = wording(units, language)
    told = {n: with_texts(result.layers[n], words) for n in _TOLD if n in result.layers}
    result = result.adding(told)
    content = plain({
        "out": str(out.resolve()),
        "files": [str(path.resolve()) for path in files],
        "units": units,
        "language": language,
        "crs": crs_of(result.job),
        # A result that was read back has no readings to account for.
        "counts": None if result.read_back and result.counted is None else counts(result),
        "layers": {name: _rows_in(result, name, out) for name in result.layers},
        "lines": lines_of(result),
        # Of a large job only the lines that come first are listed; all are in the files.
        "lines_not_listed": max(
            sum(lines_by_status(result).values()) - len(result.layers.get("lines", ())), 0
        ),
        "meter": _rows(result, "meter_results"),
        "learned": _rows(result, "learned"),
        "worked_out": None if result.kept is None else list(result.kept.worked_out),
        "seconds": dict(result.timings),
        "caution": " ".join(CAUTION),
    })  # fmt: skip
    assert isinstance(content, dict)
    return content


def changes_in(out: Path) -> dict[str, object] | None:
    """Return what changed since the result that a run replaced: counts, and the first lines."""
    import pandas as pd

    from leakgeo.deliver.folder.changes import FILE

    try:
        found = json.loads((out / "run.json").read_text("utf-8"))["changes"]
        rows = pd.read_csv(out / FILE, usecols=["change", "line_id"], dtype=str,
                           keep_default_na=False)  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if found is None:
        return None
    first = rows.drop_duplicates().groupby("change")["line_id"].agg(lambda own: list(own[:_FIRST]))
    lines = {kind: first.get(kind, []) for kind in found["counts"]}
    return {**found, "lines": lines, "most_lines": _FIRST, "file": str((out / FILE).resolve())}


def _rows_in(result: Result, name: str, out: Path) -> int:
    """Return the number of rows of a layer; a streamed one is counted in the file."""
    if result.counted is not None:
        return result.counted.rows.get(name, 0)
    if name not in result.streamed:
        return len(result.layers[name])
    import pyogrio

    path = out / "result.gpkg"
    there = name in pyogrio.list_layers(path)[:, 0]
    return int(pyogrio.read_info(path, layer=name)["features"]) if there else 0


def job_content(job: Job) -> dict[str, object]:
    """Return the content of a job that was only checked."""
    return {"counts": {"rows_read": dict(job.counts)}, "crs": crs_of(job)}


def crs_of(job: Job) -> dict[str, object]:
    """Return the CRS of the computation and the CRS of the written results."""
    return {"computed_in": _crs(job.crs), "written_in": _crs(job.output_crs)}


def _crs(crs: object) -> dict[str, object]:
    import pyproj

    known = pyproj.CRS(crs)
    authority = known.to_authority()
    return {"name": known.name, "code": ":".join(authority) if authority else None}


def lines_of(result: Result) -> list[dict[str, object]]:
    """Return an entry for each line with its marks, the most urgent first."""
    if "lines" not in result.layers:
        return []
    marks = _marks(result)
    lines = result.layers["lines"].sort_values("priority")
    entries = []
    for row in lines.to_dict("records"):
        line = {name: row.get(name) for name in _OF_LINE}
        for name in ("values", "advice_values", "held_by_values", "next_action_values"):
            text = line[name]
            line[name] = json.loads(text) if isinstance(text, str) else None
        first, *further = marks.get(str(row["line_id"]), [None])
        entries.append({**line, "mark": first, "further_marks": further})
    return entries


def _marks(result: Result) -> dict[str, list[dict[str, object]]]:
    """Return the marks of each line by rank, positioned in the output CRS and in degrees."""
    from leakgeo.deliver.views.places import in_degrees

    marks = result.layers.get("marks")
    if marks is None or marks.empty:
        return {}
    places = marks.geometry.to_crs(result.job.output_crs)
    degrees = in_degrees(marks).reindex(marks.index)
    table = marks[[c for c in _OF_MARK if c in marks]].assign(
        x=places.x.round(2), y=places.y.round(2),
        longitude=degrees["longitude"].to_numpy(), latitude=degrees["latitude"].to_numpy(),
    )  # fmt: skip
    found: dict[str, list[dict[str, object]]] = {}
    rows = zip(marks["line_id"].astype(str), table.to_dict("records"), strict=True)
    for line, row in sorted(rows, key=lambda each: each[1]["rank"]):
        found.setdefault(line, []).append(row)  # type: ignore[arg-type]
    return found


def _rows(result: Result, layer: str) -> list[dict[str, object]]:
    table = result.layers.get(layer)
    if table is None:
        return []
    return table.drop(columns="geometry", errors="ignore").to_dict("records")  # type: ignore[return-value]

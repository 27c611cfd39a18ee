"""The state of the last run as a file for monitoring systems, in the text format of OpenMetrics.

All metrics are gauges, so that readers of the older text format of Prometheus take the file as
well, such as the textfile collector of its node exporter.
"""

from __future__ import annotations

import json
import time
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple

from leakgeo.deliver.folder.atomic import write_atomic
from leakgeo.dig.order import HOLD, NO_HOLD
from leakgeo.job.schema import load_schema
from leakgeo.runner.exit_codes import CANNOT_RUN
from leakgeo.staging import RECORD

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path


@dataclass
class Report:
    """How a run ends.

    Parameters
    ----------
    code : int
        Exit code; that of a run that fails until it is set.
    """

    code: int = CANNOT_RUN


class Metric(NamedTuple):
    """A gauge.

    Parameters
    ----------
    name : str
        Without the prefix ``leakgeo_``; a unit ends it.
    unit : str
        ``""`` for none.
    help : str
    label : str
        Name of the label that tells the values apart; ``""`` for one value.
    values : dict of str to float
        By the value of the label.
    """

    name: str
    unit: str
    help: str
    label: str
    values: Mapping[str, float]


@contextmanager
def reported(path: Path | None, folder: Path) -> Iterator[Report]:
    """Write the file when a run into a folder has ended, well or not.

    Parameters
    ----------
    path : pathlib.Path or None
        File to write, replaced in one operation; none is written if None.
    folder : pathlib.Path
        Output folder of the run. Its figures are those of the result in it, also after a run that
        failed.

    Raises
    ------
    OutputError
        If the file can't be written after a run that ended well; after another one, its own error
        is raised.
    """
    begin, report = time.time(), Report()
    try:
        yield report
    except BaseException as error:
        try:
            _write(path, folder, CANNOT_RUN, begin)
        except Exception as second:  # noqa: BLE001 - what stopped the run is what people must read
            error.add_note(f"{path}: the metrics can't be written ({second}).")
        raise
    _write(path, folder, report.code, begin)


def _write(path: Path | None, folder: Path, code: int, begin: float) -> None:
    if path is None:
        return
    text = metrics_text(folder, code, begin, time.time())
    path.parent.mkdir(parents=True, exist_ok=True)
    write_atomic(path, lambda beside: _write_text(beside, text))


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def metrics_text(folder: Path, code: int, begin: float, end: float) -> str:
    """Return the state of a run and the figures of the result in its folder.

    Parameters
    ----------
    folder : pathlib.Path
        Its name is the label ``result`` of every value.
    code : int
        Exit code.
    begin, end : float
        Of the run, in seconds since 1970.

    Examples
    --------
    >>> from pathlib import Path
    >>> text = metrics_text(Path("no/city"), 2, 100.0, 160.0)
    >>> [line for line in text.splitlines() if not line.startswith("#")][:2]
    ['leakgeo_run_success{result="city"} 0', 'leakgeo_run_exit_code{result="city"} 2']
    """
    try:
        record = json.loads((folder / RECORD).read_text("utf-8"))
    except (OSError, ValueError):
        record = {}
    metrics = [*_of_run(code, begin, end), *(_of_result(record) if record else ())]
    lines = [line for metric in metrics for line in _lines(metric, folder.resolve().name)]
    return "\n".join([*lines, "# EOF"]) + "\n"


def _of_run(code: int, begin: float, end: float) -> Iterator[Metric]:
    yield _one("run_success", "", "1 if the last run wrote its result, else 0.",
               float(code != CANNOT_RUN))  # fmt: skip
    yield _one("run_exit_code", "", "Exit code of the last run: 0 all lines computed, 1 some lines "
               "rejected, 2 nothing written.", code)  # fmt: skip
    yield _one("run_timestamp_seconds", "seconds", "End of the last run.", end)
    yield _one("run_duration_seconds", "seconds", "Duration of the last run.", end - begin)


def _of_result(record: Mapping[str, Any]) -> Iterator[Metric]:
    """Yield the figures of a result; none clears a dig."""
    counts, layers = record.get("counts", {}), record.get("layers", {})
    written = datetime.fromisoformat(record["written"]).timestamp()
    readings = {k: counts["readings"][k] for k in ("used", "rejected")}
    yield _one("last_success_timestamp_seconds", "seconds",
               "When the result in the folder was written.", written)  # fmt: skip
    statuses = dict.fromkeys(load_schema("lines").field("status").codes, 0)
    yield Metric("lines", "", "Lines of the result.", "status",
                 statuses | counts["lines_by_status"])  # fmt: skip
    yield Metric("readings", "", "Readings of the result.", "use", readings)
    yield Metric("faults", "", "Faults of the job.", "effect",
                 {"noted": 0, "rejected": 0} | counts["faults_by_effect"])  # fmt: skip
    yield _one("marks", "", "Marks of located leaks.", counts.get("marks", 0))
    yield Metric("digs", "", "Located lines by the status of their dig, which clears none.",
                 "status", {HOLD: 0, NO_HOLD: 0} | counts.get("digs_by_status", {}))  # fmt: skip
    if "holds" in layers:
        yield _one("holds", "", "Recorded holds.", layers["holds"])
    if changes := record.get("changes"):
        yield Metric("changes", "", "Changes since the result before; see changes.csv.", "change",
                     changes["counts"])  # fmt: skip


def _one(name: str, unit: str, about: str, value: float) -> Metric:
    return Metric(name, unit, about, "", {"": value})


def _lines(metric: Metric, result: str) -> Iterator[str]:
    name = f"leakgeo_{metric.name}"
    yield f"# TYPE {name} gauge"
    if metric.unit:
        yield f"# UNIT {name} {metric.unit}"
    yield f"# HELP {name} {metric.help}"
    for label, value in metric.values.items():
        labels = {"result": result} | ({metric.label: label} if metric.label else {})
        shown = ",".join(f'{key}="{_escaped(text)}"' for key, text in labels.items())
        yield f"{name}{{{shown}}} {value:.3f}".removesuffix(".000")


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")

"""The process that reads spoilt GeoPackages: one line in, one line out, nothing else to be seen."""

from __future__ import annotations

import faulthandler
import hashlib
import json
import os
import sys
import tempfile
import traceback
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

import leakgeo
from leakgeo.errors import JobError, LeakgeoError
from leakgeo.job.read import read_job
from tests.fuzz import small_job
from tests.fuzz.mutations import spoilt

LAYERS = ("routes", "readings", "contacts", "meter_tests", "utilities", "surfaces", "history",
          "dig_outcomes")  # fmt: skip
STATUSES = {"located", "keep_listening", "ambiguous", "no_leak_heard", "not_listened_to",
            "rejected"}  # fmt: skip
MOST_MEMORY = 6 * 1024**3


@dataclass
class Good:
    """The job before it is spoilt, and what is found on it."""

    data: bytes
    job: leakgeo.Job
    lines: pd.DataFrame

    @classmethod
    def made(cls, folder: Path) -> Good:
        """Write the job, and run it."""
        path = small_job.write(folder / "good.gpkg")
        result = leakgeo.run(path, folder / "good")
        return cls(path.read_bytes(), result.job, result["lines"].set_index("line_id"))


def _plain(table: pd.DataFrame) -> pd.DataFrame:
    plain = pd.DataFrame(table)
    if "geometry" in plain:
        plain = plain.assign(geometry=table.geometry.to_wkb())
    return plain


def _same(one: pd.DataFrame | None, other: pd.DataFrame | None) -> bool:
    if one is None or other is None:
        return one is other
    return _plain(one).equals(_plain(other))


def check_job(job: leakgeo.Job) -> None:
    """What holds of every job that was read, however spoilt its file."""
    for name in LAYERS:
        table = getattr(job, name)
        if table is None:
            continue
        assert len(table) == job.counts[name], name
        for column in table.select_dtypes("number"):
            assert not np.isinf(table[column]).any(), (name, column)
        if "geometry" in table:
            good = table[table["reason"].isna()]
            assert good.geometry.notna().all(), name
            assert np.isfinite(good.geometry.bounds).all(axis=None), name
    for fault in job.faults:
        assert fault.problem
        assert fault.what_to_do


def check_run(result: leakgeo.Result, folder: Path, good: Good) -> None:
    """What holds of every run; a line that came through whole has the result that it had."""
    record = json.loads((folder / "run.json").read_text("utf-8"))["counts"]["readings"]
    assert record["in"] == record["used"] + record["rejected"], record
    lines = result["lines"].set_index("line_id")
    assert set(lines["status"]) <= STATUSES
    done = lines[lines["leak_probability"].notna()]
    assert np.isfinite(done["leak_probability"].astype(float)).all()
    assert not set(done["status"]) & {"rejected", "not_listened_to"}
    # A line is heard through others that come to meet it: only beside the same routes is it alike.
    if result.job.crs != good.job.crs or not _same(result.job.routes, good.job.routes):
        return
    for line in good.lines.index.intersection(lines.index):
        if _same_line(result.job, good.job, line):
            was, now = good.lines.loc[line], lines.loc[line]
            assert was["status"] == now["status"], line
            np.testing.assert_allclose(now["chainage_m"], was["chainage_m"], atol=1e-9)


def _same_line(one: leakgeo.Job, other: leakgeo.Job, line: str) -> bool:
    return all(
        _same(_rows(getattr(one, n), line), _rows(getattr(other, n), line))
        for n in ("routes", "readings")
    )


def _rows(table: pd.DataFrame, line: str) -> pd.DataFrame:
    return table[table["line_id"] == line].reset_index(drop=True)


def outcome(path: Path, good: Good, *, whole: bool) -> tuple[str, str]:
    """Read a spoilt file, and run it if asked to; say how that went."""
    try:
        job = read_job(path)
        check_job(job)
        same = all(_same(getattr(job, n), getattr(good.job, n)) for n in LAYERS)
        if whole:
            folder = path.with_suffix("")
            check_run(leakgeo.run(path, folder), folder, good)
    except JobError as error:
        return ("refused" if error.faults else "WRONG: refused without faults"), str(error)[:300]
    except LeakgeoError as error:
        return "WRONG: not a JobError", f"{type(error).__name__}: {error}"
    except BaseException as error:  # noqa: BLE001 - whatever comes is what is looked for
        last = traceback.extract_tb(error.__traceback__)[-3:]
        where = " < ".join(f"{Path(f.filename).name}:{f.lineno}" for f in reversed(last))
        return "WRONG: traceback", f"{type(error).__name__}: {str(error)[:200]} at {where}"
    fewer = [n for n in LAYERS if getattr(good.job, n) is not None
             and len(getattr(job, n) if getattr(job, n) is not None else ()) <
             len(getattr(good.job, n))]  # fmt: skip
    how = "ran" if whole else "read"
    told = "same" if same else f"other, rows fewer: {','.join(fewer)}" if fewer else "other"
    return f"{how}, {told.split(':', maxsplit=1)[0]}", told


def one(folder: Path, good: Good, order: dict[str, int]) -> dict[str, object]:
    """Make a spoilt file, read it, and see that it is as it was, and alone."""
    name, data = spoilt(good.data, order["seed"], order["number"])
    with tempfile.TemporaryDirectory(dir=folder) as place:
        path = Path(place) / "job.gpkg"
        path.write_bytes(data)
        what, detail = outcome(path, good, whole=bool(order["whole"]))
        if hashlib.sha256(path.read_bytes()).digest() != hashlib.sha256(data).digest():
            what, detail = "WRONG: input changed", ""
        beside = {p.name for p in Path(place).iterdir()} - {"job.gpkg", "job"}
        if beside:
            what, detail = "WRONG: files beside", str(sorted(beside))
    return {**order, "mutation": name, "outcome": what, "detail": detail}


def main() -> None:
    """Answer orders until there are no more; what anything else prints is told as noise."""
    if sys.platform == "linux":
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    answers, seen = os.fdopen(os.dup(1), "w", encoding="utf-8"), os.fdopen(os.dup(2), "w")
    with tempfile.TemporaryDirectory() as place, tempfile.TemporaryFile() as noise:
        os.dup2(noise.fileno(), 1)
        os.dup2(noise.fileno(), 2)
        good = Good.made(Path(place))
        for line in sys.stdin:
            noise.seek(0)
            noise.truncate()
            # Where a file hangs is shown a little before the child is ended for it.
            faulthandler.dump_traceback_later(25.0, file=seen)
            told = one(Path(place), good, json.loads(line))
            faulthandler.cancel_dump_traceback_later()
            sys.stdout.flush()
            sys.stderr.flush()
            noise.seek(0)
            heard = noise.read().decode("utf-8", "replace").strip()
            if heard and not str(told["outcome"]).startswith("WRONG"):
                told |= {"outcome": "WRONG: noise", "detail": heard[:300]}
            answers.write(json.dumps(told) + "\n")
            answers.flush()


if __name__ == "__main__":
    main()

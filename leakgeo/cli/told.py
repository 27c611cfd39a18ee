"""What people are told of a result: where to look, line by line, and what was left out."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from leakgeo.cli.document import CAUTION, DONE, SOME_REJECTED
from leakgeo.cli.voice import MOST, styled

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from leakgeo.cli.voice import Voice
    from leakgeo.result import Result

_WANT_MORE = ("keep_listening", "ambiguous")


def tell_result(voice: Voice, result: Result, out: Path, units: str, language: str = "en") -> None:
    """Say what was found, the most urgent lines first, and end with where the results are."""
    voice.faults((*result.job.faults, *result.faults))
    result = result.worded(units, language)
    _tell_tables(voice, result)
    if "lines" not in result.layers:
        voice.last(f"Results are in {out}.")
        return
    lines = result.layers["lines"].sort_values("priority")
    for row in lines.head(MOST).itertuples():
        voice.say(f"{row.line_id}  ", styled(str(row.status)), f"  {row.message}")
        advice = getattr(row, "advice", None)
        if isinstance(advice, str) and row.status in _WANT_MORE:
            voice.say(f"    next: {advice}")
    if len(lines) > MOST:
        voice.say(f"... and {len(lines) - MOST} more lines, all in summary.csv.")
    counts = ", ".join(f"{n} {status}" for status, n in lines["status"].value_counts().items())
    told = f"{counted(len(lines), 'line')}: {counts}. Results are in {out}."
    if voice.quiet:
        voice.last(f"{told} {CAUTION[0]}")
        return
    voice.say(told)
    voice.last(("\n".join(CAUTION), "bold"))


def _tell_tables(voice: Voice, result: Result) -> None:
    """Say how the digs came out, and what meter tests tell where no line was worked out."""
    if "learned" in result.layers:
        for message in result.layers["learned"]["message"][:1]:
            voice.say(f"Digs: {message}")
    if "meter_results" in result.layers and "lines" not in result.layers:
        for row in result.layers["meter_results"].head(MOST).itertuples():
            voice.say(f"{row.line_id}  {row.verdict}  {row.message}")


def tell_details(voice: Voice, result: Result, out: Path, files: Iterable[Path]) -> None:
    """Say versions, CRS, timings and files, to those who asked for more."""
    if not voice.verbose:
        return
    from leakgeo.deliver.folder.record import versions

    known = versions()
    told = ", ".join(f"{n} {known[n]}" for n in ("leakgeo", "python", "gdal", "proj", "geos"))
    voice.detail(f"Versions: {told}")
    voice.detail(f"Computed in {result.job.crs.name}, written in {result.job.output_crs.name}")
    for step, seconds in result.timings.items():
        voice.detail(f"{step:<10} {seconds:8.2f} s")
    for name, sizes in _by_name(out, files).items():
        more = f"  ({counted(len(sizes), 'file')})" if name.endswith(os.sep) else ""
        voice.detail(f"{sum(sizes):>12,} bytes  {name}{more}")


def _by_name(out: Path, files: Iterable[Path]) -> dict[str, list[int]]:
    """Give the sizes of files by name, those of a folder within together."""
    sizes: dict[str, list[int]] = {}
    for path in files:
        first = path.relative_to(out).parts[0]
        name = str(out / first) + (os.sep if path.parent != out else "")
        sizes.setdefault(name, []).append(path.stat().st_size)
    return sizes


def counted(number: int, thing: str) -> str:
    """Count things.

    Examples
    --------
    >>> counted(1, "line"), counted(0, "fault")
    ('1 line', '0 faults')
    """
    return f"{number} {thing}{'' if number == 1 else 's'}"


def code_of(result: Result) -> int:
    """Give the exit code of a result: whether all lines were worked out."""
    # A route without a name, or a line asked for that is not there, has no row in the table.
    faults = (*result.job.faults, *result.faults)
    if any(f.layer == "routes" and f.effect == "rejected" for f in faults):
        return SOME_REJECTED
    lines = result.layers.get("lines")
    lost = lines is not None and bool((lines["status"] == "rejected").any())
    return SOME_REJECTED if lost else DONE

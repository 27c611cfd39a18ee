"""Summary of a result on the terminal: faults, lines by priority, and counts."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from leakgeo.cli.console import MAX_SHOWN, styled
from leakgeo.cli.document import CAUTION, DONE, SOME_REJECTED

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from leakgeo.cli.console import Console
    from leakgeo.result import Result

_OPEN = ("keep_listening", "ambiguous")


def print_result(
    console: Console, result: Result, out: Path, units: str, language: str = "en"
) -> None:
    """Print faults, the most urgent lines, and the place of the results."""
    console.print_faults((*result.job.faults, *result.faults))
    result = result.worded(units, language)
    _print_tables(console, result)
    if "lines" not in result.layers:
        console.print_always(f"Results are in {out}.")
        return
    lines = result.layers["lines"].sort_values("priority")
    for row in lines.head(MAX_SHOWN).itertuples():
        console.print(f"{row.line_id}  ", styled(str(row.status)), f"  {row.message}")
        advice = getattr(row, "advice", None)
        if isinstance(advice, str) and row.status in _OPEN:
            console.print(f"    next: {advice}")
    if len(lines) > MAX_SHOWN:
        console.print(f"... and {len(lines) - MAX_SHOWN} more lines, all in summary.csv.")
    counts = ", ".join(f"{n} {status}" for status, n in lines["status"].value_counts().items())
    total = f"{count_text(len(lines), 'line')}: {counts}. Results are in {out}."
    if console.quiet:
        console.print_always(f"{total} {CAUTION[0]}")
        return
    console.print(total)
    console.print_always(("\n".join(CAUTION), "bold"))


def _print_tables(console: Console, result: Result) -> None:
    """Print excavation results, and meter tests if no line was computed."""
    if "learned" in result.layers:
        for message in result.layers["learned"]["message"][:1]:
            console.print(f"Digs: {message}")
    if "meter_results" in result.layers and "lines" not in result.layers:
        for row in result.layers["meter_results"].head(MAX_SHOWN).itertuples():
            console.print(f"{row.line_id}  {row.verdict}  {row.message}")


def print_details(console: Console, result: Result, out: Path, files: Iterable[Path]) -> None:
    """Print versions, CRS, timings and files, if verbose."""
    if not console.verbose:
        return
    from leakgeo.deliver.folder.record import versions

    known = versions()
    listed = ", ".join(f"{n} {known[n]}" for n in ("leakgeo", "python", "gdal", "proj", "geos"))
    console.print_detail(f"Versions: {listed}")
    console.print_detail(
        f"Computed in {result.job.crs.name}, written in {result.job.output_crs.name}"
    )
    for step, seconds in result.timings.items():
        console.print_detail(f"{step:<10} {seconds:8.2f} s")
    for name, sizes in _by_name(out, files).items():
        more = f"  ({count_text(len(sizes), 'file')})" if name.endswith(os.sep) else ""
        console.print_detail(f"{sum(sizes):>12,} bytes  {name}{more}")


def _by_name(out: Path, files: Iterable[Path]) -> dict[str, list[int]]:
    """Return the sizes of files by name; files of a subfolder share its name."""
    sizes: dict[str, list[int]] = {}
    for path in files:
        first = path.relative_to(out).parts[0]
        name = str(out / first) + (os.sep if path.parent != out else "")
        sizes.setdefault(name, []).append(path.stat().st_size)
    return sizes


def count_text(number: int, thing: str) -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> count_text(1, "line"), count_text(0, "fault")
    ('1 line', '0 faults')
    """
    return f"{number} {thing}{'' if number == 1 else 's'}"


def exit_code(result: Result) -> int:
    """Return the exit code of a result: 0 if all lines were computed, else 1."""
    # A rejected route, or a selected line that does not exist, has no row in lines.
    faults = (*result.job.faults, *result.faults)
    if any(f.layer == "routes" and f.effect == "rejected" for f in faults):
        return SOME_REJECTED
    lines = result.layers.get("lines")
    lost = lines is not None and bool((lines["status"] == "rejected").any())
    return SOME_REJECTED if lost else DONE

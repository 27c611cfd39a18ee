"""Summary of a result on the terminal: faults, lines by priority, and counts."""

from __future__ import annotations

import os
import shlex
import subprocess
from dataclasses import replace
from typing import TYPE_CHECKING

from leakgeo.cli.console import MAX_SHOWN, styled
from leakgeo.deliver.views.card import Card, card, every_dig
from leakgeo.dig.headline import JOB_WIDE
from leakgeo.reason import Reason
from leakgeo.wording import active_wording, wording
from leakgeo.wording.layers import with_texts

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path
    from typing import Any

    import pandas as pd

    from leakgeo.cli.console import Console, Part
    from leakgeo.deliver.views.holds import Hold
    from leakgeo.faults import Fault
    from leakgeo.result import Result
    from leakgeo.wording import Wording

# Columns of a line's name before its card.
_INDENT = 7
# Layers that the cards of lines are made from.
_OF_CARDS = ("lines", "marks", "dig_zones", "holds")


def print_result(
    console: Console, result: Result, out: Path, units: str, language: str = "en"
) -> None:
    """Print faults, the most urgent lines, and the place of the results."""
    console.print_faults(all_faults(result))
    words = wording(units, language)
    _print_tables(console, result, words)
    if "lines" not in result.layers:
        console.print_always(words.text(Reason("terminal_results", out=str(out))))
        return
    # Slow imports.
    from leakgeo.deliver.folder.record import lines_by_status
    from leakgeo.deliver.views.rows import records

    lines = result.layers["lines"].sort_values("priority")
    first = _with_lines(result, lines["line_id"].head(MAX_SHOWN), words)
    for row in records(first.layers["lines"].sort_values("priority")):
        shown = card(row, words, _holds_at_mark(first, row, words))
        console.print_block(str(row["line_id"]), card_parts(shown, str(row["status"])), _INDENT)
    status = lines_by_status(result)
    every = sum(status.values())
    if every > MAX_SHOWN:
        console.print(words.text(Reason("terminal_more_lines", more=every - MAX_SHOWN)))
    for each in every_dig(result, words):
        console.print(each)
    numbers = sorted(status.items(), key=lambda each: -each[1])
    told = ", ".join(f"{n} {words.term(str(name), 'status').lower()}" for name, n in numbers)
    total = words.text(Reason("terminal_total", lines=every, counts=told, out=str(out)))
    caution = terminal_caution(words)
    if console.quiet:
        console.print_always(f"{total} {caution}")
        return
    console.print(total)
    where = words.term("terminal_caution_where")
    console.print_always((f"{caution}\n{where}", "bold"))


def terminal_caution(words: Wording) -> str:
    """Return that nothing clears a dig, in English as well where it is translated."""
    both = (words, words.english())
    return " ".join(each.term("terminal_caution") for each in both if each is not None)


def all_faults(result: Result) -> tuple[Fault, ...]:
    """Return the faults of a result, and what is noted of an update."""
    notes = () if result.kept is None else result.kept.notes
    return (*result.job.faults, *result.faults, *notes)


def _with_lines(result: Result, names: pd.Series[str], words: Wording) -> Result:
    """Return a result with what the cards of some lines need; texts of all lines take seconds."""
    layers = {
        name: with_texts(frame[frame["line_id"].isin(names)], words)
        for name, frame in result.layers.items() if name in _OF_CARDS
    }  # fmt: skip
    return replace(result, layers=layers)


def _holds_at_mark(result: Result, row: dict[str, object], words: Wording) -> tuple[Hold, ...]:
    """Return what holds the dig at a located mark; empty for a line without one."""
    # Slow imports, which help does not need.
    from leakgeo.deliver.views.holds import holds_of_dig
    from leakgeo.deliver.views.rows import mark_of, records

    def own(name: str) -> list[dict[str, object]]:
        frame = result.layers.get(name)
        return [] if frame is None else records(frame[frame["line_id"] == row["line_id"]])

    if row["status"] != "located" or not own("marks"):
        return ()
    checked, holds = "dig_zones" in result.layers, own("holds")
    found = (
        holds_of_dig(row, dig, [hold for hold in holds if mark_of(hold) == mark_of(dig)], words,
                     located=True, checked=checked)
        for dig in own("dig_zones") or [{}]
    )  # fmt: skip
    return tuple(dict.fromkeys(hold for each in found for hold in each))


def card_parts(shown: Card, status: str) -> list[list[Part]]:
    """Return the card of a line for the terminal, one list of styled parts a paragraph."""
    state: list[Part] = [styled(shown.state, status), ". "] if shown.state else []
    paragraphs: list[list[Part]] = []
    if shown.hold:
        paragraphs.append([(f"{shown.hold_label}: ", "bold magenta"), shown.hold])
    paragraphs.append([*state, shown.place])
    if shown.next:
        paragraphs.append([shown.next])
    return paragraphs


def _print_tables(console: Console, result: Result, words: Wording) -> None:
    """Print what a single step found: digs, meter tests, stretches, air tests, or holds."""
    layers = result.layers
    if "learned" in layers:
        for message in with_texts(layers["learned"].head(1), words)["message"]:
            console.print(words.text(Reason("terminal_digs", message=message)))
    if "meter_results" in layers and "lines" not in layers:
        _print_meter_results(console, layers["meter_results"].head(MAX_SHOWN), words)
    if console.command == "steptest":
        messages = with_texts(layers["district_steps"].head(1), words)["message"].to_list()
        console.print(str(messages[0]) if messages else words.term("terminal_no_inlets"))
    if console.command == "survey" and "survey_bracket" in layers:
        stretches = layers["survey_bracket"].sort_values(["area", "order"])
        _print_messages(
            console, stretches.head(MAX_SHOWN), words, words.term("terminal_no_stretch")
        )
    if console.command == "confirm" and "air_tests" in layers:
        _print_messages(
            console, layers["air_tests"].head(MAX_SHOWN), words, words.term("terminal_no_air_test")
        )
    if console.command == "clearance" and "holds" in layers:
        _print_holds(console, with_texts(layers["holds"], words), words)


def _print_meter_results(console: Console, table: pd.DataFrame, words: Wording) -> None:
    """Print the verdict and the message of each line with a meter test."""
    for row in with_texts(table, words).itertuples():
        verdict = words.term(str(row.verdict), "verdict")
        console.print_block(str(row.line_id), [[f"{verdict}. {row.message}"]], _INDENT)


def _print_messages(console: Console, table: pd.DataFrame, words: Wording, without: str) -> None:
    """Print the message of each row, or a sentence if there is none."""
    for row in with_texts(table, words).itertuples():
        console.print_block(str(row.line_id), [[str(row.message)]], _INDENT)
    if table.empty:
        console.print(without)


def _print_holds(console: Console, holds: pd.DataFrame, words: Wording) -> None:
    """Print every hold of each dig; those of the whole job follow once."""
    own = holds[~holds["code"].isin(JOB_WIDE)]
    several = set(own["line_id"][own["mark_rank"] > 1])
    digs = own.groupby(["line_id", "mark_rank"], sort=False)["message"]
    for (line, rank), messages in list(digs)[:MAX_SHOWN]:
        named = Reason("mark_of_line", line=str(line), rank=str(rank))
        name = words.text(named) if line in several else str(line)
        console.print_block(name, [[str(m)] for m in messages], _INDENT)


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


def command_line(*words: str) -> str:
    """Return a command quoted for the shell."""
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def count_text(number: int, thing: str) -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> count_text(1, "line"), count_text(0, "fault")
    ('1 line', '0 faults')
    """
    return f"{number} {thing}{'' if number == 1 else 's'}"


def update_text(result: Result) -> str:
    """Return how many lines an update worked out."""
    lines = len(result.layers["lines"])
    worked = 0 if result.kept is None else len(result.kept.worked_out)
    return active_wording().text(Reason("terminal_updated", worked=worked, lines=lines))


def changes_text(changes: Mapping[str, Any], words: Wording) -> str:
    """Return how much changed since the result that a run replaced.

    Examples
    --------
    >>> changes_text({"since_run": "ab-cd", "counts": {"mark_new": 2, "mark_moved": 0}}, wording())
    'Since run ab-cd: new marks 2. The rows are in changes.csv.'
    >>> changes_text({"since_run": "ab-cd", "counts": {"mark_new": 0}}, wording())
    'Since run ab-cd no line, mark or hold has changed.'
    """
    some = ", ".join(f"{words.term(kind, 'change')} {n}" for kind, n in changes["counts"].items()
                     if n)  # fmt: skip
    run = changes["since_run"]
    return words.text(Reason("changes_since", run=run, some=some) if some else
                      Reason("changes_none", run=run))  # fmt: skip

"""The command ``list``: the lines of a result in the order of the digs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.cli.document import CAUTION, Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import FILE, argument_of, option_of
from leakgeo.cli.summary import terminal_caution
from leakgeo.errors import ParameterError
from leakgeo.options import LANGUAGE, SELECTION, UNITS
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.cli.console import Console
    from leakgeo.deliver.views.line_list import LineList
    from leakgeo.wording import Wording

# Texts of the words that a program gets beside their codes.
_VALUES = ("held_by_values", "next_action_values", "from_fitting_values")
_GAP = 2


def _list(
    console: Console, result: Path, units: str | None, language: str, *, held: bool, **given: Any
) -> Outcome:
    from leakgeo.deliver.views.line_list import list_of
    from leakgeo.selection import selection_of

    set_locale(units or "si", language)
    if held and given["status"]:
        raise ParameterError.of("status", "it is that of held digs with --held; give one of them.")
    selection = selection_of({p.name: p.check(given[p.name]) for p in SELECTION})
    found = list_of(result, selection, held=held)
    units = units or found.units
    set_locale(units, language)
    if console.json:
        lines = _entries(found)
        return Outcome(content={"lines": lines, "units": units, "language": language,
                                "run_id": found.run.run_id, "written": found.run.written or None,
                                "superseded": found.run.superseded is not None,
                                "caution": " ".join(CAUTION)}, faults=found.faults)  # fmt: skip
    _print(console, found, active_wording(), held=held)
    console.print_faults(found.faults)
    return Outcome()


def _entries(found: LineList) -> list[dict[str, object]]:
    """Return the rows for programs: figures in SI, texts beside their codes and values."""
    import json

    from leakgeo.deliver.folder.record import plain
    from leakgeo.wording.layers import with_texts

    rows = with_texts(found.rows, active_wording()).to_dict("records")
    for row in rows:
        for name in _VALUES:
            row[name] = json.loads(row[name]) if isinstance(row[name], str) else None
    entries: list[dict[str, object]] = plain(rows)  # type: ignore[assignment]
    return entries


def _print(console: Console, found: LineList, words: Wording, *, held: bool) -> None:
    """Print the list, its last column wrapped beside the others."""
    from leakgeo.deliver.views.line_list import shown_rows
    from leakgeo.deliver.views.sentences import run_text

    heads, rows = shown_rows(found, words, held=held)
    if not rows:
        console.print_always(words.term("none_held", "list"))
        return
    widths = [max(map(len, column)) + _GAP for column in zip(heads, *rows, strict=True)][:-1]
    for row in [heads, *rows]:
        label = "".join(cell.ljust(w) for cell, w in zip(row, widths, strict=False))
        console.print_block(label, [[row[-1]]], sum(widths))
    console.print(words.term("about", "list"))
    if set(found.rows["expected_loss_from"].dropna()) - {"meter"}:
        console.print(words.term("loss_from", "list"))
    console.print(words.text(run_text(found.run.run_id, found.run.written)))
    if found.run.superseded is not None:
        console.print_always((words.text(found.run.superseded.reason), "bold"))
    console.print_always((terminal_caution(words), "bold"))


LIST = HelpCommand(
    "list", panel="The whole chain", callback=click.pass_obj(_list),
    params=[
        argument_of("result", FILE, "OUT"),
        RichOption(["--held"], is_flag=True, panel="Options",
                   help="Only the located lines whose dig is held, with what to do first to free "
                        "each."),
        *(option_of(p, "Options") for p in (*SELECTION, UNITS, LANGUAGE)),
    ],
    short_help="List the lines of a result in the order to dig, and what holds each dig.",
    help="List the lines of the result in OUT in the order to dig: first the digs that no hold is "
         "recorded for, by the water that each is expected to stop; then the held ones, by the "
         "water that freeing them would allow; then all other lines, by priority.\n\n"
         "The water of a dig is the loss of its line, times the probability that the hole at the "
         "mark shows the leak. Where no meter was read, the loss is the median of the metered "
         "losses of the job, or assumed, and marked so. A held dig stops no water before what "
         "holds it is cleared, and no rank clears a dig. OUT is a result; run a job first.",
    examples=("list out", "list out --top 5 --status no_hold_recorded", "list out --held",
              "list out --near 503100 5002100 300ft --units us", "list out --json"),
)  # fmt: skip

"""The command ``watch``: answer each save of a job until it is stopped."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from leakgeo.cli.document import Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import option_of
from leakgeo.commands import watch_command
from leakgeo.deliver.views.card import every_dig
from leakgeo.reason import Reason
from leakgeo.staging import RECORD
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.cli.console import Console, Part
    from leakgeo.faults import Fault
    from leakgeo.result import Result
    from leakgeo.runner.watch_events import Committed, Event, LineAnswer, Problem, Unchanged


def _watch(
    console: Console, job: str | Path, out: Path, units: str | None, language: str, **given: Any
) -> Outcome:
    from leakgeo.runner.watch import watch

    set_locale(units or "si", language)
    shown, before = _Shown(console, out, units, language), _written(out)
    console.print(_text("watch_begins", job=str(job)))
    try:
        watch(job, out, shown, units=units, language=language, **given)
    except KeyboardInterrupt:
        # The files may have been put in place just before that could be told.
        if not shown.run_id and _written(out) == before:
            raise
    console.print_always(_text("watch_ended", out=str(out)))
    return Outcome(content={"out": str(out.resolve()), "run_id": shown.run_id}, in_a_line=True)


class _Shown:
    """Prints the events of a watch."""

    def __init__(self, console: Console, out: Path, units: str | None, language: str) -> None:
        self.console, self.out, self.run_id = console, out, ""
        self.units, self.language = units, language
        self.faults: set[Fault] = set()
        self.notes: set[Fault] = set()
        self.told, self.has_problem = 0, False

    def __call__(self, event: Event) -> None:
        from leakgeo.runner.watch_events import Committed, LineAnswer, Problem, Unchanged

        if isinstance(event, LineAnswer):
            self.told += 1
            self._line(event)
        elif isinstance(event, Committed):
            self._committed(event)
            self.told = 0
        elif isinstance(event, Unchanged):
            self._unchanged(event)
        else:
            self._problem(event)
        self.has_problem = isinstance(event, Problem)

    def _line(self, found: LineAnswer) -> None:
        card = found.card
        if self.console.json:
            texts = None if card is None else {
                "held": card.held, "where": card.where, "next": card.next}  # fmt: skip
            self.console.line(
                "line", line_id=found.line_id, status=found.status, before=found.before,
                text=found.text, card=texts, advice=found.advice,
                stops=[_json(s) for s in found.stops], seconds=round(found.seconds, 3),
            )  # fmt: skip
        elif card is None:
            self._say((found.line_id, "bold"), ": ", _text("watch_line_gone"))
        else:
            # A text with a hold begins with the word for it.
            label = card.hold_label if card.held else ""
            rest = found.text[len(label) :]
            self._say((found.line_id, "bold"), ": ", (label, "bold magenta"), rest)

    def _committed(self, event: Committed) -> None:
        result, kept, first = event.result, event.result.kept, not self.run_id
        # Known before it is printed: a reader may end the watch as soon as it is.
        self.run_id = result.run_id
        worked = () if kept is None else kept.worked_out
        set_locale(result.job.units(self.units), self.language)
        faults = [*result.job.faults, *result.faults]
        new = [f for f in faults if f not in self.faults]
        notes = [] if kept is None else [f for f in kept.notes if f not in self.notes]
        if self.console.json:
            self.console.line("written", run_id=result.run_id, worked_out=list(worked),
                              lines=len(result.layers["lines"]), out=str(self.out.resolve()),
                              faults=[f.row(active_wording()) for f in new],
                              notes=[f.row(active_wording()) for f in notes],
                              seconds=round(event.seconds, 3))  # fmt: skip
        else:
            # What a save made worse is told at once: a stop that is not used, for one.
            worse = (f for f in new if first or f.effect == "rejected")
            self.console.print_faults([*worse, *notes])
            if first:
                self._ready(result, len(worked))
            elif not self.told:
                self._say(_text("watch_says_the_same"))
        self.faults = set(faults)
        self.notes = set() if kept is None else set(kept.notes)

    def _ready(self, result: Result, worked: int) -> None:
        """Say once what is there, and what holds every dig."""
        for each in every_dig(result, active_wording()):
            self.console.print(each)
        lines = len(result.layers["lines"])
        self.console.print(_text("watch_waits", lines=lines, worked=worked, out=str(self.out)))

    def _unchanged(self, event: Unchanged) -> None:
        """Tell programs alone, as GIS programs save files again without a change of a row."""
        if self.console.json:
            self.console.line("unchanged", run_id=self.run_id, seconds=round(event.seconds, 3))
        elif self.has_problem:
            self._say(_text("watch_as_before", out=str(self.out)))

    def _problem(self, event: Problem) -> None:
        if self.console.json:
            faults = [fault.row(active_wording()) for fault in event.faults]
            self.console.line("problem", message=event.message, waits=event.waits, faults=faults)
            return
        there = "watch_no_results" if _written(self.out) is None else "watch_results_before"
        after = "watch_run_awaited" if event.waits else there
        self.console.note(f"{event.message} {_text(after, out=str(self.out))}")

    def _say(self, *parts: Part) -> None:
        now = datetime.now().astimezone()
        self.console.print_always(f"{now:%H:%M:%S} ", *parts)


def _written(out: Path) -> int | None:
    """Return when the results in a folder were written; None if there are none."""
    record = out / RECORD
    return record.stat().st_mtime_ns if record.is_file() else None


def _text(code: str, **values: object) -> str:
    return active_wording().text(Reason(code, **values))


def _json(row: Any) -> Any:
    from leakgeo.deliver.folder.record import plain

    return plain(dict(row))


_declared = watch_command()
WATCH = HelpCommand(
    "watch", panel="The whole chain", callback=click.pass_obj(_watch),
    params=[option_of(parameter, group) for group, parameter in _declared.parameters],
    help=f"{_declared.summary}\n\n{_declared.about}",
    short_help=_declared.summary, examples=_declared.examples,
)  # fmt: skip

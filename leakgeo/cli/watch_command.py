"""The command ``watch``: answer each save of a job until it is stopped."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from leakgeo.cli.document import Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import option_of
from leakgeo.cli.summary import count_text
from leakgeo.commands import watch_command
from leakgeo.wording import set_locale

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.cli.console import Console
    from leakgeo.runner.watch import Committed, Event, LineAnswer, Problem


def _watch(
    console: Console, job: str | Path, out: Path, units: str | None, language: str, **given: Any
) -> Outcome:
    from leakgeo.runner.watch import watch

    set_locale(units or "si", language)
    shown = _Shown(console, out)
    try:
        watch(job, out, shown, units=units, language=language, **given)
    except KeyboardInterrupt:
        if not shown.committed:
            raise
    console.print(f"Stopped watching; {out} has the results of the last save.")
    return Outcome(in_a_line=True)


class _Shown:
    """Prints the events of a watch."""

    def __init__(self, console: Console, out: Path) -> None:
        self.console, self.out, self.committed = console, out, 0

    def __call__(self, event: Event) -> None:
        from leakgeo.runner.watch import Committed, LineAnswer

        if isinstance(event, LineAnswer):
            self._line(event)
        elif isinstance(event, Committed):
            self._committed(event)
            self.committed += 1
        else:
            self._problem(event)

    def _line(self, found: LineAnswer) -> None:
        card = found.card
        if self.console.json:
            texts = None if card is None else {
                "held": card.held, "where": card.where, "next": card.next}  # fmt: skip
            self.console.line(
                "line", line_id=found.line_id, status=found.status, before=found.before,
                card=texts, advice=found.advice, stops=[_json(s) for s in found.stops],
                seconds=round(found.seconds, 3),
            )  # fmt: skip
            return
        if card is None:
            self.console.print_always(f"{found.line_id}: no longer in the job.")
            return
        says = " ".join(part for part in (card.held, card.where, card.next) if part)
        self.console.print_always((found.line_id, "bold"), f": {says}")

    def _committed(self, event: Committed) -> None:
        result = event.result
        worked = () if result.kept is None else result.kept.worked_out
        set_locale(str(result.units(result.text_options[0])), result.text_options[1])
        if self.console.json:
            self.console.line("written", run_id=result.run_id, worked_out=list(worked),
                              lines=len(result.layers["lines"]), out=str(self.out.resolve()),
                              seconds=round(event.seconds, 3))  # fmt: skip
        elif not self.committed:
            lines = count_text(len(result.layers["lines"]), "line")
            self.console.print(
                f"{lines}, {len(worked)} worked out now; map and layers are in {self.out}. Waiting "
                "for the next save; Ctrl-C ends."
            )

    def _problem(self, event: Problem) -> None:
        if self.console.json:
            self.console.line("problem", message=event.message)
        else:
            self.console.note(f"{event.message} The results of the save before are in {self.out}.")


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

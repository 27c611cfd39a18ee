"""The command ``ask``: the answer about one line, once, or to the requests of a panel."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.cli.document import Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import JobType, argument_of, option_of
from leakgeo.commands import run_command
from leakgeo.options import LANGUAGE, MAPPING, UNITS
from leakgeo.registry import load_steps
from leakgeo.wording import set_locale

if TYPE_CHECKING:
    from leakgeo.cli.console import Console
    from leakgeo.parameter import Parameter

_INDENT = 7
# Parameters that mean nothing for one line.
_LEFT_OUT = ("ground", "workers", "results", "least_cases", "out", "units", "language")


def _ask(
    console: Console, job: str | Path, line: str | None, aside: tuple[str, ...], units: str | None,
    language: str, *, serve: bool, **given: Any,
) -> Outcome:  # fmt: skip
    from leakgeo.answer.warm_job import WarmJob

    set_locale(units or "si", language)
    if serve == (line is not None):
        raise click.UsageError("Give a LINE, or --serve to answer requests; not both.",
                               click.get_current_context())  # fmt: skip
    kept = WarmJob(job, **given)
    if serve:
        from leakgeo.answer import serve as server

        server.serve(kept, sys.stdin, sys.stdout, units=units, language=language)
        return Outcome()
    from leakgeo.answer.document import answer_document

    assert line is not None
    result = kept.ask(line, aside=aside)
    found = answer_document(result, line, units=units, language=language, aside=aside)
    set_locale(found["units"], language)
    _print(console, found)
    return Outcome(content={"answer": found}, faults=result.faults)


def _print(console: Console, found: dict[str, Any]) -> None:
    """Print an answer: the card first, then why, then where to listen next."""
    words, card = found["words"], found["card"]
    if found["what_if"]:
        console.print(found["what_if"])
    shown = [one for one in ((card["held"], card["where"], card["next"])) if one]
    console.print_block(found["line"], [[text] for text in shown], _INDENT)
    stops = ["; ".join(stop["says"]) for stop in found["plot"]["next"]]
    blocks = {
        words["how_sure"]: [*found["odds"], *([found["limit"]] if found["limit"] else [])],
        words["evidence"]: found["evidence"],
        words["else"]: [found["else"]] if found["else"] else [],
        words["l_next"]: stops,
        words["holds"]: found["holds"],
        words["faults"]: found["faults"],
    }
    for head, texts in blocks.items():
        if texts:
            console.print((f"{head[:1].upper()}{head[1:]}", "bold"))
            console.print_block("", [[f"- {text}"] for text in texts], 2)
    console.print_always((found["caution"], "bold"))


def _parameters() -> list[tuple[str, Parameter]]:
    """Return the parameters of the steps that make layers, with their headings."""
    own = {p.name for step in load_steps().values() if not step.writes_files
           for p in step.parameters} - {*_LEFT_OUT}  # fmt: skip
    return [(group, p) for group, p in run_command().parameters if p.name in own]


ASK = HelpCommand(
    "ask", panel="The whole chain", callback=click.pass_obj(_ask),
    params=[
        argument_of("job", JobType(), "JOB"),
        click.Argument(["line"], type=str, required=False, metavar="LINE"),
        RichOption(["--aside"], multiple=True, metavar="ID", panel="Options",
                   help="What if: leave out the reading with this reading_id. May be given several "
                        "times; the data are unchanged."),
        RichOption(["--serve"], is_flag=True, panel="Options",
                   help="Keep JOB read, and answer requests: one JSON object a line on stdin, one "
                        "on stdout."),
        RichOption(["--ground"], type=click.Path(path_type=Path), panel="Options",
                   metavar="FILE or OUT",
                   help="ground.toml of an earlier run, or its folder; else the ground is learned "
                        "from JOB."),
        option_of(MAPPING, "Options"), option_of(UNITS, "Options"), option_of(LANGUAGE, "Options"),
        *(option_of(p, group) for group, p in _parameters()),
    ],
    short_help="Answer about one line: its card, its odds, and where to listen next.",
    help="Answer about one LINE of JOB, and write nothing.\n\n"
         "It computes this line alone, with the lines around it, and prints its card, the "
         "probabilities, the evidence for and against, and where to listen next. The numbers are "
         "those of run with the same parameters. --serve keeps the job read between requests, for "
         "the panel in QGIS: it reads the job again when its file was saved.",
    examples=("ask job.gpkg H-126", "ask job.gpkg H-126 --aside H-126/007 --units us",
              "ask job.gpkg H-126 --ground out --json", "ask job.gpkg --serve"),
)  # fmt: skip

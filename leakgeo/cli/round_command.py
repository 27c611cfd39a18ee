"""The command ``round``: the first digs of a result in the order that a van drives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.cli.console import MAX_SHOWN
from leakgeo.cli.document import CAUTION, Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import FILE, argument_of, option_of
from leakgeo.cli.summary import terminal_caution
from leakgeo.options import LANGUAGE, UNITS
from leakgeo.reason import Reason
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from leakgeo.cli.console import Console
    from leakgeo.deliver.round.plan import Round
    from leakgeo.wording import Wording

_WAY, _INDENT = "The way", 7
_VALUES = ("values", "held_by_values", "next_action_values")


def _round(
    console: Console, result: Path, out: Path | None, units: str | None, language: str,
    *, start: tuple[float, float] | None, **given: Any,
) -> Outcome:  # fmt: skip
    from leakgeo.deliver.round.plan import plan_round
    from leakgeo.deliver.views.sentences import run_text

    set_locale(units or "si", language)
    found = plan_round(result, start=start, out=out, units=units, language=language, **given)
    set_locale(found.units, language)
    console.written = out
    words = active_wording()
    if console.json:
        return Outcome(content=_content(found, words, language), faults=found.faults)
    _print_stops(console, found, words)
    _print_held(console, found, words)
    for note in found.notes:
        console.print(words.text(note))
    if out is None:
        console.print(words.term("not_written", "round"))
    console.print_faults(found.faults)
    console.print(words.text(run_text(found.run.run_id, found.run.written)))
    if len(found.stops):
        console.print(words.term("to_clear", "round"))
    console.print_always(words.term("caution", "round"))
    console.print_always((terminal_caution(words), "bold"))
    return Outcome()


def _print_stops(console: Console, found: Round, words: Wording) -> None:
    """Print each stop with its way, its mark, its ties and how much is to be heeded there."""
    for row in found.stops.to_dict("records"):
        names = (row[key] for key in ("line_id", "address", "work_order"))
        name = " ".join(text for text in names if _is_text(text))
        by = row["leg_by"] if _is_text(row["leg_by"]) else "begin"
        leg, driven = (words.quantities.drive(row[key]) for key in ("leg_m", "driven_m"))
        way = Reason("round_way", leg=leg, driven=driven, by=by)
        near = words.text(Reason("round_near", utilities=int(row["conflicts"])))
        texts = [name, words.text(way), row["message"], row["ties"], near]
        # Without files this is the only place that has them.
        texts.append(words.term("cautions", "round") if found.files else row["cautions"])
        console.print_block(str(row["sequence"]), [[str(t)] for t in texts if _is_text(t)], _INDENT)


def _print_held(console: Console, found: Round, words: Wording) -> None:
    """Print the held digs: what holds each, and what to do first to free it."""
    if found.held.empty:
        return
    console.print(words.term("held", "round"))
    for row in found.held.head(MAX_SHOWN).to_dict("records"):
        texts = [row["held_by"], f"{words.term('next', 'card')}: {row['next_action']}"]
        console.print_block(str(row["line_id"]), [[str(t)] for t in texts], _INDENT)
    if (more := len(found.held) - MAX_SHOWN) > 0:
        written = "yes" if found.files else "no"
        console.print(words.text(Reason("round_held_more", more=more, written=written)))


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value)


def _content(found: Round, words: Wording, language: str) -> dict[str, object]:
    """Return the content of the JSON document: lengths in metres, texts beside their codes."""
    from leakgeo.deliver.folder.record import plain

    content = plain({
        "stops": _rows(found.stops), "held": _rows(found.held),
        "driven_m": float(found.stops["leg_m"].sum()),
        "notes": [{"code": n.code, "values": n.to_json(), "message": words.text(n)}
                  for n in found.notes],
        "files": [str(path.resolve()) for path in found.files],
        "run_id": found.run.run_id, "written": found.run.written or None,
        "units": found.units, "language": language,
        "caution": " ".join([words.term("caution", "round"), *CAUTION]),
    })  # fmt: skip
    assert isinstance(content, dict)
    return content


def _rows(table: pd.DataFrame) -> list[dict[str, object]]:
    """Return the rows of a layer for programs; a place is x and y in the CRS of the routes."""
    import json

    shapes = table.get("geometry")
    table = table.drop(columns="geometry", errors="ignore")
    if shapes is not None:
        table = table.assign(x=shapes.x.round(2), y=shapes.y.round(2))
    rows: list[dict[str, object]] = table.to_dict("records")  # type: ignore[assignment]
    for row in rows:
        for name in _VALUES:
            if name in row:
                row[name] = json.loads(str(row[name])) if _is_text(row[name]) else None
    return rows


ROUND = HelpCommand(
    "round", panel="The whole chain", callback=click.pass_obj(_round),
    params=[
        argument_of("result", FILE, "OUT"),
        RichOption(["--top"], type=click.IntRange(1), default=5, show_default=True, metavar="N",
                   panel=_WAY, help="Number of places."),
        RichOption(["--from", "start"], type=float, nargs=2, metavar="X Y", panel=_WAY,
                   help="Where the van starts, in the CRS of the routes; by default at the first "
                        "dig of the ranking."),
        RichOption(["--lonlat"], is_flag=True, panel=_WAY,
                   help="X and Y of --from are longitude and latitude."),
        RichOption(["--streets"], type=FILE, metavar="FILE", panel=_WAY,
                   help="Street lines, in any CRS and any format that a job may have; by default "
                        "ways are straight lines."),
        RichOption(["--streets-layer"], default="", metavar="NAME", panel=_WAY,
                   help="Layer of that file; by default the only one with lines."),
        RichOption(["--out"], type=FILE, metavar="FOLDER", panel="Options",
                   help="Folder to write round.csv, round_held.csv and round.gpkg into; without "
                        "it, the round is only printed."),
        *(option_of(p, "Options") for p in (UNITS, LANGUAGE)),
    ],
    short_help="Put the first digs of a result into the order that a van drives.",
    help="Put the first digs of the result in OUT into the order that a van drives, and print "
         "them. With --out, round.csv, round_held.csv and round.gpkg are written for the crew.\n\n"
         "Only marks are taken whose dig has no hold on record, by the water that each is expected "
         "to stop. That clears no dig: unrecorded utilities are not in the data. Held digs are "
         "listed apart, with what to do first to free each. One-way streets, turns and traffic "
         "are not considered. Files of an earlier round are replaced. Give a folder of its own: "
         "the record of a run does not list the files of a round.",
    examples=("round out --top 8", "round out --top 8 --out round",
              "round out --from 2688400 449150 --streets streets.gpkg --out round",
              "round out --from -89.4 43.07 --lonlat --streets streets.shp --out monday",
              "round out --json"),
)  # fmt: skip

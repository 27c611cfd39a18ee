"""The command ``close``: record the result of a dig, and write the page that the utility keeps."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.cli.document import Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import TimeType, option_of
from leakgeo.options import LANGUAGE, UNITS
from leakgeo.reason import Reason
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from leakgeo.cli.console import Console
    from leakgeo.deliver.records.close import Closed

_PATH = click.Path(path_type=Path)
_DUG, _METER, _RECORD = "What was found", "The meter afterwards", "The record"
_KEYS = ("dig_id", "line_id", "found", "leak_chainage_m", "exposed_from_m", "exposed_to_m",
         "repaired", "cause", "photos", "crew", "supersedes", "note")  # fmt: skip


def _close(
    console: Console, job: Path, line: str, out: Path | None, units: str | None, language: str,
    photos: tuple[Path, ...], **given: Any,
) -> Outcome:  # fmt: skip
    from leakgeo.deliver.records.close import close_line

    set_locale(units or "si", language)
    closed = close_line(job, line, out=out, units=units, language=language, photos=photos, **given)
    set_locale(closed.units, language)
    page, table = closed.files
    console.written = page.parent
    console.print_faults(closed.faults, most=None)
    console.print(active_wording().text(closed.record.believed))
    recorded = Reason("terminal_recorded", dig=closed.record.dig_id, job=str(job), page=str(page),
                      table=str(table))  # fmt: skip
    console.print_always(active_wording().text(recorded))
    return Outcome(content=_content(closed, language), faults=closed.faults)


def _content(closed: Closed, language: str) -> dict[str, object]:
    """Return the content of the JSON document."""
    from leakgeo.deliver.folder.record import plain

    record, say = closed.record, active_wording()
    content = plain({
        "record": {
            **{name: record.dig[name] for name in _KEYS},
            "time": record.dig["time"].isoformat(),
            "address": record.address or None, "work_order": record.work_order or None,
            "mark_chainage_m": record.mark.chainage_m if record.mark else None,
            "leak_off_mark_m": record.off_mark_m,
            "run_id": record.mark.run_id if record.mark else None,
        },
        "believed": say.text(record.believed), "believed_code": record.believed.code,
        "believed_values": json.loads(record.believed.to_json()),
        "units": closed.units, "language": language,
        "files": [str(path.resolve()) for path in closed.files],
        "caution": say.term("caution", "record"),
    })  # fmt: skip
    assert isinstance(content, dict)
    return content


def _option(name: str, panel: str, text: str, **more: Any) -> RichOption:
    return RichOption([f"--{name}"], panel=panel, help=text, **more)


CLOSE = HelpCommand(
    "close", panel="After the dig", callback=click.pass_obj(_close),
    params=[
        click.Argument(["job"], type=_PATH, metavar="JOB.gpkg"),
        click.Argument(["line"], type=str, metavar="LINE"),
        _option("found", _DUG, "What the hole showed.", required=True,
                type=click.Choice(("leak", "dry", "pipe_not_reached"))),
        _option("at", _DUG, "Place of the leak: a length along the line such as 21' 5\" or 6.5 m, "
                "or one from a fitting toward another.", metavar="PLACE"),
        _option("exposed", _DUG, "Both ends of the pipe that was seen, like --at.", nargs=2,
                metavar="FROM TO"),
        _option("repaired", _DUG, "The leak was repaired.", is_flag=True),
        _option("cause", _DUG, "Cause of the leak, such as a split or a joint.", metavar="TEXT"),
        RichOption(["--photo", "photos"], panel=_DUG, multiple=True, type=_PATH, metavar="FILE",
                   help="Photo of the dig; may be repeated. Its path is stored."),
        _option("time", _DUG, "When, in ISO 8601; without a zone, that of this machine. By default "
                "now, or when the meter was read first.", type=TimeType(), metavar="TIME"),
        _option("crew", _DUG, "Crew that dug.", metavar="NAME"),
        _option("note", _DUG, "Remark.", metavar="TEXT"),
        _option("meter-start", _METER, "Register after the dig, with no water used from then on.",
                metavar="NUMBER"),
        _option("meter-end", _METER, "Register at the end.", metavar="NUMBER"),
        _option("meter-minutes", _METER, "Minutes between the two.", type=float, metavar="NUMBER"),
        _option("volume-unit", _METER, "Unit of the register.",
                type=click.Choice(("l", "m3", "gal", "ft3"))),
        _option("meter", _METER, "contact_id of the meter, where a line has several.",
                metavar="ID"),
        _option("supersedes", _RECORD, "Record that this one corrects, by its dig_id; it is kept.",
                metavar="ID"),
        _option("results", _RECORD, "Result whose mark was dug; by default the latest of this job "
                "beside it.", type=_PATH, metavar="FOLDER"),
        _option("out", _RECORD, "Folder of the record; by default records beside the job.",
                type=_PATH, metavar="FOLDER"),
        option_of(UNITS, "Options"), option_of(LANGUAGE, "Options"),
    ],
    short_help="Record the result of a dig in the job, and write its page.",
    help="Record the result of a dig on LINE in JOB.gpkg, and write the page that the utility "
         "keeps.\n\n"
         "It adds a row to dig_outcomes and, with the meter afterwards, one to meter_tests, both "
         "or none; nothing else of the job changes, and your GIS may have it open. The next run "
         "takes them into account: what was heard before a repair no longer counts, and a dry hole "
         "makes other places likelier. Places are lengths along the line, or from a fitting: "
         "\"21' 5\\\" from CS-12 toward M-3\". A wrong record is not deleted: "
         "--supersedes names it in a new one.",
    examples=(
        "close job.gpkg M-1 --found leak --at \"21' 5\\\" from CS-12 toward M-3\" --repaired",
        (
            "close job.gpkg M-1 --found leak --at 21.5ft --exposed 20ft 24ft --repaired "
            "--meter-start 1240.5 --meter-end 1240.5 --meter-minutes 30 --volume-unit gal"
        ),
        "close job.gpkg M-1 --found dry --exposed \"20'\" \"24' 6\\\"\" --crew East",
        "close job.gpkg M-1 --found leak --at 22.5ft --repaired --supersedes D-20260503-1",
    ),
)  # fmt: skip

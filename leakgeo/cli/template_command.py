"""The command `template`: something to fill in, of a kind that the name of the file chooses."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.cli.document import Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import BEGIN, FILE, JobType, argument_of, option_of
from leakgeo.cli.summary import command_line
from leakgeo.options import LANGUAGE, UNITS
from leakgeo.reason import Reason
from leakgeo.runner.exit_codes import DONE, SOME_REJECTED
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from collections.abc import Callable

    from leakgeo.cli.console import Console
    from leakgeo.job.typed.add import Added

_CRS = "EPSG:4326"


@dataclass(frozen=True)
class Kind:
    """A kind of file that the command writes: what it is, its function, and its options."""

    what: str
    write: Callable[..., Outcome]
    options: tuple[str, ...]


def _job(
    console: Console, out: Path, *, typed: tuple[Path, ...], crs: str | None, units: str | None,
    language: str,
) -> Outcome:  # fmt: skip
    set_locale(units or "si", language)
    if typed:
        return _typed_job(console, out, typed, crs, units)
    from leakgeo.deliver.field_project import write_job_form

    job = write_job_form(out, crs=crs or _CRS, units=units, language=language)
    return _empty(console, out, Reason("template_job", job=str(job)), [job])


def _project(
    console: Console, out: Path, *, crs: str | None, units: str | None, language: str
) -> Outcome:
    from leakgeo.deliver.field_project import write_field_project

    job, project = write_field_project(out, crs=crs or _CRS, units=units, language=language)
    set_locale(units or "si", language)
    text = Reason("template_project", job=str(job), project=str(project))
    return _empty(console, out, text, [job, project])


def _workbook(console: Console, out: Path, *, language: str) -> Outcome:
    from leakgeo.job.workbook import write_workbook

    write_workbook(out)
    set_locale(language=language)
    return _empty(console, out, Reason("template_workbook", out=str(out)), [out])


def _empty(console: Console, out: Path, text: Reason, files: list[Path]) -> Outcome:
    """Report files to fill in, the job first."""
    console.written = out
    then = command_line("leakgeo", "check", str(files[0]))
    console.print_always(active_wording().text(Reason("template_fill", text=text, then=then)))
    return Outcome(content={"files": [str(file.resolve()) for file in files]})


def _typed_job(
    console: Console, out: Path, typed: tuple[Path, ...], crs: str | None, units: str | None
) -> Outcome:
    import pyproj

    from leakgeo.deliver.field_project import add_job_styles
    from leakgeo.job.typed.add import add_typed

    is_new = not out.exists()
    if crs is not None and not is_new:
        raise click.UsageError(f"--crs is for a new job, and {out} exists: leave it out.")
    added = add_typed(out, typed, units=units, crs=crs or _CRS)
    if is_new:
        add_job_styles(out, crs=pyproj.CRS(crs or _CRS), units=units)
    console.written = out
    faults = tuple(fault for each in added for fault in each.faults)
    console.print_faults(faults, most=None)
    for each in added:
        console.print(active_wording().text(_counts(each)))
    # Fittings come with the taped list of their line, which needs no drawing.
    drawn = not is_new or any(each.layer == "contacts" and each.added for each in added)
    check = command_line("leakgeo", "check", str(out))
    run = command_line("leakgeo", "run", str(out), "--out", "out")
    code = "template_next" if drawn else "template_draw"
    then = Reason(code, job=str(out), check=check, run=run)
    console.print_always(active_wording().text(then))
    rejected = any(fault.effect == "rejected" for fault in faults)
    content = {"files": [str(out.resolve())], "typed": [_counted(each) for each in added]}
    return Outcome(SOME_REJECTED if rejected else DONE, content, faults)


def _counts(added: Added) -> Reason:
    """Return what became of the rows of a file, which is each of them."""
    code = {"contacts": "typed_fittings_added", "readings": "typed_stops_added"}.get(added.layer)
    parts = [Reason(code or "typed_rows_added", count=added.added)]
    parts += [Reason("typed_there", count=added.there)] if added.there else []
    parts += [Reason("typed_left_out", count=added.left_out)] if added.left_out else []
    return Reason("typed_counts", file=added.name, rows=added.rows, parts=tuple(parts))


def _counted(added: Added) -> dict[str, object]:
    return {"file": added.name, "layer": added.layer, "rows": added.rows, "added": added.added,
            "in_job_already": added.there, "left_out": added.left_out}  # fmt: skip


def _sheets(
    console: Console, out: Path, *, job: str | Path | None, lines: tuple[str, ...],
    units: str | None, language: str, paper: str | None,
) -> Outcome:  # fmt: skip
    from leakgeo.deliver.sheets.write import write_sheets
    from leakgeo.job.read import read_job

    if lines and job is None:
        raise click.UsageError("--line selects lines of a job: name it with --job.")
    set_locale(units or "si", language)
    read = None if job is None else read_job(job, lines=lines or None)
    units = units or (read.units() if read is not None else "si")
    faults = () if read is None else tuple(
        f for f in read.faults if f.layer == "routes" and f.effect == "rejected"
    )  # fmt: skip
    console.print_faults(faults, most=None)
    pages = write_sheets(out, read, units=units, language=language, paper=paper)
    console.written = out
    then = command_line("leakgeo", "template", "job.gpkg", "--from", "fittings.csv",
                        "--from", "stops.csv", "--units", units)  # fmt: skip
    printed = Reason("template_sheets", pages=pages, out=str(out), then=then)
    console.print_always(active_wording().text(printed))
    content = {"files": [str(out.resolve())], "pages": pages}
    return Outcome(SOME_REJECTED if faults else DONE, content, faults)


PROJECT = "--project"
#: Kinds by the end of the name, or by an option. Every option belongs to one or more of them.
KINDS = {
    ".gpkg": Kind("a job", _job, ("typed", "crs", "units", "language")),
    ".xlsx": Kind("a workbook", _workbook, ("language",)),
    ".pdf": Kind("sheets to print", _sheets, ("job", "lines", "units", "language", "paper")),
    PROJECT: Kind("a folder with a job and a QGIS project", _project, ("crs", "units", "language")),
}
# Options that choose a kind, or that every kind takes.
_OF_ALL = ("language", "sheet")


def _template(console: Console, out: Path, *, project: bool, **given: Any) -> Outcome:
    key = PROJECT if project else out.suffix.casefold()
    if key not in KINDS or (given.pop("sheet") and key != ".xlsx"):
        known = "; ".join(f"{suffix} for {one.what}" for suffix, one in KINDS.items())
        raise click.UsageError(f"{out}: the end of its name chooses what is written: {known}.")
    kind, names = KINDS[key], _option_names()
    for name, value in given.items():
        if value not in (None, ()) and name not in kind.options and name not in _OF_ALL:
            owner = next(one.what for one in KINDS.values() if name in one.options)
            raise click.UsageError(f"{names[name]} is an option for {owner}, not for {kind.what}.")
    return kind.write(console, out, **{name: given[name] for name in kind.options})


def _option_names() -> dict[str | None, str]:
    return {p.name: p.opts[0] for p in click.get_current_context().command.params}


def _option(name: str, variable: str, kind: Any, panel: str, text: str, **more: Any) -> RichOption:
    return RichOption([name, variable], type=kind, panel=panel, help=text, **more)


def _flag(name: str, variable: str, panel: str, text: str) -> RichOption:
    return RichOption([name, variable], is_flag=True, panel=panel, help=text)


_JOB, _PAPER = "For a job or a project", "For sheets, .pdf"
_ANY = "For several kinds"
TEMPLATE = HelpCommand(
    "template", panel=BEGIN, callback=click.pass_obj(_template),
    params=[
        argument_of("out", FILE, "OUT"),
        _flag(PROJECT, "project", _JOB, "Write a folder: job.gpkg, and a QGIS project job.qgs with "
              "forms, defaults and symbols, to take into the field."),
        _option("--from", "typed", FILE, _JOB, "Stops or fittings typed from paper: CSV with the "
                "headers of the sheets. They are added to the job. May be given several times.",
                metavar="FILE.csv", multiple=True),
        _option("--crs", "crs", str, _JOB, f"CRS of the layers of a new job, such as EPSG:2289; "
                f"its unit may be feet. Without it: {_CRS}.", metavar="CRS"),
        _option("--job", "job", JobType(), _PAPER, "Job whose lines fill in the heads of the "
                "sheets.", metavar="JOB"),
        _option("--line", "lines", str, _PAPER, "Sheets for this line of the job alone. May be "
                "given several times.", metavar="ID", multiple=True),
        _flag("--sheet", "sheet", "For a workbook, .xlsx", "Write a workbook of taped lists; the "
              "name says so too."),
        _option("--paper", "paper", click.Choice(("letter", "a4")), _PAPER, "Size of the paper; "
                "by default letter for us, else a4."),
        _option("--units", "units", click.Choice(UNITS.choices), _ANY, "Units that the crew "
                "works in: feet and inches, or metres. A typed tape without a unit is read in "
                "them, and left out without this option."),
        option_of(LANGUAGE, _ANY),
    ],
    short_help="Write an empty job, a QGIS project, a workbook or sheets to fill in.",
    help="Write something to fill in; the end of the name of OUT chooses what.\n\n"
         "JOB.gpkg is an empty job with every layer of the data contract, to fill in with your "
         "GIS; the file explains each column. With --from, stops and fittings that were typed from "
         "paper are added to it; it is made if it does not exist. A file of stops has at least the "
         "columns line, from, tape, level and unit; a value in the first row of a line holds for "
         "the rows below. Nothing in a job is overwritten, and a row is never added twice.\n\n"
         "FOLDER with --project is that job with a QGIS project beside it.\n\n"
         "JOB.xlsx is a workbook for a crew that has a tape and no map: fittings in order with the "
         "lengths between them, and stops by their distance from a fitting. Lines are computed "
         "along the pipe, and not placed on the ground.\n\n"
         "SHEETS.pdf are sheets to print, for a crew without a screen: fittings, walks, air test, "
         "meter test, dig and repair. --from reads what is typed from fittings, walks and air "
         "tests alone, under the printed headers. A meter test is typed into the layer "
         "meter_tests of the job; a dig and its repair are given to leakgeo close.",
    examples=("template job.gpkg --crs EPSG:2289", "template monday --project --crs EPSG:2289",
              "template job.xlsx --sheet",
              "template sheets.pdf --units us",
              "template job.gpkg --from stops.csv --units us"),
)  # fmt: skip

"""The command ``add``: add one stop to the job, from the terminal or a script."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
from rich_click import RichOption

from leakgeo.cli.document import Outcome
from leakgeo.cli.help import HelpCommand
from leakgeo.cli.options import BEGIN, FILE, TimeType, option_of
from leakgeo.options import LANGUAGE, UNITS
from leakgeo.runner.exit_codes import DONE, SOME_REJECTED
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.cli.console import Console
    from leakgeo.deliver.add_stop import AddedStop

_PLACE, _HEARD, _WALK = "Where", "How it was heard", "The walk"
_KEYS = ("reading_id", "line_id", "walk_id", "seq", "time", "sound_level", "sound_unit", "gain_db",
         "sensor", "band", "surface", "tape", "chainage_from", "chainage_toward", "air", "air_kpa",
         "tap_open", "set_aside")  # fmt: skip


def _add(
    console: Console, job: Path, line: str, level: str, units: str | None, language: str,
    **given: Any,
) -> Outcome:  # fmt: skip
    from leakgeo.deliver.add_stop import add_stop

    set_locale(units or "si", language)
    added = add_stop(job, line, _number(level), units=units, language=language, **given)
    set_locale(added.units, language)
    console.print_faults(added.faults, most=None)
    console.print_always(active_wording().text(added.message))
    code = DONE if added.used or given["set_aside"] else SOME_REJECTED
    return Outcome(code, content=_content(added, language), faults=added.faults)


def _number(text: str) -> float:
    """Return a number, which may have a decimal comma and a sign."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise click.BadParameter(f"{text!r} is not a number.", param_hint="LEVEL") from None


def _content(added: AddedStop, language: str) -> dict[str, object]:
    """Return the content of the JSON document."""
    from leakgeo.deliver.folder.record import plain

    content = plain({
        "stop": {**{name: _value(added.row[name]) for name in _KEYS},
                 "along_m": added.chainage_m, "used": added.used},
        "line_length_m": added.length_m, "taken": dict(added.taken),
        "message": active_wording().text(added.message),
        "units": added.units, "language": language,
    })  # fmt: skip
    assert isinstance(content, dict)
    return content


def _value(value: Any) -> object:
    return value.isoformat() if hasattr(value, "isoformat") and value == value else value  # noqa: PLR0124


# Options whose name is not that of the parameter.
_NAMES = {"tap": "tap_open", "gain": "gain_db", "walk": "walk_id"}


def _option(name: str, panel: str, text: str, **more: Any) -> RichOption:
    known = _NAMES.get(name, name.replace("-", "_"))
    return RichOption([f"--{name}", known], panel=panel, help=text, **more)


def _code(name: str, panel: str, text: str, codes: tuple[str, ...]) -> RichOption:
    return _option(name, panel, text, type=click.Choice(codes))


ADD = HelpCommand(
    "add", panel=BEGIN, callback=click.pass_obj(_add), signed_arguments=True,
    params=[
        click.Argument(["job"], type=FILE, metavar="JOB.gpkg"),
        click.Argument(["line"], type=str, metavar="LINE"),
        click.Argument(["level"], type=str, metavar="LEVEL"),
        _option("at", _PLACE, "Place by tape: a length along the line such as 38' 6\" or 11.7 m, "
                "or one from a fitting toward another.", metavar="PLACE"),
        _option("tape-unit", _PLACE, "Unit of a length in --at that has none.",
                type=click.Choice(("m", "ft"))),
        _option("xy", _PLACE, "Position; longitude first.", nargs=2, type=float, metavar="X Y"),
        _option("crs", _PLACE, "CRS of --xy, such as EPSG:4326; by default that of the routes.",
                metavar="CRS"),
        _code("unit", _HEARD, "Unit of LEVEL.", ("db", "scale")),
        _code("surface", _HEARD, "Ground under the sensor.",
              ("concrete", "asphalt", "tile", "paver", "gravel", "soil", "grass", "carpet",
               "unknown")),
        _code("air", _HEARD, "Whether air was injected into the line.", ("off", "on")),
        _option("air-kpa", _HEARD, "Pressure of the air [kPa]", type=float, metavar="NUMBER"),
        _option("tap", _HEARD, "Fitting that was open to a trickle, by its contact_id.",
                metavar="ID"),
        _code("sensor", _WALK, "Kind of sensor.",
              ("contact_probe", "magnet", "ground_plate", "ground_spike")),
        _option("gain", _WALK, "Gain of the sensor [dB]", type=float, metavar="NUMBER"),
        _code("band", _WALK, "Filter band, if not the wide one.", ("low", "high")),
        _option("walk", _WALK, "Walk that the stop belongs to; by default that of the stop before, "
                "for four hours.", metavar="ID"),
        _option("time", _WALK, "When, in ISO 8601; without a zone, that of this machine. By "
                "default now.", type=TimeType(), metavar="TIME"),
        _option("set-aside", _WALK, "Keep the stop, and do not use it.", is_flag=True),
        option_of(UNITS, "Options"), option_of(LANGUAGE, "Options"),
    ],
    short_help="Add one stop to the job.",
    help="Add one stop on LINE with its LEVEL to JOB.gpkg, from the terminal or a script.\n\n"
         "It adds a row to readings; nothing else of the job changes, and your GIS may have it "
         "open. What is not given is taken from the stop before it on the line, and said: unit, "
         "sensor, gain, band, surface, walk, and the fittings of the tape where --at names none. "
         "Nothing is written where anything is wrong.",
    examples=(
        "add job.gpkg M-1 41 --at \"21' 5\\\" from CS-12 toward M-3\" --unit db --surface grass",
        "add job.gpkg M-1 44 --at \"24' 6\\\"\"",
        "add job.gpkg M-1 39 --xy -87.30012 43.20018 --crs EPSG:4326",
    ),
)  # fmt: skip

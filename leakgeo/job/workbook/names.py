"""Names and headers of the sheets, in the words of a crew, and the layers and columns they mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from leakgeo.job.schema import load_schema
from leakgeo.job.typed.headers import FITTINGS, STOPS, column_of
from leakgeo.wording import languages, wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

# Ends the header of a column that every row must fill in.
REQUIRED_SIGN = "*"
LONGITUDE, LATITUDE = "Longitude", "Latitude"


@dataclass(frozen=True)
class Sheet:
    """A sheet of the workbook, or a file of a folder, that is a layer of the job.

    Parameters
    ----------
    title : str
        Name of the sheet.
    layer : str
        Layer of the data contract.
    about : str
        What to enter, in a sentence.
    columns : tuple of str
        Columns of the layer that the empty sheet has, in order.
    required : tuple of str
        Those that are marked as required.
    down : tuple of str
        Columns whose value holds for the rows below until another is given, on the same line.
    """

    title: str
    layer: str
    about: str
    columns: tuple[str, ...]
    required: tuple[str, ...]
    down: tuple[str, ...]


SHEETS = (
    Sheet(
        "Lines", "routes", "One row for each line.",
        ("line_id", "address", "work_order", "material", "diameter_mm", "depth_m", "pressure_kpa",
         "installed_year"),
        ("line_id",), (),
    ),
    Sheet(
        "Fittings", "contacts",
        "The fittings of each line in order along the pipe, from its start to its end, with the "
        "length taped along the pipe from the fitting before. The level only where you listened.",
        ("line_id", "contact_id", "kind", "tape_from_previous", "tape_unit", "side", "sound_level",
         "sound_unit", "time"),
        ("line_id", "contact_id", "tape_from_previous"), ("line_id", "tape_unit"),
    ),
    Sheet(
        "Stops", "readings",
        "Every stop of the sensor on the ground, with its distance taped from a fitting.",
        ("line_id", "reading_id", "chainage_from", "chainage_toward", "tape", "tape_unit",
         "sound_level", "sound_unit", "walk_id", "sensor", "surface", "air", "tap_open", "time"),
        ("line_id", "tape", "sound_level", "sound_unit"),
        ("line_id", "tape_unit", "sound_unit", "walk_id", "chainage_from", "chainage_toward"),
    ),
    Sheet(
        "Meter tests", "meter_tests",
        "The register at the start and the end of a time without use.",
        ("line_id", "contact_id", "start_reading", "start_time", "end_reading", "end_time",
         "volume_unit", "water_used", "house_valve"),
        ("line_id", "start_reading", "start_time", "end_reading", "end_time", "volume_unit"), (),
    ),
    Sheet(
        "Digs", "dig_outcomes", "Holes that were dug, with the stretch of pipe that was seen.",
        ("line_id", "found", "exposed_from_m", "exposed_to_m", "repaired", "time", "note"),
        ("line_id", "found", "exposed_from_m", "exposed_to_m"), (),
    ),
)  # fmt: skip
# Headers that say more than the label of a form: a plain number has the unit that they name.
_HEADERS = {
    "diameter_mm": "Diameter (mm, or write 1 in)", "depth_m": "Depth (m, or write 3' 2\")",
    "pressure_kpa": "Pressure (kPa, or write 60 psi)",
    "exposed_from_m": "Pipe seen from (m, or write 21' 5\")",
    "exposed_to_m": "Pipe seen to (m, or write 21' 5\")",
    "contact_id": "Fitting",
}  # fmt: skip
# Columns of the contract that take what the paper sheets call otherwise.
_NAMES_ON_PAPER = {"stop": "reading_id", "walk": "walk_id"}
# Label of the meter that was read; other sheets have the fitting in this column.
_OF_LAYER = {("meter_tests", "contact_id"): "Meter"}


def header(sheet: Sheet, column: str) -> str:
    """Return the header of a column in the empty sheet.

    Examples
    --------
    >>> header(SHEETS[2], "tape"), header(SHEETS[0], "address")
    ('Tape *', 'Address')
    """
    plain = load_schema(sheet.layer).field(column).title
    words = _OF_LAYER.get((sheet.layer, column)) or _HEADERS.get(column, plain)
    return f"{words} {REQUIRED_SIGN}" if column in sheet.required else words


def columns_of_headers(names: Iterable[str], layer: str) -> dict[str, str]:
    """Return the column of the contract that each header means, of those that mean one.

    Case, spaces, the sign of required columns and what stands in brackets make no difference.
    Headers of the paper sheets are known in every language; those of the workbook go before.

    Examples
    --------
    >>> columns_of_headers(["line *", "Tape", "TAPE_UNIT", "Depth (m, or write 3')"], "readings")
    {'line *': 'line_id', 'Tape': 'tape', 'TAPE_UNIT': 'tape_unit'}
    >>> columns_of_headers(["Línea", "Cinta", "Nivel", "punto"], "readings")
    {'Línea': 'line_id', 'Cinta': 'tape', 'Nivel': 'sound_level', 'punto': 'reading_id'}
    """
    names = list(names)
    own = {_plain(text): f.name for f in load_schema(layer).fields for text in (f.name, f.title)}
    found: dict[str, str] = {}
    for name in names:
        _take(found, name, own.get(_plain(name)))
    printed = {_plain(text): column for text, column in _printed(layer)}
    for name in names:
        _take(found, name, printed.get(_plain(name)) or _on_paper(name, layer))
    return {name: found[name] for name in names if name in found}


def _take(found: dict[str, str], name: str, column: str | None) -> None:
    """Let a header mean a column that no other header means."""
    if column is not None and name not in found and column not in found.values():
        found[name] = column


def _printed(layer: str) -> Iterator[tuple[str, str]]:
    """Yield the headers of a layer in the catalogues, and the column that each means."""
    for each in (wording(language=one) for one in languages()):
        for field in load_schema(layer).fields:
            for prefix in (f"header_{layer}", "header"):
                if each.knows(f"{prefix}_{field.name}"):
                    yield each.term(field.name, prefix), field.name


def _on_paper(header: str, layer: str) -> str | None:
    """Return the column of a header of the paper sheets; None if it means none of the layer."""
    kind = next((kind for kind in (STOPS, FITTINGS) if kind.layer == layer), None)
    column = None if kind is None else column_of(header.replace(REQUIRED_SIGN, " "), kind)
    column = _NAMES_ON_PAPER.get(column or "", column)
    return column if column in load_schema(layer).columns else None


def sheet_named(name: str) -> Sheet | None:
    """Return the sheet of a name, in any case, with any separators, and in every language.

    Examples
    --------
    >>> sheet_named("METER_TESTS").layer, sheet_named("Líneas").layer, sheet_named("How to")
    ('meter_tests', 'routes', None)
    """
    for sheet in SHEETS:
        titles = [wording(language=one).term(sheet.layer, "title") for one in languages()]
        if _plain(name) in {_plain(text) for text in (sheet.title, *titles)}:
            return sheet
    return None


def _plain(text: str) -> str:
    words = text.partition("(")[0].replace(REQUIRED_SIGN, " ").replace("_", " ").replace("-", " ")
    return " ".join(words.casefold().split())

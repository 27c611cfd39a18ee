"""A workbook as a crew fills it in: two simulated lines, typed by hand."""

import openpyxl

from leakgeo.job.workbook import write_workbook
from leakgeo.job.workbook.names import SHEETS, header

# Levels by distance in feet from the start, with a leak near 40 feet.
LEVELS = {4: 12, 9.5: 13, 16: 15, 22: 18, 28: 22, 33: 26, 36: 29, 38.5: 31.5, 41: 31, 43: 29.5,
          46: 27, 50: 24, 55: 20, 61: 17, 66: 14, 71: 12.5}  # fmt: skip


def filled(path, *, rows=None):
    """Fill in a fresh workbook; `rows` has the rows of sheets that differ, by title."""
    book = openpyxl.load_workbook(write_workbook(path))
    for sheet in SHEETS:
        columns = {header(sheet, name): k for k, name in enumerate(sheet.columns, start=1)}
        columns |= {"Longitude": len(columns) + 1, "Latitude": len(columns) + 2}
        wanted = {**ROWS, **(rows or {})}.get(sheet.title, [])
        for at, row in enumerate(wanted, start=2):
            for name, value in row.items():
                column = columns[header(sheet, name) if name in sheet.columns else name]
                book[sheet.title].cell(at, column, value)
    book.save(path)
    return path


def _stops(line):
    first = {"line_id": line, "chainage_from": "cs-1 ", "sound_unit": "db", "walk_id": "W1"}
    out = []
    for k, (feet, level) in enumerate(LEVELS.items(), start=1):
        written = (
            f"{int(feet)}' {round(feet % 1 * 12)}\u201d"
            if k % 3
            else f"{int(feet)}'{round(feet % 1 * 12)}"
        )
        out.append(
            {"reading_id": k, "tape": written, "sound_level": level, **(first if k == 1 else {})}
        )
    return out


ROWS = {
    "Lines": [
        {"line_id": "SIM-7", "address": "7 Invented Lane", "material": "copper",
         "diameter_mm": "1 in", "depth_m": "3' 2\"", "pressure_kpa": "60 psi"},
        {"line_id": "SIM-9", "address": "=1+1", "material": "copper"},
    ],
    "Fittings": [
        {"line_id": "SIM-7", "contact_id": "CS-1", "kind": "curb_stop"},
        {"contact_id": "M-3", "kind": "meter", "tape_from_previous": "52\u2019 6\u201d"},
        {"contact_id": "HB-1", "kind": "hose_bib", "tape_from_previous": "22.5",
         "tape_unit": "Feet",
         "sound_level": 15, "sound_unit": "db"},
        {"line_id": "SIM-9", "contact_id": "CS-1", "kind": "curb_stop"},
        {"contact_id": "M-1", "kind": "meter", "tape_from_previous": "75'"},
    ],
    "Stops": [*_stops("SIM-7"), *_stops("sim-9")],
    "Meter tests": [
        {"line_id": "SIM-7", "contact_id": "m-3", "start_reading": 1204.3, "end_reading": 1211.8,
         "start_time": "2026-05-03T06:10-04:00", "end_time": "2026-05-03T06:40-04:00",
         "volume_unit": "gal", "water_used": "no", "house_valve": "shut"},
    ],
}  # fmt: skip

"""What the empty workbook says: how to fill it in, what to enter, and a worked example."""

from __future__ import annotations

HOW_TO = tuple(
    " ".join(paragraph.split())
    for paragraph in """
How to fill in this workbook

It is for a crew with a tape and a sensor, and no map. Leakgeo works along the pipe: it finds the
likeliest place, and gives it as a taped distance from a fitting.

1. Lines: one row for each line. Only its name is required.

2. Fittings: the fittings of each line in order, from its start to its end. Tape along the pipe from
each fitting to the next, and write the length at the fitting that the tape ran to. The first
fitting of a line has none. The list must begin and end where the line does.

3. Stops: every stop of the sensor. Write the fitting that the tape began at, the fitting that it
ran toward, and the distance. The word start means the start of the line.

4. Meter tests and Digs: as far as you have them.

Lengths: 38' 6", 38.5 ft or 11.7 m. A plain number needs its unit in the next column.

Orange headers are required. A line, a unit, a walk or a fitting to tape from or toward that you
leave empty is taken as the one above, on the same line.

Times need a zone, as in 2026-05-03T06:10-04:00; without one they are taken as UTC.

Longitude and Latitude of two fittings of a line, from a telephone, place a straight line on the
ground. Without them, and without a drawn route, no map is made and every dig is on hold.

The sheet Example shows an invented street; it is never read. Do not rename sheets or headers.

Then: leakgeo check FILE.xlsx, and leakgeo run FILE.xlsx --out FOLDER.

Nothing in the results clears a dig: local law, the one-call centre and licensed people decide.
""".strip().split("\n\n")
)
PROMPTS = {
    "tape_from_previous": "Length along the pipe from the fitting in the row above, such as "
    "21' 5\" or 6.53 m. Empty at the first fitting of a line.",
    "tape": "Distance along the pipe from the fitting in Taped from, such as 38' 6\" or 11.7 m.",
    "chainage_from": "Fitting that the tape began at, as on the sheet Fittings; start means the "
    "start of the line; empty means as above.",
    "chainage_toward": "Fitting that the tape ran toward; empty means as above, and at the top "
    "toward the end of the line.",
    "sound_level": "What the sensor showed; leave it empty where you did not listen.",
}
EXAMPLE_TITLE = "Example"
EXAMPLE: dict[str, tuple[tuple[str, ...], tuple[tuple[object, ...], ...]]] = {
    "Lines": (
        ("line_id", "address", "material", "diameter_mm", "depth_m", "pressure_kpa"),
        (("SIM-1", "1 Invented Lane", "copper", "1 in", "3' 2\"", "60 psi"),),
    ),
    "Fittings": (
        ("line_id", "contact_id", "kind", "tape_from_previous", "sound_level", "sound_unit"),
        (
            ("SIM-1", "CS-1", "curb_stop", None, 24, "db"),
            (None, "M-1", "meter", "31' 6\"", None, None),
            (None, "HB-1", "hose_bib", "18' 2\"", 15, "db"),
        ),
    ),
    "Stops": (
        ("line_id", "reading_id", "chainage_from", "chainage_toward", "tape", "sound_level",
         "sound_unit", "walk_id", "surface"),
        (
            ("SIM-1", "1", "CS-1", "M-1", "3'", 18, "db", "W1", "grass"),
            (None, "2", None, None, "9' 6\"", 22, None, None, "grass"),
            (None, "3", None, None, "16'", 27, None, None, "concrete"),
        ),
    ),
    "Meter tests": (
        ("line_id", "contact_id", "start_reading", "start_time", "end_reading", "end_time",
         "volume_unit", "water_used", "house_valve"),
        (
            ("SIM-1", "M-1", 1204.3, "2026-05-03T06:10-04:00", 1211.8, "2026-05-03T06:40-04:00",
             "gal", "no", "shut"),
        ),
    ),
    "Digs": (
        ("line_id", "found", "exposed_from_m", "exposed_to_m", "note"),
        (("SIM-1", "dry", "15'", "18' 6\"", "simulated"),),
    ),
}  # fmt: skip

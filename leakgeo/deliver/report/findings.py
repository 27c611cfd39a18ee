"""Further facts of a line: meter, air, prior assumptions, ways to improve."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver import sentences
from leakgeo.deliver.tables import number, text
from leakgeo.wording.quantities import loss_text, tape_text

if TYPE_CHECKING:
    from leakgeo.deliver.view import LineView, Row
    from leakgeo.result import Result

IMPROVEMENTS = 2  # of a line, the most helpful; result.gpkg has all
_AIR_AT = {"mark": "Air test at the mark", "control": "Air test at the control"}


def told(view: LineView, units: str) -> list[tuple[str, str]]:
    """Give what is known of a line beyond the sound, as label and text.

    Parameters
    ----------
    view : LineView
    units : {"si", "us"}

    Returns
    -------
    list of (str, str)
    """
    rows = [("Meter", _meter(row)) for row in view.rows("meter_results")]
    rows += [_air(row, units) for row in view.rows("air_tests")]
    rows += [("Before listening", prior(view)), ("Calibration", calibration(view))]
    rows += [("Ways to improve", said) for said in sentences.ways_to_improve(view)[:IMPROVEMENTS]]
    return [(label, said) for label, said in rows if said]


def _meter(row: Row) -> str:
    """Say what the meter shows, its hole, and what the loss costs where a price was given."""
    said = text(row, "message")
    cost = number(row, "cost_per_year")
    if not cost:
        return said
    return f"{said} At this rate it costs {cost:,.0f} {text(row, 'currency')}".strip() + " a year."


def _air(row: Row, units: str) -> tuple[str, str]:
    """Give where the air test was, and what it says: a line may have several."""
    at = tape_text(number(row, "chainage_m"), units)
    return f"{_AIR_AT.get(text(row, 'role'), 'Air test')}, {at}", text(row, "message")


def prior(view: LineView) -> str:
    """Say what made some places likelier before anyone listened; ``""`` where nothing did."""
    said = text(view.row, "prior")
    return f"Some places were likelier from the start, by {said}." if said else ""


def calibration(view: LineView) -> str:
    """Say what a calibration by digs did to the odds; ``""`` without one."""
    power = number(view.row, "calibration_exponent")
    if power is None:
        return ""
    way = "narrowed" if power > 1 else "widened"
    return f"Zones and odds were {way} by what earlier digs found (power {power:.2f})."


def batch_loss(result: Result, units: str) -> str:
    """Sum up what meters show over all lines; ``""`` where there were no tests.

    Parameters
    ----------
    result : Result
    units : {"si", "us"}
    """
    tests = result.layers.get("meter_results")
    if tests is None or tests.empty:
        return ""
    shown = tests.loc[tests["verdict"] == "loss_shown"]
    total = loss_text(shown["loss_l_per_day"].sum(), units)
    said = f"Meters of {len(tests)} lines were tested: {len(shown)} show a loss"
    said += f", together {total}" if len(shown) else ""
    money = list(shown["currency"].dropna().unique()) if "currency" in shown else []
    if len(money) == 1 and shown["cost_per_year"].notna().any():
        said += f", {shown['cost_per_year'].sum():,.0f} {money[0]}".rstrip() + " a year"
    return f"{said}."


def batch_calibration(result: Result) -> str:
    """Say whether odds were moved by digs: on the cover, whatever they did."""
    lines = result.layers.get("lines")
    if lines is None or "calibration_exponent" not in lines:
        return ""
    powers = lines["calibration_exponent"].dropna()
    if powers.empty:
        return "No calibration by digs was given: the odds are the model's own."
    return (f"A calibration by earlier digs is in the odds of {len(powers)} lines "
            f"(power {powers.iloc[0]:.2f}).")  # fmt: skip

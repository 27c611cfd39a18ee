"""Facts about a line besides sound: meter, air tests, prior, calibration, improvements."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.rows import number, text
from leakgeo.find.ground.mixing import PRIOR_LINES
from leakgeo.wording.quantities import loss_text, tape_text

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView, Row
    from leakgeo.result import Result

MAX_IMPROVEMENTS = 2  # of a line, most helpful first; result.gpkg has all
_AIR_AT = {"mark": "Air test at the mark", "control": "Air test at the control"}


def further_facts(view: LineView, units: str) -> list[tuple[str, str]]:
    """Return facts about a line besides sound as (label, text) pairs.

    Parameters
    ----------
    view : LineView
    units : {"si", "us"}
        Units of the texts.

    Returns
    -------
    list of (str, str)
    """
    rows = [("Meter", _meter(row)) for row in view.rows("meter_results")]
    rows += [_air(row, units) for row in view.rows("air_tests")]
    rows += [("Evidence", message) for message in sentences.evidence(view)]
    rows += [("Before listening", prior(view)), ("Calibration", calibration(view))]
    rows += [("Ways to improve", way) for way in sentences.improvements(view)[:MAX_IMPROVEMENTS]]
    return [(label, value) for label, value in rows if value]


def _meter(row: Row) -> str:
    """Return the message of a meter test, and the cost of the loss if a price was given."""
    message = text(row, "message")
    cost = number(row, "cost_per_year")
    if not cost:
        return message
    return (
        f"{message} At this rate it costs {cost:,.0f} {text(row, 'currency')}".strip() + " a year."
    )


def _air(row: Row, units: str) -> tuple[str, str]:
    """Return place and message of an air test; a line may have several."""
    at = tape_text(number(row, "chainage_m"), units)
    return f"{_AIR_AT.get(text(row, 'role'), 'Air test')}, {at}", text(row, "message")


def prior(view: LineView) -> str:
    """Return what the prior of the place used; ``""`` if it was uniform."""
    used = text(view.row, "prior")
    return f"Some places were likelier from the start, by {used}." if used else ""


def calibration(view: LineView) -> str:
    """Return the effect of a calibration on zones and odds; ``""`` without a calibration."""
    power = number(view.row, "calibration_exponent")
    if power is None:
        return ""
    way = "narrowed" if power > 1 else "widened"
    return f"Zones and odds were {way} by what earlier digs found (power {power:.2f})."


def batch_loss(result: Result, units: str) -> str:
    """Return the total of the meter tests of all lines; ``""`` without tests.

    Parameters
    ----------
    result : Result
    units : {"si", "us"}
        Units of the loss.
    """
    tests = result.layers.get("meter_results")
    if tests is None or tests.empty:
        return ""
    shown = tests.loc[tests["verdict"] == "loss_shown"]
    total = loss_text(shown["loss_l_per_day"].sum(), units)
    total_text = f"Meters of {len(tests)} lines were tested: {len(shown)} show a loss"
    total_text += f", together {total}" if len(shown) else ""
    money = list(shown["currency"].dropna().unique()) if "currency" in shown else []
    if len(money) == 1 and shown["cost_per_year"].notna().any():
        total_text += f", {shown['cost_per_year'].sum():,.0f} {money[0]}".rstrip() + " a year"
    return f"{total_text}."


def batch_calibration(result: Result) -> str:
    """Return whether a calibration was used, with its exponent; ``""`` if that is not recorded."""
    lines = result.layers.get("lines")
    if lines is None or "calibration_exponent" not in lines:
        return ""
    powers = lines["calibration_exponent"].dropna()
    if powers.empty:
        return "No calibration by digs was given: the odds are the model's own."
    return (f"A calibration by earlier digs is in the odds of {len(powers)} lines "
            f"(power {powers.iloc[0]:.2f}).")  # fmt: skip


def batch_ground(result: Result) -> str:
    """Return on what the scatter of the readings rests; ``""`` if that is not recorded."""
    law = result.layers.get("noise_law")
    if law is None:
        return ""
    lines = int(law["lines"].iloc[0])
    if result.parameters.get("ground", {}).get("ground") is not None:
        return "How much readings scatter on this ground is taken from an earlier job."
    if lines < PRIOR_LINES:
        return (f"How much readings scatter on this ground is assumed: {lines} lines teach little "
                f"of it, and {PRIOR_LINES:.0f} would begin to.")  # fmt: skip
    return f"How much readings scatter on this ground was learned from {lines} lines of this job."

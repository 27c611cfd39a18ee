"""Facts about a line besides sound: meter, air tests, prior, calibration, improvements."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.rows import number, text
from leakgeo.find.ground.mixing import PRIOR_LINES
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.deliver.views.line_view import LineView, Row
    from leakgeo.result import Result
    from leakgeo.wording import Wording

MAX_IMPROVEMENTS = 2  # of a line, most helpful first; result.gpkg has all
_AIR_AT = {"mark": "fact_air_mark", "control": "fact_air_control"}


def further_facts(view: LineView) -> list[tuple[str, str]]:
    """Return facts about a line besides sound as (label, text) pairs.

    Parameters
    ----------
    view : LineView

    Returns
    -------
    list of (str, str)
    """
    words, say = view.wording, view.wording.term
    rows = [(say("fact_meter"), _meter(row, words)) for row in view.rows("meter_results")]
    rows += [_air(row, words) for row in view.rows("air_tests")]
    rows += [(say("fact_evidence"), message) for message in sentences.evidence(view)]
    rows += [(say("fact_before"), prior(view)), (say("fact_calibration"), calibration(view))]
    improve = say("fact_improve")
    rows += [(improve, way) for way in sentences.improvements(view)[:MAX_IMPROVEMENTS]]
    return [(label, value) for label, value in rows if value]


def _meter(row: Row, words: Wording) -> str:
    """Return the message of a meter test, and the cost of the loss if a price was given."""
    message = text(row, "message")
    cost = number(row, "cost_per_year")
    if not cost:
        return message
    currency = text(row, "currency")
    return words.text(Reason("fact_cost", message=message, cost=cost, currency=currency))


def _air(row: Row, words: Wording) -> tuple[str, str]:
    """Return place and message of an air test; a line may have several."""
    at = words.quantities.length(number(row, "chainage_m"))
    where = words.term(_AIR_AT.get(text(row, "role"), "fact_air"))
    return f"{where}, {at}", text(row, "message")


def prior(view: LineView) -> str:
    """Return what the prior of the place used; ``""`` if it was uniform."""
    used = text(view.row, "prior")
    return view.wording.text(Reason("fact_prior", prior=used)) if used else ""


def calibration(view: LineView) -> str:
    """Return the effect of a calibration on zones and odds; ``""`` without a calibration."""
    power = number(view.row, "calibration_exponent")
    if power is None:
        return ""
    way = "narrowed" if power > 1 else "widened"
    return view.wording.text(Reason("fact_power", way=way, power=power))


def batch_loss(result: Result, words: Wording) -> str:
    """Return the total of the meter tests of all lines; ``""`` without tests.

    Parameters
    ----------
    result : Result
    words : Wording
    """
    tests = result.layers.get("meter_results")
    if tests is None or tests.empty:
        return ""
    shown = tests.loc[tests["verdict"] == "loss_shown"]
    money = list(shown["currency"].dropna().unique()) if "currency" in shown else []
    priced = len(money) == 1 and bool(shown["cost_per_year"].notna().any())
    return words.text(Reason(
        "report_meters_tested", lines=len(tests), shown=len(shown),
        loss=float(shown["loss_l_per_day"].sum()), priced=priced,
        cost=float(shown["cost_per_year"].sum()) if priced else 0.0,
        currency=f" {money[0]}".rstrip() if priced else "",
    ))  # fmt: skip


def batch_calibration(result: Result, words: Wording) -> str:
    """Return whether a calibration was used, with its exponent; ``""`` if that is not recorded."""
    lines = result.layers.get("lines")
    if lines is None or "calibration_exponent" not in lines:
        return ""
    powers = lines["calibration_exponent"].dropna()
    if powers.empty:
        return words.term("report_not_calibrated")
    power = float(powers.iloc[0])
    return words.text(Reason("report_calibrated", lines=len(powers), power=power))


def batch_ground(result: Result, words: Wording) -> str:
    """Return on what the scatter of the readings rests; ``""`` if that is not recorded."""
    law = result.layers.get("noise_law")
    if law is None:
        return ""
    lines = int(law["lines"].iloc[0])
    if result.parameters.get("ground", {}).get("ground") is not None:
        return words.term("report_ground_given")
    if lines < PRIOR_LINES:
        return words.text(Reason("report_ground_assumed", lines=lines, enough=int(PRIOR_LINES)))
    return words.text(Reason("report_ground_learned", lines=lines))

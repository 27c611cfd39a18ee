"""Actions that can be taken on a line: what each may show, its minutes, and its message."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.find.advise import outcomes
from leakgeo.find.advise.information import expected_gain_bits, yes_or_no
from leakgeo.find.advise.valve_tests import valve_cautions
from leakgeo.find.evidence.action_results import customer_end
from leakgeo.find.evidence.air_cautions import before_air
from leakgeo.find.evidence.isolation_results import load_isolation_weights
from leakgeo.find.locate.layers import rival_place
from leakgeo.find.loss.meter_tests import least_shown
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from leakgeo.find.advise.action_costs import Action, ActionCosts
    from leakgeo.find.advise.explanations import Explanations
    from leakgeo.find.advise.information import Outcomes
    from leakgeo.find.advise.valve_tests import Closure
    from leakgeo.find.evidence.flow import Contacts
    from leakgeo.find.evidence.meter import MeterPlace, Valve
    from leakgeo.find.loss.meter_tests import Loss
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

# A sweep so near an end of a line does not tell what lies beyond it.
_END_M = 1.0
# A rival that is less probable is not worth an action of its own.
_LEAST_RIVAL = 0.03


@dataclass(frozen=True, eq=False)
class Candidate:
    """An action that can be taken on a line.

    Parameters
    ----------
    action : str
        Code of the data contract.
    minutes : float
    message : Reason
        What to do.
    gain_bits : float
        Expected information gain; NaN where it is not computed.
    outcomes : Outcomes or None
        What it may show; None where the gain alone is known.
    chainage_m : float
        NaN where it has no place.
    contact_id : str or None
    valves : tuple of str
        Valves to close.
    basis : {"model", "assumed", "common_practice", "rule"}
    first : bool
        Whether it goes before all others, whatever it gains.
    kept : bool
        Whether it is proposed however little it gains.
    done_at : str
        Place by which its result is recorded, as in `ActionResult`.
    """

    action: str
    minutes: float
    message: Reason
    gain_bits: float = np.nan
    outcomes: Outcomes | None = None
    chainage_m: float = np.nan
    contact_id: str | None = None
    valves: tuple[str, ...] = ()
    basis: str = "assumed"
    first: bool = False
    kept: bool = False
    done_at: str = ""


class Improved(NamedTuple):
    """A way to hear better.

    Parameters
    ----------
    before_m, after_m : float
        Expected error of the place (1-sigma).
    fitting : Reason or None
        Fitting that it is at.
    """

    before_m: float
    after_m: float
    fitting: Reason | None


@dataclass(frozen=True, eq=False)
class LineFacts:
    """What is known of a line when actions on it are compared.

    Parameters
    ----------
    name : str
        Its ``line_id``.
    line : int
        Index of the line in `lines`.
    lines : Lines
    explained : Explanations
    likeliest_m : float
        Likeliest place of a leak on the line.
    place : Reason
        That place as a crew tapes it.
    excess_db : float
        Level of the leak there above the floor.
    spreading : Spreading
    contacts : Contacts
    meters : sequence of (str, MeterPlace, mapping of str to Loss)
        ``contact_id`` (``""`` where not known) and place of each meter, and its results.
    heard : frozenset of str
        Kinds of evidence that there are, and ``night`` and ``probe`` where readings were taken so.
    improvements : mapping of str to Improved
        Ways to hear better that are expected to help.
    closures : sequence of Closure
        Isolation tests that may be made.
    done : frozenset of (str, str)
        Actions whose result is recorded, with their place as in `ActionResult`.
    beside : str
        ``contact_id`` of the fitting beside the mark that may sound by itself; ``""`` for none.
    sounds : bool
        Whether something was heard: a leak, or what explains the readings otherwise.
    """

    name: str
    line: int
    lines: Lines
    explained: Explanations
    likeliest_m: float
    place: Reason
    excess_db: float
    spreading: Spreading
    contacts: Contacts
    meters: Sequence[tuple[str, MeterPlace, Mapping[Valve, Loss]]] = ()
    heard: frozenset[str] = frozenset()
    improvements: Mapping[str, Improved] = field(default_factory=dict)
    closures: Sequence[Closure] = ()
    done: frozenset[tuple[str, str]] = frozenset()
    beside: str = ""
    sounds: bool = True

    def gain(self, of: Outcomes) -> float:
        """Return the expected information gain of an action, in bits."""
        return expected_gain_bits(self.explained.weights(), of)

    @cached_property
    def customer_end(self) -> str | None:
        """Return the customer's end of the route as a kind of rival; None if not known."""
        return customer_end(self.contacts, self.lines, self.line)


def candidates(
    facts: LineFacts, costs: ActionCosts, constants: Constants, *, listen_minutes: float = 0.0
) -> list[Candidate]:
    """Return the actions other than stops that can be taken on a line.

    Parameters
    ----------
    facts : LineFacts
    costs : ActionCosts
    constants : Constants
    listen_minutes : float
        Time that the proposed stops take, in which a meter can be waited for.

    Returns
    -------
    list of Candidate
        In no order, whatever they gain.
    """
    return [
        *_at_rivals(facts, costs), *_sweep(facts, costs), *_meter(facts, costs, listen_minutes),
        *_air(facts, costs, constants), *_improved(facts, costs), *_closures(facts, costs),
    ]  # fmt: skip


def _at_rivals(facts: LineFacts, costs: ActionCosts) -> Iterator[Candidate]:
    """Yield the actions that show whether a rival is true."""
    fittings, customer = facts.contacts.on(facts.name), facts.customer_end
    for rival in facts.explained.rivals:
        beside = rival.name != "" and rival.name == facts.beside
        if rival.probability < _LEAST_RIVAL and not beside:
            continue
        if rival.kind == "unknown":
            yield _about(facts, costs, "find_source", rival, Reason("find_other_source"))
            continue
        place = rival_place(rival, fittings)
        if rival.kind == "fitting":
            message = Reason("shut_fitting", valve_cautions(), fitting=place)
            yield replace(_about(facts, costs, "shut_fitting", rival, message), kept=beside)
            continue
        yield _about(facts, costs, "listen_beyond", rival, Reason("listen_beyond", end=place))
        if rival.kind == customer:
            yield _about(facts, costs, "look_inside", rival, Reason("look_inside"))


def _about(
    facts: LineFacts, costs: ActionCosts, action: Action, rival: Rival, message: Reason
) -> Candidate:
    place = {"listen_beyond": rival.kind, "shut_fitting": rival.name}.get(action, "")
    own = facts.contacts.on(facts.name)
    shown = outcomes.looked_for(facts.explained, action, place, own, facts.customer_end)
    return Candidate(
        action, costs.minutes(action), message, facts.gain(shown), shown,
        rival.chainage_m if rival.kind != "unknown" else np.nan, rival.name or None,
        done_at=place,
    )  # fmt: skip


def _sweep(facts: LineFacts, costs: ActionCosts) -> Iterator[Candidate]:
    """Yield a sweep across the likeliest place where something was heard, if there is none yet."""
    at, length = facts.likeliest_m, float(facts.lines.length_m[facts.line])
    inside = _END_M <= at <= length - _END_M
    if "sweep" in facts.heard or not inside or not facts.sounds:
        return
    shown = outcomes.swept(facts.explained, at)
    message = Reason("sweep_across", place=facts.place)
    yield Candidate("sweep", costs.minutes("sweep"), message, facts.gain(shown), shown, at)


def _meter(facts: LineFacts, costs: ActionCosts, listen_minutes: float) -> Iterator[Candidate]:
    """Yield a reading of each meter with the house valve shut, if there is none yet."""
    rates = costs.table["read_meter"]
    wait, least = (
        rates["wait_minutes"],
        least_shown(rates["register_l"], rates["wait_minutes"]),
    )
    for contact, place, results in facts.meters:
        if "shut" in results:
            continue
        shown = outcomes.meter_read(facts.explained, place, results, least)
        twice = "open" not in results
        left = max(wait * (1 + twice) - listen_minutes, 0.0)
        message = Reason("read_meter", wait_min=wait, twice=twice, meanwhile=listen_minutes > 0.0)
        yield Candidate(
            "read_meter", costs.minutes("read_meter") + left, message, facts.gain(shown), shown,
            place.chainage_m, contact or None,
        )  # fmt: skip


def _closures(facts: LineFacts, costs: ActionCosts) -> Iterator[Candidate]:
    """Yield the isolation test that gains the most in its time."""
    most = load_isolation_weights()["most_odds"]
    found = []
    for each in facts.closures:
        yes = each.shows(facts.name, facts.explained)
        shown = yes_or_no(yes, most["against"], most["leak"])
        wait = costs.table["close_valve"]["wait_minutes"]
        message = Reason("close_valve", valve_cautions(), valves=each.valves, at=each.measured_at,
                         measure=each.measure, wait_min=wait)  # fmt: skip
        minutes = costs.minutes("close_valve", valves=len(each.valves)) + wait
        found.append(Candidate(
            "close_valve", minutes, message, facts.gain(shown), shown,
            contact_id=each.measured_at, valves=each.valves,
        ))  # fmt: skip
    if found:
        yield max(found, key=lambda each: (each.gain_bits / each.minutes, each.valves))


def _air(facts: LineFacts, costs: ActionCosts, constants: Constants) -> Iterator[Candidate]:
    """Yield air on and off at the likeliest place of a service, if there was none yet.

    A main can't be isolated from its customers, who would get the air.
    """
    service = facts.customer_end is not None or len(facts.meters) > 0
    if "air" in facts.heard or not np.isfinite(facts.likeliest_m) or not service:
        return
    rates = costs.table["air"]
    shown = outcomes.air_on_and_off(
        facts.explained, facts.likeliest_m, facts.spreading, facts.excess_db, rates["pairs"],
        rates["notice_db"], constants,
    )  # fmt: skip
    cautions = before_air(facts.lines.material[facts.line])
    message = Reason("air_on_and_off", cautions, place=facts.place)
    yield Candidate(
        "air", costs.minutes("air"), message, facts.gain(shown), shown, facts.likeliest_m
    )


# Actions by the improvement that they are, with their code.
_IMPROVED: Mapping[str, Action] = {
    "night": "night", "probe": "probe", "position": "tape", "pressure": "pressure",
    "trickle": "trickle",
}  # fmt: skip


def _improved(facts: LineFacts, costs: ActionCosts) -> Iterator[Candidate]:
    """Yield the ways to hear better, by the error of the place that the model expects."""
    fitted = len(facts.contacts.on(facts.name).kind) > 0
    for name, action in _IMPROVED.items():
        way = facts.improvements.get(name)
        taped = action == "tape"
        if way is None or action in facts.heard or (taped and not (facts.sounds and fitted)):
            continue
        rates = costs.table[action]
        # A bit halves the error of the place, if the leak is on the line.
        bits = float(np.log2(way.before_m / way.after_m))
        message, contact = Reason("next_action", action=name), None
        if way.fitting is not None:
            message = Reason("open_trickle", fitting=way.fitting)
            contact = dict(way.fitting.values)["contact"]
        yield Candidate(
            action, costs.minutes(action, stops=int(rates.get("stops", 0.0))), message,
            facts.explained.leak_probability * bits,
            chainage_m=np.nan if way.fitting else facts.likeliest_m, contact_id=contact,
            basis="common_practice" if action == "trickle" else "model",
        )  # fmt: skip

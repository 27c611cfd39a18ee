"""Results of actions as evidence: a fitting that was shut, running water, sound beyond an end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.arrays import texts
from leakgeo.find.evidence.flow import Contacts
from leakgeo.find.evidence.likelihood import Likelihood
from leakgeo.find.evidence.meter import meter_place
from leakgeo.find.weights import load_weights
from leakgeo.job.checks import ends_listened_beyond
from leakgeo.job.model import without_fault
from leakgeo.reason import Reason, with_next

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from leakgeo.arrays import Floats, Objects
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.find.survey.line_fittings import LineFittings
    from leakgeo.job.model import Job
    from leakgeo.route.lines import Lines

# Actions whose place is a fitting or an end: without it a result shows nothing.
_PLACED = ("listen_beyond", "shut_fitting")
# Fittings of the pipe, through which water flows to what is beyond them.
_IN_LINE = ("meter", "main_valve", "curb_stop", "pressure_reducing_valve", "pump",
            "backflow_preventer", "stop_valve")  # fmt: skip


class ActionResult(NamedTuple):
    """Last result of an action at one place.

    Parameters
    ----------
    action : str
        Code of the data contract.
    place : str
        ``contact_id`` of the fitting that was shut, ``beyond_start``, ``beyond_end``, or ``""``.
    found : bool or None
        None if rows of the same time contradict one another.
    """

    action: str
    place: str
    found: bool | None


@dataclass(frozen=True, eq=False)
class ActionEvidence:
    """Results of actions on one line.

    Parameters
    ----------
    results : tuple of ActionResult
    customer : {"beyond_start", "beyond_end", None}
        The customer's end of the route.
    fittings : LineFittings
        Of the line.
    """

    results: tuple[ActionResult, ...]
    customer: str | None
    fittings: LineFittings

    def likelihood(self, chainage_m: Floats, rivals: Sequence[Rival] = ()) -> Likelihood:
        """Return the likelihood of the results under each explanation of a posterior.

        Parameters
        ----------
        chainage_m : ndarray of float, shape (g,)
            Cells of the posterior.
        rivals : sequence of Rival
            Rivals of the posterior, shape (r,).

        Returns
        -------
        Likelihood
            Of kind ``action``, relative to no leak.

        Notes
        -----
        A result is as probable as `found_of_places` and `found_of_rivals` say, which the expected
        gain of an action uses too.
        """
        places, others = np.zeros(len(chainage_m)), np.zeros(len(rivals))
        for one in self.results:
            at = self.fittings, self.customer
            places += _log_factor(one, found_of_places(one.action, one.place, chainage_m, *at))
            others += _log_factor(one, found_of_rivals(one.action, one.place, rivals, *at))
        most = float(np.log(load_action_rates()["most_odds"]["each"]))
        places, others = np.clip(places, -most, most), np.clip(others, -most, most)
        share = np.array([
            max((concerned(one.action, one.place, rival, self.customer) for rival in rivals),
                default=0.0)
            for one in self.results
        ])  # fmt: skip
        return Likelihood("action", places, 0.0, others, None, self._reason(share))

    def _reason(self, share: Floats) -> Reason:
        """Return what the results mean that concern an explanation of the line."""
        said = [self._message(one, s) for one, s in zip(self.results, share, strict=True) if s]
        return with_next(*said) if said else Reason("action_results_concern_nothing")

    def _message(self, one: ActionResult, share: float) -> Reason:
        rates = load_action_rates()[one.action]
        yes = rates["wrong"] + share * (rates["right"] - rates["wrong"])
        [factor] = np.exp(np.abs(_log_factor(one, np.array([yes]))))
        times, found = float(f"{factor:.2g}"), bool(one.found)
        if one.action == "shut_fitting":
            fitting = self.fittings.named(one.place)
            return Reason("fitting_was_shut", fitting=fitting, found=found, times=times)
        if one.action == "listen_beyond":
            end = Reason("start_of_route" if one.place == "beyond_start" else "end_of_route")
            return Reason("listened_beyond", end=end, found=found, times=times)
        if one.action == "look_inside":
            return Reason("looked_inside", found=found, times=times)
        return Reason("source_looked_for", found=found, times=times)


def concerned(action: str, place: str, rival: Rival, customer: str | None) -> float:
    """Return the probability that an action looks for a rival.

    Parameters
    ----------
    action, place : str
        As in `ActionResult`.
    rival : Rival
    customer : {"beyond_start", "beyond_end", None}
        The customer's end of the route; running water is beyond it. Either end if not known.

    Examples
    --------
    >>> from leakgeo.find.posterior.rivals import Rival
    >>> beyond = Rival("beyond_end", 0.1, 20.0)
    >>> [concerned("look_inside", "", beyond, end) for end in ("beyond_end", "beyond_start", None)]
    [1.0, 0.0, 0.5]
    """
    if action == "look_inside" and customer is None:
        return 0.5 * (rival.kind in ("beyond_start", "beyond_end"))
    wanted = {
        "find_source": ("unknown", ""), "shut_fitting": ("fitting", place),
        "listen_beyond": (place, ""), "look_inside": (customer, ""),
    }.get(action)  # fmt: skip
    return float((rival.kind, rival.name) == wanted)


def _log_factor(one: ActionResult, found: Floats) -> Floats:
    """Return the log Bayes factors of a result against silence, from how often it is found."""
    wrong = load_action_rates()[one.action]["wrong"]
    if not one.found:
        found, wrong = 1.0 - found, 1.0 - wrong
    return np.asarray(np.log(found / wrong))


def found_of_rivals(
    action: str, place: str, rivals: Sequence[Rival], fittings: LineFittings, customer: str | None
) -> Floats:
    """Return the probability that an action finds what it looks for, under each rival, shape (r,).

    Parameters
    ----------
    action, place : str
        As in `ActionResult`.
    rivals : sequence of Rival
    fittings : LineFittings
        Of the line.
    customer : {"beyond_start", "beyond_end", None}
        The customer's end of the route.
    """
    rates = load_action_rates()[action]
    share = np.array([concerned(action, place, rival, customer) for rival in rivals], dtype=float)
    found = rates["wrong"] + share * (rates["right"] - rates["wrong"])
    if action == "shut_fitting":
        beyond = {"beyond_start": -np.inf, "beyond_end": np.inf}
        at = np.array([beyond.get(rival.kind, np.nan) for rival in rivals])
        fed = found_of_places(action, place, at, fittings, customer)
        found = np.where(np.isnan(at), found, fed)
    return np.asarray(found)


def found_of_places(
    action: str, place: str, chainage_m: Floats, fittings: LineFittings, customer: str | None
) -> Floats:
    """Return the probability that an action finds what it looks for, with a leak at each place.

    A leak that is fed through a fitting of the pipe may fall silent with it, as the fitting is shut
    or bypassed. Parameters are those of `found_of_rivals`, with chainages of shape (g,).

    Examples
    --------
    >>> from leakgeo.find.survey.line_fittings import LineFittings
    >>> own = LineFittings(np.array([8.0, 19.0]), np.array(["meter", "hose_bib"], dtype=object),
    ...                    np.array(["M", "H"], dtype=object))
    >>> at = np.array([3.0, 12.0])
    >>> found_of_places("shut_fitting", "M", at, own, "beyond_end").tolist()
    [0.05, 0.5]
    >>> found_of_places("shut_fitting", "H", at, own, "beyond_end").tolist()
    [0.05, 0.05]
    """
    rates = load_action_rates()[action]
    found = np.full(len(chainage_m), rates["wrong"])
    own = np.flatnonzero(fittings.contact_id == place)
    if action != "shut_fitting" or not len(own) or fittings.kind[own[0]] not in _IN_LINE:
        return found
    flow = {"beyond_end": 1.0, "beyond_start": -1.0}.get(customer or "", 0.0)
    away = np.nan_to_num(chainage_m - float(fittings.chainage_m[own[0]]), nan=0.0)
    fed = 0.5 if flow == 0.0 else np.asarray(flow * away > 0.0, dtype=float)
    return np.asarray(found + fed * (rates["fed"] - rates["wrong"]))


def action_evidence(job: Job, lines: Lines, fittings: pd.DataFrame) -> dict[int, ActionEvidence]:
    """Return the evidence of the results of actions, by index of the line.

    Parameters
    ----------
    job : Job
    lines : Lines
    fittings : pandas.DataFrame
        As `leakgeo.find.survey.fittings.fitting_chainages` returns it.

    Returns
    -------
    dict of int to ActionEvidence
        Does not depend on the order of the rows. Lines without a result have no entry.
    """
    done, rates = results_of_actions(job), load_action_rates()
    known = Contacts.of(job, fittings) if done else None
    found: dict[int, ActionEvidence] = {}
    for line, (name, results) in zip(
        lines.index_of(list(done)).tolist(), done.items(), strict=True
    ):
        telling = tuple(one for one in results if one.action in rates and one.found is not None)
        if known is not None and line >= 0 and telling:
            found[line] = ActionEvidence(telling, customer_end(known, lines, line), known.on(name))
    return found


def results_of_actions(job: Job) -> dict[str, tuple[ActionResult, ...]]:
    """Return the last result of each action at each place, by ``line_id``.

    A result of an unknown time is taken as older than the others. Rows that were rejected, and
    those without the place that their action needs, are left out; the checks of the job report
    them.
    """
    table = job.action_results
    if table is None or table.empty:
        return {}
    time = table["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64)  # NaT is the least
    rows = zip(
        texts(table, "line_id"), texts(table, "action"), _places(job, table), time.tolist(),
        texts(table, "result"), table["reason"].isna(), strict=True,
    )  # fmt: skip
    last: dict[str, dict[tuple[str, str], dict[int, set[bool]]]] = {}
    for line, action, place, at, result, good in rows:
        if good and (place or action not in _PLACED):
            by_time = last.setdefault(line, {}).setdefault((action, place), {})
            by_time.setdefault(at, set()).add(result == "found")
    return {
        line: tuple(ActionResult(*key, _only(own[key][max(own[key])])) for key in sorted(own))
        for line, own in sorted(last.items())
    }


def _places(job: Job, table: pd.DataFrame) -> Objects:
    """Return the place of each row, as in `ActionResult`."""
    good = job.routes[without_fault(job.routes["reason"])]
    ends = ends_listened_beyond(table, good, job.contacts)
    place = np.full(len(table), "", dtype=object)
    rows = zip(texts(table, "action"), ends, texts(table, "contact_id"), strict=True)
    for k, (action, end, contact) in enumerate(rows):
        if action == "listen_beyond" and end is not None:
            place[k] = f"beyond_{end}"
        elif action == "shut_fitting":
            place[k] = contact or ""
    return place


def _only(found: set[bool]) -> bool | None:
    return next(iter(found)) if len(found) == 1 else None


def customer_end(known: Contacts, lines: Lines, line: int) -> str | None:
    """Return the customer's end of a route as a kind of rival; None if not known.

    Parameters
    ----------
    known : Contacts
    lines : Lines
    line : int
        Index of the line.
    """
    name = str(lines.table.index[line])
    flow = known.flow(name, float(lines.length_m[line]) / 2.0)
    flow = flow or meter_place(known, lines, line).flow
    return {1: "beyond_end", -1: "beyond_start"}.get(flow)


def load_action_rates() -> Mapping[str, Mapping[str, float]]:
    """Load the assumed rates of the actions; ``action_results.toml`` explains them."""
    return load_weights("leakgeo.find.evidence", "action_results")

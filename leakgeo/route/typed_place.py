r"""Places on a line as people type them: ``41.5``, ``21' 5" from CS-12 toward M-3``."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.job.checks import CheckedLayer, is_plain_number, tape_along_routes, tape_m
from leakgeo.job.placed import is_nowhere
from leakgeo.job.schema import load_schema
from leakgeo.options import ROUTE_SD_M
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.job.model import Job

_FROM = re.compile(
    r"(?P<length>.+?)\s+(?:from|desde)\s+(?P<origin>.+?)"
    r"(?:\s+(?:toward|towards|hacia)\s+(?P<toward>.+))?",
    re.IGNORECASE,
)
# Ends of the route, as sentences name them.
_START = re.compile(r"(?:the |el )?(?:start|inicio)(?: of the route| del trazado)?", re.IGNORECASE)
_END = re.compile(r"(?:the |el )?(?:end|final)(?: of the route| del trazado)?", re.IGNORECASE)
# A tape to an end of the line may pass it by so much.
SLACK_M = 0.3


@dataclass(frozen=True)
class TypedPlace:
    """A place as it was typed.

    Parameters
    ----------
    length_m : float
        Along the line, or from the fitting.
    origin, toward : str or None
        Names of the fittings that the tape began at, and ran toward.
    backward : bool
        Whether the tape ran toward the start of the route, which is no fitting.
    """

    length_m: float
    origin: str | None = None
    toward: str | None = None
    backward: bool = False


def parse_place(text: str, *, plain_m: bool = True) -> TypedPlace | None:
    r"""Return a place as typed; None if it is none.

    Parameters
    ----------
    text : str
        A length along the line, in metres or with its unit, or a length from a fitting, and
        toward another one.
    plain_m : bool
        Whether a number without a unit is in metres; else it is no place.

    Examples
    --------
    >>> parse_place("41.5")
    TypedPlace(length_m=41.5, origin=None, toward=None, backward=False)
    >>> parse_place("21' 5\" from CS-12 toward M-3")
    TypedPlace(length_m=6.5278, origin='CS-12', toward='M-3', backward=False)
    >>> parse_place("by the tree") is None
    True
    """
    found = _FROM.fullmatch(text.strip())
    length = tape_m(length_of(text), "m" if plain_m else None)
    if length is None or not np.isfinite(length):
        return None
    if found is None:
        return TypedPlace(length)
    origin, toward = found["origin"].strip(), (found["toward"] or "").strip()
    return TypedPlace(
        length, None if _START.fullmatch(origin) else origin,
        None if not toward or _START.fullmatch(toward) or _END.fullmatch(toward) else toward,
        backward=bool(_START.fullmatch(toward)),
    )  # fmt: skip


def length_of(text: str) -> str:
    r"""Return the length in a place as typed.

    Examples
    --------
    >>> length_of("21' 5\" from CS-12")
    '21\' 5"'
    """
    found = _FROM.fullmatch(text.strip())
    return found["length"] if found else text


def with_unit(text: str, unit: str) -> str:
    r"""Return a place as typed, with a unit after a plain length.

    Examples
    --------
    >>> with_unit("38.5 from CS-12", "ft"), with_unit("38' 6\"", "ft")
    ('38.5 ft from CS-12', '38\' 6"')
    """
    length = length_of(text).strip()
    return text.replace(length, f"{length} {unit}", 1) if is_plain_number(length) else text


def unknown_line(name: str, known: Sequence[str]) -> Reason:
    """Return the reason of a line that the job does not have, with names that are near.

    Examples
    --------
    >>> unknown_line("H-11", ["H-101", "S-9"])
    Reason('place_line_unknown_like', like=('H-101',), value='H-11')
    """
    near = get_close_matches(name, known, n=3, cutoff=0.5)
    if near:
        return Reason("place_line_unknown_like", value=name, like=near)
    return Reason("place_line_unknown", value=name)


def unknown_fitting(job: Job, contact_id: str) -> Reason | None:
    """Return the reason of a fitting that the job does not have, with names that are near."""
    ids = _contact_ids(job)
    return None if contact_id in ids else _unknown_fitting(contact_id, ids)


def _contact_ids(job: Job) -> list[str]:
    return [] if job.contacts is None else [c for c in texts(job.contacts, "contact_id") if c]


def known_place(job: Job, text: str, *, plain_m: bool = True) -> TypedPlace | None:
    """Return a place as typed, with its fittings by their contact_id; None if it is none."""
    place = parse_place(text, plain_m=plain_m)
    return None if place is None else _with_known_fittings(place, job)[0]


def chainages(
    job: Job, line_id: str, length_m: float, typed: Sequence[str], *, plain_m: bool = True
) -> tuple[list[float], list[Reason]]:
    """Return the chainage of each place that was typed, and why any can't be used.

    Parameters
    ----------
    job : Job
    line_id : str
        Line of the job.
    length_m : float
        Its length; infinite for a line that is not known, along which nothing is placed.
    typed : sequence of str
    plain_m : bool
        Whether a number without a unit is in metres. Where people work in feet it is refused, as
        it would be three times as far.

    Returns
    -------
    chainages : list of float
        NaN for a place that can't be used; at most the length of the line.
    reasons : list of Reason
    """
    places = [parse_place(text, plain_m=plain_m) for text in typed]
    wrong = [_no_place(text)
             for text, place in zip(typed, places, strict=True) if place is None]  # fmt: skip
    known = [place for place in places if place is not None]
    named = [_with_known_fittings(place, job) for place in known]
    wrong += [reason for _, reasons in named for reason in reasons]
    if any(reasons for _, reasons in named):
        return [np.nan] * len(typed), wrong
    if not np.isfinite(length_m):
        return [np.nan] * len(typed), wrong
    found, more = _along(job, line_id, [place for place, _ in named])
    wrong += more
    beyond = [at for at in found if not -SLACK_M <= at <= length_m + SLACK_M and np.isfinite(at)]
    wrong += [Reason("place_beyond_line", at_m=at, route_m=length_m) for at in beyond]
    along = iter(found)
    return [np.nan if p is None else float(np.clip(next(along), 0.0, length_m))
            for p in places], wrong  # fmt: skip


def _no_place(text: str) -> Reason:
    """Return why a text is not taken as a place."""
    number = length_of(text).strip()
    if is_plain_number(number):
        return Reason("place_without_unit", value=text, number=number)
    return Reason("place_not_read", value=text)


def _with_known_fittings(place: TypedPlace, job: Job) -> tuple[TypedPlace, list[Reason]]:
    """Return a place with the contact_id of its fittings, and why any is not known."""
    ids = _contact_ids(job)
    names = (place.origin, place.toward)
    origin, toward = (None if name is None else _contact(name, ids) for name in names)
    pairs = zip(names, (origin, toward), strict=True)
    wrong = [_unknown_fitting(name, ids) for name, known in pairs if name and known is None]
    return replace(place, origin=origin, toward=toward), wrong


def _unknown_fitting(name: str, ids: Sequence[str]) -> Reason:
    near = get_close_matches(name, ids, n=3, cutoff=0.4)
    if near:
        return Reason("place_fitting_unknown_like", value=name, like=near)
    return Reason("place_fitting_unknown", value=name)


def _contact(name: str, ids: Sequence[str]) -> str | None:
    """Return the contact_id of a name, which may have the kind of the fitting before it."""
    plain = name.casefold()
    for match in (str.__eq__, lambda text, each: text.endswith(f" {each}")):
        found = [each for each in ids if match(plain, each.casefold())]
        if found:
            return max(found, key=len)
    return None


def _along(
    job: Job, line_id: str, places: Sequence[TypedPlace]
) -> tuple[list[float], list[Reason]]:
    """Return the chainages of places, as those of readings taped from a fitting."""
    if not places:
        return [], []
    count = len(places)
    back = np.array([p.length_m if p.backward else 0.0 for p in places])
    length = np.array([p.length_m for p in places])
    table = gpd.GeoDataFrame({
        "line_id": [line_id] * count, "chainage_m": length - back,
        "chainage_from": [p.origin for p in places], "chainage_toward": [p.toward for p in places],
        "reason": pd.Series([None] * count, dtype=object),
    }, geometry=np.full(count, None), crs=job.crs)  # fmt: skip
    fittings = None if job.contacts is None else _checked("contacts", job.contacts)
    routes = _checked("routes", job.routes)
    taped = tape_along_routes(_checked("readings", table), fittings, routes, ROUTE_SD_M.number)
    along = floats(taped.table, "tape_m") - back
    return along.tolist(), [fault.reason for fault in taped.faults]


def _checked(name: str, table: gpd.GeoDataFrame) -> CheckedLayer:
    return CheckedLayer(load_schema(name), table, np.array([""] * len(table), dtype=object))


def point_along(job: Job, line_id: str, chainage_m: float) -> shapely.Point | None:
    """Return the point of a chainage on a line of the job, in its CRS; None if it has no place."""
    lines = lines_of(job, ROUTE_SD_M.number)
    line = lines.index_of([line_id])
    if line[0] < 0 or not np.isfinite(chainage_m):
        return None
    points = lines.routes.points(line, np.array([chainage_m]))
    return None if is_nowhere(points)[0] else points[0]

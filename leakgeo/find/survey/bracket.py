"""Stretches of pipe between fittings where a leak may be, with probabilities and walking order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.reason import Reason, code_columns, columns_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.find.survey.odds import SectionOdds
    from leakgeo.route.lines import Lines
    from leakgeo.route.network import Network

# Log of 3: levels less than three times likelier with a leak than without are no evidence.
MIN_SUPPORT_NATS = 1.0986
# A smaller probability of all unlisted pipes is not reported.
_MIN_UNLISTED = 0.005

# Besides the path between the loudest two and the neighbours of the loudest, stretches are listed
# until they hold this probability together, with a minimum for each and a maximum number.
LISTED_PROBABILITY, MIN_PROBABILITY, MAX_STRETCHES = 0.9, 0.02, 12
# Cost of getting to a stretch, as a length to walk: short stretches don't come first for nothing.
APPROACH_M = 5.0
COLUMNS = ("line_id", "network_part", "area", "rank", "order", "from_contact", "to_contact",
           "from_chainage_m", "to_chainage_m", "length_m", "probability", "on_path",
           *code_columns("message"))  # fmt: skip


def bracket(
    fittings: gpd.GeoDataFrame, lines: Lines, network: Network, odds: SectionOdds
) -> gpd.GeoDataFrame:
    """Return the stretches to walk in each loud area with at least two fittings.

    A stretch runs along one line from a fitting, or an end, to the next. The list contains those on
    the path between the loudest and the second loudest, those next to the loudest in every
    direction, and further ones that the levels do not exclude.

    Parameters
    ----------
    fittings : geopandas.GeoDataFrame
        Fittings of each area, as `leakgeo.find.survey.fittings.rank_fittings` returns them, with
        ``area`` and ``node``; one on the border of two areas has a row for each.
    lines : Lines
    network : Network
    odds : SectionOdds

    Returns
    -------
    geopandas.GeoDataFrame
        Columns `COLUMNS`.
    """
    pairs = _loudest_two(fittings, odds)
    frame = _stretches(network, odds, _on_path(network, odds, pairs), fittings["node"].to_numpy())
    frame = frame[frame["area"].isin(pairs.index)]
    ends = frame["area"].map(pairs["node"])
    frame["beside"] = (frame["tail"] == ends) | (frame["head"] == ends)
    frame = _in_walking_order(frame[_is_listed(frame)])
    frame = _with_names(frame, fittings, pairs, lines)
    which = frame["line"].to_numpy(dtype=np.int64)
    reach = (frame[c].to_numpy(dtype=float) for c in ("from_chainage_m", "to_chainage_m"))
    pieces = lines.routes.pieces(which, *reach)
    return gpd.GeoDataFrame(frame[list(COLUMNS)], geometry=pieces, crs=fittings.crs)


def _loudest_two(fittings: gpd.GeoDataFrame, odds: SectionOdds) -> pd.DataFrame:
    """Return the loudest two of each area with evidence of a leak, or that is the loudest area."""
    plain = pd.DataFrame(fittings.drop(columns=fittings.geometry.name)).sort_values(
        ["area", "rank"]
    )
    turn = plain.groupby("area").cumcount()
    first, second = (plain[turn == k].set_index("area") for k in (0, 1))
    pairs = first.join(second.add_suffix("_2"), how="inner")
    best = pd.Series(odds.support_nats).groupby(odds.area).max()
    is_first = first.groupby("network_part").cumcount().reindex(pairs.index) == 0
    pairs = pairs.assign(best=best.reindex(pairs.index), is_first=is_first)
    pairs = pairs[is_first | (pairs["best"] > MIN_SUPPORT_NATS)]
    return pairs.assign(turn=pairs.groupby("network_part").cumcount() + 1)


def _on_path(network: Network, odds: SectionOdds, pairs: pd.DataFrame) -> Bools:
    """Flag the sections on the path between the loudest two of their area."""
    key = odds.area * np.int64(len(network.line)) + odds.section
    on_path = np.zeros(len(key), dtype=bool)
    # One area of each connected part at a time: a single search finds their paths.
    for _, some in pairs.groupby(pairs.groupby("network_part").cumcount()):
        nodes = (some[c].to_numpy(dtype=np.int64) for c in ("node", "node_2"))
        pair, section = network.shortest_paths(*nodes)
        area = some.index.to_numpy(dtype=np.int64)[pair]
        on_path |= np.isin(key, area * np.int64(len(network.line)) + section)
    return on_path


def _stretches(network: Network, odds: SectionOdds, on_path: Bools, stops: Ints) -> pd.DataFrame:
    """Join sections to stretches, split at fittings, ends, and where the path leaves the line."""
    stop = np.zeros(network.nodes, dtype=bool)
    stop[stops] = True
    section, area = odds.section, odds.area
    fresh = stop[network.tail[section]]
    fresh[:1] = True
    fresh[1:] |= on_path[1:] != on_path[:-1]
    fresh[1:] |= (section[1:] != section[:-1] + 1) | (area[1:] != area[:-1])
    fresh[1:] |= network.line[section[1:]] != network.line[section[:-1]]
    at = np.flatnonzero(fresh)
    begin, end = section[at], section[np.append(at[1:], len(fresh))[: len(at)] - 1]
    length = network.length_m[section]
    parts = odds.probability, length, length * np.exp(odds.support_nats)
    total, metres, likelier = (
        np.add.reduceat(each, at) if len(at) else np.empty(0) for each in parts
    )
    return pd.DataFrame({
        "area": area[at], "line": network.line[begin],
        "from_chainage_m": network.begin_m[begin], "to_chainage_m": network.end_m[end],
        "length_m": network.end_m[end] - network.begin_m[begin],
        "tail": network.tail[begin], "head": network.head[end],
        "probability": total, "on_path": on_path[at],
        "support_nats": np.log(likelier / metres),
    })  # fmt: skip


def _is_listed(frame: pd.DataFrame) -> Bools:
    """Flag the stretches to list.

    Pipes that are probable by their length alone, as nobody listened near them, are not.
    """
    order = frame.sort_values(["area", "probability"], ascending=[True, False])
    groups = order.groupby("area")["probability"]
    before = groups.cumsum() - order["probability"]
    is_open = (
        (before < LISTED_PROBABILITY)
        & (order["probability"] >= MIN_PROBABILITY)
        & (groups.cumcount() < MAX_STRETCHES)
        & (order["support_nats"] > MIN_SUPPORT_NATS)
    )
    return np.asarray(is_open.reindex(frame.index) | frame["on_path"] | frame["beside"], dtype=bool)


def _in_walking_order(frame: pd.DataFrame) -> pd.DataFrame:
    """Rank by probability, and sort by probability per metre of walk."""
    worth: pd.Series[float] = frame["probability"] / (frame["length_m"] + APPROACH_M)
    columns = {
        name: value.groupby(frame["area"]).rank(ascending=False, method="first").astype(int)
        for name, value in (("rank", frame["probability"]), ("order", worth))
    }
    return frame.assign(**columns).sort_values(["area", "order"], ignore_index=True)


def _with_names(
    frame: pd.DataFrame, fittings: pd.DataFrame, pairs: pd.DataFrame, lines: Lines
) -> pd.DataFrame:
    """Add names of lines and fittings, and the message of each stretch."""
    name = fittings.sort_values("rank").drop_duplicates("node").set_index("node")["contact_id"]
    area = frame["area"]
    frame = frame.assign(
        line_id=lines.table.index.to_numpy(dtype=object)[frame["line"].to_numpy(dtype=np.int64)],
        from_contact=frame["tail"].map(name).astype(object),
        to_contact=frame["head"].map(name).astype(object),
        loudest=area.map(pairs["contact_id"]),
        second=area.map(pairs["contact_id_2"]),
        unlisted=1.0 - frame.groupby("area")["probability"].transform("sum"),
        best=area.map(pairs["best"]),
        network_part=area.map(pairs["network_part"]) + 1,
        area=area.map(pairs["turn"]),
        is_separate=~area.map(pairs["is_first"]).astype(bool),
    )
    columns = {str(name): frame[name].tolist() for name in frame}
    messages = [
        stretch_message(dict(zip(columns, row, strict=True)))
        for row in zip(*columns.values(), strict=True)
    ]
    return frame.assign(**columns_of("message", messages))


def line_support(network: Network, odds: SectionOdds, count: int) -> Floats:
    """Return the log Bayes factor of a leak on each line, shape (l,).

    It is that of the likeliest section; NaN where no fitting on its connected part was listened to.
    """
    best = np.full(count, np.nan)
    np.fmax.at(best, network.line[odds.section], odds.support_nats)
    return best


def stretch_message(row: Mapping[str, Any]) -> Reason:
    """Return the message of a stretch: where it is, why it is listed, probability, walking order.

    Parameters
    ----------
    row : mapping
        One row of the stretches, with ``loudest``, ``second``, ``beside``, ``unlisted``,
        ``is_separate`` and ``best`` (the largest support of its area, in nats).

    Returns
    -------
    Reason

    Examples
    --------
    >>> from leakgeo.wording import Wording
    >>> Wording().text(stretch_message(
    ...     {"from_contact": "V-1", "to_contact": "M-1", "from_chainage_m": 0.0,
    ...      "to_chainage_m": 20.0, "loudest": "V-1", "second": "M-1", "on_path": True,
    ...      "beside": True, "probability": 0.8, "order": 1, "unlisted": 0.1, "best": 3.0,
    ...      "is_separate": False}))
    'Between V-1 and M-1, the loudest two: 80 % of the probability, if these pipes leak. Walk it
    first, from V-1, and check that V-1 itself does not leak. Pipes not listed hold 10 % of the
    probability.'
    """
    notes = _notes(row) if row["order"] == 1 else []
    return Reason("stretch", _walk(row), *notes, where=_where(row), why=_why(row),
                  probability=row["probability"])  # fmt: skip


def _where(row: Mapping[str, Any]) -> Reason:
    ends = [name for name in (row["from_contact"], row["to_contact"]) if not pd.isna(name)]
    if len(ends) == 2:
        return Reason("between_fittings", **{"from": ends[0], "to": ends[1]})
    reach = {"from_m": row["from_chainage_m"], "to_m": row["to_chainage_m"]}
    return Reason("beyond_fitting", fitting=ends[0], **reach) if ends else (
        Reason("part_of_line", **reach))  # fmt: skip


def _why(row: Mapping[str, Any]) -> Reason:
    loudest, second = row["loudest"], row["second"]
    if row["on_path"] and {row["from_contact"], row["to_contact"]} == {loudest, second}:
        return Reason("why_loudest_two")
    if row["on_path"]:
        return Reason("why_on_path", loudest=loudest, second=second)
    return Reason("why_beside", loudest=loudest) if row["beside"] else Reason("why_open")


def _walk(row: Mapping[str, Any]) -> Reason:
    if row["order"] > 1:
        return Reason("walk_in_order", order=row["order"])
    if not row["beside"]:
        return Reason("walk_it_first")
    return Reason("walk_it_first_from", loudest=row["loudest"])


def _notes(row: Mapping[str, Any]) -> list[Reason]:
    notes = []
    if row["is_separate"]:
        notes.append(Reason("quiet_fittings_between"))
    if row["unlisted"] >= _MIN_UNLISTED:
        notes.append(Reason("pipes_not_listed", probability=row["unlisted"]))
    if not row["best"] > MIN_SUPPORT_NATS:
        notes.append(Reason("levels_show_little"))
    return notes

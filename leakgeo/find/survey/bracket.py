"""Stretches of pipe between fittings where a leak may be, with odds: where to walk, in order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.reason import Reason, code_columns, columns_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.find.survey.odds import Odds
    from leakgeo.route.lines import Lines
    from leakgeo.route.network import Network

# Levels that are less than three times likelier with a leak than without show nothing.
SHOWN_NATS = 1.0986
# Pipes not listed that hold less than this are not worth a word.
_HELD = 0.005

# Besides the way between the loudest and their neighbours, stretches are listed until they hold
# this much together; none that holds less than the least, and so many at the most.
HELD, LEAST, MOST = 0.9, 0.02, 12
# To go to a stretch costs as much as to walk this far: short ones don't come first for nothing.
GOING_M = 5.0
COLUMNS = ("line_id", "network_part", "area", "rank", "order", "from_contact", "to_contact",
           "from_chainage_m", "to_chainage_m", "length_m", "probability", "on_path",
           *code_columns("message"))  # fmt: skip


def bracket(
    heard: gpd.GeoDataFrame, lines: Lines, network: Network, odds: Odds
) -> gpd.GeoDataFrame:
    """List the stretches to walk in each loud area with two fittings or more.

    A stretch runs along one line from a fitting, or an end, to the next. Listed are those on the
    way between the loudest and the second loudest, those beside the loudest in every direction, and
    further ones that the levels leave open.

    Parameters
    ----------
    heard : geopandas.GeoDataFrame
        Fittings of each area, as `leakgeo.find.survey.fittings.ranked` gives them, with their
        ``area`` and ``node``; one that bounds two areas is there for each.
    lines : Lines
    network : Network
    odds : Odds

    Returns
    -------
    geopandas.GeoDataFrame
        Columns `COLUMNS`.
    """
    pairs = _loudest_two(heard, odds)
    frame = _stretches(network, odds, _on_way(network, odds, pairs), heard["node"].to_numpy())
    frame = frame[frame["area"].isin(pairs.index)]
    ends = frame["area"].map(pairs["node"])
    frame["beside"] = (frame["tail"] == ends) | (frame["head"] == ends)
    frame = _ordered(frame[_listed(frame)])
    frame = _named(frame, heard, pairs, lines)
    which = frame["line"].to_numpy(dtype=np.int64)
    reach = (frame[c].to_numpy(dtype=float) for c in ("from_chainage_m", "to_chainage_m"))
    pieces = lines.routes.pieces(which, *reach)
    return gpd.GeoDataFrame(frame[list(COLUMNS)], geometry=pieces, crs=heard.crs)


def _loudest_two(heard: gpd.GeoDataFrame, odds: Odds) -> pd.DataFrame:
    """Loudest and second loudest of each area, where a leak is shown or no area is louder."""
    plain = pd.DataFrame(heard.drop(columns=heard.geometry.name)).sort_values(["area", "rank"])
    turn = plain.groupby("area").cumcount()
    first, second = (plain[turn == k].set_index("area") for k in (0, 1))
    pairs = first.join(second.add_suffix("_2"), how="inner")
    best = pd.Series(odds.support_nats).groupby(odds.area).max()
    is_first = first.groupby("network_part").cumcount().reindex(pairs.index) == 0
    pairs = pairs.assign(best=best.reindex(pairs.index), is_first=is_first)
    pairs = pairs[is_first | (pairs["best"] > SHOWN_NATS)]
    return pairs.assign(turn=pairs.groupby("network_part").cumcount() + 1)


def _on_way(network: Network, odds: Odds, pairs: pd.DataFrame) -> Bools:
    """Tell which sections are on the way between the loudest two of their area."""
    key = odds.area * np.int64(len(network.line)) + odds.section
    on_way = np.zeros(len(key), dtype=bool)
    # One area of each part of the network at a time: one search finds their ways.
    for _, some in pairs.groupby(pairs.groupby("network_part").cumcount()):
        nodes = (some[c].to_numpy(dtype=np.int64) for c in ("node", "node_2"))
        pair, section = network.ways(*nodes)
        area = some.index.to_numpy(dtype=np.int64)[pair]
        on_way |= np.isin(key, area * np.int64(len(network.line)) + section)
    return on_way


def _stretches(network: Network, odds: Odds, on_way: Bools, stops: Ints) -> pd.DataFrame:
    """Sections put together between fittings, ends, and where the way leaves the line."""
    stop = np.zeros(network.nodes, dtype=bool)
    stop[stops] = True
    section, area = odds.section, odds.area
    fresh = stop[network.tail[section]]
    fresh[:1] = True
    fresh[1:] |= on_way[1:] != on_way[:-1]
    fresh[1:] |= (section[1:] != section[:-1] + 1) | (area[1:] != area[:-1])
    fresh[1:] |= network.line[section[1:]] != network.line[section[:-1]]
    at = np.flatnonzero(fresh)
    begin, end = section[at], section[np.append(at[1:], len(fresh))[: len(at)] - 1]
    total = np.add.reduceat(odds.probability, at) if len(at) else np.empty(0)
    return pd.DataFrame({
        "area": area[at], "line": network.line[begin],
        "from_chainage_m": network.begin_m[begin], "to_chainage_m": network.end_m[end],
        "length_m": network.end_m[end] - network.begin_m[begin],
        "tail": network.tail[begin], "head": network.head[end],
        "probability": total, "on_path": on_way[at],
    })  # fmt: skip


def _listed(frame: pd.DataFrame) -> Bools:
    """Tell which stretches are worth a row."""
    order = frame.sort_values(["area", "probability"], ascending=[True, False])
    groups = order.groupby("area")["probability"]
    before = groups.cumsum() - order["probability"]
    open_ = (before < HELD) & (order["probability"] >= LEAST) & (groups.cumcount() < MOST)
    return np.asarray(open_.reindex(frame.index) | frame["on_path"] | frame["beside"], dtype=bool)


def _ordered(frame: pd.DataFrame) -> pd.DataFrame:
    """Rank by probability, and put in the order that finds soonest: odds for the walk it takes."""
    worth: pd.Series[float] = frame["probability"] / (frame["length_m"] + GOING_M)
    columns = {
        name: value.groupby(frame["area"]).rank(ascending=False, method="first").astype(int)
        for name, value in (("rank", frame["probability"]), ("order", worth))
    }
    return frame.assign(**columns).sort_values(["area", "order"], ignore_index=True)


def _named(
    frame: pd.DataFrame, heard: pd.DataFrame, pairs: pd.DataFrame, lines: Lines
) -> pd.DataFrame:
    """Name lines and fittings, and say why each stretch is there."""
    name = heard.sort_values("rank").drop_duplicates("node").set_index("node")["contact_id"]
    area = frame["area"]
    frame = frame.assign(
        line_id=lines.table.index.to_numpy(dtype=object)[frame["line"].to_numpy(dtype=np.int64)],
        from_contact=frame["tail"].map(name).astype(object),
        to_contact=frame["head"].map(name).astype(object),
        loudest=area.map(pairs["contact_id"]),
        second=area.map(pairs["contact_id_2"]),
        elsewhere=1.0 - frame.groupby("area")["probability"].transform("sum"),
        best=area.map(pairs["best"]),
        network_part=area.map(pairs["network_part"]) + 1,
        area=area.map(pairs["turn"]),
        apart=~area.map(pairs["is_first"]).astype(bool),
    )
    columns = {str(name): frame[name].tolist() for name in frame}
    told = [
        message(dict(zip(columns, row, strict=True))) for row in zip(*columns.values(), strict=True)
    ]
    return frame.assign(**columns_of("message", told))


def line_support(network: Network, odds: Odds, count: int) -> Floats:
    """Log of how much likelier the levels are with a leak on each line than with none, shape (l,).

    That of its likeliest section; NaN where no fitting was heard on its part of the network.
    """
    best = np.full(count, np.nan)
    np.fmax.at(best, network.line[odds.section], odds.support_nats)
    return best


def message(row: Mapping[str, Any]) -> Reason:
    """Say where a stretch is, why it is listed, how likely it is, and when to walk it.

    Parameters
    ----------
    row : mapping
        One row of the bracket, with ``loudest``, ``second``, ``beside``, ``elsewhere``,
        ``apart`` and ``best`` (the largest support of its area, in nats).

    Returns
    -------
    Reason

    Examples
    --------
    >>> from leakgeo.wording import Wording
    >>> Wording().text(message(
    ...     {"from_contact": "V-1", "to_contact": "M-1", "from_chainage_m": 0.0,
    ...      "to_chainage_m": 20.0, "loudest": "V-1", "second": "M-1", "on_path": True,
    ...      "beside": True, "probability": 0.8, "order": 1, "elsewhere": 0.1, "best": 3.0,
    ...      "apart": False}))
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
    if row["apart"]:
        notes.append(Reason("quiet_fittings_between"))
    if row["elsewhere"] >= _HELD:
        notes.append(Reason("pipes_not_listed", probability=row["elsewhere"]))
    if not row["best"] > SHOWN_NATS:
        notes.append(Reason("levels_show_little"))
    return notes

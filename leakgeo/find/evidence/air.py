"""Pairs of readings with compressed air on and off, at places along each line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.reason import Reason
from leakgeo.route.sweeps import along_the_line

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.result import Result
    from leakgeo.sound.constants import Constants

# Readings this close along the pipe, or within twice their error, are of one place.
SAME_PLACE_M = 0.5
# Tolerance for pressures converted from psi to kPa.
_ROUNDING_KPA = 0.05


@dataclass(frozen=True)
class AirPlaces:
    """Places on one line with readings with air on and off, sorted by chainage.

    Parameters
    ----------
    chainage_m, error_m : ndarray of float, shape (k,)
        Chainage, and 1-sigma error of a reading there.
    smear_m : ndarray of float, shape (k,)
        Lateral smear of the surface.
    on_db, off_db : ndarray of float, shape (k,)
        Mean levels of the pairs.
    pairs : ndarray of int, shape (k,)
        Number of pairs at each place, at least one.
    square_db2 : ndarray of float, shape (k,)
        Sum of squares of the pairs' differences about their mean.
    air_kpa : ndarray of float, shape (k,)
        Highest pressure of the injected air, NaN where not recorded.
    """

    chainage_m: Floats
    error_m: Floats
    smear_m: Floats
    on_db: Floats
    off_db: Floats
    pairs: Ints
    square_db2: Floats
    air_kpa: Floats

    @property
    def change_db(self) -> Floats:
        """Mean change of level with air, shape (k,)."""
        return self.on_db - self.off_db

    def noise(self, constants: Constants) -> tuple[float, float]:
        """Return the standard deviation of one pair's difference, and its degrees of freedom.

        Pooled over the repeats at all places, with the assumed error of a reading as prior (scaled
        inverse chi-square; Gelman and others, Bayesian Data Analysis, 2013, section 2.6).
        """
        assumed = 2.0 * constants.noise["reading_db"] ** 2
        firm = constants.air["scale_degrees"]
        degrees = firm + float(np.sum(self.pairs - 1))
        variance = (firm * assumed + float(self.square_db2.sum())) / degrees
        return variance**0.5, degrees


def air_places(
    result: Result, constants: Constants, most_over_kpa: float
) -> tuple[dict[str, AirPlaces], list[Fault]]:
    """Pair the readings with air on and off at each place.

    Parameters
    ----------
    result : Result
        With ``readings_on_route``.
    constants : Constants
    most_over_kpa : float
        Readings with air at more than this above the line's own pressure are rejected.

    Returns
    -------
    places : dict of str to AirPlaces
        By ``line_id``; lines without a pair have no entry.
    faults : list of Fault
        Readings rejected, and readings without a partner.
    """
    heard = _air_readings(result, constants)
    if heard.empty:  # as most jobs have none
        return {}, []
    rejected = heard["over_kpa"] > most_over_kpa + _ROUNDING_KPA
    kept = heard[~rejected].copy()
    kept["place"] = places_of(kept)
    paired = _paired(kept)
    faults = [
        *_over_limit(heard[rejected], most_over_kpa), *_pressure_unknown(heard),
        *_without_partner(kept, paired),
    ]  # fmt: skip
    places = {str(i): _of_line(own) for i, own in paired.groupby("line_id", sort=True)}
    return places, faults


def _air_readings(result: Result, constants: Constants) -> pd.DataFrame:
    """Return the used readings with air on or off, with air pressure and time from the job."""
    readings = pd.DataFrame(result.layers["readings_on_route"])
    wanted = along_the_line(readings) & readings["air"].isin(["on", "off"]).to_numpy()
    own = readings[wanted].reset_index(drop=True)
    job = pd.DataFrame(result.job.readings).dropna(subset="reading_id")
    job = job.drop_duplicates("reading_id").set_index("reading_id")
    job = job.reindex(own["reading_id"])
    routes = pd.DataFrame(result.job.routes).drop_duplicates("line_id").set_index("line_id")
    pressure = floats(routes.reindex(own["line_id"]), "pressure_kpa")
    on = (own["air"] == "on").to_numpy()
    surface = pd.Series(texts(own, "surface")).fillna("unknown")
    return own.assign(
        air_kpa=np.where(on, floats(job, "air_kpa"), np.nan),
        over_kpa=np.where(on, floats(job, "air_kpa") - pressure, np.nan),
        time=np.asarray(job["time"]),
        smear_m=surface.map(constants.smear_m).astype(float),
        band=pd.Series(texts(own, "band")).fillna("wide"),
    )


def places_of(heard: pd.DataFrame) -> Ints:
    """Return the place code of each reading: by ``stop_id`` if given, else by distance.

    Parameters
    ----------
    heard : pandas.DataFrame
        With ``line_id, stop_id, chainage_m, chainage_sd_m``.
    """
    named = pd.factorize(texts(heard, "stop_id"))[0]
    code, used = np.where(named >= 0, named, -1), int(named.max(initial=-1)) + 1
    line = pd.factorize(texts(heard, "line_id"))[0]
    error, x = floats(heard, "chainage_sd_m"), floats(heard, "chainage_m")
    for i in range(int(line.max(initial=-1)) + 1):
        own = np.flatnonzero((line == i) & (named < 0))
        if len(own):
            reach = max(SAME_PLACE_M, 2.0 * float(np.median(error[own])))
            code[own] = used + _bins(x[own], reach)
            used = int(code[own].max()) + 1
    return code


def _bins(x: Floats, reach: float) -> Ints:
    """Bin values by length `reach`; each bin starts at the first value beyond the last one."""
    order = np.argsort(x, kind="stable")
    ranked, code, begin, number = x[order], np.zeros(len(x), dtype=np.int64), 0, 0
    while begin < len(x):
        end = int(np.searchsorted(ranked, ranked[begin] + reach, side="right"))
        code[order[begin:end]], begin, number = number, end, number + 1
    return code


def _paired(heard: pd.DataFrame) -> pd.DataFrame:
    """Pair readings with air off with comparable ones with air on, in time order."""
    apart = heard["walk_id"].fillna("").where(~heard["gain_known"].astype(bool), "")
    like = heard.assign(apart=apart, sensor=heard["sensor"].fillna(""))
    like = like.sort_values(["time", "seq", "reading_id"], kind="stable")
    keys = ["line_id", "place", "sensor", "band", "sound_unit", "gain_known", "apart"]
    like["turn"] = like.groupby([*keys, "air"]).cumcount()
    sides = [like[like["air"] == side] for side in ("off", "on")]
    return sides[0].merge(sides[1], on=[*keys, "turn"], suffixes=("_off", "_on"))


def _of_line(paired: pd.DataFrame) -> AirPlaces:
    change = paired["level_db_on"] - paired["level_db_off"]
    table = paired.assign(
        chainage_m=(paired["chainage_m_off"] + paired["chainage_m_on"]) / 2.0,
        square=(change - change.groupby(paired["place"]).transform("mean")) ** 2,
    )
    by = table.groupby("place")
    mean = by[["chainage_m", "chainage_sd_m_off", "smear_m_off", "level_db_on", "level_db_off"]]
    frame = mean.mean().assign(
        pairs=by.size(), square=by["square"].sum(), air_kpa=by["air_kpa_on"].max()
    )
    columns = frame.sort_values("chainage_m").to_numpy(dtype=float).T
    x, error, smear, on, off, pairs, square, air = columns
    return AirPlaces(x, error, smear, on, off, pairs.astype(np.int64), square, air)


def _over_limit(rejected: pd.DataFrame, most_over_kpa: float) -> list[Fault]:
    return [
        Fault(
            "readings",
            Reason("air_too_high", air_kpa=row.air_kpa, over_kpa=row.over_kpa,
                   most_kpa=most_over_kpa),
            str(row.reading_id), "air_kpa", f"{row.air_kpa:.0f}", line_id=str(row.line_id),
        )
        for row in rejected.itertuples()
    ]  # fmt: skip


def _pressure_unknown(heard: pd.DataFrame) -> list[Fault]:
    """Report lines whose air pressure can't be compared with the limit."""
    unknown = (heard["air"] == "on") & heard["over_kpa"].isna()
    return [
        Fault(
            "readings",
            Reason("air_pressure_unknown"),
            str(line), "air_kpa", effect="noted", line_id=str(line),
        )
        for line in pd.unique(heard.loc[unknown, "line_id"])
    ]  # fmt: skip


def _without_partner(kept: pd.DataFrame, paired: pd.DataFrame) -> list[Fault]:
    """Report readings without a partner."""
    partners = {*paired["reading_id_off"], *paired["reading_id_on"]}
    lone = kept[~kept["reading_id"].isin(partners)]
    return [
        Fault(
            "readings",
            Reason("air_without_partner", air=air, readings=len(own)),
            str(line), "air", effect="noted", line_id=str(line),
        )
        for (line, air), own in lone.groupby(["line_id", "air"])
    ]  # fmt: skip

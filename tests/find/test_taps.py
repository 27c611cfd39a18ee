"""A tap opened to a trickle: a source at a known place, which is no evidence of a leak."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

import leakgeo
from leakgeo.find.advise.cramer_rao import Listening, constants_sd, cramer_rao_sd
from leakgeo.find.advise.next_stops import HeardLine
from leakgeo.find.advise.trickle import known_after_trickle, tap_to_open, trickle_gain_bits
from leakgeo.find.levels import taps
from leakgeo.find.levels.readings import tabulate
from leakgeo.find.levels.taps import load_tap_weights, over_quiet_db
from leakgeo.find.posterior import kernel, tap_calibration
from leakgeo.find.posterior.problem import build_problem
from leakgeo.find.posterior.tap_calibration import Normal, carried_over, taught_by_taps
from leakgeo.find.survey.line_fittings import LineFittings
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from leakgeo.sound.spreading import DB, Spreading, relative_level
from tests.benchmarks.trickle import compared
from tests.find.test_improvements import _level, plain_noise, walked
from tests.worlds.line import draw_line
from tests.worlds.trickle import tapped_rough_noise

CRS, EAST, NORTH = 32633, 458_000.0, 5_548_000.0
CONSTANTS = load_constants()
LEAK_M, TAP_M, DECAY_DB_PER_M = 21.0, 2.0, 2.4
# Stops of a walk with the tap shut, and of one with it open.
SHUT, OPEN = np.arange(0.5, 30.0, 0.75), np.arange(0.5, 10.0, 0.5)


def power(x, source_m, top_db, share, decay=DECAY_DB_PER_M):
    law = Spreading(0.9, decay, share, 1.5, 0.0)
    return 10 ** ((top_db + relative_level(x - source_m, law)) / 10)


def line_of(name, north_m, *, tap, noise_db=0.5, tap_db=62.0, seed=1):
    """Give the readings of a line with a leak, and of a walk with a tap open."""
    rng = np.random.default_rng(seed)
    quiet = 10 * np.log10(power(SHUT, LEAK_M, 45.0, 0.15) + 10**2.5)
    x, level, contact = SHUT, quiet, np.full(len(SHUT), None, dtype=object)
    if tap:
        both = power(OPEN, LEAK_M, 45.0, 0.15) + 10**2.5 + power(OPEN, TAP_M, tap_db, 0.7)
        x, level = np.r_[x, OPEN], np.r_[quiet, 10 * np.log10(both)]
        contact = np.r_[contact, np.full(len(OPEN), f"{name}-bib", dtype=object)]
    level = level + rng.normal(0.0, noise_db, len(x))
    table = {
        "reading_id": [f"{name}/{k:03d}" for k in range(len(x))], "line_id": name,
        "walk_id": np.where(pd.isna(contact), f"{name}/shut", f"{name}/open"),
        "sound_level": level.round(1), "sound_unit": "db", "gain_db": 0.0, "chainage_m": x,
        "chainage_sd_m": 0.05, "position_sd_m": 0.3, "tap_open": contact,
    }  # fmt: skip
    # Beside the route, as points exactly on it would be asked about.
    points = shapely.points(EAST + 0.9996 * x, NORTH + north_m + rng.normal(0, 0.2, len(x)))
    return gpd.GeoDataFrame(table, geometry=points, crs=CRS)


def job(taps=("A",), **changes):
    """Give two lines 100 m apart, some of which have a tap open."""
    names = {"A": 0.0, "B": 100.0}
    routes = gpd.GeoDataFrame(
        {"line_id": list(names), "material": "pvc", "depth_m": 0.9},
        geometry=[shapely.LineString([(EAST, NORTH + y), (EAST + 30, NORTH + y)])
                  for y in names.values()], crs=CRS)  # fmt: skip
    readings = [line_of(name, y, tap=name in taps) for name, y in names.items()]
    contacts = gpd.GeoDataFrame(
        {"contact_id": [f"{name}-bib" for name in names], "line_id": list(names),
         "kind": "hose_bib", "sound_level": 30.0, "sound_unit": "db"},
        geometry=[shapely.Point(EAST + TAP_M, NORTH + y + 0.4) for y in names.values()], crs=CRS,
    )  # fmt: skip
    table = pd.concat(readings, ignore_index=True)
    table = gpd.GeoDataFrame(table.assign(**changes), geometry="geometry", crs=CRS)
    return {"routes": routes, "readings": table, "contacts": contacts}


def without_taps(layers):
    table = layers["readings"]
    table = table[table["tap_open"].isna()].drop(columns="tap_open").reset_index(drop=True)
    return {**layers, "readings": table}


def by_satellite(layers):
    """Give the same readings without a tape, at fixes with an error."""
    table, rng = layers["readings"], np.random.default_rng(2)
    xy = shapely.get_coordinates(table.geometry.to_numpy())
    fixes = shapely.points(xy + rng.normal(0.0, 1.0, xy.shape))
    seq = table.groupby("walk_id").cumcount()
    table = table.assign(chainage_m=np.nan, chainage_sd_m=np.nan, position_sd_m=1.0, seq=seq)
    return {**layers, "readings": table.set_geometry(gpd.GeoSeries(fixes, crs=CRS))}


@pytest.fixture(scope="module")
def placed():
    return leakgeo.profile(job())


@pytest.fixture(scope="module")
def located():
    return leakgeo.locate(job()), leakgeo.locate(without_taps(job()))


def of_taps(result):
    table = result["readings_on_route"]
    return table[table["line_id"].eq("A") & ~table["reading_id"].isin(
        without_taps(job())["readings"]["reading_id"])]  # fmt: skip


def test_readings_with_a_tap_open_are_kept_used_and_apart(placed):
    own = of_taps(placed)
    assert len(own) == len(OPEN)
    assert own["used"].all()
    assert (own["reason_code"] == "tap_teaches").all()
    assert own["tap_m"].to_numpy() == pytest.approx(TAP_M, abs=0.01)
    assert own["level_comparable_db"].isna().all()
    noted = {f.code: f for f in placed.faults}["taps_used"]
    assert (noted.effect, dict(noted.reason.values)["readings"]) == ("noted", len(OPEN))


def test_they_are_no_evidence_of_a_leak_and_teach_nothing_of_noise_and_walks(placed):
    quiet = leakgeo.profile(without_taps(job()))
    for layers in (job(), by_satellite(job())):
        taught, plain = (leakgeo.ground(each) for each in (layers, without_taps(layers)))
        for name in ("noise_law", "walk_law"):
            pd.testing.assert_frame_equal(taught[name], plain[name])
    one, two = (
        tabulate(each["readings_on_route"], lines_in(each), CONSTANTS, neighbours=True)
        for each in (placed, quiet)
    )
    for name, column in one.numbers.items():
        np.testing.assert_array_equal(column, two.numbers[name])
    pd.testing.assert_frame_equal(
        pd.DataFrame(placed["profile"]).drop(columns="geometry"),
        pd.DataFrame(quiet["profile"]).drop(columns="geometry"),
    )


def test_a_line_without_an_open_tap_has_exactly_the_same_result(located):
    with_tap, without = located
    for layer in ("marks", "search_zones", "profile"):
        one, two = (pd.DataFrame(each[layer]).query("line_id == 'B'") for each in located)
        pd.testing.assert_frame_equal(
            one.drop(columns="geometry").reset_index(drop=True),
            two.drop(columns="geometry").reset_index(drop=True),
        )
    ours, old = (each["profile"].query("line_id == 'A'")["leak_density_per_m"] for each in located)
    assert not np.array_equal(ours, old)
    assert with_tap["marks"]["chainage_m"].to_numpy() == pytest.approx(LEAK_M, abs=0.3)
    assert without["marks"]["chainage_m"].to_numpy() == pytest.approx(LEAK_M, abs=0.3)


def test_one_line_of_a_job_is_located_as_in_the_whole_job(located):
    alone = leakgeo.locate(leakgeo.read_job(job(), lines="A"))
    for layer in ("marks", "search_zones", "profile"):
        ours = pd.DataFrame(located[0][layer]).query("line_id == 'A'").reset_index(drop=True)
        pd.testing.assert_frame_equal(
            pd.DataFrame(alone[layer]).reset_index(drop=True).drop(columns="geometry"),
            ours.drop(columns="geometry"),
        )


def test_the_advice_on_stops_knows_what_the_tap_taught(placed):
    lines = lines_in(placed)
    taught = taught_by_taps(placed["readings_on_route"], lines, CONSTANTS)[0]
    own = next(tabulate(placed["readings_on_route"], lines, CONSTANTS).by_line(CONSTANTS))[1]
    plain, told = (
        HeardLine(lines, 0, own, 5.0, each).problem(LEAK_M, CONSTANTS) for each in ({}, taught)
    )
    decay = kernel.BANDS + kernel.DECAY
    assert told.mean[decay] == taught["pipe_decay/wide"][0] != plain.mean[decay]
    assert told.precision[decay] > plain.precision[decay]
    np.testing.assert_array_equal(np.delete(told.mean, [0, 2, 5, 7]),
                                  np.delete(plain.mean, [0, 2, 5, 7]))  # fmt: skip


def test_a_part_of_a_job_needs_no_layer_of_the_fittings(placed):
    alone = leakgeo.profile(replace(leakgeo.read_job(job()), contacts=None))
    assert of_taps(alone)["tap_m"].tolist() == of_taps(placed)["tap_m"].tolist()


def codes(result):
    return set(of_taps(result)["reason_code"])


def test_a_fitting_that_is_not_known_or_not_on_the_line_is_a_fault():
    layers = job()
    unknown = layers["readings"].assign(
        tap_open=layers["readings"]["tap_open"].where(layers["readings"]["tap_open"].isna(), "X-1")
    )
    done = leakgeo.profile({**layers, "readings": unknown})
    fault = {f.code: f for f in done.job.faults}["reference_unknown"]
    assert (fault.column, fault.effect) == ("tap_open", "rejected")
    assert not of_taps(done)["used"].any()
    # That of the other line.
    other = unknown.assign(tap_open=unknown["tap_open"].where(unknown["tap_open"].isna(), "B-bib"))
    done = leakgeo.profile({**layers, "readings": other})
    assert codes(done) == {"tap_not_on_line"}
    assert {f.code: f for f in done.faults}["tap_not_on_line"].effect == "rejected"
    assert done["readings_on_route"]["used"].sum() == 2 * len(SHUT)


def test_only_readings_that_the_tap_dominates_are_used():
    layers = job()
    open_ = layers["readings"]["tap_open"].notna()
    quieter = layers["readings"]["sound_level"] - np.where(open_, 25.0, 0.0)
    done = leakgeo.profile({**layers, "readings": layers["readings"].assign(sound_level=quieter)})
    own = of_taps(done)
    assert codes(done) == {"tap_teaches", "tap_not_louder"}
    assert own["chainage_m"][own["used"]].max() < own["chainage_m"][~own["used"]].max()
    unknown = layers["readings"].assign(gain_db=np.nan)
    assert codes(leakgeo.profile({**layers, "readings": unknown})) == {"tap_not_compared"}
    # Of one walk, levels are compared without a known gain.
    together = unknown.assign(walk_id="W")
    assert codes(leakgeo.profile({**layers, "readings": together})) == {"tap_teaches"}


def test_what_sounds_besides_is_subtracted_in_power():
    layers = job()
    table = pd.concat([line_of(name, y, tap=name == "A", noise_db=0.0, tap_db=49.0)
                       for name, y in (("A", 0.0), ("B", 100.0))], ignore_index=True)  # fmt: skip
    done = leakgeo.profile({**layers, "readings": gpd.GeoDataFrame(table, crs=CRS)})
    found = taps.tap_table(done["readings_on_route"], lines_in(done), CONSTANTS)
    x = found.numbers["chainage_m"]
    alone = 10 * np.log10(power(x, TAP_M, 49.0, 0.7))
    assert found.numbers["level_db"] == pytest.approx(alone, abs=0.2)
    both = 10 * np.log10(10 ** (alone / 10) + power(x, LEAK_M, 45.0, 0.15) + 10**2.5)
    assert (both - alone).max() > 0.5
    # The error of the subtraction grows where less is left.
    assert np.argmax(found.numbers["rounding_sd_db"]) >= len(x) - 2


def test_a_tap_gives_more_to_the_pipe_than_a_leak_has_been_assumed_to(placed):
    lines, weights = lines_in(placed), load_tap_weights()["difference"]
    table = taps.tap_table(placed["readings_on_route"], lines, CONSTANTS)
    own = table.cut(table.rows(0), CONSTANTS)
    leak = build_problem(own, CONSTANTS.materials["pvc"], 0.9, CONSTANTS)
    tap = tap_calibration.problem_of_tap(leak, own.offsets.bands)
    more = tap.mean[kernel.PIPED] - leak.mean[kernel.PIPED]
    assert more == pytest.approx(weights["pipe_share_more_logit"])
    for at, error in ((kernel.DEPTH, "depth_ln"), (kernel.PIPED, "pipe_share_logit"),
                      (kernel.BANDS + kernel.DECAY, "pipe_decay_ln"),
                      (kernel.BANDS + kernel.SOIL, "soil_decay_ln")):  # fmt: skip
        wider = 1.0 / tap.precision[at] - 1.0 / leak.precision[at]
        assert wider == pytest.approx(weights[error] ** 2)
    assert tap.precision[-2] == pytest.approx(weights["fitting_sd_m"] ** -2)
    assert tap.mean[-1] == leak.mean[-1]


@given(st.floats(0.0, 40.0), st.floats(-30.0, 60.0))
def test_levels_over_the_quiet_line_are_differences_of_decibels(louder, quiet):
    frame = pd.DataFrame({
        "line_id": "A", "sensor": None, "band": None, "air": None, "sound_unit": "db",
        "walk_id": "W", "gain_known": True, "tap_open": [None, None, "C"], "sweep_m": np.nan,
        "offset_m": 0.0, "tap_m": [np.nan, np.nan, 1.0], "chainage_m": [1.0, 2.0, 1.5],
        "level_db": [quiet - 1.0, quiet + 1.0, quiet + louder],
    })  # fmt: skip
    over = over_quiet_db(frame, np.ones(3, dtype=bool))
    assert np.isnan(over[:2]).all()
    assert over[2] == pytest.approx(louder, abs=1e-9)


@pytest.fixture
def alike(monkeypatch):
    """A tap that sounds as a leak does: no difference of constants."""
    weights = load_tap_weights()
    none = {**dict.fromkeys(weights["difference"], 1e-9), "floor_below_db": 40.0}
    none["fitting_sd_m"] = 1e-3
    for module in (taps, tap_calibration):
        monkeypatch.setattr(module, "load_tap_weights", lambda: {**weights, "difference": none})


def test_the_decay_is_that_of_a_plain_least_squares_fit(placed, alike):
    lines = lines_in(placed)
    law = NoiseLaw.of([[1e-6, 1.0, 0.6, 1.0]])
    quiet = {**CONSTANTS.noise, "outlier_share": 1e-12, "reading_db": 1e-3}
    assumed = replace(CONSTANTS, noise_law=law, noise=quiet)
    found = taught_by_taps(placed["readings_on_route"], lines, assumed)[0]
    own = of_taps(placed)
    x = own["chainage_m"].to_numpy()
    # The leak and the ambient noise are known here, and are subtracted.
    heard = 10 ** (own["level_db"].to_numpy() / 10) - power(x, LEAK_M, 45.0, 0.15) - 10**2.5
    level, side = 10 * np.log10(heard), np.sign(x - TAP_M)
    spread, pvc = CONSTANTS.spread, CONSTANTS.materials["pvc"]
    middle = np.array([np.log(0.9), np.log(pvc.pipe_share / (1 - pvc.pipe_share)), 0.0,
                       np.log(pvc.pipe_decay_db_per_m), np.log(1.5), np.median(level)])  # fmt: skip
    sd = [spread[n] for n in ("known_depth_ln", "pipe_share_logit", "pipe_side_ln",
                              "pipe_decay_ln", "soil_decay_ln", "level_db")]  # fmt: skip

    def misfit(theta):
        depth, share, asymmetry, decay, soil, top = theta
        ends = [
            relative_level(x - TAP_M, Spreading(
                np.exp(depth), np.exp(decay + s), 1 / (1 + np.exp(-share)), np.exp(soil), 1e-4),
                CONSTANTS.smear_m["unknown"])
            for s in (-asymmetry, asymmetry)
        ]  # fmt: skip
        off = (level - top - np.where(side < 0, ends[0], ends[1])) / 0.6
        return np.r_[off, (theta - middle) / sd]

    plain = optimize.least_squares(misfit, middle)
    error = np.sqrt(np.diag(np.linalg.inv(plain.jac.T @ plain.jac)))
    mean, found_sd = found["pipe_decay/wide"]
    assert np.exp(mean) * DB == pytest.approx(np.exp(plain.x[3]), rel=0.06)
    assert found_sd == pytest.approx(error[3], rel=0.25)
    assert np.exp(mean) * DB == pytest.approx(DECAY_DB_PER_M, rel=0.3)


def test_decays_in_a_world_of_other_physics_are_near_the_true_ones():
    world = tapped_rough_noise(60, 4)
    done = leakgeo.profile(world.layers)
    lines, placed = lines_in(done), done["readings_on_route"]
    taught = taught_by_taps(placed, lines, CONSTANTS)
    assert len(taught) > 30
    rows = []
    for k, found in taught.items():
        name = str(lines.table.index[k])
        line = draw_line("", (0.0, 0.0), np.random.default_rng([4, int(name[-4:]) - 1]))
        truth = np.log(line.pipe.loss_db_per_m / DB)
        key = next(each for each in found if each.startswith("pipe_decay"))
        times = CONSTANTS.bands[key.split("/")[1]].decay_times
        assumed = CONSTANTS.materials[lines.material[k]].pipe_decay_db_per_m * times
        own = placed[(placed["line_id"] == name) & (placed["reason_code"] == "tap_teaches")]
        away = np.abs(own["chainage_m"] - own["tap_m"])
        slope = max(-np.polyfit(away, own["level_db"], 1)[0], 0.05)
        rows.append([found[key][0], np.log(assumed / DB), np.log(slope / DB)] - truth)
        rows[-1] = np.append(rows[-1], found[key][1])
    error, assumed, slope, sd = np.array(rows).T
    assert np.mean(np.abs(error) < 2.0 * sd) > 0.85
    # Nearer than what is assumed for the material, and than a straight line through the levels.
    assert np.mean(error**2) < 0.9 * np.mean(assumed**2)
    assert np.mean(error**2) < 0.5 * np.mean(slope**2)


def test_zones_of_leaks_are_no_longer_and_cover_as_often():
    found = compared(tapped_rough_noise(30, 7))
    zone, cover = 2, 1
    assert len(found.bits) > 8
    assert found.with_tap[:, zone].mean() < 1.15 * found.without[:, zone].mean()
    assert found.with_tap[:, cover].sum() >= found.without[:, cover].sum() - 1
    # Next to nothing is expected, and nothing much is gained or lost.
    assert 0.0 <= found.expected.mean() < 0.05
    assert abs(np.median(found.bits)) < 0.15
    assert (found.bits != 0.0).any()


@given(st.floats(0.05, 2.0), st.floats(0.05, 2.0), st.floats(0.0, 1.0), st.floats(-2.0, 2.0))
def test_what_is_carried_over_is_the_conditional_of_a_joint_normal(leak_sd, apart, share, off):
    tap_sd = float(np.hypot(leak_sd, apart))
    fitted = Normal(off, share * tap_sd)
    found = carried_over(Normal(0.3, leak_sd), Normal(0.3, tap_sd), fitted)
    # Monte Carlo's limit: the law of total variance over the tap's constant.
    slope = leak_sd**2 / tap_sd**2
    assert found.mean == pytest.approx(0.3 + slope * (off - 0.3))
    conditional = 1.0 / (1.0 / leak_sd**2 + 1.0 / apart**2)
    assert found.sd**2 == pytest.approx(conditional + slope**2 * fitted.sd**2)
    assert found.sd <= leak_sd * (1.0 + 1e-9)


def test_better_known_constants_are_those_of_a_narrower_prior():
    now, leaks = walked(1.2), np.array([4.0, 9.7])
    by_prior = cramer_rao_sd(now, leaks, plain_noise(pipe_decay_ln=0.1, pipe_share_logit=0.2))
    known = {"pipe_decay": 0.1, "pipe_share": 0.2}
    assert cramer_rao_sd(now, leaks, plain_noise(), known) == pytest.approx(by_prior, rel=1e-12)
    spread = CONSTANTS.spread
    same = {"pipe_decay": spread["pipe_decay_ln"], "pipe_share": spread["pipe_share_logit"]}
    none = cramer_rao_sd(now, leaks, CONSTANTS)
    assert cramer_rao_sd(now, leaks, CONSTANTS, same) == pytest.approx(none, rel=1e-12)


def test_errors_of_constants_are_those_of_the_inverted_information():
    now, assumed = replace(walked(1.0), position_sd_m=np.zeros(20)), plain_noise()
    law, spread = now.spreading, CONSTANTS.spread
    # Place, level, depth, share, side, trend, decay, soil, floor.
    middle = np.array([2.0, 0.0, np.log(law.depth_m), np.log(law.pipe_share / (1 - law.pipe_share)),
                       0.0, 0.0, np.log(law.pipe_decay_db_per_m), np.log(law.soil_decay_db_per_m),
                       np.log(law.floor)])  # fmt: skip
    sd = np.array([1.0, spread["level_db"], 0.3, 2.0, spread["pipe_side_ln"],
                   spread["trend_db"] / DB, 0.9, 0.8, spread["floor_db"] / DB])  # fmt: skip
    # Off the stops, where the level has a kink at the source.
    middle[0] = 2.31
    slopes = optimize.approx_fprime(middle, lambda theta: _level(now, theta), 1e-6)
    own = slopes / assumed.noise_law.centre()[2]
    error = np.sqrt(np.diag(np.linalg.inv(own.T @ own + np.diag(sd**-2.0))))
    prior = {"place": 1.0, "depth": 0.3, "pipe_share": 2.0, "pipe_decay": 0.9, "soil_decay": 0.8}
    found = constants_sd(now, 2.31, assumed, prior)
    assert list(found.values()) == pytest.approx(error[[0, 2, 3, 6, 7]], rel=2e-3)


def listening(step_m=1.5, decay=0.8):
    x = np.arange(0.0, 30.0, step_m)
    law = Spreading(0.9, decay, 0.4, 1.5, 0.01)
    return Listening(x, np.full(x.size, 0.05), np.full(x.size, 0.1), law, 30.0, True)


def test_more_stops_beside_the_tap_gain_more_and_few_gain_next_to_nothing():
    few, many = (known_after_trickle(listening(), 1.0, CONSTANTS, n) for n in (2, 12))
    spread = CONSTANTS.spread
    assert many["pipe_decay"] < few["pipe_decay"] < spread["pipe_decay_ln"]
    gains = [trickle_gain_bits(listening(), [16.1], 1.0, CONSTANTS, n) for n in (2, 6, 12)]
    assert 0.0 <= gains[0] <= gains[1] <= gains[2] < 0.01
    # Where stops are few, the place depends on the constants.
    sparse = trickle_gain_bits(listening(5.0), [16.1], 1.0, CONSTANTS)
    assert 10 * gains[1] < sparse < 0.1
    nowhere = replace(listening(), **dict.fromkeys(("chainage_m", "position_sd_m", "smear_m"),
                                                   np.empty(0)))  # fmt: skip
    assert trickle_gain_bits(nowhere, [16.1], 1.0, CONSTANTS) == 0.0


def test_an_outlet_away_from_the_leak_with_readings_beside_it_is_opened():
    names = np.array([f"C-{k}" for k in range(4)], dtype=object)
    kinds = np.array(["hose_bib", "main_valve", "hydrant", "sink"], dtype=object)
    fittings = LineFittings(np.array([15.0, 3.0, 6.0, 27.0]), kinds, names)
    now = listening()
    assert tap_to_open(fittings, now, np.array([16.0])) == 3
    assert tap_to_open(fittings, now, np.array([28.0])) == 0
    assert tap_to_open(fittings, now, np.array([16.0, 26.0])) is None
    far = replace(
        now, **{c: getattr(now, c)[:9] for c in ("chainage_m", "position_sd_m", "smear_m")}
    )
    assert tap_to_open(fittings, far, np.array([15.0])) is None

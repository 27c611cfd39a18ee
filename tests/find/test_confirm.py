"""Compressed air on and off: pairs, their statistics against scipy, verdicts, and the posterior."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import shapely
from scipy import integrate, stats

import leakgeo
from leakgeo.find.evidence import air_odds
from leakgeo.find.evidence.air import AirPlaces, _bins, air_places
from leakgeo.find.evidence.air_likelihood import _log_t, air_likelihood, updated_posterior
from leakgeo.find.evidence.air_odds import air_verdict, bayes_factor, changes_more
from leakgeo.find.levels.readings import tabulate
from leakgeo.find.posterior.posterior import Posterior
from leakgeo.find.posterior.rivals import Rival
from leakgeo.route.lines import kept_lines_of
from leakgeo.sound.constants import load_constants
from leakgeo.sound.spreading import DB, Spreading, relative_level
from tests.job import jobs

CONSTANTS = load_constants()
MOST_OVER_KPA = 68.95
PLASTIC = Spreading(0.9, 4.0, 0.15, 1.5, 10**-1.4)
PSI_KPA = 6.894757293168361  # NIST SP 811


def places(chainage_m, changes):
    """Give places with each pair's change of level."""
    x = np.array(chainage_m, dtype=float)
    means = np.array([np.mean(own) for own in changes])
    squares = np.array([np.sum((np.array(own) - np.mean(own)) ** 2) for own in changes])
    pairs = np.array([len(own) for own in changes])
    return AirPlaces(x, 0 * x + 0.05, 0 * x, means, 0 * x, pairs, squares, np.nan * x)


def drawn(rng, leak_m, at=(5.0, 25.0), pairs=4, gain_db=None, noise_db=1.5 * 2**0.5):
    """Draw changes as the model has them; no leak if `leak_m` is None."""
    gain = rng.normal(8.0, 4.0) if gain_db is None else gain_db
    common = rng.normal(0.0, 3.0)
    floor = 10 ** (rng.normal(-14.0, CONSTANTS.spread["floor_db"]) / 10)
    expected = np.full(len(at), common)
    if leak_m is not None:
        bare = replace(PLASTIC, floor=0.0)
        heard = np.exp(relative_level(leak_m - np.array(at), bare) / DB)
        expected += DB * np.log((10 ** (gain / 10) * heard + floor) / (heard + floor))
    return places(at, [rng.normal(e, noise_db, pairs) for e in expected])


def constants(**air):
    return replace(CONSTANTS, air={**CONSTANTS.air, **air})


def test_the_pooled_error_is_that_of_scipy_where_nothing_is_assumed():
    rng = np.random.default_rng(3)
    mark, control = rng.normal(8, 2, 6), rng.normal(0, 2, 4)
    own = places([5, 20], [mark, control])
    sd, degrees = own.noise(constants(scale_degrees=1e-12))
    t = (own.change_db[0] - own.change_db[1]) / (sd * np.sqrt(np.sum(1 / own.pairs)))
    peer = stats.ttest_ind(mark, control)
    assert degrees == pytest.approx(peer.df)
    assert t == pytest.approx(peer.statistic)


@pytest.mark.parametrize("shift", [-4.0, 0.0, 3.0, 4.0, 5.0, 8.0])
def test_a_place_stands_out_where_the_interval_of_scipy_says_so(shift):
    rng = np.random.default_rng(9)
    mark, control = rng.normal(shift, 2, 5), rng.normal(0, 2, 5)
    peer = stats.ttest_ind(mark, control).confidence_interval(0.95)
    clear = np.mean(mark) - np.mean(control) >= 3.0
    more = changes_more(places([5, 20], [mark, control]), 0, 1, constants(scale_degrees=1e-12))
    assert more == (peer.low > 0 and clear)


def test_the_density_of_the_means_is_a_multivariate_t():
    own = places([5, 20], [[9.0, 7.5, 8.0], [0.5, -1.0]])
    sd, degrees = own.noise(CONSTANTS)
    shape = np.diag(sd**2 / own.pairs + CONSTANTS.air["misfit_db"] ** 2)
    peer = stats.multivariate_t([7.0, 1.0], shape, df=degrees)
    assert _log_t(np.array([7.0, 1.0]), own, CONSTANTS) == pytest.approx(peer.logpdf(own.change_db))


def test_the_odds_are_those_of_integrals_by_scipy():
    own, only = places([5.0, 6e5], [[5.0, 6.5], [1.0, 0.0]]), constants(fails=1e-12)
    calm = replace(only, spread={**only.spread, "floor_db": 1e-3})
    sd, degrees = own.noise(calm)
    shape = np.diag(sd**2 / own.pairs + calm.air["misfit_db"] ** 2)
    floor = PLASTIC.floor

    def density(here, common):
        away = own.change_db - np.stack([here + common, 0.0 * here + common], axis=-1)
        return stats.multivariate_t.pdf(away, [0.0, 0.0], shape, degrees)

    def change(gain):
        return DB * np.log((10 ** (gain / 10) + floor) / (1 + floor))

    # Steps of 0.1 dB: what is integrated is smooth, and some decibels wide.
    gain, common = np.linspace(0.1, 60, 600), np.linspace(-8, 8, 161)
    likely = stats.norm.pdf(common, 0, 1.5)
    prior = stats.lognorm.pdf(gain, 0.5, scale=8)
    leak = density(change(gain[:, None]), common) * prior[:, None] * likely
    heard = integrate.simpson(integrate.simpson(leak, x=common), x=gain)
    still = integrate.simpson(density(0.0 * common, common) * likely, x=common)
    weight = air_likelihood(np.array([5.0]), own, PLASTIC, calm)
    assert weight.leak[0] - weight.none == pytest.approx(np.log(heard / still), abs=0.05)


def test_probabilities_from_the_odds_come_true():
    rng = np.random.default_rng(5)
    only = constants(elsewhere=0.0, scale_degrees=1e6, fails=1e-9)
    leaks = rng.random(500) < 0.5
    odds = np.array([
        bayes_factor(drawn(rng, 5.0 if leak else None), 0, PLASTIC, only) for leak in leaks
    ])  # fmt: skip
    claim = odds / (1 + odds)
    for low, high in ((0.0, 0.2), (0.2, 0.8), (0.8, 1.0)):
        own = (claim >= low) & (claim < high)
        error = np.sqrt(np.sum(claim[own] * (1 - claim[own]))) / own.sum()
        assert own.sum() > 40
        assert leaks[own].mean() == pytest.approx(claim[own].mean(), abs=3 * error + 0.02)


def test_verdicts_are_seldom_wrong_and_mostly_given():
    rng = np.random.default_rng(6)
    leak = [air_verdict(drawn(rng, 5.0, pairs=6), 0, PLASTIC, CONSTANTS).verdict for _ in range(60)]
    none = [
        air_verdict(drawn(rng, None, pairs=6), 0, PLASTIC, CONSTANTS).verdict for _ in range(60)
    ]
    assert none.count("confirmed") <= 2
    assert leak.count("not_this") <= 5
    assert leak.count("confirmed") >= 36
    assert none.count("not_this") >= 18


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        (([9, 8, 9.5, 8.5], [0, 1, -1, 0]), "confirmed"),
        (([0, 1, -1, 0, 0.5, -0.5], [0.5, 0, -1, 0, 0, 1]), "not_this"),
        (([0, 1, -1, 0], [8, 9, 8, 7]), "not_this"),
        (([2, 3, -1], [0, 1, -1]), "inconclusive"),
        (([12, 11, 12, 11], [10, 11, 10, 11]), "inconclusive"),
        (([9], [0]), "inconclusive"),
        (([9, 9, 9], [0]), "inconclusive"),
    ],
)
def test_verdicts(changes, verdict):
    assert air_verdict(places([5, 25], changes), 0, PLASTIC, CONSTANTS).verdict == verdict


def test_without_a_control_nothing_is_confirmed():
    found = air_verdict(places([5], [[9, 9, 9, 9]]), 0, PLASTIC, CONSTANTS)
    assert (found.verdict, found.more_pairs, len(found.controls)) == ("inconclusive", None, 0)


def test_a_control_that_hears_the_leak_too_does_not_speak_against_it():
    metal = Spreading(0.9, 0.3, 0.5, 1.5, 10**-2.5)
    found = air_verdict(places([5, 8.5], [[8, 8, 9, 8], [8, 8, 7, 8]]), 0, metal, CONSTANTS)
    assert found.verdict == "inconclusive"
    assert found.odds > 1.0


def test_as_many_more_pairs_as_are_reported_decide_if_they_come_out_alike():
    mark, control = [5.0, 3.0], [0.0, 1.0]
    more = air_verdict(places([5, 25], [mark, control]), 0, PLASTIC, CONSTANTS).more_pairs
    assert more is not None
    assert more > 1
    repeats = 1 + int(np.ceil(more / 2)) + 1
    again = air_verdict(places([5, 25], [mark * repeats, control * repeats]), 0, PLASTIC, CONSTANTS)
    assert again.verdict == "confirmed"


def flat(leak_probability=0.9, length_m=30.0):
    x = np.arange(0.025, length_m, 0.05)
    return Posterior(x, np.full(x.size, 1 / x.size), leak_probability, on_nearby_lines=(),
                     other_source_probability=0.2, sound_log_bf=5.0, leak_log_bf=5.0,
                     log_evidence=0.0)  # fmt: skip


def share(found, begin, end):
    inside = (found.chainage_m > begin) & (found.chainage_m < end)
    return found.probability[inside].sum()


def test_where_air_changes_the_sound_a_leak_is_likelier():
    own = places([5, 25], [[9, 8, 9.5, 8.5], [0, 1, -1, 0]])
    after = updated_posterior(flat(), own, PLASTIC, CONSTANTS)
    assert after.probability.sum() == pytest.approx(1.0)
    assert share(after, 2, 8) > 3 * share(flat(), 2, 8)
    assert share(after, 22, 28) < 0.01
    assert after.leak_probability > 0.98
    assert after.leak_log_bf > flat().leak_log_bf + 3.0
    assert after.sound_log_bf > flat().sound_log_bf + 3.0


def test_where_air_changes_nothing_a_leak_is_less_likely():
    quiet = [0, 1, -1, 0, 0.5, -0.5]
    after = updated_posterior(flat(), places([5, 25], [quiet, quiet]), PLASTIC, CONSTANTS)
    assert share(after, 4, 6) < 0.5 * share(flat(), 4, 6)
    assert share(after, 14, 16) > share(flat(), 14, 16)
    assert after.leak_probability < flat().leak_probability
    assert after.leak_log_bf < flat().leak_log_bf
    assert after.sound_log_bf == flat().sound_log_bf


def test_air_near_an_end_makes_a_leak_beyond_it_louder_too():
    ends = Rival("beyond_start", 0.1, 0.0), Rival("beyond_end", 0.1, 30.0), Rival("unknown", 0.1)
    own = places([0.5, 25], [[9, 8, 9.5, 8.5], [0, 1, -1, 0]])
    start, end, other = updated_posterior(
        replace(flat(0.5), rivals=ends), own, PLASTIC, CONSTANTS
    ).rivals  # fmt: skip
    assert start.probability > 20 * other.probability
    assert end.probability < 2 * other.probability


def test_a_loud_place_that_air_does_not_change_is_hardly_the_leak():
    still = [0, 0.5, -0.5, 0, 0.5]
    quiet = places([5, 25], [still, still])
    # The place is 14 dB louder than the control, so that the floor does not hide the change.
    loud = replace(quiet, off_db=quiet.off_db + [14.0, 0.0], on_db=quiet.on_db + [14.0, 0.0])
    factor = air_likelihood(np.array([5.0]), loud, PLASTIC, CONSTANTS)
    assert -4.5 < float(factor.leak[0]) - factor.none < -3.0
    as_loud = air_likelihood(np.array([5.0]), quiet, PLASTIC, CONSTANTS)
    assert as_loud.leak[0] - as_loud.none > factor.leak[0] - factor.none


def test_no_air_test_makes_certain():
    loud = places([5, 25], [[12.0] * 40, [0.0] * 40])
    before, after = flat(0.5), updated_posterior(flat(0.5), loud, PLASTIC, CONSTANTS)
    assert after.leak_probability <= 1000 / 1001 + 1e-9
    weight = air_likelihood(before.chainage_m, loud, PLASTIC, CONSTANTS)
    assert weight.leak.max() - weight.leak.min() <= np.log(1001) + 1e-9


def test_a_likelihood_is_the_same_on_a_long_line():
    own = places([5, 25], [[9, 8], [0, 1]])
    long = flat(length_m=3000.0)
    after = updated_posterior(long, own, PLASTIC, CONSTANTS)
    assert np.isfinite(after.probability).all()
    assert np.ptp(after.probability[long.chainage_m > 100]) < 1e-3 * after.probability.min()


def test_bins_are_no_longer_than_their_reach():
    code = _bins(np.array([3.0, 1.0, 1.3, 1.6, 3.2]), 0.5)
    assert code.tolist() == [2, 0, 0, 1, 2]


def air_job(folder, mark=(9, 8, 9, 8), control=(0, 1, 0, -1), **columns):
    """Give a job with a walk, and then air off and on by turns at 10 m and at 25 m."""
    walk = np.arange(1.0, 29.0)
    level = 60 + relative_level(walk - 10.2, PLASTIC)
    x, shown, air = list(walk), list(level), [None] * len(walk)
    for at, quiet, changes in ((10.0, 60.0, mark), (25.0, 40.0, control)):
        for change in changes:
            x += [at, at]
            shown += [quiet, quiet + change]
            air += ["off", "on"]
    n = len(x)
    table = jobs.readings(
        n, sound_level=np.round(shown), air=air, chainage_m=x, seq=np.arange(n),
        walk_id=["walk"] * len(walk) + ["air"] * (n - len(walk)), **columns,
    )  # fmt: skip
    shapes = shapely.points(jobs.EAST + np.array(x), np.full(n, jobs.NORTH))
    return jobs.read(folder, readings=table.set_geometry(shapes, crs=jobs.CRS),
                     routes=jobs.routes(pressure_kpa=[414.0, 414.0]))  # fmt: skip


def test_the_step_judges_mark_and_control(tmp_path):
    result = leakgeo.confirm(air_job(tmp_path))
    tests = result["air_tests"].set_index("role")
    assert tests["verdict"].to_dict() == {"mark": "confirmed", "control": "not_this"}
    mark = tests.loc["mark"]
    assert mark["difference_db"] == pytest.approx(8.5)
    assert (mark["pairs"], mark["more_pairs"]) == (4, 0)
    assert mark["control_chainage_m"] == pytest.approx(25.0, abs=0.1)
    assert "licensed" in mark["cautions"]
    assert "protect your ears" in mark["cautions"]
    assert "times likelier if the leak sounds here" in mark["message"]


def test_air_without_its_pressure_is_reported(tmp_path):
    result = leakgeo.confirm(air_job(tmp_path))
    assert any("not on record" in f.problem for f in result.faults)


def test_readings_one_way_only_are_reported(tmp_path):
    job = air_job(tmp_path, mark=(9, 8), control=())
    located = leakgeo.locate(job)
    readings = located["readings_on_route"].copy()
    last = readings.index[readings["air"] == "on"][-1]
    readings.loc[last, "used"] = False
    places, faults = air_places(
        located.adding({"readings_on_route": readings}), CONSTANTS, MOST_OVER_KPA
    )
    assert places["L1"].pairs.tolist() == [1]
    assert "have no partner" in faults[-1].problem


def test_pairs_follow_the_clock_and_never_cross_gains(tmp_path):
    located = leakgeo.locate(air_job(tmp_path, mark=(9, 1), control=()))
    readings = located["readings_on_route"].copy()
    air = readings["air"].notna()
    shuffled = pd.concat([readings[~air], readings[air][::-1]], ignore_index=True)
    places, _ = air_places(
        located.adding({"readings_on_route": shuffled}), CONSTANTS, MOST_OVER_KPA
    )
    assert places["L1"].square_db2[0] == pytest.approx(32.0)
    known = readings.assign(gain_known=readings["air"].eq("on"))
    assert not air_places(located.adding({"readings_on_route": known}), CONSTANTS, MOST_OVER_KPA)[0]


@pytest.mark.parametrize(
    ("odds", "verdict"),
    [(20.0, "confirmed"), (19.9, "inconclusive"), (5.0, "inconclusive"),
     (0.11, "inconclusive"), (0.1, "not_this")],
)  # fmt: skip
def test_a_verdict_needs_strong_evidence(monkeypatch, odds, verdict):
    monkeypatch.setattr(air_odds, "bayes_factor", lambda *_: odds)
    clear = places([5, 20], [[9.0, 9.0, 9.0], [0.0, 0.0, 0.0]])
    assert air_verdict(clear, 0, PLASTIC, CONSTANTS).verdict == verdict


def test_a_verdict_needs_two_pairs_and_a_control_three_metres_away(monkeypatch):
    monkeypatch.setattr(air_odds, "bayes_factor", lambda *_: 100.0)
    pairs = [[9.0, 9.0], [0.0, 0.0]]
    far, near = (air_verdict(places([5, at], pairs), 0, PLASTIC, CONSTANTS) for at in (8.0, 7.9))
    assert (far.verdict, near.verdict) == ("confirmed", "inconclusive")
    assert (len(far.controls), len(near.controls)) == (1, 0)
    for one in ([pairs[0], [0.0]], [[9.0], pairs[1]]):
        assert air_verdict(places([5, 20], one), 0, PLASTIC, CONSTANTS).verdict == "inconclusive"


@pytest.mark.parametrize(
    ("others", "rivals"),
    [
        ([-1.0, -2.0], 0.4 / 2 * (np.exp(-1) + np.exp(-2)) + 0.6 * np.exp(-3)),
        ([-1.0], 0.4 * np.exp(-1) + 0.6 * np.exp(-3)),
        ([], np.exp(-3)),
    ],
)
def test_the_other_places_share_what_the_prior_gives_to_a_leak_elsewhere(
    monkeypatch, others, rivals
):
    weight = SimpleNamespace(leak=np.array([0.0, *others]), none=-3.0)
    monkeypatch.setattr(air_odds, "air_likelihood", lambda *_: weight)
    own = places(
        [5, 15, 25][: 1 + len(others)], [[9.0, 8.0], [1.0, 0.0], [0.0, 0.0]][: 1 + len(others)]
    )
    odds = bayes_factor(own, 0, PLASTIC, constants(elsewhere=0.4))
    assert odds == pytest.approx(1 / rivals)


@pytest.mark.parametrize(("mark_pairs", "control_pairs"), [(2, 50), (50, 2), (7, 7)])
def test_the_error_of_a_difference_has_the_pairs_of_both_places(mark_pairs, control_pairs):
    def more(apart):
        own = replace(
            places([5, 20], [[apart] * 2, [0.0] * 2]),
            pairs=np.array([mark_pairs, control_pairs]), square_db2=np.array([40.0, 40.0]),
        )  # fmt: skip
        return changes_more(own, 0, 1, constants(scale_degrees=1e-12))

    degrees = mark_pairs + control_pairs - 2
    sd = np.sqrt(80.0 / degrees * (1 / mark_pairs + 1 / control_pairs))
    least = max(3.0, stats.t.ppf(0.975, degrees) * sd)
    assert more(least + 1e-9)
    assert not more(least - 1e-9)


@pytest.mark.parametrize(("apart", "clear"), [(3.0, True), (2.99, False)])
def test_three_decibels_are_clearly_audible(apart, clear):
    # So many pairs that the error of the difference does not matter.
    own = places([5, 20], [[apart] * 400, [0.0] * 400])
    assert changes_more(own, 0, 1, CONSTANTS) is clear


def test_further_pairs_are_as_many_as_decide_and_no_more_than_twenty(monkeypatch):
    first = places([5, 20], [[6.0, 2.0], [1.0, -1.0]])
    assumed = first.noise(CONSTANTS)[0] ** 2
    seen = []

    def odds_after(at):
        def odds(ahead, *_):
            seen.append(ahead)
            return 100.0 if ahead.pairs[0] >= at else 1.0

        return odds

    for more in (1, 3, 20):
        monkeypatch.setattr(air_odds, "bayes_factor", odds_after(2 + more))
        assert air_verdict(first, 0, PLASTIC, CONSTANTS).more_pairs == more
        # What is added has the spread of what was heard so far.
        last = seen[-1]
        np.testing.assert_allclose(last.square_db2, first.square_db2 + more * assumed)
        assert (last.pairs == 2 + more).all()
    monkeypatch.setattr(air_odds, "bayes_factor", odds_after(2 + 21))
    assert air_verdict(first, 0, PLASTIC, CONSTANTS).more_pairs is None


def test_a_strong_air_test_does_not_lengthen_the_zone(tmp_path):
    # Levels with air on at two places have another contrast than the walk.
    (tmp_path / "only").mkdir()
    (tmp_path / "tested").mkdir()
    before = leakgeo.locate(air_job(tmp_path / "only", mark=(), control=()))
    after = leakgeo.locate(air_job(tmp_path / "tested", mark=(25, 24, 26, 25)))
    lengths = [result["search_zones"]["length_m"].sum() for result in (before, after)]
    assert lengths[1] <= lengths[0] + 0.1
    readings = after["readings_on_route"]
    alone = readings["reason_code"] == "air_compared"
    assert (alone == (readings["air"] == "on")).all()
    assert alone.sum() == 8
    assert readings["used"].all()
    assert readings.loc[alone, "level_comparable_db"].isna().all()
    assert not [f for f in after.faults if "gain may have been changed" in f.problem]


def test_a_line_that_was_walked_with_air_on_is_heard_along_it(tmp_path):
    walk = air_job(tmp_path, mark=(), control=())
    located = leakgeo.locate(walk)
    readings = located["readings_on_route"]
    table = tabulated(located, readings.assign(air="on"))
    assert len(table.line) == len(readings)


def tabulated(located, readings):
    """Give the table of some readings on the lines of a result."""
    return tabulate(readings, kept_lines_of(located.job, 0.3), CONSTANTS)

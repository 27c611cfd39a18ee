"""Lines that meet and leak each by itself: no leak is hidden by that of another line."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.find.locate.model_average import average_models
from leakgeo.find.posterior.posterior import Posterior
from tests.benchmarks.own import located
from tests.find.tees import TEE_M, job_of_two
from tests.find.test_branches import moved

JOBS = 24
PRIOR = 0.9


@pytest.fixture(scope="module")
def both_leak():
    """Leaks 5 to 9 m from the tee on either line, and what was found."""
    rng = np.random.default_rng(21)
    leaks = [{"main": TEE_M + rng.choice([-1, 1]) * rng.uniform(5, 9), "branch": rng.uniform(5, 9)}
             for _ in range(JOBS)]  # fmt: skip
    jobs = [moved(job_of_two(rng, list(own.items())), i) for i, own in enumerate(leaks)]
    found = located({n: pd.concat([j[n] for j in jobs]) for n in ("routes", "readings")}).layers
    truth = {f"{line} {i}": at for i, own in enumerate(leaks) for line, at in own.items()}
    return pd.Series(truth), {
        n: found[n].set_index("line_id") for n in found if "line_id" in found[n] and n != "profile"
    }


def test_neither_leak_is_hidden(both_leak):
    truth, found = both_leak
    odds = found["lines"].loc[truth.index, "leak_probability"]
    assert (odds > 0.5).mean() >= 0.95
    assert (found["lines"]["status"] == "no_leak_heard").mean() <= 0.05


def test_the_zones_hold_both(both_leak):
    truth, found = both_leak
    zones = found["search_zones"]
    at = truth.loc[zones.index].to_numpy()
    inside = (zones["from_chainage_m"] <= at) & (at <= zones["to_chainage_m"])
    held = inside.groupby(level=0).any().reindex(truth.index, fill_value=False)
    # Nine in ten, less two standard errors of so many.
    assert held.mean() >= 0.9 - 2 * (0.09 / len(truth)) ** 0.5


def test_marks_come_true_as_often_as_they_claim(both_leak):
    truth, found = both_leak
    marks = found["marks"][found["marks"]["status"] == "located"]
    hit = (marks["chainage_m"] - truth.loc[marks.index]).abs() < 0.3048
    assert len(marks) > JOBS / 2
    claim = marks["probability_within_1ft"]
    assert hit.mean() >= claim.mean() - 2 * (claim * (1 - claim)).mean() ** 0.5 / len(marks) ** 0.5


def posterior_of(evidence, peak, leak, elsewhere=()):
    density = np.full(10, 0.01)
    density[peak] = 0.91
    return Posterior(np.arange(10) + 0.5, density, leak, elsewhere, 0.1, 3.0, 2.0, evidence)


@given(st.floats(-900, 900), st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_the_average_lies_between_and_sums_to_one(apart, own_leak, one_leak):
    one = posterior_of(-50.0, 2, one_leak, ((7, 0.5 * (1 - one_leak), 3.0),))
    own, other = posterior_of(-30.0 + apart, 7, own_leak), posterior_of(-20.0, 1, 0.5)
    both = average_models(one, own, [other], 0.1, PRIOR)
    assert both.probability.sum() == pytest.approx(1.0, abs=1e-9)
    low, high = sorted([own_leak, one_leak])
    assert low - 1e-12 <= both.leak_probability <= high + 1e-12
    assert both.leak_probability + both.on_nearby_lines[0][1] <= 1.0 + 1e-12
    assert np.isfinite(both.leak_log_bf)


def test_what_speaks_for_one_way_decides():
    """Bayes' rule by hand, for evidence that is alike and for evidence that is not."""
    one, own = posterior_of(-50.0, 2, 0.2), posterior_of(-30.0, 7, 0.8)
    alike = average_models(one, own, [posterior_of(-20.0, 1, 0.5)], 0.1, PRIOR)
    assert alike.leak_probability == pytest.approx(0.9 * 0.2 + 0.1 * 0.8)
    assert alike.probability[7] == pytest.approx((0.18 * 0.01 + 0.08 * 0.91) / 0.26)
    far = average_models(one, own, [posterior_of(60.0, 1, 0.5)], 0.1, PRIOR)
    assert far.leak_probability == pytest.approx(0.8)
    near = average_models(one, own, [posterior_of(-90.0, 1, 0.5)], 0.1, PRIOR)
    assert near.leak_probability == pytest.approx(0.2)
    assert near.leak_log_bf == pytest.approx(np.log(0.2 / 0.8) - np.log(PRIOR / (1 - PRIOR)))


def test_an_average_is_averaged_with_one_more_line():
    """What is on the lines of the first average keeps its share of the second."""
    first = posterior_of(-30.0, 7, 0.4, ((3, 0.5, 9.0),))
    joint = posterior_of(-50.0, 2, 0.2, ((5, 0.7, 4.0),))
    both = average_models(joint, first, [posterior_of(-20.0, 1, 0.5)], 0.25, PRIOR)
    assert both.on_nearby_lines == (
        (5, pytest.approx(0.75 * 0.7), 4.0), (3, pytest.approx(0.25 * 0.5), 9.0),
    )  # fmt: skip
    assert both.leak_probability == pytest.approx(0.75 * 0.2 + 0.25 * 0.4)

"""The limit of the benchmarks: its random inputs, its chain, and what it says told everything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from leakgeo.simulate import Conditions, simulate_field
from leakgeo.simulate.draw_truth import draw_truth
from tests.benchmarks.informed import informed
from tests.benchmarks.inputs import Inputs
from tests.benchmarks.limit import Unknown, drawn, limit, sample

SHORT = Conditions(tape_share=1.0, length_m=(12.0, 13.0), coarse_step_m=2.4, fine_steps=(4, 5))


def test_the_inputs_of_a_field_draw_it_again():
    field, tape = drawn((1, 5), SHORT)
    same = simulate_field(np.random.default_rng((1, 5)), SHORT)
    np.testing.assert_array_equal(field.level, same.level)
    again = draw_truth(Inputs(tape.normal), SHORT, field.sensor, field.length_m)
    assert again.ground.surfaces == field.truth.ground.surfaces
    level = [t.level_db(0, field.true_chainage_m, 6.0) for t in (again, field.truth)]
    np.testing.assert_allclose(*level, atol=1e-9)


@pytest.mark.parametrize("seed", [1, 4])
def test_told_everything_it_is_the_informed_locator(seed):
    field, tape = drawn((2, seed), SHORT)
    line = Unknown(field, tape, SHORT)
    line.restrict(np.ones_like)
    line.free[:] = False
    found, known = limit(line, (1, 1), np.random.default_rng(0)).whole, informed(field)
    assert found.chainage_m == pytest.approx(known.chainage_m, abs=0.051)
    zone = np.diff(known.zones_m).sum()
    assert np.diff(found.zones_m).sum() == pytest.approx(zone, abs=0.11)
    assert found.leak_probability == pytest.approx(known.leak_probability, abs=0.01)


@dataclass(frozen=True)
class Normal:
    """Log likelihood of two unit normals whose sum was measured."""

    total: float
    at: np.ndarray

    @classmethod
    def of(cls, mean, sd):
        """Return the likelihood of a measurement."""
        return lambda at: cls(-0.5 * ((at.sum() - mean) / sd) ** 2, at)


def test_the_chain_has_the_posterior_of_the_exact_likelihood_whatever_the_rough_one():
    likelihoods = Normal.of(1.2, 1.0), Normal.of(2.0, 0.7)
    both = np.ones(2, dtype=bool)
    chain = sample(np.zeros(2), both, likelihoods, (2000, 4), np.random.default_rng(3))
    at = np.array([e.at.sum() for e in chain.evidence])
    # The sum of two unit normals, measured as 2.0 with a deviation of 0.7.
    variance = 1 / (1 / 2 + 1 / 0.49)
    assert at.mean() == pytest.approx(variance * 2.0 / 0.49, abs=0.07)
    assert at.std() == pytest.approx(variance**0.5, rel=0.08)

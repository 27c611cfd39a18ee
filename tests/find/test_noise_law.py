"""The law of the noise: its true node has the most evidence, and a job teaches its weights."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from leakgeo.find.ground.mixing import PRIOR_LINES, mixing_weights
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import adaptive_scan
from leakgeo.find.posterior.initial_fit import initial_fit
from leakgeo.find.posterior.noise import line_noise, node_evidence
from leakgeo.find.posterior.problem import build_problem
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from tests.benchmarks import efficiency
from tests.benchmarks.efficiency import LENGTH_M, Cell, one_walk
from tests.outside import independent
from tests.outside.posteriors import MEMBER, blank

NODES = tuple((*node, 1.0) for node in product((0.7, 1.5, 3.0), (0.5, 1.2), (0.7, 1.4)))
LAW = NoiseLaw.of(NODES)
CONSTANTS = replace(load_constants(), noise_law=LAW)


def even_line(seed, node):
    """A line of the model itself, with a stop every 0.6 m, and its length."""
    rng, material = np.random.default_rng(seed), ("plastic", "metal")[seed[-1] % 2]
    line, _ = independent.draw(rng, blank(material, (node,)))
    problem = build_problem(
        one_walk(line.x_m, line.heard_db), CONSTANTS.materials[MEMBER[material]], line.cover_m,
        CONSTANTS,
    )  # fmt: skip
    return problem, line.length_m


def close_line(seed, material):
    """A line with a coarse walk and one close about the leak, and its length."""
    problem, _, _ = efficiency.draw(np.random.default_rng(seed), Cell(0.9, material, 1.0))
    return problem, LENGTH_M


def evidence(problem, length_m):
    """Log evidence of a line at each node of the law, at its first guess."""
    return node_evidence(problem, *initial_fit(problem, (0.0, length_m)), LAW)


def by_line(node, lines, seed):
    return np.array([evidence(*even_line([seed, i], NODES[node])) for i in range(lines)])


@pytest.mark.parametrize("node", [2, 4, 8, 11])
def test_the_true_noise_has_the_most_evidence(node):
    # Nodes 4 and 8 have a rough coupling and quiet readings: outliers are hard to tell there.
    total = by_line(node, 40, 7).sum(axis=0)
    assert np.argmax(total) == node
    assert total[node] > np.partition(total, -2)[-2] + 5.0


def test_a_mixture_of_two_nodes_is_recovered():
    some, others = by_line(2, 28, 8), by_line(11, 12, 9)
    found = mixing_weights(np.vstack([some, others]), LAW.weight, prior_lines=1.0)
    assert found[[2, 11]] == pytest.approx([0.7, 0.3], abs=0.1)
    # With the weights before as many lines as usual, two nodes are still far above the rest.
    found = mixing_weights(np.vstack([some, others]), LAW.weight)
    assert set(np.argsort(found)[-2:]) == {2, 11}


def test_hardly_any_lines_leave_the_weights_as_they_were():
    before = np.array([0.5, 0.3, 0.2])
    assert mixing_weights(np.empty((0, 3)), before) == pytest.approx(before, abs=1e-12)
    sure = mixing_weights(np.array([[0.0, -900.0, -900.0]]), before)
    assert np.abs(sure - before).max() < 1.0 / PRIOR_LINES


@given(
    arrays(float, st.tuples(st.integers(1, 12), st.just(4)), elements=st.floats(-500.0, 500.0)),
    arrays(float, 4, elements=st.floats(0.01, 1.0)), st.randoms(use_true_random=False),
)  # fmt: skip
def test_weights_sum_to_one_in_any_order_of_lines(log_evidence, before, random):
    before = before / before.sum()
    found = mixing_weights(log_evidence, before)
    assert found.sum() == pytest.approx(1.0, abs=1e-12)
    assert (found >= 0.0).all()
    order = random.sample(range(len(log_evidence)), len(log_evidence))
    assert mixing_weights(log_evidence[order], before) == pytest.approx(found, abs=1e-9)
    # Evidence counts relative to that of the other nodes on the same line.
    assert mixing_weights(log_evidence + 3.0, before) == pytest.approx(found, abs=1e-9)


def step_errors(problem, length_m, steps):
    """Errors of the evidence by Newton steps to the nodes, against full fits, at likely places."""
    span = (0.0, length_m)
    place, start = initial_fit(problem, span)
    noise = line_noise(problem, place, start, LAW)
    problem = replace(problem, noise=noise.centre)
    one = adaptive_scan(kernel.ONE, span, problem, start, place)
    likely = np.flatnonzero(one.evidence > one.evidence.max() - 8.0)[::5]
    rest = problem.readings, problem.codes, problem.mean, problem.precision
    found = kernel.evidence_by_noise(
        kernel.ONE, one.places[likely], one.fitted[likely], one.weights[likely], *rest,
        noise.vectors, steps,
    )  # fmt: skip
    full = np.empty_like(found)
    for a, m in np.ndindex(full.shape):
        k, vector = likely[a], noise.vectors[m]
        theta, weight = one.fitted[k].copy(), one.weights[k].copy()
        work = kernel.make_work(*rest[:2], len(theta), vector)
        for _ in range(3):
            full[a, m] = kernel.fit_at(
                kernel.ONE, one.places[k], theta, weight, *rest, vector, work, -np.inf
            )
    return np.ravel(found - full)


@pytest.mark.parametrize(
    ("steps", "median", "most"), [(1, 0.1, 0.8), (2, 0.05, 0.5)], ids=["one", "two"]
)
def test_steps_to_a_node_are_nearly_a_fit_under_it(steps, median, most):
    lines = [even_line([3, i], NODES[3 * i]) for i in range(4)]
    lines += [close_line([4, i], ("pvc", "copper")[i % 2]) for i in range(4)]
    error = np.abs(np.concatenate([step_errors(*line, steps) for line in lines]))
    assert np.median(error) < median
    assert np.quantile(error, 0.95) < most

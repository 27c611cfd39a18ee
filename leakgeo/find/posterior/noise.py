"""Noise of one line: the nodes of the noise law that its readings leave, and their centre."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit, scan

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.grid import Scan
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.sound.noise_law import NoiseLaw

# Newton steps to a node, which may be far from the noise of the first fit.
_STEPS = 2
# Nodes that are rarer than this among the lines of the job are not tried.
_LEAST_COMMON = 0.003
# A node is left out of a line if its weight there is less than this.
_MIN_WEIGHT = 0.05
# The log evidence of a leak somewhere on the line is below that at the likeliest place by more than
# this, as places are averaged.
_PLACES_NATS = 1.0
# A place this far below the likeliest has no part in the result.
_NEGLIGIBLE_NATS = 12.0


@dataclass(frozen=True)
class LineNoise:
    """Noise vectors that a line is averaged over, and their centre.

    Parameters
    ----------
    vectors : ndarray of float, shape (m, 5)
        Noise vectors of `kernel`.
    log_weight : ndarray of float, shape (m,)
        Logarithm of the weight of each in the noise law, over the share of the evidence of the line
        that they have.
    centre : ndarray of float, shape (5,)
        Their geometric mean by the weights after the readings.
    """

    vectors: Floats
    log_weight: Floats
    centre: Floats

    def times(self, law: NoiseLaw) -> float:
        """Return the coupling of the centre relative to that in the middle of a law."""
        return float(self.centre[kernel.COUPLING_VARIANCE] ** 0.5 / law.centre()[0])

    def averaged(self, model: int, found: Scan, problem: Problem) -> Scan:
        """Return a scan at the centre with its evidence averaged over the noise vectors."""
        likely = found.evidence > found.evidence.max() - _NEGLIGIBLE_NATS
        by_noise = kernel.evidence_by_noise(
            model, found.places[likely], found.fitted[likely], found.weights[likely],
            problem.readings, problem.codes, problem.mean, problem.precision, self.vectors, 1,
        )  # fmt: skip
        averaged = np.logaddexp.reduce(by_noise + self.log_weight, axis=1)
        # Elsewhere the evidence is at the centre, less than at the likely places by as much.
        evidence = found.evidence + (averaged.max() - found.evidence.max())
        evidence[likely] = averaged
        return replace(found, evidence=evidence)

    def silent(self, problem: Problem) -> float:
        """Return the log evidence of ambient noise alone; its noise is the centre."""
        found = scan(kernel.SILENT, np.zeros(1), problem, problem.mean[None])
        return float(self.averaged(kernel.SILENT, found, problem).evidence[0])


def noise_vectors(law: NoiseLaw, problem: Problem) -> Floats:
    """Return the noise vector of `kernel` for each node of a law, shape (m, 5)."""
    vectors = np.tile(problem.noise, (len(law.weight), 1))
    vectors[:, kernel.COUPLING_VARIANCE] = law.nodes[:, 0] ** 2
    vectors[:, kernel.COUPLING_LENGTH] = law.nodes[:, 1]
    vectors[:, kernel.READING_VARIANCE] = law.nodes[:, 2] ** 2
    return vectors


def node_evidence(problem: Problem, place_m: float, start: Floats, law: NoiseLaw) -> Floats:
    """Return the log evidence of the readings at each node: a leak at the place, or silence.

    Parameters
    ----------
    problem : Problem
    place_m : float
        Likeliest place of a leak.
    start : ndarray of float, shape (p,)
        Constants fitted there.
    law : NoiseLaw

    Returns
    -------
    ndarray of float, shape (m,)
    """
    vectors = noise_vectors(law, problem)
    found = [
        _by_node(model, place, problem, begin, vectors)
        for model, place, begin in (
            (kernel.ONE, place_m, start), (kernel.SILENT, 0.0, problem.mean)
        )
    ]  # fmt: skip
    return np.asarray(np.logaddexp(found[0] - _PLACES_NATS, found[1]))


def _by_node(
    model: int, place_m: float, problem: Problem, start: Floats, vectors: Floats
) -> Floats:
    _, fitted, weight = fit(model, place_m, problem, start)
    evidence: Floats = kernel.evidence_by_noise(
        model, np.array([place_m]), fitted[None], weight[None], problem.readings, problem.codes,
        problem.mean, problem.precision, vectors, _STEPS,
    )[0]  # fmt: skip
    return evidence


def line_noise(problem: Problem, place_m: float, start: Floats, law: NoiseLaw) -> LineNoise:
    """Return the noise of a line: the nodes that keep a share of the weight after its readings.

    Parameters are those of `node_evidence`.
    """
    law = law.common(_LEAST_COMMON)
    return noise_given(node_evidence(problem, place_m, start, law), problem, law)


def noise_given(evidence: Floats, problem: Problem, law: NoiseLaw) -> LineNoise:
    """Return the noise of a line from the log evidence of its readings at each node of a law.

    Parameters
    ----------
    evidence : ndarray of float, shape (m,)
    problem : Problem
    law : NoiseLaw
    """
    score = evidence + np.log(law.weight)
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    kept = weight >= min(_MIN_WEIGHT, weight.max())
    vectors, share = noise_vectors(law, problem)[kept], weight[kept] / weight[kept].sum()
    centre = np.exp(share @ np.log(vectors))
    # Nodes that are left out count as the average of those kept, or lines with many would be worse.
    return LineNoise(vectors, np.log(law.weight[kept]) - np.log(weight[kept].sum()), centre)

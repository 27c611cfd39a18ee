"""Distances to all nodes of a network, which the package asks for in pairs alone."""

from __future__ import annotations

from scipy.sparse.csgraph import dijkstra


def distances(network, source):
    """Distance from each source node to every node, shape (n, nodes)."""
    return dijkstra(network.graph(), indices=source)

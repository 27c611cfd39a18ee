"""What the map shows, in one piece."""

from __future__ import annotations

from leakgeo.deliver.map.data import map_views
from leakgeo.deliver.map.line import line_data


def map_data(result, units):
    """Gather what the map shows of a result."""
    views, head = map_views(result, units)
    return {**head, "lines": [line_data(view, units) for view in views]}

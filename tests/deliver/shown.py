"""What the map shows, in one piece."""

from __future__ import annotations

from leakgeo.deliver.map.data import map_data as whole
from leakgeo.deliver.map.latlon import with_latlon
from leakgeo.deliver.map.line import line_data
from leakgeo.deliver.views.line_view import views_of_worded


def map_data(result, units):
    """Gather what the map shows of a result."""
    drawn = with_latlon(result.worded(units, "en"))
    lines = [line_data(view, units) for view in views_of_worded(drawn, units, "en")]
    return {**whole(result, units).head, "lines": lines}

"""A window of a job: the lines that meet a condition, and all that lies within their reach."""

from __future__ import annotations

from leakgeo.job.window.condition import check_condition
from leakgeo.job.window.reach import AROUND_M, NEAR_M, is_own
from leakgeo.job.window.window import Window, read_window

__all__ = ["AROUND_M", "NEAR_M", "Window", "check_condition", "is_own", "read_window"]

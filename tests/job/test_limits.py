"""Limits of the checks of a job, each tried on both of its sides."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pyproj
import pytest

from leakgeo.job.checks.collector import IssueCollector
from leakgeo.job.checks.layer import CheckedLayer
from leakgeo.job.checks.rows import (
    depths_in_doubt,
    implausible_depths,
    implausibly_small_values,
)
from leakgeo.job.crs import choose_local_crs, is_suitable
from leakgeo.job.schema import load_schema


def codes(check, **columns):
    """Give the codes that a check of routes reports."""
    table = pd.DataFrame(columns)
    issues = IssueCollector("routes", np.arange(len(table)).astype(str).astype(object))
    check(table, issues)
    assert issues.good.all()
    return [fault.reason.code for fault in issues.faults]


@pytest.mark.parametrize(
    ("depth_m", "expected"),
    [
        ([2.9, 3.0, 3.0], []),
        ([1.0, 3.1, 3.1], ["depths_implausible"]),  # of 3 ft, 10 ft and 10 ft
        ([3.1, 3.1], []),  # too few
        ([3.1, 3.1, np.nan], []),
        ([0.9, 4.5], []),
        ([0.9, 4.6], ["depth_implausible"]),
        ([3.0, 3.5, 4.0], ["depths_implausible"]),
        ([np.nan] * 3, []),
    ],
)
def test_depths_like_feet_are_reported(depth_m, expected):
    assert codes(implausible_depths, depth_m=depth_m) == expected


@pytest.mark.parametrize(
    ("depth_m", "doubted"),
    [
        ([0.99, 3.1, 3.1], [False, True, True]),
        ([1.0, 3.1, 3.1], [True, True, True]),
        ([3.0, 3.0, 3.0], [False] * 3),
        ([3.1, 3.1], [False] * 2),  # too few
        ([0.9, 0.9, 4.5, 4.6], [False, False, False, True]),
    ],
)
def test_a_depth_is_in_doubt_where_it_or_most_of_its_job_is_deep(depth_m, doubted):
    table = pd.DataFrame({"depth_m": depth_m})
    layer = CheckedLayer(load_schema("routes"), table, table.index.to_numpy())
    assert depths_in_doubt(layer).table["depth_in_doubt"].tolist() == doubted


@pytest.mark.parametrize(
    ("pressure_kpa", "diameter_mm", "expected"),
    [
        ([138.0] * 3, [12.0] * 3, []),
        ([60.0] * 3, [25.0] * 3, ["pressures_implausible"]),  # of psi
        ([137.0, 137.0, 400.0], [25.0] * 3, ["pressures_implausible"]),
        ([400.0] * 3, [11.9, 11.9, 100.0], ["diameters_implausible"]),
        ([60.0, 60.0, np.nan], [1.0, 1.0, np.nan], []),  # too few
    ],
)
def test_values_too_small_for_their_unit_are_reported(pressure_kpa, diameter_mm, expected):
    found = codes(implausibly_small_values, pressure_kpa=pressure_kpa, diameter_mm=diameter_mm)
    assert found == expected


@pytest.mark.parametrize(("scale", "fits"), [(0.9991, True), (0.9989, False), (1.0011, False)])
def test_a_crs_is_measured_in_where_its_lengths_are_true_to_a_thousandth(scale, fits):
    crs = pyproj.CRS(f"+proj=tmerc +lat_0=50 +lon_0=14 +k={scale} +ellps=GRS80 +units=m")
    place = np.array([14.0]), np.array([50.0])
    assert is_suitable(crs, *place) is fits
    assert (choose_local_crs(crs, [0.0], [0.0]) == crs) is fits


def test_a_crs_is_measured_in_where_it_fits_nearly_all_points():
    crs = pyproj.CRS("EPSG:32633")
    near, far = [(15.0, 50.0)], [(25.0, 50.0)]
    for outliers, fits in ((5, True), (6, False)):
        lon, lat = np.array(near * (100 - outliers) + far * outliers).T
        assert is_suitable(crs, lon, lat) is fits

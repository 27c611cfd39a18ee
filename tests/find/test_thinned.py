"""The profile that a run stores: straight lines between its points give those left out."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import leakgeo
from leakgeo.find.locate.thinned import DENSITY_SHARE, LEVEL_SHARE, PLACE_M, PROBABILITY, thinned
from tests.find.shapes import job_of_shape  # noqa: F401

LEVEL, SD, DENSITY = "level_comparable_db", "level_comparable_sd_db", "leak_density_per_m"

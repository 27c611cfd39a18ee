"""A datum whose grid is not on this machine: said, with how far things may be off."""

import pyproj
import pytest
from pyproj.transformer import TransformerGroup

from leakgeo.job.datum import datum_shift
from leakgeo.reason import Reason
from tests.battery.check import located
from tests.battery.good import layers

NAD27 = 26716  # UTM zone 16N on NAD27


def test_the_size_of_a_shift_without_its_grid_is_told():
    """Between NAD27 and WGS 84 the best grids are a download; what is left has metres of error."""
    job = layers()
    job["utilities"] = job["utilities"].to_crs(NAD27)
    (fault,) = [f for f in located(job).job.faults if f.code == "datum_shift_poor"]
    place = pyproj.aoi.AreaOfInterest(-87.31, 43.19, -87.29, 43.21)
    with pytest.warns(
        UserWarning, match="missing Grid"
    ):  # that is what must be reported in our words
        group = TransformerGroup(NAD27, 32616, always_xy=True, area_of_interest=place)
    accuracy = group.transformers[0].accuracy
    assert accuracy > 1
    assert fault.layer == "utilities"
    assert fault.reason == Reason(
        "datum_shift_poor", accuracy_m=accuracy, datum="NAD27", routes_datum="WGS 84"
    )


@pytest.mark.parametrize("crs", [4326, 32616, 4269])
def test_what_needs_no_grid_is_not_told_of(crs):
    shift = datum_shift(pyproj.CRS(crs), pyproj.CRS(32616), (-87.3, 43.2))
    assert not shift.guessed
    assert shift.accuracy_m <= 4.0

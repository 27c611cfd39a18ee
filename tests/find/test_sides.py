"""What lies left of the route, looking along it, has a positive offset, in every layer."""

import geopandas as gpd
import pytest
import shapely

import leakgeo


@pytest.mark.parametrize(
    ("crs", "ahead", "left"),
    [(32633, (0, 1), (-1, 0)), (32719, (1, 0), (0, 1)), (2289, (0, -1), (1, 0))],
)
def test_left_is_positive_in_every_layer(crs, ahead, left):
    foot = 1200 / 3937 if crs == 2289 else 1.0
    x, y = {2289: (2_500_000, 400_000)}.get(crs, (500_000, 5_000_000))

    def place(along_m, left_m):
        ways = zip((x, y), ahead, left, strict=True)
        return shapely.Point([o + (along_m * a + left_m * b) / foot for o, a, b in ways])

    offsets = [1.5, -1.5, 0.5, -0.5]
    line = shapely.LineString([place(0, 0), place(40, 0)])
    heard = {"line_id": ["L"] * 4, "sound_level": [40.0, 42.0, 46.0, 41.0], "sound_unit": "db"}
    at = [place(8.0 * k + 4, off) for k, off in enumerate(offsets)]
    layers = {
        "routes": gpd.GeoDataFrame({"line_id": ["L"]}, geometry=[line], crs=crs),
        "readings": gpd.GeoDataFrame({"reading_id": list("abcd"), **heard}, geometry=at, crs=crs),
        "contacts": gpd.GeoDataFrame(
            {"contact_id": list("abcd"), "kind": "valve", **heard}, geometry=at, crs=crs
        ),
    }
    job = leakgeo.read_job(layers)
    done = leakgeo.survey(leakgeo.profile(job))
    for name, key in (("readings_on_route", "reading_id"), ("contact_ranking", "contact_id")):
        found = done.layers[name].set_index(key)["offset_m"]
        assert found.loc[list("abcd")].tolist() == pytest.approx(offsets, rel=1e-3), name

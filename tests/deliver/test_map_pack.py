"""The packed lines of a map: what goes in comes out, and every line is in once."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.deliver.map import pack as map_pack
from leakgeo.deliver.map.data import map_data
from leakgeo.deliver.map.pack import delta_encode, delta_encode_numbers, spatial_order
from tests.deliver.fixture import many_lines, street
from tests.deliver.shown import map_data as shown_data
from tests.deliver.test_map import data_in, pieces_in, places, written

DEGREES = st.integers(-(10**9), 10**9).map(lambda k: k / 1e7)
PAIRS = st.lists(st.tuples(DEGREES, DEGREES).map(list), min_size=1, max_size=9)


@given(PAIRS, DEGREES, DEGREES)
def test_places_come_back_to_seven_decimals(pairs, lat, lon):
    back = places(delta_encode(pairs, (lat, lon)), (lat, lon))
    assert np.abs(back - pairs).max() < 0.6e-7


@given(PAIRS, st.data())
def test_missing_places_stay_missing_and_move_no_other(pairs, data):
    gaps = data.draw(st.lists(st.booleans(), min_size=len(pairs), max_size=len(pairs)))
    holed = [None if gap else pair for gap, pair in zip(gaps, pairs, strict=True)]
    flat = delta_encode(holed, (0.0, 0.0))
    assert [k // 2 for k in range(0, len(flat), 2) if flat[k] is None] == [
        k for k, gap in enumerate(gaps) if gap
    ]
    kept = [v for v in flat if v is not None]
    assert np.abs(places(kept, 0.0) - [p for p in holed if p] if kept else 0).max() < 0.6e-7


@given(st.lists(st.none() | st.floats(-1e4, 1e4), max_size=30), st.sampled_from([5, 10, 100]))
def test_numbers_come_back_to_half_a_step(values, scale):
    steps = delta_encode_numbers(values, scale)
    assert [s is None for s in steps] == [v is None for v in values]
    back = np.cumsum([s for s in steps if s is not None]) / scale
    given_ = [v for v in values if v is not None]
    assert np.abs(back - given_).max(initial=0) <= 0.5 / scale + 1e-9


def test_every_line_is_in_the_pieces_once_in_the_order_of_the_list(tmp_path):
    result = many_lines(300)
    html = written(tmp_path, result)
    data, pieces = data_in(html), pieces_in(html)
    assert 'type="application/octet-stream" id="lg-details-0"' in html
    assert [line["id"] for line in data["lines"]] == data["id"]
    assert sorted(data["detail"]) == list(range(300))
    entries = [e for name, part in pieces.items() if name.startswith("entries") for e in part]
    assert [e["where"] for e in entries] == [line["where"] for line in data["lines"]]


def test_packed_lines_hold_the_numbers_of_plain_ones(tmp_path, monkeypatch):
    monkeypatch.setattr(map_pack, "PLAIN_LINES", 2)
    data, plain = data_in(written(tmp_path, street())), shown_data(street(), "si")
    for line, whole in zip(data["lines"], plain["lines"], strict=True):
        assert {k: line[k] for k in ("id", "where", "brief", "facts")} == json.loads(
            json.dumps({k: whole[k] for k in ("id", "where", "brief", "facts")})
        )
        readings, own = line["readings"], whole["readings"]
        assert np.cumsum(readings["db"]) / 10 == pytest.approx(own["db"], abs=0.051)
        assert np.cumsum(readings["x"]) / 100 == pytest.approx(own["x"], abs=0.0051)
        at = places(readings["at"], data["origin"])
        assert np.abs(at - own["at"]).max() < 0.6e-7
        density = np.cumsum(line["profile"]["density"])
        if len(density):
            assert density.max() == 500
            assert density.argmax() == int(np.argmax(whole["profile"]["density"]))


def test_a_map_of_many_lines_is_small(tmp_path):
    html = written(tmp_path, many_lines(300))
    script = sum(len(part) for part in html.split("<script")[:4])
    assert (len(html) - script) / 300 < 2500
    assert abs(pieces_in(html)["head"]["megabytes"] - len(html) / 1e6) < 0.1


def test_neighbours_share_a_piece():
    pieces = map_data(many_lines(600), "si").pieces
    order = spatial_order(pieces)
    spots = np.array([pieces[k].overview["place"] for k in order])
    steps = np.abs(np.diff(spots, axis=0)).sum(axis=1)
    shuffled = np.random.default_rng(1).permutation(spots)
    assert steps.mean() < 0.2 * np.abs(np.diff(shuffled, axis=0)).sum(axis=1).mean()


def test_lines_without_any_place_are_kept_last():
    result = street()
    job = replace(result.job, routes=result.job.routes.assign(geometry=None))
    pieces = map_data(replace(result, job=job), "si").pieces
    order = spatial_order(pieces)
    assert sorted(order) == list(range(len(pieces)))
    assert all(pieces[k].overview["mark"] is None for k in order[2:])

"""The order of digs: what it promises of every table of lines."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakgeo.dig.order import (
    FEWEST_LOSSES,
    HOLD,
    NO_HOLD,
    ORDERED_BY,
    dig_order,
    hole_probability,
    in_dig_order,
)

few = settings(max_examples=25)
SHARE = st.floats(0.0, 1.0)
LOSS = st.one_of(st.just(np.nan), st.floats(0.0, 1e5))


@st.composite
def tables(draw, least=1):
    """Draw lines of any status, with and without meter tests."""
    count = draw(st.integers(least, 12))
    columns = {
        "status": st.sampled_from(["located", "located", "keep_listening", "no_leak_heard"]),
        "dig_status": st.sampled_from([HOLD, NO_HOLD]), "leak_probability": SHARE,
        "loss_l_per_day": LOSS, "hole_probability": SHARE, "probability_within_1ft": SHARE,
    }  # fmt: skip
    rows = {n: draw(st.lists(v, min_size=count, max_size=count)) for n, v in columns.items()}
    priority = draw(st.permutations(range(1, count + 1)))
    names = [f"L{k}" for k in range(count)]
    return pd.DataFrame({"line_id": names, **rows, "priority": priority})


@few
@given(tables())
def test_ranks_count_the_free_digs_and_the_held_ones_apart(lines):
    found = pd.DataFrame(dig_order(lines))
    located = lines["status"] == "located"
    held = located & (lines["dig_status"] == HOLD)
    for name, ranked in (("hold_rank", held), ("dig_rank", located & ~held)):
        assert sorted(found.loc[ranked, name]) == list(range(1, ranked.sum() + 1))
        assert found.loc[~ranked, name].isna().all()
    assert found["dig_water_l_per_day"].notna().equals(located)


@few
@given(tables(), st.randoms(use_true_random=False))
def test_the_order_is_of_the_columns_alone_wherever_rows_stand(lines, random):
    order = random.sample(range(len(lines)), len(lines))
    found = pd.DataFrame(dig_order(lines[["line_id", *ORDERED_BY]].assign(other="x")))
    again = pd.DataFrame(dig_order(lines.iloc[order].reset_index(drop=True)))
    pd.testing.assert_frame_equal(found.iloc[order].reset_index(drop=True), again)


@few
@given(tables(least=2), st.data())
def test_a_dig_that_stops_more_water_or_is_surer_is_never_later(lines, data):
    lines = lines.assign(status="located", dig_status=NO_HOLD)
    line = data.draw(st.sampled_from(lines.index.tolist()))
    before = dig_order(lines)["dig_rank"][line]
    surer = lines.copy()
    for name in ("hole_probability", "probability_within_1ft"):
        surer.loc[line, name] = data.draw(st.floats(lines.loc[line, name], 1.0))
    assert dig_order(surer)["dig_rank"][line] <= before


@few
@given(tables())
def test_held_digs_come_after_all_others_and_before_lines_without_a_dig(lines):
    found = in_dig_order(lines.assign(**dig_order(lines)))
    kinds = np.where(found["dig_rank"].notna(), 0, np.where(found["hold_rank"].notna(), 1, 2))
    assert (np.diff(kinds) >= 0).all()
    for kind, name in enumerate(("dig_rank", "hold_rank", "priority")):
        assert found.loc[kinds == kind, name].is_monotonic_increasing


def equal_lines(count, **columns):
    same = {"status": "located", "dig_status": NO_HOLD, "leak_probability": 0.9,
            "loss_l_per_day": np.nan, "hole_probability": 0.8, "probability_within_1ft": 0.7,
            "priority": np.arange(1, count + 1)}  # fmt: skip
    return pd.DataFrame({**same, **columns}, index=range(count))


@pytest.mark.parametrize("metered", [FEWEST_LOSSES - 1, FEWEST_LOSSES])
def test_a_loss_that_is_not_known_is_the_median_of_enough_others(metered):
    losses = [100.0, 200.0, 400.0, 700.0, 900.0][:metered]
    found = dig_order(equal_lines(metered + 1, loss_l_per_day=[*losses, np.nan]))
    given_ = found["expected_loss_l_per_day"].tolist(), found["expected_loss_from"].tolist()
    last = (400.0, "median") if metered == FEWEST_LOSSES else (1500.0, "assumed")
    assert given_ == ([*losses, last[0]], ["meter"] * metered + [last[1]])


def test_among_digs_of_equal_water_the_surest_mark_is_first_then_priority():
    lines = equal_lines(4, hole_probability=[0.8, 0.801, 0.8, 0.8],
                        probability_within_1ft=[0.5, 0.6, 0.9, 0.6])  # fmt: skip
    assert dig_order(lines)["dig_rank"].tolist() == [4, 2, 1, 3]


def test_the_hole_is_as_long_as_its_dig_zone():
    profile = pd.DataFrame({"line_id": "A", "chainage_m": np.arange(11.0),
                            "leak_density_per_m": 0.1})  # fmt: skip
    digs = pd.DataFrame({"line_id": ["A", "A", "B"], "chainage_m": [5.0, 0.0, 5.0],
                         "hole_along_m": 0.9, "working_width_m": 0.6})  # fmt: skip
    found = hole_probability(profile, digs, pd.Series([0.5, 1.0, 1.0]))
    assert found.tolist() == pytest.approx([0.15, 0.15, np.nan], nan_ok=True)

"""The worlds of satellite walks are what their docstring says."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely

from tests.worlds.satellite import KINDS, SECRETS, draw, draw_with_secrets, fix_errors

TIME_S = np.arange(0.0, 20.0 * 4000, 20.0)


@pytest.fixture(scope="module")
def drawn():
    return draw_with_secrets(12, 1, "mixture", 1.5)


def test_more_lines_leave_the_first_as_they_are_and_nothing_secret_is_in_the_job(drawn):
    world, _ = drawn
    first = draw(3, 1, "mixture", 1.5).layers["readings"]
    own = world.layers["readings"]
    own = own[own["line_id"].isin(first["line_id"])].reset_index(drop=True)
    pd.testing.assert_frame_equal(first, own)
    assert not set(SECRETS) & set(first)
    assert "chainage_m" not in first


@pytest.mark.parametrize("kind", KINDS)
def test_errors_have_their_size_and_only_drift_stays(kind):
    error = fix_errors(kind, 1.5, TIME_S, np.random.default_rng(1))
    assert error.std() == pytest.approx(1.5, rel=0.15)
    near = np.corrcoef(error[:-1, 0], error[1:, 0])[0, 1]
    far = np.corrcoef(error[:-20, 0], error[20:, 0])[0, 1]
    assert (near > 0.2) == (kind != "white")
    assert (far > 0.3) == (kind == "drift")


def test_crews_go_on_in_steps_of_two_kinds_and_turn_back(drawn):
    _, secrets = drawn
    for _, own in secrets.groupby("line_id"):
        step = own["true_m"].diff().where(own["part"].diff() == 0).abs()
        assert step.median() < 1.8
        ratio = (step / own["step_m"]).dropna()
        assert ratio.between(0.5, 1.5).all()
        coarse, fine = own[own["part"] == 0], own[own["part"] == 1]
        assert fine["step_m"].iloc[0] < 0.5 * coarse["step_m"].iloc[0]
        assert fine["true_m"].between(coarse["true_m"].min() - 3, coarse["true_m"].max() + 3).all()


def test_fixes_are_off_by_about_what_they_state(drawn):
    world, secrets = drawn
    readings, routes = world.layers["readings"], world.layers["routes"].set_index("line_id")
    route = readings["line_id"].map(routes.geometry)
    at = shapely.line_locate_point(route.to_numpy(), readings.geometry.to_numpy())
    off = np.abs(at - secrets["true_m"].to_numpy()) / readings["position_sd_m"].to_numpy()
    assert 0.3 < np.median(off) < 1.2

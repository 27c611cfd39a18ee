"""Only what is comparable is compared."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from leakgeo.errors import ParameterError
from leakgeo.sound.compare import levels_without_gain
from leakgeo.sound.constants import load_constants


def walk(**columns: object) -> pd.DataFrame:
    base = {"line_id": "A", "walk_id": "1", "sensor": "magnet", "band": None, "air": None,
            "sound_unit": "db", "sound_level": 40.0, "gain_db": np.nan}  # fmt: skip
    return pd.DataFrame({**base, **columns}, index=range(3))


def test_known_gains_are_taken_out():
    levels = levels_without_gain(walk(sound_level=[40.0, 50.0, 60.0], gain_db=[0.0, 10.0, 20.0]))
    assert levels["level_db"].tolist() == [40.0, 40.0, 40.0]
    assert levels["walk"].nunique() == 1


def test_an_unknown_gain_splits_the_walk():
    assert levels_without_gain(walk(gain_db=[0.0, 10.0, np.nan]))["walk"].tolist() == [1, 1, 0]


@pytest.mark.parametrize("column", ["line_id", "walk_id", "sensor", "air"])
def test_what_differs_is_kept_apart(column):
    assert levels_without_gain(walk(**{column: ["a", "a", "b"]}))["walk"].tolist() == [0, 0, 1]


def test_a_linear_display_is_amplitude():
    levels = levels_without_gain(walk(sound_unit="scale", sound_level=[1.0, 10.0, -1.0]))
    assert levels["level_db"].tolist()[:2] == [0.0, 20.0]
    assert np.isnan(levels["level_db"].iloc[2])
    # Rounding to whole units: sd 1/sqrt(12) of a unit, 2.5 dB at one unit, a tenth of it at ten.
    assert levels["rounding_sd_db"].iloc[1] == pytest.approx(0.2507, abs=1e-3)


def test_a_display_at_zero_is_quiet_but_not_exactly_so():
    levels = levels_without_gain(walk(sound_unit="scale", sound_level=[0.0, 1.0, 50.0]))
    assert levels["level_db"].iloc[0] < levels["level_db"].iloc[1]
    assert levels["rounding_sd_db"].iloc[0] > 1.9 * levels["rounding_sd_db"].iloc[1]


def test_own_constants_go_over_the_shipped_ones(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[noise]\nreading_db = 3\n[materials.plastic]\npipe_share = 0.3\n")
    constants = load_constants(own)
    assert constants.noise["reading_db"] == 3
    assert constants.materials["pvc"].pipe_share == 0.3
    assert constants.smear_m == load_constants().smear_m


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[noise]\nloudness = 3", "loudness is unknown"),
        ("[noise]\nreading_db = 'three'", "is not a number"),
        ("noise = 3", "3 is not a table"),
        ("[noise", "own.toml"),
    ],
)
def test_a_wrong_constants_file_is_told(tmp_path, text, words):
    own = tmp_path / "own.toml"
    own.write_text(text)
    with pytest.raises(ParameterError, match=words):
        load_constants(own)

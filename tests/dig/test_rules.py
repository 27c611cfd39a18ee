"""Tolerance rules: which one counts, and files of one's own."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString

from leakgeo.dig.facilities import prepare_facilities
from leakgeo.dig.rules import Rule, assumptions, load_rules, pick_rule
from leakgeo.errors import ParameterError
from tests.dig.conftest import frame

INCH = 0.0254
X0, Y0 = 500_000.0, 4_200_000.0
EDGE_M = 0.3 + 0.6  # the hole's half width across the pipe: error ellipse and working room
ERROR_B_M = 0.5  # of quality level B, from the rules file


def line_at(x):
    return LineString([(x, Y0 - 9), (x, Y0 + 9)])


def test_own_tolerance_overrides_the_rule(dig, gas_main):
    at = X0 + EDGE_M + 1.0 + ERROR_B_M + 0.1
    assert dig([gas_main(0, geometry=line_at(at), tolerance_m=1.1)])[1]["severity"].item() == (
        "inside_tolerance"
    )
    assert dig([gas_main(0, geometry=line_at(at))])[1]["severity"].item() == "near"


def test_unknown_rule_names_those_there_are(dig, gas_main):
    with pytest.raises(ParameterError, match="generic, california_4216, michigan_460_723"):
        dig([gas_main()], rule="atlantis")


def test_every_shipped_rule_cites_its_text_and_the_local_law():
    for rule in load_rules().values():
        assert rule.source
        assert rule.date
        assert "ocal law" in rule.note


def test_a_users_own_rules_file(tmp_path, dig, gas_main):
    own = tmp_path / "ours.toml"
    own.write_text(
        '[rules.ours]\ntitle = "1 m"\ntolerance_m = 1.0\nsource = "Utility handbook"\n'
        'date = "2026"\nnote = "Local law governs."\n'
    )
    assert dig([gas_main()], rule=f"{own}#ours")[1]["rule"].item() == "ours"
    assert pick_rule(f"{own}#ours").caution_m == 0.0
    with pytest.raises(ParameterError, match="use one of ours"):
        pick_rule(f"{own}#theirs")


NO_WIDTH = '[rules.x]\ntitle = "t"\nsource = ""\ndate = ""\nnote = ""\n'


@pytest.mark.parametrize("text", ["not toml", "", NO_WIDTH, f"{NO_WIDTH}tolerance_m = -1\n",
                                  f"{NO_WIDTH}tolerance_m = 100\n",
                                  f"{NO_WIDTH}tolerance_m = 1\ncaution_m = 100\n",
                                  f"{NO_WIDTH}tolerance_m = 1\ncaution_m = -0.1\n"])  # fmt: skip
def test_a_poor_rules_file_is_refused(tmp_path, text):
    own = tmp_path / "ours.toml"
    own.write_text(text)
    with pytest.raises(ParameterError):
        pick_rule(f"{own}#x")
    with pytest.raises(ParameterError):
        pick_rule(f"{tmp_path / 'none.toml'}#x")


@pytest.mark.parametrize("field", ["tolerance_m", "caution_m"])
@pytest.mark.parametrize(("metres", "accepted"), [(99.9, True), (100.0, False), (-0.1, False)])
def test_a_distance_of_100_m_or_more_is_refused_as_another_unit(field, metres, accepted):
    given = {"tolerance_m": 0.5, "caution_m": 1.0, field: metres}
    if accepted:
        assert getattr(Rule("x", "t", source="s", date="d", note="n", **given), field) == metres
    else:
        with pytest.raises(ParameterError, match="rule x: tolerance_m must be above 0"):
            Rule("x", "t", source="s", date="d", note="n", **given)


def test_a_rule_without_a_caution_zone_has_none_and_a_tolerance_of_zero_is_refused():
    assert pick_rule("generic").caution_m == 0.0
    with pytest.raises(ParameterError):
        Rule("x", "t", tolerance_m=0.0, source="s", date="d", note="n")


def test_only_a_tolerance_on_record_below_the_rule_has_a_caution(varied):
    outline = line_at(X0 + 4).buffer(0.5)  # its tolerance counts from the outline, unrounded
    given = [np.nan, 0.4, 0.4572, 0.5]
    zones, _ = varied([{"utility": {"geometry": outline, "tolerance_m": t}} for t in given])
    shown = ["own_tolerance_less" in codes for codes in zones["caution_codes"]]
    assert shown == [False, True, False, False]


def test_a_line_of_unknown_width_is_looked_for_as_far_as_the_widest_reaches(gas_main):
    rows = [gas_main(0, geometry=line_at(X0), width_m=width) for width in (None, 0.3)]
    # An outline has no width.
    rows.append(gas_main(0, geometry=line_at(X0).buffer(0.5), width_m=None))
    facilities = prepare_facilities(frame(rows, gas_main()), pick_rule("generic"), assumptions())
    beyond = 0.4572 + assumptions().reach_m + ERROR_B_M
    widest = assumptions().widest_m
    np.testing.assert_allclose(facilities.search_m, [widest / 2 + beyond, 0.15 + beyond, beyond])

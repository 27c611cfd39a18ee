"""Tolerance rules, as worked examples from the texts they are copied from."""

from __future__ import annotations

import pytest
from shapely import LineString, box

from leakgeo.dig.rules import load_rules, pick_rule
from leakgeo.errors import ParameterError

INCH = 0.0254
X0, Y0 = 500_000.0, 4_200_000.0
EDGE_M = 0.3 + 0.6  # the hole's half width across the pipe: error ellipse and working room
ERROR_B_M = 0.5  # of quality level B, from the rules file


def severity_at(dig, gas_main, rule, gap_in, geometry, **utility):
    """Severity of a utility whose mark lies `gap_in` inches, less its error, from the hole."""
    x = X0 + EDGE_M + gap_in * INCH + ERROR_B_M
    row = gas_main(0, geometry=geometry(x), position_sd_m=0.05, **utility)
    return dig([row], rule=rule)[1]["severity"].tolist()


def line_at(x):
    return LineString([(x, Y0 - 9), (x, Y0 + 9)])


def outside_marks_from(x):
    return box(x, Y0 - 9, x + 2, Y0 + 9)


# Each case: rule, utility, what it is drawn as, inches from the mark to the zone's edge.
CASES = [
    # CGA Best Practices 5.19: width plus 18 in either side; a 12 in main: 6 + 18
    ("generic", {"width_m": 12 * INCH}, line_at, 24.0),
    ("generic", {}, outside_marks_from, 18.0),
    # California Government Code 4216(u): single mark 24 in; 10 in main 24 + 5; outside marks 24
    ("california_4216", {"width_m": None}, line_at, 24.0),
    ("california_4216", {"width_m": 10 * INCH}, line_at, 29.0),
    ("california_4216", {}, outside_marks_from, 24.0),
    # Michigan MCL 460.723: width plus 18 in
    ("michigan_460_723", {"width_m": 4 * INCH}, line_at, 20.0),
]


@pytest.mark.parametrize("case", CASES)
def test_zone_ends_where_the_text_says(dig, gas_main, case):
    rule, utility, geometry, reach_in = case
    inside = severity_at(dig, gas_main, rule, reach_in - 0.5, geometry, **utility)
    outside = severity_at(dig, gas_main, rule, reach_in + 0.5, geometry, **utility)
    assert (inside, outside) == (["inside_tolerance"], ["near"])


@pytest.mark.parametrize("case", CASES)
def test_drawn_zone_is_as_wide_as_the_text_and_the_error(dig, gas_main, case):
    rule, utility, geometry, reach_in = case
    x = X0 + 3.0
    row = gas_main(0, geometry=geometry(x), position_sd_m=0.05, **utility)
    drawn = dig([row], rule=rule)[1].geometry.iloc[0]
    assert drawn.bounds[0] == pytest.approx(x - reach_in * INCH - ERROR_B_M, abs=0.002)


def test_michigan_caution_zone_is_told(dig, gas_main):
    # 48 in from the facility (Michigan MCL 460.723), less the error of level B
    for gap_in, told in ((47, True), (49, False)):
        row = gas_main(0, geometry=line_at(X0 + EDGE_M + 0.1 + gap_in * INCH + ERROR_B_M))
        zone, _, _ = dig([row], rule="michigan_460_723")
        assert ("caution zone" in zone["cautions"]) is told


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
    with pytest.raises(ParameterError, match="use one of ours"):
        pick_rule(f"{own}#theirs")


NO_WIDTH = '[rules.x]\ntitle = "t"\nsource = ""\ndate = ""\nnote = ""\n'


@pytest.mark.parametrize("text", ["not toml", "", NO_WIDTH, f"{NO_WIDTH}tolerance_m = -1\n"])
def test_a_poor_rules_file_is_refused(tmp_path, text):
    own = tmp_path / "ours.toml"
    own.write_text(text)
    with pytest.raises(ParameterError):
        pick_rule(f"{own}#x")
    with pytest.raises(ParameterError):
        pick_rule(f"{tmp_path / 'none.toml'}#x")

"""Emergency tickets: no notice period, and the owner's answer or presence on record."""

from __future__ import annotations

import pandas as pd
import pytest

from leakgeo.dig.clearance import HOLD, NO_HOLD

EMERGENCY = {"ticket_kind": "emergency"}
# Notice and answer on the day of the dig.
TODAY = {"notified_time": pd.Timestamp("2026-03-09T06:00:00-07:00"),
         "response_time": pd.Timestamp("2026-03-09T07:00:00-07:00")}  # fmt: skip


def test_an_emergency_ticket_is_not_held_for_a_short_notice(dig, gas_main):
    routine, _, _ = dig([gas_main(**TODAY)])
    assert routine["hold_codes"] == ["notice_short"]
    zone, _, _ = dig([gas_main(**TODAY, **EMERGENCY)])
    assert zone["dig_status"] == NO_HOLD
    assert "emergency_ticket" in zone["caution_codes"]
    assert "local law and the one-call centre decide" in zone["cautions"]
    assert "emergency_ticket" not in routine["caution_codes"]


@pytest.mark.parametrize(
    ("kind", "changed", "code"),
    [
        ("emergency", {"response": "none"}, "emergency_no_answer"),
        ("emergency", {"response": None}, "emergency_no_answer"),
        ("emergency", {"response": "on_site"}, None),
        ("emergency", {"response": "on_site", "response_time": pd.NaT}, "answer_time_not_known"),
        ("emergency", {"response": "on_site", "quality_level": "D"}, "position_not_known"),
        ("emergency", {"notified_time": pd.NaT}, "notice_time_not_known"),
        ("emergency", {"notified": False}, "owner_not_notified"),
        ("emergency", {"response": "perhaps"}, "answer_not_understood"),
        ("routine", {"response": "on_site"}, "on_site_without_answer"),
        (None, {"response": "on_site"}, "on_site_without_answer"),
        ("urgent", {"response": "none"}, "no_answer"),
    ],
)
def test_it_holds_until_the_owner_has_answered_or_is_present(dig, gas_main, kind, changed, code):
    zone, _, done = dig([gas_main(4.0, **{**TODAY, "ticket_kind": kind, **changed})], notice_days=0)
    holds = {h for h in zone["hold_codes"] if not h.startswith("inside_tolerance")}
    assert holds == ({code} if code else set())
    assert zone["dig_status"] == (HOLD if code else NO_HOLD)
    if code and code.endswith("answer"):
        line = done.layers["lines"].iloc[0]
        assert f"card_{code}" in line["held_by_values"]
        assert line["next_action_code"] == "do_for_get_answer"


def test_its_age_is_checked(dig, gas_main):
    assert dig([gas_main(**EMERGENCY)], dig_date="2026-03-17")[0]["hold_codes"] == [
        "ticket_expired"
    ]


def test_emergencies_alone_need_no_notice_period(dig, gas_main):
    alone = {"notice_days": None, "holidays": None}
    assert dig([gas_main(**EMERGENCY)], **alone)[0]["dig_status"] == NO_HOLD
    both, _, _ = dig([gas_main(**EMERGENCY), gas_main(4.0, utility_id="G-2")], **alone)
    assert both["hold_codes"] == ["ticket_not_checked"]
    assert dig([], **alone)[0]["dig_status"] == HOLD
    dated, _, _ = dig([gas_main(**EMERGENCY)], **{**alone, "validity_days": None})
    assert dated["hold_codes"] == ["ticket_not_checked"]
    assert "the notice period" not in dated["holds"]

"""Notice and validity: working days with holidays, local dates, and what is missing holds."""

from __future__ import annotations

from datetime import date, timedelta

import holidays
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakgeo.dig.tickets import is_expired, local_dates, notice_is_short, ticket_rule
from leakgeo.errors import ParameterError

HAWAII = {"holidays": "US-HI", "time_zone": "Pacific/Honolulu"}


def at(*texts):
    return pd.Series(pd.to_datetime(list(texts), utc=True))


def test_hawaii_five_working_days_to_twenty_eight_calendar_days():
    # HRS 269E-7: 5 working days to 28 calendar days. Notice on Thursday 25 June 2026; the 3rd of
    # July is a holiday (Independence Day, observed): Fri, Mon, Tue, Wed, Thu are five whole days.
    notice = at("2026-06-25T10:00-10:00")
    for day, short, old in (("2026-07-02", True, False), ("2026-07-03", False, False),
                            ("2026-07-23", False, False), ("2026-07-24", False, True)):  # fmt: skip
        rule = ticket_rule(day, 5, 28, **HAWAII)
        assert (notice_is_short(notice, rule)[0], is_expired(notice, rule)[0]) == (short, old), day


def test_a_holiday_is_no_working_day():
    # Memorial Day, Monday 25 May 2026. Notice on Friday: one whole working day is Tuesday.
    notice = at("2026-05-22T09:00-04:00")
    rules = [ticket_rule(day, 1, 14, "US-MI", "America/Detroit")
             for day in ("2026-05-26", "2026-05-27")]  # fmt: skip
    assert [bool(notice_is_short(notice, rule)[0]) for rule in rules] == [True, False]


def test_the_weekend_is_that_of_the_country():
    assert ticket_rule("2026-05-26", 1, 14, "EG").weekmask == "1111001"  # Friday and Saturday
    assert ticket_rule("2026-05-26", 1, 14, "US-MI").weekmask == "1111100"


def test_holidays_of_the_years_around_the_dig_are_known():
    # Notice in December of a dig in January, or a dig in December of a notice that is dated wrong.
    years = {day.year for day in ticket_rule("2026-01-02", 5, 28, **HAWAII).holidays}
    assert years == {2025, 2026, 2027}


def test_without_a_time_zone_a_day_is_all_that_it_is_on_earth():
    # UTC-12 is the last place that a day begins, UTC+14 the first.
    times = at("2026-03-02T11:59Z", "2026-03-02T12:00Z", "2026-03-02T09:59Z", "2026-03-02T10:00Z")
    earliest, latest = local_dates(times, None)
    assert [str(d)[-2:] for d in earliest] == ["01", "02", "01", "01"]
    assert [str(d)[-2:] for d in latest] == ["03", "03", "02", "03"]


def test_dates_are_local_ones():
    # 20:00 on the 1st in Honolulu is the 2nd in UTC.
    notice = at("2026-03-02T06:00Z")
    here = ticket_rule("2026-03-29", 1, 28, **HAWAII)
    assert not is_expired(notice, here)[0]
    assert is_expired(notice, ticket_rule("2026-03-30", 1, 28, **HAWAII))[0]
    assert not is_expired(notice, ticket_rule("2026-03-30", 1, 28, "US-HI", "UTC"))[0]


times = st.datetimes(pd.Timestamp("2025-06-01"), pd.Timestamp("2027-06-01")).map(
    lambda t: at(t.isoformat() + "Z")
)
days = st.dates(date(2025, 12, 1), date(2026, 12, 31)).map(str)
zones = st.sampled_from(["Pacific/Honolulu", "America/Detroit", "Pacific/Kiritimati", "UTC"])


@given(times, days, st.integers(1, 10), st.integers(1, 40), zones)
def test_without_a_zone_the_dates_are_taken_the_stricter_way(notice, day, ask, valid, zone):
    known = ticket_rule(day, ask, valid, "US-MI", zone)
    unknown = ticket_rule(day, ask, valid, "US-MI")
    assert notice_is_short(notice, unknown)[0] >= notice_is_short(notice, known)[0]
    assert is_expired(notice, unknown)[0] >= is_expired(notice, known)[0]


@given(times, days, st.integers(1, 10))
def test_working_days_agree_with_a_walk_through_the_calendar(notice, day, ask):
    rule = ticket_rule(day, ask, 28, "US-CA", "UTC")
    off = holidays.country_holidays("US", subdiv="CA", years=range(2025, 2028))
    walk, counted = notice[0].date() + timedelta(days=1), 0
    while walk < date.fromisoformat(day):
        counted += off.is_working_day(walk)
        walk += timedelta(days=1)
    assert notice_is_short(notice, rule)[0] == (counted < ask)


@given(times, days, st.integers(0, 9), st.integers(0, 9), st.integers(1, 30), st.integers(0, 30))
def test_asking_for_more_notice_or_less_validity_removes_no_hold(
    notice, day, ask, more, valid, less
):
    lax, strict = (ticket_rule(day, a, v, "US-CA", "UTC")
                   for a, v in ((ask, valid + less), (ask + more, valid)))  # fmt: skip
    assert notice_is_short(notice, strict)[0] >= notice_is_short(notice, lax)[0]
    assert is_expired(notice, strict)[0] >= is_expired(notice, lax)[0]


def test_an_unknown_time_is_not_judged_and_has_its_own_hold():
    rule = ticket_rule("2026-03-09", 3, 14, "US-CA")
    none = pd.Series(pd.to_datetime([None, None], utc=True))
    assert not notice_is_short(none, rule).any()
    assert not is_expired(none, rule).any()


@pytest.mark.parametrize(
    "bad", [{"dig_date": "soon"}, {"holidays": "US-ZZ"}, {"holidays": "Atlantis"},
            {"time_zone": "Mars/Base"}, {"time_zone": "../etc"}],
)  # fmt: skip
def test_what_can_not_be_read_is_refused(bad):
    with pytest.raises(ParameterError):
        ticket_rule(**{"dig_date": "2026-03-09", **bad})


# -- as holds

GIVEN = {"dig_date": "the day of the dig", "notice_days": "the notice period",
         "validity_days": "the validity of tickets", "holidays": "the public holidays"}  # fmt: skip


@pytest.mark.parametrize("missing", GIVEN)
def test_a_rule_that_was_not_given_holds(dig, gas_main, missing):
    zone, _, _ = dig([gas_main(3.0)], **{missing: None})
    assert zone["dig_status"] == "hold"
    assert zone["hold_codes"] == ["ticket_not_checked"]
    assert "not checked: notice and validity of the locate tickets (missing: " in zone["holds"]
    assert GIVEN[missing] in zone["holds"]
    assert missing not in zone["holds"] or missing == "holidays"


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"dig_date": "2026-03-17"}, "older than its validity of 14 days"),
        ({"dig_date": "2026-03-05"}, "short of 3 full working days"),
        ({"notice_days": 5}, "short of 5 full working days"),
        ({"validity_days": 6}, "older than its validity of 6 days"),
    ],
)
def test_short_notice_and_an_old_ticket_hold(dig, gas_main, changed, said):
    assert said in dig([gas_main(3.0)], **changed)[0]["holds"]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"ticket": None}, "no number"),
        ({"notified_time": None}, "time of its notice is not known"),
        ({"response_time": pd.Timestamp("2026-02-27T09:00Z")}, "older than its notice"),
        ({"response_time": pd.Timestamp("2026-03-12T09:00Z")}, "dated after the dig"),
    ],
)
def test_a_ticket_that_does_not_add_up_holds(dig, gas_main, changed, said):
    assert said in dig([gas_main(3.0, **changed)])[0]["holds"]


def test_the_end_of_the_first_ticket_is_reported(dig, gas_main):
    assert "expires at the end of 2026-03-16" in dig([gas_main(3.0)])[0]["cautions"]


def test_ticket_dates_of_any_number_at_once():
    many = at(*["2026-03-02T18:00Z"] * 3)
    rule = ticket_rule("2026-03-09", 3, 14, "US-CA", "America/Los_Angeles")
    assert np.array_equal(notice_is_short(many, rule), [False] * 3)

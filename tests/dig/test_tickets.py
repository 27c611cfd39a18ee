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


@pytest.mark.parametrize(
    ("time", "earliest", "latest"),
    [
        ("2026-03-02T11:59Z", "2026-03-01", "2026-03-03"),
        ("2026-03-02T12:00Z", "2026-03-02", "2026-03-03"),
        ("2026-03-02T09:59Z", "2026-03-01", "2026-03-02"),
        ("2026-03-02T10:00Z", "2026-03-01", "2026-03-03"),
    ],
)
def test_without_a_zone_a_date_spans_from_utc_less_12_to_utc_plus_14(time, earliest, latest):
    assert [str(day[0]) for day in local_dates(at(time), None)] == [earliest, latest]


def test_holidays_of_the_year_before_the_dig_are_no_working_days():
    # Notice on Wednesday 23 December 2026. Thursday and Friday are holidays in Michigan, as are
    # 31 December and 1 January: Mon, Tue, Wed and Mon 4 January are four working days.
    notice = at("2026-12-23T12:00-05:00")
    rule = ticket_rule("2027-01-05", 4, 14, "US-MI", "America/Detroit")
    assert date(2026, 12, 25) in rule.holidays
    assert not notice_is_short(notice, rule)[0]
    assert notice_is_short(notice, ticket_rule("2027-01-05", 5, 14, "US-MI", "America/Detroit"))[0]


def test_without_a_day_of_the_dig_there_are_no_holidays_and_the_country_is_checked():
    assert ticket_rule(holidays="US-MI").missing == (
        "dig_date", "notice_days", "validity_days", "holidays",
    )  # fmt: skip
    assert ticket_rule(holidays="EG").weekmask == "1111001"
    with pytest.raises(ParameterError):
        ticket_rule(holidays="Atlantis")


def test_holidays_are_missing_where_working_days_are_counted():
    missing = [ticket_rule("2026-05-26", days, 14).missing for days in (0, 1)]
    assert missing == [(), ("holidays",)]


# Notice at 09:00 on 2 March, answer a day later, dig on 9 March; 3 days of notice, valid for 14.
AT_LIMITS = [
    ({"response_time": "2026-03-02T08:59-08:00"}, ["answer_before_notice"]),
    ({"response_time": "2026-03-02T09:00-08:00"}, []),
    ({"response_time": "2026-03-09T23:59-07:00"}, []),
    ({"response_time": "2026-03-10T00:00-07:00"}, ["dated_after_dig"]),
    ({"notified_time": "2026-03-09T23:59-07:00"}, ["answer_before_notice", "notice_short"]),
    ({"notified_time": "2026-03-10T00:00-07:00"},
     ["answer_before_notice", "notice_short", "dated_after_dig"]),
    ({"notified_time": "2026-02-23T00:00-08:00"}, []),
    ({"notified_time": "2026-02-22T23:59-08:00"}, ["ticket_expired"]),
    ({"notified_time": "2026-03-03T09:00-08:00"}, []),
    ({"notified_time": "2026-03-04T00:00-08:00"}, ["answer_before_notice", "notice_short"]),
]  # fmt: skip


def test_the_times_of_a_ticket_hold_just_past_each_limit(varied):
    cases = [{"utility": {k: pd.Timestamp(t) for k, t in times.items()}} for times, _ in AT_LIMITS]
    zones, _ = varied(cases)
    assert zones["hold_codes"].tolist() == [codes for _, codes in AT_LIMITS]

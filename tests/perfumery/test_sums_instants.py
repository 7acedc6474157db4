# SPDX-License-Identifier: MIT
"""Elapsed time must not jump when a clock is set: naive times are refused, offsets are kept, milliseconds survive."""

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.instants import day, from_ms, hours, instant, to_ms


def test_text_and_datetime_give_the_same_instant():
    at = instant("2025-03-04T11:47:00.123456+01:00")
    assert at == datetime(2025, 3, 4, 10, 47, 0, 123000, tzinfo=UTC)
    assert at.utcoffset() == timedelta(hours=1)
    assert at.isoformat() == "2025-03-04T11:47:00.123000+01:00"
    assert instant(at) == at
    assert instant("2025-03-04T10:47Z").utcoffset() == timedelta(0)


def test_an_odd_offset_is_rounded_to_minutes_without_moving_the_instant():
    """Local mean times of old zones have seconds in their offset; the book keeps whole minutes."""
    at = datetime(1900, 1, 1, 12, tzinfo=timezone(timedelta(minutes=53, seconds=28)))
    assert instant(at) == at
    assert instant(at).utcoffset() == timedelta(minutes=53)


@pytest.mark.parametrize("naive", ["2025-03-04T11:47", datetime(2025, 3, 4, 11, 47)])
def test_naive_time_is_refused(refused, naive):
    finding = refused(instant, naive)
    assert (finding.code, finding.data) == ("time-naive", {"text": "2025-03-04T11:47:00"})


def test_zone_that_knows_no_offset_is_naive(refused):
    class Nowhere(tzinfo):
        def utcoffset(self, dt):
            return None

    assert refused(instant, datetime(2025, 3, 4, tzinfo=Nowhere())).code == "time-naive"


def test_unreadable_time_and_day_are_refused(refused):
    finding = refused(instant, "yesterday")
    assert (finding.code, finding.data) == ("time-unreadable", {"text": "yesterday"})
    finding = refused(day, "4.3.2025")
    assert (finding.code, finding.data) == ("day-unreadable", {"text": "4.3.2025"})
    assert refused(to_ms, datetime(2025, 3, 4)).code == "time-naive"


def test_days():
    assert day("2025-03-04") == day(date(2025, 3, 4)) == date(2025, 3, 4)
    late = day(datetime(2025, 3, 4, 23, 30, tzinfo=UTC))
    assert type(late) is date
    assert late == date(2025, 3, 4)


def test_milliseconds_before_1970():
    assert to_ms(instant("1969-12-31T23:59:59.999Z")) == (-1, 0)


@given(st.integers(-(10**12), 4 * 10**12), st.integers(-14 * 60, 14 * 60))
def test_milliseconds_and_offset_go_round(ms, offset_min):
    at = from_ms(ms, offset_min)
    assert to_ms(at) == (ms, offset_min)
    assert instant(at.isoformat()) == at


def test_hours_count_true_time_over_a_clock_change():
    assert hours(instant("2025-03-30T00:30+01:00"), instant("2025-03-30T04:30+02:00")) == 3.0
    assert hours(instant("2025-10-26T02:30+02:00"), instant("2025-10-26T02:30+01:00")) == 1.0

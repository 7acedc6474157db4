# SPDX-License-Identifier: MIT
"""A stand of strips: no two readings collide, every proposal is the smallest, and the clocks may change in between."""

from datetime import UTC, datetime, time, timedelta, timezone
from itertools import combinations
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Refused, hours_of, is_open, stagger
from perfumery.smelling import READING_TIMES, SHORT_TIMES
from perfumery.stand import LONGEST_GAP_MIN, smallest_gap

BERLIN = ZoneInfo("Europe/Berlin")
DAY = (time(8, 30), time(18))
NINE = datetime(2025, 3, 4, 9, tzinfo=BERLIN)


def propose(count=5, dues=SHORT_TIMES, minutes=1.0, hours=DAY, first_at=NINE, zone=BERLIN):
    return stagger(count, dues, minutes, hours, first_at=first_at, zone=zone)


def work(gap_min, count, dues):
    """(strip, seconds after the first dip) of every dip and reading."""
    return [(strip, strip * gap_min * 60 + due) for strip in range(count) for due in (0.0, *dues)]


def collides(gap_min, count, dues, minutes):
    return any(
        one[0] != other[0] and abs(one[1] - other[1]) < minutes * 60
        for one, other in combinations(work(gap_min, count, dues), 2)
    )


def test_five_strips_of_a_minute_s_reading_stand_three_minutes_apart():
    """By hand: 1 min puts the third dip on the first reading (2 min), 2 min the second; with 3 min all work is a minute apart."""
    found = propose()
    assert found.gap_min == 3
    assert [f"{dip:%H:%M}" for dip in found.dips] == ["09:00", "09:03", "09:06", "09:09", "09:12"]
    assert [(r.strip, r.due_s, f"{r.at:%H:%M}") for r in found.readings[:6]] == [
        (0, 120, "09:02"), (1, 120, "09:05"), (2, 120, "09:08"), (3, 120, "09:11"), (4, 120, "09:14"), (0, 900, "09:15"),
    ]  # fmt: skip
    assert found.outside == ()
    assert len(found.readings) == 5 * len(SHORT_TIMES)


def test_eight_strips_over_the_default_times():
    found = propose(8, READING_TIMES)
    assert found.gap_min == 8
    assert not collides(8, 8, READING_TIMES, 1) and all(collides(gap, 8, READING_TIMES, 1) for gap in range(1, 8))


def test_readings_outside_bench_hours_are_said():
    found = propose(3, (2 * 3600.0, 8 * 3600.0, 24 * 3600.0), first_at=NINE + timedelta(hours=1))
    assert [(r.strip, r.due_s / 3600, f"{r.at:%H:%M}") for r in found.outside] == [(1, 8.0, "18:01"), (2, 8.0, "18:02")]


@pytest.mark.parametrize(
    "hours, outside",
    [
        ((time(20), time(3)), {9, 15}),  # over midnight
        ((time(9), time(9)), set()),  # all day
        ((time(15), time(21)), {9, 3}),
    ],
)
def test_bench_hours_may_run_over_midnight(hours, outside):
    found = propose(1, (3600.0, 7 * 3600.0, 13 * 3600.0, 19 * 3600.0), hours=hours, first_at=NINE - timedelta(hours=1))
    assert found.gap_min == 0
    assert {r.at.hour for r in found.outside} == outside


@pytest.mark.parametrize(
    "opens, closes, is_at",
    [
        (8, 22, {"07:59": False, "08:00": True, "22:00": True, "22:01": False, "03:00": False}),
        (20.5, 3, {"20:29": False, "20:30": True, "00:00": True, "03:00": True, "03:01": False, "12:00": False}),
        (8, 24, {"23:59": True, "00:00": True, "00:01": False, "07:59": False}),  # hour 24 is midnight
        (0, 24, {"00:00": True, "12:00": True}),
    ],
)
def test_bench_hours_of_the_habits(opens, closes, is_at):
    hours = hours_of({"bench opens hour": opens, "bench closes hour": closes})
    assert {wall: is_open(time.fromisoformat(wall), hours) for wall in is_at} == is_at


def test_bench_hours_are_the_wall_s_over_a_change_of_the_clocks():
    """Dipped at 18:00 before the clocks go forward: 24 h later it is 19:00 on the wall, and 24 h have passed."""
    evening = datetime(2025, 3, 29, 18, tzinfo=BERLIN)
    found = propose(1, (24 * 3600.0,), first_at=evening)
    (reading,) = found.readings
    assert reading.at - found.dips[0] == timedelta(hours=24)
    assert (f"{reading.at:%d %H:%M %z}", reading.is_outside) == ("30 19:00 +0200", True)
    assert found.dips[0].isoformat() == "2025-03-29T18:00:00+01:00"
    back = propose(1, (24 * 3600.0,), first_at=datetime(2025, 10, 25, 18, 30, tzinfo=BERLIN)).readings[0]
    assert (f"{back.at:%H:%M %z}", back.is_outside) == ("17:30 +0100", False)


def test_the_hour_may_come_from_another_zone_than_the_wall():
    found = propose(1, (60.0,), first_at=datetime(2025, 7, 1, 7, tzinfo=UTC))
    assert found.dips[0] == datetime(2025, 7, 1, 7, tzinfo=UTC) and found.dips[0].hour == 9
    assert isinstance(found.dips[0].tzinfo, timezone)  # sums with it cannot jump


def test_times_given_twice_or_out_of_order_are_one():
    assert propose(2, (900.0, 120.0, 120)) == propose(2, (120.0, 900.0))


@pytest.mark.parametrize(
    "asked, code, data",
    [
        ({"count": 0}, "stand-range", {"count": 0, "most": 8}),
        ({"count": 9}, "stand-range", {"count": 9, "most": 8}),
        ({"dues": (0.0,)}, "reading-time-range", {"longest_days": 90}),
        ({"dues": (91 * 86400.0,)}, "reading-time-range", {"longest_days": 90}),
        ({"minutes": 0}, "reading-minutes-range", {"minutes": 0, "most": 60}),
        ({"minutes": float("nan")}, "reading-minutes-range", None),
        ({"minutes": 61}, "reading-minutes-range", {"minutes": 61, "most": 60}),
        ({"dues": (120.0, 300.0), "minutes": 4}, "reading-times-close", {"earlier_min": 2, "later_min": 5, "minutes": 4}),
        ({"count": 8, "dues": tuple(900.0 * n for n in range(1, 30)), "minutes": 8}, "stagger-none",
         {"count": 8, "minutes": 8, "longest": 60}),
        ({"first_at": datetime(2025, 3, 4, 9)}, "time-naive", {"text": "2025-03-04T09:00:00"}),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_is_refused(asked, code, data, refused):
    finding = refused(propose, **asked)
    assert finding.code == code
    assert data is None or finding.data == data


def test_a_stand_without_readings_keeps_its_dips_apart():
    assert propose(3, (), 2.5).gap_min == 3


dues_of = st.lists(st.integers(1, 600).map(lambda m: m * 60.0), min_size=1, max_size=6, unique=True).map(sorted)


@given(st.integers(1, 8), dues_of, st.sampled_from([0.5, 1, 2]))
def test_the_gap_is_the_smallest_without_a_collision(count, dues, minutes):
    if any(later - earlier < minutes * 60 for earlier, later in combinations(dues, 2)):
        return
    try:
        gap = smallest_gap(count, dues, minutes)
    except Refused:
        assert all(collides(gap, count, dues, minutes) for gap in range(1, LONGEST_GAP_MIN + 1))
        return
    assert not collides(gap, count, dues, minutes)
    assert all(collides(less, count, dues, minutes) for less in range(1, gap))


@given(st.integers(1, 8), st.datetimes(datetime(2024, 1, 1), datetime(2026, 1, 1), timezones=st.just(UTC)), dues_of)
def test_every_reading_comes_its_due_time_after_its_dip(count, first_at, dues):
    found = propose(count, [due * 60 for due in dues if due <= 6000] or [60.0], 0.1, first_at=first_at)
    assert all(r.at - found.dips[r.strip] == timedelta(seconds=r.due_s) for r in found.readings)
    assert all(abs((dip - first_at) - n * timedelta(minutes=found.gap_min)) < timedelta(milliseconds=1)
               for n, dip in enumerate(found.dips))  # fmt: skip
    assert [r.at for r in found.readings] == sorted(r.at for r in found.readings)
    assert all(r.is_outside != (DAY[0] <= r.at.astimezone(BERLIN).time() <= DAY[1]) for r in found.readings)

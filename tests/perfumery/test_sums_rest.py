# SPDX-License-Identifier: MIT
"""How long the nose should rest: our own rule, so the tests hold what it says and that resting ends it."""

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Pacing, pacing

NOW = datetime.fromisoformat("2025-03-30T03:10:00+02:00")


def ago(*minutes):
    return [NOW - timedelta(minutes=m) for m in minutes]


@pytest.mark.parametrize(
    "minutes, paced",
    [
        ([], Pacing(0, 0)),
        ([1], Pacing(1, 0)),
        ([0, 1, 2, 3, 4], Pacing(5, 0)),
        ([0, 1, 2, 3, 4, 5], Pacing(6, 300)),  # six within five minutes
        ([0, 1, 2, 3, 4, 5.1], Pacing(6, 0)),
        ([2, 3, 4, 5, 6, 7], Pacing(6, 180)),  # two minutes of it are over
        ([5, 6, 7, 8, 9, 10], Pacing(6, 0)),
        ([59.9, 60, 61], Pacing(1, 0)),
        ([-1, -2, 1], Pacing(1, 0)),  # what is still to come does not tire
    ],
)
def test_short_runs(minutes, paced):
    assert pacing(ago(*minutes), NOW) == paced


def test_thirty_within_an_hour_ask_for_a_longer_rest():
    times = ago(*range(0, 60, 2))
    assert pacing(times, NOW) == Pacing(30, 900)
    assert pacing(times[1:], NOW) == Pacing(29, 0)
    assert pacing(times, NOW + timedelta(minutes=10)).rest_s == 300
    assert pacing(times, NOW + timedelta(minutes=15)).rest_s == 0


def test_after_a_long_rest_the_count_begins_anew():
    times = ago(*range(17, 47))
    assert pacing(times, NOW) == Pacing(30, 0)
    assert pacing([*times, NOW], NOW) == Pacing(31, 0)
    assert pacing([*ago(*range(10, 40)), NOW], NOW) == Pacing(31, 900)  # ten minutes are no long rest


def test_a_change_of_the_clocks_is_no_rest():
    """01:58 winter time and 03:00 summer time are two minutes apart."""
    times = [datetime.fromisoformat(f"2025-03-30T{t}") for t in ("01:56+01:00", "01:57+01:00", "01:58+01:00", "01:59+01:00",
                                                                 "03:00+02:00", "03:01+02:00")]  # fmt: skip
    assert pacing(times, times[-1]) == Pacing(6, 300)


def test_times_without_a_zone_are_refused(refused):
    assert refused(pacing, [], datetime(2025, 3, 30, 12)).code == "time-naive"
    assert refused(pacing, [datetime(2025, 3, 30, 12)], NOW).code == "time-naive"


@given(st.lists(st.integers(0, 7200), max_size=60), st.randoms())
def test_resting_as_long_as_asked_is_enough(seconds, chance):
    times = [NOW - timedelta(seconds=s) for s in seconds]
    found = pacing(times, NOW)
    assert 0 <= found.last_hour <= len(times) and 0 <= found.rest_s <= 900
    assert pacing(times, NOW + timedelta(seconds=found.rest_s)).rest_s == 0
    chance.shuffle(times)
    assert pacing(times, NOW) == found
    if found.rest_s == 0 and times:
        assert pacing(times, NOW + timedelta(hours=1)) == Pacing(0, 0)

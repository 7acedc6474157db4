# SPDX-License-Identifier: MIT
"""The benchmark strip as a check weight: relative curves where it was read, and today's nose against five earlier ones."""

import math
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Nose, Reading, Strip, relative, todays_nose
from perfumery.instants import instant
from perfumery.nose import due_intensities, on_log_time
from perfumery.smelling import GAP_RATIO

BENCHMARK = ((0.25, 4.0), (1.0, 3.0), (4.0, 2.0))


# curves relative to the benchmark


def test_relative_by_hand():
    """At 0.5 h, half way from 0.25 to 1 on log time, the benchmark stands at 3.5."""
    curve = ((2 / 60, 5.0), (0.25, 4.5), (0.5, 4.0), (1.0, 2.5), (2.0, 2.5), (4.0, 2.0), (4.1, 2.0))
    assert relative(curve, BENCHMARK) == (
        (2 / 60, None), (0.25, 0.5), (0.5, pytest.approx(0.5)), (1.0, -0.5), (2.0, pytest.approx(0.0)), (4.0, 0.0), (4.1, None),
    )  # fmt: skip


def test_without_a_benchmark_nothing_is_known():
    assert relative(BENCHMARK, ()) == ((0.25, None), (1.0, None), (4.0, None))
    assert relative((), BENCHMARK) == ()


def test_a_gap_of_the_benchmark_is_not_known():
    """Read at 1 h and then at 24 h: nobody knows where it stood at 8 h; but at both ends it was read."""
    gap = ((1.0, 3.0), (24.0, 1.0))
    assert relative(((1.0, 4.0), (8.0, 3.0), (24.0, 2.0)), gap) == ((1.0, 1.0), (8.0, None), (24.0, 1.0))
    assert on_log_time(((1.0, 3.0), (GAP_RATIO, 1.0)), 3.0) == pytest.approx(2.0)


def test_a_reading_at_the_dip_stands_at_one_second():
    assert on_log_time(((0.0, 5.0), (2 / 3600, 4.0)), math.sqrt(2) / 3600) == pytest.approx(4.5)
    assert on_log_time(((0.0, 5.0), (1.0, 4.0)), 0.5) is None


curves = st.lists(st.tuples(st.floats(0.03, 200), st.integers(0, 12)), max_size=10, unique_by=lambda p: p[0]).map(
    lambda points: tuple(sorted((t, y / 2) for t, y in points))
)


@given(curves)
def test_a_curve_relative_to_itself_is_nothing(curve):
    assert relative(curve, curve) == tuple((t, 0.0) for t, _ in curve)


@given(curves, curves)
def test_relative_is_known_only_between_readings_and_within_what_they_say(curve, benchmark):
    for (t, y), (at, beside) in zip(curve, relative(curve, benchmark), strict=True):
        assert at == t
        if beside is not None:
            low, high = (limit(v for _, v in benchmark) for limit in (min, max))
            assert benchmark[0][0] <= t <= benchmark[-1][0]
            assert low - 1e-9 <= y - beside <= high + 1e-9


# the readings that are compared


def test_only_readings_in_time_are_compared_between_sittings():
    at = instant("2025-03-04T09:00+01:00")
    strip = Strip(code="P05", bottle=1, dipped_at=at, reading_times=(120.0, 3600.0, 7200.0, 14400.0, 28800.0), key=5)
    read = {170: 4.5, 3960: 4, 8000: 3, 12960: 2.5, 28800: None}
    readings = [Reading(strip=5, at=at + timedelta(seconds=s), intensity=y) for s, y in read.items()]
    assert due_intensities(readings, strip) == {120.0: 4.5, 3600.0: 4, 14400.0: 2.5}
    early = [Reading(strip=5, at=at + timedelta(seconds=12900), intensity=2.5)]
    assert due_intensities(early, strip) == {}


# today's nose

EARLIER = [{120.0: 4.5, 3600.0: y} for y in (2.5, 3.0, 3.0, 3.5, 3.0)]


def test_today_s_nose_by_hand():
    """Means 3.5, 3.75, 3.75, 4, 3.75: mean 3.75, spread √(0.125 / 4) = 0.17678; today 4.25 is 0.5 above, 2.83 spreads."""
    nose = todays_nose({120.0: 5.0, 3600.0: 3.5}, EARLIER)
    assert nose == Nose(0.5, pytest.approx(math.sqrt(0.125 / 4)), pytest.approx(0.5 / math.sqrt(0.125 / 4)), (120.0, 3600.0), 5)
    assert todays_nose({120.0: 4.5, 3600.0: 2.5}, EARLIER).deviation == pytest.approx(-math.sqrt(2))


def test_below_five_earlier_sittings_it_is_silent():
    today = {120.0: 5.0, 3600.0: 3.5}
    assert todays_nose(today, EARLIER[:4]) is None
    assert todays_nose(today, [*EARLIER[:4], {7200.0: 3.0}]) is None
    assert todays_nose(today, []) is None
    assert todays_nose({}, EARLIER) is None
    assert todays_nose({900.0: 4.0}, EARLIER) is None


def test_points_that_too_few_answer_are_left_out():
    earlier = [*EARLIER, {120.0: 4.0}]
    assert todays_nose({120.0: 5.0, 900.0: 4.0, 3600.0: 3.5}, earlier).dues_s == (120.0, 3600.0)
    few = [EARLIER[0], *({120.0: 4.5} for _ in range(4))]
    nose = todays_nose({120.0: 5.0, 3600.0: 3.5}, few)
    assert (nose.dues_s, nose.sittings) == ((120.0,), 5)


def test_of_two_points_the_later_is_left_out():
    """Each has five answers, but only four sittings answer both."""
    earlier = [*EARLIER[:4], {120.0: 4.0}, {3600.0: 3.0}]
    assert todays_nose({120.0: 5.0, 3600.0: 3.5}, earlier).dues_s == (120.0,)


def test_without_any_earlier_spread_only_the_difference_is_known():
    nose = todays_nose({120.0: 5.0}, [{120.0: 4.5}] * 5)
    assert (nose.difference, nose.spread, nose.deviation) == (0.5, 0, None)


sittings = st.fixed_dictionaries({d: st.integers(0, 12).map(lambda n: n / 2) for d in (120.0, 3600.0, 7200.0)})


@given(sittings, st.lists(sittings, min_size=5, max_size=9), st.integers(-4, 4), st.randoms())
def test_deviation_follows_the_scale_and_not_the_order(today, earlier, shift, chance):
    nose = todays_nose(today, earlier)
    assert (nose.sittings, nose.dues_s) == (len(earlier), (120.0, 3600.0, 7200.0))
    moved = todays_nose({d: y + shift for d, y in today.items()}, earlier)
    assert moved.difference == pytest.approx(nose.difference + shift, abs=1e-12)
    assert moved.spread == nose.spread
    both = todays_nose({d: y + shift for d, y in today.items()}, [{d: y + shift for d, y in e.items()} for e in earlier])
    assert both.difference == pytest.approx(nose.difference, abs=1e-12)
    assert nose.deviation is None or nose.deviation * nose.spread == pytest.approx(nose.difference, abs=1e-12)
    chance.shuffle(earlier)
    again = todays_nose(today, earlier)
    assert again.difference == pytest.approx(nose.difference, abs=1e-12) and again.spread == pytest.approx(nose.spread)

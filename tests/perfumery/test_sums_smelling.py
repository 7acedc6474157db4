# SPDX-License-Identifier: MIT
"""Strips over time: what is due, late or missed, and figures of a curve that use true times over any clock change."""

import math
from datetime import datetime
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.instants import instant
from perfumery.smelling import (
    GAP_RATIO,
    READING_TIMES,
    SHORT_TIMES,
    Crossing,
    CurveFigures,
    answers,
    area,
    at_due,
    crossing,
    curve_figures,
    due_points,
    due_times,
    elapsed_s,
    in_force,
    is_late,
    lateness_s,
    next_due,
    series,
    time_below,
)
from perfumery.values import Reading, Strip

MINUTE, HOUR = 60.0, 3600.0
DIPPED = "2025-03-04T09:00+01:00"
STRIP = Strip(code="P03", bottle=1, dipped_at=DIPPED, key=3)


def read(minutes, intensity=None, strip=STRIP, **fields):
    """A reading so many minutes after the dip."""
    at = instant(strip.dipped_at).timestamp() + minutes * 60
    return Reading(strip=strip.key, at=iso(at), intensity=intensity, **fields)


def iso(timestamp):
    return datetime.fromtimestamp(timestamp, tz=instant(DIPPED).tzinfo).isoformat()


def after(minutes, strip=STRIP):
    return instant(iso(instant(strip.dipped_at).timestamp() + minutes * 60))


def states(readings, minutes, strip=STRIP):
    return [(p.due_s / MINUTE, p.state, p.late) for p in due_points(strip, readings, after(minutes, strip))]


# the schedule


def test_default_times_from_two_minutes_to_a_week():
    assert [due / MINUTE for due in READING_TIMES] == [2, 15, 30, 60, 120, 240, 480, 1440, 2880, 4320, 10080]
    assert set(SHORT_TIMES) < set(READING_TIMES)
    assert due_times(STRIP) == READING_TIMES
    assert due_times(Strip(code="P", bottle=1, dipped_at=DIPPED, reading_times=(HOUR, 120.0))) == (120.0, HOUR)


def test_widest_default_step_read_late_but_in_time_leaves_no_gap():
    for times in (READING_TIMES, SHORT_TIMES):
        assert max(late * 1.1 / due for due, late in pairwise(times)) <= GAP_RATIO


@pytest.mark.parametrize(
    "minutes, due_min",
    [(0, 2), (-5, 2), (2, 2), (5, 2), (6, 15), (161, 120), (169, 120), (170, 240), (252, 240), (339, 240), (340, 480),
     (40000, 10080)],
)  # fmt: skip
def test_reading_answers_the_due_point_nearest_on_log_time(minutes, due_min):
    """Between 2 h and 4 h the border is at √(120 × 240) = 169.7 min, not at 180."""
    assert answers(STRIP, after(minutes)) == due_min * MINUTE


def test_reading_may_be_said_to_answer_the_dip_itself():
    assert at_due([read(0, 5, due_s=0.0)], STRIP, 0.0).intensity == 5


def test_two_hours_due_read_at_161_minutes():
    """Due 2 h, read 41 min late: drawn at 2.68 h, marked late."""
    reading = read(161, 2.5)
    assert answers(STRIP, reading.at) == 2 * HOUR
    assert lateness_s(STRIP, reading.at, 2 * HOUR) == 41 * MINUTE
    assert round(series([reading], STRIP)[0][0], 2) == 2.68
    point = due_points(STRIP, [reading], after(170))[4]
    assert (point.due_s, point.state, point.late, point.reading) == (2 * HOUR, "answered", True, reading)


def test_four_hours_due_read_12_minutes_late_is_in_time():
    reading = read(252, 2)
    assert round(series([reading], STRIP)[0][0], 2) == 4.20
    point = due_points(STRIP, [reading], after(253))[5]
    assert (point.due_s, point.state, point.late) == (4 * HOUR, "answered", False)


@pytest.mark.parametrize(
    "due, elapsed, late",
    [
        (120.0, 180.0, False),  # at least one minute
        (120.0, 181.0, True),
        (600.0, 660.0, False),
        (600.0, 661.0, True),
        (7200.0, 7920.0, False),
        (7200.0, 7921.0, True),
        (7200.0, 3600.0, False),
    ],
)
def test_late_is_beyond_a_tenth_and_at_least_a_minute(due, elapsed, late):
    assert is_late(due, elapsed) is late


def test_due_points_from_ahead_to_missed():
    strip = Strip(code="P", bottle=1, dipped_at=DIPPED, reading_times=(2 * MINUTE, 15 * MINUTE, HOUR), key=3)
    assert states([], 1, strip) == [(2, "ahead", False), (15, "ahead", False), (60, "ahead", False)]
    assert states([], 2, strip)[0] == (2, "due", False)
    assert states([], 4, strip)[0] == (2, "due", True)
    assert states([], 15, strip)[:2] == [(2, "missed", False), (15, "due", False)]
    assert states([read(2, 5)], 14, strip)[:2] == [(2, "answered", False), (15, "ahead", False)]
    assert states([read(2, 5)], 70, strip) == [(2, "answered", False), (15, "missed", False), (60, "due", True)]
    assert states([], 61, strip)[2] == (60, "due", False)


def test_what_a_reading_now_would_not_answer_any_more_is_not_asked_for():
    """Between 2 and 15 min the border is at √30 = 5.5 min: from there on a reading is the one of 15 min."""
    for minutes, state, asked in ((5, "due", 2), (6, "passed", 15), (14, "passed", 15), (15, "missed", 15)):
        assert states([], minutes)[0][1] == state
        point = next_due(STRIP, [], after(minutes))
        assert point.due_s == asked * MINUTE
        assert point.state == "ahead" or answers(STRIP, after(minutes)) == point.due_s
    # what was written on paper in time answers it all the same
    assert states([read(3, 5)], 6)[0] == (2, "answered", False)
    # read now, as 15 min: what was passed is missed
    assert [state for _, state, _ in states([read(6, 4)], 6)[:3]] == ["missed", "answered", "ahead"]
    # nothing comes after the last one
    assert states([], 10_080 * 3)[-1] == (10_080, "due", True)


def test_due_point_is_missed_once_a_later_one_is_answered_even_early():
    strip = Strip(code="P", bottle=1, dipped_at=DIPPED, reading_times=(HOUR, 2 * HOUR), key=3)
    assert states([read(100, 3)], 100, strip) == [(60, "missed", False), (120, "answered", False)]


def test_stated_due_point_stands_before_the_nearest():
    reading = read(100, 3, due_s=HOUR)
    point = due_points(STRIP, [reading], after(100))[3]
    assert (point.due_s, point.state, point.late) == (HOUR, "answered", True)
    assert at_due([reading], STRIP, HOUR) is reading
    assert at_due([reading], STRIP, 2 * HOUR) is None


def test_of_two_readings_for_one_point_the_nearer_answers_it_everywhere():
    early, near, again = read(110, 3), read(121, 2.5), read(150, 2)
    readings = [again, near, early]
    assert due_points(STRIP, readings, after(155))[4].reading is near
    assert at_due(readings, STRIP, 2 * HOUR) is near
    assert len(series(readings, STRIP)) == 3


def test_next_due():
    assert next_due(STRIP, [], after(0)).due_s == 2 * MINUTE
    point = next_due(STRIP, [read(2, 5)], after(20))
    assert (point.due_s, point.state) == (15 * MINUTE, "due")
    closed = Strip(code="P", bottle=1, dipped_at=DIPPED, closed_at="2025-03-05T09:00+01:00", key=3)
    assert next_due(closed, [], after(0)) is None
    assert next_due(STRIP, [read(10080, 0)], after(10081)) is None


def test_elapsed_time_does_not_jump_when_the_clock_is_changed():
    """Dipped at 00:30 winter time; clocks go from 02:00 to 03:00; read at 04:30 summer time: three hours, not four."""
    strip = Strip(code="P", bottle=1, dipped_at="2025-03-30T00:30+01:00", reading_times=(3 * HOUR, 4 * HOUR), key=5)
    reading = Reading(strip=5, at="2025-03-30T04:30+02:00", intensity=3)
    assert elapsed_s(strip, reading.at) == 3 * HOUR
    assert series([reading], strip) == ((3.0, 3),)
    assert answers(strip, reading.at) == 3 * HOUR
    points = due_points(strip, [reading], instant("2025-03-30T04:31+02:00"))
    assert [(p.state, p.late) for p in points] == [("answered", False), ("ahead", False)]
    unread = due_points(strip, [], instant("2025-03-30T04:29+02:00"))
    assert [p.state for p in unread] == ["ahead", "ahead"]
    missed = due_points(strip, [], instant("2025-03-30T05:30+02:00"))
    assert [(p.state, p.late) for p in missed] == [("missed", False), ("due", False)]


def test_autumn_s_doubled_hour_counts_twice():
    strip = Strip(code="P", bottle=1, dipped_at="2025-10-26T02:15+02:00", key=5)
    assert series([Reading(strip=5, at="2025-10-26T02:15+01:00", intensity=3)], strip) == ((1.0, 3),)


# what counts


def test_corrected_and_withdrawn_readings_do_not_count():
    first = read(60, 3, key=1)
    corrected = read(62, 2.5, key=2, replaces=1)
    taken_out = read(120, 2, key=3)
    withdrawal = read(120, 2, key=4, replaces=3, withdrawn=True)
    elsewhere = read(30, 6, Strip(code="P09", bottle=1, dipped_at=DIPPED, key=9), key=5)
    assert in_force([taken_out, withdrawal, corrected, first, elsewhere], STRIP) == (corrected,)
    assert series([first, taken_out], STRIP) == ((1.0, 3), (2.0, 2))


def test_reading_moved_to_another_strip_leaves_the_first():
    other = Strip(code="P09", bottle=1, dipped_at=DIPPED, key=9)
    first = read(60, 3, key=1)
    moved = read(60, 3, other, key=2, replaces=1)
    assert in_force([first, moved], STRIP) == ()
    assert in_force([first, moved], other) == (moved,)


def test_readings_not_yet_put_count_unless_withdrawn():
    unsaved = read(60, 3)
    assert in_force([unsaved, read(90, 3, withdrawn=True)], STRIP) == (unsaved,)


def test_series_is_by_time_and_leaves_out_readings_without_intensity():
    readings = [read(120, 2), read(2, 5), read(60, None, note="busy"), read(60, 0)]
    assert series(readings, STRIP) == ((pytest.approx(2 / 60), 5), (1.0, 0), (2.0, 2))


# figures of a curve

LEMON = ((2 / 60, 5.5), (0.25, 4.5), (0.5, 3.5), (1.0, 2.5), (2.0, 1.5), (4.0, 0.5), (8.0, 0.0))


def test_area_by_hand():
    """Trapezoids: 13/60·5 + 0.25·4 + 0.5·3 + 1·2 + 2·1 + 4·0.25 = 8.58333 intensity hours."""
    assert area(LEMON, 2 / 60, 8.0) == pytest.approx(13 / 60 * 5 + 1 + 1.5 + 2 + 2 + 1, rel=1e-14)
    assert area(LEMON, 1.0, 4.0) == pytest.approx(4.0, rel=1e-14)


def test_area_uses_the_true_times():
    """The same readings, one of them taken at 161 instead of 120 min."""
    late = tuple((161 / 60 if t == 2.0 else t, y) for t, y in LEMON)
    hand = 13 / 60 * 5 + 1 + 1.5 + (161 / 60 - 1) * 2 + (4 - 161 / 60) * 1 + 1
    assert area(late, 2 / 60, 8.0) == pytest.approx(hand, rel=1e-14)
    assert area(late, 2 / 60, 8.0) > area(LEMON, 2 / 60, 8.0)


def test_area_between_readings_is_straight_and_held_beyond_the_ends():
    curve = ((1.0, 4.0), (2.0, 2.0))
    assert area(curve, 1.05, 1.95) == pytest.approx(0.9 * 3.0, rel=1e-14)
    assert area(curve, 0.95, 2.1) == pytest.approx(0.05 * 4 + 3 + 0.1 * 2, rel=1e-13)


@pytest.mark.parametrize(
    "curve, ends",
    [
        ((), (0.1, 8.0)),
        (LEMON[:-1], (2 / 60, 8.0)),  # no reading near 8 h
        (LEMON[1:], (2 / 60, 8.0)),  # none near 2 min
        (((1.0, 5.0), (24.0, 2.0)), (1.0, 24.0)),  # a gap
        (LEMON, (8.0, 1.0)),
        (LEMON, (1.0, 1.0)),
    ],
)
def test_area_is_not_known(curve, ends):
    assert area(curve, *ends) is None


def test_gap_begins_beyond_its_ratio():
    assert area(((1.0, 2.0), (GAP_RATIO, 2.0)), 1.0, GAP_RATIO) == 2.0 * (GAP_RATIO - 1)
    assert area(((1.0, 2.0), (GAP_RATIO + 0.01, 2.0)), 1.0, GAP_RATIO + 0.01) is None
    assert area(((0.0, 2.0), (5.0, 2.0)), 0.0, 5.0) == 10.0  # from the dip itself no ratio can be taken


def test_two_readings_at_one_instant_do_not_divide_by_zero():
    assert area(((1.0, 4.0), (1.0, 2.0), (2.0, 2.0)), 1.0, 2.0) == 2.0 * 1.0 + 1.0


def test_time_below_is_interpolated_on_log_time():
    """From 3 at 4 h to 2 at 8 h: 2.5 lies half way on log time, √(4 × 8) = 5.657 h."""
    curve = ((4.0, 3.0), (8.0, 2.0))
    assert time_below(curve, 2.5) == pytest.approx(math.sqrt(32), rel=1e-14)
    assert crossing(curve, 2.5) == Crossing(pytest.approx(math.sqrt(32)), 4.0, 8.0)


@pytest.mark.parametrize(
    "curve, level, at_h",
    [
        (LEMON, 2.5, 1.0),  # exactly at the level counts as not yet below
        (LEMON, 1.0, 2 * math.sqrt(2)),
        (LEMON, 0.0, None),
        (LEMON[:3], 2.5, None),  # never below within the readings
        (((1.0, 2.0), (2.0, 1.0)), 2.5, None),  # was below from the first on
        (((1.0, 3.0), (2.0, 2.0), (4.0, 3.0), (8.0, 2.0)), 2.5, math.sqrt(2)),  # the first fall
        ((), 1.0, None),
        (((0.0, 3.0), (1.0, 2.0)), 2.5, 1 / 60),  # a reading at the dip stands at one second: √(1/3600)
    ],
)
def test_time_below(curve, level, at_h):
    assert time_below(curve, level) == (None if at_h is None else pytest.approx(at_h, rel=1e-12))


def test_peak_and_first_and_last_noticed():
    assert curve_figures(LEMON) == CurveFigures(5.5, 2 / 60, 4.0, False, 2 / 60, 2 / 60, 8.0)
    assert curve_figures(((0.5, 3), (1.0, 4), (2.0, 4), (8.0, 2))) == CurveFigures(4, 1.0, 8.0, True, 2.0, 0.5)
    assert curve_figures(((0.5, 0), (1.0, 0))) == CurveFigures(0, 0.5, None, False, 1.0)
    assert curve_figures(((0.5, 1), (1.0, 0.5))) == CurveFigures(1, 0.5, 1.0, True, 0.5, 0.5)
    assert curve_figures(()) == CurveFigures(None, None, None, still_noticed=False)


def test_peak_that_comes_again_ends_where_it_first_left():
    assert curve_figures(((1.0, 4), (2.0, 3), (4.0, 4))).peak_until_h == 1.0


def test_duration_runs_from_the_first_to_the_last_noticed_reading():
    """What smells from the second reading on, is not noticed at 2 h and is gone by 8 h lasted at least 0.5 to 4 h."""
    figures = curve_figures(((0.25, 0), (0.5, 3), (1.0, 4), (2.0, 0), (4.0, 1), (8.0, 0), (24.0, 0)))
    assert (figures.first_noticed_h, figures.last_noticed_h, figures.gone_by_h) == (0.5, 4.0, 8.0)
    assert figures.duration_h == 3.5
    assert curve_figures(LEMON).duration_h == pytest.approx(4 - 2 / 60)
    assert curve_figures(((0.5, 0),)).duration_h is None and curve_figures(()).duration_h is None


@pytest.mark.parametrize("after_h, before_h, wide", [(1.0, 4.0, True), (1.0, 3.9, False), (0.0, 1.0, True)])
def test_crossing_between_wide_readings_says_so(after_h, before_h, wide):
    assert crossing(((after_h, 3), (before_h, 2)), 2.5).is_wide is wide


# what holds for every curve

curves = st.lists(
    st.tuples(st.floats(1.01, 3.0), st.integers(0, 12)), min_size=3, max_size=12
).map(
    lambda steps: tuple((math.prod(r for r, _ in steps[: i + 1]) / 30, y / 2) for i, (_, y) in enumerate(steps))
)  # fmt: skip


@given(curves, st.data())
def test_area_is_additive_over_a_split_at_a_reading(curve, data):
    middle = data.draw(st.sampled_from(curve[1:-1]))[0]
    first, last = curve[0][0], curve[-1][0]
    parts = area(curve, first, middle) + area(curve, middle, last)
    assert area(curve, first, last) == pytest.approx(parts, rel=1e-12, abs=1e-12)


@given(curves, st.floats(0, 6))
def test_area_lies_between_the_rectangles_of_least_and_most(curve, level):
    first, last = curve[0][0], curve[-1][0]
    low, high = (limit(y for _, y in curve) for limit in (min, max))
    assert low * (last - first) - 1e-9 <= area(curve, first, last) <= high * (last - first) + 1e-9
    flat = tuple((t, level) for t, _ in curve)
    assert area(flat, first, last) == pytest.approx(level * (last - first), rel=1e-12)


@given(curves, st.integers(0, 12).map(lambda half: half / 2))
def test_crossing_lies_within_its_bracket_and_the_curve_was_not_below_before(curve, level):
    found = crossing(curve, level)
    falls = [(a, b) for a, b in pairwise(curve) if a[1] >= level > b[1]]
    if found is None:
        assert falls == []
    else:
        assert (found.after_h, found.before_h) == (falls[0][0][0], falls[0][1][0])
        assert found.after_h * (1 - 1e-12) <= found.at_h <= found.before_h * (1 + 1e-12)


@given(st.floats(1, 10**6))
def test_answered_point_is_no_further_on_log_time_than_any_other(elapsed):
    at = instant(iso(instant(DIPPED).timestamp() + elapsed))
    chosen, true = answers(STRIP, at), elapsed_s(STRIP, at)
    assert all(abs(math.log(true / chosen)) <= abs(math.log(true / due)) for due in READING_TIMES)

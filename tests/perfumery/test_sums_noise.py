# SPDX-License-Identifier: MIT
"""One's own noise: which strips are repeats, how their readings are matched, and what the spread comes to."""

import math
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Dipped, OwnNoise, Reading, RepeatPair, Strip, own_noise, repeat_pairs
from perfumery.instants import instant

MIXED = instant("2025-02-24T10:00+01:00")
MORNING = instant("2025-03-20T09:00+01:00")
TIMES = (120.0, 900.0, 3600.0, 7200.0)


def dipped(code, *intensities, days=0.0, vial=22, read_s=TIMES, **more):
    """A strip dipped so many days after the first morning, read at its due points or at the times given."""
    own = {name: more.pop(name) for name in ("kind", "blind_code") if name in more}
    at = MORNING + timedelta(days=days)
    key = int(code[1:])
    strip = Strip(code=code, bottle=1, dipped_at=at, reading_times=TIMES, key=key, **own)
    readings = tuple(
        Reading(strip=key, at=at + timedelta(seconds=s), due_s=due, intensity=y)
        for due, s, y in zip(TIMES, read_s, intensities, strict=False)
    )
    fields = {"concentrate_at": MIXED, "alcohol_at": MIXED + timedelta(days=1), "strength": 0.12, "carrier": 1}
    return Dipped(strip, readings, vial, **{**fields, **more})


def codes(*strips):
    return [(pair.first.code, pair.second.code) for pair in repeat_pairs(strips)]


def pair(*differences):
    strip = dipped("P01").strip
    return RepeatPair(strip, strip, TIMES[: len(differences)], differences)


# the spread


def test_fewer_than_three_pairs_are_not_yet_known():
    assert own_noise([]) is None
    assert own_noise([pair(0.5, 0), pair(0.5)]) is None
    assert own_noise([pair(0.5, 0), pair(0.5), pair()]) is None  # a pair without a matched reading is none


def test_spread_by_hand():
    """0.5² + 0.5² + 1² = 1.5 over 6 differences: s = √(1.5 / 12) = 0.35355; 1.96 √2 s = 0.98."""
    noise = own_noise([pair(0.5, 0), pair(-0.5, 0), pair(1, 0)])
    assert noise == OwnNoise(pytest.approx(math.sqrt(0.125)), pytest.approx(0.98), 3, 6)
    assert noise.counts(1) and noise.counts(-1) and not noise.counts(0.5) and not noise.counts(-0.5)


def test_a_difference_at_the_limit_does_not_count():
    noise = OwnNoise(0.25, 0.5, 3, 24)
    assert not noise.counts(0.5) and not noise.counts(-0.5) and noise.counts(0.5000001)


def test_without_any_spread_every_difference_counts():
    noise = own_noise([pair(0), pair(0), pair(0)])
    assert (noise.s, noise.limit) == (0, 0)
    assert noise.counts(0.5) and not noise.counts(0)


halves = st.integers(-12, 12).map(lambda n: n / 2)
pairs_of = st.lists(st.lists(halves, min_size=1, max_size=4), min_size=3, max_size=6)


@given(pairs_of, st.randoms())
def test_spread_asks_neither_sign_nor_order(lists, chance):
    noise = own_noise([pair(*each) for each in lists])
    turned = [[-d for d in reversed(each)] for each in lists]
    chance.shuffle(turned)
    again = own_noise([pair(*each) for each in turned])
    assert again == OwnNoise(pytest.approx(noise.s), pytest.approx(noise.limit), noise.pairs, noise.count)
    greatest = max(abs(d) for each in lists for d in each)
    assert noise.s <= greatest / math.sqrt(2) + 1e-12
    doubled = own_noise([pair(*(2 * d for d in each)) for each in lists])
    assert doubled.s == pytest.approx(2 * noise.s)


# which strips are repeats


def test_the_same_vial_a_day_later_is_a_repeat():
    first, second = dipped("P08", 5, 4, 3, 2.5), dipped("P10", 5, 4.5, 3, 2, days=1)
    (found,) = repeat_pairs([second, first])
    assert found == RepeatPair(first.strip, second.strip, TIMES, (0, 0.5, 0, -0.5))


@pytest.mark.parametrize("days, is_pair", [(0.002, True), (2.01, True), (2.49, True), (2.5, False), (15, False)])
def test_ages_lie_within_two_days(days, is_pair):
    assert bool(codes(dipped("P08", 5), dipped("P10", 5, days=days))) is is_pair


@pytest.mark.parametrize(
    "other",
    [
        {"vial": 28},
        {"concentrate_at": MIXED + timedelta(hours=1)},  # topped up in between: another mix in the same vial
        {"concentrate_at": None},
        {"alcohol_at": None},
        {"alcohol_at": MIXED + timedelta(days=10)},
        {"strength": 0.1},
        {"carrier": 2},
        {"kind": "skin"},
    ],
)
def test_what_differs_is_no_repeat(other):
    assert codes(dipped("P08", 5), dipped("P10", 5, days=1, **other)) == []


def test_two_strips_on_skin_are_no_repeat():
    assert codes(dipped("W01", 5, kind="skin"), dipped("W02", 5, kind="skin")) == []


def test_ages_in_alcohol_count_on_their_own():
    """Thinned anew in between: as concentrate a day apart, in alcohol the same age, or too far from it."""
    thinned = MIXED + timedelta(days=1)
    assert codes(dipped("P08", 5), dipped("P10", 5, days=1, alcohol_at=thinned + timedelta(days=1))) == [("P08", "P10")]
    assert codes(dipped("P08", 5), dipped("P10", 5, days=1, alcohol_at=thinned + timedelta(days=3.5))) == []
    never = {"alcohol_at": None, "concentrate_at": None, "strength": None, "carrier": None}
    assert codes(dipped("P08", 5, **never), dipped("P10", 5, days=1, **never)) == [("P08", "P10")]


def test_strips_of_one_code_are_no_repeat():
    assert codes(dipped("P08", 5, blind_code="417"), dipped("P10", 5, blind_code="417")) == []
    assert codes(dipped("P08", 5, blind_code="417"), dipped("P10", 5, blind_code="862")) == [("P08", "P10")]
    assert codes(dipped("P08", 5), dipped("P08", 5, days=1)) == []


def test_every_strip_is_in_one_pair_the_nearest_in_age():
    strips = [dipped(f"P0{n}", 5, days=days) for n, days in enumerate((0, 1, 1.5, 3.5), 1)]
    assert codes(*strips) == [("P02", "P03")]
    assert codes(*strips, dipped("P09", 5, days=3.6)) == [("P02", "P03"), ("P04", "P09")]


def test_pair_without_a_matched_reading_leaves_both_for_others():
    unread, first, second = dipped("P01", days=0.9), dipped("P02", 5), dipped("P03", 5, days=1)
    assert codes(unread, first, second) == [("P02", "P03")]


# which readings are matched


@pytest.mark.parametrize("second_s, matched", [(7200, True), (7920, True), (7921, False), (6546, True), (6545, False)])
def test_true_times_differ_by_a_tenth_of_the_shorter(second_s, matched):
    one, two = dipped("P08", 5, 4, 3, 2), dipped("P10", 5, 4, 3, 2, read_s=(120, 900, 3600, second_s))
    (found,) = repeat_pairs([one, two])
    assert found.dues_s == (TIMES if matched else TIMES[:3])


def test_readings_without_an_intensity_are_left_out():
    (found,) = repeat_pairs([dipped("P08", 5, None, 3, 2), dipped("P10", 4, 4, None, 2)])
    assert (found.dues_s, found.differences) == ((120.0, 7200.0), (-1, 0))


@given(st.lists(st.floats(0, 20), min_size=0, max_size=7), st.randoms())
def test_pairs_are_apart_and_do_not_ask_the_order(days, chance):
    strips = [dipped(f"P{n:02}", 5, 4, days=d) for n, d in enumerate(days, 1)]
    found = repeat_pairs(strips)
    used = [strip.code for pair in found for strip in (pair.first, pair.second)]
    assert len(used) == len(set(used))
    assert all(timedelta(0) <= pair.second.dipped_at - pair.first.dipped_at < timedelta(days=2.5) for pair in found)
    chance.shuffle(strips)
    assert repeat_pairs(strips) == found
    left = [s for s in strips if s.strip.code not in used]
    assert repeat_pairs(left) == ()

# SPDX-License-Identifier: MIT
"""Triangle, duo-trio and paired tests: the figures shown, against scipy's binomial test, and what is refused."""

import math
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from perfumery import duo_trio, needed, paired, three_afc, triangle
from perfumery.binomial import at_least, at_most, bounds, exactly
from perfumery.discrimination import chance_of, discriminate
from perfumery.methods import METHODS, MOST_ANSWERS, PAIRED, THREE_AFC, TRIANGLE

counts = st.integers(1, 80)
risks = st.sampled_from((0.001, 0.01, 0.05, 0.1, 0.2, 0.4))
tests = st.sampled_from(sorted(METHODS))
answers = counts.flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


def test_six_of_nine_triangles():
    said = triangle(6, 9)
    assert said.p == pytest.approx(835 / 19683) and round(said.p, 4) == 0.0424  # by hand: (672 + 144 + 18 + 1) / 3⁹
    assert (said.needed, said.is_significant, said.share) == (6, True, 6 / 9)
    assert said.discriminators == pytest.approx(0.5)
    assert 0 < said.low < said.dprime < said.high and said.level == pytest.approx(0.9)
    assert (said.test, said.right, said.n, said.alpha) == ("triangle", 6, 9, 0.05)


def test_five_of_nine_triangles_are_one_short():
    said = triangle(5, 9)
    assert not said.is_significant and said.low == 0 < said.dprime and said.needed == 6


def test_one_sided_is_half_of_two_sided():
    assert paired(8, 9, two_sided=False).p == pytest.approx(10 / 512)
    assert paired(8, 9).p == paired(1, 9).p == pytest.approx(20 / 512)
    assert paired(1, 9, two_sided=False).p > 0.99
    assert paired(5, 10).p == 1


def test_the_other_one_has_more():
    other, one = paired(3, 20), paired(17, 20)
    assert other.dprime == -one.dprime < 0 and (other.low, other.high) == (pytest.approx(-one.high), pytest.approx(-one.low))
    assert other.discriminators == pytest.approx(-0.7) and other.is_significant
    assert paired(3, 20, two_sided=False).dprime == 0 == paired(3, 20, two_sided=False).discriminators


def test_all_right_is_farther_than_can_be_known():
    said = triangle(9, 9)
    assert said.dprime == said.high == said.u == math.inf and 0 < said.low < math.inf and said.share_high == 1
    assert paired(0, 9).dprime == paired(0, 9).low == -math.inf


def test_two_answers_are_never_enough():
    said = triangle(2, 2)
    assert said.needed is None and not said.is_significant and said.low == 0


def test_a_triangle_and_3_afc_guess_alike_and_decide_apart():
    odd, strongest = triangle(10, 15), three_afc(10, 15)
    assert (odd.p, odd.needed) == (strongest.p, strongest.needed) and odd.dprime > strongest.dprime


@given(answers, tests)
def test_p_against_an_independent_test(right_n, test):
    right, n = right_n
    method = METHODS[test]
    wanted = binomtest(right, n, float(method.chance), "two-sided" if method.is_two_sided else "greater").pvalue
    assert discriminate(test, right, n).p == pytest.approx(wanted, rel=1e-9)


@given(answers, st.sampled_from((0.01, 0.05, 0.1)))
def test_bounds_against_independent_ones(right_n, tail):
    right, n = right_n
    wanted = binomtest(right, n).proportion_ci(1 - 2 * tail, "exact")
    assert bounds(right, n, tail) == pytest.approx((wanted.low, wanted.high), abs=1e-9)


@given(counts, tests)
def test_p_falls_with_every_right_answer(n, test):
    half = (n + 1) // 2 if METHODS[test].is_two_sided else 0
    found = [chance_of(test, right, n) for right in range(half, n + 1)]
    assert all(more < fewer or more == fewer == 1 for fewer, more in pairwise(found))


@given(counts, risks, tests)
def test_needed_is_the_fewest(n, alpha, test):
    least = needed(n, alpha, test)
    p = lambda right: discriminate(test, right, n, alpha=alpha).p
    if least is None:
        assert p(n) > alpha
    else:
        assert p(least) <= alpha and (least == 0 or p(least - 1) > alpha)


@given(answers, risks, tests)
def test_a_low_bound_above_chance_says_the_same_as_p(right_n, alpha, test):
    right, n = right_n
    said = discriminate(test, right, n, alpha=alpha)
    assert said.share_low <= said.share <= said.share_high and said.low <= said.dprime <= said.high
    assert said.discriminators_low <= said.discriminators <= said.discriminators_high
    if abs(said.p - alpha) > 1e-9:
        assert (said.low > 0 or said.high < 0) == said.is_significant


@given(answers, st.floats(0, 1))
def test_sums_of_whole_and_broken_shares_agree(right_n, share):
    right, n = right_n
    whole = Fraction(share).limit_denominator(1000)
    assert at_least(right, n, float(whole)) == pytest.approx(at_least(right, n, whole), rel=1e-10, abs=1e-300)
    assert at_most(right, n, float(whole)) == pytest.approx(at_most(right, n, whole), rel=1e-10, abs=1e-300)
    assert at_least(right, n, whole) + at_most(right - 1, n, whole) == pytest.approx(1)


def test_what_is_beyond_the_ends():
    assert exactly(-1, 5, 0.5) == exactly(6, 5, 0.5) == 0
    assert at_least(-3, 5, 0.5) == pytest.approx(1) and at_most(9, 5, Fraction(1, 2)) == 1
    assert exactly(5, 5, 1) == exactly(0, 5, 0) == 1 and exactly(4, 5, 1) == 0


@pytest.mark.parametrize("n", [0, -3, MOST_ANSWERS + 1])
def test_so_many_answers_are_refused(refused, n):
    for call in (triangle, duo_trio, paired, three_afc):
        assert refused(call, 0, n).code == "answers-range"
    assert refused(needed, n, 0.05, TRIANGLE).data == {"n": n, "most": MOST_ANSWERS}


@pytest.mark.parametrize("right", [-1, 10])
def test_more_right_than_answers_is_refused(refused, right):
    for call in (triangle, duo_trio, paired, three_afc):
        finding = refused(call, right, 9)
        assert (finding.code, finding.data) == ("right-range", {"right": right, "n": 9})


@pytest.mark.parametrize("alpha", [0.0, 1.0, -0.05, 1.5, 0.5, math.nan])
def test_a_risk_that_is_none_is_refused(refused, alpha):
    assert refused(triangle, 6, 9, alpha=alpha).code == "alpha-range"
    assert refused(needed, 9, alpha, PAIRED).code == "alpha-range"


def test_an_unknown_method_is_refused(refused):
    finding = refused(needed, 9, 0.05, "square")
    assert finding.code == "kind-unknown" and finding.data["kind"] == "square" and THREE_AFC in finding.data["known"]

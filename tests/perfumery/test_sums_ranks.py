# SPDX-License-Identifier: MIT
"""Ranking: exact probabilities against every order tried, chi-square against scipy, pairs apart, and what is refused."""

import math
from collections import Counter
from itertools import permutations, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest, chi2, friedmanchisquare, page_trend_test, rankdata

from perfumery import ranking, trend
from perfumery.ranks import chi_square_limit, chi_square_tail, friedman, least_difference

AGREED = ((1, 2, 3),) * 4


def table(answers, samples):
    row = st.lists(st.integers(1, 5), min_size=samples, max_size=samples).filter(lambda row: len(set(row)) > 1)
    return st.lists(row, min_size=answers, max_size=answers)


few = st.sampled_from(((2, 3), (3, 3), (4, 3), (2, 4), (3, 2))).flatmap(lambda shape: table(*shape))
many = st.tuples(st.integers(2, 12), st.integers(3, 6)).flatmap(lambda shape: table(*shape))


def test_four_who_agree():
    said = ranking(AGREED)
    assert said.sums == (4, 8, 12) and said.statistic == pytest.approx(8) and said.answers == 4
    assert said.p == pytest.approx(1 / 216) and said.is_exact and said.is_significant
    assert said.needed == pytest.approx(6.5)
    assert said.least_difference == pytest.approx(1.959964 * math.sqrt(8), abs=1e-5)
    assert said.apart == ((0, 2),)


def test_no_pair_is_apart_where_nothing_differs():
    said = ranking([(1, 2, 3), (3, 2, 1), (1, 3, 2)])
    assert not said.is_significant and said.apart == ()


def test_one_answer_says_nothing():
    said = ranking([(2, 1, 3)])
    assert said.p == 1 and said.needed is None and said.is_exact


def test_only_the_order_in_a_row_counts():
    """A tie written as 1, 2, 2 or 1, 3, 3 or 1, 2.5, 2.5 is the same tie."""
    written = [(1, 2, 2), (1, 3, 3), (1, 2.5, 2.5), (0.1, 7, 7)]
    found = [ranking([row, (2, 1, 3)]) for row in written]
    assert found[0].sums == (3, 3.5, 5.5) and set(found) == {found[0]}


@settings(max_examples=30)
@given(few)
def test_exact_against_every_order_tried(rows):
    ranked = [tuple(rankdata(row)) for row in rows]
    sums = lambda each: [math.fsum(column) for column in zip(*each, strict=True)]
    spread = lambda each: math.fsum(total**2 for total in sums(each))
    seen = [spread(each) for each in product(*(list(permutations(row)) for row in ranked))]
    said = ranking(rows)
    assert said.is_exact and list(said.sums) == sums(ranked)
    assert said.p == pytest.approx(sum(each >= spread(ranked) - 1e-9 for each in seen) / len(seen))
    # and `needed` is the smallest F of all orders that chance reaches seldom enough
    reached = Counter(round(each, 6) for each in seen)
    rare = [s for s in reached if sum(ways for t, ways in reached.items() if t >= s) / len(seen) <= 0.05]
    if not rare:
        assert said.needed is None
    else:
        slope = said.statistic / (spread(ranked) - sum(sums(ranked)) ** 2 / len(ranked[0])) if said.statistic else 0
        assume(slope)
        assert said.needed == pytest.approx(slope * (min(rare) - sum(sums(ranked)) ** 2 / len(ranked[0])))
        assert (said.statistic >= said.needed - 1e-9) == said.is_significant


@given(many)
def test_statistic_against_an_independent_one(rows):
    said = ranking(rows)
    wanted = friedmanchisquare(*zip(*rows, strict=True))
    assert said.statistic == pytest.approx(wanted.statistic, abs=1e-9)
    if not said.is_exact:
        assert said.p == pytest.approx(wanted.pvalue, rel=1e-9)
        assert (said.statistic >= said.needed - 1e-9) == said.is_significant
    assert sorted(ranking(rows[::-1]).sums) == pytest.approx(sorted(said.sums))
    assert ranking(rows[::-1]).p == pytest.approx(said.p)


@given(table(6, 4))
def test_pairs_apart_are_as_far_as_the_least_difference(rows):
    said = ranking(rows, alpha=0.2)
    for low, high in said.apart:
        assert said.is_significant and said.sums[high] - said.sums[low] >= least_difference(6, 4, 0.2)


@given(st.integers(1, 60), st.integers(0, 60))
def test_two_samples_are_a_paired_test(answers, first):
    assume(first <= answers)
    said = ranking([(1, 2)] * first + [(2, 1)] * (answers - first))
    assert said.is_exact and said.p == pytest.approx(binomtest(first, answers).pvalue)


def test_many_ties_of_many_samples_are_counted_once():
    said = ranking([(2, *(1,) * 11), (*(1,) * 11, 2)] * 2)
    assert said.is_exact and said.p < 1


def test_large_designs_go_by_chi_square():
    rows = [tuple(range(9)), tuple(range(9))[::-1]]
    said = ranking(rows)
    assert not said.is_exact and said.statistic == pytest.approx(0) and said.p == pytest.approx(1)
    assert said.needed == pytest.approx(chi2.isf(0.05, 8))


@given(st.floats(0, 200), st.integers(1, 30))
def test_chi_square_tail(value, df):
    assert chi_square_tail(value, df) == pytest.approx(chi2.sf(value, df), rel=1e-9, abs=1e-300)


@given(st.floats(0.0005, 0.49), st.integers(1, 30))
def test_chi_square_limit(alpha, df):
    assert chi_square_limit(alpha, df) == pytest.approx(chi2.isf(alpha, df), rel=1e-9)


def test_an_order_expected_beforehand():
    """Page's test, against scipy's by the normal curve."""
    rows = [(1, 2, 3, 4), (1, 3, 2, 4), (2, 1, 3, 4), (1, 2, 4, 3), (1, 2, 3, 4)]
    said = trend(rows)
    wanted = page_trend_test(rows, method="asymptotic")
    assert said.value == wanted.statistic and said.p == pytest.approx(wanted.pvalue)
    assert said.value > said.needed and said.p < said.alpha == 0.05
    against = trend([row[::-1] for row in rows])
    assert against.p > 0.95 and against.value < against.needed


def test_friedman_by_hand():
    """12 / (8·5·6) · Σ(R − 24)² = 0.05 · 212."""
    assert friedman((17, 31, 32, 23, 17), 8) == pytest.approx(10.6)


@pytest.mark.parametrize("rows", [[], [()], [(1,)], [(1,), (2,)]])
def test_too_little_to_rank_is_refused(refused, rows):
    assert refused(ranking, rows).code == refused(trend, rows).code == "ranks-few"


@pytest.mark.parametrize("row, count", [((1, 2), 2), ((1, 2, math.nan), 2), ((math.inf, 2, 1), 2), ((), 0)])
def test_a_row_that_lacks_ranks_is_refused(refused, row, count):
    finding = refused(ranking, [(1, 2, 3), row])
    assert (finding.code, finding.data) == ("ranks-missing", {"row": 2, "count": count, "samples": 3})


def test_a_row_that_ties_everything_is_refused(refused):
    finding = refused(ranking, [(1, 2, 3), (2, 2, 2)])
    assert (finding.code, finding.data) == ("ranks-tied", {"row": 2})


@pytest.mark.parametrize("alpha", [0.0, 1.0, 0.5, -1.0])
def test_a_risk_that_is_none_is_refused(refused, alpha):
    assert refused(ranking, AGREED, alpha=alpha).code == refused(trend, AGREED, alpha=alpha).code == "alpha-range"
    assert refused(least_difference, 4, 3, alpha).code == "alpha-range"

# SPDX-License-Identifier: MIT
"""How many answers to notice a difference: the fewest, at the power asked for, and what is refused."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from perfumery import trials
from perfumery.discrimination import chance_of
from perfumery.distance import share_right
from perfumery.methods import METHODS, MOST_ANSWERS, PAIRED, TRIANGLE
from perfumery.planning import power

tests = st.sampled_from(sorted(METHODS))
effects = st.sampled_from((0.3, 0.4, 0.55, 0.8, 1.0))
risks, powers = st.sampled_from((0.01, 0.05, 0.2, 0.4)), st.sampled_from((0.3, 0.8, 0.95))


def test_triads_for_half_who_truly_tell():
    found = trials(TRIANGLE, discriminators=0.5)
    assert (found.n, found.needed) == (16, 9) and found.share == pytest.approx(2 / 3)
    assert found.power == pytest.approx(binom.sf(8, 16, 2 / 3)) and found.power >= 0.8 > power(TRIANGLE, 15, 2 / 3)
    assert found.alpha == chance_of(TRIANGLE, 9, 16) and found.discriminators == pytest.approx(0.5)
    assert share_right(TRIANGLE, found.dprime) == pytest.approx(found.share)


def test_triads_for_a_distance():
    found = trials(TRIANGLE, dprime=2.0, alpha=0.1)
    assert found.dprime == 2.0 and found.share == share_right(TRIANGLE, 2.0)
    assert found.power >= 0.8 > power(TRIANGLE, found.n - 1, found.share, alpha=0.1)


def test_whole_blocks_serve_every_order_equally_often():
    found = trials(TRIANGLE, discriminators=0.5, block=6)
    assert found.n == 18 and found.power >= 0.8 > power(TRIANGLE, 12, 2 / 3)


def test_who_always_tells_needs_only_to_beat_chance():
    found = trials(TRIANGLE, discriminators=1.0)
    assert (found.n, found.needed, found.power, found.dprime) == (3, 3, 1, math.inf)


@settings(max_examples=30)
@given(tests, effects, risks, powers, st.sampled_from((1, 4)))
def test_fewest_that_reach_the_power(test, discriminators, alpha, wanted, block):
    found = trials(test, discriminators=discriminators, alpha=alpha, power=wanted, block=block)
    assert found.n % block == 0 and found.alpha <= alpha
    assert found.power == pytest.approx(power(test, found.n, found.share, alpha=alpha), abs=1e-12) and found.power >= wanted
    assert all(power(test, n, found.share, alpha=alpha) < wanted for n in range(block, found.n, block))


def test_power_counts_both_sides():
    assert power(PAIRED, 10, 0.5, alpha=0.3) == pytest.approx(2 * binom.sf(7, 10, 0.5))  # 8 must agree
    assert power(PAIRED, 10, 0.2, alpha=0.3) == pytest.approx(power(PAIRED, 10, 0.8, alpha=0.3))
    assert power(TRIANGLE, 2, 0.9) == 0  # two answers are never enough


def test_what_is_too_small_is_refused(refused):
    finding = refused(trials, TRIANGLE, discriminators=0.01)
    assert (finding.code, finding.data) == ("effect-too-small", {"most": MOST_ANSWERS})


def test_a_difference_is_given_once(refused):
    assert refused(trials, TRIANGLE).code == "effect-form"
    assert refused(trials, TRIANGLE, discriminators=0.3, dprime=1.0).code == "effect-form"


@pytest.mark.parametrize("effect", [{"discriminators": 0.0}, {"discriminators": 1.2}, {"dprime": 0.0}, {"dprime": math.inf}])
def test_a_difference_that_cannot_be_is_refused(refused, effect):
    finding = refused(trials, TRIANGLE, **effect)
    (value,) = effect.values()
    assert (finding.code, finding.data["effect"]) == ("effect-range", value if math.isfinite(value) else None)


@pytest.mark.parametrize("wanted", [0.0, 1.0, math.nan])
def test_a_power_that_cannot_be_is_refused(refused, wanted):
    assert refused(trials, TRIANGLE, discriminators=0.5, power=wanted).code == "power-range"


def test_other_refusals(refused):
    assert refused(trials, TRIANGLE, discriminators=0.5, alpha=1.0).code == "alpha-range"
    assert refused(trials, "square", discriminators=0.5).code == "kind-unknown"
    assert refused(power, TRIANGLE, 9, 1.2).code == "share-range"

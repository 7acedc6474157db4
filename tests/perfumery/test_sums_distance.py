# SPDX-License-Identifier: MIT
"""d′: psychometric functions against their integrals, forth and back, and what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from perfumery import dprime, share_right, triangle
from perfumery.binomial import rising
from perfumery.distance import dprime_u, slope
from perfumery.methods import DUO_TRIO, METHODS, PAIRED, PAIRED_ONE_SIDED, THREE_AFC, TRIANGLE

tests = st.sampled_from(sorted(METHODS))
distances = st.floats(0, 8)


@pytest.mark.parametrize("d", [0.01, 0.3, 1.0, 2.5, 4.0, 7.0, 11.0])
def test_functions_against_their_integrals(d):
    """As Ennis (1993) writes them: the triangle over the two that are alike, 3-AFC over the strongest."""
    a = d * math.sqrt(2 / 3)
    odd = lambda z: (norm.cdf(-z * math.sqrt(3) + a) + norm.cdf(-z * math.sqrt(3) - a)) * norm.pdf(z)
    assert share_right(TRIANGLE, d) == pytest.approx(2 * quad(odd, 0, 12, epsabs=1e-13)[0], abs=1e-11)
    strongest = lambda z: norm.pdf(z - d) * norm.cdf(z) ** 2
    assert share_right(THREE_AFC, d) == pytest.approx(quad(strongest, d - 10, d + 10, epsabs=1e-13)[0], abs=1e-11)
    assert share_right(PAIRED, d) == pytest.approx(norm.cdf(d / math.sqrt(2)), abs=1e-14)
    # right when the reference and its like are nearer: both differences of one sign, or the other way round
    near, far = norm.cdf(d / math.sqrt(2)), norm.cdf(d / math.sqrt(6))
    assert share_right(DUO_TRIO, d) == pytest.approx(near * far + (1 - near) * (1 - far), abs=1e-14)


@given(tests, distances)
def test_forth_and_back(test, d):
    assert dprime(test, share_right(test, d)) == pytest.approx(d, abs=1e-6)


@given(tests, st.floats(0, 1), st.floats(0, 1))
def test_distance_rises_with_the_share(test, one, other):
    low, high = sorted((one, other))
    assert dprime(test, low) <= dprime(test, high)


@given(tests, distances, distances)
def test_share_rises_with_the_distance(test, one, other):
    near, far = sorted((one, other))
    assert METHODS[test].chance - 1e-15 <= share_right(test, near) <= share_right(test, far) + 1e-15 <= 1 + 1e-15


@given(tests, st.floats(0.05, 6))
def test_slope_is_the_slope(test, d):
    step = 1e-4
    assert slope(test, d) == pytest.approx((share_right(test, d + step) - share_right(test, d - step)) / (2 * step), abs=1e-7)


@given(st.floats(0, 1))
def test_two_sided_is_the_same_either_way(share):
    assert dprime(PAIRED, share) == pytest.approx(-dprime(PAIRED, 1 - share), abs=1e-6)
    assert dprime(PAIRED_ONE_SIDED, share) == max(dprime(PAIRED, share), 0)


@pytest.mark.parametrize("test", METHODS)
def test_ends(test):
    method = METHODS[test]
    assert share_right(test, 0) == float(method.chance) and dprime(test, float(method.chance)) == 0
    assert share_right(test, math.inf) == 1 and dprime(test, 1) == math.inf
    assert dprime(test, 0) == (-math.inf if method.is_two_sided else 0)


def test_uncertainty_is_of_the_delta_method():
    said = triangle(10, 15)
    assert said.u == dprime_u(TRIANGLE, 10 / 15, 15) == pytest.approx(0.65104, abs=1e-5)
    assert dprime_u(PAIRED, 0.5, 100) == pytest.approx(math.sqrt(0.25 / 100 * 2 * 2 * math.pi))
    assert dprime_u(TRIANGLE, 0.2, 15) == dprime_u(TRIANGLE, 1, 15) == dprime_u(PAIRED, 0, 15) == math.inf


def test_a_root_where_newton_would_leave():
    assert rising(lambda x: math.atan(x - 3), lambda x: 1 / (1 + (x - 3) ** 2), 0.0, -50, 100) == pytest.approx(3)
    assert rising(lambda x: (x - 1) ** 3, lambda x: 0.0, 0.0, 0, 5) == pytest.approx(1)


@pytest.mark.parametrize("share", [-0.1, 1.1, math.nan])
def test_a_share_that_cannot_be_is_refused(refused, share):
    assert refused(dprime, TRIANGLE, share).code == "share-range"


def test_a_distance_that_cannot_be_is_refused(refused):
    assert refused(share_right, TRIANGLE, -1.0).data == {"dprime": -1.0}
    assert refused(share_right, PAIRED, math.nan).code == "dprime-range"
    assert share_right(PAIRED, -1.0) == pytest.approx(1 - share_right(PAIRED, 1.0))
    assert refused(dprime, "square", 0.5).code == refused(share_right, "square", 0.5).code == "kind-unknown"
    assert refused(dprime_u, TRIANGLE, 0.5, 0).code == "answers-range"

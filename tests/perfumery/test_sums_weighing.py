# SPDX-License-Identifier: MIT
"""What a balance can tell apart; the published rows stand in tests/reference."""

import math

import pytest

from perfumery import Balance
from perfumery.weighing import K, found_u, net_u, readable

B1, B2 = Balance("B1", d_g=0.001, s_g=0.0008), Balance("B2", d_g=0.01, s_g=0.006)


def test_repeatability_counts_unless_the_steps_are_coarser():
    assert (net_u(B1), net_u(B2)) == (0.0008, 0.006)
    assert net_u(Balance("fine", d_g=0.001, s_g=0.0001)) == pytest.approx(0.00041)
    assert net_u(Balance("never tried", d_g=0.01)) == pytest.approx(0.0041)


def test_a_stated_accuracy_is_spread_evenly_and_added_in_squares():
    assert net_u(Balance("B", d_g=0.01, s_g=0.006, accuracy_g=0.02)) == pytest.approx(math.sqrt(0.006**2 + 0.02**2 / 3))


def test_found_against_a_tare_of_another_day():
    """Two readings: √2 of one; at k = 2 the 10 mg balance cannot tell 17 mg."""
    assert found_u(B2) == pytest.approx(0.0084853, abs=1e-7)
    assert round(K * found_u(B2), 3) == 0.017


def test_less_than_a_step_is_said():
    (finding,) = readable(0.0004, B1)
    assert (finding.code, finding.data) == ("below-readability", {"mass_g": 0.0004, "d_g": 0.001})
    assert readable(0.001, B1) == readable(5.0, B1) == readable(0, B1) == readable(0.0004, None) == []

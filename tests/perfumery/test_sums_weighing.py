# SPDX-License-Identifier: MIT
"""What a balance can tell apart; the published rows stand in tests/reference."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from perfumery import Balance, Refused
from perfumery.weighing import (
    K,
    found_u,
    largest_amount,
    least_weight,
    line_error,
    missed_tare,
    net_u,
    readable,
    repeatability,
    share_errors,
    smallest_amount,
    stop_at,
)

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


TEN = (20.0011, 20.0, 19.9997, 19.9996, 19.9998, 19.999, 19.9989, 20.0013, 20.0, 20.0006)
T024 = (0.062, 0.701, 0.050, 0.125, 0.200, 0.300, 0.300, 0.649, 0.150, 0.200, 0.150, 0.150, 0.100, 0.075, 0.201, 0.024, 0.175,
        0.525, 0.452, 0.425)  # fmt: skip


def test_repeatability_of_ten_readings():
    assert repeatability(TEN) == pytest.approx(0.000800, abs=5e-7) and sum(TEN) / 10 == pytest.approx(20.0)
    # rounded to the milligram the same ten would say less: the digits are kept
    assert repeatability([round(reading, 3) for reading in TEN]) == pytest.approx(0.000738, abs=5e-7)
    with pytest.raises(Refused) as refused:
        repeatability(TEN[:4])
    assert refused.value.findings[0].code == "too-few-readings"


def test_error_of_a_line_and_least_weights():
    assert line_error(0.025, B1).relative == pytest.approx(0.064) and line_error(0.25, B1).relative == pytest.approx(0.0064)
    assert (line_error(1, B1).u_g, line_error(1, B1).expanded_g) == (0.0008, 0.0016)
    assert [least_weight(B1, t) for t in (0.001, 0.01, 0.02, 0.05)] == pytest.approx([1.60, 0.160, 0.080, 0.032])
    assert [least_weight(B2, t) for t in (0.001, 0.01, 0.02, 0.05)] == pytest.approx([12.0, 1.20, 0.60, 0.24])
    with pytest.raises(Refused):
        line_error(0.0, B1)


def test_smallest_dependable_and_largest_possible_amount():
    """The smallest line of 5 parts in 1000 at 5 %: 6.40 g on the finer balance, 48.00 g on the other."""
    assert smallest_amount((0.14, 0.005, 0.0), B1, 0.05) == pytest.approx(6.40)
    assert smallest_amount((0.14, 0.005), B2, 0.05) == pytest.approx(48.0) and smallest_amount((), B1, 0.05) is None
    # 0.090 g left of what is 25 parts of 1000 gives 3.60 g; the shares of one bottle are added, and it is rounded down
    assert largest_amount([(1, 0.090, 0.025), (2, 50.0, 0.5)], 0.01) == (pytest.approx(3.60), 1)
    assert largest_amount([(1, 1.0, 0.1), (1, 1.0, 0.2), (2, 50.0, 0.5)], 0.01) == (pytest.approx(3.33), 1)
    assert largest_amount([(1, 0.5, 0.1)], 0.01, reserve_g=0.6) == (0.0, 1) and largest_amount([], 0.01) is None
    assert stop_at(1.138, 0.300) == pytest.approx(1.438)


def test_a_tare_that_was_missed():
    """1.438 shown where 0.300 was wanted and 1.138 were in: it is 0.300."""
    assert missed_tare(1.438, 0.300, 1.138, 0.05) == 0.300
    assert missed_tare(1.450, 0.300, 1.138, 0.05) == pytest.approx(0.312)
    # plausible as it stands; not plausible either way; nothing in yet, so nothing to take off
    assert missed_tare(0.310, 0.300, 0.008, 0.05) is None
    assert missed_tare(1.600, 0.300, 1.138, 0.05) is None
    assert missed_tare(0.400, 0.300, 0.0, 0.05) is None


@given(st.floats(0.01, 5), st.floats(0.5, 20), st.floats(-0.04, 0.04))
def test_a_missed_tare_is_seen_where_the_vessel_holds_more_than_the_line(target, in_vessel, off):
    shown = in_vessel + target * (1 + off)
    if abs(shown - target) <= 0.05 * target:
        assert missed_tare(shown, target, in_vessel, 0.05) is None
    else:
        assert missed_tare(shown, target, in_vessel, 0.05) == pytest.approx(target * (1 + off), abs=1e-8)


def by_kind(found):
    return {remedy.kind: remedy for remedy in found}


def test_shares_of_a_trial_by_hand():
    """The invented trial of 20 lines, 5.014 g, u = 0.8 mg a line: ± per thousand, k = 2."""
    found = [round(u * 1000, 2) for u in share_errors(T024, 0.0008)]
    assert found == [0.32, 0.34, 0.32, 0.31, 0.31, 0.31, 0.31, 0.33, 0.31, 0.31, 0.31, 0.31, 0.31, 0.32, 0.31, 0.32, 0.31, 0.32,
                     0.32, 0.31]  # fmt: skip


MASSES = st.lists(st.floats(0.01, 10), min_size=2, max_size=8)


@given(MASSES, st.floats(1e-4, 0.01))
def test_shares_tared_before_each_line_agree_with_propagation_done_elsewhere(masses, u):
    """Reference: the uncertainties package."""
    held = [ufloat(mass, u * (place + 1)) for place, mass in enumerate(masses)]
    known = [2 * (mass / sum(held)).std_dev for mass in held]
    assert share_errors(masses, [u * (place + 1) for place in range(len(masses))]) == pytest.approx(known, rel=1e-6)


@given(MASSES, st.floats(1e-4, 0.01))
def test_shares_of_a_running_total_agree_too(masses, u):
    """Reference: the uncertainties package, over the readings that neighbouring lines share."""
    total, readings = 0.0, [ufloat(0, u / math.sqrt(2))]
    for mass in masses:
        total += mass
        readings.append(ufloat(total, u / math.sqrt(2)))
    held = [later - earlier for earlier, later in pairwise(readings)]
    whole = readings[-1] - readings[0]
    known = [2 * (mass / whole).std_dev for mass in held]
    assert share_errors(masses, u, running_total=True) == pytest.approx(known, rel=1e-6)

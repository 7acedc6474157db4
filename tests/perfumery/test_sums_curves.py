# SPDX-License-Identifier: MIT
"""The figures of a strip together: each is what its own sum says, or not known."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import area, crossing, curve_figures, strip_figures
from perfumery.curves import AREA_FROM_H, AREA_TO_H, LEVELS, Below, below_level
from perfumery.smelling import Crossing

LEMON = ((2 / 60, 5.5), (0.25, 4.5), (0.5, 3.5), (1.0, 2.5), (2.0, 1.5), (4.0, 0.5), (8.0, 0.0))


def test_lemon_s_figures():
    found = strip_figures(LEMON)
    assert found.curve == curve_figures(LEMON)
    assert (found.area_from_h, found.area_to_h) == (AREA_FROM_H, AREA_TO_H) == (2 / 60, 8.0)
    assert found.area == pytest.approx(13 / 60 * 5 + 1 + 1.5 + 2 + 2 + 1)
    assert [(b.level, b.fall.at_h, b.not_by_h) for b in found.below] == [
        (2.5, 1.0, None), (1.0, pytest.approx(2 * math.sqrt(2)), None),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "curve, below",
    [
        (((1.0, 4), (8.0, 3)), Below(2.5, None, 8.0)),  # not fallen by the last reading
        (((1.0, 4), (8.0, 2.5)), Below(2.5, None, 8.0)),
        (((1.0, 2), (8.0, 1)), Below(2.5, None, None)),  # below from the first reading on
        ((), Below(2.5, None, None)),
        (((1.0, 2), (8.0, 3)), Below(2.5, None, 8.0)),  # opened up late
        (((4.0, 3), (8.0, 2), (24.0, 3)), Below(2.5, Crossing(pytest.approx(math.sqrt(32)), 4.0, 8.0), None)),
    ],
)
def test_below_a_level(curve, below):
    assert below_level(curve, 2.5) == below


def test_what_no_reading_tells_is_not_known():
    found = strip_figures(())
    assert (found.area, found.curve.peak, found.curve.duration_h) == (None, None, None)
    assert {(b.fall, b.not_by_h) for b in found.below} == {(None, None)}
    assert strip_figures(LEMON[:5]).area is None
    assert strip_figures(LEMON[:5], from_h=2 / 60, to_h=2.0, levels=()).area == pytest.approx(13 / 60 * 5 + 1 + 1.5 + 2)


curves = st.lists(st.tuples(st.floats(0.03, 200), st.integers(0, 12)), max_size=10, unique_by=lambda p: p[0]).map(
    lambda points: tuple(sorted((t, y / 2) for t, y in points))
)


@given(curves)
def test_each_figure_is_its_own_sum_s(curve):
    found = strip_figures(curve)
    assert (found.curve, found.area) == (curve_figures(curve), area(curve, AREA_FROM_H, AREA_TO_H))
    for below, level in zip(found.below, LEVELS, strict=True):
        assert below.fall == crossing(curve, level)
        assert below.fall is None or below.not_by_h is None
        if below.fall is None and below.not_by_h is None:
            assert all(y < level for _, y in curve)


@given(curves)
def test_times_of_a_curve_stand_in_order(curve):
    found = curve_figures(curve)
    if found.last_noticed_h is None:
        assert all(y == 0 for _, y in curve) and found.gone_by_h is None
        return
    assert found.first_noticed_h <= found.peak_h <= found.peak_until_h <= found.last_noticed_h
    assert found.still_noticed is (found.gone_by_h is None)
    assert found.gone_by_h is None or found.gone_by_h > found.last_noticed_h
    assert found.duration_h >= 0

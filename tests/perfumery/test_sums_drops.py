# SPDX-License-Identifier: MIT
"""Drops as an estimate of mass."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.drops import STANDARD_PER_ML, drops_mass


def test_drops_by_hand():
    """One of twenty to the millilitre at 1.0 g/ml is 0.050 g; one of forty at 0.79 g/ml is 0.020 g."""
    assert drops_mass(1, STANDARD_PER_ML, 1.0) == pytest.approx(0.050)
    assert drops_mass(1, 40, 0.79) == pytest.approx(0.020, abs=5e-4)
    assert drops_mass(3, 30, 0.85) == pytest.approx(0.085)


@given(st.floats(0.5, 500), st.floats(5, 100), st.floats(0.6, 1.6))
def test_a_millilitre_of_drops_weighs_what_a_millilitre_weighs(drops, per_ml, density):
    assert drops_mass(per_ml, per_ml, density) == pytest.approx(density)
    assert drops_mass(2 * drops, per_ml, density) == pytest.approx(2 * drops_mass(drops, per_ml, density))


@pytest.mark.parametrize(
    "given_of", [(0, 20, 1.0), (-2, 20, 1.0), (3, 0, 1.0), (3, -20, 1.0), (3, 20, 0), (-3, -20, 1.0), (math.nan, 20, 1.0),
                 (3, math.inf, 1.0)]
)  # fmt: skip
def test_what_is_no_count_is_refused(refused, given_of):
    assert refused(drops_mass, *given_of).code == "mass-not-positive"

# SPDX-License-Identifier: MIT
"""A weaker stock for a line too small for its balance."""

import pytest

from perfumery import Balance, Refused
from perfumery.weaker import weaker_stock
from perfumery.weighing import line_error, smallest_amount

FINE = Balance(name="fine", d_g=0.001, s_g=0.0008)


def test_the_line_of_25_mg_and_what_does_for_it():
    """s = 0.8 mg: 0.025 g is ± 6.4 %; 6.40 g in all bring it to 5 %; ten times weaker it is 0.25 g and ± 0.64 %."""
    assert line_error(0.025, FINE).relative == pytest.approx(0.064)
    assert smallest_amount([0.005], FINE, 0.05) == pytest.approx(6.40)
    found = weaker_stock(0.025, 0.001, 5.0, FINE, 0.05)
    assert (found.bottle, found.strength) == (None, 0.0001)
    assert (found.mass_g, found.more_g, found.error) == pytest.approx((0.25, 0.225, 0.0064))


def test_a_stock_that_stands_there_comes_before_one_to_make():
    standing = [(3, 0.001, 9.0), (2, 0.01, 9.0), (1, 0.1, 9.0)]
    assert weaker_stock(0.005, 1.0, 5.0, FINE, 0.05, standing).bottle == 1
    # 10 % is too strong still, 1 % holds too little, 0.1 % would be more than the whole
    assert weaker_stock(0.0005, 0.2, 5.0, FINE, 0.01, [(1, 0.1, 9.0), (2, 0.01, 0.005), (4, 1e-5, 99.0)]).bottle is None
    assert weaker_stock(0.0005, 1.0, 5.0, FINE, 0.05, [(1, 0.01, None)]).bottle == 1
    # what is as strong as the line's own stock by its label is no weaker one
    assert weaker_stock(0.025, 0.1, 5.0, FINE, 0.05, [(1, 0.0998, 9.0)]).bottle is None


def test_the_step_is_the_strongest_that_does():
    assert weaker_stock(0.02, 0.2, 5.0, FINE, 0.05).strength == 0.1
    assert weaker_stock(0.0001, 1.0, 50.0, FINE, 0.05).strength == 0.001
    assert weaker_stock(0.01, 1.0, 0.05, FINE, 0.05) is None
    assert weaker_stock(1e-9, 1.0, 5.0, FINE, 0.05) is None


@pytest.mark.parametrize("mass, strength, code", [(0.0, 0.1, "mass-not-positive"), (0.1, 0.0, "strength-range")])
def test_what_cannot_be_is_refused(mass, strength, code):
    with pytest.raises(Refused) as refused:
        weaker_stock(mass, strength, 5.0, FINE, 0.05)
    assert refused.value.findings[0].code == code

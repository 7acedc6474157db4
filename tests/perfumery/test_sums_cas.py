# SPDX-License-Identifier: MIT
"""A mistyped CAS number must be caught, and told what its last digit should be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.cas import check_digit, findings, tidy
from perfumery.findings import Finding


def test_wrong_digit_is_named_with_the_right_one():
    assert findings("4707-47-0") == (Finding("cas-check-digit", {"text": "4707-47-0", "digit": 5}),)
    assert findings("4707-47-5") == ()
    assert check_digit("4707-47") == 5


@pytest.mark.parametrize("typed", [" 4707-47-5", "4707\u201347\u20115", "4707 - 47 - 5", "4707\u221247\u20135"])
def test_any_dash_and_space_is_tidied(typed):
    assert tidy(typed) == "4707-47-5"
    assert findings(typed) == ()


@pytest.mark.parametrize("typed", ["", "4707475", "4707-475", "1-47-5", "12345678-47-5", "4707-4-5", "4707-47-55", "x-47-5"])
def test_shape_is_refused_as_typed(typed):
    assert findings(typed) == (Finding("cas-shape", {"text": typed}),)


@given(st.from_regex(r"[1-9][0-9]{1,6}-[0-9]{2}", fullmatch=True))
def test_exactly_one_last_digit_passes(body):
    passing = [digit for digit in range(10) if findings(f"{body}-{digit}") == ()]
    assert passing == [check_digit(body)]


@given(st.from_regex(r"[1-9][0-9]{1,6}-[0-9]{2}", fullmatch=True), st.data())
def test_two_neighbouring_digits_swapped_are_noticed(body, data):
    """Neighbouring weights differ by one, so a swap of two unlike digits always changes the sum modulo 10."""
    digits = body.replace("-", "")
    at = data.draw(st.integers(0, len(digits) - 2))
    swapped = digits[:at] + digits[at + 1] + digits[at] + digits[at + 2 :]
    assert (check_digit(swapped) == check_digit(digits)) == (swapped == digits)

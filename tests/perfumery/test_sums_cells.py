# SPDX-License-Identifier: MIT
"""No text is a formula to a spreadsheet, and every text reads back as it was."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.cells import as_typed, inert


@pytest.mark.parametrize("text", ["=1+1", "+49 30", "-3", "@SUM(A1)", "\tx", " =HYPERLINK()", "  -x", "\r\n"])
def test_what_begins_like_a_formula_is_text(text: str) -> None:
    assert inert(text) == "'" + text


@pytest.mark.parametrize("text", ["", "lemon", "5'-ribotide", "'quoted'", "a=b", "3-hexenol", "'"])
def test_what_does_not_stays(text: str) -> None:
    assert inert(text) == text == as_typed(text)


@given(st.text(alphabet=" '=+-@\t\r\nab"))
def test_every_text_reads_back(text: str) -> None:
    assert as_typed(inert(text)) == text
    assert not inert(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))

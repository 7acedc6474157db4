# SPDX-License-Identifier: MIT
"""Ladders and dose series: steps, doses, what they take, and what happened when a material was moved."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Line, Material, Shelf, Version
from perfumery.ladders import EVEN, GEOMETRIC, dose_series, doses, ladder, needs
from perfumery.moved import moved

SHELF = Shelf({key: Material(f"Material {key}", key=key, is_carrier=key == 9) for key in (1, 2, 9)})


def test_nine_steps_of_one_gram_take_four_and_a_half_of_each() -> None:
    steps = ladder(Line(material=1), Line(material=2), 9)
    assert [step.name for step in steps] == ["9:1", "8:2", "7:3", "6:4", "5:5", "4:6", "3:7", "2:8", "1:9"]
    taken = needs(steps, SHELF, 1.0)
    assert taken == {(1, None, 1.0, None): pytest.approx(4.5), (2, None, 1.0, None): pytest.approx(4.5)}


def test_a_ladder_of_dilutions_takes_the_dilutions() -> None:
    steps = ladder(Line(material=1, strength=0.1, carrier=9), Line(material=1), 3)
    assert set(needs(steps, SHELF, 2.0)) == {(1, None, 0.1, 9), (1, None, 1.0, None)}


def test_what_is_no_ladder(refused) -> None:
    assert refused(ladder, Line(material=1), Line(5.0, material=1), 3).code == "same-line"
    assert refused(ladder, Line(material=1), Line(material=2), 0).code == "steps-range"
    assert refused(ladder, Line(material=1), Line(material=2), 25).data["most"] == 24


def test_doses_in_even_steps_and_in_equal_ratios() -> None:
    assert doses(10.0, 50.0, 5, EVEN) == (10.0, 20.0, 30.0, 40.0, 50.0)
    assert doses(1.0, 16.0, 5, GEOMETRIC) == (1.0, 2.0, 4.0, 8.0, 16.0)
    assert doses(20.0, 0.0, 3, EVEN) == (20.0, 10.0, 0.0)
    assert doses(1.2345, 9.8765, 3, EVEN)[0] == 1.2345, "as it was typed"
    assert doses(0.001, 0.0011, 24, EVEN) != (), "and none twice"


@pytest.mark.parametrize(
    ("first", "last", "number", "spacing", "code"),
    [
        (5.0, 5.0, 3, EVEN, "dose-range"), (-1.0, 5.0, 3, EVEN, "dose-range"), (0.0, 5.0, 3, GEOMETRIC, "dose-range"),
        (1.0, float("inf"), 3, EVEN, "dose-range"), (1.0, 2.0, 1, EVEN, "steps-range"), (1.0, 2.0, 30, EVEN, "steps-range"),
    ],
)  # fmt: skip
def test_doses_that_cannot_be(refused, first: float, last: float, number: int, spacing: str, code: str) -> None:
    assert refused(doses, first, last, number, spacing).code == code


@given(st.floats(0.001, 1000), st.floats(0.001, 1000), st.integers(2, 24), st.sampled_from([EVEN, GEOMETRIC]))
def test_doses_go_from_the_first_to_the_last_without_a_step_back(first: float, last: float, number: int, spacing: str) -> None:
    if first == last:
        return
    found = doses(first, last, number, spacing)
    assert found[0] == first and found[-1] == last
    assert len(set(found)) == len(found) <= number


def test_a_dose_series_leaves_the_other_lines_alone(refused) -> None:
    version = Version(1, "V", (Line(10.0, 1, key=5), Line(0.0, 9, fill_up=True, key=6)), key=7)
    steps = dose_series(version, 0, (5.0, 20.0))
    assert [step.name for step in steps] == ["5", "20"]
    assert [line.parts for line in steps[1].lines] == [20.0, 0.0] and steps[1].lines[1].fill_up
    assert all(line.key is None for step in steps for line in step.lines), "lines of their own"
    assert needs(steps, SHELF, 1.0)[1, None, 1.0, None] == pytest.approx(0.025)
    assert refused(dose_series, version, 1, (5.0,)).code == refused(dose_series, version, 2, (5.0,)).code == "reference-missing"


def test_what_else_moved_is_named() -> None:
    a, b = {1: 90.0, 2: 500.0, 9: 410.0}, {1: 140.0, 2: 440.0, 9: 420.0}
    found = moved(a, b, 90.0, 140.0, 1)
    assert (found.before, found.after, found.change) == (90.0, 140.0, 50.0)
    assert found.others == {2: -60.0, 9: 10.0} and list(found.others) == [2, 9]
    assert found.parts_moved == 60.0
    assert list(moved(a, b, 1.0, 2.0).others) == [2, 1, 9], "of an accord all that moved is told"

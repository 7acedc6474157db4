# SPDX-License-Identifier: MIT
"""Rounding to a step and shares in whole units against printed values; each row of data/rounding.csv names its source.

ISO 80000-1 Annex B through its Japanese translation JIS Z 8401 (rule A: a tie to the even multiple; rule B: to the
higher), a reference page that prints half-even beside half-up, the 1790 apportionment of the United States. Rows whose
`verified_how` says FROM MEMORY were not read in a text, but recomputed; rows saying COMPUTED have no printed value.
"""

import csv
import re
from fractions import Fraction
from pathlib import Path

import pytest

from perfumery.numbers import largest_remainder, to_step, to_step_up

with (Path(__file__).parent / "data" / "rounding.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

STEPS = [row for row in ROWS.values() if row["id"].startswith("R_") and not row["id"].startswith("R_o")]
BOTH = [row for row in ROWS.values() if row["id"].startswith("R_o")]


def given(row):
    """(value, step) of a rounding row."""
    value, _, rest = row["inputs"].partition(",")
    step = re.search(r"range (\S+)", rest)
    return float(value), float(step[1]) if step else 0.1


def is_tie(row):
    value, step = (Fraction(str(figure)) for figure in given(row))
    return (value / step) % 1 == Fraction(1, 2)


@pytest.mark.parametrize("row", STEPS, ids=lambda row: row["id"])
def test_step(row):
    value, step = given(row)
    wanted = float(row["published_value"])
    assert is_tie(row) == row["quantity"].startswith("tie")
    if not row["quantity"].startswith("tie, rule B"):
        assert to_step(value, step) == wanted
    if not row["quantity"].startswith("tie, rule A"):
        assert to_step_up(value, step) == wanted


@pytest.mark.parametrize("row", BOTH, ids=lambda row: row["id"])
def test_half_even_beside_half_up(row):
    even, up = (float(figure) for figure in row["published_value"].split("/"))
    value = float(row["inputs"])
    assert (to_step(value, 0.01), to_step_up(value, 0.01)) == (even, up)


def populations():
    return {state: int(people) for state, people in (pair.split("=") for pair in ROWS["H02"]["inputs"].split())}


def test_apportionment_of_1790():
    """Hamilton's bill of 1792, 120 seats over 15 states."""
    people = populations()
    seats = dict(zip(people, largest_remainder(tuple(people.values()), 120), strict=True))
    wanted = (pair.split(":") for pair in ROWS["H02"]["recomputed_value"].split())
    assert seats == {state: int(count) for state, count in wanted}


def test_apportionment_of_1790_gives_out_the_printed_rest():
    """The text says that the quotas without their fractions make 111 seats, and 9 are left."""
    people = populations()
    floors = [count * 120 // sum(people.values()) for count in people.values()]
    assert sum(floors) == int(ROWS["H01"]["published_value"])
    seats = largest_remainder(tuple(people.values()), 120)
    assert sum(got > floor for got, floor in zip(seats, floors, strict=True)) == 120 - 111


def test_pieces_by_minutes_worked():
    """The example prints the quotas of 50 pieces; the pieces follow from them."""
    minutes = (150, 78, 173, 204, 295)
    assert ROWS["H03"]["inputs"].startswith(",".join(map(str, minutes)))
    pieces = largest_remainder(minutes, 50)
    assert f"[{', '.join(map(str, pieces))}]" == ROWS["H03"]["recomputed_value"].partition(" quotas")[0]
    printed = [float(quota) for quota in ROWS["H03"]["published_value"].removeprefix("quotas ").split()]
    assert all(abs(got - quota) < 1 for got, quota in zip(pieces, printed, strict=True))


def test_250_seats_of_six_states():
    """The populations were read; 250 seats and their allocation are from memory, recomputed."""
    people = [int(count) for count in ROWS["H07"]["inputs"].split(",")]
    seats = largest_remainder(people, 250)
    assert f"[{', '.join(map(str, seats))}]" == ROWS["H07"]["recomputed_value"].partition(" quotas")[0]


@pytest.mark.parametrize("row, shares, units", [("H10", (1, 1, 1), 1000), ("H11", (16.66, 16.67, 16.67, 25, 25), 100)])
def test_masses_in_hundredths_of_a_gram_add_up(row, shares, units):
    masses = [count / 100 for count in largest_remainder(shares, units)]
    wanted = ROWS[row]["recomputed_value"].partition(" sum")[0]
    assert " ".join(f"{mass:.2f}" for mass in masses) == wanted


def test_plain_rounding_would_overshoot():
    assert "0.17 0.17 0.17 0.25 0.25 (sum 1.01)" in ROWS["H11"]["recomputed_value"]
    assert [to_step(share / 100, 0.01) for share in (16.66, 16.67, 16.67, 25, 25)] == [0.17, 0.17, 0.17, 0.25, 0.25]

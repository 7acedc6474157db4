# SPDX-License-Identifier: MIT
"""Serving orders against a published algorithm and printed squares.

The rows of 2 to 8 samples were made again by the algorithm of E. J. Williams (1949) as it stands in crossdes (O. Sailer), which
was read; the further squares of 4 and 6 are as commonly printed, from memory, and only their balance is held.
data/serving_orders.csv carries each row's source.
"""

import csv
from collections import defaultdict
from itertools import pairwise, permutations
from pathlib import Path

import pytest

from perfumery import williams

with (Path(__file__).parent / "data" / "serving_orders.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = list(csv.DictReader(_file))
PUBLISHED, PRINTED = defaultdict(list), defaultdict(list)
for _row in ROWS:
    _by = PRINTED if _row["assessor_row"].startswith("alt") else PUBLISHED
    _by[int(_row["samples"])].append(tuple("ABCDEFGH".index(letter) for letter in _row["serving_order"].split()))


def is_balanced(rows, samples):
    """Every sample equally often in every place, and before each other one."""
    everything = set(range(samples))
    wholes = all(set(row) == everything for row in rows)
    places = all(column.count(s) * samples == len(rows) for column in zip(*rows, strict=True) for s in everything)
    followed = [pair for row in rows for pair in pairwise(row)]
    return wholes and places and {followed.count(pair) * samples for pair in permutations(range(samples), 2)} == {len(rows)}


@pytest.mark.parametrize("samples", sorted(PUBLISHED))
def test_orders_are_those_of_the_published_algorithm(samples):
    assert list(williams(samples)) == PUBLISHED[samples]


def test_every_size_but_seven_is_held():
    assert sorted(PUBLISHED) == [2, 3, 4, 5, 6, 8]
    assert sum(map(len, PUBLISHED.values())) + sum(map(len, PRINTED.values())) == len(ROWS) == 50


@pytest.mark.parametrize("samples, first", [(4, 0), (4, 4), (6, 0)])
def test_squares_as_printed_have_the_balance_of_ours(samples, first):
    square = PRINTED[samples][first : first + samples]
    assert is_balanced(square, samples) and is_balanced(williams(samples), samples)
    # with the samples renamed and the rows in any order it is the same square
    names = dict(zip(square[0], williams(samples)[0], strict=True))
    assert {tuple(names[s] for s in row) for row in square} == set(williams(samples))

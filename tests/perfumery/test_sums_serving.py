# SPDX-License-Identifier: MIT
"""Balanced orders and blind codes: their promises hold for every size and every hand of chance."""

from itertools import pairwise, permutations
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import blind_codes, williams

SIZES = range(2, 9)


@pytest.mark.parametrize("samples", SIZES)
def test_every_sample_stands_equally_often_in_every_place(samples):
    rows = williams(samples)
    assert len(rows) == (samples if samples % 2 == 0 else 2 * samples)
    assert all(sorted(row) == list(range(samples)) for row in rows)
    assert len(set(rows)) == len(rows)
    counts = {column.count(sample) for column in zip(*rows, strict=True) for sample in range(samples)}
    assert counts == {len(rows) // samples}


@pytest.mark.parametrize("samples", SIZES)
def test_every_sample_follows_each_other_one_equally_often(samples):
    rows = williams(samples)
    followed = [pair for row in rows for pair in pairwise(row)]
    assert {followed.count(pair) for pair in permutations(range(samples), 2)} == {len(rows) // samples}


@pytest.mark.parametrize("samples", [-1, 0, 1, 9])
def test_other_sizes_are_refused(samples, refused):
    finding = refused(williams, samples)
    assert (finding.code, finding.data) == ("serving-range", {"samples": samples, "fewest": 2, "most": 8})


def test_codes_are_the_same_for_the_same_chance():
    assert blind_codes(5, Random(7)) == blind_codes(5, Random(7)) != blind_codes(5, Random(8))
    assert blind_codes(0, Random(7)) == blind_codes(-1, Random(7)) == ()


def test_codes_that_hint_are_never_drawn():
    everything = set(blind_codes(633, Random(1)))
    assert len(everything) == 633
    assert everything.isdisjoint({"100", "111", "122", "242", "500", "999", "123", "234", "789", "321", "987", "210"})
    assert {"102", "135", "417", "560", "981"} <= everything


def test_too_many_codes_are_refused(refused):
    assert refused(blind_codes, 634, Random(1)).data == {"count": 634, "left": 633}
    everything = blind_codes(633, Random(1))
    assert blind_codes(1, Random(2), everything[1:]) == everything[:1]
    assert refused(blind_codes, 2, Random(2), everything[1:]).code == "blind-codes-short"


@given(st.integers(0, 40), st.integers(0, 2**32), st.sets(st.integers(100, 999).map(str), max_size=300))
def test_codes_are_different_and_new(count, seed, taken):
    codes = blind_codes(count, Random(seed), taken)
    assert len(codes) == len(set(codes)) == count
    assert taken.isdisjoint(codes)
    assert all(100 <= int(code) <= 999 and len(set(code)) == 3 for code in codes)
    assert codes == blind_codes(count, Random(seed), sorted(taken, reverse=True))

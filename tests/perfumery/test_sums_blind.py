# SPDX-License-Identifier: MIT
"""Sets of blind tests: balanced, under new codes, with one right answer each."""

from collections import Counter
from datetime import UTC, datetime
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import BlindTest, Refused
from perfumery.blind import codes_of, is_right, planned_sets, ranks_of, sealed, served
from perfumery.methods import METHODS


def code(refused) -> str:
    return refused.value.findings[0].code


@given(st.sampled_from(sorted(METHODS)), st.integers(1, 40), st.integers(0, 999))
def test_every_set_has_its_right_answers_and_new_codes(method: str, count: int, seed: int) -> None:
    sets = planned_sets(method, 2, count, Random(seed))
    assert len(sets) == count and sets == planned_sets(method, 2, count, Random(seed))
    for one in sets:
        codes = codes_of(one)
        right = [c for c in codes if is_right(method, one, c)]
        assert len(set(codes)) == len(codes) == (3 if method in ("triangle", "3-AFC") else 2) and len(right) == 1
        assert ":" not in sealed(one) and served(sealed(one))[0][1] == ""
        # the letters cannot be told from the codes that are left
        assert set(sealed(one).split()) - {"R"} == set(codes)


@pytest.mark.parametrize("method", sorted(METHODS))
def test_whole_rounds_hold_every_order_once(method: str) -> None:
    orders = METHODS[method].orders
    sets = planned_sets(method, 2, 3 * len(orders), Random(1))
    found = Counter("".join(letter for _, letter in served(one)) for one in sets)
    assert found == dict.fromkeys(orders, 3)
    first = {"".join(letter for _, letter in served(one)) for one in sets[: len(orders)]}
    assert first == set(orders)


@given(st.integers(2, 8), st.integers(0, 99))
def test_rankings_are_served_in_balanced_orders(samples: int, seed: int) -> None:
    rounds = samples if samples % 2 == 0 else 2 * samples
    sets = planned_sets("ranking", samples, rounds, Random(seed))
    firsts = Counter(served(one)[0][1] for one in sets)
    assert set(firsts.values()) == {rounds // samples} and len(firsts) == samples
    for one in sets:
        by_letter = [blind for blind, _ in sorted(served(one), key=lambda pair: pair[1])]
        assert ranks_of(one, " ".join(by_letter)) == tuple(range(1, samples + 1))


def test_the_right_answer_of_each_method() -> None:
    assert is_right("triangle", "417:A 862:B 295:A", "862") and not is_right("triangle", "417:A 862:B 295:A", "417")
    assert is_right("duo-trio", "R:B 417:A 862:B", "862") and not is_right("duo-trio", "R:B 417:A 862:B", "417")
    assert is_right("paired", "417:B 862:A", "862") and is_right("paired one-sided", "417:B 862:A", "417")
    assert is_right("3-AFC", "417:A 862:B 295:A", "862")
    assert ranks_of("417:C 862:A 295:B", "862 417 295") == (1, 3, 2)


def test_a_test_has_a_code_a_method_and_a_risk_below_one_half() -> None:
    at = datetime(2025, 4, 5, 10, tzinfo=UTC)
    for wrong, why in (({"alpha": 0.5}, "alpha-range"), ({"code": " "}, "code-empty"), ({"method": "guess"}, "kind-unknown")):
        with pytest.raises(Refused) as refused:
            BlindTest(**({"code": "B-1", "method": "triangle", "samples": (1, 2), "sets": (), "at": at} | wrong))
        assert code(refused) == why


@pytest.mark.parametrize(
    "act, why",
    [
        (lambda: is_right("triangle", "417:A 862:B 295:A", "999"), "code-unknown"),
        (lambda: is_right("duo-trio", "R:A 417:A 862:B", "R"), "code-unknown"),
        (lambda: is_right("guess", "417:A 862:B", "417"), "kind-unknown"),
        (lambda: ranks_of("417:A 862:B", "417 999"), "code-unknown"),
        (lambda: ranks_of("417:A 862:B", "417 417"), "ranks-missing"),
        (lambda: planned_sets("triangle", 3, 6, Random(1)), "serving-range"),
        (lambda: planned_sets("ranking", 9, 6, Random(1)), "serving-range"),
        (lambda: planned_sets("guess", 2, 6, Random(1)), "kind-unknown"),
        (lambda: planned_sets("triangle", 2, 0, Random(1)), "answers-range"),
    ],
)
def test_what_is_no_set_and_no_answer(act, why: str) -> None:
    with pytest.raises(Refused) as refused:
        act()
    assert code(refused) == why

# SPDX-License-Identifier: MIT
"""Limits on the finished product, worked by hand; what is not known is never zero; the most parts hold just what is allowed."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Constituent, Limit, Line, Material, Shelf, Version
from perfumery.limits import BudgetState, LimitState, held, is_borne, is_unknown, limit_findings, limits, most_parts, state_of

LEMON = Material("Lemon oil", "8008-56-8", "essential oil", key=1)
ROSEMARY = Material("Rosemary oil", form="essential oil", key=2)
LINALOOL = Material("Linalool", "78-70-6", synonyms=("coriandrol",), key=3)
ETHANOL = Material("Ethanol", form="solvent", is_carrier=True, key=4)
PINE = Material("Pine needle oil", form="essential oil", key=5)
CAMPHOR = Constituent(2, "camphor", "76-22-2", 0.05, 0.15, 0.25)
SHELF = Shelf(
    {one.key: one for one in (LEMON, ROSEMARY, LINALOOL, ETHANOL, PINE)},
    {50: Version(1, "A", (Line(500.0, 3), Line(500.0, 4)), key=50)},
    constituents={1: (Constituent(1, "limonene", "5989-27-5", 0.6, None, 0.9),), 2: (CAMPHOR,)},
)


def version(*lines: Line, total: float = 1000.0) -> Version:
    return Version(1, "V", tuple(replace(line, key=n) for n, line in enumerate(lines, 1)), total=total)


def only(found) -> LimitState:
    (state,) = found.states
    return state


def test_ten_parts_of_a_thousand_at_twelve_percent() -> None:
    """0.10 % allowed: 10 parts of 1000 are 0.120 %; the most is 8.33 per thousand, 8.31 parts beside 990 others."""
    limit = Limit("Linalool", 0.001)
    formula = version(Line(10.0, 3), Line(990.0, 4))
    state = only(limits(formula, SHELF, 0.12, [limit]))
    assert state.share == pytest.approx(0.0012) and state.state == "over" and state.ratio == pytest.approx(1.2)
    assert state.most_per_thousand == pytest.approx(8.3333, abs=1e-4) and state.highest_strength == 0.1
    assert state.sources == {3: pytest.approx(0.0012)} and state.unknown == ()
    assert most_parts(formula, SHELF, 0.12, limit)[0] == 8.31


def test_a_constituent_counts_at_its_maximum_and_over_all_routes() -> None:
    formula = version(Line(100.0, 2), Line(100.0, 2, strength=0.1, carrier=4), Line(800.0, 4))
    state = only(limits(formula, SHELF, 0.2, [Limit("Camphor in all", 0.01, cas="76-22-2")]))
    assert state.share == pytest.approx(0.110 * 0.25 * 0.2)
    both = only(limits(version(Line(10.0, 3), Line(20.0, accord=50), Line(970.0, 4)), SHELF, 0.1, [Limit("Coriandrol", 0.01)]))
    assert both.share == pytest.approx(0.02 * 0.1), "by a synonym, inside an accord too"


def test_two_data_of_one_constituent_count_the_larger() -> None:
    shelf = replace(SHELF, constituents={2: (CAMPHOR, Constituent(2, "Camphor", high=0.3))})
    state = only(limits(version(Line(1.0, 2)), shelf, 1.0, [Limit("camphor", 1.0, cas="76-22-2")]))
    assert state.share == pytest.approx(0.3), "by its name where one of them has no number"
    other = replace(SHELF, constituents={2: (CAMPHOR, Constituent(2, "Camphor", "464-49-3", high=0.3))})
    assert only(limits(version(Line(1.0, 2)), other, 1.0, [Limit("camphor", 1.0, cas="76-22-2")])).share == pytest.approx(0.25)


def test_what_nobody_wrote_down_is_not_zero() -> None:
    formula = version(Line(100.0, 5), Line(10.0, 2), Line(10.0, 1), Line(880.0, 4))
    found = limits(formula, SHELF, 0.1, [Limit("Camphor in all", 0.01, cas="76-22-2")])
    assert found.unknown == (5,) and only(found).unknown == (5,)
    assert only(found).share == pytest.approx(0.01 * 0.25 * 0.1), "lemon oil is written down, and camphor is not among it"
    assert limits(formula, SHELF, 0.1, [Limit("Pine", 0.5, material=5)]).states[0].unknown == (), "an oil is in no other oil"


def test_data_of_another_quality_say_that_it_may_be_in_there() -> None:
    shelf = replace(SHELF, constituents={1: (*SHELF.constituents[1], Constituent(1, "bergapten", high=0.003, applies=False))})
    state = only(limits(version(Line(1.0, 1)), shelf, 1.0, [Limit("bergapten", 0.001)]))
    assert state.unknown == (1,) and state.share == 0.0 and state.highest_strength is None and state.state == "fine"
    unsaid = replace(SHELF, constituents={1: (Constituent(1, "limonene", typical=0.7),)})
    assert is_unknown(LEMON, unsaid.constituents[1]), "without a maximum nothing can be held to it"
    assert held(Limit("limonene", 0.1), LEMON, unsaid.constituents[1]) is None


def test_a_budget_is_shared() -> None:
    """Lemon 0.900 of 2.0 % and grapefruit 1.320 of 4.0 %: 0.78 of all of it."""
    grapefruit = Material("Grapefruit oil", form="essential oil", key=6)
    shelf = Shelf({1: LEMON, 6: grapefruit, 4: ETHANOL})
    formula = version(Line(75.0, 1), Line(110.0, 6), Line(815.0, 4))
    given_ = [
        Limit("Lemon oil", 0.02, "leave-on", material=1, budget="phototoxic"),
        Limit("Grapefruit oil", 0.04, "leave-on", material=6, budget="phototoxic"), Limit("Ethanol", 1.0),
    ]  # fmt: skip
    (budget,) = limits(formula, shelf, 0.12, given_).budgets
    assert isinstance(budget, BudgetState)
    assert [round(part.share, 5) for part in budget.parts] == [0.009, 0.0132]
    assert budget.ratio == pytest.approx(0.78) and budget.state == "fine"
    assert (budget.budget, budget.category, budget.unknown) == ("phototoxic", "leave-on", ())
    (over,) = limits(formula, shelf, 0.16, given_).budgets
    assert over.state == "over" and all(part.state == "fine" for part in over.parts)


def test_what_is_over_or_close_is_found() -> None:
    formula = version(Line(10.0, 3), Line(10.0, 5), Line(980.0, 4))
    given_ = [
        Limit("Linalool", 0.001, budget="x"), Limit("Ethanol", 0.13), Limit("Pine needle oil", 0.5, material=5),
        Limit("Ethanol", 0.2, budget="x"),
    ]  # fmt: skip
    found = limit_findings(limits(formula, SHELF, 0.12, given_))
    assert [(one.code, one.data["name"]) for one in found] == [
        ("limit-over", "Linalool"), ("limit-close", "Ethanol"), ("budget-over", "x"),
    ]  # fmt: skip
    assert found[0].data["at_least"] is True, "nobody knows what is in the pine oil"
    assert limit_findings(limits(formula, SHELF, 0.001, given_)) == ()


@pytest.mark.parametrize(
    ("ratio", "state"),
    [(0.0, "fine"), (0.8999, "fine"), (0.9, "close"), (1.0, "close"), (1 + 1e-15, "close"), (1.000001, "over")],
)
def test_the_state_of_a_ratio(ratio: float, state: str) -> None:
    assert state_of(ratio) == state


def test_an_empty_formula_holds_nothing() -> None:
    found = limits(version(), SHELF, 0.1, [Limit("Linalool", 0.1)])
    assert only(found).share == 0.0 and found.budgets == () and found.unknown == ()


def test_the_most_parts_beside_a_fill_up_line() -> None:
    formula = version(Line(10.0, 3), Line(200.0, 2), Line(0.0, 4, fill_up=True))
    limit = Limit("Linalool", 0.001)
    assert most_parts(formula, SHELF, 0.12, limit)[0] == 8.33, "the total stays"
    assert most_parts(formula, SHELF, 0.12, Limit("Camphor", 0.003, cas="76-22-2"))[1] == 100.0
    assert most_parts(formula, SHELF, 0.12, Limit("Ethanol", 0.09))[1] == 990.0, "what takes its place from the limited"
    assert most_parts(version(Line(10.0, 3), Line(0.0, 3, fill_up=True)), SHELF, 1.0, limit)[0] is None
    assert most_parts(version(Line(10.0, 3), Line(9.0, 2), Line(0.0, 4, fill_up=True)), SHELF, 1.0, limit)[1] is None


def test_the_most_parts_where_nothing_or_everything_stands_against_it() -> None:
    limit = Limit("Linalool", 0.001)
    assert most_parts(version(Line(1.0, 4), Line(5.0, 2)), SHELF, 0.12, limit)[0] == math.inf
    assert most_parts(version(Line(1.0, 4), Line(5.0, 3)), SHELF, 0.12, limit)[0] == math.inf, "it thins what is over"
    assert most_parts(version(Line(1.0, 3), Line(5.0, 3)), SHELF, 0.12, limit)[0] is None, "over without this line"
    assert most_parts(version(Line(5.0, 3)), SHELF, 0.12, limit)[0] == 0.0
    accord = version(Line(10.0, accord=50), Line(990.0, 4))
    assert most_parts(accord, SHELF, 0.12, limit)[0] == pytest.approx(16.77, abs=0.01), "half of the accord is linalool"
    filling = version(Line(10.0, 3), Line(0.0, 4, fill_up=True))
    assert list(most_parts(filling, SHELF, 0.12, limit)) == [0], "what fills up has none of its own"


@given(
    st.floats(0.1, 500), st.floats(1, 500), st.floats(1, 500), st.floats(1e-4, 0.5), st.floats(0.01, 1.0), st.booleans()
)
def test_with_the_most_parts_the_product_is_not_over_and_with_more_it_is(
    own: float, other: float, rosemary: float, share_max: float, strength: float, is_filled: bool
) -> None:
    last = Line(0.0, 4, fill_up=True) if is_filled else Line(other, 4)
    formula = version(Line(own, 3), Line(rosemary, 2), Line(1.0, accord=50), last, total=2000.0)
    limit = Limit("Linalool", share_max)
    most = most_parts(formula, SHELF, strength, limit)[0]
    if most is None or most == math.inf:
        return

    def state(parts: float) -> LimitState:
        lines = (replace(formula.lines[0], parts=parts), *formula.lines[1:])
        return only(limits(replace(formula, lines=lines), SHELF, strength, [limit]))

    assert state(most).ratio <= 1 + 1e-9
    if not is_filled or most + 0.02 < 2000.0 - rosemary - 1.0:
        assert state(most + 0.011).ratio > 1 - 1e-9


@given(st.floats(1, 900), st.floats(0.01, 1.0), st.floats(1e-4, 0.2))
def test_at_the_highest_strength_the_product_is_not_over(parts: float, strength: float, share_max: float) -> None:
    formula, limit = version(Line(parts, 3), Line(1000.0 - parts, 4)), Limit("Linalool", share_max)
    highest = only(limits(formula, SHELF, strength, [limit])).highest_strength
    assert highest is not None
    if highest > 0:
        assert only(limits(formula, SHELF, highest, [limit])).ratio <= 1 + 1e-9


def test_a_limit_on_what_nothing_is_called_is_told() -> None:
    materials, parts = (LINALOOL, LEMON), (CAMPHOR,)
    assert is_borne(Limit("coriandrol", 0.01), materials, parts) and is_borne(Limit("Camphor", 0.01), materials, parts)
    assert is_borne(Limit("in all", 0.01, cas="76-22-2"), materials, parts)
    assert not is_borne(Limit("linal", 0.01), materials, parts)
    assert not is_borne(Limit("Linalool", 0.01, cas="127-51-5"), materials, parts), "that number is another's"

# SPDX-License-Identifier: MIT
"""What can be done about a figure that is off, by hand, on the invented trial, and against trying everything."""

import json
import math
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import resources
from perfumery import Balance, Refused
from perfumery.overpour import DISCARD, KEEP, SCALE, TOP_UP, cures
from perfumery.weighing import least_weight

B1 = Balance("B1", d_g=0.001, s_g=0.0008)
DATA = json.loads(resources.read_text("demo.json"))
T024 = next(trial for trial in DATA["trials"] if trial["trial"] == "T-024")["lines"]
TARGETS = [line["target_g"] for line in T024]
NAMES = [line["line"] for line in T024]


def by_kind(found):
    return {cure.kind: cure for cure in found}


def test_a_first_line_over_is_kept_or_scaled():
    """0.062 for 0.050 of 5 g: 12.37 parts if the rest goes on target; × 1.24 makes 6.200 g, and nothing is weighed twice."""
    held = [0.062] + [0.0] * 19
    found = by_kind(cures(TARGETS, held, 0, B1, 0.05))
    keep, scale = found[KEEP], found[SCALE]
    assert keep.total_g == pytest.approx(5.012) and keep.worst == pytest.approx(62 / 5.012 / 10 - 1)
    assert scale.total_g == pytest.approx(6.200) and (scale.weighings, scale.too_small) == (0, 0) and scale.is_worth
    assert scale.worst == pytest.approx(0, abs=1e-9) and scale.extra_g == pytest.approx(1.188)
    assert found[DISCARD].extra_g == pytest.approx(0.062)


def late(over):
    """Everything in on target, the methyl dihydrojasmonate at 0.700 g for 0.650."""
    place = NAMES.index("M12")
    held = list(TARGETS)
    held[place] = over
    return held, place


def test_a_late_line_over_is_not_worth_scaling():
    """0.700 for 0.650 g: the exact cure is 0.335 g in 19 weighings, of which 15 are too small."""
    held, place = late(0.700)
    scale = by_kind(cures(TARGETS, held, place, B1, 0.05))[SCALE]
    assert scale.extra_g == pytest.approx(0.33462, abs=1e-5)
    assert (scale.weighings, scale.too_small, scale.is_worth) == (19, 15, False)


def test_few_additions_are_enough_at_five_percent():
    """At 5 % two additions do: the lemon oil takes the least weight, 0.032 g, and the accord 0.047 g."""
    prices = {m["id"]: m["price_eur_per_g"] for m in DATA["materials"]} | {s["id"]: s["price"] for s in DATA["stocks"]}
    held, place = late(0.700)
    found = by_kind(cures(TARGETS, held, place, B1, 0.05, [prices.get(name, 0.1) for name in NAMES]))
    top_up = found[TOP_UP]
    assert top_up.weighings == 2 and top_up.too_small == 0 and top_up.worst <= 0.05 + 1e-6
    assert all(added >= least_weight(B1, 0.05) - 1e-9 for added in top_up.additions.values())
    assert top_up.extra_g == pytest.approx(0.079, abs=0.002)


def test_what_no_weighable_addition_mends_is_only_kept():
    held, place = late(0.700)
    coarse = Balance("kitchen", d_g=1.0)
    assert set(by_kind(cures(TARGETS, held, place, coarse, 0.02))) == {KEEP, SCALE, DISCARD}


def test_within_its_tolerance_nothing_is_added():
    held, place = late(0.651)
    assert TOP_UP not in by_kind(cures(TARGETS, held, place, B1, 0.05))


def test_less_than_its_target_is_topped_up_and_never_scaled():
    held, place = late(0.600)
    found = by_kind(cures(TARGETS, held, place, B1, 0.05))
    assert SCALE not in found and list(found[TOP_UP].additions) == [place]
    with pytest.raises(Refused):
        cures([1.0, 0.0], [1.0, 0.0], 0, B1, 0.05)


def test_a_price_that_is_not_known_makes_the_cost_unknown():
    held, place = [0.062, *[0.0] * 19], 0
    found = by_kind(cures(TARGETS, held, place, B1, 0.05, [None] * 20))
    assert found[SCALE].extra_cost is None and found[KEEP].extra_cost == 0
    assert by_kind(cures(TARGETS, held, place, B1, 0.05))[SCALE].extra_cost is None


def fewest_by_trying(base, shares, tolerance, least, step=0.01, most=3.0):
    """How few additions on a coarse grid bring every share within the tolerance; None where none of up to two does."""
    def fits(final):
        total = math.fsum(final)
        return all(abs(mass / total / share - 1) <= tolerance + 1e-9 for mass, share in zip(final, shares, strict=True))

    grid = [least + step * at for at in range(int(most / step))]
    if fits(base):
        return 0
    for place in range(len(base)):
        if any(fits([m + (a if at == place else 0) for at, m in enumerate(base)]) for a in grid):
            return 1
    for one, two in combinations(range(len(base)), 2):
        for a in grid[::4]:
            for b in grid[::4]:
                if fits([m + (a if at == one else b if at == two else 0) for at, m in enumerate(base)]):
                    return 2
    return None


@settings(max_examples=25)
@given(st.lists(st.sampled_from([0.2, 0.5, 1.0, 2.0]), min_size=2, max_size=3), st.sampled_from([1.1, 1.2, 1.4]))
def test_the_fewest_additions_are_no_more_than_trying_finds(targets, factor):
    held = list(targets)
    held[0] *= factor
    shares = [target / sum(targets) for target in targets]
    tried = fewest_by_trying(held, shares, 0.05, least_weight(B1, 0.05))
    found = by_kind(cures(targets, held, 0, B1, 0.05))
    if TOP_UP in found:
        final = [mass + found[TOP_UP].additions.get(at, 0.0) for at, mass in enumerate(held)]
        assert all(abs(m / sum(final) / s - 1) <= 0.05 + 1e-6 for m, s in zip(final, shares, strict=True))
        assert tried is None or found[TOP_UP].weighings <= tried
    else:
        assert tried in (0, None)


@given(st.lists(st.floats(0.05, 3.0), min_size=2, max_size=8), st.floats(1.01, 3.0))
def test_scaled_the_shares_are_as_meant(targets, factor):
    held = [targets[0] * factor] + [0.0] * (len(targets) - 1)
    scale = by_kind(cures(targets, held, 0, B1, 0.05))[SCALE]
    final = [(mass or target) + scale.additions.get(at, 0.0) for at, (mass, target) in enumerate(zip(held, targets, strict=True))]
    assert [mass / sum(final) for mass in final] == pytest.approx([target / sum(targets) for target in targets], rel=1e-9)

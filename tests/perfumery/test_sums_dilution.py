# SPDX-License-Identifier: MIT
"""Dilutions in their four forms, what they hold, how strong they are and how far that is known."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from perfumery import Refused
from perfumery.dilution import (
    Pour,
    dilute,
    labelled,
    largest_total_g,
    made_up_g,
    mixed,
    mixed_u,
    strengthen,
    true_strength,
    weaken,
)

AMBER, DPG, ETHANOL = 1, 2, 3


def code(refused) -> str:
    return refused.value.findings[0].code


def test_four_forms_of_one_wish():
    """10 % wanted; figures worked by hand from w = m₁ ÷ (m₁ + m₂)."""
    total = dilute(0.1, total_g=20)
    assert (total.source_g, total.carrier_g) == pytest.approx((2, 18))
    everything = dilute(0.1, source_g=1.5)
    assert (everything.carrier_g, everything.total_g) == pytest.approx((13.5, 15))
    poured = dilute(0.1, carrier_g=20)
    assert round(poured.source_g, 3) == 2.222
    assert dilute(0.1, carrier_g=20, source_strength=0.5).source_g == pytest.approx(5)
    stronger = dilute(0.1, total_g=20, source_strength=0.5)
    assert (stronger.source_g, stronger.carrier_g) == pytest.approx((4, 16))


def test_what_cannot_be_is_refused_with_the_most_there_is():
    with pytest.raises(Refused) as refused:
        dilute(0.2, total_g=10, source_strength=0.1)
    assert code(refused) == "strength-out-of-reach" and refused.value.findings[0].data == {"wanted": 0.2, "most": 0.1}
    with pytest.raises(Refused) as refused:
        dilute(0.1, carrier_g=5, source_strength=0.1)
    assert code(refused) == "strength-out-of-reach"
    for bad in ({}, {"total_g": 1, "source_g": 1}):
        with pytest.raises(Refused) as refused:
            dilute(0.1, **bad)
        assert code(refused) == "dilution-form"
    for mass in (0, -1, math.inf, math.nan):
        with pytest.raises(Refused) as refused:
            dilute(0.1, total_g=mass)
        assert code(refused) == "mass-not-positive"
    for strength in (0, 1.1):
        with pytest.raises(Refused) as refused:
            dilute(strength, total_g=1)
        assert code(refused) == "strength-range"


def test_a_dilution_of_a_dilution_keeps_every_carrier():
    """15 g at 1 % from 10 % in one carrier, topped with another."""
    step = dilute(0.01, total_g=15, source_strength=0.1)
    assert (step.source_g, step.carrier_g) == pytest.approx((1.5, 13.5))
    shares = mixed((Pour({AMBER: 0.1, DPG: 0.9}, step.source_g), Pour({ETHANOL: 1.0}, step.carrier_g)))
    assert shares == pytest.approx({AMBER: 0.01, DPG: 0.09, ETHANOL: 0.9})


def test_nothing_is_reckoned_from_what_is_not_known():
    with pytest.raises(Refused) as refused:
        mixed((Pour({}, 1.0),))
    assert code(refused) == "contents-unknown"
    with pytest.raises(Refused) as refused:
        mixed((Pour({AMBER: 1.0}, 0.0),))
    assert code(refused) == "mass-not-positive"


def read(source_g, carrier_g, u_source, u_carrier, strength=1.0, u_strength=0.0):
    """(share, standard uncertainty) of AMBER in what was weighed together."""
    source = Pour({AMBER: strength, DPG: 1 - strength} if strength < 1 else {AMBER: 1.0}, source_g, u_source, {AMBER: u_strength})
    pours = (source, Pour({ETHANOL: 1.0}, carrier_g, u_carrier))
    return mixed(pours)[AMBER], mixed_u(pours)[AMBER]


def test_true_strength_and_its_uncertainty_by_hand():
    """2.034 g and 17.900 g on a balance of s = 0.8 mg: 10.20 % ± 0.01 (k = 2); 1.498 + 13.507 g: 9.983 % ± 0.0097."""
    share, u = read(2.034, 17.9, 0.0008, 0.0008)
    assert share == pytest.approx(0.102037, abs=1e-6) and 2 * u == pytest.approx(0.000073, abs=5e-7)
    assert 2 * read(1.498, 13.507, 0.0008, 0.0008)[1] == pytest.approx(0.000097, abs=5e-7)


@given(st.floats(0.01, 50), st.floats(0.01, 50), st.floats(1e-4, 0.01), st.floats(0.01, 0.99), st.floats(1e-6, 0.01))
def test_uncertainty_agrees_with_propagation_done_elsewhere(source, carrier, u, strength, u_strength):
    """Reference: the uncertainties package, linear propagation as in the GUM."""
    m1, m2, w = ufloat(source, u), ufloat(carrier, u / 2), ufloat(strength, u_strength)
    known = w * m1 / (m1 + m2)
    assert read(source, carrier, u, u / 2, strength, u_strength) == pytest.approx((known.nominal_value, known.std_dev), rel=1e-9)


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0.01, 20), st.floats(1e-5, 0.01)), min_size=2, max_size=6))
def test_uncertainty_of_many_pours_agrees_too(pours):
    """Reference: the uncertainties package; an accord of several liquids that all hold some of the material."""
    masses = [ufloat(mass, u) for _, mass, u in pours]
    known = sum(share * mass for (share, _, _), mass in zip(pours, masses, strict=True)) / sum(masses)
    own = [Pour({AMBER: share, ETHANOL: 1 - share}, mass, u) for share, mass, u in pours]
    assert mixed_u(own)[AMBER] == pytest.approx(known.std_dev, rel=1e-6, abs=1e-12)


def test_a_mixture_strengthened_and_weakened():
    """100 g at 10 % to 15 % takes 5.882 g of the neat; 100 g at 15 % to 10 % takes 50 g of carrier."""
    assert round(strengthen(100, 0.10, 0.15), 3) == 5.882
    assert weaken(100, 0.15, 0.10) == pytest.approx(50)
    for call in (lambda: strengthen(100, 0.2, 0.1), lambda: strengthen(1, 0.1, 0.5, 0.5), lambda: weaken(1, 0.1, 0.2)):
        with pytest.raises(Refused) as refused:
            call()
        assert code(refused) == "strength-out-of-reach"


@given(st.lists(st.tuples(st.floats(0.01, 0.99), st.floats(0.1, 100)), min_size=1, max_size=8))
def test_a_chain_of_dilutions_sums_to_one_and_keeps_the_mass_balance(steps):
    shares, strength = {AMBER: 1.0}, 1.0
    for place, (factor, total) in enumerate(steps):
        made = dilute(strength * factor, total_g=total, source_strength=strength)
        carrier = DPG if place % 2 else ETHANOL
        shares = mixed((Pour(shares, made.source_g), Pour({carrier: 1.0}, made.carrier_g)))
        strength *= factor
        assert math.fsum(shares.values()) == pytest.approx(1, abs=1e-12)
        assert shares[AMBER] == pytest.approx(strength, rel=1e-9)


@given(st.floats(0.01, 0.5), st.floats(0.01, 0.9), st.floats(0.1, 100))
def test_strengthened_and_weakened_again_is_the_same(start, step, mass):
    wanted = start + (0.95 - start) * step
    added = strengthen(mass, start, wanted)
    assert (mass * start + added) / (mass + added) == pytest.approx(wanted)
    assert weaken(mass + added, wanted, start) == pytest.approx(added * (1 - start) / start)


MILLIGRAMS = st.integers(1, 20_000)
SOURCE = st.integers(0, 6)


@given(st.lists(st.tuples(SOURCE, MILLIGRAMS, SOURCE, MILLIGRAMS, st.booleans()), min_size=1, max_size=12))
def test_any_chain_of_makings_and_top_ups_keeps_the_exact_balance(acts):
    """Beside every bottle stands its balance in exact fractions of a milligram; three bottles are neat, more are made."""
    neat = [{1: Fraction(1)}, {2: Fraction(1)}, {3: Fraction(1, 2), 4: Fraction(1, 2)}]
    bottles = [({key: float(share) for key, share in own.items()}, Fraction(10**9), own) for own in neat]
    for one, first_mg, other, second_mg, topping in acts:
        poured = [(bottles[one % len(bottles)], first_mg), (bottles[other % len(bottles)], second_mg)]
        if topping:
            # what stands there is weighed before: the last bottle, topped up with the first liquid
            shares, mass_mg, exact = bottles.pop()
            poured = [((shares, mass_mg, exact), int(mass_mg)), poured[0]]
        total = sum(mass for _, mass in poured)
        exact = {}
        for (_, _, own), mass in poured:
            for key, share in own.items():
                exact[key] = exact.get(key, Fraction(0)) + share * mass / total
        shares = mixed(Pour(own, mass / 1000) for (own, _, _), mass in poured)
        assert math.fsum(shares.values()) == pytest.approx(1, abs=1e-12)
        assert shares == pytest.approx({key: float(share) for key, share in exact.items()}, rel=1e-12)
        bottles.append((shares, Fraction(total), exact))


def test_the_strength_that_was_really_weighed():
    """2.04 g neat and 17.96 g carrier, each to 1 mg: u = √((17.96·u)² + (2.04·u)²) ÷ 20²."""
    strength, u = true_strength([(1.0, 0.0, 2.04, 0.001), (0.0, 0.0, 17.96, 0.001)])
    assert strength == pytest.approx(0.102) and u == pytest.approx(math.hypot(17.96 * 0.001, 2.04 * 0.001) / 400)
    # a source that is known to 0.2 % brings its part; one that is not known, or a balance that is not, leaves it open
    _, with_source = true_strength([(0.5, 0.002, 4.0, 0.0), (0.0, 0.0, 16.0, 0.0)])
    assert with_source == pytest.approx(0.0004)
    assert true_strength([(0.5, None, 4.0, 0.001), (0.0, 0.0, 16.0, 0.001)]) == (pytest.approx(0.1), None)
    assert true_strength([(0.5, 0.0, 4.0, None), (0.0, 0.0, 16.0, 0.001)]) == (pytest.approx(0.1), None)
    assert true_strength([(0.0, 0.0, 4.0, None)]) == (0.0, None)


@given(st.floats(0.1, 100), st.floats(0.02, 1), st.floats(0.01, 0.99))
def test_what_is_made_up_comes_to_the_strength_wanted(first_g, first, part):
    wanted = first * part
    grams = made_up_g(first_g, first, 0.0, wanted)
    assert grams is not None and mixed([Pour({AMBER: first, DPG: 1 - first}, first_g), Pour({DPG: 1.0}, grams)])[
        AMBER
    ] == pytest.approx(wanted)
    # the carrier came first: so much of the stronger one
    stronger = made_up_g(first_g, 0.0, first, wanted)
    assert stronger is not None and stronger * first / (stronger + first_g) == pytest.approx(wanted)


def test_what_no_amount_makes_up():
    assert made_up_g(1.0, 0.1, 0.1, 0.1) is None
    assert made_up_g(1.0, 0.1, 0.05, 0.2) is None


def test_the_largest_total_that_what_is_left_allows():
    assert largest_total_g(20.0, 10.0, 5.0) == 10.0
    assert largest_total_g(20.0, 10.0, -1.0) == 0.0


def test_what_a_label_says():
    assert labelled(1.0, AMBER, None) == {AMBER: 1.0} == labelled(1.0, AMBER, DPG)
    assert labelled(0.1, AMBER, DPG) == pytest.approx({AMBER: 0.1, DPG: 0.9})
    assert labelled(0.1, AMBER, None) == {} == labelled(1.0, None, DPG)

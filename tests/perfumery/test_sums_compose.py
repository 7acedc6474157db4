# SPDX-License-Identifier: MIT
"""The one place where parts become percent, grams, neat parts, cost and findings: small formulas worked by hand."""

import math

import pytest

from perfumery.compose import compose, price_findings, resolved, share_within
from perfumery.findings import Finding
from perfumery.shelf import Shelf
from perfumery.values import Line, Material, Version

ETHANOL, DPG, AMBROXIDE, LEMON, KETONE, BENZYL = 1, 2, 3, 4, 5, 6
ACCORD, INNER = 20, 21
MATERIALS = {
    ETHANOL: Material(name="Ethanol 96 %", bench_name="Ethanol", is_carrier=True, key=ETHANOL),
    DPG: Material(name="Dipropylene glycol", is_carrier=True, key=DPG),
    AMBROXIDE: Material(name="Ambroxide", form="crystals", key=AMBROXIDE),
    LEMON: Material(name="Lemon oil, cold-pressed", bench_name="Lemon oil", key=LEMON),
    KETONE: Material(name="Woody ketone", key=KETONE),
    BENZYL: Material(name="Benzyl benzoate", is_carrier=True, key=BENZYL),
}
PRICES = {ETHANOL: 0.012, DPG: 0.008, AMBROXIDE: 1.10, LEMON: 0.09, KETONE: 0.03, BENZYL: 0.01}
SHELF = Shelf(materials=MATERIALS, prices=PRICES)


def formula(*lines, code="SR-1", **fields):
    return Version(project=1, code=code, lines=lines, **fields)


def neat(parts, material, **fields):
    return Line(parts=parts, material=material, **fields)


def at(parts, material, strength, carrier=ETHANOL, **fields):
    return Line(parts=parts, material=material, strength=strength, carrier=carrier, **fields)


def shelf_with(*accords, prices=PRICES, materials=MATERIALS):
    return Shelf(materials=materials, accords={a.key: a for a in accords}, prices=prices)


# shares and grams


def test_lemon_from_110_to_120_of_any_total():
    before = compose(formula(neat(110.0, LEMON), neat(890.0, KETONE)), SHELF)
    assert before.total_parts == 1000.0
    assert before.rows[0].share == 0.11
    assert before.rows[0].per_thousand == 110.0
    after = compose(formula(neat(120.0, LEMON), neat(890.0, KETONE)), SHELF, amount_g=5.0)
    assert after.total_parts == 1010.0
    assert round(after.rows[0].share * 100, 2) == 11.88
    assert after.rows[0].grams == pytest.approx(120 / 1010 * 5, rel=1e-15)
    assert before.rows[0].grams is None


def test_neat_parts_and_carrier_of_a_diluted_line():
    result = compose(formula(at(20.0, AMBROXIDE, 0.1), neat(80.0, LEMON)), SHELF)
    assert result.rows[0].neat_parts == 2.0
    assert result.carriers == pytest.approx({ETHANOL: 18.0}, rel=1e-15)
    assert result.expanded == pytest.approx({LEMON: 80.0, ETHANOL: 18.0, AMBROXIDE: 2.0}, rel=1e-15)
    assert list(result.expanded) == [LEMON, ETHANOL, AMBROXIDE]  # largest first
    assert result.neat_parts == 82.0
    assert result.neat_share == 0.82


def test_carriers_are_kept_apart_by_key_largest_first():
    result = compose(formula(at(10.0, AMBROXIDE, 0.1, DPG), at(40.0, KETONE, 0.5), neat(5.0, DPG), neat(45.0, LEMON)), SHELF)
    assert list(result.carriers) == [ETHANOL, DPG]
    assert result.carriers == pytest.approx({ETHANOL: 20.0, DPG: 14.0}, rel=1e-15)
    assert result.neat_parts == pytest.approx(66.0, rel=1e-15)


def test_line_overrides_the_carrier_mark_of_its_material():
    """Benzyl benzoate as a fixative is no carrier; an oil used to thin something is one."""
    plain = compose(formula(neat(10.0, BENZYL), neat(90.0, LEMON)), SHELF)
    fixative = compose(formula(neat(10.0, BENZYL, as_carrier=False), neat(90.0, LEMON)), SHELF)
    thinner = compose(formula(neat(10.0, BENZYL), neat(90.0, LEMON, as_carrier=True)), SHELF)
    assert (plain.neat_parts, plain.carriers) == (90.0, {BENZYL: 10.0})
    assert (fixative.neat_parts, fixative.carriers) == (100.0, {})
    assert (thinner.neat_parts, thinner.carriers) == (0.0, {LEMON: 90.0, BENZYL: 10.0})
    assert plain.expanded == fixative.expanded == {LEMON: 90.0, BENZYL: 10.0}
    assert thinner.findings == (Finding("all-carrier"),)


def test_carrier_material_at_a_strength_is_all_carrier():
    result = compose(formula(at(50.0, DPG, 0.5), neat(50.0, LEMON)), SHELF)
    assert result.carriers == {DPG: 25.0, ETHANOL: 25.0}
    assert result.rows[0].neat_parts == 0.0


@pytest.mark.parametrize("amount", [0.0, -1.0, math.nan, math.inf])
def test_amount_must_be_a_mass(refused, amount):
    finding = refused(compose, formula(neat(1.0, LEMON)), SHELF, amount_g=amount)
    assert finding.code == "mass-not-positive"


@pytest.mark.parametrize("strength, percent", [(0.0, 0.0), (-0.1, -10.0), (1.5, 150.0)])
def test_finished_strength_must_be_a_share(refused, strength, percent):
    finding = refused(compose, formula(neat(1.0, LEMON)), SHELF, strength=strength)
    assert (finding.code, finding.data) == ("strength-range", {"percent": percent})


def test_missing_material_or_carrier_is_named(refused):
    for wrong in (neat(1.0, 99), at(1.0, LEMON, 0.1, 99)):
        finding = refused(compose, formula(wrong), SHELF)
        assert (finding.code, finding.data) == ("reference-missing", {"kind": "Material", "key": 99})


# the fill-up line


def test_fill_up_line_is_live():
    version = formula(neat(962.0, LEMON), neat(7.0, DPG, fill_up=True))
    assert [line.parts for line in resolved(version)] == [962.0, 38.0]
    result = compose(version, SHELF, amount_g=10.0)
    assert result.total_parts == 1000.0
    assert result.rows[1].line.parts == 38.0
    assert result.rows[1].grams == pytest.approx(0.38, rel=1e-15)
    assert result.carriers == {DPG: 38.0}


def test_fill_up_refuses_others_over_the_total_and_names_the_excess(refused):
    finding = refused(formula, neat(1010.0, LEMON), neat(0.0, DPG, fill_up=True))
    assert (finding.code, finding.data["excess"]) == ("fill-up-excess", 10.0)


def test_fill_up_is_the_decimal_figure_meant():
    """1000 − 962.1 is 37.89999999999998 in binary; the bench book says 37.9."""
    assert 1000 - 962.1 != 37.9
    assert resolved(formula(neat(962.1, LEMON), neat(0.0, DPG, fill_up=True)))[1].parts == 37.9


def test_fill_up_may_be_nothing():
    tenths = [neat(0.1, LEMON)] * 3
    version = formula(*tenths, neat(0.0, DPG, fill_up=True), total=0.3)
    assert resolved(version)[3].parts == 0.0
    result = compose(version, SHELF)
    assert result.carriers == {}
    assert result.expanded[LEMON] == pytest.approx(0.3, rel=1e-15)


def test_accord_with_a_fill_up_line_is_live_inside():
    accord = formula(neat(60.0, LEMON), neat(0.0, KETONE, fill_up=True), total=100.0, key=ACCORD, code="A")
    result = compose(formula(Line(parts=50.0, accord=ACCORD), neat(50.0, DPG)), shelf_with(accord))
    assert result.expanded == {DPG: 50.0, LEMON: 30.0, KETONE: 20.0}


# accords


def test_same_material_over_several_routes_is_summed():
    """Ambroxide 10 @ 10 % in 100 parts of accord, of which 125, and 20 @ 10 % directly: 1.25 + 2 = 3.25 parts."""
    accord = formula(at(10.0, AMBROXIDE, 0.1), neat(90.0, KETONE), key=ACCORD, code="A-WS")
    version = formula(Line(parts=125.0, accord=ACCORD), at(20.0, AMBROXIDE, 0.1), neat(855.0, LEMON))
    result = compose(version, shelf_with(accord), strength=0.12)
    assert result.total_parts == 1000.0
    assert result.expanded == pytest.approx({LEMON: 855.0, KETONE: 112.5, ETHANOL: 29.25, AMBROXIDE: 3.25}, rel=1e-14)
    assert result.carriers == pytest.approx({ETHANOL: 29.25}, rel=1e-14)
    assert result.rows[0].neat_parts == pytest.approx(113.75, rel=1e-14)
    assert result.neat_parts == pytest.approx(970.75, rel=1e-14)
    assert result.odorant_share() == pytest.approx(0.12 * 0.97075, rel=1e-14)
    assert result.strength_for_odorant(0.12) == pytest.approx(0.12 / 0.97075, rel=1e-14)
    assert result.cost_per_g == pytest.approx(0.855 * 0.09 + 0.1125 * 0.03 + 0.02925 * 0.012 + 0.00325 * 1.10, rel=1e-14)


def test_three_levels_equal_the_nested_sum_by_hand():
    inner = formula(at(30.0, AMBROXIDE, 0.5), neat(10.0, DPG), code="inner", key=INNER)  # 40: 15 amb, 15 eth, 10 dpg
    middle = formula(Line(parts=8.0, accord=INNER), neat(12.0, LEMON), code="middle", key=ACCORD)  # 20: 3 3 2, 12
    top = formula(Line(parts=50.0, accord=ACCORD), Line(parts=20.0, accord=INNER), neat(30.0, LEMON))
    result = compose(top, shelf_with(inner, middle), amount_g=10.0)
    assert result.total_parts == 100.0
    assert result.expanded == pytest.approx({LEMON: 30 + 30, AMBROXIDE: 7.5 + 7.5, ETHANOL: 7.5 + 7.5, DPG: 5 + 5}, rel=1e-14)
    assert result.carriers == pytest.approx({ETHANOL: 15.0, DPG: 10.0}, rel=1e-14)
    assert result.neat_parts == pytest.approx(75.0, rel=1e-14)
    assert [row.grams for row in result.rows] == pytest.approx([5.0, 2.0, 3.0], rel=1e-14)
    assert [row.neat_parts for row in result.rows] == pytest.approx([37.5, 7.5, 30.0], rel=1e-14)


def test_share_of_one_material_alone():
    """Ambroxide 1 % in the accord, 12.5 % of it, and 2 % @ 10 % directly: 0.325 %; ethanol the rest of both dilutions."""
    accord = formula(at(10.0, AMBROXIDE, 0.1), neat(90.0, KETONE), key=ACCORD, code="A-WS")
    version = formula(Line(parts=125.0, accord=ACCORD), at(20.0, AMBROXIDE, 0.1), neat(0.0, LEMON, fill_up=True))
    shares = [share_within(key, version, {ACCORD: accord}) for key in (AMBROXIDE, ETHANOL, LEMON, DPG)]
    assert shares == pytest.approx([0.00325, 0.02925, 0.855, 0.0], rel=1e-14)
    assert share_within(LEMON, formula(neat(0.0, LEMON)), {}) == 0.0


def test_loop_of_accords_is_refused_and_named(refused):
    one = formula(Line(parts=1.0, accord=INNER), code="Wet slate", key=ACCORD)
    two = formula(Line(parts=1.0, accord=ACCORD), code="Moss", key=INNER)
    finding = refused(compose, formula(Line(parts=1.0, accord=ACCORD)), shelf_with(one, two))
    assert (finding.code, finding.data) == ("accord-loop", {"names": ("Wet slate", "Moss", "Wet slate")})


def test_accord_without_parts_gives_nothing():
    empty = formula(code="empty", key=ACCORD)
    result = compose(formula(Line(parts=10.0, accord=ACCORD), neat(90.0, LEMON)), shelf_with(empty))
    assert result.expanded == {LEMON: 90.0}
    assert result.rows[0].neat_parts == 0.0
    assert result.rows[0].cost == 0.0
    assert result.unpriced == ()


# finished strength


def test_odorant_share_of_the_asked_strength():
    result = compose(formula(at(50.0, LEMON, 0.5), neat(50.0, KETONE)), SHELF)
    assert result.odorant_share() == 0.75  # the concentrate itself
    assert result.odorant_share(0.2) == pytest.approx(0.15, rel=1e-15)
    assert compose(formula(neat(1.0, LEMON)), SHELF, strength=0.12).odorant_share() == 0.12


def test_odorant_out_of_reach_says_the_most_there_is(refused):
    """Every line at 10 %, 20 % wanted: 10 % is the most these stocks can give."""
    result = compose(formula(at(60.0, LEMON, 0.1), at(40.0, KETONE, 0.1, DPG)), SHELF)
    finding = refused(result.strength_for_odorant, 0.2)
    assert finding.code == "odorant-out-of-reach"
    assert finding.data["wanted"] == 0.2
    assert finding.data["most"] == pytest.approx(0.1, rel=1e-15)
    assert result.strength_for_odorant(0.1) == 1.0
    assert result.strength_for_odorant(result.neat_share * (1 + 5e-13)) == 1.0  # rounding, not chemistry
    assert result.strength_for_odorant(0.05) == pytest.approx(0.5, rel=1e-15)


def test_odorant_from_nothing_but_carrier_is_out_of_reach(refused):
    result = compose(formula(neat(1.0, ETHANOL)), SHELF)
    finding = refused(result.strength_for_odorant, 0.1)
    assert (finding.code, finding.data) == ("odorant-out-of-reach", {"wanted": 0.1, "most": 0.0})


@pytest.mark.parametrize("share", [0.0, -0.1, 1.01])
def test_odorant_asks_outside_0_to_1_are_refused(refused, share):
    result = compose(formula(neat(1.0, LEMON)), SHELF)
    assert refused(result.strength_for_odorant, share).data == {"percent": share * 100}
    assert refused(result.odorant_share, share).data == {"percent": share * 100}


# cost


def test_cost_of_line_and_whole():
    result = compose(formula(at(20.0, AMBROXIDE, 0.1), neat(80.0, LEMON)), SHELF)
    assert result.rows[0].cost == pytest.approx(0.2 * 0.1208, rel=1e-14)
    assert result.rows[1].cost == pytest.approx(0.8 * 0.09, rel=1e-14)
    assert result.cost_per_g == pytest.approx(0.2 * 0.1208 + 0.8 * 0.09, rel=1e-14)
    assert result.unpriced == ()
    assert result.findings == ()


def test_missing_price_makes_the_cost_at_least_and_is_named():
    """Lemon has no price: the cost counts the known rest, its row none, and lemon is named."""
    accord = formula(neat(50.0, LEMON), neat(50.0, KETONE), code="A", key=ACCORD)
    prices = {key: price for key, price in PRICES.items() if key != LEMON}
    result = compose(
        formula(Line(parts=40.0, accord=ACCORD), neat(10.0, LEMON), neat(50.0, KETONE)),
        shelf_with(accord, prices=prices),
    )
    assert result.unpriced == (LEMON,)
    assert result.cost_per_g == pytest.approx(0.7 * 0.03, rel=1e-14)
    assert [row.cost for row in result.rows] == [None, None, pytest.approx(0.5 * 0.03, rel=1e-14)]
    assert result.findings == (Finding("price-unknown", {"names": ("Lemon oil",)}),)


def test_unpriced_carrier_counts_too_and_the_largest_is_named_first():
    shelf = shelf_with(prices={LEMON: 0.09})
    result = compose(formula(at(20.0, AMBROXIDE, 0.1), neat(80.0, LEMON)), shelf)
    assert result.unpriced == (ETHANOL, AMBROXIDE)
    assert result.cost_per_g == pytest.approx(0.8 * 0.09, rel=1e-14)
    assert result.findings[0].data == {"names": ("Ethanol", "Ambroxide")}


def test_cost_is_unknown_where_no_price_is():
    result = compose(formula(neat(1.0, LEMON)), shelf_with(prices={}))
    assert result.cost_per_g is None
    assert result.unpriced == (LEMON,)


def test_line_of_no_parts_needs_no_price():
    prices = {LEMON: 0.09}
    result = compose(formula(neat(0.0, KETONE), neat(10.0, LEMON)), shelf_with(prices=prices))
    assert result.unpriced == ()
    assert result.cost_per_g == pytest.approx(0.09, rel=1e-15)
    assert result.rows[0].cost is None


def test_price_ceiling():
    dear = compose(formula(neat(1.0, LEMON)), SHELF)
    assert price_findings(dear, None) == ()
    assert price_findings(dear, 0.09) == ()
    assert price_findings(dear, 0.08) == (Finding("over-price", {"cost": 0.09, "ceiling": 0.08, "at_least": False}),)
    partly = compose(formula(neat(1.0, LEMON), neat(1.0, KETONE)), shelf_with(prices={LEMON: 0.3}))
    assert price_findings(partly, 0.1)[0].data == {"cost": 0.15, "ceiling": 0.1, "at_least": True}
    assert price_findings(compose(formula(neat(1.0, LEMON)), shelf_with(prices={})), 0.1) == ()


# notices


def test_formula_without_lines_or_parts():
    nothing = compose(formula(), SHELF, amount_g=5.0)
    assert (nothing.rows, nothing.total_parts, nothing.cost_per_g, nothing.expanded) == ((), 0.0, None, {})
    assert nothing.findings == (Finding("no-lines"),)
    assert nothing.neat_share == 0.0
    zero = compose(formula(neat(0.0, LEMON)), SHELF, amount_g=5.0)
    row = zero.rows[0]
    assert (row.share, row.per_thousand, row.grams, row.cost) == (0.0, 0.0, 0.0, 0.0)
    assert zero.findings == ()


def test_retired_material_is_noticed():
    retired = {**MATERIALS, LEMON: Material(name="Lemon oil", retired_on="2025-01-01", key=LEMON)}
    result = compose(formula(neat(1.0, LEMON), neat(1.0, KETONE)), shelf_with(materials=retired))
    assert result.findings == (Finding("retired-used", {"names": ("Lemon oil",)}),)

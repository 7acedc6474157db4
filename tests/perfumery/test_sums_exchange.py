# SPDX-License-Identifier: MIT
"""A stock exchanged for another strength, a formula rescaled around held lines: composition and total kept."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Finding, Line, Material, Refused, Shelf, Version, compose
from perfumery.compose import resolved
from perfumery.exchanging import exchange, exchanged, rescaled

LEMON, AMB, ETHANOL, DPG, IPM = 1, 2, 3, 4, 5
MATERIALS = {
    LEMON: Material(key=LEMON, name="Lemon oil"),
    AMB: Material(key=AMB, name="Ambroxide"),
    ETHANOL: Material(key=ETHANOL, name="Ethanol", is_carrier=True),
    DPG: Material(key=DPG, name="Dipropylene glycol", is_carrier=True),
    # a carrier that nobody marked as one
    IPM: Material(key=IPM, name="Isopropyl myristate"),
}
SHELF = Shelf(materials=MATERIALS, prices={LEMON: 0.1, AMB: 3.0, ETHANOL: 0.01, DPG: 0.02, IPM: 0.03})


def test_a_stock_exchanged_by_hand():
    """20 parts at 10 % are 2 neat and 18 of carrier; with 30 free parts 1 % cannot be, 4 % is the weakest that works."""
    neat = exchange(20, 0.1, 1.0)
    assert (neat.parts, neat.carrier_parts) == (2, 18)
    weak = exchange(20, 0.1, 0.04, free_carrier=30)
    assert (weak.parts, weak.carrier_parts) == (50, -30)
    with pytest.raises(Refused) as refused:
        exchange(20, 0.1, 0.01, free_carrier=30)
    (finding,) = refused.value.findings
    assert finding.code == "exchange-too-weak" and finding.data["weakest"] == pytest.approx(0.04)
    with pytest.raises(Refused):
        exchange(20, 0.1, 0)


@given(st.floats(1, 500), st.floats(0.01, 1), st.floats(0, 500))
def test_the_weakest_strength_told_works_as_it_is_told(parts, strength, free):
    with pytest.raises(Refused) as refused:
        exchange(parts, strength, 1e-6, free)
    weakest = refused.value.findings[0].data["weakest"]
    told = float(f"{weakest:.4g}")
    assert exchange(parts, strength, told, free).carrier_parts >= -free - 1e-9
    assert told == pytest.approx(parts * strength / (parts + free), rel=2e-3)


@given(st.floats(0.1, 500), st.floats(0.001, 1), st.floats(0.001, 1))
def test_an_exchange_keeps_neat_parts_and_total(parts, strength, wanted):
    made = exchange(parts, strength, wanted, free_carrier=1e9)
    assert made.parts * wanted == pytest.approx(parts * strength)
    assert made.parts + made.carrier_parts == pytest.approx(parts)


def version(*parts: float, held: int | None = None, fill_up: bool = False) -> Version:
    lines = [Line(parts=p, material=at + 1, held=at == held) for at, p in enumerate(parts)]
    if fill_up:
        lines.append(Line(material=99, fill_up=True))
    return Version(project=1, code="V-1", lines=lines)


def test_held_lines_stay_and_the_rest_makes_the_total():
    """One line of 120 held in 1010 parts: the other 890 become 880, each × 0.988764."""
    scaled, factor = rescaled(version(120, 400, 490, held=0), 1000)
    assert round(factor, 6) == 0.988764 and scaled.lines[0].parts == 120
    assert math.fsum(line.parts for line in scaled.lines) == pytest.approx(1000) and scaled.total == 1000


def test_what_leaves_nothing_to_rescale_is_refused():
    for bad, total in ((version(120, held=0), 1000), (version(120, 5, held=0), 100)):
        with pytest.raises(Refused) as refused:
            rescaled(bad, total)
        assert refused.value.findings[0].code == "held-too-much"
    with pytest.raises(Refused) as refused:
        rescaled(version(1, 2), 0)
    assert refused.value.findings[0].code == "total-not-positive"


@given(st.lists(st.floats(0.1, 500), min_size=2, max_size=30), st.floats(1, 5000))
def test_rescaled_without_held_lines_keeps_every_ratio(parts, total):
    scaled, factor = rescaled(version(*parts), total)
    assert [line.parts for line in scaled.lines] == pytest.approx([p * factor for p in parts])
    assert math.fsum(line.parts for line in scaled.lines) == pytest.approx(total)


def test_the_line_that_fills_up_is_scaled_with_the_others():
    """100, 200 and 700 to fill up 1000, brought to 500: 50, 100 and 350, nothing else would keep the composition."""
    filled = Version(project=1, code="V-1", lines=[*version(100, 200).lines, Line(material=99, fill_up=True)])
    scaled, factor = rescaled(filled, 500)
    assert [line.parts for line in resolved(scaled)] == [50, 100, 350] and factor == 0.5
    kept = replace(filled, lines=(*filled.lines[:2], replace(filled.lines[2], held=True)))
    assert [line.parts for line in resolved(rescaled(kept, 1300)[0])] == [200, 400, 700]


def test_all_of_the_total_held_or_nothing_to_scale_is_refused():
    assert _refused(rescaled, version(100, 5, held=0), 100).code == "held-too-much"
    assert _refused(rescaled, version(0, 0), 100).code == _refused(rescaled, version(), 100).code == "nothing-to-rescale"


@given(st.lists(st.floats(0.1, 500), min_size=2, max_size=30), st.floats(1, 5000))
def test_a_rescaled_total_is_met_exactly_as_shown(parts, total):
    scaled, _ = rescaled(version(*parts), total)
    assert f"{math.fsum(line.parts for line in scaled.lines):.12g}" == f"{total:.12g}"


# one stock exchanged in its formula -----------------------------------------------------------------------------------


def _refused(call, *given) -> Finding:
    with pytest.raises(Refused) as refused:
        call(*given)
    (finding,) = refused.value.findings
    return finding


def formula(*lines: Line, total: float = 1000.0) -> Version:
    return Version(project=1, code="V-1", total=total, lines=(Line(parts=78, material=LEMON), *lines))


STOCK = Line(parts=20, material=AMB, strength=0.1, carrier=ETHANOL)


def test_what_comes_free_goes_to_a_line_of_the_carrier_or_makes_one():
    made = exchanged(formula(STOCK), 1, 1.0, None, MATERIALS)
    assert made.version.lines[1:] == (Line(parts=2, material=AMB), Line(parts=18, material=ETHANOL))
    assert (made.parts, made.carriers, made.added) == (2, {ETHANOL: 18}, (ETHANOL,))
    made = exchanged(formula(STOCK, Line(parts=5, material=ETHANOL)), 1, 1.0, None, MATERIALS)
    assert made.version.lines[2] == Line(parts=23, material=ETHANOL) and made.added == ()
    held = formula(STOCK, Line(parts=5, material=ETHANOL, held=True), Line(parts=1, material=ETHANOL))
    assert [line.parts for line in exchanged(held, 1, 1.0, None, MATERIALS).version.lines] == [78, 2, 5, 19]


def test_what_is_missing_is_taken_from_lines_of_the_carrier_until_they_are_used_up():
    free = formula(STOCK, Line(parts=10, material=ETHANOL), Line(parts=20, material=ETHANOL))
    made = exchanged(free, 1, 0.05, ETHANOL, MATERIALS)
    assert [line.parts for line in made.version.lines] == [78, 40, 0, 10] and made.carriers == {ETHANOL: -20}
    refused = _refused(exchanged, free, 1, 0.01, ETHANOL, MATERIALS)
    assert refused.code == "exchange-too-weak" and refused.data["weakest"] == pytest.approx(0.04)
    neat = formula(Line(parts=2, material=AMB), Line(parts=18, material=ETHANOL))
    assert exchanged(neat, 1, 0.1, ETHANOL, MATERIALS).version.lines[2].parts == 0
    assert _refused(exchanged, neat, 1, 0.05, ETHANOL, MATERIALS).data["weakest"] == pytest.approx(0.1)


def test_the_line_that_fills_up_balances_by_itself_and_never_goes_below_nothing():
    filled = formula(STOCK, Line(material=ETHANOL, fill_up=True), total=128)
    made = exchanged(filled, 1, 0.05, ETHANOL, MATERIALS)
    assert [line.parts for line in resolved(made.version)] == [78, 40, 10] and made.version.lines[2] == filled.lines[2]
    assert _refused(exchanged, filled, 1, 0.01, ETHANOL, MATERIALS).data["weakest"] == pytest.approx(0.04)
    itself = formula(replace(STOCK, fill_up=True), Line(parts=4, material=ETHANOL), total=102)
    made = exchanged(itself, 1, 1.0, None, MATERIALS)
    assert [line.parts for line in resolved(made.version)] == pytest.approx([78, 2, 22])


def test_a_stock_in_another_carrier_needs_that_carrier_free():
    free = formula(STOCK, Line(parts=30, material=DPG))
    made = exchanged(free, 1, 0.1, DPG, MATERIALS)
    assert [line.parts for line in made.version.lines] == [78, 20, 12, 18]
    assert made.carriers == {ETHANOL: 18, DPG: -18} and made.added == (ETHANOL,)
    refused = _refused(exchanged, free, 1, 0.05, DPG, MATERIALS)
    assert refused.code == "exchange-carrier"
    assert dict(refused.data) == pytest.approx(
        {"carrier": MATERIALS[DPG].carrier_name, "needed": 38, "missing": 8, "weakest": 0.0625}
    )
    refused = _refused(exchanged, formula(STOCK), 1, 0.5, DPG, MATERIALS)
    assert refused.code == "exchange-no-carrier" and refused.data["needed"] == pytest.approx(2)


def test_a_carrier_without_its_mark_counts_as_one_where_it_comes_free():
    """Neat in a line of its own it would count as odorant: the new line says that it is carrier, and such a line is not
    drawn from."""
    stock = Line(parts=20, material=AMB, strength=0.1, carrier=IPM)
    made = exchanged(formula(stock, Line(parts=50, material=IPM)), 1, 1.0, None, MATERIALS)
    assert made.version.lines[2:] == (Line(parts=50, material=IPM), Line(parts=18, material=IPM, as_carrier=True))
    again = exchanged(made.version, 1, 0.1, IPM, MATERIALS)
    assert [line.parts for line in again.version.lines] == [78, 20, 50, 0]


def test_a_stock_that_cannot_be_is_refused():
    assert _refused(exchanged, formula(STOCK), 1, 0.5, None, MATERIALS).code == "carrier-missing"
    assert _refused(exchanged, formula(STOCK), 1, 1.5, ETHANOL, MATERIALS).code == "strength-range"


CARRIERS = st.sampled_from((ETHANOL, DPG, IPM))
STRENGTHS = st.one_of(st.just(1.0), st.floats(0.001, 0.99))


@given(st.floats(0.1, 500), STRENGTHS, STRENGTHS, CARRIERS, CARRIERS, st.sampled_from((None, ETHANOL, DPG)))
def test_an_exchanged_stock_changes_nothing_of_what_the_formula_is(parts, strength, wanted, carrier, other, filling):
    lines = [
        Line(parts=parts, material=AMB, strength=strength, carrier=None if strength == 1 else carrier),
        *(Line(parts=600, material=key, as_carrier=True) for key in (ETHANOL, DPG, IPM) if key != filling),
    ]
    if filling is not None:
        lines.append(Line(material=filling, fill_up=True))
    before = formula(*lines, total=2500)
    try:
        made = exchanged(before, 1, wanted, None if wanted == 1 else other, MATERIALS)
    except Refused:
        return
    old, new = compose(before, SHELF), compose(made.version, SHELF)
    assert new.total_parts == pytest.approx(old.total_parts, rel=1e-9)
    assert new.neat_parts == pytest.approx(old.neat_parts, rel=1e-9)
    assert new.cost_per_g == pytest.approx(old.cost_per_g, rel=1e-9)
    for key in MATERIALS:
        assert new.expanded.get(key, 0.0) == pytest.approx(old.expanded.get(key, 0.0), rel=1e-9, abs=1e-9)

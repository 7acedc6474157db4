# SPDX-License-Identifier: MIT
"""What holds for every formula, however deep: masses balance, routes and order do not matter, costs add up."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.compose import compose, share_within
from perfumery.shelf import Shelf
from perfumery.values import Line, Material, Version

KEYS = range(1, 9)
CARRIERS = (1, 2)
MATERIALS = {k: Material(name=f"Material {k}", is_carrier=k in CARRIERS, key=k) for k in KEYS}
PRICES = {k: 0.01 * k * k for k in KEYS}
PARTS = st.integers(1, 500_000).map(lambda thousandths: thousandths / 1000)
STRENGTHS = st.sampled_from([1.0, 0.5, 0.2, 0.1, 0.01, 0.001])


def close(value):
    return pytest.approx(value, rel=1e-11, abs=1e-12)


@st.composite
def material_lines(draw):
    material, strength = draw(st.sampled_from(KEYS)), draw(STRENGTHS)
    others = [key for key in CARRIERS if key != material]
    carrier = None if strength == 1 else draw(st.sampled_from(others))
    mark = draw(st.sampled_from([None, None, None, True, False]))
    return Line(parts=draw(PARTS), material=material, strength=strength, carrier=carrier, as_carrier=mark)


@st.composite
def benches(draw):
    """(a version, its shelf): up to three accords, each of which may hold the ones before it."""
    accords = {}
    for key in range(101, 101 + draw(st.integers(0, 3))):
        lines = draw(st.lists(material_lines(), min_size=1, max_size=4))
        for inner in draw(st.lists(st.sampled_from(sorted(accords)), max_size=2)) if accords else ():
            lines.append(Line(parts=draw(PARTS), accord=inner))
        accords[key] = Version(project=1, code=f"A-{key}", lines=draw(st.permutations(lines)), key=key)
    lines = draw(st.lists(material_lines(), min_size=1, max_size=6))
    for inner in draw(st.lists(st.sampled_from(sorted(accords)), max_size=3)) if accords else ():
        lines.append(Line(parts=draw(PARTS), accord=inner))
    version = Version(project=1, code="SR", lines=draw(st.permutations(lines)), key=200)
    return version, Shelf(materials=MATERIALS, accords=accords, prices=PRICES)


def flattened(version, accords, factor=1.0):
    """The version's material lines with every accord opened, however deep, scaled by its own total."""
    lines = []
    for line in version.lines:
        if line.accord is None:
            lines.append(replace(line, parts=line.parts * factor))
        else:
            inner = accords[line.accord]
            total = math.fsum(one.parts for one in inner.lines)
            lines += flattened(inner, accords, factor * line.parts / total)
    return lines


@given(benches(), st.sampled_from([None, 0.5, 5.0, 76.775]))
def test_everything_adds_up(bench, amount):
    result = compose(*bench, amount_g=amount)
    assert math.fsum(row.share for row in result.rows) == close(1)
    assert math.fsum(row.per_thousand for row in result.rows) == close(1000)
    assert math.fsum(result.expanded.values()) == close(result.total_parts)
    assert result.neat_parts + math.fsum(result.carriers.values()) == close(result.total_parts)
    assert math.fsum(row.neat_parts for row in result.rows) == close(result.neat_parts)
    if amount is None:
        assert {row.grams for row in result.rows} == {None}
    else:
        assert math.fsum(row.grams for row in result.rows) == close(amount)


@given(benches())
def test_expansion_is_the_flattened_formula(bench):
    version, shelf = bench
    nested = compose(version, shelf)
    flat = compose(replace(version, lines=flattened(version, shelf.accords)), Shelf(MATERIALS, prices=PRICES))
    assert nested.expanded == close(flat.expanded)
    assert nested.carriers == close(flat.carriers)
    assert nested.neat_parts == close(flat.neat_parts)
    assert nested.cost_per_g == close(flat.cost_per_g)
    assert nested.total_parts == close(flat.total_parts)


@given(benches(), st.sampled_from(KEYS))
def test_share_of_one_material_alone_is_its_share_of_the_expansion(bench, key):
    version, shelf = bench
    whole = compose(version, shelf)
    assert share_within(key, version, shelf.accords) == close(whole.expanded.get(key, 0.0) / whole.total_parts)


@given(benches())
def test_cost_is_the_sum_of_its_lines_and_of_its_materials(bench):
    result = compose(*bench)
    assert result.cost_per_g == close(math.fsum(row.cost for row in result.rows))
    by_material = math.fsum(PRICES[key] * parts for key, parts in result.expanded.items()) / result.total_parts
    assert result.cost_per_g == close(by_material)
    assert result.unpriced == ()


@given(benches(), st.sampled_from(KEYS))
def test_missing_price_takes_out_exactly_its_part_and_names_it(bench, key):
    version, shelf = bench
    whole = compose(version, shelf)
    partly = compose(version, replace(shelf, prices={k: p for k, p in PRICES.items() if k != key}))
    if key not in whole.expanded:
        assert (partly.cost_per_g, partly.unpriced) == (whole.cost_per_g, ())
        return
    assert partly.unpriced == (key,)
    known = whole.cost_per_g - PRICES[key] * whole.expanded[key] / whole.total_parts
    assert (partly.cost_per_g or 0.0) == pytest.approx(known, rel=1e-9, abs=1e-12)
    assert [f.code for f in partly.findings if f.code == "price-unknown"] == ["price-unknown"]


@given(benches(), st.sampled_from([0.001, 0.5, 3.0, 1000.0]))
def test_scale_changes_parts_and_nothing_else(bench, factor):
    version, shelf = bench
    one = compose(version, shelf, amount_g=5.0)
    lines = [replace(line, parts=line.parts * factor) for line in version.lines]
    many = compose(replace(version, lines=lines), shelf, amount_g=5.0)
    assert [row.share for row in many.rows] == close([row.share for row in one.rows])
    assert [row.grams for row in many.rows] == close([row.grams for row in one.rows])
    assert many.cost_per_g == close(one.cost_per_g)
    assert many.neat_share == close(one.neat_share)
    assert many.total_parts == close(one.total_parts * factor)
    assert many.expanded == close({key: parts * factor for key, parts in one.expanded.items()})


@given(benches(), st.randoms(use_true_random=False))
def test_order_of_lines_does_not_matter(bench, random):
    version, shelf = bench
    shuffled = list(version.lines)
    random.shuffle(shuffled)
    one, other = compose(version, shelf), compose(replace(version, lines=shuffled), shelf)
    assert (other.expanded, other.carriers) == (close(one.expanded), close(one.carriers))
    assert (other.cost_per_g, other.neat_parts) == (close(one.cost_per_g), close(one.neat_parts))
    assert other.total_parts == one.total_parts


@given(benches(), st.floats(0.01, 1.0))
def test_wanted_odorant_strength_is_reached(bench, wanted):
    result = compose(*bench)
    share = wanted * result.neat_share
    if 0 < share <= 1:
        assert result.odorant_share(result.strength_for_odorant(share)) == close(share)


@given(benches(), st.integers(1, 1000))
def test_fill_up_line_makes_the_total(bench, room):
    version, shelf = bench
    others = math.fsum(line.parts for line in version.lines)
    filled = replace(version, lines=(*version.lines, Line(material=1, fill_up=True)), total=others + room)
    result = compose(filled, shelf)
    assert result.total_parts == close(others + room)
    assert result.rows[-1].line.parts == pytest.approx(room, rel=1e-6)

# SPDX-License-Identifier: MIT
"""Dilution and alligation by mass against printed worked examples: a mixture is a formula, its strength the neat share.

Each row of data/mixing.csv names its source: worked examples of pharmaceutical calculation (the attribution of some to
a textbook is from memory and said so there), an Army training text, question pages; rows saying COMPUTED have no
printed value. Examples by volume are taken as masses, as they assume no contraction.
"""

import csv
from pathlib import Path

import pytest

from perfumery.compose import compose
from perfumery.shelf import Shelf
from perfumery.values import Line, Material, Version

with (Path(__file__).parent / "data" / "mixing.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

ACTIVE, BASE = 1, 2
MATERIALS = {ACTIVE: Material(name="active", key=ACTIVE), BASE: Material(name="base", is_carrier=True, key=BASE)}


def stock(mass, percent):
    """So much of a mixture of the active and the base; 0 % is the base alone."""
    if percent == 0:
        return Line(parts=mass, material=BASE)
    if percent == 100:
        return Line(parts=mass, material=ACTIVE)
    return Line(parts=mass, material=ACTIVE, strength=percent / 100, carrier=BASE)


def mixed(*lines, accords=(), amount_g=None):
    shelf = Shelf(materials=MATERIALS, accords={accord.key: accord for accord in accords})
    return compose(Version(project=1, code="mixture", lines=lines), shelf, amount_g=amount_g)


def close(value):
    return pytest.approx(value, rel=1e-12)


def figure(row):
    return float(ROWS[row]["published_value"] or ROWS[row]["recomputed_value"])


def figures(row, column, apart):
    return [float(text.split()[0]) for text in ROWS[row][column].split(apart)]


@pytest.mark.parametrize(
    "row, lines",
    [
        ("M01", [(3000, 40), (1000, 60), (1000, 70)]),
        ("M02", [(200, 10), (50, 20), (100, 5)]),
        ("M14", [(1, 100), (99, 0)]),
    ],
)
def test_strength_of_a_mixture(row, lines):
    assert mixed(*(stock(*line) for line in lines)).neat_share * 100 == close(figure(row))


@pytest.mark.parametrize("row, stronger, weaker, wanted", [("M03", 95, 50, 70), ("M04", 70, 20, 30), ("M06", 90, 10, 50)])
def test_printed_proportions_give_the_wanted_strength(row, stronger, weaker, wanted):
    assert ROWS[row]["inputs"] == f"{stronger} % and {weaker} % -> {wanted} %"
    parts = figures(row, "published_value", ":")
    result = mixed(stock(parts[0], stronger), stock(parts[1], weaker))
    assert result.neat_share * 100 == close(wanted)


def test_stronger_stock_and_base_to_180_g():
    strong, base = figures("M09", "published_value", "+")
    result = mixed(stock(strong, 30), stock(base, 0))
    assert result.total_parts == 180
    assert result.neat_share == close(0.05)


def test_active_in_240_g_of_4_percent():
    result = mixed(stock(4, 100), stock(96, 0), amount_g=240)
    assert result.rows[0].grams == close(figure("M10"))


def test_diluted_with_the_printed_amount():
    """300 ml of 70 % with the printed 225 ml of water is at the wanted 40 %; 5 g of 5 % made up to 10 g is at 2.5 %."""
    assert mixed(stock(300, 70), stock(figure("M11"), 0)).neat_share == close(0.40)
    made_up_to = float(ROWS["M12"]["published_value"].split()[0])
    assert mixed(stock(5, 5), stock(made_up_to - 5, 0)).neat_share == close(0.025)


def test_aliquot():
    """120 mg made up to 1200 mg, of which 120 mg are taken: 12 mg."""
    triturate = Version(project=1, code="triturate", lines=(stock(120, 100), stock(1080, 0)), key=10)
    result = mixed(Line(parts=120, accord=10), accords=[triturate])
    assert result.expanded == close({ACTIVE: figure("M21"), BASE: 108.0})


def test_serial_dilution_of_three_steps():
    first = Version(project=1, code="first", lines=(stock(10, 100), stock(90, 0)), key=10)
    second = Version(project=1, code="second", lines=(Line(parts=10, accord=10), stock(90, 0)), key=11)
    result = mixed(Line(parts=10, accord=11), stock(90, 0), accords=[first, second])
    assert result.neat_share * 100 == close(figure("M30"))
    assert result.neat_parts + result.carriers[BASE] == close(100)


def test_dilution_of_a_dilution():
    first = Version(project=1, code="first", lines=(stock(0.5, 100), stock(4.5, 0)), key=10)
    result = mixed(Line(parts=0.25, accord=10), stock(9.75, 0), accords=[first])
    assert result.neat_share * 100 == close(figure("M31"))


def test_pure_equivalent_of_a_diluted_line():
    neat, carrier = figures("M32", "recomputed_value", "+")
    result = mixed(stock(2.4, 10))
    assert (result.neat_parts, result.carriers[BASE]) == (close(neat), close(carrier))


def test_mass_of_a_dilution_that_supplies_a_pure_mass():
    assert mixed(stock(figure("M33"), 10)).neat_parts == close(0.035)


def test_stock_exchanged_for_a_stronger_one():
    stronger, carrier = (float(text.split()[0]) for text in ROWS["M34"]["recomputed_value"].split("+"))
    before, after = mixed(stock(5.0, 1)), mixed(stock(stronger, 10), stock(carrier, 0))
    assert after.expanded == close(before.expanded)
    assert after.total_parts == close(before.total_parts)

# SPDX-License-Identifier: MIT
"""Which bottle is offered first, what a gram of it costs, and which accords a version reaches."""

import pytest

from perfumery.shelf import Shelf, mixed_price, neat_prices, offered_first, reached
from perfumery.values import Bottle, Line, Material, Version

AMBROXIDE, ETHANOL, LEMON = 1, 2, 3


def bought(code, material, price, **fields):
    return Bottle(code=code, material=material, price_per_g=price, **fields)


def version(key, *accords, code=None):
    lines = tuple(Line(parts=1.0, accord=accord) for accord in accords)
    return Version(project=1, code=code or f"A-{key}", lines=lines, key=key)


def test_diluted_gram_costs_its_share_of_both():
    """1.10 per g at 10 % in ethanol at 0.012 per g: 0.1 × 1.10 + 0.9 × 0.012."""
    prices = {AMBROXIDE: 1.10, ETHANOL: 0.012}
    assert mixed_price(prices, AMBROXIDE, 0.1, ETHANOL) == pytest.approx(0.1208, abs=1e-15)
    shelf = Shelf(prices=prices)
    assert shelf.price_per_g(Line(material=AMBROXIDE, strength=0.1, carrier=ETHANOL)) == pytest.approx(0.1208, abs=1e-15)
    assert shelf.price_per_g(Line(material=AMBROXIDE)) == 1.10


@pytest.mark.parametrize(
    "prices, material, strength, carrier",
    [
        ({}, AMBROXIDE, 1.0, None),
        ({ETHANOL: 0.012}, AMBROXIDE, 0.1, ETHANOL),
        ({AMBROXIDE: 1.1}, AMBROXIDE, 0.1, ETHANOL),
        ({AMBROXIDE: 1.1}, AMBROXIDE, 0.1, None),
        ({AMBROXIDE: 1.1}, None, 1.0, None),
    ],
)
def test_price_that_needs_an_unknown_one_is_unknown(prices, material, strength, carrier):
    assert mixed_price(prices, material, strength, carrier) is None


def test_carrier_mark_is_the_material_s_unless_the_line_says_otherwise():
    shelf = Shelf(materials={ETHANOL: Material(name="Ethanol", is_carrier=True), LEMON: Material(name="Lemon oil")})
    assert shelf.is_carrier(Line(material=ETHANOL))
    assert not shelf.is_carrier(Line(material=LEMON))
    assert not shelf.is_carrier(Line(material=ETHANOL, as_carrier=False))
    assert shelf.is_carrier(Line(material=LEMON, as_carrier=True))
    assert not shelf.is_carrier(Line(accord=9))


def test_opened_first_is_offered_first_and_gone_last():
    older = Bottle(code="M01-1", opened_on="2024-11-20", key=7)
    newer = Bottle(code="M01-2", opened_on="2025-03-01", key=3)
    unopened = Bottle(code="M01-3", received_on="2024-01-01", key=2)
    later = Bottle(code="M01-4", received_on="2025-01-01", key=1)
    undated = Bottle(code="M01-5", key=5)
    gone = Bottle(code="M01-0", opened_on="2023-01-01", gone_on="2024-12-01", key=6)
    order = offered_first([gone, undated, later, unopened, newer, older])
    assert [b.code for b in order] == ["M01-1", "M01-2", "M01-3", "M01-4", "M01-5", "M01-0"]


def test_price_is_that_of_the_bottle_offered_first_else_the_last_known():
    first = bought("M01-1", LEMON, 0.09, opened_on="2024-11-20")
    second = bought("M01-2", LEMON, 0.11, opened_on="2025-03-01")
    assert neat_prices([second, first]) == {LEMON: 0.09}
    gone = bought("M01-0", LEMON, 0.07, gone_on="2024-11-01", opened_on="2024-01-01")
    assert neat_prices([gone, second]) == {LEMON: 0.11}
    assert neat_prices([gone]) == {LEMON: 0.07}


def test_only_bought_and_priced_bottles_of_one_material_count():
    assert neat_prices([
        Bottle(code="K19", kind="dilution", material=LEMON, price_per_g=0.5),
        Bottle(code="M01-1", material=LEMON),
        Bottle(code="X", price_per_g=3.0),
    ]) == {}  # fmt: skip


def test_bottle_bought_diluted_is_reckoned_back_to_neat():
    """Bought at 1 % for 2.01188 per g in a carrier at 0.012: (2.01188 − 0.99 × 0.012) ÷ 0.01 = 200."""
    diluted = bought("M22-1", AMBROXIDE, 2.01188, strength=0.01, carrier=ETHANOL)
    assert neat_prices([diluted, bought("S01", ETHANOL, 0.012)]) == pytest.approx({AMBROXIDE: 200.0, ETHANOL: 0.012})
    assert neat_prices([diluted]) == {}  # without the carrier's price, not known
    dear = bought("S01", ETHANOL, 3.0)
    assert neat_prices([diluted, dear]) == {ETHANOL: 3.0}  # no price below nothing: not known


def test_diluted_bottle_offered_first_prices_its_material_even_beside_a_neat_one():
    diluted = bought("K1", AMBROXIDE, 0.56, strength=0.5, carrier=ETHANOL, opened_on="2025-01-01")
    neat = bought("K2", AMBROXIDE, 2.0, opened_on="2025-02-01")
    ethanol = bought("S01", ETHANOL, 0.02)
    assert neat_prices([neat, diluted, ethanol])[AMBROXIDE] == pytest.approx(1.10)
    assert neat_prices([neat, diluted])[AMBROXIDE] == 2.0  # cannot be reckoned back: the next bottle counts


def test_reached_gives_each_accord_once_insides_first():
    accords = {1: version(1), 2: version(2, 1), 3: version(3, 1, 2)}
    top = version(9, 3, 1, 2)
    assert [v.key for v in reached(top, accords)] == [1, 2, 3, 9]


def test_unsaved_version_has_no_key_and_is_no_loop():
    assert [v.key for v in reached(version(None, 1), {1: version(1)})] == [1, None]


def test_version_being_edited_stands_for_its_stored_self(refused):
    """The shelf may hold the state before the edit; a loop made by the edit must be seen all the same."""
    accords = {1: version(1), 2: version(2, 1)}
    finding = refused(reached, version(1, 2), accords)
    assert (finding.code, finding.data) == ("accord-loop", {"names": ("A-1", "A-2", "A-1")})


def test_loop_names_only_what_is_on_it(refused):
    accords = {1: version(1, 2), 2: version(2, 3), 3: version(3, 2)}
    assert refused(reached, version(9, 1), accords).data == {"names": ("A-2", "A-3", "A-2")}
    assert refused(reached, version(5, 5), {}).data == {"names": ("A-5", "A-5")}


def test_missing_accord_is_named(refused):
    finding = refused(reached, version(9, 1), {1: version(1, 4)})
    assert (finding.code, finding.data) == ("reference-missing", {"kind": "Version", "key": 4})

# SPDX-License-Identifier: MIT
"""What has to be made before drafts can be weighed."""

import pytest

from perfumery import Bottle, Line, Version
from perfumery.preparing import is_stock, to_prepare

AMBER, MOSS, DPG, ETHANOL = 1, 2, 3, 4
ACCORD = 50


def stock(material, strength, carrier=DPG, parts=100.0):
    return Line(parts, material, strength=strength, carrier=carrier)


def draft(code, *lines, key=None):
    return Version(project=1, code=code, lines=lines, key=key)


def bottle(strength, carrier=DPG, **more):
    return Bottle("K", kind="dilution", **{"material": AMBER, "strength": strength, "carrier": carrier} | more)


def test_a_bottle_is_the_stock_its_label_says():
    assert is_stock(bottle(0.1), AMBER, 0.1, DPG)
    # labels say a strength with two figures
    assert is_stock(bottle(0.1004), AMBER, 0.1, DPG) and not is_stock(bottle(0.105), AMBER, 0.1, DPG)
    assert not is_stock(bottle(0.1), MOSS, 0.1, DPG)
    assert not is_stock(bottle(0.1, ETHANOL), AMBER, 0.1, DPG)
    assert not is_stock(bottle(0.1, gone_on="2025-01-01"), AMBER, 0.1, DPG)


def test_what_drafts_take_together_most_wanted_first():
    one = draft("SR-5", stock(AMBER, 0.1, parts=100), stock(MOSS, 0.01, parts=300), Line(600, ETHANOL))
    two = draft("SR-6", stock(AMBER, 0.1, parts=500), stock(MOSS, 0.2, parts=500))
    first, *rest = to_prepare([(one, 5.0), (two, 10.0)], {}, [])
    assert (first.material, first.strength, first.carrier, first.versions) == (AMBER, 0.1, DPG, ("SR-5", "SR-6"))
    assert first.needed_g == pytest.approx(0.5 + 5.0)
    assert [(p.material, p.strength, p.versions) for p in rest] == [(MOSS, 0.2, ("SR-6",)), (MOSS, 0.01, ("SR-5",))]
    assert [p.needed_g for p in rest] == pytest.approx([5.0, 1.5])


def test_what_stands_on_the_shelf_needs_no_making():
    wanted = draft("SR-5", stock(AMBER, 0.1), Line(100, AMBER))
    assert to_prepare([(wanted, 5.0)], {}, [bottle(0.1)]) == ()
    assert [p.needed_g for p in to_prepare([(wanted, 5.0)], {}, [bottle(0.1, gone_on="2025-01-01")])] == [2.5]


def test_the_same_stock_in_two_lines_is_made_once():
    (only,) = to_prepare([(draft("SR-5", stock(AMBER, 0.1), stock(AMBER, 0.1), Line(200, MOSS)), 4.0)], {}, [])
    assert (only.versions, only.needed_g) == (("SR-5",), pytest.approx(2.0))


def test_an_accord_is_opened_unless_a_bottle_holds_it():
    accord = draft("A-1", stock(AMBER, 0.1, parts=30), Line(70, MOSS), key=ACCORD)
    holds = draft("SR-5", Line(40, accord=ACCORD), Line(60, MOSS))
    (asked,) = to_prepare([(holds, 10.0)], {ACCORD: accord}, [])
    assert (asked.versions, asked.needed_g) == (("SR-5",), pytest.approx(10 * 0.4 * 0.3))
    standing = Bottle("A", kind="accord", version=ACCORD)
    assert to_prepare([(holds, 10.0)], {ACCORD: accord}, [standing]) == ()
    # an accord bottle that is gone holds nothing
    assert to_prepare([(holds, 10.0)], {ACCORD: accord}, [Bottle("A", kind="accord", version=ACCORD, gone_on="2025-01-01")])
    assert to_prepare([(holds, 10.0)], {}, []) == ()


def test_a_fill_up_line_counts_with_what_it_fills():
    filled = Version(project=1, code="SR-7", total=1000, lines=(Line(0, AMBER, strength=0.1, carrier=DPG, fill_up=True),
                                                                Line(600, MOSS)))  # fmt: skip
    (asked,) = to_prepare([(filled, 5.0)], {}, [])
    assert asked.needed_g == pytest.approx(2.0)


def test_a_draft_without_parts_asks_for_nothing_of_it():
    assert [p.needed_g for p in to_prepare([(draft("SR-8", stock(AMBER, 0.1, parts=0.0)), 5.0)], {}, [])] == [0.0]

# SPDX-License-Identifier: MIT
"""The order of a weighing: every line once, each with its reason."""

from hypothesis import given
from hypothesis import strategies as st

from perfumery import Bottle, Line, Material, Property
from perfumery.order import ACCORD, BOAT, BULK, THICK, TRACE, VOLATILE, Place, suggested_order, tools

POWDER, RESIN, LEMON, CEDAR, ETHANOL = 1, 2, 3, 4, 5
MATERIALS = {
    POWDER: Material("Vanillin", form="crystals"),
    RESIN: Material("Labdanum absolute", form="absolute"),
    LEMON: Material("Lemon oil", form="essential oil", properties=(Property("vapour_pressure_25c_pa", value=200.0),)),
    CEDAR: Material("Cedarwood oil", form="essential oil"),
    ETHANOL: Material("Ethanol", is_carrier=True),
}


def test_powders_first_what_flies_off_last():
    lines = (
        Line(100, LEMON, key=10), Line(300, CEDAR, key=11), Line(5, POWDER, strength=0.01, carrier=ETHANOL, key=12),
        Line(20, accord=77, key=13), Line(8, RESIN, key=14), Line(3, POWDER, key=15), Line(50, CEDAR, key=16),
        Line(9, RESIN, strength=0.2, carrier=ETHANOL, key=17),
    )  # fmt: skip
    assert suggested_order(lines, MATERIALS) == (
        Place(15, BOAT), Place(17, THICK), Place(14, THICK), Place(13, ACCORD), Place(12, TRACE), Place(11, BULK),
        Place(16, BULK), Place(10, VOLATILE),
    )  # fmt: skip


def test_a_top_note_without_data_goes_last_too():
    citrus = {1: Material("Bergamot oil", properties=(Property("note class", text="top"),)), 2: Material("Cedarwood oil")}
    assert [place.line for place in suggested_order((Line(5, 1, key=1), Line(9, 2, key=2)), citrus)] == [2, 1]


def test_pipettes_and_boats():
    """One pipette a bottle that has no dropper, a boat for each powder."""
    lines = (Line(3, POWDER, key=1), Line(9, CEDAR, key=2), Line(8, LEMON, key=3))
    bottles = (Bottle("V1", key=1), Bottle("C1", key=2), Bottle("L1", dropper_on="2025-01-10", key=3), None)
    assert tools(lines, bottles, MATERIALS) == (1, 1)
    assert tools((), (), MATERIALS) == (0, 0)


@given(st.lists(st.tuples(st.sampled_from([POWDER, RESIN, LEMON, CEDAR]), st.floats(0, 100)), max_size=12))
def test_every_line_stands_once(drawn):
    lines = [Line(parts, material, key=at + 1) for at, (material, parts) in enumerate(drawn)]
    assert sorted(place.line for place in suggested_order(lines, MATERIALS)) == [line.key for line in lines]

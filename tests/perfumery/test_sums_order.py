# SPDX-License-Identifier: MIT
"""The order of a weighing: every line once, each with its reason."""

import csv
import json
import math
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

import resources
from perfumery import Bottle, Line, Material, Property
from perfumery.order import (
    ACCORD,
    BOAT,
    BULK,
    THICK,
    TRACE,
    VOLATILE,
    VOLATILE_PA,
    Place,
    reason_of,
    suggested_order,
    tools,
    volatility,
)

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
    bottles = (Bottle("V1", key=1), Bottle("C1", key=2), Bottle("L1", dropper_on="2025-01-10", key=3))
    assert tools(lines, bottles, MATERIALS) == (1, 1)
    assert tools((), (), MATERIALS) == (0, 0)
    # two lines of one bottle share a pipette; a powder is never pipetted, wherever it comes from or whether that is known
    twice = (Line(3, POWDER, key=1), Line(9, CEDAR, key=2), Line(8, CEDAR, key=3), Line(2, POWDER, key=4), Line(1, LEMON, key=5))
    assert tools(twice, (None, bottles[1], bottles[1], bottles[0], None), MATERIALS) == (1, 2)


def demo_lines():
    """The third version of the demo as lines, the bottle each was weighed from, and the materials by key."""
    data = json.loads(resources.read_text("demo.json"))
    keys = {material["id"]: at + 1 for at, material in enumerate(data["materials"])}
    materials = {keys[m["id"]]: Material(m["name"], form=m["form"]) for m in data["materials"]}
    stocks = {stock["id"]: stock for stock in data["stocks"]}
    droppers = {b["code"]: b.get("dropper_since") for b in data["bottles"] if b.get("dropper")}
    poured = next(trial for trial in data["trials"] if trial["trial"] == "T-024")["lines"]
    lines, bottles = [], []
    for at, (name, parts) in enumerate(data["formulas"]["SR-3"]["parts"].items()):
        stock = stocks.get(name)
        if name in data["accords"]:
            line = Line(parts, accord=99, key=at + 1)
        elif stock:
            strength, carrier = stock["strength_w_w"], keys[stock["solvent"]]
            line = Line(parts, keys[stock["material"]], strength=strength, carrier=carrier, key=at + 1)
        else:
            line = Line(parts, keys[name], key=at + 1)
        code = next(own["bottle"] for own in poured if own["line"] == name)
        lines.append(line)
        bottles.append(Bottle(code, dropper_on="2025-01-01" if code in droppers else None, key=at + 1))
    return lines, bottles, materials


def test_tools_of_the_demo():
    """20 lines from bottles of which 9 have a dropper: 11 pipettes; crystals stand in dilutions, so no boat."""
    lines, bottles, materials = demo_lines()
    assert len(lines) == 20 and sum(bottle.dropper_on is not None for bottle in bottles) == 9
    assert tools(lines, bottles, materials) == (11, 0)


def test_order_of_the_demo():
    """The thick hexamethylindanopyran, labdanum and vetiver first, the slate accord, the trace, all of citrus last."""
    lines, _, materials = demo_lines()
    names = list(json.loads(resources.read_text("demo.json"))["formulas"]["SR-3"]["parts"])
    order = suggested_order(lines, materials)
    assert [names[place.line - 1] for place in order][:5] == ["K14", "K18", "M17", "A-WS", "K24"]
    assert [names[place.line - 1] for place in order][-4:] == ["M03", "M02", "M01", "M04"]
    reasons = [place.reason for place in order]
    assert reasons == [THICK] * 3 + [ACCORD, TRACE] + [BULK] * 11 + [VOLATILE] * 4


@pytest.mark.parametrize(
    "form, reason",
    [
        ("crystals", BOAT), ("Crystalline powder", BOAT), ("waxy solid, off-white", BOAT),
        ("essential oil (steam); may deposit crystals", BULK), ("absolute; semi-solid", THICK), ("Semi-solid", THICK),
        ("absolute; dark green paste", THICK), ("very viscous liquid", THICK), ("essential oil (expressed)", VOLATILE),
        ("liquid", BULK),
    ],
)  # fmt: skip
def test_what_a_form_says(form, reason):
    assert reason_of(Line(5, 1, key=1), {1: Material("Of that form", form=form)}) == reason


def test_volatility_by_data_before_word():
    """Measured, then by the boiling point, then by form and note; what nobody knows stands between base and top."""
    def of(*properties, **fields):
        return volatility(Material(fields.pop("name", "X"), properties=properties, **fields))

    note, boils = Property("note class", text="top"), Property("boiling_point_c", value=176.0)
    empty = Property("vapour_pressure_pa", text="not known")
    assert of(note, boils, Property("vapour_pressure_pa", value=3.5)) == 3.5
    assert 60 < of(empty, note, boils) < 400
    assert of(note) == 53 and of(note, name="Lemon peel oil") == 200 and of(Property("note class", text="Middle")) == 3
    assert of(Property("note class", text="base")) < of() < of(note)
    # impossible figures put nothing out of order
    assert of(Property("boiling_point_c", value=-400.0)) > of(Property("boiling_point_c", value=1e300)) >= 0
    assert of(Property("boiling_point_c", value=math.inf)) == of()


def test_what_a_boiling_point_lets_expect():
    """Against the starting materials that have both figures: half within 2 ×, nine in ten within 5 ×, and the volatile."""
    rows = [row for row in csv.DictReader(StringIO(resources.read_text("materials.csv"))) if row["bp_C"]]
    rows = [row for row in rows if row["vapour_pressure_25C_Pa"]]
    known = [float(row["vapour_pressure_25C_Pa"]) for row in rows]
    found = [volatility(Material("X", properties=(Property("boiling_point_c", value=float(row["bp_C"])),))) for row in rows]
    off = sorted(max(f / k, k / f) for f, k in zip(found, known, strict=True))
    assert len(off) > 100 and off[len(off) // 2] < 2 and off[int(0.9 * len(off))] < 5
    agree = sum((f >= VOLATILE_PA) == (k >= VOLATILE_PA) for f, k in zip(found, known, strict=True))
    assert agree / len(off) > 0.9


def test_the_unknown_stands_in_the_middle_of_the_bulk():
    known = [Material(f"at {pa}", properties=(Property("vapour_pressure_pa", value=pa),)) for pa in (0.1, 15.0, 1.0)]
    materials = dict(enumerate([*known, Material("unknown")]))
    lines = [Line(5, at, key=at) for at in materials]
    assert [place.line for place in suggested_order(lines, materials)] == [0, 2, 3, 1]


@given(st.lists(st.tuples(st.sampled_from([POWDER, RESIN, LEMON, CEDAR]), st.floats(0, 100)), max_size=12))
def test_every_line_stands_once(drawn):
    lines = [Line(parts, material, key=at + 1) for at, (material, parts) in enumerate(drawn)]
    places = suggested_order(lines, MATERIALS)
    assert sorted(place.line for place in places) == [line.key for line in lines]
    assert suggested_order(lines, MATERIALS) == places
    # each with its own reason, and equal lines as they are written
    own = {line.key: line for line in lines}
    assert [place.reason for place in places] == [reason_of(own[place.line], MATERIALS) for place in places]
    again = suggested_order([own[place.line] for place in places], MATERIALS)
    assert again == places

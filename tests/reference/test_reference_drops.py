# SPDX-License-Identifier: MIT
"""Drops of water against the standard dropper of the European Pharmacopoeia, 2.1.1 (as in the Czech Pharmacopoeia of 1997,
lekopis.cz): 20 drops of water at 20 °C are 1000 mg ± 50 mg."""

import csv
from pathlib import Path

import pytest

from perfumery.drops import STANDARD_PER_ML, drops_mass

with (Path(__file__).parent / "data" / "drops.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}

# g/ml of water at 20 °C (0.998207 in weighing.csv of the same collection)
WATER = 0.9982


@pytest.mark.parametrize("row, drops", [("V01", 20), ("V02", 1)])
def test_drops_of_water_from_the_standard_dropper(row, drops):
    assert ROWS[row]["unit"] == "mg"
    found = drops_mass(drops, STANDARD_PER_ML, WATER) * 1000
    assert found == pytest.approx(float(ROWS[row]["published_value"]), abs=float(ROWS[row]["suggested_tolerance"]))

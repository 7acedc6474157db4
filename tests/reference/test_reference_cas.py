# SPDX-License-Identifier: MIT
"""CAS numbers against printed worked examples, and all starting materials against the check digit and their formulas.

Published: the check digit page of CAS itself (107-07-3), an explanation by CAS client services (71-23-8) and the sum
for water that several pages print; data/cas_numbers.csv says where each was read. Molar masses: the `molmass` library,
which holds the IUPAC atomic weights.
"""

import csv
from pathlib import Path

import molmass
import pytest

from perfumery import cas

ROOT = Path(__file__).parents[2]


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


EXAMPLES = rows(Path(__file__).parent / "data" / "cas_numbers.csv")
MATERIALS = rows(ROOT / "resources" / "materials.csv")


@pytest.mark.parametrize("row", EXAMPLES, ids=lambda row: row["id"])
def test_published_example(row):
    body, _, digit = row["cas"].rpartition("-")
    assert cas.check_digit(body) == int(digit)
    assert cas.findings(row["cas"]) == ()
    assert [d for d in range(10) if not cas.findings(f"{body}-{d}")] == [int(digit)]


def test_every_starting_material_has_a_cas_number_of_its_own_that_passes():
    assert len(MATERIALS) == 182
    assert [(row["name"], row["cas"]) for row in MATERIALS if cas.findings(row["cas"])] == []
    assert len({row["cas"] for row in MATERIALS}) == 182


def test_every_molar_mass_is_that_of_its_formula():
    """0.01 g/mol: two decimals, and the abridged weights of C and H the list was made with; one H too many is 1.008."""
    with_formula = [row for row in MATERIALS if row["formula"]]
    assert len(with_formula) == 150
    assert [
        (row["name"], row["formula"], row["molar_mass_g_mol"])
        for row in with_formula
        if abs(float(row["molar_mass_g_mol"]) - molmass.Formula(row["formula"]).mass) > 0.01
    ] == []


def test_only_naturals_are_without_a_formula():
    assert {row["kind"] for row in MATERIALS if not row["formula"]} == {"natural"}

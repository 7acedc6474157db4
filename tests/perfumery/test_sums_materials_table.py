# SPDX-License-Identifier: MIT
"""Materials as rows of a table: headings understood, rows that cannot be read told, and everything reads back as it was."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Material, Property
from perfumery.materials_table import FIELDS, TITLES, guessed, is_data, read_rows, rows_of

LEMON = Material("Lemon oil", "8008-56-8", "essential oil", synonyms=("citron",), key=3)


def texts(materials: list[Material]) -> list[list[str]]:
    return [["" if cell is None else str(cell) for cell in row] for row in rows_of(materials)]


def test_headings_are_known_by_their_usual_names() -> None:
    assert guessed(("Raw Material", "CAS-Nr.", "Odour", "price", "Solvent")) == ("name", "cas", "words", "", "is_carrier")
    assert guessed(("name", "material")) == ("name", ""), "the first column that fits"
    assert guessed(TITLES) == FIELDS


def test_a_row_becomes_a_material() -> None:
    (row,) = read_rows([["Vetiver oil", " 8016\u201196\u20114 ", "woody, damp; earth", "18", "x"]],
                       ("name", "cas", "words", "retest_months", "is_carrier"))  # fmt: skip
    assert row.is_new and row.material == Material("Vetiver oil", "8016-96-4", is_carrier=True, words=("woody, damp", "earth"),
                                                   retest_months=18)  # fmt: skip
    (row,) = read_rows([["Cedar", "pine, dry"]], ("name", "words"))
    assert row.material is not None and row.material.words == ("pine", "dry")


def test_data_are_told_from_another_column_of_that_name() -> None:
    assert is_data("boiling_point_c=176{CRC; measured} | flash_point_c=43") and not is_data("see the sheet")


@pytest.mark.parametrize(
    ("cells", "columns", "codes"),
    [
        (["", "1"], ("name", "retest_months"), ["name-empty"]),
        (["Lemon", "4707-47-0"], ("name", "cas"), ["cas-check-digit"]),
        (["Lemon", "maybe"], ("name", "is_carrier"), ["kind-unknown"]),
        (["Lemon", "a year", "1.5"], ("name", "retest_months", "storage"), ["number-unreadable"]),
        (["Lemon", "1.5"], ("name", "retest_months"), ["number-unreadable"]),
        (["Lemon", "5000"], ("name", "retest_months"), ["habit-range"]),
        (["Lemon", "soon"], ("name", "retired_on"), ["day-unreadable"]),
        (["Lemon", "no", "x"], ("name", "is_carrier", "retired_on"), ["day-unreadable"]),
        (["Lemon", "176 degrees"], ("name", "properties"), ["data-unreadable"]),
        (["Lemon", "flash_point_c=hot"], ("name", "properties"), ["number-unreadable"]),
    ],
)
def test_a_row_that_cannot_be_read_stays_with_its_reason(cells: list[str], columns: tuple[str, ...], codes: list[str]) -> None:
    (row,) = read_rows([cells], columns)
    assert row.material is None and not row.is_new
    assert [finding.code for finding in row.findings] == codes
    assert row.cells == tuple(cells)


def test_a_known_material_only_gains_what_it_lacks() -> None:
    rows = read_rows(
        [["LEMON OIL", "1-2", "peel", "yes"], ["Zitrone", "8008-56-8", "peel", ""], ["Lemon oil", "8008-56-8", "", ""]],
        ("name", "storage", "words", "is_carrier"), [LEMON],
    )  # fmt: skip
    assert rows[0].standing == LEMON
    assert rows[0].material == replace(LEMON, storage="1-2", words=("peel",)), "neither its name nor its marks"
    assert rows[1].standing is None
    assert rows[2].is_twice
    linalool = Material("Linalool", cas="78-70-6", key=4)
    (by_cas,) = read_rows([["Linalol", "78-70-6"]], ("name", "cas"), [LEMON, linalool])
    assert by_cas.standing == linalool and by_cas.beside is None
    assert by_cas.material == replace(linalool, synonyms=("Linalol",)) and by_cas.synonym == "Linalol"


def test_every_further_name_of_a_known_substance_becomes_a_synonym_once() -> None:
    linalool = Material("Linalool", cas="78-70-6", inci="LINALOOL", synonyms=("licareol",), key=4)
    rows = read_rows(
        [["Linalol", "78-70-6", ""], ["LICAREOL", "78-70-6", "floral"], ["linalol", "78-70-6", "woody"],
         ["Coriandrol", "78-70-6", "sweet"]],
        ("name", "cas", "words"), [linalool],
    )  # fmt: skip
    assert [row.synonym for row in rows] == ["Linalol", "", "", "Coriandrol"] and rows[2].is_twice
    assert rows[3].material == replace(linalool, synonyms=("licareol", "Linalol", "Coriandrol"), words=("floral",))
    (new,) = read_rows([["Citral", "5392-40-5"]], ("name", "cas"), [linalool])
    assert new.synonym == "" and new.name == "Citral"
    (twice,) = read_rows([["Linalol", "78-70-7"]], ("name", "cas"), [linalool])
    assert twice.synonym == "" and twice.name == "Linalol" and twice.material is None, "the row still says whom it is about"


def test_another_name_of_a_natural_with_its_number_may_be_another_quality() -> None:
    other, same = read_rows([["Zitrone, Sizilien", "8008-56-8"], ["Citron", ""]], ("name", "cas"), [LEMON])
    assert other.is_new and other.beside == LEMON
    assert same.standing == LEMON, "a synonym is a name"


def test_two_rows_of_one_name_are_told() -> None:
    rows = read_rows([["Cedar"], ["cedar"]], ("name",))
    assert [row.is_new for row in rows] == [True, False]
    assert rows[1].is_twice


TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp")), max_size=8)
WORD = TEXT.filter(bool)
DATA = st.builds(
    Property, kind=WORD, value=st.none() | st.floats(-1e9, 1e9), text=st.just(""), source=TEXT, basis=TEXT
) | st.builds(Property, kind=WORD, value=st.none(), text=WORD, source=TEXT, basis=TEXT)
MATERIAL = st.builds(
    Material, name=WORD, cas=st.sampled_from(["", "78-70-6"]), form=WORD, is_carrier=st.booleans(), bench_name=TEXT, inci=TEXT,
    botanical=TEXT, synonyms=st.lists(WORD, max_size=3, unique=True).map(tuple),
    words=st.lists(WORD, max_size=3, unique=True).map(tuple), properties=st.lists(DATA, max_size=3).map(tuple),
    retest_months=st.none() | st.integers(1, 60), storage=TEXT, retired_on=st.none() | st.dates(date(2000, 1, 1)),
)  # fmt: skip


@given(MATERIAL)
def test_what_is_written_reads_back_the_same(material: Material) -> None:
    (row,) = read_rows(texts([material]), FIELDS)
    assert row.material == material, row.findings

# SPDX-License-Identifier: MIT
"""Search must find what a perfumer types, and a line typed into one cell must always be taken apart the same way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.entry import Entry, default_strength, parse_dilution, parse_entry, sought_name, with_in
from perfumery.findings import CODES, Finding, Refused, refuse
from perfumery.text import fold, haystack, matches
from perfumery.values import Material

VETIVER = Material(
    name="Vétiver oil",
    bench_name="Vetiver",
    cas="8016-96-4",
    form="essential oil",
    synonyms=("Khus",),
    words=("damp soil",),
)


@pytest.mark.parametrize(
    "text, folded",
    [
        ("Vétiver", "vetiver"),
        ("  Ylang   Ylang ", "ylang ylang"),
        ("STRASSE", "strasse"),
        ("Straße", "strasse"),
        ("β-Ionone", "β-ionone"),
        ("ﬁr", "fir"),
    ],
)
def test_fold(text, folded):
    assert fold(text) == folded


@given(st.text())
def test_folding_twice_is_folding_once_in_ascii(text):
    once = fold(text.encode("ascii", "ignore").decode())
    assert fold(once) == once


def test_haystack_holds_every_searched_field_on_its_own_line():
    hay = haystack(VETIVER, families=("Woody",))
    assert hay.split("\n") == ["vetiver", "vetiver oil", "8016-96-4", "essential oil", "khus", "damp soil", "woody"]


@pytest.mark.parametrize(
    "typed, found",
    [
        ("vetiver", True),
        ("tiv", True),
        ("khus oil", True),
        ("8016", True),
        ("woody", True),
        ("rose", False),
        ("", True),
    ],
)
def test_search_finds_inner_parts_and_all_words(typed, found):
    assert matches(haystack(VETIVER, ("woody",)), fold(typed)) is found


def test_search_finds_the_inner_part_of_a_compound_name():
    assert matches(haystack(Material(name="Dihydromyrcenol")), "myrcenol")


@pytest.mark.parametrize(
    "typed, entry",
    [
        ("amb", Entry("amb")),
        ("amb 20", Entry("amb", None, 20.0)),
        ("amb 10 20", Entry("amb", 0.1, 20.0)),
        ("amb 10 % 20", Entry("amb", 0.1, 20.0)),
        ("amb 10% 20", Entry("amb", 0.1, 20.0)),
        ("amb 20 10 %", Entry("amb", 0.1, 20.0)),
        ("amb 10 %", Entry("amb", 0.1, None)),
        ("amb neat", Entry("amb", 1.0, None)),
        ("amb Neat 2,5", Entry("amb", 1.0, 2.5)),
        ("lemon oil 110", Entry("lemon oil", None, 110.0)),
        ("2,6-nonadienal", Entry("2,6-nonadienal")),
        ("2,6-nonadienal 0.1 5", Entry("2,6-nonadienal", 0.001, 5.0)),
        ("10-undecenal 3", Entry("10-undecenal", None, 3.0)),
        ("amb 1 2 3", Entry("amb 1", 0.02, 3.0)),
        ("amb 10 in dpg 20", Entry("amb", 0.1, 20.0, "dpg")),
        ("amb 10 % in dpg", Entry("amb", 0.1, None, "dpg")),
        ("amb 10 IN isopropyl myristate 20", Entry("amb", 0.1, 20.0, "isopropyl myristate")),
        ("amb 10 in 20", Entry("amb", 0.1, None, "20")),
        ("lily in 10", Entry("lily in", None, 10.0)),
        ("20", Entry("20")),
        ("neat", Entry("neat")),
        ("", Entry("")),
    ],
)
def test_typed_line(typed, entry):
    assert parse_entry(typed) == entry


@pytest.mark.parametrize(
    "typed, code",
    [
        ("amb 1.000,5", "number-grouped"),
        ("amb 0 20", "strength-range"),
        ("amb 120 %", "strength-range"),
        ("amb ,", "number-unreadable"),
        ("amb 10 % 20 %", "number-unreadable"),
        ("amb neat 10 %", "number-unreadable"),
    ],
)
def test_typed_line_with_impossible_figures_is_refused(refused, typed, code):
    assert refused(parse_entry, typed).code == code


@pytest.mark.parametrize(
    "typed, dilution",
    [
        ("10 % in DPG", (0.1, "DPG")),
        ("10 dpg", (0.1, "dpg")),
        ("10%dpg", (0.1, "dpg")),
        ("10", (0.1, "")),
        ("0,1 %", (0.001, "")),
        ("10 % w/w in  isopropyl  myristate", (0.1, "isopropyl myristate")),
        ("neat", (1.0, "")),
        ("in DPG", (None, "DPG")),
    ],
)
def test_strength_cell_may_name_its_carrier(typed, dilution):
    assert parse_dilution(typed) == dilution


@pytest.mark.parametrize(
    "typed, code",
    [
        ("", "number-empty"),
        ("DPG", "number-unreadable"),
        ("inulin", "number-unreadable"),
        ("250 % in DPG", "strength-range"),
        ("0 in DPG", "strength-range"),
    ],
)
def test_strength_cell_that_cannot_be_is_refused(refused, typed, code):
    assert refused(parse_dilution, typed).code == code


def test_strength_offered():
    crystals = Material(name="Ambroxide", form="crystals")
    assert default_strength(VETIVER, None) == 1.0
    assert default_strength(VETIVER, 0.1) == 0.1
    assert default_strength(crystals, None) is None
    assert default_strength(crystals, 0.1) == 0.1


def test_finding_needs_a_listed_code():
    with pytest.raises(ValueError, match="no such finding: typo"):
        Finding("typo")
    assert all(code == code.casefold() and " " not in code for code in CODES)


def test_refusal_carries_code_and_figures():
    error = refuse("strength-range", percent=120.0)
    assert isinstance(error, Refused)
    assert error.findings == (Finding("strength-range", {"percent": 120.0}),)
    assert str(error) == "strength-range {'percent': 120.0}"


@pytest.mark.parametrize(
    "text, read",
    [
        ("vanillin 10 dpg 8", "vanillin 10 in dpg 8"), ("vanillin 10 % dpg 8", "vanillin 10% in dpg 8"),
        ("vanillin 10 dpg", "vanillin 10 in dpg"), ("vanillin 10 in dpg 8", "vanillin 10 in dpg 8"),
        ("vanillin 10 8", "vanillin 10 8"), ("musk 50 tincture 8", "musk 50 tincture 8"), ("", ""), ("10 dpg 8", "10 dpg 8"),
    ],
)  # fmt: skip
def test_the_in_that_a_hand_leaves_out(text, read):
    assert with_in(text, lambda name: name == "dpg") == read


@pytest.mark.parametrize("text, name", [("cardamom -3", "cardamom"), ("musk 50 1,000.5", "musk"), ("rose", "rose"), ("", "")])
def test_the_name_of_a_line_whose_figures_cannot_be_read(text, name):
    assert sought_name(text) == name


def test_less_than_nothing_is_a_figure_and_no_part_of_a_name():
    assert parse_entry("cardamom -3").parts == -3 and parse_entry("cardamom −3").name == "cardamom"

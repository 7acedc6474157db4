# SPDX-License-Identifier: MIT
"""Pasted formulas: whatever the spreadsheet, each row is read, or stays with the reason why not."""

from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery import Material, Refused
from perfumery.entry import Entry, parse_dilution, parse_entry
from perfumery.matching import Matcher
from perfumery.sheet import Pasted, read_sheet
from perfumery.text import haystack


def lines(text: str) -> list[tuple[str, float | None, str, float | None]]:
    return [(r.name, r.strength, r.carrier, r.parts) for r in read_sheet(text).rows]


def codes(row: Pasted) -> list[str]:
    return [finding.code for finding in row.findings]


@pytest.mark.parametrize(
    "text, row",
    [
        ("Lemon oil 110", ("Lemon oil", None, "", 110.0)),
        ("Ambroxide 10% in ethanol\t20", ("Ambroxide", 0.1, "ethanol", 20.0)),
        ("Ambroxide 10 % in dipropylene glycol 20", ("Ambroxide", 0.1, "dipropylene glycol", 20.0)),
        ("Ambroxide (10 % DPG): 20,5", ("Ambroxide", 0.1, "DPG", 20.5)),
        ("Ambroxide 10 in DPG 20", ("Ambroxide", 0.1, "DPG", 20.0)),
        ("Ambroxide 10 20", ("Ambroxide", 0.1, "", 20.0)),
        ("Ambroxide @ 10 % 20 parts", ("Ambroxide", 0.1, "", 20.0)),
        ("10 % Ambroxide in ethanol 20", ("Ambroxide", 0.1, "ethanol", 20.0)),
        ("110 Lemon oil", ("Lemon oil", None, "", 110.0)),
        ("12.5 g Lemon oil", ("Lemon oil", None, "", 12.5)),
        ("Linalool neat 30", ("Linalool", 1.0, "", 30.0)),
        ("2,6-Nonadienal 0,1 % in TEC 5", ("2,6-Nonadienal", 0.001, "TEC", 5.0)),
        ("10-Undecenal 3", ("10-Undecenal", None, "", 3.0)),
        ('Lemon 5" 110', ('Lemon 5"', None, "", 110.0)),
    ],
)
def test_a_row_of_a_plain_list(text: str, row: object) -> None:
    assert lines(text) == [row]


@pytest.mark.parametrize(
    "text",
    [
        "Lemon oil\t\t110,5\r\nAmbroxide\t10 %\t20\r\n",
        "Lemon oil;;110,5\nAmbroxide;10 %;20",
        '"Lemon oil";"";"110,5"\n"Ambroxide";"10 %";"20"',
        "Lemon oil,,110.5\nAmbroxide,10 %,20",
        '"Lemon oil","","110,5"\n"Ambroxide","10 %","20"',
        "parts\tmaterial\tstrength\n110.5\tLemon oil\t\n20\tAmbroxide\t10",
        "Strength (fraction);Ingredient;Qty\n;Lemon oil;110,5\n0,1;Ambroxide;20",
        "Dilution [%],Raw material,Parts\n,Lemon oil,110.5\n10,Ambroxide,20",
        "\ufeffMaterial;Verdünnung;Teile\nLemon oil;;110,5\nAmbroxide;10%;20",
        "name\tdilution fraction\tamount\nLemon oil\t\t110,5\nAmbroxide\t.1\t20",
    ],
)
def test_any_spreadsheet_gives_the_same_rows(text: str) -> None:
    assert lines(text) == [("Lemon oil", None, "", 110.5), ("Ambroxide", 0.1, "", 20.0)]


def test_a_head_says_the_column_whatever_its_place() -> None:
    sheet = read_sheet("remark;CAS no.;weight (mg);Solvent;what else;ingredient\nfresh;78-70-6;1500;in DPG;x;Linalool\n")
    row = sheet.rows[0]
    assert (sheet.unit, sheet.unused) == ("g", ("what else",))
    assert (row.remark, row.cas, row.parts, row.carrier, row.name) == ("fresh", "78-70-6", 1.5, "DPG", "Linalool")
    assert row.is_readable and row.text == "fresh;78-70-6;1500;in DPG;x;Linalool"


def test_of_several_quantities_parts_go_before_grams_and_percent() -> None:
    sheet = read_sheet("material\t%\tg\tparts\tneat parts\nLemon oil\t11\t0.55\t110\t110\n")
    assert (sheet.rows[0].parts, sheet.unit, sheet.unused) == (110.0, "parts", ("%", "g", "neat parts"))
    assert read_sheet("material\tweight\tpercent\nLemon oil\t0.55\t11").rows[0].parts == 0.55
    assert read_sheet("material\tgrams\nLemon oil\t0.55").unit == "g"


def test_a_title_above_the_heads_stays_to_be_seen() -> None:
    sheet = read_sheet("Slate Rain\t\nmaterial\tparts\nLemon oil\t110")
    assert [(r.name, r.parts, codes(r)) for r in sheet.rows] == [
        ("Slate Rain", None, ["number-empty"]),
        ("Lemon oil", 110.0, []),
    ]


def test_columns_without_heads_are_told_by_their_content() -> None:
    table = "Lemon oil\t8008-56-8\t\t110\t11.00\told lot\nAmbroxide\t6790-58-5\t10 % in ethanol\t20\t2.00\t"
    rows = read_sheet(table).rows
    assert [(r.name, r.cas, r.strength, r.carrier, r.parts, r.remark) for r in rows] == [
        ("Lemon oil", "8008-56-8", None, "", 110.0, "old lot"),
        ("Ambroxide", "6790-58-5", 0.1, "ethanol", 20.0, ""),
    ]
    assert lines("Ambroxide\t10 %\tDPG\t20") == [("Ambroxide", 0.1, "DPG", 20.0)]
    assert lines("Ambroxide\t20\tin DPG\t10 %") == [("Ambroxide", 0.1, "DPG", 20.0)]
    assert lines("Lemon oil\t11 %\nLinalool\t89 %") == [("Lemon oil", None, "", 11.0), ("Linalool", None, "", 89.0)]
    assert read_sheet("Lemon oil\t11 %\nLinalool\t89 %").unit == "%"
    assert read_sheet("20\t10\t10 %").rows[0].findings[0].code == "name-empty"


def test_two_bare_figures_are_strength_and_parts_unless_they_say_the_same_twice() -> None:
    assert lines("Ambroxide\t10\t20\nLinalool\t100\t30") == [
        ("Ambroxide", 0.1, "", 20.0),
        ("Linalool", 1.0, "", 30.0),
    ]
    assert lines("Lemon oil\t10\t1.0\nLinalool\t30\t3.0\nnot\tx\ty")[:2] == [
        ("Lemon oil", None, "", 10.0),
        ("Linalool", None, "", 30.0),
    ]


def test_a_mark_of_nothing_is_no_strength() -> None:
    rows = read_sheet("material\tstrength\tparts\nWet slate\taccord\t125\nLinalool\t\u2014\t5").rows
    assert [(row.strength, row.is_readable) for row in rows] == [(None, True), (None, True)]


def test_a_list_of_percents_gives_shares() -> None:
    sheet = read_sheet("Lemon oil 11 %\nLinalool 3 %")
    assert [(r.name, r.parts) for r in sheet.rows] == [("Lemon oil", 11.0), ("Linalool", 3.0)]
    assert sheet.unit == "%"


@pytest.mark.parametrize(
    "text, readings",
    [
        ("A 1,234", (1.234, 1234.0)),
        ("A 1.234\nB 1 234", (1.234, 1234.0)),
        ("A 1,234\nB 0,375", ()),
        ("A 1,234\nB 1,234.5", ()),
        ("A 1,234\nB 12.5\nC 12,5", (1.234, 1234.0)),
    ],
)
def test_a_figure_readable_two_ways_is_asked_for_unless_the_sheet_settles_it(text: str, readings: tuple[float, ...]) -> None:
    row = read_sheet(text).rows[0]
    assert row.readings == readings
    assert (row.parts is None) is bool(readings)
    assert row.is_readable


def test_the_sheet_settles_a_mark_either_way() -> None:
    assert read_sheet("A 1,234\nB 0,375").rows[0].parts == 1.234
    assert read_sheet("A 1,234\nB 1,234.5").rows[0].parts == 1234.0
    assert read_sheet("A 1,234").rows[0].taken(1234.0) == Pasted("A 1,234", whole="A 1,234", name="A", parts=1234.0)


@pytest.mark.parametrize(
    "text, code",
    [
        ("name\tparts\nRose\tlots", "number-unreadable"),
        ("Rose oil", "number-empty"),
        ("\t20", "name-empty"),
        ("Rose\t0 % in DPG\t20", "strength-range"),
        ("Rose\t-5", "parts-negative"),
        ("Rose 3 drops", "unit-unclear"),
        ("Rose\t1,000.5,5", "number-grouped"),
        ("Total 1000", "row-total"),
        ("Sum:\t1000", "row-total"),
    ],
)
def test_what_cannot_be_read_stays_and_says_why(text: str, code: str) -> None:
    for row in (read_sheet(text).rows[0], read_sheet(f"{text}\nLemon oil\t110").rows[0]):
        assert code in codes(row)
        assert not row.is_readable
        assert row.text in text


def test_a_unit_that_differs_is_not_mixed_in() -> None:
    sheet = read_sheet("Lemon oil 11 g\nLinalool 3 g\nRose 250 mg\nMusk 4 \u2030")
    assert sheet.unit == "g"
    assert [r.parts for r in sheet.rows] == [11.0, 3.0, 0.25, None]
    assert codes(sheet.rows[3]) == ["unit-unclear"]


def test_a_fraction_over_one_is_refused_where_the_head_says_fraction() -> None:
    sheet = read_sheet("name;strength (fraction);parts\nA;10;5\nB;10 %;5")
    assert codes(sheet.rows[0]) == ["strength-range"]
    assert sheet.rows[1].strength == 0.1


def test_a_wrong_cas_number_is_noted_and_forbids_nothing() -> None:
    row = read_sheet("name\tcas\tparts\nLinalool\t78-70-7\t30").rows[0]
    assert codes(row) == ["cas-check-digit"] and row.is_readable


def test_a_row_wider_than_the_heads_is_not_cut_off_in_silence() -> None:
    assert codes(read_sheet("name;parts\nLemon oil;110;5").rows[0]) == ["row-too-wide"]


def test_an_open_quote_swallows_nothing() -> None:
    assert [r.parts for r in read_sheet('"Rose oil\t20\nLinalool\t30').rows] == [20.0, 30.0]


def test_a_field_over_two_lines_is_one_field() -> None:
    row = read_sheet('name\tparts\n"Lemon\noil"\t110').rows[0]
    assert (row.name, row.parts, row.text) == ("Lemon oil", 110.0, '"Lemon\noil"\t110')


def test_a_comma_inside_a_name_is_no_separator() -> None:
    rows = [("2,6-Nonadienal", None, "", 5.0), ("Lemon oil", None, "", 110.0)]
    assert lines("2,6-Nonadienal,5\nLemon oil,110") == rows
    assert lines("2,6-Nonadienal, 5\nLemon oil, 110") == rows
    assert lines("Lemon oil, 110,5") == [("Lemon oil", None, "", 110.5)]
    assert lines("Lemon oil 110,5\nLinalool 30,25")[1] == ("Linalool", None, "", 30.25)


def test_nothing_pasted_is_nothing() -> None:
    assert read_sheet("").rows == () and read_sheet(" \n\t\n;;").rows == ()


@given(st.text(alphabet='Aab 1,.;\t\n"%2in()g-', max_size=60))
def test_no_text_breaks_the_reading_and_no_row_is_lost(text: str) -> None:
    sheet = read_sheet(text)
    shown = "\n".join(row.text for row in sheet.rows)
    for row in sheet.rows:
        assert row.findings or row.parts is not None or len(row.readings) == 2
    assert len(shown) <= len(text)


# strengths and lines typed into a cell --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text, read",
    [
        ("10 % in DPG", (0.1, "DPG")),
        ("10 dpg", (0.1, "dpg")),
        ("0,1% triethyl citrate", (0.001, "triethyl citrate")),
        ("in DPG", (None, "DPG")),
        ("10", (0.1, "")),
        ("neat", (1.0, "")),
        ("10 % w/w in ethanol", (0.1, "ethanol")),
    ],
)
def test_a_strength_cell(text: str, read: object) -> None:
    assert parse_dilution(text) == read


@pytest.mark.parametrize("text", ["", "blah", "in", "0", "120 % in DPG"])
def test_a_strength_cell_that_says_nothing_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        parse_dilution(text)


def test_a_typed_line_may_name_its_carrier() -> None:
    assert parse_entry("amb 10 in dpg 20") == Entry("amb", 0.1, 20.0, "dpg")
    assert parse_entry("amb 10 % in dipropylene glycol") == Entry("amb", 0.1, None, "dipropylene glycol")
    assert parse_entry("orris in oil 20") == Entry("orris in oil", None, 20.0)


# matching -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    key: int
    cas: str
    form: str
    words: tuple[str, ...]
    hay: str
    retired: bool = False
    is_carrier: bool = field(default=False)


def shelf(*materials: Material, families: tuple[str, ...] = (), retired: tuple[int, ...] = ()) -> Matcher[Row]:
    return Matcher(Row(at, m.cas, m.form, m.words, haystack(m, families), at in retired) for at, m in enumerate(materials))


BERGAMOT = Material(name="Bergamot oil", form="essential oil", words=("bitter peel",), cas="8007-75-8")
TREATED = Material(name="Bergamot oil, treated", form="essential oil", words=("peel",), cas="8007-75-8")
AMBROXIDE = Material(
    name="Ambroxide", words=("ambery",), synonyms=("Dodecahydro-naphthofuran",), cas="6790-58-5", form="crystals"
)
DPG = Material(name="Dipropylene glycol", bench_name="DPG", form="solvent", is_carrier=True)
MYRCENOL = Material(name="Dihydromyrcenol")


def test_names_bench_names_synonyms_and_numbers_are_sure() -> None:
    matcher = shelf(BERGAMOT, TREATED, AMBROXIDE, DPG, families=("citrus",))
    found = [matcher.match(*asked).found for asked in
             (("bergamot OIL",), ("dpg",), ("dodecahydro-naphthofuran",), ("something else", "6790-58-5"),
              ("Bergamot oil", "8007-75-8"))]  # fmt: skip
    assert [row.key if row else None for row in found] == [0, 3, 2, 2, 0]


def test_smell_words_forms_and_families_are_no_names() -> None:
    matcher = shelf(BERGAMOT, AMBROXIDE, families=("citrus",))
    for asked in ("bitter peel", "crystals", "citrus", "6790-58-5"):
        assert matcher.match(asked).found is None


def test_what_is_close_is_offered_and_never_taken() -> None:
    matcher = shelf(BERGAMOT, TREATED, AMBROXIDE, MYRCENOL)
    near = matcher.match("Bergamott oil")
    assert near.found is None and [row.key for row in near.candidates] == [0, 1]
    assert [row.key for row in matcher.match("bergam").candidates] == [0, 1]
    assert [row.key for row in matcher.match("treated").candidates] == [1]
    assert [row.key for row in matcher.match("oil").candidates] == [0, 1]
    assert matcher.match("Zzz").candidates == () and matcher.match("").candidates == ()


def test_two_that_answer_are_both_offered() -> None:
    matcher = shelf(BERGAMOT, TREATED, AMBROXIDE)
    assert [row.key for row in matcher.match("", "8007-75-8").candidates] == [0, 1]
    crossed = matcher.match("Ambroxide", "8007-75-8")
    assert crossed.found is None and {row.key for row in crossed.candidates} == {0, 1, 2}


def test_a_retired_material_answers_only_alone() -> None:
    twin = Material(name="Ambroxide", form="powder")
    assert shelf(AMBROXIDE, twin, retired=(0,)).match("ambroxide").found.key == 1  # type: ignore[union-attr]
    assert shelf(AMBROXIDE, retired=(0,)).match("ambroxide").found.key == 0  # type: ignore[union-attr]


def test_a_haystack_of_names_alone_can_be_matched() -> None:
    assert Matcher([Row(1, "", "liquid", (), "rose oxide")]).match("Rose oxide").found is not None


def test_a_line_that_fills_up_is_read_as_one() -> None:
    text = "material\tstrength\tparts\nEthanol\tfills up\t790\nRose\t10 %, fills up\t5\nAccord\taccord, fills up\t3\n"
    rows = read_sheet(text).rows
    assert [(row.fill_up, row.strength) for row in rows] == [(True, None), (True, 0.1), (True, None)]
    assert all(row.is_readable for row in rows)
    assert not read_sheet("material\tparts\nEthanol\t790\n").rows[0].fill_up


names = st.lists(st.sampled_from(("Rose oxide", "Rose absolute", "Lemon oil", "Lemongrass", "Orange", "Cade")), max_size=6)


@given(names, names, names)
def test_what_is_learned_anew_matches_as_if_made_anew(first: list[str], second: list[str], third: list[str]) -> None:
    learned: Matcher[Row] = Matcher()
    for step, shown in enumerate((first, second, third)):
        # a row of the same key is the same only where it is the same object
        rows = [Row(at, "106-22-9" if at % 2 else "", "liquid", (), haystack(Material(name))) for at, name in enumerate(shown)]
        assert [done for done, _ in learned.learn(rows)] == list(range(1, len(rows) + 1)), step
        anew = Matcher(rows)
        for asked in ("rose", "Rose oxide", "lemon oi", "orange"):
            for cas in ("", "106-22-9"):
                found, wanted = learned.match(asked, cas), anew.match(asked, cas)
                assert found.found is wanted.found
                assert {row.key for row in found.candidates} == {row.key for row in wanted.candidates}
        assert list(learned.learn(rows)) == []

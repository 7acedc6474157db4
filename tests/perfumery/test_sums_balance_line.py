# SPDX-License-Identifier: MIT
"""Lines of a balance: every way to write a mass is read as that mass, what could be meant in two ways is not read at all."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.balance_line import GRAMS, LONGEST, sent, shown_in

FACTOR = {"g": Decimal(1), "mg": Decimal("0.001"), "kg": Decimal(1000)}


@st.composite
def written(draw) -> tuple[str, float]:
    """A figure with its unit as some balance may write it, and its mass."""
    whole, places = draw(st.integers(0, 99_999)), draw(st.integers(0, 5))
    digits = f"{draw(st.sampled_from(['', '0', '00']))}{whole}"
    part = "".join(draw(st.lists(st.sampled_from("0123456789"), min_size=places, max_size=places)))
    mark = draw(st.sampled_from(".,")) if part else ""
    sign = draw(st.sampled_from(["", "+", "-", "\u2212"]))
    gap, after = draw(st.sampled_from(["", " ", "   ", "\t"])), draw(st.sampled_from(["", " ", "  "]))
    unit = draw(st.sampled_from(["g", "mg", "kg", "G", "KG"]))
    value = Decimal(f"{digits}.{part or 0}") * FACTOR[unit.casefold()]
    mass = -value if sign in {"-", "\u2212"} else value
    return f"{sign}{gap if sign else ''}{digits}{mark}{part}{after}{unit}", float(mass)


@given(written(), st.sampled_from(["", "  ", "ST,GS,", "N  ", "Net: ", "2 ", "* "]), st.sampled_from(["", "  ", " *", " ?"]))
def test_sign_blanks_mark_and_unit_however_they_are_written(figure: tuple[str, float], head: str, tail: str) -> None:
    text, mass = figure
    if head == "2 " and len(text.partition(".")[0].partition(",")[0].rstrip("GKgmk ").strip()) == 3:
        return  # '2 345.6' may be two thousand three hundred: its own test below
    found = shown_in(f"{head}{text}{tail}")
    assert found is not None and found.mass_g == mass and not found.is_marked


@given(st.text(max_size=40), st.text(max_size=4))
def test_no_line_and_no_mark_breaks_it_and_what_it_reads_is_a_mass(line: str, mark: str) -> None:
    found = shown_in(line, mark)
    assert found is None or (abs(found.mass_g) < float("inf") and any(sign in line for sign in "0123456789"))


@given(written(), st.sampled_from(["oz", "ct", "lb", "dwt", "GN", "ozt", "%", "pcs", "mm", "\u00b5g", "g/l", "mol"]))
def test_other_units_are_refused(figure: tuple[str, float], unit: str) -> None:
    number = figure[0].rstrip("gGkKm ")
    assert shown_in(f"{number} {unit}") is None
    assert shown_in(f"{number}{unit}") is None


@given(written(), written())
def test_two_masses_in_one_line_are_not_guessed_at(one: tuple[str, float], other: tuple[str, float]) -> None:
    assert shown_in(f"G {one[0]}; N {other[0]}") is None


@pytest.mark.parametrize(
    "line",
    ["", "   ", "-----", "g", "12:00 1.5", "1,234.5 g", "1 234.5 g", "-1 234.5 g", "ST,1 234.5 g",
     "1'234.5 g", "1.2.3 g", "--5 g", "+ - 5 g", "\u00b15 g",
     "5- g", "5-", "1e3 g", "W12", "GS,.5 g", "A.5 g", "9" * (LONGEST + 1)],
)  # fmt: skip
def test_what_could_be_meant_in_two_ways_is_not_read(line: str) -> None:
    assert shown_in(line) is None


@pytest.mark.parametrize(
    "line, mass",
    [(".5 g", 0.5), ("- ,25g", -0.25), ("12. g", 12.0), ("12.345", 12.345), ("2025-04-10 12:00:01  0.052 g", 0.052),
     ("2025-04-10 12:00:01 345.6 g", 345.6), ("10-04-2025 345.6 g", 345.6),
     ("No. 3: 0.052 g", 0.052), ("S1 0.052 g", 0.052), ("+0.052,g", 0.052), ("1 12.345 g", 12.345), ("-0.012 kg", -12.0),
     ("52.1 mg", 0.0521)],
)  # fmt: skip
def test_figures_beside_the_mass_do_not_disturb(line: str, mass: float) -> None:
    found = shown_in(line)
    assert found is not None and found.mass_g == mass


@pytest.mark.parametrize(
    "line, mark, is_marked",
    [("ST,+12.345 g", "ST", True), ("US,+12.345 g", "ST", False), ("S  12.345 g", "S", True), ("SD 12.345 g", "S", False),
     ("12.345 g", "g", True), ("12.345", "g", False), ("12.345g", "g", True), ("12.345 ST", "ST", True), ("0 12.345", "0", True),
     ("12.345 g S", "g S", True), ("12.345 g *", "*", True), ("12.345 g", " ", False), ("10.0 g", "0", False)],
)  # fmt: skip
def test_a_mark_stands_for_itself(line: str, mark: str, is_marked: bool) -> None:
    found = shown_in(line, mark)
    assert found is not None and found.is_marked is is_marked


def test_a_word_behind_the_figure_that_is_neither_unit_nor_mark_refuses_it() -> None:
    assert shown_in("12.345 ST") is None and shown_in("12.345 ST", "OK") is None
    assert set(GRAMS) == {"", *FACTOR}


@given(st.binary(max_size=20).filter(lambda data: data.isascii()))
def test_what_is_typed_with_escapes_is_what_is_sent(data: bytes) -> None:
    typed = "".join("\\\\" if letter == "\\" else letter if letter.isprintable() else f"\\x{ord(letter):02x}"
                    for letter in data.decode("ascii"))  # fmt: skip
    assert sent(typed) == data


@pytest.mark.parametrize(
    "typed, wanted",
    [("Q\\r\\n", b"Q\r\n"), ("", b""), ("\\x1bP\\t", b"\x1bP\t"), ("\\xFF", b"\xff"), ("\\q", None), ("\\", None), ("\\x1", None),
     ("\u00e9", None)],
)  # fmt: skip
def test_escapes(typed: str, wanted: bytes | None) -> None:
    assert sent(typed) == wanted

# SPDX-License-Identifier: MIT
"""A typed figure must never become another: decimal marks, strengths, balance steps, shares that add up."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perfumery.numbers import (
    largest_remainder,
    parse_hour,
    parse_humidity,
    parse_number,
    parse_room,
    parse_strength,
    readings_of,
    to_step,
    to_step_up,
    weighable,
)


@pytest.mark.parametrize(
    "text, value",
    [
        ("0.1", 0.1),
        ("62,5", 62.5),
        ("62.5", 62.5),
        ("1,23", 1.23),
        ("1.23", 1.23),
        ("1,234", 1.234),  # in a field comma and point are always decimal; only a paste asks
        ("1.000", 1.0),
        ("120", 120.0),
        ("  120 ", 120.0),
        (",5", 0.5),
        (".5", 0.5),
        ("5.", 5.0),
        ("5,", 5.0),
        ("+3", 3.0),
        ("-3", -3.0),
        ("\u22123,5", -3.5),
        ("1e-3", 0.001),
        ("2,5E3", 2500.0),
        ("0", 0.0),
    ],
)
def test_number_is_what_was_typed(text, value):
    assert parse_number(text) == value


@given(st.integers(-(10**9), 10**9), st.integers(0, 6))
def test_number_survives_either_mark(units, places):
    written = str(Decimal(units).scaleb(-places)) if places else str(units)
    if "E" in written:
        written = f"{Decimal(units).scaleb(-places):f}"
    assert parse_number(written) == float(written)
    assert parse_number(written.replace(".", ",")) == float(written)
    assert repr(parse_number("0.1")) == "0.1"


@pytest.mark.parametrize(
    "text, code",
    [
        ("", "number-empty"),
        ("   ", "number-empty"),
        ("1,000.5", "number-grouped"),
        ("1.000,5", "number-grouped"),
        ("1.000.000", "number-grouped"),
        ("1,000,000", "number-grouped"),
        ("1 000", "number-grouped"),
        ("1\u00a0000", "number-grouped"),
        ("1\u202f000,5", "number-grouped"),
        ("1'000", "number-grouped"),
        ("12\u2019500.25", "number-grouped"),
        ("1.2.3", "number-grouped"),
        ("1,2.3", "number-grouped"),
        ("12 34", "number-unreadable"),
        ("abc", "number-unreadable"),
        ("1_000", "number-unreadable"),
        ("--1", "number-unreadable"),
        (".", "number-unreadable"),
        ("nan", "number-unreadable"),
        ("inf", "number-unreadable"),
        ("1e999", "number-unreadable"),
        ("5 g", "number-unreadable"),
    ],
)
def test_number_that_could_be_misread_is_refused(refused, text, code):
    finding = refused(parse_number, text)
    assert finding.code == code
    assert finding.data == ({} if code == "number-empty" else {"text": text})


@pytest.mark.parametrize(
    "text, strength",
    [
        ("10", 0.1),
        ("10 %", 0.1),
        ("10%", 0.1),
        ("0,1%", 0.001),
        ("0.1", 0.001),
        ("12.5", 0.125),
        ("10 % w/w", 0.1),
        ("100", 1.0),
        ("neat", 1.0),
        ("Pure", 1.0),
        ("0.07", 0.0007),
        ("33", 0.33),
    ],
)
def test_strength_typed_in_percent(text, strength):
    assert parse_strength(text) == strength


@pytest.mark.parametrize("text, percent", [("0", 0.0), ("-1", -1.0), ("100.01", 100.01), ("250 %", 250.0)])
def test_strength_outside_0_to_100_is_refused(refused, text, percent):
    finding = refused(parse_strength, text)
    assert (finding.code, finding.data) == ("strength-range", {"percent": percent})


@pytest.mark.parametrize("text, value", [("21", 21.0), ("21,5 °C", 21.5), ("-10", -10.0), ("50C", 50.0)])
def test_a_room_is_read_in_degrees(text, value):
    assert parse_room(text) == value


@pytest.mark.parametrize("text, value", [("210", 210.0), ("-10.1", -10.1), ("50.5 °C", 50.5)])
def test_a_room_that_no_bench_stands_in_is_refused(refused, text, value):
    finding = refused(parse_room, text)
    assert (finding.code, finding.data) == ("room-range", {"value": value, "least": -10.0, "most": 50.0})


@pytest.mark.parametrize("text, percent", [("0", 0.0), ("46 %", 46.0), ("100", 100.0)])
def test_humidity_is_read_in_percent(text, percent):
    assert parse_humidity(text) == percent


@pytest.mark.parametrize("text, percent", [("150", 150.0), ("-1 %", -1.0), ("100.1", 100.1)])
def test_humidity_outside_0_to_100_is_refused(refused, text, percent):
    finding = refused(parse_humidity, text)
    assert (finding.code, finding.data) == ("humidity-range", {"percent": percent})


def test_strength_without_figure_is_refused(refused):
    assert refused(parse_strength, "%").code == "number-empty"
    assert refused(parse_strength, "strong").code == "number-unreadable"


@pytest.mark.parametrize("text, hour", [("22", 22), (" 8:30 ", 8.5), ("8.15", 8.25), ("7h45", 7.75), ("24:00", 24), ("00", 0)])
def test_an_hour_is_read_as_a_clock_shows_it(text, hour):
    assert parse_hour(text) == hour


@pytest.mark.parametrize("text", ["", "noon", "8:7", "8:60", "-8", "8.5", "2230"])
def test_what_is_no_hour_is_refused(text, refused):
    assert refused(parse_hour, text).code == "time-unreadable"


@pytest.mark.parametrize(
    "text, values",
    [
        ("1,234", (1.234, 1234.0)),
        ("1.234", (1.234, 1234.0)),
        ("\u22121,234", (-1.234, -1234.0)),
        ("62,5", (62.5,)),
        ("1,23", (1.23,)),
        ("0,123", (0.123,)),  # no group of thousands begins with a nought
        ("0.001", (0.001,)),
        ("1234,567", (1234.567,)),
        ("1,234.5", (1234.5,)),
        ("1.234,5", (1234.5,)),
        ("1,234,567.25", (1234567.25,)),
        ("1.234.567", (1234567.0,)),
        ("1,234,567", (1234567.0,)),
        ("12 345,6", (12345.6,)),
        ("1\u202f234", (1234.0,)),
        ("120", (120.0,)),
    ],
)
def test_pasted_number_gives_every_reading(text, values):
    assert readings_of(text) == values


@pytest.mark.parametrize("text, code", [("1,2.3", "number-grouped"), ("x", "number-unreadable"), (" ", "number-empty")])
def test_pasted_nonsense_is_refused(refused, text, code):
    assert refused(readings_of, text).code == code


@pytest.mark.parametrize(
    "value, step, even, up",
    [
        (12.25, 0.1, 12.2, 12.3),
        (12.35, 0.1, 12.4, 12.4),
        (-12.25, 0.1, -12.2, -12.3),  # a tie goes away from zero, so that −x rounds to −(x rounded)
        (0.0625, 0.001, 0.062, 0.063),
        (0.0615, 0.001, 0.062, 0.062),
        (1.5355, 0.001, 1.536, 1.536),  # exactly between, though the nearest binary figure lies below
        (0.007, 0.002, 0.008, 0.008),
        (0.005, 0.002, 0.004, 0.006),
        (1225.0, 10, 1220.0, 1230.0),
        (0.3, 0.1, 0.3, 0.3),
        (0, 0.001, 0.0, 0.0),
    ],
)
def test_step_is_taken_on_the_written_figures(value, step, even, up):
    assert to_step(value, step) == even
    assert to_step_up(value, step) == up


@pytest.mark.parametrize("rounded", [to_step, to_step_up])
@pytest.mark.parametrize("step", [0, -0.001, float("nan")])
def test_step_must_be_positive(refused, rounded, step):
    finding = refused(rounded, 1.0, step)
    assert finding.code == "readability-not-positive"
    assert repr(finding.data["step"]) == repr(step)


@given(
    st.floats(-1e6, 1e6, allow_nan=False),
    st.sampled_from([0.0001, 0.001, 0.002, 0.005, 0.01, 0.1, 0.5, 1.0, 10.0]),
)
def test_step_moves_by_half_a_step_at_most_and_stays(value, step):
    for rounded in (to_step, to_step_up):
        shown = rounded(value, step)
        assert abs(Decimal(repr(shown)) - Decimal(repr(value))) <= Decimal(repr(step)) / 2
        assert Decimal(repr(shown)) % Decimal(repr(step)) == 0
        assert rounded(shown, step) == shown


def test_weighable_masses_sum_to_what_is_shown():
    shown, total, off = weighable((0.0504, 0.1255, 0.3335), 0.001)
    assert shown == (0.05, 0.126, 0.334)  # 0.1255 and 0.3335 are ties: to the even step
    assert total == 0.51
    assert off == pytest.approx(0.51 - 0.5094, abs=1e-15)
    assert weighable((), 0.001) == ((), 0.0, 0.0)


def test_weighable_total_has_no_binary_dust():
    assert weighable([0.1] * 3, 0.1)[1] == 0.3


@pytest.mark.parametrize(
    "shares, units, given_out",
    [
        ((1, 1, 1), 1000, (334, 333, 333)),
        ((0.25, 0.25, 0.5), 4, (1, 1, 2)),
        ((0.5, 0.5), 1, (1, 0)),
        ((2, 0, 1), 10, (7, 0, 3)),
        ((0.0, 0.0), 100, (0, 0)),
        ((), 100, ()),
    ],
)
def test_largest_remainder_gives_out_every_unit(shares, units, given_out):
    assert largest_remainder(shares, units) == given_out


@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=30).filter(any), st.integers(0, 100_000))
def test_largest_remainder_sums_to_units_within_one_of_each_quota(shares, units):
    given_out = largest_remainder(shares, units)
    assert sum(given_out) == units
    whole = sum(map(Fraction, shares))
    assert all(abs(got - Fraction(share) * units / whole) < 1 for got, share in zip(given_out, shares, strict=True))

# SPDX-License-Identifier: MIT
"""Numbers and times as they are shown, against figures written by hand."""

from datetime import UTC, date, datetime

import pytest

from desktop import figures as f

T = "\u2009"


@pytest.mark.parametrize(
    "value, shown",
    [(0.1, "0.1"), (20.0, "20"), (0.1 + 0.2, "0.3"), (1000, "1000"), (-2.5, "−2.5"), (1e-7, "0.0000001"), (None, "—")],
)
def test_parts_stand_as_typed(value: float | None, shown: str) -> None:
    assert f.parts(value) == shown


@pytest.mark.parametrize(
    "value, shown",
    [
        (2.0, "2.000"), (0.005, "0.005"), (110.0, "110.0"), (902.73, "902.7"), (0.12345, "0.1234"), (12345.6, "12346"),
        (9.9999, "10.00"), (0, "0"), (None, "—"), (0.0051, "0.0051"), (-0.5, "−0.500"),
    ],
)  # fmt: skip
def test_worked_out_parts_have_four_figures(value: float | None, shown: str) -> None:
    assert f.neat(value) == shown


@pytest.mark.parametrize(
    "share, shown",
    [
        (0.1188, "11.88"), (0.11880000000000002, "11.88"), (1.0, "100.0"), (0.005, "0.5000"), (0.0001, "0.01000"),
        (0.00008, f"80.00{T}mg/kg"), (0, "0"), (None, "—"), (0.999999, "100.0"), (-0.1, "−10.00"),
    ],
)  # fmt: skip
def test_percent_has_four_figures_and_small_shares_are_mg_per_kg(share: float | None, shown: str) -> None:
    assert f.percent(share) == shown


def test_percent_text_names_its_unit_once() -> None:
    assert f.percent_text(0.1083) == f"10.83{T}%"
    assert f.percent_text(0.00002) == f"20.00{T}mg/kg"
    assert f.percent_text(None) == "—"


@pytest.mark.parametrize(
    "g, d, shown",
    [(5.0, 0.001, "5.000"), (0.0325, 0.001, "0.032"), (0.0335, 0.001, "0.034"), (5.0, 0.01, "5.00"), (12.6, 5.0, "15"),
     (0.12345, 0.0005, "0.1235"), (-0.0001, 0.001, "0.000"), (-1.25, 0.1, "−1.2"), (None, 0.001, "—")],
)  # fmt: skip
def test_mass_is_shown_as_the_balance_would(g: float | None, d: float, shown: str) -> None:
    assert f.mass(g, d) == shown


def test_mass_text_names_its_unit() -> None:
    assert f.mass_text(5.0) == f"5.000{T}g"
    assert f.mass_text(None) == "—"


def test_strengths_and_stocks_read_like_labels() -> None:
    assert f.strength_text(0.1) == f"10{T}%"
    assert f.strength_text(0.001) == f"0.1{T}%"
    assert f.strength_text(0.07) == f"7{T}%"  # 0.07 × 100 is 7.000000000000001
    assert f.stock_text(0.1, "ethanol") == f"10{T}% in ethanol"
    assert f.stock_text(0.1) == f"10{T}%"
    assert f.stock_text(1.0, "ethanol") == ""
    assert f.stock_text(None, "ethanol") == "—"


def test_money_says_at_least_where_a_price_is_missing() -> None:
    assert f.money(0.1178) == f"0.1178{T}€/g"
    assert f.money(0.11784, "CHF", at_least=True) == f"at least 0.1178{T}CHF/g"
    assert f.money(12.5, "USD", per="") == f"12.50{T}$"
    assert f.money(None) == "—"


def test_signed_and_listed() -> None:
    assert [f.signed(n) for n in (3, -1, 0, None)] == ["+3", "−1", "0", "—"]
    assert f.listed(["a"]) == "a" and f.listed(["a", "b", "c"]) == "a, b and c" and f.listed([]) == ""
    assert f.listed("abcdef") == "a, b, c and 3 others"
    assert f.listed("abcdef", 1) == "6 others" and f.listed("abcd", 3) == "a, b and 2 others"
    assert f.either("a") == "a" and f.either("abc") == "a, b or c" and f.either(["this and that", "x"]) == "this and that or x"


def test_decimal_points_can_stand_below_each_other() -> None:
    shown = [f.on_point(text) for text in ("110.0", "0.005", "5", "—")]
    assert shown == ["110.0\u2007\u2007", "0.005", "5\u2008\u2007\u2007\u2007", "—"]


@pytest.mark.parametrize(
    "hours, shown",
    [(20 / 3600, "20 s"), (2 / 60, "2 min"), (0.25, "15 min"), (1, "1 h"), (2.68, "2.68 h"), (7.8, "7.8 h"), (12.345, "12.3 h"),
     (59.6 / 60, "1 h"), (23.99, "1 d"), (24, "1 d"), (52, "2 d 4 h"), (24 * 12.2, "12 d"), (-0.5, "−30 min"), (None, "—")],
)  # fmt: skip
def test_elapsed_time(hours: float | None, shown: str) -> None:
    assert f.elapsed(hours).replace(T, " ") == shown


@pytest.mark.parametrize("seconds, shown", [(120, "2 min"), (7200, "2 h"), (5400, "1.5 h"), (86400, "1 d"), (604800, "7 d")])
def test_due_points(seconds: float, shown: str) -> None:
    assert f.due_text(seconds).replace(T, " ") == shown


def test_late_and_ahead() -> None:
    assert f.lateness(41 * 60 + 20).replace(T, " ") == "41 min late"
    assert f.lateness(2 * 3600 + 5 * 60).replace(T, " ") == "2 h 5 min late"
    assert f.lateness(26 * 3600 + 5 * 60).replace(T, " ") == "1 d 2 h late"
    assert f.ahead(12 * 60).replace(T, " ") == "in 12 min"
    assert f.ahead(30) == "now"


def test_days_and_moments_leave_the_present_year_out() -> None:
    at = datetime(2025, 3, 11, 14, 5, tzinfo=UTC)
    assert f.day(at, date(2025, 12, 1)) == "11 Mar"
    assert f.day(at, date(2026, 1, 1)) == "11 Mar 2025"
    assert f.moment(at, at) == "11 Mar, 14:05"
    assert f.day(None) == f.moment(None) == f.clock(None) == "—"


def test_file_sizes() -> None:
    assert f.file_size(1) == f"1{T}kB" and f.file_size(1_440_000) == f"1.4{T}MB"

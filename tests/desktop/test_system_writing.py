# SPDX-License-Identifier: MIT
"""Numbers and dates as the system writes them, and every one of them read again as it is written."""

import csv
from collections.abc import Iterator
from datetime import date, datetime, timedelta, timezone

import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtWidgets import QApplication

from desktop import figures as f
from desktop import wording
from desktop.chart.curve import Curve, numbers
from desktop.columns import Column, as_text
from desktop.models.days import parse_day
from desktop.models.delivery_rows import typed_day
from desktop.models.moments import moment_text, parse_moment
from desktop.models.table import TableModel
from perfumery import Finding, Refused, parse_number

AT = datetime(2025, 3, 9, 14, 5, tzinfo=timezone(timedelta(hours=1)))
# What each writes was read off the common locale data that Qt carries (CLDR), by eye.
SYSTEMS = {
    "C": ("0.125", "9 Mar 2025", "9 Mar, 14:05"),
    "en_GB": ("0.125", "9 Mar 2025", "9 Mar, 14:05"),
    "en_US": ("0.125", "Mar 9, 2025", "Mar 9, 2:05 pm"),
    "de_DE": ("0,125", "9 Mar 2025", "9 Mar, 14:05"),
    "fr_FR": ("0,125", "9 Mar 2025", "9 Mar, 14:05"),
    "fi_FI": ("0,125", "9 Mar 2025", "9 Mar, 14.05"),
    "ja_JP": ("0.125", "2025 Mar 9", "Mar 9, 14:05"),
    "sv_SE": ("0,125", "2025 Mar 9", "Mar 9, 14:05"),
    "hsb_DE": ("0,125", "9 Mar 2025", "9 Mar, 14:05"),  # its pattern ends in a word with a point
    "ar_EG": ("0.125", "9 Mar 2025", "9 Mar, 2:05 pm"),  # neither its digits nor its decimal mark: fields do not read them
}


@pytest.fixture
def system() -> Iterator[type[QLocale]]:
    """What the tests stand on is put back: they all read and write as no country does."""
    yield QLocale
    QLocale.setDefault(QLocale.c())


@pytest.fixture(params=SYSTEMS)
def written(request: pytest.FixtureRequest, system: type[QLocale]) -> tuple[str, str, str]:
    system.setDefault(system(request.param))
    return SYSTEMS[request.param]


def test_each_system_writes_in_its_way(written: tuple[str, str, str]) -> None:
    assert (f.parts(0.125), f.day(AT), f.moment(AT, date(2025, 12, 1))) == written


def test_what_is_written_is_read_as_the_same(written: tuple[str, str, str]) -> None:
    for value in (0.125, 1000.5, 0.0016, -2.5, 12345.0):
        assert parse_number(f.parts(value)) == value
    assert parse_number(f.mass(1.2345, 0.001)) == 1.234 and parse_number(f.percent(0.1188)) == 11.88
    for at in (AT, AT.replace(hour=0), AT.replace(hour=12), AT.replace(hour=23, minute=59, day=31)):
        assert parse_day(f.day(at)) == at.date()
        assert typed_day(f.day(at, at), at.date()) == at.date()
        later = at + timedelta(days=40)
        assert parse_moment(moment_text(at), later) == at
        assert parse_moment(f.moment(at, later), later) == at
        assert parse_moment(f.clock(at), at) == at


def test_no_figure_keeps_a_point_where_the_system_writes_a_comma(system: type[QLocale]) -> None:
    system.setDefault(system("de_DE"))
    shown = (
        f.parts(0.5), f.neat(0.5), f.per_thousand(12.3456), f.mass(1.5), f.mass_text(1.5), f.percent(0.1188),
        f.percent(0.00008), f.percent_text(0.1188), f.strength_text(0.105), f.stock_text(0.105, "DPG"), f.money(0.1178),
        f.signed(1.5), f.signed_fixed(-1.25, 2), f.fixed(1.25, 1), f.short(0.12345, 3), f.off(0.0012), f.elapsed(2.68),
        f.file_size(1_400_000), f.pasted(0.5),
    )  # fmt: skip
    assert not [text for text in shown if "." in text or "," not in text]
    assert f.pasted("SR-4.1") == "SR-4.1" and f.pasted(None) == "" and f.pasted(3) == "3"


@pytest.mark.parametrize(
    "name, text, on",
    [
        ("en_US", "3/9/2025", date(2025, 3, 9)), ("en_GB", "3/9/2025", date(2025, 9, 3)), ("ja_JP", "2025/3/9", date(2025, 3, 9)),
        ("de_DE", "3/9/2025", None), ("C", "3/9/2025", None), ("en_GB", "3/13/2025", None),
    ],
)  # fmt: skip
def test_slashes_are_read_only_where_the_system_writes_them(system, name: str, text: str, on: date | None) -> None:
    system.setDefault(system(name))
    if on is not None:
        assert parse_day(text) == on
        return
    with pytest.raises(Refused, match=r"day-(unclear|beyond)"):
        parse_day(text)


def test_a_sentence_has_the_system_s_mark_too(system: type[QLocale]) -> None:
    system.setDefault(system("de_DE"))
    said = wording.sentence(Finding("again-weak", {"code": "B-1", "off": 0.0251, "weigh_g": 1.5, "for_g": 1.25}))
    assert "." not in said.removesuffix(".") and "2,5\u2009%" in said


def test_figures_of_a_column_stand_on_their_comma_too(system: type[QLocale]) -> None:
    system.setDefault(system("de_DE"))
    model: TableModel[float] = TableModel([Column("x", "x", f.parts, right=True)])
    model.show_rows([1.25, 10.0])
    assert [model.cell(place, 0) for place in (0, 1)] == ["1,25", "10\u2008" + f.FIGURE_SPACE * 2]


def test_the_clipboard_has_the_system_s_mark_and_a_file_has_points(system: type[QLocale]) -> None:
    system.setDefault(system("de_DE"))
    column: Column[float] = Column("x", "share", f.percent, plain=lambda share: share * 100)
    assert as_text((column,), [0.125]) == "share\n12,5\n"
    curve = Curve(1, "A", ((0.5, 2.5),))
    assert "0,5\t2,5" in numbers([curve], "\t", f.decimal_mark())
    assert next(csv.reader([numbers([curve]).splitlines()[1]]))[1:3] == ["0.5", "2.5"]


def test_a_formula_is_written_with_commas(system: type[QLocale], hand) -> None:
    """The window of a system that writes commas: typed, shown, typed over as it is shown, worked out the same."""
    system.setDefault(system("de_DE"))
    hand.type("Quarry")
    hand.press(Qt.Key.Key_Return)
    hand.press(Qt.Key.Key_Space)
    hand.type("Rain")
    hand.press(Qt.Key.Key_Return)
    hand.line("linalool 12,5")
    hand.line("geraniol 37.5")
    hand.press(Qt.Key.Key_Escape)
    assert {line.parts for line in hand.version.lines} == {12.5, 37.5}
    assert (hand.cell("Linalool", "parts"), hand.cell("Geraniol", "parts")) == ("12,5", "37,5")
    assert (hand.cell("Linalool", "share"), hand.cell("Linalool", "grams")) == ("25,00", "1,250")
    # opened and left as it stands: read as what it was
    hand.to_cell("Linalool", "parts")
    hand.press(Qt.Key.Key_F2)
    assert QApplication.focusWidget().text() == "12,5"
    hand.type("5")
    hand.press(Qt.Key.Key_Return)
    hand.qtbot.waitUntil(lambda: {line.parts for line in hand.version.lines} != {12.5, 37.5})
    hand.press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    grid = hand.app.window.bench.formula.grid
    grid.selectAll()
    assert "12,5" in grid.copied() and "12.5" not in grid.copied()
    # what was copied is pasted as the same
    assert lines_of(grid.copied()) == [12.5, 37.5]


def lines_of(text: str) -> list[float]:
    head, *rows = (row.split("\t") for row in text.splitlines())
    return [parse_number(row[head.index("parts")]) for row in rows if row[head.index("parts")]]

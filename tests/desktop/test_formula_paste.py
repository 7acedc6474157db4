# SPDX-License-Identifier: MIT
"""A pasted formula: previewed row by row, mended in place, taken as one step, and nothing of it lost."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QApplication, QLineEdit

from db import Book, make_demo
from desktop.figures import FIGURE_SPACE, THIN
from desktop.pages.bench.formula import FormulaPane
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Material, Version

K = Qt.Key
SHEET = "Material;Stärke;Teile\nLemon oil;;110,5\nAmbroxide;10 %;20\nCedar note K;;7,25\nLinalool;;abc\nTotal;;145,75"


@dataclass
class Paste:
    book: Book
    session: Session
    pane: FormulaPane
    qtbot: Any

    @property
    def version(self) -> Version:
        version = self.session.version
        assert version is not None
        return version

    def start(self, text: str) -> list[list[str]]:
        self.pane.paste_text(text)
        return self.shown()

    def shown(self) -> list[list[str]]:
        model = self.pane.paste.model
        return [
            [model.cell(place, at).strip(f"{FIGURE_SPACE}\u2008").replace(THIN, " ") for at in (1, 2, 3)]
            for place in range(model.rowCount())
        ]

    def edit(self, place: int, key: str, text: str) -> None:
        grid = self.pane.paste.grid
        grid.setFocus()
        grid.setCurrentIndex(self.pane.paste.model.index(place, self.pane.paste.model.place_of(key)))
        self.qtbot.keyClick(grid, K.Key_F2)
        (editor,) = [one for one in grid.findChildren(QLineEdit) if one.isVisible()]
        editor.selectAll()
        self.qtbot.keyClicks(editor, text)
        self.qtbot.keyClick(editor, K.Key_Return)
        self.qtbot.waitUntil(lambda: not [e for e in grid.findChildren(QLineEdit) if e.isVisible()])

    @property
    def is_open(self) -> bool:
        return self.pane.stack.currentWidget() is self.pane.paste


@pytest.fixture
def paste(qtbot: Any, qapp: QApplication, tmp_path: Any, clock: Any) -> Iterator[Paste]:
    book = make_demo(tmp_path / "demo.book", clock)
    theme = Theme(qapp, "light")
    session = Session(book, theme, Settings(tmp_path / "settings.ini"))
    pane = FormulaPane(session)
    qtbot.addWidget(pane)
    QAbstractItemModelTester(pane.paste.model, QAbstractItemModelTester.FailureReportingMode.Fatal, pane)
    session.choose_version(book.get(Version, "SR-5").key)
    pane.resize(600, 760)
    pane.show()
    qtbot.waitExposed(pane)
    pane.activateWindow()
    qtbot.waitUntil(pane.isActiveWindow)
    yield Paste(book, session, pane, qtbot)
    pane.hide()
    shiboken6.delete(pane)
    shiboken6.delete(session)
    shiboken6.delete(theme)
    book.close()


def test_semicolons_and_decimal_commas_are_previewed_and_taken_as_one_step(paste: Paste) -> None:
    before = paste.version.lines
    QGuiApplication.clipboard().setText(SHEET)
    paste.pane.grid.setFocus()
    paste.qtbot.keyClick(paste.pane.grid, K.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert paste.is_open and paste.version.lines == before
    assert paste.shown() == [
        ["Lemon oil", "", "110.5"],
        ["Ambroxide", "10 % in ethanol", "20"],
        ["NEW material “Cedar note K”", "", "7.25"],
        ["Linalool", "", "—"],
        ["?", "", "—"],
    ]
    sheet = paste.pane.paste
    assert "3 lines ready of 5 rows" in sheet.told.text() and "Cedar note K" in sheet.told.text()
    sheet.grid.setCurrentIndex(sheet.model.index(0, 1))
    paste.qtbot.keyClick(sheet.grid, K.Key_Return)
    added = paste.version.lines[len(before) :]
    names = [paste.book.get(Material, line.material).short for line in added]
    assert list(zip(names, [line.parts for line in added], strict=True)) == [
        ("Lemon oil", 110.5), ("Ambroxide", 20.0), ("Cedar note K", 7.25),
    ]  # fmt: skip
    assert paste.is_open and [row.pasted.text for row in sheet.model.rows] == ["Linalool;;abc", "Total;;145,75"]
    assert "2 rows could not be taken and stay here" in sheet.wrong.text()
    paste.session.undo()
    assert paste.version.lines == before and paste.book.get(Material, "Cedar note K") is None


def test_a_row_that_could_not_be_read_is_mended_in_place(paste: Paste) -> None:
    paste.start("name\tparts\nLinalool\tabc")
    sheet = paste.pane.paste
    assert "not a number" in sheet.of_row.text() and not sheet.take_button.isEnabled()
    paste.edit(0, "parts", "12,5")
    assert paste.shown() == [["Linalool", "", "12.5"]] and sheet.of_row.text() == ""
    sheet.take_button.click()
    assert paste.version.lines[-1].parts == 12.5 and not paste.is_open


def test_mending_one_field_does_not_hide_another(paste: Paste) -> None:
    paste.start("name\tstrength\tparts\nAmbroxide\t0 %\tabc")
    paste.edit(0, "parts", "5")
    row = paste.pane.paste.model.row(0)
    assert not row.is_ready and row.wants == "strength" and row.strength is None
    paste.edit(0, "strength", "5 in foo")
    assert paste.pane.paste.model.row(0).carrier_name == "foo"
    paste.edit(0, "strength", "5 in Dipropylene glycol")
    assert paste.pane.paste.model.row(0).is_ready


def test_a_close_name_is_offered_and_never_taken(paste: Paste) -> None:
    assert paste.start("Ambroxyde 10 % 20")[0][0] == "?"
    sheet = paste.pane.paste
    assert "“Ambroxide”" in sheet.of_row.text() and not sheet.take_button.isEnabled()
    paste.qtbot.keyClick(sheet.grid, K.Key_Return)
    (editor,) = [one for one in sheet.grid.findChildren(TypeAhead) if one.isVisible()]
    assert editor.is_open and editor.chosen.label == "Ambroxide"
    assert editor.found[-1].label == "NEW material “Ambroxyde”"
    paste.qtbot.keyClick(editor, K.Key_Return)
    paste.qtbot.waitUntil(lambda: not editor.isVisible())
    assert paste.shown() == [["Ambroxide", "10 % in ethanol", "20"]]


def test_figures_that_can_be_read_two_ways_are_asked_for_once(paste: Paste) -> None:
    shown = paste.start("Lemon oil\t1,234\nLinalool\t2,500")
    sheet = paste.pane.paste
    assert [row[2] for row in shown] == ["1.234 or 1234?", "2.5 or 2500?"]
    assert sheet.asked.isVisible() and not sheet.take_button.isEnabled()
    assert [button.text() for button in sheet.ways] == ["as 1.234", "as 1234"]
    sheet.ways[1].click()
    assert [row[2] for row in paste.shown()] == ["1234", "2500"]
    assert not sheet.asked.isVisible() and sheet.take_button.isEnabled()


def test_a_solid_without_strength_asks(paste: Paste) -> None:
    paste.start("Ambroxide 20")
    assert "solid" in paste.pane.paste.of_row.text()
    paste.edit(0, "strength", "neat")
    assert paste.pane.paste.model.row(0).is_ready


def test_names_codes_and_accords_are_known(paste: Paste) -> None:
    paste.book.put(Material(name="Musk 50 %"))
    shown = paste.start("Musk 50 %\t12\nA-WS\t125\nWet slate accord\t5\nWet slate accord 10 %\t5\n\t", )
    assert [row[0] for row in shown] == ["Musk 50 %", "Wet slate accord A-WS", "Wet slate accord A-WS",
                                         "Wet slate accord A-WS"]  # fmt: skip
    assert [row[1] for row in shown] == ["", "accord", "accord", "accord"]
    assert "used as it is" in paste.pane.paste.model.row(3).asks


def test_new_carriers_are_made_once_with_the_lines(paste: Paste) -> None:
    paste.start("Neo one\t10 % in Fooethane\t3\nNeo two\t5 % in fooethane\t4")
    paste.pane.paste.take()
    first, second = paste.version.lines[-2:]
    assert first.carrier == second.carrier
    made = paste.book.get(Material, first.carrier)
    assert made.is_carrier and made.name == "Fooethane"


def test_leaving_changes_nothing(paste: Paste) -> None:
    before = paste.version
    paste.start(SHEET)
    paste.qtbot.keyClick(paste.pane.paste.grid, K.Key_Escape)
    assert not paste.is_open and paste.version == before


def test_pasting_into_a_frozen_version_makes_a_draft(paste: Paste) -> None:
    parent = paste.book.get(Version, "SR-4")
    paste.session.choose_version(parent.key)
    paste.start("Lemon oil 3")
    paste.qtbot.keyClick(paste.pane.paste.grid, K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert paste.version.parent == parent.key and len(paste.version.lines) == len(parent.lines) + 1


def test_one_figure_goes_into_the_cell(paste: Paste) -> None:
    pane = paste.pane
    pane.grid.setCurrentIndex(pane.model.index(0, pane.model.place_of("parts")))
    pane.paste_text("  61,5 ")
    assert paste.version.lines[0].parts == 61.5 and not paste.is_open


def test_our_own_copy_comes_back_as_the_same_lines(paste: Paste) -> None:
    pane = paste.pane
    lines = paste.version.lines
    pane.grid.selectAll()
    text = pane.grid.copied()
    shown = paste.start(text)
    assert len(shown) == len(lines)
    assert all(row.is_ready for row in pane.paste.model.rows), [row.asks for row in pane.paste.model.rows]
    pane.paste.take()
    again = paste.version.lines[len(lines) :]
    plain = [(line.material, line.accord, line.strength, line.carrier, line.parts) for line in lines]
    assert [(line.material, line.accord, line.strength, line.carrier, line.parts) for line in again] == plain

# SPDX-License-Identifier: MIT
"""What waits at a weighing is said where it is met: a dilution that still dissolves, a question, the bottle that is asked for,
a weighing put by, and why nothing can begin."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop.models.bottle_choices import ChoiceModel, choices
from desktop.models.not_ready import not_ready
from desktop.models.weigh import plan_of
from desktop.pages.weigh.page import WeighPage
from desktop.pages.weigh.sheet_pdf import Intended, sheet_before
from desktop.pages.weigh.typed_rows import TypedRow, judged
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Bottle, Version

Key = Qt.Key
READY = date(2025, 4, 13)
SAID = "is not ready before 13 Apr 2025: a solid in it is still dissolving"


@dataclass
class Bench:
    book: Book
    page: WeighPage
    said: list[tuple[str, str]] = field(default_factory=list)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.page, key, modifier)
        QApplication.processEvents()

    def type(self, text: str) -> None:
        QTest.keyClicks(QApplication.focusWidget(), text)

    def enter(self, text: str) -> None:
        self.type(text)
        self.press(Key.Key_Return)

    def dissolves(self, code: str, ready_on: date = READY) -> None:
        self.page.begin._session.put("ready", replace(self.book.get(Bottle, code), ready_on=ready_on))
        self.page.begin.refresh()

    def at_balance(self, name: str) -> None:
        view = self.page.scale
        view._go_to_row(next(at for at, row in enumerate(view.plan.rows) if row.name == name))

    @property
    def stock(self) -> str:
        return re.sub("<[^>]+>", "", self.page.begin.beside.noticed.stock.text()).replace("\u2009", " ")

    def bottle(self, name: str) -> str:
        rows = (view.row for view in self.page.begin.model.rows)
        return next(row.bottle.bottle.code for row in rows if row.name == name)


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("waits") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture
def bench(studio_bytes: bytes, qapp: QApplication, tmp_path: Path, clock, qtbot) -> Iterator[Bench]:
    """SR-3 before the first drop, the cursor in the amount."""
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        session = Session(book, Theme(qapp, "light"), Settings(tmp_path / "settings.ini"))
        b1 = next(balance for balance in book.all(Balance) if balance.name.startswith("B1"))
        session.settings.keep(f"balance/{book.uid}", str(b1.key))
        session.choose_version(book.get(Version, "SR-3").key)
        page = WeighPage(session)
        page.resize(1216, 740)
        page.show()
        qtbot.waitExposed(page)
        page.activateWindow()
        qtbot.waitUntil(page.isActiveWindow)
        page.take_focus()
        made = Bench(book, page)
        session.said.connect(lambda sentence, tone: made.said.append((sentence, tone)))
        yield made
        shiboken6.delete(page)


# a dilution that is not ready ---------------------------------------------------------------------------------------------


def test_a_bottle_that_is_ready_is_offered_before_one_that_still_dissolves(bench: Bench) -> None:
    assert bench.bottle("Ambroxide") == "K19"
    bench.dissolves("K19")
    assert bench.bottle("Ambroxide") == "K19B" and SAID not in bench.stock
    bench.dissolves("K19", date(2025, 4, 10))
    assert bench.bottle("Ambroxide") == "K19", "on its day it is ready"


def test_what_still_dissolves_is_said_before_the_first_drop_with_what_is_at_hand(bench: Bench) -> None:
    sheet, book = bench.page.begin, bench.book
    bench.dissolves("K19")
    row = next(view.row for view in sheet.model.rows if view.row.name == "Ambroxide")
    k19, k19b = book.get(Bottle, "K19").key, book.get(Bottle, "K19B").key
    sheet._on_bottle_chosen(row.planned.line, k19)
    assert f"K19 {SAID}" in bench.stock and "At hand: take K19B (0.09 g left)." in bench.stock
    view = next(view for view in sheet.model.rows if view.row.name == "Ambroxide")
    bottle = sheet.model.columns[sheet.model.place_of("bottle")]
    assert sheet.model.tone(view, bottle) == "amber" and SAID in sheet.model.tip(view, bottle)
    sheet._on_linked(f"bottle:{row.planned.line}:{k19b}")
    assert bench.bottle("Ambroxide") == "K19B" and SAID not in bench.stock
    bench.dissolves("K19B")
    assert SAID in bench.stock and "At hand" not in bench.stock, "nothing else is"
    plan = plan_of(book, book.get(Version, "SR-3"), 5.0)
    assert [one.finding.data["code"] for one in not_ready(plan, READY)] == []
    paper = sheet_before(book, Intended(book.get(Version, "SR-3"), plan, 5.0))
    assert any(SAID in text for _, text in paper.notes)


def test_the_bottles_of_a_line_show_which_still_dissolve(bench: Bench) -> None:
    bench.dissolves("K19")
    row = next(view.row for view in bench.page.begin.model.rows if view.row.name == "Ambroxide")
    model = ChoiceModel()
    model.show_rows(choices(row.choices, row.bottle.key, 0.05, date(2025, 4, 10)))
    bottle = model.columns[model.place_of("bottle")]
    assert [(one.row.bottle.code, model.tone(one, bottle)) for one in model.rows] == [("K19B", "ink"), ("K19", "amber")]
    assert SAID in model.tip(model.row(1), bottle)


def test_at_the_balance_the_line_says_that_its_bottle_still_dissolves(bench: Bench) -> None:
    view = bench.page.scale
    for code in ("K19", "K19B"):
        bench.dissolves(code)
    bench.press(Key.Key_Return)
    assert view.waits.isHidden(), "the first line is ready"
    bench.at_balance("Ambroxide")
    assert view.waits.isVisible() and view.waits.text().startswith(f"K19 {SAID}")
    bench.enter("K19")
    assert view.waits.isVisible(), "its code was right, it is no readier"
    bench.enter("0.125")
    assert view.waits.isHidden() and len(bench.book.weighings.poured(view.making.key)) == 1, "it forbids nothing"


def test_a_free_pour_says_that_a_bottle_still_dissolves(bench: Bench) -> None:
    bench.dissolves("K19")
    bench.page.commands["pour"].trigger()
    pour = bench.page.pour
    bench.enter("K19")
    assert pour.waits.isVisible() and SAID in pour.waits.text()
    bench.press(Key.Key_Escape)
    bench.enter("K19B")
    assert pour.waits.isHidden() and pour.name.isVisible()


def test_a_sheet_from_paper_notes_a_bottle_that_was_not_ready_that_day(bench: Bench) -> None:
    bench.dissolves("K19B")
    plan = plan_of(bench.book, bench.book.get(Version, "SR-3"), 5.0)
    row = next(row for row in plan.rows if row.name == "Ambroxide")
    k19b = next(one for one in row.choices if one.bottle.code == "K19B")
    typed = [TypedRow(0, row, "K19B", "0.125")]
    for on, noted in ((date(2025, 4, 12), "K19B was not ready before 13 Apr 2025"), (READY, "")):
        (told,) = judged(typed, {"k19b": k19b}, lambda _: (None, ""), on=on)
        assert told.noted.startswith(noted) and bool(told.noted) == bool(noted) and not told.wrong


# Escape -------------------------------------------------------------------------------------------------------------------


def test_escape_closes_what_is_open_before_it_leaves_the_balance(bench: Bench) -> None:
    page, view = bench.page, bench.page.scale
    bench.press(Key.Key_Return)
    bench.enter("0.050")
    bench.type("0.7")
    view.give_up.click()
    view.focus_figure()
    assert "Throw it away" in view.said.text()
    bench.press(Key.Key_Escape)
    assert view.told == "" and view.figure.text() == "0.7" and view.figure.hasFocus()
    bench.press(Key.Key_Escape)
    assert view.figure.text() == "" and page.stack.currentWidget() is view
    bench.press(Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert view.figure.text() == ""
    view.spilled.click()
    view.focus_figure()
    bench.press(Key.Key_Escape)
    assert view.ask.isHidden() and page.stack.currentWidget() is view and view.figure.hasFocus()
    assert not bench.said[1:], "nothing was said of leaving yet"
    bench.press(Key.Key_Escape)
    assert page.stack.currentWidget() is page.begin and len(bench.book.weighings.unfinished()) == 1
    said, tone = bench.said[-1]
    assert tone == "note" and "T-029 of SR-3 in V029 waits at line 2 of 20." in said and "top of Weigh" in said
    assert page.begin.open_ones.itemAt(0).widget().text().startswith("T-029 in V029")


def test_escape_empties_what_cannot_be_read_and_takes_the_sentence_with_it(bench: Bench) -> None:
    view = bench.page.scale
    bench.press(Key.Key_Return)
    bench.enter("12 ct")
    assert view.told and view.figure.text() == "12 ct"
    bench.press(Key.Key_Escape)
    assert view.told == "" and view.figure.text() == "" and bench.page.stack.currentWidget() is view


def test_escape_leaves_an_offer_alone_and_a_strip_beside_goes_first(bench: Bench) -> None:
    page, view = bench.page, bench.page.scale
    bench.press(Key.Key_Return)
    view.side.setCurrentIndex(0)
    bench.press(Key.Key_F6)
    assert "Not empty: put it back" in view.said.text()
    bench.press(Key.Key_Escape)
    assert page.stack.currentWidget() is page.begin, "what it offers asks nothing"


def test_a_weighing_whose_lines_are_all_in_waits_to_be_finished(bench: Bench) -> None:
    view = bench.page.scale
    bench.press(Key.Key_Return)
    while view.row is not None:
        if view.asks_code:
            bench.enter(view.row.bottle.bottle.code)
        bench.enter(f"{view.row.planned.target_g:.6f}")
    view.put_by.click()
    assert bench.said[-1][0].startswith("T-029 of SR-3 in V029 waits to be finished.")


def test_escape_in_a_free_pour_takes_back_figure_and_bottle_before_it_leaves(bench: Bench) -> None:
    page = bench.page
    page.commands["pour"].trigger()
    pour = page.pour
    bench.enter("M01-1")
    bench.type("0.4")
    bench.press(Key.Key_Escape)
    assert pour.figure.text() == "" and pour.figure.isVisible() and page.stack.currentWidget() is pour
    bench.press(Key.Key_Escape)
    assert pour.figure.isHidden() and pour.bottle.text() == "" and pour.bottle.hasFocus()
    bench.enter("M01-1")
    bench.enter("0.4")
    bench.press(Key.Key_Escape)
    assert page.stack.currentWidget() is page.begin and "T-029 waits." in bench.said[-1][0]
    before = len(bench.said)
    page.show_pour()
    bench.press(Key.Key_Escape)
    assert page.stack.currentWidget() is page.begin and len(bench.said) == before, "nothing was begun"


# what is asked for, and what keeps it from beginning ----------------------------------------------------------------------


def test_which_bottle_is_asked_for_stands_above_the_field(bench: Bench) -> None:
    view = bench.page.scale
    bench.press(Key.Key_Return)
    assert view.asked.isVisible() and view.asked.text() == "What the balance shows, g"
    bench.at_balance("Ambroxide")
    assert view.asked.text() == "First type or scan the code of the bottle: K19"
    bench.enter("K19")
    assert view.asked.text() == "What the balance shows, g"


def test_nothing_jumps_when_a_sentence_comes_below_a_field(bench: Bench) -> None:
    sheet = bench.page.begin
    before = sheet.modes.y(), sheet.vial.mapTo(sheet, sheet.vial.rect().topLeft())
    sheet.amount.selectAll()
    bench.type("much")
    QApplication.processEvents()
    assert "not a number" in sheet.amount_field.remark.text() and sheet.amount_field.remark.width() > 3 * sheet.amount.width()
    assert (sheet.modes.y(), sheet.vial.mapTo(sheet, sheet.vial.rect().topLeft())) == before


def test_why_it_cannot_begin_stands_beside_the_button(bench: Bench) -> None:
    sheet = bench.page.begin
    assert sheet.cannot.isHidden() and sheet.begin.isEnabled()
    sheet.amount.selectAll()
    bench.type("much")
    assert sheet.cannot.isVisible() and sheet.cannot.text() == "It cannot begin: the amount cannot be read."
    sheet.amount.selectAll()
    bench.type("5")
    assert sheet.cannot.isHidden() and sheet.begin.accessibleDescription() == ""
    for code in ("K19", "K19B"):
        bench.book.bottles.discard(bench.book.get(Bottle, code).key)
    said = sheet.cannot.text().replace("\u2009", " ")
    assert said == "It cannot begin: no bottle holds Ambroxide 10 % in ethanol." and not sheet.begin.isEnabled()
    assert sheet.begin.accessibleDescription() == sheet.cannot.text()

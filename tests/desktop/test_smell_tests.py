# SPDX-License-Identifier: MIT
"""Blind tests by keyboard: planned, prepared by somebody else or shuffled, answered, evaluated, revealed; nothing told before."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QWidget

from db import Book, make_demo
from desktop.models.blind_tests import ASKS, told, why
from desktop.pages.smell.tests_view import BlindTestsView
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import BlindTest, Bottle, Project, ranking
from perfumery.blind import codes_of, is_right, served
from perfumery.discrimination import discriminate

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier


@dataclass
class Bench:
    book: Book
    view: BlindTestsView
    said: list[str] = field(default_factory=list)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.view, key, modifier)
        QApplication.processEvents()

    def enter(self, text: str) -> None:
        QTest.keyClicks(QApplication.focusWidget(), text)
        self.press(Key.Key_Return)

    def plan(self, method: str, *samples: str, sets: str = "", myself: bool = False) -> BlindTest:
        view = self.view
        self.press(Key.Key_N, CTRL)
        view.plan_sheet.method.setCurrentText(method)
        view.plan_sheet.sample.setFocus()
        for code in samples:
            self.enter(code)
        if sets:
            view.plan_sheet.count.setText(sets)
        if myself:
            view.plan_sheet.who.buttons["myself"].click()
        view.plan_sheet.plan.setFocus()
        self.press(Key.Key_Return)
        return view.line.test

    def texts(self) -> list[str]:
        """Every text on screen: of labels, fields, tips and names."""
        found = []
        for part in self.view.findChildren(QWidget):
            if part.isVisible():
                found += [part.toolTip(), part.accessibleName(), part.accessibleDescription()]
                if isinstance(part, QLabel | QLineEdit):
                    found.append(part.text())
        return found


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("tests") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Bench:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    project = next(book.all(Project), None)
    session.choose_project(None if project is None else project.key)
    view = BlindTestsView(session)
    view.resize(1216, 720)
    view.show()
    qtbot.waitExposed(view)
    view.activateWindow()
    qtbot.waitUntil(view.isActiveWindow)
    view.take_focus()
    made = Bench(book, view)
    session.said.connect(lambda sentence, tone: made.said.append(sentence))
    return made


@pytest.fixture
def bench(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Bench]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T10:00:00+02:00")
    with Book.open(path, clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        for model in (made.view.model, made.view.sets):
            QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
        yield made
        shiboken6.delete(made.view)


def test_a_test_that_was_revealed_is_told_in_words(bench: Bench) -> None:
    view = bench.view
    said = view.told.text().replace("\u2009", " ").split("\n")
    assert said[0] == "6 of 9 right: you can tell them apart, p = 0.042 (6 were needed)."
    assert said[1] == "About 50 % of the answers can tell beyond guessing (2 % to 85 %); d′ 2.3 (0.4 to 4.1)."
    assert "says nothing of safety" in said[2] and "binomial" in view.told.toolTip()
    assert [line.right for line in view.sets.rows].count(True) == 6 and view.reveal_button.isHidden()
    assert view.named.text().startswith("triangle: A SR-2 V022-12, B SR-4 V027-12")
    assert view.model.row(0).shown == "6 of 9, p = 0.042"


def test_how_many_it_takes_is_reckoned_while_it_is_planned(bench: Bench) -> None:
    sheet = bench.view.plan_sheet
    bench.press(Key.Key_N, CTRL)
    assert sheet.isVisible() and sheet.asks.text() == ASKS["triangle"]
    sheet.share.setText("60 %")
    sheet._reckon()
    assert sheet.effort.text().replace("\u2009", " ") == (
        "12 sets, 36 papers; 8 must be right. Such a difference is then noticed 81 times in 100."
    )
    assert sheet.count.text() == "12"
    for typed, where in (("0", sheet.share_field), ("much", sheet.share_field)):
        sheet.share.setText(typed)
        sheet._reckon()
        assert where.is_wrong and sheet.effort.text() == ""
    sheet.share.setText("60")
    sheet.power.setText("100")
    sheet._reckon()
    assert sheet.power_field.is_wrong
    bench.press(Key.Key_Return, CTRL)
    assert sheet.sample_field.is_wrong and sheet.sample.hasFocus()
    bench.enter("V022-12")
    bench.enter("V022-12")
    assert sheet.sample_field.remark.text() == "That one is in already."
    bench.enter("no such bottle")
    assert "called that" in sheet.sample_field.remark.text()
    sheet.sample.clear()
    bench.enter("V027-12")
    sheet.count.setText("0")
    sheet.confirm()
    assert sheet.count_field.is_wrong
    bench.press(Key.Key_Escape)
    assert bench.view.stack.currentWidget() is bench.view.result_part and len(list(bench.book.all(BlindTest))) == 1


def test_somebody_else_prepares_and_every_answer_stands_at_once(bench: Bench, tmp_path: Path, clock) -> None:
    view, book = bench.view, bench.book
    test = bench.plan("triangle", "V022-12", "V027-12", sets="6")
    true = book.tests.serving(test.key)
    for one in true:
        for code, letter in served(one):
            assert f"{code} {('SR-2 V022-12', 'SR-4 V027-12')['AB'.index(letter)]}" in view.serving.text()
    bench.press(Key.Key_Return)
    assert view.serving.text() == "" and view.answering.line.hasFocus()
    names = ("V022", "V027", "SR-2", "SR-4")
    for place, one in enumerate(true):
        codes = codes_of(one)
        visible = bench.texts()
        assert any(codes[0] in text for text in visible)
        assert not [text for text in visible if any(name in text for name in names) and any(code in text for code in codes)]
        wanted = next(code for code in codes if is_right("triangle", one, code) is (place != 2))
        bench.enter(str(codes.index(wanted) + 1) if place % 2 else wanted)
        assert book.tests.answers(test.key)[place].chosen == wanted
        assert not [text for text in bench.texts() if "right" in text and "p =" in text] or place == 5
    assert view.stack.currentWidget() is view.result_part
    assert view.told.text().startswith("5 of 6 right: you can tell them apart") and view.sets.rowCount() == 0
    # as a word: ISO 4120 may be told of a test that served 412
    words = {word for text in bench.texts() for word in re.findall(r"\w+", text)}
    assert not words & {codes_of(one)[0] for one in true}
    bench.press(Key.Key_Space)
    assert book.get(BlindTest, test.key).sets == true and view.sets.rowCount() == 6
    assert view.sets.row(2).right is False


def test_what_is_no_answer_is_said_and_a_slip_put_right(bench: Bench) -> None:
    view, book = bench.view, bench.book
    test = bench.plan("triangle", "V022-12", "V027-12", sets="3")
    bench.press(Key.Key_Return)
    for typed, sentence in (("", "says nothing"), ("9", "was not served"), ("ABC", "was not served")):
        view.answering.line.clear()
        bench.enter(typed)
        assert sentence in view.answering.said.text() and not book.tests.answers(test.key)
    view.answering.line.clear()
    bench.enter("1")
    view.answering.back.click()
    assert "Answered before" in view.answering.before.text()
    bench.enter("2")
    answers = book.tests.answers(test.key)
    assert len(answers) == 1 and book.history(answers[0].key)
    view.answering.stop.click()
    assert view.told.text().startswith(("0 of 1", "1 of 1")) and view.go_on.isVisible()
    view.go_on.click()
    assert view.answering.place == 1 and view.stack.currentWidget() is view.answering


def test_shuffled_by_oneself_only_right_or_wrong_is_asked(bench: Bench) -> None:
    view, book = bench.view, bench.book
    test = bench.plan("duo-trio", "V022-12", "V027-12", sets="4", myself=True)
    assert view.stack.currentWidget() is view.answering
    told_of = view.answering.prepare.text()
    assert "as the open reference" in told_of and "A is SR-2 V022-12" in told_of
    assert not [code for code in codes_of(test.sets[0]) if code in " ".join(bench.texts())]
    for typed in ("1", "right", "w", "2"):
        bench.enter(typed)
    assert [answer.right for _, answer in sorted(book.tests.answers(test.key).items())] == [True, True, False, False]
    assert view.told.text().startswith("2 of 4 right: not shown")


def test_rankings_take_numbers_or_codes(bench: Bench) -> None:
    view, book = bench.view, bench.book
    test = bench.plan("ranking", "V021-12", "V022-12", "V027-12", sets="2")
    bench.press(Key.Key_Return)
    codes = codes_of(test.sets[0])
    bench.enter("213")
    assert book.tests.answers(test.key)[0].chosen == f"{codes[1]} {codes[0]} {codes[2]}"
    bench.enter(" ".join(codes_of(test.sets[1])))
    assert "Rank sums" in view.told.text() and "Friedman" in view.told.toolTip()


def test_results_in_words(bench: Bench) -> None:
    book = bench.book
    bottles = tuple(book.get(Bottle, code).key for code in ("V022-12", "V027-12", "V021-12"))
    at = book.now()
    pair = BlindTest("B-9", "paired", bottles[:2], (), at, question="wet stone")
    few, many = (told(book, pair, discriminate("paired", right, 12)) for right in (7, 1))
    assert few[0].startswith("Not shown: SR-2 V022-12 was chosen 7 of 12 times")
    assert many[0].startswith("SR-4 V027-12 has more wet stone: 11 of 12, p = 0.006")
    three = BlindTest("B-10", "ranking", bottles, (), at, question="wet stone")
    apart = told(book, three, ranking([(1, 2, 3)] * 8))
    assert apart[0].startswith("They differ in wet stone, p < 0.001")
    assert "SR-2 V022-12 and SR-1 V021-12" in apart[1] and apart[2].startswith("Rank sums, the least first: SR-2 V022-12 8")
    alike = told(book, three, ranking([(1, 2, 3), (3, 2, 1)]))
    assert alike[0].startswith("Not shown in wet stone")
    small = told(book, BlindTest("B-11", "triangle", bottles[:2], (), at), discriminate("triangle", 1, 2))
    assert "does not prove" in small[1] and why(discriminate("triangle", 1, 2)).startswith("p is the chance")


def test_an_empty_book_says_what_a_blind_test_is(theme: Theme, tmp_path: Path, clock, qtbot) -> None:
    with Book.create(tmp_path / "empty.stillroom", "Empty", clock=clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        assert made.view.new.hasFocus() and made.view.stack.currentWidget() is made.view.blank
        shiboken6.delete(made.view)

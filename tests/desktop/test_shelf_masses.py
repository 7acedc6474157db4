# SPDX-License-Identifier: MIT
"""Masses and volumes as they are typed, and the one box for the balance."""

from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QLineEdit, QVBoxLayout, QWidget

from db import Book
from desktop.pages.masses import BalanceBox, grams, mass_of, millilitres
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Refused


@pytest.mark.parametrize("text", ["5", "5 G", "5 g", "5,0", "5.0g", " 5 g "])
def test_a_mass_however_it_is_typed(text):
    assert grams(text) == mass_of(text) == 5


def test_what_is_no_mass():
    assert grams("0") == 0 and grams("-1 g") == -1 and millilitres("30 ML") == millilitres("30,0ml") == 30
    wrong = [(mass_of, "0 g"), (mass_of, "-1"), (grams, "5 kg"), (grams, "5 mg"), (grams, ""), (grams, "g"), (millilitres, "0"),
             (millilitres, "5 g"), (millilitres, "1 cl")]  # fmt: skip
    said = []
    for parse, text in wrong:
        with pytest.raises(Refused) as refused:
            parse(text)
        said.append(refused.value.findings[0].code)
    bad = "number-unreadable"
    assert said == [*["mass-not-positive"] * 2, bad, bad, "number-empty", "number-empty", "volume-not-positive", bad, bad]


@pytest.fixture
def session(qapp: QApplication, tmp_path: Any, clock: Any) -> Any:
    with Book.create(tmp_path / "b.stillroom", "B", clock=clock) as book:
        yield Session(book, Theme(qapp, "light"), Settings(tmp_path / "settings.ini"))


def box_of(session: Session) -> BalanceBox:
    box = BalanceBox(session)
    box.refresh()
    return box


def by_hand(box: BalanceBox, at: int) -> None:
    box.setCurrentIndex(at)
    box.activated.emit(at)


def test_no_balance_is_named_before_the_person_does(session):
    assert box_of(session).currentText() == "not said"
    session.book.put(Balance("only", d_g=0.01))
    # the only one there is needs no choice
    box = box_of(session)
    assert box.balance.name == "only"
    by_hand(box, 1)
    assert box_of(session).balance is None


def test_one_choice_for_every_sheet_by_its_key(session):
    same, other = session.book.put(Balance("kitchen", d_g=0.1), Balance("kitchen", d_g=0.001))
    box = box_of(session)
    assert box.balance is None
    told = []
    box.activated.connect(told.append)
    by_hand(box, 1)
    assert box_of(session).balance == other and told == [1]
    earlier = box_of(session)
    box.choose(same.key)
    # a sheet on which figures stand keeps what it shows
    earlier.refresh(keep=True)
    assert earlier.balance == other
    earlier.refresh()
    assert earlier.balance == same
    session.book.retire(same.key)
    earlier.refresh(keep=True)
    assert earlier.balance is None
    box.choose(None)
    assert box_of(session).currentText() == "not said"


def test_the_wheel_changes_no_balance_in_passing(session, qtbot):
    session.book.put(Balance("a", d_g=0.1), Balance("b", d_g=0.1))
    whole = QWidget()
    qtbot.addWidget(whole)
    column, line, box = QVBoxLayout(whole), QLineEdit(whole), box_of(session)
    column.addWidget(line)
    column.addWidget(box)
    whole.show()
    whole.activateWindow()
    qtbot.waitUntil(lambda: QApplication.activeWindow() is whole)

    def turn() -> None:
        down = QWheelEvent(QPointF(5, 5), QPointF(5, 5), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton,
                           Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
        QApplication.sendEvent(box, down)

    line.setFocus()
    turn()
    assert box.currentText() == "not said"
    box.setFocus()
    assert box.hasFocus()
    turn()
    assert box.currentText() == "b" and box_of(session).currentText() == "b"

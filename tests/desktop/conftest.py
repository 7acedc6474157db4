# SPDX-License-Identifier: MIT
"""The hand of the tests of whole jobs: keys into whatever has the focus, in the real window, on the test's own clock."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import QEvent, QLocale, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from desktop.app import App
from desktop.faults import Faults
from desktop.figures import THIN
from desktop.settings import Settings
from perfumery import Version, compose

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier


class Hand:
    """What a person does: keys into whatever has the focus, and waiting for the clock."""

    def __init__(self, app: App, qtbot, clock) -> None:
        self.app, self.qtbot, self.clock = app, qtbot, clock
        self.pressed = 0

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.app.window, key, modifier)
        self.pressed += 1
        QApplication.processEvents()

    def type(self, text: str) -> None:
        for letter in text:
            QTest.keyClicks(QApplication.focusWidget(), letter)
            self.pressed += 1
        QApplication.processEvents()

    def wait(self, **time: float) -> None:
        self.clock.tick(**time)
        self.app.session.ticked.emit(self.app.book.now())

    def line(self, text: str) -> None:
        """One formula line in the one cell that takes it."""
        before = len(self.version.lines)
        self.press(Key.Key_L, CTRL)
        self.type(text)
        self.press(Key.Key_Return)
        self.qtbot.waitUntil(lambda: len(self.version.lines) == before + 1)

    @property
    def version(self) -> Version:
        return self.app.session.version

    def cell(self, name: str, key: str) -> str:
        model = self.app.window.bench.formula.model
        place = next(at for at, row in enumerate(model.rows) if row.name == name)
        return model.cell(place, model.place_of(key)).strip().replace(THIN, " ")

    def figures_follow(self) -> None:
        """Every row on screen shows what the sums alone say of its line."""
        worked = compose(self.version, self.app.book.shelf(self.version), self.app.session.project.amount_g)
        model = self.app.window.bench.formula.model
        shown = [row for row in model.rows if not row.is_entry]
        assert [row.line.material for row in shown] == [row.line.material for row in worked.rows]
        for row, sum_ in zip(shown, worked.rows, strict=True):
            assert self.cell(row.name, "share") == f"{sum_.share * 100:.2f}"
            # to the balance's step, ties to the even one
            assert float(self.cell(row.name, "grams")) == float(round(Decimal(repr(round(sum_.grams, 9))), 3))

    def to_cell(self, name: str, key: str) -> None:
        """Walks to a cell with the arrow keys."""
        grid = self.app.window.bench.formula.grid
        model = grid.table
        wanted = next(at for at, row in enumerate(model.rows) if row.name == name)
        assert grid.hasFocus()
        for _ in range(60):
            at = grid.currentIndex()
            if (at.row(), at.column()) == (wanted, model.place_of(key)):
                return
            if at.row() != wanted:
                self.press(Key.Key_Down if at.row() < wanted else Key.Key_Up)
            else:
                self.press(Key.Key_Right if at.column() < model.place_of(key) else Key.Key_Left)
        raise AssertionError(f"no way to {name}, {key}")


@pytest.fixture(autouse=True, scope="session")
def no_country() -> None:
    """Numbers and dates are the same on every computer that runs the tests."""
    QLocale.setDefault(QLocale.c())


@pytest.fixture(autouse=True)
def no_window_stays() -> Iterator[None]:
    """Deletes the windows a test left behind: each would be styled again at every change of the look in every later test."""
    before = set(map(id, QApplication.topLevelWidgets())) if QApplication.instance() else set()
    yield
    if QApplication.instance():
        for widget in QApplication.topLevelWidgets():
            if id(widget) not in before and shiboken6.isValid(widget) and widget.parent() is None:
                widget.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture
def hand(qapp: QApplication, tmp_path: Path, clock, qtbot) -> Iterator[Hand]:
    app = App(qapp, Settings(tmp_path / "settings.ini"), Faults(tmp_path / "log"), clock=clock)
    app.window.first.keep_in(tmp_path)
    app.start()
    qtbot.waitExposed(app.window)
    app.window.activateWindow()
    yield Hand(app, qtbot, clock)
    app.window.close()
    for thing in (app.window, app.theme, app):
        thing.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)

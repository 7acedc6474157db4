# SPDX-License-Identifier: MIT
"""The whole job once, by keyboard, in the real window: an idea typed and pasted as a formula, a trial, a strip read for a day.

Every key goes where the focus is; the clock is the test's own. At the end the file alone is read again.
"""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from db import Book
from desktop.app import App
from desktop.faults import Faults
from desktop.figures import THIN
from desktop.settings import Settings
from perfumery import Making, Material, Project, Reading, Strip, Version, compose
from perfumery import series as series_of

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier
PASTED = """material	strength	parts
linalyl acetate		40,5
rain note (own base)		12
vanillin	10 % in dipropylene glycol	8
"""


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


def test_from_an_idea_to_curves_by_keyboard(hand: Hand, tmp_path: Path) -> None:
    app = hand.app

    # a book, a project, its first version
    hand.type("Quarry")
    hand.press(Key.Key_Return)
    assert app.book.name == "Quarry" and len(app.book.material_rows()) > 100
    hand.press(Key.Key_Space)
    hand.type("Slate Rain")
    hand.press(Key.Key_Return)
    assert app.session.project.code == "SR" and hand.version.code == "SR-1"

    # lines typed into one cell; a solid asks for its strength
    hand.line("linalool 110")
    hand.line("methyl dihydrojasmonate 200")
    hand.line("ambrox 10 20")
    named = {app.book.get(Material, line.material).short.casefold(): line for line in hand.version.lines}
    assert {line.parts for line in named.values()} == {110, 200, 20}
    (ambroxide,) = (line for line in hand.version.lines if line.parts == 20)
    assert ambroxide.strength == 0.1 and app.book.get(Material, ambroxide.carrier).name.casefold().startswith("ethanol")

    # rows from a spreadsheet, one of them a material the book has not got
    QApplication.clipboard().setText(PASTED)
    hand.press(Key.Key_V, CTRL)
    formula = app.window.bench.formula
    assert formula.stack.currentWidget() is formula.paste
    hand.press(Key.Key_Return, CTRL)
    hand.qtbot.waitUntil(lambda: len(hand.version.lines) == 6)
    assert app.book.get(Material, "rain note (own base)") is not None
    assert {line.parts for line in hand.version.lines} >= {40.5, 12, 8}

    # the rest filled up with ethanol, and one figure changed: everything moves at once
    hand.line("ethanol 1")
    app.window.bench.formula.grid.setFocus()
    hand.to_cell("Ethanol", "parts")
    hand.press(Key.Key_U, CTRL)
    assert hand.cell("Ethanol", "parts") == "609.5" and hand.cell("Linalool", "share") == "11.00"
    hand.to_cell("Linalool", "parts")
    hand.type("120")
    hand.press(Key.Key_Return)
    hand.qtbot.waitUntil(lambda: hand.cell("Linalool", "share") == "12.00")
    assert hand.cell("Ethanol", "parts") == "599.5" and hand.cell("Linalool", "grams") == "0.600"
    worked = compose(hand.version, app.book.shelf(hand.version), 5.0)
    assert worked.total_parts == 1000 and worked.neat_parts == pytest.approx(120 + 200 + 2 + 40.5 + 12 + 0.8)
    hand.press(Key.Key_Z, CTRL)
    assert hand.cell("Linalool", "share") == "11.00"
    hand.press(Key.Key_Z, CTRL | Qt.KeyboardModifier.ShiftModifier)
    assert hand.cell("Linalool", "share") == "12.00"

    # a trial freezes it; the next edit makes a draft child, undone to nothing the child is gone
    hand.press(Key.Key_T, CTRL)
    hand.press(Key.Key_Return)
    (trial,) = app.book.all(Making, kind="trial")
    assert trial.code == "T-001" and hand.version.is_frozen
    hand.to_cell("Linalool", "parts")
    hand.type("90")
    hand.press(Key.Key_Return)
    hand.qtbot.waitUntil(lambda: hand.version.code == "SR-2")
    assert hand.version.parent == app.book.get(Version, "SR-1").key and not hand.version.is_frozen
    hand.press(Key.Key_Z, CTRL)
    assert hand.version.code == "SR-1" and app.book.get(Version, "SR-2") is None

    # a strip from its vial, read at the strip's own times, one of them late
    hand.press(Key.Key_D, CTRL)
    hand.press(Key.Key_Return)
    (strip,) = app.book.all(Strip)
    assert strip.code == "P01" and strip.dipped_at == hand.clock()
    reads = [
        ({"minutes": 2}, "5", "35", "3", "peel", "loud"),
        ({"minutes": 13}, "4,5", "30", "3", "peel", ""),
        ({"hours": 3, "minutes": 55}, "3", "", "-1", "woody", "calmer"),
        ({"hours": 20}, "1,5", "5", "2", "ambery 2", ""),
    ]
    for time, intensity, distance, liking, words, note in reads:
        hand.wait(**time)
        hand.press(Key.Key_R, CTRL)
        if intensity == "5":
            hand.type("9")
            hand.press(Key.Key_Return)
            field = app.window.bench.strips.reading.intensity
            assert "Off the scale" in field.accessibleDescription()
            field.setFocus()
            field.selectAll()
        for text in (intensity, distance, liking, words):
            hand.type(text)
            hand.press(Key.Key_Return)
        hand.press(Key.Key_Return)  # no further word
        hand.type(note)
        hand.press(Key.Key_Return, CTRL)
    kept = sorted(app.book.all(Reading), key=lambda r: r.at)
    assert [(r.intensity, r.distance_cm, r.liking) for r in kept] == [(5, 35, 3), (4.5, 30, 3), (3, None, -1), (1.5, 5, 2)]
    assert [list(r.words) for r in kept] == [["peel"], ["peel"], ["woody"], ["ambery"]] and kept[3].words["ambery"] == 2
    assert [r.note for r in kept] == ["loud", "", "calmer", ""]
    assert [r.due_s for r in kept] == [120, 900, 14400, 86400]
    (curve,) = app.window.bench.strips.curves.curves
    assert curve.series == series_of(kept, strip)
    assert curve.series[2] == (pytest.approx(4 + 10 / 60), 3)

    # the file alone still holds it
    path = app.book.path
    app.close_book()
    with Book.open(path, hand.clock) as book:
        assert book.check() == ()
        assert [p.name for p in book.all(Project)] == ["Slate Rain"]
        assert book.readings((strip.key,))[strip.key] == tuple(kept)
        version = book.get(Version, "SR-1")
        assert version.frozen_at == trial.started_at and book.strips(version.project) == (strip,)
        assert hand.clock() - strip.dipped_at == timedelta(hours=24, minutes=10)


def test_a_reading_takes_few_keys(hand: Hand) -> None:
    """Intensity, liking and one word, from opening the row to kept: as quick as a pencil."""
    app = hand.app
    hand.type("Q")
    hand.press(Key.Key_Return)
    hand.press(Key.Key_Space)
    hand.type("Slate Rain")
    hand.press(Key.Key_Return)
    hand.line("linalool 110")
    hand.press(Key.Key_T, CTRL)
    hand.press(Key.Key_Return)
    hand.press(Key.Key_D, CTRL)
    hand.press(Key.Key_Return)
    hand.wait(minutes=2)
    hand.pressed = 0
    hand.press(Key.Key_R, CTRL)
    hand.type("5")
    hand.press(Key.Key_Return)
    hand.press(Key.Key_Return)
    hand.type("3")
    hand.press(Key.Key_Return)
    hand.type("pe")
    hand.press(Key.Key_Return, CTRL)
    (kept,) = app.book.all(Reading)
    assert (kept.intensity, kept.liking, len(kept.words)) == (5, 3, 1)
    assert hand.pressed <= 12

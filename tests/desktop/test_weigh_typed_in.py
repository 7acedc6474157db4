# SPDX-License-Identifier: MIT
"""A sheet weighed by hand and typed in: the invented studio's T-024 once more, for the hour it was weighed, all or nothing."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, DiskFull, make_demo
from desktop.models.moments import Unreadable
from desktop.models.weigh import suggested_lines
from desktop.pages.weigh.page import WeighPage
from desktop.pages.weigh.typed_in import TypedInSheet
from desktop.pages.weigh.typed_rows import at_hand, hour_of
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Bottle, Contents, Making, Move, Version
from perfumery.findings import refuse

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier
HOUR = "26 Feb 2025 10:25"


@dataclass
class Desk:
    book: Book
    session: Session
    page: WeighPage
    finished: list[int] = field(default_factory=list)
    said: list[tuple[str, str]] = field(default_factory=list)

    @property
    def sheet(self) -> TypedInSheet:
        return self.page.typed

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget(), key, modifier)
        QApplication.processEvents()

    def type(self, text: str) -> None:
        for letter in text:
            QTest.keyClicks(QApplication.focusWidget(), letter)
        QApplication.processEvents()

    def cell(self, place: int, key: str, text: str) -> bool:
        model = self.sheet.model
        return model.setData(model.index(place, model.place_of(key)), text)

    def fill(self, hour: str = HOUR) -> list[str]:
        masses = [f"{move.read_g:.3f}" for move in self.book.weighings.poured(self.book.get(Making, "T-024").key)]
        self.sheet.weighed_on.setText(hour)
        self.sheet._read_hour()
        for place, mass in enumerate(masses):
            self.cell(place, "figure", mass)
        return masses

    def place(self, name: str) -> int:
        return next(row.place for row in self.sheet.model.rows if row.row.name == name)

    def wrong(self) -> str:
        return self.sheet.wrong.text().replace("\u2009", " ")


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("typed") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


@pytest.fixture
def desk(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Desk]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        session = Session(book, theme, Settings(tmp_path / "settings.ini"))
        session.settings.keep(f"balance/{book.uid}", str(next(b for b in book.all(Balance) if b.name.startswith("B1")).key))
        session.choose_version(book.get(Version, "SR-3").key)
        page = WeighPage(session)
        page.resize(1216, 740)
        page.show()
        qtbot.waitExposed(page)
        page.activateWindow()
        qtbot.waitUntil(page.isActiveWindow)
        page.begin.typed.click()
        made = Desk(book, session, page)
        page.typed.finished.connect(made.finished.append)
        session.said.connect(lambda sentence, tone: made.said.append((sentence, tone)))
        yield made
        shiboken6.delete(page)


def test_t024_typed_for_its_hour_by_keyboard_is_the_same(desk: Desk) -> None:
    sheet, book = desk.sheet, desk.book
    assert desk.page.stack.currentWidget() is sheet and sheet.title.text() == "Type in SR-3 from paper"
    assert sheet.model.rowCount() == 20 and sheet.model.row(0).row.name == "Vetiver oil"
    masses = [f"{move.read_g:.3f}" for move in book.weighings.poured(book.get(Making, "T-024").key)]
    before = book.left(*(row.key for row in book.bottles.rows()))
    count = len(list(book.all(Making)))
    assert sheet.weighed_on.hasFocus()
    desk.type("26.2.2025 10:25")
    desk.press(Key.Key_Return)
    for mass in masses[:-1]:
        desk.type(mass.replace(".", ","))
        desk.press(Key.Key_Return)
    assert sheet.counted.text().startswith("19 of 20 figures")
    assert "24\u2009% more than its target" in sheet.model.row(0).noted
    desk.type(masses[-1])
    assert len(list(book.all(Making))) == count  # nothing is booked before all of it can be
    desk.press(Key.Key_Return, CTRL)
    assert desk.wrong() == "" and len(desk.finished) == 1
    vial = book.get(Bottle, desk.finished[0])
    (making,) = book.all(Making, into_bottle=vial.key)
    assert book.as_weighed(making.key) == pytest.approx(book.as_weighed("T-024"), rel=1e-9)
    at = datetime.fromisoformat("2025-02-26T10:25")
    assert {moment.replace(tzinfo=None) for moment in (making.started_at, making.finished_at)} == {at}
    assert {move.at.replace(tzinfo=None) for move in book.weighings.poured(making.key)} == {at}
    (state,) = book.all(Contents, bottle=vial.key)
    assert state.at.replace(tzinfo=None) == at and making.remark == "typed in from paper" and making.code == "T-029"
    after = book.left(*before)
    for move in book.weighings.poured(making.key):
        # what was weighed anew since then holds what was found; from the others it is gone
        since = any(m.kind == "found" and m.at > move.at for m in book.bottles.moves(move.from_bottle))
        assert before[move.from_bottle] - after[move.from_bottle] == pytest.approx(0.0 if since else move.mass_g)
    assert book.book_mass(vial.key) == pytest.approx(5.014)
    assert desk.page.stack.currentWidget() is desk.page.done and desk.page.done.title.text() == "T-029 as weighed"
    assert "is booked for 26 Feb 2025, 10:25: 5.014" in desk.said[-1][0].replace("\u2009", " ")
    assert not book.weighings.unfinished()


def test_the_contents_are_those_of_the_hour(desk: Desk) -> None:
    """A stock re-labelled since then counts as it was."""
    book = desk.book
    key = book.get(Bottle, "K18").key
    shares = book.contents(key, datetime.fromisoformat("2025-02-26T10:25+01:00"))
    stronger = {k: (s * 1.5 if k == book.get(Bottle, "K18").material else 0.0) for k, s in shares.items()}
    rest = next(k for k, s in stronger.items() if not s)
    stronger[rest] = 1 - sum(stronger.values())
    book.put(Contents(bottle=key, at=book.now(), shares=stronger, reason="correction"))
    desk.sheet.start()
    desk.fill()
    desk.sheet.book()
    assert book.as_weighed(desk.finished[0]) == pytest.approx(book.as_weighed("T-024"), rel=1e-9)


def test_every_line_needs_a_figure_or_a_dash(desk: Desk) -> None:
    sheet, book = desk.sheet, desk.book
    desk.fill()
    place = desk.place("2,6-Nonadienal")
    desk.cell(place, "figure", "")
    sheet.book()
    assert "2,6-Nonadienal 0.1 % in TEC: it has no figure" in desk.wrong() and sheet.grid.currentIndex().row() == place
    assert desk.cell(place, "figure", "-") and sheet.model.cell(place, sheet.model.place_of("figure")) == "left out"
    assert "1 line left out" in sheet.counted.text()
    sheet.book()
    making = next(iter(book.all(Making, into_bottle=desk.finished[0])))
    assert len(making.plan) == 19 and making.remark == "typed in from paper; left out: 2,6-Nonadienal 0.1\u2009% in TEC"
    assert len(book.weighings.poured(making.key)) == 19


def test_nothing_is_booked_while_something_is_wrong(desk: Desk) -> None:
    sheet, book = desk.sheet, desk.book
    makings, moves = len(list(book.all(Making))), len(list(book.all(Move)))
    desk.fill()
    for place, key, text, why in (
        (3, "figure", "heavy", "heavy"), (3, "figure", "0", "0"), (3, "bottle", "K99", "There is no bottle K99."),
        (3, "bottle", "K19B", "holds 0.090 g by the book"), (0, "figure", "900", "by the book"),
    ):  # fmt: skip
        kept = sheet.model.row(place)
        assert not desk.cell(place, key, text) or "by the book" in why
        row = sheet.model.row(place)
        assert why in row.wrong.replace("\u2009", " ") and text in (row.figure, row.code)
        column = sheet.model.columns[sheet.model.place_of(row.cell)]
        assert sheet.model.tone(row, column) == "brick" and sheet.model.tip(row, column) == row.wrong
        sheet.book()
        assert why in desk.wrong() and desk.wrong().endswith("Nothing was booked.")
        desk.cell(place, "figure", kept.figure)
        desk.cell(place, "bottle", kept.code)
    assert not sheet.model.row(3).wrong
    for hour, why in (("", "day and time"), ("soon", "not a time"), ("1 Jan 2031 10:00", "has not come yet"),
                      ("31.2.2025 10:00", "There is no 31 Feb 2025."), ("soon 10:00", "names no day")):  # fmt: skip
        sheet.weighed_on.setText(hour)
        sheet.book()
        assert why in sheet.hour_field.remark.text(), hour
    sheet.weighed_on.setText("1 Jan 2025 10:00")
    sheet.book()
    assert "held on 1 Jan 2025, 10:00 is not in the book" in desk.wrong()
    sheet.weighed_on.setText(HOUR)
    for line, part, why in ((sheet.vial, sheet.vial_field, "V024"), (sheet.tare, sheet.tare_field, "light"),
                            (sheet.amount, sheet.amount_field, "no mass")):  # fmt: skip
        kept_text = line.text()
        line.setText(why)
        sheet.book()
        assert part.remark.text() and line.hasFocus(), why
        line.setText(kept_text)
    sheet.vial.setText("")
    sheet.book()
    assert sheet.vial_field.is_wrong
    for row in sheet.model.rows:
        desk.cell(row.place, "figure", "left out")
    sheet.book()
    assert "nothing to book" in desk.wrong() and not desk.finished
    assert (len(list(book.all(Making))), len(list(book.all(Move)))) == (makings, moves)


def test_another_bottle_is_typed_by_its_code(desk: Desk) -> None:
    sheet, book = desk.sheet, desk.book
    desk.fill()
    place = desk.place("Vetiver oil")
    assert desk.cell(place, "bottle", "m27-1")
    row = sheet.model.row(place)
    assert row.code == "M27-1" and "M27-1 is Black pepper oil" in row.noted
    # the amount changes: what was typed stays
    sheet.amount.setText("5.5")
    sheet.amount.editingFinished.emit()
    row = sheet.model.row(place)
    assert (row.code, row.figure) == ("M27-1", "0.062") and row.row.planned.target_g == pytest.approx(0.055)
    sheet.book()
    vial = desk.finished[0]
    pepper = book.get(Bottle, "M27-1").material
    assert book.as_weighed(vial)[pepper] == pytest.approx(0.062 / 5.014 * 1000)
    desk.page.begin.typed.click()
    desk.cell(0, "bottle", "")
    assert sheet.model.row(0).code == sheet.model.row(0).row.bottle.bottle.code


def test_a_running_total_is_taken_apart(desk: Desk) -> None:
    sheet, book = desk.sheet, desk.book
    masses = [float(text) for text in desk.fill()]
    sheet.modes.choose("running total")
    sheet.modes.chosen.emit("running total")
    assert "total cannot be less" in " ".join(row.wrong for row in sheet.model.rows)
    for place in range(20):
        desk.cell(place, "figure", f"{sum(masses[: place + 1]):.3f}")
    sheet.book()
    (making,) = book.all(Making, into_bottle=desk.finished[0])
    assert making.mode == "running total"
    assert [move.mass_g for move in book.weighings.poured(making.key)] == pytest.approx(masses)


def test_one_refused_in_the_middle_leaves_it_open_by_name(desk: Desk, monkeypatch) -> None:
    sheet, book = desk.sheet, desk.book
    desk.fill()
    real, calls = book.weighings.accept, []

    def accept(*args, **kwargs):
        calls.append(args)
        if len(calls) == 7:
            raise refuse("beyond-left", code="M16-1", left_g=0.1, wanted_g=0.3)
        return real(*args, **kwargs)

    monkeypatch.setattr(book.weighings, "accept", accept)
    sheet.book()
    assert "line 7 of 20" in desk.wrong() and "T-029 stays open in V029" in desk.wrong() and not desk.finished
    assert sheet.book_button.isHidden()
    sheet.book()
    assert len(calls) == 7
    (making,) = book.weighings.unfinished()
    assert making.code == "T-029" and len(book.weighings.poured(making.key)) == 6
    desk.press(Key.Key_Escape)
    assert desk.page.stack.currentWidget() is desk.page.begin
    assert desk.page.begin.open_ones.itemAt(0).widget().text() == "T-029 in V029 was cut off at line 7 of 20: go on"
    desk.page.begin.typed.click()
    assert not sheet.book_button.isHidden() and not desk.wrong() and not any(row.figure for row in sheet.model.rows)
    # the end itself is refused
    monkeypatch.setattr(book.weighings, "accept", real)
    monkeypatch.setattr(book.weighings, "finish", lambda *_, **__: (_ for _ in ()).throw(DiskFull(Path("x"))))
    desk.fill()
    sheet.book()
    assert "could not be finished" in desk.wrong() and desk.said[-1][1] == "refused"


def test_what_was_typed_is_found_again(desk: Desk) -> None:
    sheet, book = desk.sheet, desk.book
    desk.fill()
    sheet.tare.setText("12.081")
    desk.press(Key.Key_Escape)
    assert desk.page.stack.currentWidget() is desk.page.begin
    desk.page.begin.typed.click()
    assert sheet.model.row(0).figure == "0.062" and sheet.tare.text() == "12.081" and sheet.weighed_on.text() == HOUR
    sheet.start(book.get(Version, "SR-4").key)
    assert sheet.title.text() == "Type in SR-4 from paper" and not sheet.tare.text() and not sheet.weighed_on.text()
    assert not any(row.figure for row in sheet.model.rows)
    desk.session.version_key = None
    sheet.start()
    assert sheet.book_button.isHidden() and sheet.model.rowCount() == 0 and "Choose a version" in sheet.told.text()
    sheet.book()


def test_a_child_without_its_reason_is_not_begun(desk: Desk) -> None:
    book = desk.book
    parent = book.get(Version, "SR-3")
    (child,) = book.put(replace(parent, key=None, code="SR-9", parent=parent.key,
                        reason="", made_at=None, frozen_at=None, starred=False,
                        lines=tuple(replace(line, key=None) for line in parent.lines)))  # fmt: skip
    desk.sheet.start(child.key)
    # never weighed: the order that the sheet was printed in
    shown = [row.row.planned.line for row in desk.sheet.model.rows]
    assert shown == list(suggested_lines(book, book.get(Version, child.key)))
    desk.sheet.weighed_on.setText("now")
    for row in desk.sheet.model.rows:
        desk.cell(row.place, "figure", f"{row.row.planned.target_g:.3f}")
    desk.sheet.book()
    assert "no reason yet" in desk.wrong() and not book.weighings.unfinished()


def test_enter_goes_down_and_tab_across(desk: Desk) -> None:
    sheet = desk.sheet
    sheet.grid.setFocus()
    sheet._go_to(0, "figure")
    desk.press(Key.Key_Return)
    assert (sheet.grid.currentIndex().row(), sheet.model.columns[sheet.grid.currentIndex().column()].key) == (1, "figure")
    desk.type("heavy")
    desk.press(Key.Key_Return)
    assert sheet.grid.currentIndex().row() == 1 and "not a number" in sheet.said.text()
    sheet._go_to(19, "figure")
    desk.press(Key.Key_Return)
    assert sheet.book_button.hasFocus()


def test_an_hour_as_a_hand_writes_it(clock) -> None:
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    for text in ("26 Feb 2025 10:25", "26.2.2025, 10:25", "2025-02-26 10:25", "26 Feb 10:25", "26. Feb 2025 10.25"):
        assert hour_of(text, clock()).replace(tzinfo=None) == datetime(2025, 2, 26, 10, 25), text
    assert hour_of("now", clock()) == clock() and hour_of("9:10", clock()).day == 10
    for text in ("", "26 Feb 2025", "30.2.2025 10:00"):
        with pytest.raises(Unreadable):
            hour_of(text, clock())


def test_what_is_at_hand_for_an_hour_before_a_weighing_anew(desk: Desk, clock) -> None:
    book = desk.book
    key = book.get(Bottle, "M01-1").key
    then, left = book.now(), book.left(book.get(Bottle, "M01-1").key)[key]
    assert at_hand(book, key, then) == pytest.approx(left)
    clock.tick(days=1)
    book.bottles.reweigh(key, 0.5)
    clock.tick(days=1)
    assert at_hand(book, key, book.now()) == pytest.approx(0.5)
    assert at_hand(book, key, then) == pytest.approx(book.book_mass(key, then)) != pytest.approx(0.5)
    (bare,) = book.put(Bottle("X9"))
    assert at_hand(book, bare.key, then) is None


def test_the_model_keeps_its_promises(desk: Desk) -> None:
    model = desk.sheet.model
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    rows = model.rows
    for shown in (rows[3:], (), rows):
        model.show_rows(shown)
    assert tester.model() is model
    assert not model.setData(model.index(0, 6), "1", Qt.ItemDataRole.DisplayRole)
    assert not model.flags(model.index(0, 0)) & Qt.ItemFlag.ItemIsEditable

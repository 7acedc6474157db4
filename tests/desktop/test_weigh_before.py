# SPDX-License-Identifier: MIT
"""Before the first drop: which bottle, what is missing, what is too small, in which order, and what to take care of."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop.models.before import OPENED, WHOLE, Ways, most_of, remedies_for, stock_of, too_heavy
from desktop.models.bottle_choices import ChoiceModel, choices
from desktop.models.plan_basis import Basis
from desktop.models.plan_rows import PlanModel, views
from desktop.models.weigh import plan_of
from desktop.pages.weigh.page import WeighPage
from desktop.pages.weigh.start import StartSheet
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Bottle, Line, Making, Version

Key, NONE = Qt.Key, Qt.KeyboardModifier.NoModifier


@dataclass
class Desk:
    book: Book
    session: Session
    page: WeighPage

    @property
    def sheet(self) -> StartSheet:
        return self.page.begin

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = NONE) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.page, key, modifier)
        QApplication.processEvents()

    def type(self, amount: str) -> None:
        self.sheet.amount.setFocus()
        self.sheet.amount.selectAll()
        QTest.keyClicks(self.sheet.amount, amount)

    def press_text(self, text: str) -> None:
        """A text and Enter, at the balance."""
        QTest.keyClicks(QApplication.focusWidget(), text)
        self.press(Key.Key_Return)

    def on(self, balance: str) -> None:
        self.sheet.balance.choose(next(each.key for each in self.book.all(Balance) if each.name.startswith(balance)))

    def names(self) -> list[str]:
        return [view.row.name for view in self.sheet.model.rows]

    def bottle(self, name: str) -> str:
        return next(view.row.bottle.bottle.code for view in self.sheet.model.rows if view.row.name == name)

    def go_to(self, name: str) -> None:
        self.sheet.grid.setFocus()
        self.sheet.grid.go_to(self.sheet.model.index(self.names().index(name), 0))

    def key(self, code: str) -> int:
        return self.book.get(Bottle, code).key


def plain(text: str) -> str:
    """A rich text as it is read."""
    return re.sub("<[^>]+>", "", text.replace("<br>", "\n")).replace("\u2009", " ").replace("&#x27;", "'")


def links(text: str) -> list[str]:
    return re.findall("href='([^']+)'", text)


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("before") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


@pytest.fixture
def book(studio_bytes: bytes, tmp_path: Path, clock) -> Iterator[Book]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as opened:
        yield opened


def weaken(book: Book, code: str, share: float) -> None:
    """The bottle truly holds so much of its material from now on, whatever its label says."""
    bottle = book.get(Bottle, code)
    rest = {key: part for key, part in book.contents(bottle.key).items() if key != bottle.material}
    shares = {bottle.material: share, **{key: part * (1 - share) / sum(rest.values()) for key, part in rest.items()}}
    state = book.bottles.states(bottle.key)[-1]
    book.put(replace(state, key=None, at=book.now(), reason="correction", shares=shares))


@pytest.fixture
def desk(book: Book, theme: Theme, tmp_path: Path, qtbot) -> Iterator[Desk]:
    session = Session(book, theme, Settings(tmp_path / "settings.ini"))
    session.choose_version(book.get(Version, "SR-3").key)
    page = WeighPage(session)
    page.resize(1216, 740)
    page.show()
    qtbot.waitExposed(page)
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    made = Desk(book, session, page)
    made.on("B1")
    page.take_focus()
    yield made
    shiboken6.delete(page)


def balance(book: Book, name: str) -> Balance:
    return next(each for each in book.all(Balance) if each.name.startswith(name))


# what the shelf holds -----------------------------------------------------------------------------------------------------


def test_of_the_last_ninety_milligrams_either_way(book: Book) -> None:
    """One line needs 0.125 g, 0.090 are left: 3.60 g with the accord from its bottle, 2.30 g with it opened."""
    book.bottles.discard(book.get(Bottle, "K19").key)
    basis = Basis(book, book.get(Version, "SR-3"))
    plan = plan_of(book, basis.version, 5.0, basis=basis)
    found = stock_of(book, basis, plan, Ways(), 5.0, 0.01)
    (short,) = found.shortages
    assert short.row.bottle.code == "K19B" and short.needs_g == pytest.approx(0.125, abs=1e-4) and not short.others
    assert (found.whole.amount_g, found.whole.row.bottle.code) == (3.60, "K19B")
    assert (found.opened.amount_g, found.opened.row.bottle.code) == (2.30, "K19B")


def test_an_order_larger_than_the_accord_that_stands_there(book: Book) -> None:
    basis = Basis(book, book.get(Version, "SR-4"))
    plan = plan_of(book, basis.version, 76.775, basis=basis)
    found = stock_of(book, basis, plan, Ways(), 76.775, 0.01)
    (spared,) = found.spared
    assert not found.shortages and spared.row.bottle.code == "A-WS"
    assert spared.needs_g == pytest.approx(9.597, abs=5e-4) and spared.row.left_g == pytest.approx(7.36)
    assert (found.whole.amount_g, found.whole.row.bottle.code) == (58.88, "A-WS")
    assert (found.opened.amount_g, found.opened.row.bottle.code) == (172.28, "M05-1")


def test_what_an_order_takes_of_each_bottle(book: Book) -> None:
    plan = plan_of(book, book.get(Version, "SR-4"), 76.775, same_mass=True)
    needs: dict[str, float] = {}
    for row in plan.rows:
        needs[row.bottle.bottle.code] = needs.get(row.bottle.bottle.code, 0.0) + row.planned.target_g
    assert {code: round(needs[code], 3) for code in ("M13-1", "M17-1", "K20", "K21", "K22", "K19", "K23", "K26")} == {
        "M13-1": 4.990, "M17-1": 1.536, "K20": 1.152, "K21": 0.768, "K22": 0.288, "K19": 2.495, "K23": 0.288, "K26": 0.384,
    }  # fmt: skip


def test_two_lines_of_one_stock_share_what_is_left(book: Book) -> None:
    """The second line goes to the other bottle where the first has taken what was there."""
    full = book.get(Bottle, "K19")
    parent = book.get(Version, "SR-3")
    line = Line(parts=500, material=full.material, strength=0.1, carrier=full.carrier)
    (version,) = book.put(replace(parent, key=None, code="SR-9", parent=None, reason="two", made_at=None, frozen_at=None,
                                  starred=False, lines=(line, replace(line)), total=1000))  # fmt: skip
    plan = plan_of(book, version, 0.12)
    assert [row.bottle.bottle.code for row in plan.rows] == ["K19", "K19"]
    book.bottles.reweigh(book.get(Bottle, "K19").key, 0.10)
    assert [row.bottle.bottle.code for row in plan_of(book, version, 0.12).rows] == ["K19", "K19B"]


def test_links_take_another_bottle_and_the_largest_amount(desk: Desk) -> None:
    sheet, noticed = desk.sheet, desk.sheet.beside.noticed
    assert noticed.stock.isHidden()
    line = next(view.row.planned.line for view in sheet.model.rows if view.row.name == "Ambroxide")
    sheet._on_bottle_chosen(line, desk.key("K19B"))
    assert desk.bottle("Ambroxide") == "K19B"
    said = plain(noticed.stock.text())
    assert "K19B holds 0.090 g, and 0.125 g is needed. Instead: take K19 (12.95 g left)." in said
    assert "Accord from its bottle: at most 3.601 g in all (held back by K19B, Ambroxide)." in said
    noticed.stock.linkActivated.emit(links(noticed.stock.text())[0])
    assert desk.bottle("Ambroxide") == "K19" and noticed.stock.isHidden()
    sheet._on_bottle_chosen(line, desk.key("K19B"))
    whole = next(target for target in links(noticed.stock.text()) if target.endswith(WHOLE))
    noticed.stock.linkActivated.emit(whole)
    assert sheet.amount.text() == "3.601" and noticed.stock.isHidden() and desk.bottle("Ambroxide") == "K19B"


def test_an_accord_is_opened_and_closed_from_the_links(desk: Desk) -> None:
    desk.session.choose_version(desk.book.get(Version, "SR-4").key)
    desk.type("76.775")
    noticed = desk.sheet.beside.noticed
    assert "A-WS holds 7.360 g, and 9.597 g is needed. It is opened into its lines." in plain(noticed.stock.text())
    assert "Opened: at most 172.288 g in all (held back by M05-1, Pine needle oil)." in plain(noticed.stock.text())
    whole, opened = (next(t for t in links(noticed.stock.text()) if t.endswith(way)) for way in (WHOLE, OPENED))
    noticed.stock.linkActivated.emit(opened)
    assert desk.sheet.amount.text() == "172.288" and len(desk.names()) == 28 and noticed.stock.isHidden()
    noticed.stock.linkActivated.emit(whole)
    assert desk.sheet.amount.text() == "58.880" and len(desk.names()) == 21 and noticed.stock.isHidden()
    desk.type("70")
    # it was asked for, so it is not opened by itself
    assert len(desk.names()) == 21
    assert "A-WS holds 7.360 g, and 8.750 g is needed." in plain(noticed.stock.text())


def test_many_bottles_that_lack_are_counted(desk: Desk) -> None:
    desk.type("2000")
    said = plain(desk.sheet.beside.noticed.stock.text())
    # six of them, and the accord's
    assert said.count(" is needed.") == 7 and "other bottles hold too little." in said


# another bottle -----------------------------------------------------------------------------------------------------------


def test_another_bottle_by_keyboard(desk: Desk) -> None:
    desk.go_to("Ambroxide")
    panel = desk.sheet.beside.line
    assert panel.name.text() == "Ambroxide 10\u2009% in ethanol · 0.125\u2009g" and "A trace" in panel.why.text() + "A trace"
    shown = [[panel.model.cell(at, column).strip() for column in range(5)] for at in range(panel.model.rowCount())]
    assert shown == [["●", "K19", "", "12.95", "10.00"], ["○", "K19B", "", "0.09", "10.00"]]
    desk.press(Key.Key_Return)
    assert panel.grid.hasFocus()
    desk.press(Key.Key_Down)
    desk.press(Key.Key_Return)
    assert desk.bottle("Ambroxide") == "K19B" and desk.sheet.grid.hasFocus()
    assert desk.sheet.grid.current.name == "Ambroxide" and panel.model.row(1).is_taken and panel.model.row(1).is_short
    desk.press(Key.Key_Return)
    desk.press(Key.Key_Escape)
    assert desk.sheet.grid.hasFocus() and desk.bottle("Ambroxide") == "K19B"


def test_another_bottle_by_mouse(desk: Desk) -> None:
    desk.go_to("Ambroxide")
    grid = desk.sheet.beside.line.grid
    QTest.mouseClick(grid.viewport(), Qt.MouseButton.LeftButton, NONE, grid.visualRect(grid.table.index(1, 1)).center())
    assert desk.bottle("Ambroxide") == "K19B"


def test_what_was_chosen_is_dropped_with_the_version(desk: Desk) -> None:
    desk.go_to("Ambroxide")
    desk.sheet._on_bottle_chosen(desk.sheet.grid.current.planned.line, desk.key("K19B"))
    desk.go_to("Wet slate accord")
    desk.sheet.beside.line.ways.buttons[OPENED].click()
    desk.press(Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert len(desk.names()) == 27 and "K19B" in [view.row.bottle.bottle.code for view in desk.sheet.model.rows]
    desk.session.choose_version(desk.book.get(Version, "SR-4").key)
    assert desk.sheet._ways == Ways() and desk.sheet.orders.name == "as last time"
    desk.session.choose_version(desk.book.get(Version, "SR-3").key)
    assert desk.bottle("Ambroxide") == "K19" and len(desk.names()) == 20


def test_what_was_chosen_stays_while_the_book_changes(desk: Desk) -> None:
    desk.go_to("Ambroxide")
    desk.sheet._on_bottle_chosen(desk.sheet.grid.current.planned.line, desk.key("K19B"))
    bottle = desk.book.get(Bottle, "M17-1")
    desk.book.put(replace(bottle, place="C-6"))
    assert desk.bottle("Ambroxide") == "K19B"
    desk.book.bottles.discard(desk.key("K19B"))
    assert desk.bottle("Ambroxide") == "K19"


def test_an_accord_is_opened_into_its_lines_and_closed_again(desk: Desk) -> None:
    sheet, panel = desk.sheet, desk.sheet.beside.line
    desk.go_to("Vetiver oil")
    assert panel.ways.isHidden()
    desk.go_to("Wet slate accord")
    at = desk.names().index("Wet slate accord")
    assert not panel.ways.isHidden() and panel.ways.name == WHOLE
    assert "inside" not in sheet.grid.shown_columns()
    panel.ways.buttons[OPENED].click()
    assert len(desk.names()) == 27 and "inside" in sheet.grid.shown_columns()
    # its lines stand where it stood, and the focus is on the first of them
    assert sheet.grid.currentIndex().row() == at and sheet.grid.current.inside == "Wet slate accord"
    assert "Of Wet slate accord." in panel.why.text() and panel.ways.name == OPENED
    desk.press(Key.Key_Escape)
    panel.ways.buttons[WHOLE].click()
    assert desk.names()[at] == "Wet slate accord" and sheet.grid.currentIndex().row() == at
    desk.book.bottles.discard(desk.key("A-WS"))
    assert len(desk.names()) == 27
    desk.go_to("Geosmin")
    assert panel.ways.name == OPENED and not panel.ways.buttons[WHOLE].isEnabled()


def test_a_line_without_a_bottle_says_what_to_do(desk: Desk) -> None:
    for code in ("K19", "K19B"):
        desk.book.bottles.discard(desk.key(code))
    desk.go_to("Ambroxide")
    panel = desk.sheet.beside.line
    assert panel.grid.isHidden() and not panel.none.isHidden() and not desk.sheet.begin.isEnabled()
    desk.press(Key.Key_Return)
    assert desk.sheet.grid.hasFocus()


# order --------------------------------------------------------------------------------------------------------------------


def test_the_order_is_changed_by_hand_and_kept_with_the_weighing(desk: Desk) -> None:
    sheet = desk.sheet
    before = desk.names()
    desk.go_to("Vetiver oil")
    assert before[0] == "Vetiver oil"
    desk.press(Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert desk.names() == before
    desk.press(Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    desk.press(Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    moved = [*before[1:3], before[0], *before[3:]]
    assert desk.names() == moved and sheet.orders.name == "own" and sheet.grid.current.name == "Vetiver oil"
    sheet.orders.buttons["suggested"].click()
    assert desk.names() != moved
    sheet.orders.buttons["own"].click()
    assert desk.names() == moved
    sheet.grid.setFocus()
    desk.press(Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    making = desk.book.get(Making, desk.page.scale.making.key)
    assert [planned.line for planned in making.plan] == [view.row.planned.line for view in sheet.model.rows]


def test_as_written_is_as_written(desk: Desk) -> None:
    desk.sheet.orders.buttons["as written"].click()
    version = desk.book.get(Version, "SR-3")
    assert [view.row.planned.line for view in desk.sheet.model.rows] == [line.key for line in version.lines]
    desk.sheet.orders.buttons["own"].click()
    assert [view.row.planned.line for view in desk.sheet.model.rows] == [line.key for line in version.lines]


def test_the_reason_of_the_current_line_stands_there(desk: Desk) -> None:
    told = {}
    for name in ("Wet slate accord", "2,6-Nonadienal", "Linalool"):
        desk.go_to(name)
        told[name] = desk.sheet.beside.line.why.text()
    assert "An accord" in told["Wet slate accord"] and "A trace" in told["2,6-Nonadienal"] and "The bulk" in told["Linalool"]


# too small ----------------------------------------------------------------------------------------------------------------


def test_a_line_too_small_with_what_would_do_for_it(desk: Desk) -> None:
    sheet, noticed = desk.sheet, desk.sheet.beside.noticed
    sheet.same_mass.setChecked(True)
    said = plain(noticed.small.text())
    assert "1 line is too small for B1 generic 0.001 g balance, under 0.032 g: 2,6-Nonadienal ± 6.4 %." in said
    assert "6.400 g in all would do: 1.400 g and 0.1615 € more." in said
    noticed.small.linkActivated.emit("row:" + str(desk.names().index("2,6-Nonadienal")))
    assert sheet.grid.current.name == "2,6-Nonadienal" and sheet.grid.hasFocus()
    told = plain(sheet.beside.line.remedies.text())
    assert "± 6.4 %; within 5 % from 0.032 g on. What would do:" in told
    assert "· 6.400 g in all: 1.400 g and 0.1615 € more" in told
    assert "· its stock made at 0.01 %, exchanged on the Bench: 0.253 g, ± 0.63 %, with 0.228 g more carrier" in told
    assert "B2" not in told
    sheet.beside.line.remedies.linkActivated.emit(links(sheet.beside.line.remedies.text())[0])
    assert sheet.amount.text() == "6.400" and plain(noticed.small.text()) == "Nothing is too small for this balance."
    desk.on("B2")
    desk.go_to("2,6-Nonadienal")
    assert "· B1 generic 0.001 g balance: ± 5 %" in plain(sheet.beside.line.remedies.text())


def test_a_weaker_bottle_that_stands_there_comes_first(book: Book) -> None:
    """A trace written at 1 %, of which a bottle at 0.1 % stands on the shelf."""
    parent, strong = book.get(Version, "SR-3"), book.get(Bottle, "K24A")
    lines = (Line(parts=1, material=strong.material, strength=0.01, carrier=strong.carrier),
             Line(parts=999, material=strong.carrier))  # fmt: skip
    (version,) = book.put(replace(parent, key=None, code="SR-9", parent=None, reason="x", made_at=None, frozen_at=None,
                                  starred=False, lines=lines, total=1000))  # fmt: skip
    basis = Basis(book, version)
    plan = plan_of(book, version, 5.0, same_mass=True, basis=basis)
    found = remedies_for(basis, plan.rows[0], 5.0, balance(book, "B1"), [balance(book, "B2")], 0.05)
    assert found.error == pytest.approx(0.32) and found.stock.bottle.code == "K24" and found.other is None
    assert found.weaker.mass_g == pytest.approx(0.005 * 0.010096 / 0.001012, rel=1e-3)
    assert remedies_for(basis, plan.rows[1], 5.0, balance(book, "B1"), [], 0.05) is None
    coarse = remedies_for(basis, plan.rows[0], 5.0, balance(book, "B2"), [balance(book, "B1")], 0.05)
    assert coarse.other.name.startswith("B1") and coarse.other_error == pytest.approx(0.32)
    # carriers are not thinned
    small = replace(plan.rows[1], planned=replace(plan.rows[1].planned, target_g=0.01))
    assert remedies_for(basis, small, 5.0, balance(book, "B1"), [], 0.05).weaker is None


def test_the_tolerance_is_chosen_once_for_the_book(desk: Desk) -> None:
    sheet, noticed = desk.sheet, desk.sheet.beside.noticed
    column = sheet.model.columns[sheet.model.place_of("error")]
    amber = lambda: sum(sheet.model.tone(row, column) == "amber" for row in sheet.model.rows)
    assert noticed.tolerance == 0.05 and amber() == 1
    noticed.chips.buttons["1\u2009%"].click()
    assert amber() == 9 and plain(noticed.small.text()).startswith("9 lines are too small")
    assert plain(noticed.small.text()).split("\n")[0].endswith(", 3 others.")
    assert desk.session.settings.number(f"tolerance/{desk.book.uid}", 0) == 0.01
    noticed.chips.choose("5\u2009%")
    sheet.refresh()
    assert noticed.tolerance == 0.01 and amber() == 9
    sheet.balance.choose(None)
    assert noticed.chips.isHidden() and "Say which balance" in noticed.small.text() and not sheet.beside.line.remedies.text()


# vessel and cautions --------------------------------------------------------------------------------------------------------


def test_what_the_balance_carries_counts_the_vessel(desk: Desk) -> None:
    assert too_heavy(balance(desk.book, "B1"), 150.0, 0.0) == [] and too_heavy(None, 1e6, 0.0) == []
    stock = desk.sheet.beside.noticed.stock
    desk.type("6")
    assert stock.isHidden()
    desk.sheet.tare.setFocus()
    QTest.keyClicks(desk.sheet.tare, "196")
    assert "202.000 g with its vessel is more than this balance carries" in plain(stock.text())
    desk.sheet.tare.clear()
    QTest.keyClicks(desk.sheet.tare, "vial")
    assert stock.isHidden()


def test_cautions_are_those_of_this_formula(desk: Desk) -> None:
    said = plain(desk.sheet.beside.noticed.cautions.text())
    assert said.startswith("Gloves and goggles on, air moving.\nNo flame, no spark: Ethanol 96 %.")
    assert "Flash point not known, so no flame either: " in said and "Powder" not in said
    assert said.endswith("the supplier's safety data sheet and local law decide.")
    parent = desk.book.get(Version, "SR-3")
    solid = desk.book.get(Bottle, "M19-1").material
    (version,) = desk.book.put(replace(parent, key=None, code="SR-9", parent=None, reason="x", made_at=None, frozen_at=None,
                                       starred=False, lines=(Line(parts=1000, material=solid),), total=1000))  # fmt: skip
    desk.session.choose_version(version.key)
    said = plain(desk.sheet.beside.noticed.cautions.text())
    assert "Powder, do not breathe it: Ambroxide." in said and "Ethanol" not in said


# the sheet ----------------------------------------------------------------------------------------------------------------


def test_a_letter_asks_the_book_for_nothing(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def asked(*_: object, **__: object) -> None:
        raise AssertionError("the book was asked")

    for owner, name in ((desk.book, "shelf"), (desk.book, "get"), (desk.book, "all"), (desk.book.bottles, "rows"),
                        (desk.book.bottles, "price"), (desk.book.weighings, "remembered")):  # fmt: skip
        monkeypatch.setattr(owner, name, asked)
    desk.type("7.5")
    assert "7.499" in desk.sheet.total.text()
    desk.go_to("Ambroxide")
    desk.sheet._on_bottle_chosen(desk.sheet.grid.current.planned.line, -1)


def test_nothing_is_shown_for_an_amount_that_cannot_be_read(desk: Desk) -> None:
    desk.type("x")
    assert desk.sheet.beside.isHidden() and not desk.sheet.begin.isEnabled() and desk.sheet.total.isHidden()
    desk.sheet.move_line(0, 1)
    desk.type("5")
    assert not desk.sheet.beside.isHidden() and desk.sheet.orders.name == "as last time"


def test_columns_chosen_by_hand_stay(desk: Desk) -> None:
    grid = desk.sheet.grid
    grid.choose_columns(["name", "bottle", "target", "inside"])
    desk.go_to("Vetiver oil")
    desk.type("6")
    assert grid.shown_columns() == ("name", "bottle", "target", "inside")


def test_it_fits_the_window(desk: Desk, theme: Theme, qtbot) -> None:
    sheet = desk.sheet
    assert not sheet.grid.verticalScrollBar().isVisible() and not sheet.grid.horizontalScrollBar().isVisible()
    assert not sheet.beside.verticalScrollBar().isVisible()
    theme.resize_text(1.3)
    try:
        QApplication.processEvents()
        assert not sheet.grid.horizontalScrollBar().isVisible() and sheet.minimumSizeHint().width() <= 1216
    finally:
        theme.resize_text(1.0)


def test_a_code_that_was_typed_for_the_vial_stays_until_it_is_used(desk: Desk, theme: Theme) -> None:
    sheet = desk.sheet
    sheet.vial.setFocus()
    sheet.vial.selectAll()
    QTest.keyClicks(sheet.vial, "K19")
    sheet.confirm()
    assert sheet.vial_field.is_wrong
    desk.page.show_balances()
    desk.page.show_begin()
    assert sheet.vial.text() == "K19"
    sheet.vial.selectAll()
    QTest.keyClicks(sheet.vial, "V77")
    sheet.confirm()
    assert desk.page.stack.currentWidget() is desk.page.scale
    desk.page.show_begin()
    assert sheet.vial.text() == desk.book.next_code(Bottle, "V") and not sheet.vial_field.is_wrong


def test_the_models_hold(book: Book, qtbot) -> None:
    plan = plan_of(book, book.get(Version, "SR-3"), 5.0)
    model = PlanModel(lambda: 0.001, before=True)
    QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    model.show_rows(views(plan.rows, None, None, 0.05))
    rows = [row for row in book.bottles.rows() if row.bottle.code in ("K19", "K19B")]
    choice = ChoiceModel()
    QAbstractItemModelTester(choice, QAbstractItemModelTester.FailureReportingMode.Fatal)
    choice.show_rows(choices(rows, rows[0].key, 0.125))
    choice.show_rows(choices(rows, rows[1].key, 0.125))
    left = choice.columns[choice.place_of("left")]
    assert [choice.tone(row, left) for row in choice.rows] == ["ink", "amber"]
    assert choice.tip(choice.row(1), left) == "less than this line takes"
    assert most_of(replace(plan, rows=()), 5.0, 0.001) is None


def test_a_bottle_that_was_labelled_anew_is_named_where_its_stock_is_sought(desk: Desk) -> None:
    desk.book.bottles.discard(desk.key("K19B"))
    desk.book.bottles.relabel(desk.key("K19"))
    desk.sheet.refresh()
    said = plain(desk.sheet.beside.noticed.stock.text())
    assert "No bottle holds Ambroxide 10 % in ethanol." in said and (
        "K19 was Ambroxide 10 % in ethanol until 10 Apr and is labelled 10.5 % now: exchange the stock on the Bench, or bring "
        "the bottle back on the Shelf."
    ) in said
    desk.book.bottles.discard(desk.key("K19"))
    desk.sheet.refresh()
    assert "labelled" not in plain(desk.sheet.beside.noticed.stock.text())


def test_a_stock_far_off_is_told_before_and_while_it_is_weighed(desk: Desk) -> None:
    book, sheet = desk.book, desk.sheet
    desk.type("5")
    code = desk.bottle("Ambroxide")
    weaken(book, code, 0.01108)
    sheet.refresh()
    row = next(view.row for view in sheet.model.rows if view.row.name == "Ambroxide")
    told = f"{code} is 89 % weak: weigh {row.planned.target_g:.3f} g for 0.125 g."
    assert told in plain(sheet.beside.noticed.stock.text())
    desk.go_to("Ambroxide")
    assert told in plain(sheet.beside.line.remedies.text())
    assert "g for an amount of 5.000 g" in sheet.total.text().replace("\u2009", " ")
    sheet.same_mass.setChecked(True)
    assert f"{code} is 89 % weak: the same mass brings less" in plain(sheet.beside.noticed.stock.text())
    assert "for an amount" not in sheet.total.text()
    sheet.confirm()
    scale = desk.page.scale
    while scale.row is not None:
        if scale.row.name == "Ambroxide":
            assert scale.waits.text().replace("\u2009", " ") == f"{code}: 89 % weaker than its label"
        if scale.asks_code:
            desk.press_text(scale.row.bottle.bottle.code)
        desk.press_text(f"{scale.row.planned.target_g:.3f}")
    caption = scale.caption.text().replace("\u2009", " ")
    assert caption.startswith("Every figure is within its tolerance. What it holds is furthest from what was meant in ")
    assert caption.endswith("Ambroxide: \u221257.0 %.")


def test_the_head_of_the_scale_tells_a_total_that_is_not_the_amount(desk: Desk) -> None:
    desk.type("5")
    weaken(desk.book, desk.bottle("Ambroxide"), 0.01108)
    desk.sheet.refresh()
    desk.sheet.confirm()
    total = f"{desk.page.scale.plan.total_g:.3f} g for 5.000 g"
    assert total in desk.page.scale.head.text().replace("\u2009", " ")

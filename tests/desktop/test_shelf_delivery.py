# SPDX-License-Identifier: MIT
"""A delivery: six bottles in one table by keyboard, every sum of a row, what is refused beside it, and nothing lost."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import shiboken6
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from db import Book, make_demo
from desktop.figures import FIGURE_SPACE, THIN
from desktop.models.delivery_rows import Amount, DeliveryRow, Known, parse_amount, reckoned, typed_day
from desktop.pages.shelf.delivery import DeliverySheet
from desktop.pages.shelf.page import ShelfPage
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Balance, Bottle, Contents, Finding, Material, Move, Property, Refused
from perfumery.weighing import found_u

K, CTRL = Qt.Key, Qt.KeyboardModifier.ControlModifier
TODAY = date(2025, 4, 10)


@dataclass
class Parcel:
    book: Book
    session: Session
    sheet: DeliverySheet
    said: list[tuple[str, str]]
    received: list[tuple[int, ...]]

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier, times: int = 1) -> None:
        for _ in range(times):
            QTest.keyClick(QApplication.focusWidget() or self.sheet, key, modifier)
            QApplication.processEvents()

    def type(self, *texts: str) -> None:
        """Each text and Enter; an empty text passes the cell over."""
        for text in texts:
            for letter in text:
                QTest.keyClicks(QApplication.focusWidget(), letter)
            QApplication.processEvents()
            self.press(K.Key_Return)

    def put(self, place: int, **cells: str) -> DeliveryRow:
        """Cells written straight into the model."""
        model = self.sheet.model
        for cell, text in cells.items():
            model.setData(model.index(place, model.place_of(cell)), text)
        return model.row(place)

    def at(self, place: int, cell: str) -> None:
        model = self.sheet.model
        self.sheet.grid.go_to(model.index(place, model.place_of(cell)))
        self.sheet.grid.setFocus()
        QApplication.processEvents()

    def cell(self, place: int, key: str) -> str:
        model = self.sheet.model
        return model.cell(place, model.place_of(key)).strip(f"{FIGURE_SPACE}\u2008").replace(THIN, " ")

    @property
    def where(self) -> tuple[int, str]:
        index = self.sheet.grid.currentIndex()
        return index.row(), self.sheet.model.columns[index.column()].key

    def bottle(self, code: str) -> Bottle:
        bottle = self.book.get(Bottle, code)
        assert bottle is not None
        return bottle

    def move(self, code: str) -> Move:
        (move,) = self.book.bottles.moves(self.bottle(code).key)
        return move


@pytest.fixture
def parcel(qtbot: Any, qapp: QApplication, tmp_path: Path, clock: Any) -> Iterator[Parcel]:
    book = make_demo(tmp_path / "demo.book", clock)
    theme = Theme(qapp, "light")
    session = Session(book, theme, Settings(tmp_path / "settings.ini"))
    sheet = DeliverySheet(session)
    qtbot.addWidget(sheet)
    QAbstractItemModelTester(sheet.model, QAbstractItemModelTester.FailureReportingMode.Fatal, sheet)
    said: list[tuple[str, str]] = []
    received: list[tuple[int, ...]] = []
    session.said.connect(lambda sentence, tone: said.append((sentence, tone)))
    sheet.received.connect(received.append)
    sheet.resize(1150, 700)
    sheet.show()
    qtbot.waitExposed(sheet)
    sheet.activateWindow()
    qtbot.waitUntil(sheet.isActiveWindow)
    sheet.start()
    yield Parcel(book, session, sheet, said, received)
    sheet.hide()
    shiboken6.delete(sheet)
    shiboken6.delete(session)
    shiboken6.delete(theme)
    book.close()


def _filled(**typed: str) -> DeliveryRow:
    return reckoned(DeliveryRow(1, typed, material=1, code="B1", name="Oil"), Known("Oil"), TODAY)


# by keyboard ----------------------------------------------------------------------------------------------------------


def test_six_bottles_by_keyboard_alone(parcel: Parcel) -> None:
    before = len(list(parcel.book.all(Bottle)))
    parcel.type("supplier a")
    assert parcel.sheet.supplier.text() == "Supplier A" and parcel.where == (0, "material")
    parcel.type("lemon", "50", "108.26", "58.18", "4.50", "L2504-101")
    assert parcel.where == (1, "material")
    parcel.type("Ambrette seed CO2", "10", "27,46", "17,30", "21", "AM-7")
    parcel.type("pine needle", "50 ml", "0.88", "", "", "9.20", "L2504-103")
    parcel.type("bergamot", "30", "66.83", "", "6.60", "L2504-104")
    parcel.type("linalool", "100", "184.7", "84.6", "", "L2504-105")
    parcel.type("dihydromyrcenol", "50", "", "", "", "")
    assert parcel.where == (6, "material")
    parcel.press(K.Key_Return)
    assert parcel.sheet.book_button.hasFocus()
    parcel.press(K.Key_Return)
    assert len(parcel.received) == 1 and len(parcel.received[0]) == 6
    assert len(list(parcel.book.all(Bottle))) == before + 6
    lemon, fresh = parcel.bottle("B1"), parcel.bottle("B2")
    assert (lemon.supplier, lemon.received_on, lemon.lot, lemon.tare_g) == ("Supplier A", TODAY, "L2504-101", 58.18)
    assert lemon.price_per_g == pytest.approx(0.09)
    assert (lemon.label, lemon.supplier_no) == ("Lemon oil", "") and not lemon.tare_inferred
    made = parcel.book.get(Material, "Ambrette seed CO2")
    assert made is not None and fresh.material == made.key and fresh.price_per_g == pytest.approx(2.1)
    kept = {code: parcel.move(code) for code in ("B1", "B2", "B3", "B4", "B5", "B6")}
    assert [(m.mass_g, m.read_g, m.estimated) for m in kept.values()] == [
        (50.08, 108.26, False), (10.16, 27.46, False), (44.0, None, True), (30.0, 66.83, True), (100.1, 184.7, False),
        (50.0, None, True),
    ]  # fmt: skip
    assert (parcel.bottle("B4").tare_g, parcel.bottle("B4").tare_inferred) == (36.83, True)
    assert parcel.bottle("B3").price_per_g == pytest.approx(9.20 / 44)
    for code, bottle in ((code, parcel.bottle(code)) for code in kept):
        (state,) = parcel.book.bottles.states(bottle.key)
        assert state.shares == {bottle.material: 1.0} and state.reason == "bought", code
    sentence, tone = parcel.said[-1]
    assert tone == "done" and sentence.startswith("6 bottles booked: B1, B2, B3, B4, B5 and B6.")
    assert "B1 with M01-1 and M01-2" in sentence
    assert not parcel.sheet.model.bottles and parcel.sheet.supplier.text() == ""


def test_tab_goes_through_the_cells_and_leaves_from_the_empty_row(parcel: Parcel) -> None:
    parcel.type("Supplier A")
    for letter in "lemon":
        QTest.keyClicks(QApplication.focusWidget(), letter)
    parcel.press(K.Key_Tab)
    assert parcel.where == (0, "strength") and parcel.cell(0, "material") == "Lemon oil"
    parcel.press(K.Key_Tab)
    assert parcel.where == (0, "code")
    parcel.press(K.Key_Backtab)
    assert parcel.where == (0, "strength")
    parcel.at(0, "liner")
    parcel.press(K.Key_Tab)
    assert parcel.where == (1, "material")
    parcel.press(K.Key_Tab)
    assert not parcel.sheet.grid.hasFocus()


def test_enter_in_a_cell_outside_the_figures_goes_to_the_next_cell(parcel: Parcel) -> None:
    parcel.put(0, material="Lemon oil")
    parcel.at(0, "container")
    parcel.type("HDPE bottle", "none")
    assert parcel.where == (1, "material")
    assert "Plastic" in " ".join(parcel.sheet.model.row(0).cautions) and "liner" in parcel.sheet.model.row(0).cautions[1]
    parcel.at(0, "lot")
    assert "Glass keeps them" in parcel.sheet.noted.text()


def test_the_cell_above_is_copied(parcel: Parcel) -> None:
    parcel.put(0, material="Lemon oil", container="amber glass bottle", liner="PTFE-faced")
    parcel.put(1, material="Grapefruit oil")
    parcel.at(1, "container")
    parcel.press(K.Key_D, CTRL, 2)
    assert parcel.where == (2, "material")
    assert (parcel.cell(1, "container"), parcel.cell(1, "liner")) == ("amber glass bottle", "PTFE-faced")
    parcel.press(K.Key_D, CTRL)
    assert parcel.cell(2, "material") == "Grapefruit oil"
    assert not parcel.sheet.model.copy_above(2, "code") and not parcel.sheet.model.copy_above(0, "lot")
    parcel.at(2, "container")
    parcel.press(K.Key_F2)
    parcel.press(K.Key_D, CTRL)
    assert parcel.cell(2, "container") == "amber glass bottle"


def test_what_is_offered_is_taken_only_by_asking(parcel: Parcel) -> None:
    parcel.sheet.supplier.setText("Supplier A")
    row = parcel.put(0, material="Lemon oil", ordered="50")
    assert dict(row.offers) == {"number": "A-21462", "price": "4.50"}
    assert parcel.cell(0, "price") == "4.50 ?" and parcel.cell(0, "number") == "A-21462 ?"
    assert row.price_per_g is None
    parcel.at(0, "price")
    assert f"4.50{THIN}€ for the bottle" in parcel.sheet.noted.text()
    parcel.press(K.Key_Space)
    assert parcel.where == (0, "lot") and parcel.sheet.model.row(0).price_per_g == pytest.approx(0.09)
    parcel.press(K.Key_Space)
    assert parcel.where == (0, "lot")
    assert "number" not in parcel.put(0, number="X-1").offers
    parcel.sheet.supplier.setText("Supplier B")
    assert parcel.put(1, material="Lemon oil").offers.get("number") is None


def test_a_row_is_removed_and_put_back(parcel: Parcel) -> None:
    parcel.put(0, material="Lemon oil")
    parcel.put(1, material="Linalool")
    parcel.at(0, "ordered")
    parcel.press(K.Key_Delete)
    assert [row.name for row in parcel.sheet.model.bottles] == ["Linalool"]
    assert parcel.sheet.kept.text() == "1 bottle removed."
    parcel.put(1, material="Geosmin")
    parcel.sheet.link.click()
    assert [row.name for row in parcel.sheet.model.bottles] == ["Lemon oil", "Linalool", "Geosmin"]
    assert parcel.sheet.model.remove([3]) == 0


# the sums of a row ----------------------------------------------------------------------------------------------------


def test_gross_and_tare_give_the_net_mass() -> None:
    row = _filled(ordered="50 g", gross="108.26", tare="58.18", price="4.50")
    assert (row.mass_g, row.tare_g, row.gross_g, row.estimated, row.tare_inferred) == (50.08, 58.18, 108.26, False, False)
    assert row.price_per_g == pytest.approx(0.09)
    assert row.told("EUR").replace(THIN, " ") == "Oil, neat, 50.08 g weighed, tare 58.18 g, 0.09000 €/g"


def test_without_a_tare_it_is_inferred_from_what_was_stated() -> None:
    row = _filled(ordered="30", gross="66.83")
    assert (row.mass_g, row.tare_g, row.estimated, row.tare_inferred) == (30.0, 36.83, True, True)
    assert row.mass_words.endswith("tare inferred") and "tare 36.83" in row.told("EUR") and "inferred" in row.told("EUR")


def test_without_a_gross_it_is_as_stated() -> None:
    row = _filled(ordered="0.3 kg", tare="80", price="6")
    assert (row.mass_g, row.tare_g, row.estimated, row.tare_inferred) == (300.0, 80.0, True, False)
    assert row.mass_words.endswith("as stated") and row.price_per_g == pytest.approx(0.02)
    assert _filled(lot="L1").mass_g is None and "not known" in _filled(lot="L1").told("EUR")


def test_millilitres_take_the_density_that_is_known() -> None:
    asked = _filled(ordered="50 ml")
    assert asked.mass_g is None and asked.wants == "density" and not asked.is_ready
    assert _filled(ordered="50 ml", gross="80", tare="36").is_ready
    for typed in ("0.88", "880"):
        row = _filled(ordered="50 ml", density=typed, price="8.8")
        assert (row.mass_g, row.estimated) == (44.0, True) and row.price_per_g == pytest.approx(0.2)
        assert row.mass_words.endswith("from ml") and "estimated from 50" in row.told("EUR")
    own = reckoned(DeliveryRow(1, {"ordered": "1 l"}, material=1, name="Oil"), Known("Oil", density=0.85), TODAY)
    assert own.mass_g == 850.0
    inferred = _filled(ordered="50 ml", density="0.88", gross="80")
    assert (inferred.tare_g, inferred.tare_inferred, inferred.mass_g) == (36.0, True, 44.0)


def test_a_price_without_an_order_is_for_what_was_weighed() -> None:
    assert _filled(gross="60", tare="50", price="5").price_per_g == pytest.approx(0.5)
    assert _filled(price="5").price_per_g is None


def test_what_cannot_be_is_refused_in_its_cell() -> None:
    assert "leaves nothing" in _filled(gross="50", tare="50").wrong_in("tare")
    assert "tare of" in _filled(ordered="80", gross="66.83").wrong_in("gross")
    assert "not a number" in _filled(gross="heavy").wrong_in("gross")
    assert "marks for thousands" in _filled(price="1,000.5").wrong_in("price") and _filled(price="-1").wrong_in("price")
    assert _filled(tare="0").wrong_in("tare") and _filled(ordered="0").wrong_in("ordered")
    assert "as a day" in _filled(opened="yesterday").wrong_in("opened")
    assert _filled(gross="108").wants == "tare" and _filled(gross="108", tare="x").wants == "tare"
    assert _filled(price="0", ordered="5").price_per_g == 0


def test_a_net_mass_far_from_the_order_is_worth_a_look() -> None:
    row = _filled(ordered="50", gross="100", tare="60")
    assert row.is_ready and "look at gross and tare" in row.cautions[0]


def test_amounts_and_days_as_typed() -> None:
    assert parse_amount("50") == parse_amount("50 g") == Amount(50.0) == parse_amount("0,05kg")
    assert parse_amount("5 cl") == Amount(50.0, is_volume=True)
    with pytest.raises(Refused):
        parse_amount("g")
    assert typed_day("11 Mar", TODAY) == date(2025, 3, 11) and typed_day("11 May", TODAY) == date(2024, 5, 11)
    assert typed_day("2025-03-11", TODAY) == date(2025, 3, 11) == typed_day("11.3.2025", TODAY)


# what the book knows --------------------------------------------------------------------------------------------------


def test_strength_is_as_bought_last_and_can_be_typed(parcel: Parcel) -> None:
    row = parcel.put(0, material="Hexamethylindanopyran")
    assert row.strength == 0.5 and row.carrier is not None and row.is_ready
    row = parcel.put(0, strength="10 % in DPG")
    assert (row.strength, row.carrier_name) == (0.1, "DPG")
    assert parcel.put(0, strength="10 %").wants == "strength" and not parcel.put(0, strength="10 %").problems
    assert "no carrier" in parcel.put(0, strength="100 % in DPG").wrong_in("strength")
    assert parcel.put(0, strength="10 in nowhere").wrong_in("strength") and parcel.cell(0, "strength") == "10 in nowhere"
    assert "itself" in parcel.put(1, material="Dipropylene glycol", strength="10 % in DPG").wrong_in("strength")
    parcel.put(0, strength="10 % in DPG", ordered="20")
    parcel.sheet.model.remove([1])
    parcel.press(K.Key_Return, CTRL)
    (state,) = parcel.book.bottles.states(parcel.bottle("B1").key)
    assert sorted(state.shares.values()) == pytest.approx([0.1, 0.9])


def test_the_density_of_the_material_is_used(parcel: Parcel) -> None:
    row = parcel.put(0, material="Lemon oil", ordered="50 ml")
    lemon = parcel.book.get(Material, row.material)
    assert lemon is not None
    assert "density" in parcel.sheet.grid.shown_columns()
    assert parcel.cell(0, "told").startswith("50 ml in g?")
    parcel.book.put(replace(lemon, properties=(Property("density_kg_m3", 850.0),)))
    assert parcel.sheet.model.row(0).mass_g == 42.5


def test_codes_count_up_and_are_not_taken_twice(parcel: Parcel) -> None:
    for place, name in enumerate(("Lemon oil", "Linalool", "Geosmin")):
        parcel.put(place, material=name)
    assert [parcel.cell(place, "code") for place in range(4)] == ["B1", "B2", "B3", "B4"]
    assert "taken" in parcel.put(2, code="M01-1").wrong_in("code")
    parcel.put(2, code="LO")
    assert "twice" in parcel.put(1, code="LO").wrong_in("code") or "twice" in parcel.sheet.model.row(2).wrong_in("code")
    parcel.put(1, code="")
    assert [row.code for row in parcel.sheet.model.bottles] == ["B1", "B2", "LO"]
    parcel.put(1, code="B1")
    assert [row.code for row in parcel.sheet.model.bottles] == ["B2", "B1", "LO"] and parcel.sheet.model.row(0).is_ready
    parcel.sheet.hide()
    parcel.book.put(Bottle(code="B2"))
    parcel.sheet.show()
    assert parcel.sheet.model.row(0).code == "B3"


def test_another_lot_on_the_shelf_is_named(parcel: Parcel) -> None:
    assert parcel.put(0, material="Bergamot oil, treated").others == ()
    assert parcel.put(0, lot="L2504-9").others == ("M03-1",)
    parcel.at(0, "lot")
    assert "another lot stands as M03-1; smell both side by side" in parcel.sheet.noted.text()
    assert parcel.put(0, lot="l2411-004").others == ()


def test_the_balance_tells_how_well_it_is_known(parcel: Parcel) -> None:
    balance = next(iter(parcel.book.all(Balance)))
    sheet = parcel.sheet
    sheet.balance.setCurrentIndex(sheet.balance.findText(balance.name))
    sheet.balance.activated.emit(sheet.balance.currentIndex())
    parcel.put(0, material="Lemon oil", gross="60", tare="50")
    parcel.put(1, material="Linalool", ordered="60")
    sheet.book()
    assert parcel.move("B1").u_g == pytest.approx(found_u(balance)) and parcel.move("B2").u_g is None
    other = DeliverySheet(parcel.session)
    other.start()
    assert other.balance.currentText() == balance.name
    shiboken6.delete(other)


def test_gross_and_tare_take_their_unit(parcel: Parcel) -> None:
    row = parcel.put(0, material="Lemon oil", gross="60,25 G", tare="50 g")
    assert (row.gross_g, row.mass_g, row.decimals) == (60.25, pytest.approx(10.25), 2) and not row.problems


def test_two_bottles_of_one_new_material_make_it_once(parcel: Parcel) -> None:
    parcel.sheet.supplier.setText("Supplier N")
    for place in (0, 1):
        parcel.sheet.model.choose(place, parcel.sheet.model.candidates("Neo wood")[-1])
    assert parcel.cell(0, "material") == "new: Neo wood" and "a new material" in parcel.sheet.model.row(0).told("EUR")
    parcel.sheet.day.setText("11 Mar")
    parcel.sheet.book()
    first, second = parcel.bottle("B1"), parcel.bottle("B2")
    assert first.material == second.material and first.received_on == date(2025, 3, 11)
    assert "Supplier N" in parcel.sheet.model.suppliers()
    (state,) = parcel.book.bottles.states(first.key)
    assert isinstance(state, Contents) and state.at.date() == date(2025, 3, 11)


# nothing is lost ------------------------------------------------------------------------------------------------------


def test_a_row_that_is_wrong_holds_the_delivery_and_is_gone_to(parcel: Parcel) -> None:
    parcel.put(0, material="Lemon oil", ordered="50")
    parcel.put(1, material="Linalool", ordered="50", code="M01-1")
    before = len(list(parcel.book.all(Bottle)))
    parcel.at(0, "gross")
    for letter in "108":
        QTest.keyClicks(QApplication.focusWidget(), letter)
    parcel.press(K.Key_Return, CTRL)
    assert parcel.where == (1, "code") and "M01-1 is taken" in parcel.sheet.wrong.text()
    assert "M01-1 is taken" in parcel.cell(1, "told") and parcel.sheet.model.row(0).gross_g == 108
    assert parcel.sheet.counted.text() == "1 of 2 bottles can be booked; M01-1 waits."
    parcel.at(0, "lot")
    assert parcel.sheet.counted.text().endswith("M01-1 waits. The code M01-1 is taken. Choose one that is free.")
    parcel.at(1, "code")
    assert len(list(parcel.book.all(Bottle))) == before and not parcel.received
    parcel.type("L7")
    parcel.press(K.Key_Return, CTRL)
    assert len(parcel.received) == 1


def test_what_the_book_refuses_stands_in_its_row(parcel: Parcel, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise Refused(Finding("code-taken", {"code": "B2"}))

    parcel.put(0, material="Lemon oil", ordered="50")
    parcel.sheet.model.choose(1, parcel.sheet.model.candidates("Neo wood")[-1])
    monkeypatch.setattr(parcel.book.bottles, "receive", refuse)
    parcel.sheet.book()
    assert parcel.where == (1, "code") and "B2 is taken" in parcel.sheet.wrong.text()
    assert len(parcel.sheet.model.bottles) == 2 and parcel.book.get(Material, "Neo wood") is None


def test_a_figure_that_cannot_be_read_stays_and_so_does_the_cursor(parcel: Parcel) -> None:
    parcel.put(0, material="Lemon oil")
    parcel.at(0, "gross")
    parcel.type("heavy")
    assert parcel.where == (0, "gross") and parcel.cell(0, "gross") == "heavy"
    assert "not a number" in parcel.sheet.wrong.text()


def test_a_name_that_was_not_chosen_is_kept_and_asked_for(parcel: Parcel) -> None:
    parcel.at(0, "material")
    for letter in "ceda":
        QTest.keyClicks(QApplication.focusWidget(), letter)
    parcel.sheet.supplier.setFocus()
    QApplication.processEvents()
    row = parcel.sheet.model.row(0)
    assert row.typed["material"] == "ceda" and row.wants == "material" and "ceda" in parcel.cell(0, "told")
    parcel.at(0, "material")
    parcel.press(K.Key_F2)
    editor = QApplication.focusWidget()
    assert isinstance(editor, TypeAhead) and editor.text() == "ceda"
    editor.offer()
    parcel.press(K.Key_Return)
    assert parcel.cell(0, "material") == "Cedarwood oil, Virginia" and parcel.sheet.model.row(0).asks == ()


def test_leaving_keeps_what_was_typed(parcel: Parcel, qtbot: Any) -> None:
    parcel.type("Supplier A", "lemon", "50")
    with qtbot.waitSignal(parcel.sheet.left):
        parcel.press(K.Key_Escape)
    parcel.sheet.start()
    assert parcel.sheet.kept.text() == "Kept from before: 1 bottle." and parcel.sheet.link.text() == "Begin anew"
    assert parcel.sheet.supplier.text() == "Supplier A" and parcel.sheet.grid.hasFocus()
    parcel.sheet.link.click()
    assert not parcel.sheet.model.bottles and parcel.sheet.supplier.text() == ""
    parcel.sheet.link.click()
    assert [row.name for row in parcel.sheet.model.bottles] == ["Lemon oil"] and parcel.sheet.supplier.text() == "Supplier A"
    parcel.sheet.supplier.setFocus()
    with qtbot.waitSignal(parcel.sheet.left):
        parcel.press(K.Key_Escape)


def _page_of(session: Session, qtbot: Any) -> ShelfPage:
    page = ShelfPage(session)
    qtbot.addWidget(page)
    page.resize(1150, 700)
    page.show()
    qtbot.waitExposed(page)
    page.enter_delivery()
    return page


def test_what_was_not_booked_stands_there_on_the_next_start(parcel: Parcel, qtbot: Any) -> None:
    session = parcel.session
    first = _page_of(session, qtbot)
    model = first.delivery.model
    first.delivery.supplier.setText("Supplier A")
    for place, (name, mass) in enumerate((("Lemon oil", "50 g"), ("Cedarwood oil, Virginia", "20 g"))):
        model.setData(model.index(place, model.place_of("material")), name)
        model.setData(model.index(place, model.place_of("ordered")), mass)
    first.delivery.day.setText("2025-04-08")
    first.delivery.day.editingFinished.emit()
    first.hide()
    for _ in range(2):
        again = _page_of(session, qtbot).delivery
        assert [row.name for row in again.model.bottles] == ["Lemon oil", "Cedarwood oil, Virginia"]
        assert again.supplier.text() == "Supplier A" and again.day.text() == "2025-04-08"
        assert again.kept.text() == "Kept from before: 2 bottles."
        again.hide()


def test_a_supplier_alone_is_kept_too(parcel: Parcel, qtbot: Any) -> None:
    parcel.sheet.supplier.setText("A new house")
    parcel.press(K.Key_Escape)
    parcel.sheet.start()
    assert parcel.sheet.supplier.text() == "A new house" and parcel.sheet.kept.text() == "Kept from before: the supplier."
    again = _page_of(parcel.session, qtbot).delivery
    assert again.supplier.text() == "A new house" and again.day.text()
    again.link.click()
    assert again.supplier.text() == "" and not parcel.session.settings.text(again._kept_as)


def test_a_day_that_cannot_be_is_said_beside_it(parcel: Parcel) -> None:
    parcel.put(0, material="Lemon oil")
    for text, said in (("12 Apr 2025", "has not come yet"), ("soon", "as a day")):
        parcel.sheet.day.setText(text)
        parcel.sheet.book()
        assert said in parcel.sheet.day_field.remark.text() and parcel.sheet.day.hasFocus() and not parcel.received


def test_nothing_typed_is_nothing_booked(parcel: Parcel) -> None:
    parcel.press(K.Key_Return, CTRL)
    assert "Nothing is typed" in parcel.sheet.wrong.text() and not parcel.received


def test_its_keys_are_not_the_windows(parcel: Parcel) -> None:
    parcel.put(0, material="Lemon oil")
    parcel.at(0, "gross")
    parcel.press(K.Key_F2)
    (editor,) = [one for one in parcel.sheet.grid.findChildren(QLineEdit) if one.isVisible()]
    for widget in (editor, parcel.sheet.grid, parcel.sheet.supplier):
        event = QKeyEvent(QEvent.Type.ShortcutOverride, K.Key_Return, CTRL)
        event.ignore()
        QApplication.sendEvent(widget, event)
        assert event.isAccepted(), widget
    parcel.press(K.Key_Escape)


def test_a_new_supplier_is_taken_as_written(parcel: Parcel) -> None:
    parcel.type("Suppl")
    assert parcel.sheet.supplier.text() == "Supplier A"
    parcel.sheet.supplier.setFocus()
    parcel.sheet.supplier.selectAll()
    parcel.type("Suppe")
    assert parcel.sheet.supplier.text() == "Suppe" == parcel.sheet.model.supplier
    parcel.sheet.supplier.setFocus()
    parcel.sheet.supplier.selectAll()
    for letter in "supplier":
        QTest.keyClicks(QApplication.focusWidget(), letter)
    parcel.press(K.Key_Tab)
    assert parcel.sheet.supplier.text() == "Supplier A" and parcel.sheet.day.hasFocus()


# rows of a sheet ------------------------------------------------------------------------------------------------------


def test_rows_of_a_sheet_are_pasted_from_the_current_cell_on(parcel: Parcel) -> None:
    QGuiApplication.clipboard().setText("Lemon oil\t\tLO-7\t50 g\t108,26\t58,18\ncedar note k\t\t\t1,234 g\t1,234\n\n")
    parcel.at(0, "material")
    parcel.press(K.Key_V, CTRL)
    first, second = parcel.sheet.model.bottles
    assert (first.name, first.code, first.mass_g) == ("Lemon oil", "LO-7", 50.08) and first.is_ready
    assert second.typed["material"] == "cedar note k" and second.wants == "gross" and "1,234?" in second.wrong_in("gross")
    assert parcel.sheet.kept.text() == "2 rows pasted."
    QGuiApplication.clipboard().setText("12,5")
    parcel.at(0, "price")
    parcel.press(K.Key_V, CTRL)
    assert parcel.sheet.model.row(0).price == 12.5


def test_named_columns_are_taken_by_name_and_the_rest_is_kept(parcel: Parcel) -> None:
    QGuiApplication.clipboard().setText("lot\tMaterial\tcolour\tordered\nL9\tLinalool\tclear\t100\tkeep cool")
    parcel.at(0, "gross")
    parcel.press(K.Key_F2)
    parcel.press(K.Key_V, CTRL)
    (row,) = parcel.sheet.model.bottles
    assert (row.name, row.typed["lot"], row.stated_g) == ("Linalool", "L9", 100) and row.typed["remark"] == "clear · keep cool"
    parcel.at(0, "gross")
    assert "Linalool" in parcel.sheet.grid.copied() and "?" not in parcel.sheet.grid.copied()


def test_a_delivery_half_typed_outlives_the_program(parcel: Parcel) -> None:
    parcel.type("Supplier A")
    parcel.type("lemon", "50", "108.26", "58.18", "4.50", "L2504-101")
    parcel.type("Ambrette seed CO2", "10")
    again = DeliverySheet(parcel.session)  # a program that was cut off knows only what is on disk
    again.start()
    assert again.supplier.text() == "Supplier A" and "2 bottles" in again.kept.text()
    first, second = again.model.bottles
    assert (first.name, first.mass_g, first.typed["lot"]) == ("Lemon oil", pytest.approx(50.08), "L2504-101")
    assert second.new_name == "Ambrette seed CO2"
    again.begin_anew()
    third = DeliverySheet(parcel.session)
    third.start()
    assert not third.model.bottles
    for sheet in (again, third):
        sheet.deleteLater()


def test_the_table_stays_where_it_is_while_the_day_is_wrong(parcel: Parcel) -> None:
    sheet = parcel.sheet
    before = sheet.grid.y(), sheet.supplier.mapTo(sheet, sheet.supplier.rect().topLeft()).y()
    sheet.day.setText("12 Apr 2031")
    parcel.press(K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert "has not come yet" in sheet.day_field.remark.text() and sheet.day_field.remark.isVisible()
    QApplication.processEvents()
    assert (sheet.grid.y(), sheet.supplier.mapTo(sheet, sheet.supplier.rect().topLeft()).y()) == before

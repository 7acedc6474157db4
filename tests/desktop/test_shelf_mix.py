# SPDX-License-Identifier: MIT
"""Liquids brought together: the sums by hand, the whole of it by keyboard, and what is refused beside what it concerns."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from db import Arrival, Book, make_demo
from desktop.figures import THIN
from desktop.models.mix import Mixing, Plan, truth
from desktop.models.mix_booking import Booking
from desktop.models.mix_known import Known
from desktop.models.mix_words import bottle_text, in_words, role_of, said, strength_with_u
from desktop.pages.shelf.mix import MixSheet
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets import tab_order
from perfumery import (
    Balance,
    Bottle,
    Contents,
    Finding,
    Line,
    Making,
    Material,
    Move,
    Project,
    Property,
    Refused,
    Version,
    weighing,
)

K = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier


def bare(text: str) -> str:
    return text.replace(THIN, " ")


@dataclass
class Bench:
    """A small bench, and the sheet over it."""

    book: Book
    session: Session
    sheet: MixSheet
    made: list[int] = field(default_factory=list)
    left: list[bool] = field(default_factory=list)
    told: list[tuple[str, str]] = field(default_factory=list)

    @property
    def body(self) -> Any:
        assert self.sheet.body is not None
        return self.sheet.body

    @property
    def ask(self) -> Any:
        return self.body.ask

    def key(self, code: str) -> int:
        found = self.book.get(Bottle, code)
        assert found is not None and found.key is not None
        return found.key

    def row(self, code: str) -> Any:
        return self.book.bottles.row(self.key(code))

    def material(self, name: str) -> int:
        return next(row.key for row in self.book.material_rows() if row.short == name)

    def remark(self, name: str) -> str:
        shown = {**self.ask.fields, **self.body.bottle.fields}[name]
        return "" if shown.remark.isHidden() else bare(shown.remark.text())

    def type(self, text: str) -> None:
        QTest.keyClicks(QApplication.focusWidget(), text)
        QApplication.processEvents()

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget(), key, modifier)
        QApplication.processEvents()

    def on(self, widget: QWidget) -> bool:
        return QApplication.focusWidget() is widget

    def weigh_on(self, name: str) -> None:
        self.body.balance.choose(next(one.key for one in self.book.all(Balance) if one.name.startswith(name)))

    def read(self, *masses: str) -> None:
        for row, mass in zip(self.body.rows.shown, masses, strict=True):
            row.read.setText(mass)


def _bench(book: Book, theme: Theme, tmp_path: Any) -> Bench:
    session = Session(book, theme, Settings(tmp_path / "settings.ini"))
    bench = Bench(book, session, MixSheet(session))
    bench.sheet.made.connect(bench.made.append)
    bench.sheet.left.connect(lambda: bench.left.append(True))
    session.said.connect(lambda text, tone: bench.told.append((bare(text), tone)))
    sheet = bench.sheet
    sheet.focusNextPrevChild = lambda forward: tab_order.step(sheet, forward=forward)  # the window does it
    bench.sheet.resize(480, 740)
    bench.sheet.show()
    bench.sheet.activateWindow()
    return bench


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


@pytest.fixture
def bench(qtbot: Any, theme: Theme, tmp_path: Any, clock: Any) -> Iterator[Bench]:
    book = Book.create(tmp_path / "mix.stillroom", name="Mix", clock=clock)
    ambroxide, linalool, ethanol, dpg = book.put(
        Material(name="Ambroxide", form="crystals"),
        Material(name="Linalool", properties=(Property("density_kg_m3", 860.0),)),
        Material(name="Ethanol 96 %", form="solvent", is_carrier=True, properties=(Property("density_kg_m3", 789.3),)),
        Material(name="Dipropylene glycol", synonyms=("DPG",), form="solvent", is_carrier=True),
    )
    book.put(Balance(name="fine", d_g=0.001, s_g=0.001), Balance(name="coarse", d_g=0.01))
    book.bottles.receive(
        Arrival(Bottle(code="M19-1", material=ambroxide.key), 30.0),
        Arrival(Bottle(code="K5", kind="dilution", material=ambroxide.key, strength=0.5, carrier=ethanol.key), 40.0),
        Arrival(Bottle(code="K1", kind="dilution", material=ambroxide.key, strength=0.1, carrier=dpg.key), 60.0),
        Arrival(Bottle(code="M10-1", material=linalool.key), 5.0),
        Arrival(Bottle(code="S01-1", material=ethanol.key), 500.0),
        Arrival(Bottle(code="S02-1", material=dpg.key), 100.0),
    )
    made = _bench(book, theme, tmp_path)
    qtbot.waitExposed(made.sheet)
    yield made
    made.sheet.close()
    shiboken6.delete(made.sheet)
    book.close()


@pytest.fixture
def demo(qtbot: Any, theme: Theme, tmp_path: Any, clock: Any) -> Iterator[Bench]:
    clock.tick(days=20)  # after all that the studio's book tells of
    book = make_demo(tmp_path / "demo.stillroom", clock=clock)
    made = _bench(book, theme, tmp_path)
    qtbot.waitExposed(made.sheet)
    yield made
    made.sheet.close()
    shiboken6.delete(made.sheet)
    book.close()


# sums -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "way, amount, strength, source, masses",
    [
        ("total", 20, 0.1, "M19-1", (2.0, 18.0)),
        ("source", 1.5, 0.1, "M19-1", (1.5, 13.5)),
        ("carrier", 20, 0.1, "M19-1", (20.0, 2.222)),
        ("carrier", 20, 0.1, "K5", (20.0, 5.0)),
        ("thinned", 20, 0.1, "K5", (4.0, 16.0)),
        ("total", 15, 0.01, "K1", (1.5, 13.5)),
    ],
)
def test_the_amount_is_asked_in_four_ways(bench, way, amount, strength, source, masses):
    ethanol = bench.material("Ethanol 96 %")
    plan = Mixing(bench.book).dilution(
        bench.material("Ambroxide"), strength, way, amount, bench.row(source), bench.row("S01-1"), ethanol
    )
    assert [round(leg.target_g, 3) for leg in plan.legs] == list(masses)
    assert plan.contents()[bench.material("Ambroxide")] == pytest.approx(strength)


def test_every_carrier_of_a_dilution_is_kept_and_told(bench):
    ambroxide, ethanol = bench.material("Ambroxide"), bench.material("Ethanol 96 %")
    plan = Mixing(bench.book).dilution(ambroxide, 0.01, "total", 15, bench.row("K1"), bench.row("S01-1"), ethanol)
    assert bare(in_words(Mixing(bench.book).known.material, plan.contents(), ambroxide)) == "1 % Ambroxide, 9 % DPG, 90 % ethanol"
    assert bare(said(plan)) == "1.500 g of Ambroxide from K1, then 13.500 g of ethanol from S01-1."


def _total(bench: Bench, amount: float, source: str | None = "M19-1", strength: float = 0.1) -> Plan:
    row = None if source is None else bench.row(source)
    ethanol = bench.material("Ethanol 96 %")
    return Mixing(bench.book).dilution(
        bench.material("Ambroxide"), strength, "total", amount, row, bench.row("S01-1"), ethanol
    )


def test_what_was_read_gives_the_true_strength_and_how_far_it_is_known(bench):
    fine, coarse = bench.book.all(Balance)
    found = truth(_total(bench, 20), (2.04, 17.96), fine)
    assert found.strength == pytest.approx(0.102)
    # √((18·u)² + (2·u)²) ÷ 20², with u = s = 0.001
    assert found.u == pytest.approx(((17.96 * 0.001) ** 2 + (2.04 * 0.001) ** 2) ** 0.5 / 400)
    assert bare(strength_with_u(found.strength, found.u)) == "10.200 % ± 0.009 (k = 2)"
    wide = truth(_total(bench, 20), (2.04, 17.96), coarse)
    assert bare(strength_with_u(wide.strength, wide.u)) == "10.20 % ± 0.04 (k = 2)"
    assert bare(strength_with_u(0.102, None)) == "10.20 %" and truth(_total(bench, 20), (2.04, 17.96), None).u is None
    # what cannot be told of a source cannot be told of what is made from it
    assert truth(_total(bench, 20, "K5"), (4.0, 16.0), fine).u == pytest.approx(0.5 * (17.0**0.5 / 5 * 0.001) / 20, rel=0.3)


def test_checks_before_weighing(bench):
    fine = next(iter(bench.book.all(Balance)))
    mixing, linalool, ethanol = Mixing(bench.book), bench.material("Linalool"), bench.material("Ethanol 96 %")
    plan = mixing.dilution(linalool, 0.5, "total", 20, bench.row("M10-1"), bench.row("S01-1"), ethanol)
    glass = Bottle(code="?", container="plastic bottle", volume_ml=20, liner="paper")
    found = {one.code: one for one in mixing.checks(plan, glass, fine)}
    assert found["too-little"].data == {"code": "M10-1", "left_g": 5.0, "needs_g": 10.0, "most_g": 10.0}
    assert found["vessel-too-small"].data["fills_ml"] == pytest.approx(10 / 0.86 + 10 / 0.7893)
    assert {"container-plastic", "liner-none"} <= set(found)
    assert [one.code for one in mixing.checks(plan, Bottle(code="?", volume_ml=26), fine)][1:] == ["head-space-small"]
    tiny = mixing.dilution(linalool, 0.0001, "total", 5, bench.row("M10-1"), bench.row("S01-1"), ethanol)
    assert [one.code for one in mixing.checks(tiny, Bottle(code="?"), fine)] == ["below-readability"]
    solid = [one.code for one in mixing.checks(_total(bench, 20), Bottle(code="?"), fine)]
    assert solid == ["dissolve-solid"] and not mixing.checks(_total(bench, 20, "K5"), Bottle(code="?"), fine)
    assert role_of(Finding("too-little")) == "amber" and role_of(Finding("dissolve-solid")) == "quiet"


def test_bottles_are_offered_in_their_order_and_strong_enough(bench):
    mixing, ambroxide = Mixing(bench.book), bench.material("Ambroxide")
    assert [row.bottle.code for row in mixing.sources(ambroxide, 0.1)] == ["M19-1", "K5"]
    assert [row.bottle.code for row in mixing.carriers(bench.material("Ethanol 96 %"))] == ["S01-1"]
    bench.book.bottles.discard(bench.key("M19-1"))
    assert [row.bottle.code for row in Mixing(bench.book).sources(ambroxide, 0.01)] == ["K5", "K1"]
    assert bare(bottle_text(bench.row("K1"))) == "K1 · 10 % in DPG · 60.000 g left"


@pytest.mark.parametrize(
    "was, wanted, added, with_code", [(0.1, 0.15, 5.882, "M19-1"), (0.15, 0.1, 50.0, "S01-1")]
)  # fmt: skip
def test_strengthened_and_weakened(bench, was, wanted, added, with_code):
    ambroxide, ethanol = bench.material("Ambroxide"), bench.material("Ethanol 96 %")
    made = Bottle(code="K9", kind="dilution", material=ambroxide, strength=was, carrier=ethanol)
    bench.book.bottles.receive(Arrival(made, 100.0))
    material = ambroxide if with_code == "M19-1" else ethanol
    plan = Mixing(bench.book).change(bench.row("K9"), wanted, bench.row(with_code), material)
    assert round(plan.legs[0].target_g, 3) == added and plan.contents()[ambroxide] == pytest.approx(wanted)
    with pytest.raises(Refused):
        Mixing(bench.book).change(bench.row("K9"), was, bench.row(with_code), material)


# by keyboard ----------------------------------------------------------------------------------------------------------


def test_a_dilution_by_keyboard(bench):
    bench.sheet.start_dilution()
    bench.weigh_on("fine")
    ask = bench.ask
    assert bench.on(ask.material)
    bench.type("ambrox")
    bench.press(K.Key_Return)
    assert ask.material.text() == "Ambroxide" and bench.on(ask.strength)
    assert ask.source.row.bottle.code == "M19-1" and ask.carrier_box.row.bottle.code == "S01-1"
    ask.strength.selectAll()
    bench.type("10")
    for widget in (ask.source, ask.carrier, ask.carrier_box, ask.ways["total"], ask.amount):
        bench.press(K.Key_Return)
        assert bench.on(widget)
    bench.type("20")
    assert bare(bench.body.result.text()) == "2.000 g of Ambroxide from M19-1, then 18.000 g of ethanol from S01-1."
    assert bare(bench.body.holds.text()) == "It will hold 10 % Ambroxide, 90 % ethanol."
    bottle = bench.body.bottle
    assert (bottle.line("code").text(), bottle.line("label").text()) == ("K6", "Ambroxide 10 % ethanol")
    assert bottle.line("ready").text() == "11 Apr 2025" and "grind it fine" in bench.remark("ready")
    for widget in (*(bottle.line(name) for name in ("code", "label", "container", "volume", "liner", "dropper", "tare", "place",
                                                    "ready")), bench.body.balance):  # fmt: skip
        bench.press(K.Key_Return)
        assert bench.on(widget)
        if widget is bottle.line("tare"):
            bench.type("36,5")
    bench.press(K.Key_Return)
    bench.type("2,04")
    bench.press(K.Key_Return)
    bench.type("17.96")
    assert bare(bench.body.truth.text()) == "True strength 10.200 % ± 0.009 (k = 2); 20.000 g in the bottle."
    bench.press(K.Key_Return)
    assert bench.on(bench.body.book_button)
    bench.press(K.Key_Return)
    made = bench.book.get(Bottle, bench.made[0])
    assert (made.code, made.kind, made.strength, made.tare_g) == ("K6", "dilution", 0.1, 36.5)
    assert str(made.ready_on) == "2025-04-11" and made.carrier == bench.material("Ethanol 96 %")
    (making,) = bench.book.all(Making, into_bottle=made.key)
    assert (making.kind, making.target_g, making.balance) == ("dilution", 20, next(iter(bench.book.all(Balance))).key)
    moves = [(m.target_g, m.read_g, m.from_bottle) for m in bench.book.all(Move, making=making.key)]
    assert moves == [(2.0, 2.04, bench.key("M19-1")), (18.0, 17.96, bench.key("S01-1"))]
    (state,) = bench.book.all(Contents, bottle=made.key)
    assert state.shares[made.material] == pytest.approx(0.102)
    assert bench.told == [("K6 (Ambroxide 10 % ethanol) is in the book, 20.000 g.", "done")]


def test_ctrl_enter_books_from_anywhere_and_leaving_keeps_what_was_typed(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    assert bench.on(bench.ask.amount)
    bench.type("8")
    bench.read("0.8", "")
    bench.press(K.Key_Escape)
    assert bench.left == [True]
    bench.sheet.start_dilution(source=bench.key("K1"))
    assert bench.ask.amount.text() == "" and bench.ask.strength.text() == "1"
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    assert bench.ask.amount.text() == "8" and bench.body.rows.shown[0].read.text() == "0.8"
    bench.press(K.Key_Return, CTRL)
    assert not bench.made and bench.on(bench.body.rows.shown[1].read)
    assert "A number is missing" in bench.body.rows.shown[1].said
    bench.type("7.2")
    bench.press(K.Key_Return, CTRL)
    assert len(bench.made) == 1
    # what was booked does not wait any more
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    assert bench.ask.amount.text() == ""


def test_a_stronger_dilution_as_source_is_one_of_the_four_ways(bench):
    bench.sheet.start_dilution(material=bench.material("Ambroxide"), strength=0.1)
    ask = bench.ask
    assert ask.way == "total"
    ask.ways["thinned"].click()
    assert ask.source.row.bottle.code == "K5"
    ask.amount.setText("20")
    assert bare(bench.body.result.text()) == "4.000 g of Ambroxide from K5, then 16.000 g of ethanol from S01-1."
    ask.ways["total"].click()
    assert ask.source.row.bottle.code == "M19-1"
    ask.source.choose(bench.key("K5"))
    assert ask.way == "thinned"
    ask.ways["carrier"].click()
    assert ask.fields["amount"].caption.text() == "carrier poured, g"
    assert bare(bench.body.result.text()) == "20.000 g of ethanol from S01-1 is there: add 5.000 g of Ambroxide from K5."
    ask.amount.clear()
    ask.ways["source"].click()
    assert ask.amount.text() == "40.000"
    ask.source.choose(bench.key("M19-1"))
    assert ask.amount.text() == "30.000" and ask.way == "source"


# refused beside what it concerns --------------------------------------------------------------------------------------


def test_what_cannot_be_is_said_beside_its_field(bench):
    bench.sheet.start_dilution(source=bench.key("K1"), strength=0.2)
    assert bench.remark("strength").startswith("20.00 % is out of reach: 10.00 % is the most this can give.")
    bench.ask.strength.setText("200")
    assert "at most 100 %" in bench.remark("strength")
    bench.ask.strength.setText("1")
    assert bench.remark("strength") == ""
    bench.ask.amount.setText("0")
    assert "more than 0" in bench.remark("amount")
    bench.ask.amount.setText("700")
    assert bench.remark("source").startswith("K1 holds 60.000 g, and 70.000 g is needed. At most 600.000 g")
    bench.ask.amount.setText("7")
    assert bench.remark("source") == ""
    bench.ask.carrier.show_key(bench.ask.material.key)
    bench.ask.carrier.taken.emit()
    assert "cannot be diluted in itself" in bench.remark("carrier")


def test_a_refused_booking_keeps_what_was_typed(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    bench.ask.amount.setText("10")
    bench.read("1", "9")
    bench.body.bottle.line("code").setText("K5")
    bench.body.book_it()
    assert bench.remark("code").startswith("The code K5 is taken")
    bench.body.bottle.line("code").setText("")
    bench.body.book_it()
    assert bench.remark("code").startswith("A code is missing")
    bench.body.bottle.line("code").setText("K7")
    bench.body.bottle.line("volume").setText("5")
    assert "the vessel holds 5 ml" in bench.remark("volume")
    bench.body.bottle.line("dropper").setText("soon")
    bench.body.book_it()
    assert "cannot be read as a day" in bench.remark("dropper")
    bench.body.bottle.line("dropper").setText("5 Mar 2025")
    bench.read("x", "9")
    bench.body.book_it()
    assert "not a number" in bench.body.rows.shown[0].said and not bench.made
    bench.read("1", "9")
    bench.body.book_it()
    made = bench.book.get(Bottle, bench.made[0])
    assert (made.code, str(made.dropper_on), made.volume_ml) == ("K7", "2025-03-05", 5)


def test_more_than_the_book_says_is_corrected_with_a_reason_in_the_same_place(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.5)
    bench.ask.amount.setText("11")
    bench.read("5.5", "5.5")
    bench.body.book_it()
    row = bench.body.rows.shown[0]
    assert bare(row.said).startswith("M10-1 holds 5.000 g by the book, and 5.500 g would leave it.")
    assert bare(row.correct.text()) == "There was more: book 0.500 g as a correction, then go on"
    assert bench.on(row.reason)
    bench.press(K.Key_Return)
    assert "A correction needs its reason" in row.reason_field.remark.text() and not bench.made
    bench.type("bottle was overfilled")
    bench.press(K.Key_Return)
    assert len(bench.made) == 1 and bench.row("M10-1").left_g == 0
    (correction,) = bench.book.all(Move, kind="correction")
    assert (correction.mass_g, correction.remark) == (pytest.approx(0.5), "bottle was overfilled")


def test_a_bottle_that_is_not_in_the_book_never_blocks_the_work(bench):
    bench.book.bottles.discard(bench.key("M10-1"))
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    assert bench.ask.source.currentText() == "a bottle not in the book yet"
    bench.ask.amount.setText("10")
    bench.read("1", "9")
    bench.body.book_it()
    made = bench.made[0]
    fresh = bench.book.get(Bottle, "M10-2")
    assert bench.book.contents(made)[fresh.material] == pytest.approx(0.1)
    assert bench.book.contents(fresh.key) == {fresh.material: 1.0}
    assert not list(bench.book.all(Move, kind="received", to_bottle=fresh.key))


def test_nothing_is_written_for_a_mixture_that_is_refused(bench):
    bench.book.bottles.discard(bench.key("M10-1"))
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    bench.ask.amount.setText("700")
    bench.read("70", "630")
    bench.body.book_it()
    row = bench.body.rows.shown[1]
    assert bare(row.said).startswith("S01-1 holds 500.000 g by the book") and bench.book.get(Bottle, "M10-2") is None
    # what was said of a reading goes with it
    row.read.setText("63")
    assert row.said == "" and row.correct.isHidden()


def test_a_first_reading_that_is_off_can_be_made_up_for(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    bench.ask.amount.setText("20")
    bench.read("2.05", "")
    assert bare(bench.body.truth.text()) == "With 2.050 g read, 18.450 g ethanol S01-1 would bring it to 10 %."
    bench.ask.ways["carrier"].click()
    assert [row.read.text() for row in bench.body.rows.shown] == ["", "2.05"]
    bench.read("19.8", "")
    assert bare(bench.body.truth.text()) == "With 19.800 g read, 2.200 g Linalool M10-1 would bring it to 10 %."


def test_a_label_stands_for_contents_nobody_wrote(bench):
    bench.book.put(Bottle(code="B1", material=bench.material("Linalool")))
    bench.sheet.start_dilution(source=bench.key("B1"), strength=0.1)
    bench.ask.amount.setText("10")
    bench.read("1", "9")
    bench.body.book_it()
    assert bench.book.contents(bench.made[0])[bench.material("Linalool")] == pytest.approx(0.1)


# accord, smelling, top-up ---------------------------------------------------------------------------------------------


def test_an_accord_of_all_its_bottles(demo):
    demo.sheet.start_accord()
    assert demo.ask.version.currentText() == "Wet slate accord A-WS"
    legs = demo.body.plan.legs
    assert [leg.code for leg in legs] == ["M13-1", "M17-1", "K20", "K21", "K22", "K19", "K23", "K26"]
    assert [round(leg.target_g, 3) for leg in legs] == [5.2, 0.8, 1.2, 0.8, 0.3, 1.0, 0.3, 0.4]
    # two bottles of one stock: either can be taken
    box = demo.body.rows.shown[5].box
    box.choose(demo.key("K19B"))
    assert demo.body.plan.legs[5].code == "K19B"
    box.choose(demo.key("K19"))
    demo.read("5.2", "0.8", "1.2", "0.8", "0.3", "1", "0.3", "0.4")
    assert bare(demo.body.truth.text()) == "10.000 g in the bottle."
    demo.body.book_it()
    made = demo.book.get(Bottle, demo.made[0])
    version = demo.book.get(Version, "A-WS")
    assert (made.code, made.kind, made.version, made.label) == ("A-1", "accord", version.key, "Wet slate accord")
    (making,) = demo.book.all(Making, into_bottle=made.key)
    assert (making.kind, making.version) == ("accord", version.key)
    moves = list(demo.book.all(Move, making=making.key))
    assert [move.line for move in moves] == [line.key for line in version.lines]
    assert demo.book.contents(made.key)[demo.material("Vetiver oil")] == pytest.approx(0.08)


def test_a_stock_that_is_lacking_is_named_and_made_in_between(demo):
    demo.book.bottles.discard(demo.key("K20"))
    demo.sheet.start_accord()
    row = demo.body.rows.shown[2]
    assert bare(row.said) == "No bottle of Moss ester 10 % in DPG: make it first."
    demo.body.rows.shown[0].read.setText("5.2")
    demo.body.book_it()
    assert demo.on(row.link) and not demo.made
    row.link.click()
    assert demo.ask.material.text() == "Moss ester" and demo.ask.carrier.text() == "DPG" and demo.ask.strength.text() == "10"
    demo.ask.amount.setText("10")
    demo.read("1", "9")
    demo.body.book_it()
    # back to the accord, with what was read there
    assert demo.body.rows.shown[2].leg.code == "K27" and demo.body.rows.shown[0].read.text() == "5.2"
    assert not demo.made and demo.body.rows.shown[2].said == ""


def test_a_neat_material_that_is_lacking_in_an_accord(demo):
    for code in ("M13-1", "A-WS"):
        demo.book.bottles.discard(demo.key(code))
    demo.sheet.start_accord(demo.book.get(Version, "A-WS").key)
    row = demo.body.rows.shown[0]
    assert row.said == "No bottle of OTNE (woody ketone) in the book."
    row.link.click()
    assert demo.body.plan.legs[0].unbooked is not None and row.read.isEnabled()
    # one that came meanwhile is offered, and not taken unasked
    demo.book.bottles.receive(Arrival(Bottle("M13-9", material=demo.material("OTNE (woody ketone)")), 20.0))
    assert row.leg.unbooked is not None and row.box.currentText() == "a bottle not in the book yet"
    row.box.choose(demo.key("M13-9"))
    assert row.leg.code == "M13-9"
    # inside another version the accord itself can be made first
    demo.sheet.start_accord(demo.book.get(Version, "SR-4").key)
    lacking = next(r for r in demo.body.rows.shown if r.leg.lack is not None and r.leg.lack.accord)
    lacking.link.click()
    assert demo.ask.version.currentText() == "Wet slate accord A-WS"
    demo.press(K.Key_Escape)
    assert demo.ask.version.currentText() == "SR-4" and not demo.left


def test_a_child_version_needs_its_reason_before_it_is_weighed(bench):
    (project,) = bench.book.put(Project(code="P", name="Project"))
    line = Line(parts=1, material=bench.material("Linalool"))
    (parent,) = bench.book.put(Version(project=project.key, code="P-1", lines=(line,)))
    (child,) = bench.book.put(bench.book.draft_of(parent.key))
    bench.sheet.start_accord(child.key)
    assert "never change again" in bench.remark("version")
    bench.ask.amount.setText("2")
    bench.read("2")
    bench.body.book_it()
    assert "has no reason yet" in bench.remark("version") and not bench.made


def test_a_vial_thinned_for_smelling(demo):
    demo.sheet.start_smelling(demo.key("V024"))
    assert (demo.ask.amount.text(), demo.ask.strength.text(), demo.ask.carrier.text()) == ("1.000", "12", "ethanol")
    assert bare(demo.body.result.text()) == "1.000 g of V024, then 7.333 g of ethanol from S01-1."
    bottle = demo.body.bottle
    assert (bottle.line("code").text(), bottle.line("label").text()) == ("V024-12-1", "SR-3 T-024 12 %")
    demo.weigh_on("B1")
    demo.read("1", "7.333")
    assert bare(demo.body.truth.text()) == "True strength 12.00 % ± 0.02 (k = 2); 8.333 g in the bottle."
    demo.body.book_it()
    made = demo.book.get(Bottle, demo.made[0])
    vial = demo.book.get(Bottle, "V024")
    assert (made.kind, made.version, made.strength) == ("smelling", vial.version, 0.12)
    (making,) = demo.book.all(Making, into_bottle=made.key)
    assert (making.kind, making.version) == ("smelling", vial.version)
    assert demo.row("V024").left_g == pytest.approx(3.014)


def test_a_vial_nothing_was_weighed_into_can_be_thinned(demo):
    _, vial = demo.book.start_trial(demo.book.get(Version, "SR-4").key, 5.0)
    demo.sheet.start_smelling(vial.key, strength=0.2)
    assert "its mass is not in the book" in demo.ask.told.text()
    assert bare(demo.body.result.text()) == f"1.000 g of {vial.code}, then 4.000 g of ethanol from S01-1."
    demo.read("1", "4")
    demo.body.book_it()
    assert demo.book.get(Bottle, demo.made[0]).code == f"{vial.code}-20"


def test_a_loss_is_made_up_for_and_the_label_holds_again(demo):
    demo.sheet.start_top_up(demo.key("K19"), settle=True)
    assert bare(demo.ask.told.text()).startswith("0.650 g are missing from K19.")
    assert bare(demo.body.result.text()) == "Add 0.650 g of ethanol from S01-1 to K19."
    demo.read("0.65")
    demo.body.book_it()
    assert demo.made == [demo.key("K19")]
    row = demo.row("K19")
    assert row.bottle.strength == 0.1 and row.strength == pytest.approx(0.1) and row.left_g == pytest.approx(13.6)
    assert [state.reason for state in demo.book.bottles.states(row.key)] == ["made", "drift", "topped up"]
    # nothing is missing any more
    demo.sheet.start_top_up(demo.key("K19"), settle=True)
    demo.body.book_it()
    assert len(demo.made) == 1 and demo.body.plan is None


def test_a_mixture_gets_another_strength_and_another_label(demo):
    demo.sheet.start_change(demo.key("K20"))
    demo.ask.strength.setText("5")
    assert bare(demo.body.result.text()) == "Add 19.243 g of DPG from S02-1 to K20."
    assert demo.body.bottle.line("label").text() == "Moss ester 5 % DPG"
    demo.ask.strength.setText("12")
    assert demo.ask.box.row.bottle.code == "M20-1" and demo.body.plan.legs[0].name == "Moss ester"
    demo.ask.strength.setText("5")
    demo.read("19.243")
    demo.body.book_it()
    row = demo.row("K20")
    assert (row.bottle.strength, row.bottle.label) == (0.05, "Moss ester 5 % DPG")
    assert row.strength == pytest.approx(0.05, rel=1e-4)
    demo.sheet.start_top_up(demo.key("K18"))
    assert demo.ask.strength.text() == "20" and bare(demo.body.result.text()).startswith("Add 0.025 g of ethanol")


def test_the_balance_chosen_is_remembered(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    bench.ask.amount.setText("10")
    bench.weigh_on("coarse")
    assert bare(bench.body.result.text()) == "1.00 g of Linalool from M10-1, then 9.00 g of ethanol from S01-1."
    bench.sheet.start_dilution(source=bench.key("K1"))
    assert bench.body.balance.currentText() == "coarse"


# what a reviewer found ---------------------------------------------------------------------------------------------------


def test_two_liquids_that_the_book_does_not_have_yet(tmp_path, clock):
    """On an empty shelf both come with what is made from them, each under a code of its own, or neither does."""
    with Book.create(tmp_path / "empty.stillroom", "Empty", clock=clock) as book:
        amber, ethanol = book.put(Material("Ambroxide", form="crystals"), Material("Ethanol", is_carrier=True))
        book.put(Bottle("K1"))
        mixing = Mixing(book)
        plan = mixing.dilution(amber.key, 0.1, "total", 20.0, None, None, ethanol.key)
        assert [leg.code for leg in plan.legs] == ["B1", "B2"]
        label = Bottle("K1", kind="dilution", material=amber.key, strength=0.1, carrier=ethanol.key)
        with pytest.raises(Refused):
            Booking(book, mixing.known).book_it(plan, label, [2.0, 18.0], None)
        assert [bottle.code for bottle in book.all(Bottle)] == ["K1"] and not list(book.all(Contents))
        made = Booking(book, mixing.known).book_it(plan, replace(label, code="K2"), [2.0, 18.0], None)
        assert {bottle.code for bottle in book.all(Bottle)} == {"K1", "B1", "B2", "K2"}
        assert book.contents(made.key) == pytest.approx({amber.key: 0.1, ethanol.key: 0.9})


def test_the_same_neat_material_in_two_lines_is_one_bottle(tmp_path, clock):
    with Book.create(tmp_path / "empty.stillroom", "Empty", clock=clock) as book:
        (lemon,) = book.put(Material("Lemon oil"))
        (project,) = book.put(Project("SR"))
        (version,) = book.put(Version(project.key, "A-1", (Line(30, lemon.key), Line(70, lemon.key))))
        mixing = Mixing(book)
        plan = mixing.accord(version, 10.0, {line.key: 0 for line in version.lines})
        Booking(book, mixing.known).book_it(plan, Bottle("A1", kind="accord", version=version.key), [3.0, 7.0], None)
        (bottle,) = book.all(Bottle, material=lemon.key)
        assert len(list(book.all(Move, from_bottle=bottle.key))) == 2


def test_a_reading_belongs_to_the_bottle_it_was_read_from(bench):
    """1.0 read from one bottle is not booked as poured from another that is chosen afterwards."""
    bench.book.bottles.receive(Arrival(Bottle("M19-9", material=bench.material("Ambroxide")), 5.0))
    bench.sheet.start_dilution(material=bench.material("Ambroxide"), strength=0.1)
    bench.ask.amount.setText("10")
    bench.read("1.0", "")
    bench.ask.source.choose(bench.key("M19-9"))
    row = bench.body.rows.shown[0]
    assert (row.leg.code, row.read.text()) == ("M19-9", "") and row.remark.property("role") == "amber"
    assert "1.0 was read from M19-1 before" in row.said
    row.read.setText("0.9")
    bench.body.update_plan()
    assert "before" not in row.said
    row.read.clear()
    bench.ask.source.choose(bench.key("M19-1"))
    assert row.read.text() == "1.0" and "before" not in row.said


def test_a_bottle_that_went_away_leaves_nothing_chosen(bench):
    bench.book.bottles.receive(Arrival(Bottle("M19-9", material=bench.material("Ambroxide")), 5.0),
                               Arrival(Bottle("S01-9", material=bench.material("Ethanol 96 %")), 50.0))  # fmt: skip
    bench.sheet.start_dilution(material=bench.material("Ambroxide"), strength=0.1)
    bench.ask.amount.setText("10")
    bench.read("1.0", "9")
    bench.book.bottles.discard(bench.key("M19-1"))
    assert bench.ask.source.currentIndex() == -1 and bench.body.plan is None
    assert bench.remark("source") == "M19-1 is not offered here any more: choose another one."
    bench.body.book_it()
    assert not bench.made and bench.on(bench.ask.source)
    bench.ask.source.choose(bench.key("M19-9"))
    assert bench.remark("source") == "" and [row.read.text() for row in bench.body.rows.shown] == ["", "9"]
    bench.book.bottles.discard(bench.key("S01-1"))
    assert bench.remark("carrier bottle").startswith("S01-1 is not offered") and bench.body.plan is None
    bench.ask.carrier_box.choose(bench.key("S01-9"))
    assert bench.body.plan is not None
    # another material begins with its first bottle
    bench.ask.material.show_key(bench.material("Linalool"))
    bench.ask.material.taken.emit()
    assert bench.ask.source.row.bottle.code == "M10-1"


def test_a_bottle_that_comes_back_is_chosen_again(bench):
    """A letter too many makes the source too weak; without the letter it is as it was."""
    bench.sheet.start_change(bench.key("K1"))
    bench.ask.strength.setText("20")
    bench.ask.box.choose(bench.key("K5"))
    bench.read("1")
    bench.ask.strength.setText("60")
    assert bench.body.plan is None and bench.remark("bottle").startswith("K5 is not offered here any more")
    bench.ask.strength.setText("20")
    assert bench.ask.box.row.bottle.code == "K5" and bench.remark("bottle") == ""
    assert bench.body.rows.shown[0].read.text() == "1"


def test_a_version_that_went_away_leaves_none_chosen(demo):
    demo.sheet.start_accord()
    chosen = demo.ask.version.currentData()
    demo.book.retire(chosen)
    assert demo.ask.version.currentIndex() == -1 and demo.body.plan is None
    assert demo.remark("version") == "The version chosen is not in use any more: choose another one."


def test_figures_that_were_read_keep_their_balance(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    bench.weigh_on("fine")
    bench.ask.amount.setText("10")
    waiting = bench.body
    bench.sheet.start_dilution(source=bench.key("K1"))
    bench.weigh_on("coarse")
    # nothing was read yet: the balance used last is taken
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    assert bench.body is waiting and waiting.balance.currentText() == "coarse"
    bench.read("1", "")
    bench.sheet.start_dilution(source=bench.key("K1"))
    bench.weigh_on("fine")
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.1)
    bench.book.put(Balance("third", d_g=0.0001))
    assert bench.body is waiting and waiting.balance.currentText() == "coarse"


def test_a_line_of_an_accord_whose_bottle_went_away_is_open(demo):
    demo.sheet.start_accord()
    row = demo.body.rows.shown[5]
    row.box.choose(demo.key("K19B"))
    demo.read("5.2", "0.8", "1.2", "0.8", "0.3", "1", "0.3", "0.4")
    demo.book.bottles.discard(demo.key("K19B"))
    row = demo.body.rows.shown[5]
    assert (row.box.currentIndex(), row.read.text()) == (-1, "") and not row.read.isEnabled()
    assert row.said.startswith("K19B is not offered here any more: choose another one. 1 was read from K19B before")
    demo.body.book_it()
    assert not demo.made and demo.on(row.box)
    with pytest.raises(Refused):
        demo.body.booking.book_it(demo.body.plan, Bottle("A9", kind="accord"), [1.0] * 8, None)
    row.box.choose(demo.key("K19"))
    assert row.leg.code == "K19" and row.read.isEnabled()


def test_what_was_typed_waits_however_many_mixtures_come_after_it(bench):
    first = {"material": bench.material("Linalool"), "strength": 0.1}
    bench.sheet.start_dilution(**first)
    bench.ask.amount.setText("8")
    bench.read("0.8", "")
    bench.ask.amount.clear()
    bench.sheet.start_dilution(**first, carrier=bench.material("Dipropylene glycol"))
    bench.body.bottle.line("place").setText("E-3")
    for percent in range(1, 10):
        bench.sheet.start_dilution(material=bench.material("Ambroxide"), strength=percent / 100)
    assert len(bench.sheet._bodies) == 6
    bench.sheet.start_dilution(**first, carrier=bench.material("Dipropylene glycol"))
    assert bench.body.bottle.line("place").text() == "E-3"
    bench.sheet.start_dilution(**first)
    bench.ask.amount.setText("8")
    assert bench.body.rows.shown[0].read.text() == "0.8"


@contextmanager
def counted(book):
    """The statements that a book runs."""
    told: list[str] = []
    book._file.raw.set_trace_callback(told.append)
    try:
        yield told
    finally:
        book._file.raw.set_trace_callback(None)


def _letters(bench, line, *texts):
    with counted(bench.book) as told:
        for text in texts:
            line.setText(text)
    return told


def test_no_letter_asks_the_book_again(bench):
    bench.sheet.start_dilution(material=bench.material("Ambroxide"), strength=0.1)
    bench.ask.amount.setText("1")
    bench.read("0.1", "")
    plans = []
    plan = bench.ask._plan
    bench.ask._plan = lambda: plans.append(1) or plan()
    assert _letters(bench, bench.ask.amount, "10", "100", "10") == []
    assert len(plans) == 3
    assert _letters(bench, bench.ask.strength, "1", "12", "1") == []
    # one plan a letter
    assert len(plans) == 6
    assert _letters(bench, bench.body.bottle.line("label"), "A", "Am") == []
    assert _letters(bench, bench.body.rows.shown[0].read, "1", "1.2") == []
    # what is seen for the first time is asked for once, and again only after a change that concerns it
    bench.book.bottles.draw(bench.key("M19-1"), "used", 1.0)
    assert bare(bench.ask.source.currentText()) == "M19-1 · neat · 29.000 g left"
    (ambroxide,) = [m for m in bench.book.all(Material) if m.name == "Ambroxide"]
    bench.book.put(replace(ambroxide, bench_name="Amber"))
    assert bare(bench.body.result.text()).startswith("0.100 g of Amber from M19-1")


@pytest.mark.parametrize("start", ["accord", "smelling", "change", "top-up"])
def test_no_letter_of_the_other_questions_asks_the_book_again(demo, start):
    starts = {
        "accord": lambda: demo.sheet.start_accord(), "smelling": lambda: demo.sheet.start_smelling(demo.key("V024")),
        "change": lambda: demo.sheet.start_change(demo.key("K20")), "top-up": lambda: demo.sheet.start_top_up(demo.key("K18")),
    }  # fmt: skip
    starts[start]()
    first = demo.ask.fields["amount" if start in ("accord", "smelling") else "strength"].editor
    texts = ("2", "25", "2") if start == "accord" else ("2", "1", "2")
    for text in texts:
        first.setText(text)
    assert demo.body.plan is not None and _letters(demo, first, *texts) == []


def test_a_change_that_concerns_nothing_asks_nothing(bench):
    bench.sheet.start_dilution(material=bench.material("Ambroxide"), strength=0.1)
    bench.ask.amount.setText("10")
    plans = []
    bench.ask.edited.connect(lambda: plans.append(1))
    with counted(bench.book) as open_:
        bench.book.put(Material("Vanillin"))
    bench.sheet.hide()
    with counted(bench.book) as closed:
        bench.book.put(Material("Coumarin"))
    assert len(open_) == len(closed) and not plans
    bench.sheet.show()
    bench.book.put(Balance("third", d_g=0.0001))
    assert bench.body.balance.findText("third") >= 0 and plans


def test_what_cannot_begin_leaves_the_sheet_as_it_was(demo):
    assert not demo.sheet.start_smelling(999_999) and demo.sheet.body is None
    assert demo.sheet.start_accord() is True
    demo.book.bottles.discard(demo.key("K20"))
    demo.body.rows.shown[2].link.click()
    before = demo.body
    for refused in (demo.sheet.start_smelling, demo.sheet.start_change, demo.sheet.start_top_up):
        demo.told.clear()
        assert refused(999_999) is False
        assert demo.body is before and [tone for _, tone in demo.told] == ["refused"]
    # the accord that asked for it is still come back to
    demo.press(K.Key_Escape)
    assert demo.body.title.text() == "An accord" and not demo.left
    # what is begun from elsewhere leads back to nothing
    demo.body.rows.shown[2].link.click()
    assert demo.sheet.start_change(demo.key("K18"))
    demo.press(K.Key_Escape)
    assert demo.left == [True]


def test_how_far_the_strength_of_a_changed_bottle_is_known(bench):
    """u² = ((w₀ − w)·u(m₀) ÷ M)² + ((w₁ − w)·u(m₁) ÷ M)² + (m₀·u(w₀) ÷ M)²; worked by hand."""
    ambroxide, ethanol = bench.material("Ambroxide"), bench.material("Ethanol 96 %")
    fine = next(iter(bench.book.all(Balance)))
    bought = Bottle(code="K9", kind="dilution", material=ambroxide, strength=0.1, carrier=ethanol)
    bench.book.bottles.receive(Arrival(bought, 10.0))
    plan = Mixing(bench.book).change(bench.row("K9"), 0.4, bench.row("M19-1"), ambroxide)
    found, net = 0.001 * 2**0.5, 0.001
    assert (weighing.found_u(fine), weighing.net_u(fine)) == pytest.approx((found, net))
    told = truth(plan, [5.0], fine)
    assert (told.total_g, told.strength) == pytest.approx((15.0, 0.4))
    assert told.u == pytest.approx(((0.3 * found / 15) ** 2 + (0.6 * net / 15) ** 2) ** 0.5)
    # one that was weighed together brings its own
    made = Mixing(bench.book).dilution(ambroxide, 0.1, "total", 10.0, bench.row("M19-1"), bench.row("S01-1"), ethanol)
    Booking(bench.book, Known(bench.book)).book_it(made, replace(bought, code="K10"), [1.0, 9.0], fine)
    own = bench.book.bottles.uncertainty(bench.key("K10"))[ambroxide]
    plan = Mixing(bench.book).change(bench.row("K10"), 0.05, bench.row("S01-1"), ethanol)
    u = ((0.05 * found / 20) ** 2 + (0.05 * net / 20) ** 2 + (10 * own / 20) ** 2) ** 0.5
    assert own > 0 and truth(plan, [10.0], fine).u == pytest.approx(u)
    # as it is shown
    bench.sheet.start_change(bench.key("K9"))
    bench.weigh_on("fine")
    bench.ask.strength.setText("40")
    bench.read("5")
    assert bare(bench.body.truth.text()) == "True strength 40.00 % ± 0.01 (k = 2); 15.000 g in the bottle."


def test_after_a_draw_less_brings_a_bottle_back(demo):
    row = demo.row("K19")
    demo.book.bottles.draw(row.key, "used", row.left_g / 2)
    demo.sheet.start_top_up(row.key, settle=True)
    told = bare(demo.ask.told.text())
    assert told.startswith("0.650 g are missing from K19.") and told.endswith("0.325 g ethanol bring it back.")
    assert bare(demo.body.result.text()) == "Add 0.325 g of ethanol from S01-1 to K19."
    shares = demo.body.plan.contents()
    assert shares[demo.material("Ambroxide")] == pytest.approx(0.1) and sum(shares.values()) == pytest.approx(1)
    demo.read("0.325")
    demo.body.book_it()
    assert demo.row("K19").strength == pytest.approx(0.1)


def test_a_correction_stands_only_with_the_mixture_it_is_for(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.5)
    bench.ask.amount.setText("11")
    bench.read("5.5", "5.5")
    bench.body.book_it()
    row = bench.body.rows.shown[0]
    row.reason.setText("bottle was overfilled")
    # another mass: the offer was for the one before
    row.read.setText("5.4")
    assert row.correct.isHidden() and row.reason_field.isHidden() and row.said == ""
    bench.body.book_it()
    assert bare(row.correct.text()).startswith("There was more: book 0.400 g")
    # refused for another reason: nothing of it is in the book, and it is said on the sheet
    bench.body.bottle.line("code").setText("K5")
    row.correct.click()
    assert bench.remark("code").startswith("The code K5 is taken")
    assert not bench.made and not list(bench.book.all(Move, kind="correction"))
    assert bare(row.said) == "0.400 g more than booked go into the book as a correction."
    bench.body.rows.shown[0].read.setText("5.6")
    assert row.said == "" and row.agreed is None
    bench.body.bottle.line("code").setText("K7")
    bench.body.book_it()
    bench.body.bottle.line("code").setText("K5")
    row.correct.click()
    # still refused, and more was drawn meanwhile: what is agreed adds up
    bench.book.bottles.draw(bench.key("M10-1"), "used", 1.0)
    bench.body.bottle.line("code").setText("K7")
    bench.body.book_it()
    assert bare(row.correct.text()).startswith("There was more: book 1.000 g")
    row.correct.click()
    (correction,) = bench.book.all(Move, kind="correction")
    assert correction.mass_g == pytest.approx(1.6) and bench.row("M10-1").left_g == 0 and len(bench.made) == 1


def test_every_mass_of_the_sheet_takes_comma_and_unit(bench):
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.5)
    bench.ask.amount.setText("2,0 G")
    bench.read("1,0 G", "1 g ")
    bench.body.bottle.line("tare").setText("36,5 G")
    bench.body.bottle.line("volume").setText("30 ML")
    assert bench.body.bottle.vessel.volume_ml == 30
    bench.body.book_it()
    made = bench.book.get(Bottle, bench.made[0])
    assert (made.tare_g, made.volume_ml, bench.row(made.code).left_g) == (36.5, 30, 2.0)
    bench.sheet.start_dilution(material=bench.material("Linalool"), strength=0.5)
    bench.ask.amount.setText("2")
    bench.body.bottle.line("volume").setText("0")
    bench.body.book_it()
    assert "cannot be" in bench.remark("volume")

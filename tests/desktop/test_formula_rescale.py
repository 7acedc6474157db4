# SPDX-License-Identifier: MIT
"""Lines held, a formula rescaled around them, a stock exchanged: asked below the table, by keyboard, each one step."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import pytest
import shiboken6
from PySide6.QtCore import QItemSelectionModel, QPoint, Qt
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QApplication, QLineEdit

from db import Book, make_demo
from desktop.figures import FIGURE_SPACE, THIN
from desktop.models.line_rows import HELD, parts_text
from desktop.pages.bench.formula import FormulaPane
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Bottle, Composition, Line, Material, Project, Version

K = Qt.Key
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
ROWS = QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows


@dataclass
class Bench:
    book: Book
    session: Session
    pane: FormulaPane
    qtbot: Any

    @property
    def version(self) -> Version:
        version = self.session.version
        assert version is not None
        return version

    @property
    def made(self) -> Composition:
        assert self.pane.model.composition is not None
        return self.pane.model.composition

    @property
    def told(self) -> str:
        return self.pane.asked.told.text().replace(THIN, " ")

    def show(self, code: str) -> Version:
        self.session.choose_version(self.book.get(Version, code).key)
        return self.version

    def place(self, name: str) -> int:
        return next(at for at, row in enumerate(self.pane.model.rows) if row.name == name and not row.path)

    def go(self, name: str, key: str = "parts") -> None:
        model = self.pane.model
        self.pane.grid.setFocus()
        self.pane.grid.go_to(model.index(self.place(name), model.place_of(key)))

    def cell(self, name: str, key: str) -> str:
        model = self.pane.model
        text = model.cell(self.place(name), model.place_of(key))
        return text.strip(f"{FIGURE_SPACE}\u2008").replace(THIN, " ")

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        self.qtbot.keyClick(self.pane.window().focusWidget(), key, modifier)

    def answer(self, text: str) -> None:
        field = self.pane.asked.field
        assert field.hasFocus()
        field.selectAll()
        self.qtbot.keyClicks(field, text)

    def parts(self) -> list[float]:
        return [row.line.parts for row in self.made.rows]


def _bench(book: Book, qtbot: Any, qapp: QApplication, tmp_path: Any) -> Iterator[Bench]:
    theme = Theme(qapp, "light")
    session = Session(book, theme, Settings(tmp_path / "settings.ini"))
    pane = FormulaPane(session)
    qtbot.addWidget(pane)
    QAbstractItemModelTester(pane.model, QAbstractItemModelTester.FailureReportingMode.Fatal, pane)
    pane.resize(600, 760)
    pane.show()
    qtbot.waitExposed(pane)
    pane.activateWindow()
    qtbot.waitUntil(pane.isActiveWindow)
    yield Bench(book, session, pane, qtbot)
    pane.hide()
    shiboken6.delete(pane)
    shiboken6.delete(session)
    shiboken6.delete(theme)
    book.close()


@pytest.fixture
def demo(qtbot: Any, qapp: QApplication, tmp_path: Any, clock: Any) -> Iterator[Bench]:
    """The demo studio at SR-1."""
    for bench in _bench(make_demo(tmp_path / "demo.book", clock), qtbot, qapp, tmp_path):
        bench.show("SR-1")
        yield bench


@pytest.fixture
def small(qtbot: Any, qapp: QApplication, tmp_path: Any, clock: Any) -> Iterator[Bench]:
    """A draft with ambroxide at 10 % in ethanol, 30 free ethanol, and ambroxide on the shelf in three bottles."""
    book = Book.create(tmp_path / "small.book", "small", clock=clock)
    key = {name: book.new_key() for name in ("lemon", "amb", "eth", "dpg", "p", "v")}
    book.put(
        Material(key=key["lemon"], name="Lemon oil"),
        Material(key=key["amb"], name="Ambroxide", form="crystals"),
        Material(key=key["eth"], name="Ethanol 96 %", bench_name="ethanol", form="solvent", is_carrier=True),
        Material(key=key["dpg"], name="Dipropylene glycol", bench_name="DPG", form="solvent", is_carrier=True),
        Bottle(code="A-1", material=key["amb"], price_per_g=3.0),
        Bottle(code="A-2", kind="dilution", material=key["amb"], strength=0.1, carrier=key["eth"]),
        Bottle(code="A-3", kind="dilution", material=key["amb"], strength=0.05, carrier=key["eth"]),
        Bottle(code="E-1", material=key["eth"], price_per_g=0.02),
        Bottle(code="L-1", material=key["lemon"], price_per_g=0.1),
        Project(key=key["p"], code="SM", name="Small"),
        Version(key=key["v"], project=key["p"], code="SM-1", lines=(
            Line(parts=50, material=key["lemon"]),
            Line(parts=20, material=key["amb"], strength=0.1, carrier=key["eth"]),
            Line(parts=30, material=key["eth"]),
        )),
    )  # fmt: skip
    for bench in _bench(book, qtbot, qapp, tmp_path):
        bench.show("SM-1")
        yield bench


def _put_lines(bench: Bench, *lines: Line, **fields: Any) -> None:
    bench.session.edit("lines", replace(bench.version, lines=lines, **fields))


# holding --------------------------------------------------------------------------------------------------------------


def test_a_held_line_says_so_in_words_in_every_width_and_to_a_reader(small: Bench) -> None:
    model, commands = small.pane.model, small.pane.commands
    small.go("Ambroxide")
    assert commands["hold"].text() == "Hold the line"
    small.press(K.Key_H, CTRL)
    assert small.version.lines[1].held and small.book.can_undo == "hold Ambroxide"
    assert small.cell("Ambroxide", "parts") == f"{HELD} 20" and small.cell("Lemon oil", "parts") == "50"
    assert small.cell("Ambroxide", "strength") == "10 % in ethanol, held"
    index = model.index(1, model.place_of("parts"))
    assert "keeps its parts when the rest is rescaled" in model.data(index, Qt.ItemDataRole.ToolTipRole)
    assert model.data(index, Qt.ItemDataRole.AccessibleTextRole) == "parts: 20, held"
    assert model.data(index, Qt.ItemDataRole.EditRole) == "20"
    small.pane.set_mode("smelling")
    assert "parts" in small.pane.grid.shown_columns()
    small.pane.set_mode("composing")
    assert commands["hold"].text() == "Let the line go"
    small.press(K.Key_H, CTRL)
    assert not small.version.lines[1].held and small.book.can_undo == "let Ambroxide go"


def test_all_chosen_lines_are_held_in_one_step_and_let_go_together(small: Bench) -> None:
    small.go("Lemon oil")
    small.press(K.Key_H, CTRL)
    small.pane.grid.selectionModel().select(small.pane.model.index(1, 0), ROWS)
    small.pane.grid.selectionModel().select(small.pane.model.index(3, 0), ROWS)
    assert small.pane.commands["hold"].text() == "Hold the line"
    small.pane.commands["hold"].trigger()
    assert [line.held for line in small.version.lines] == [True, True, False]
    assert small.book.can_undo == "hold 2 lines"
    assert small.pane.commands["hold"].text() == "Let the line go"
    small.pane.commands["hold"].trigger()
    assert not any(line.held for line in small.version.lines)


def test_holding_a_line_of_what_was_weighed_begins_a_draft(demo: Bench) -> None:
    frozen = demo.version
    demo.go("Lemon oil")
    demo.press(K.Key_H, CTRL)
    assert demo.version.parent == frozen.key and demo.version.lines[0].held
    assert not demo.book.get(Version, frozen.key).lines[0].held
    assert demo.book.can_undo == "hold Lemon oil, as draft SR-6"


def test_lines_inside_an_accord_and_the_entry_row_are_not_held(demo: Bench) -> None:
    demo.go("Wet slate accord A-WS", "fold")
    demo.press(K.Key_Space)
    inside = demo.pane.grid.currentIndex().row() + 1
    for place in (inside, demo.pane.model.rowCount() - 1):
        demo.pane.grid.go_to(demo.pane.model.index(place, 3))
        assert not demo.pane.commands["hold"].isEnabled() and not demo.pane.commands["exchange"].isEnabled()
        demo.pane.commands["hold"].trigger()
        demo.pane.ask_exchange()
    assert demo.version.code == "SR-1" and demo.pane.asked.isHidden()


def test_the_commands_stand_in_the_menu_of_the_table(small: Bench) -> None:
    own = small.pane.grid.actions()
    assert [small.pane.commands[key] in own for key in ("hold", "rescale", "exchange")] == [True, True, True]


# rescaling ------------------------------------------------------------------------------------------------------------


def test_lemon_raised_and_held_and_the_rest_brought_back_to_a_thousand(demo: Bench) -> None:
    demo.go("Lemon oil")
    demo.pane.model.setData(demo.pane.grid.currentIndex(), "120")
    demo.press(K.Key_H, CTRL)
    before = demo.version
    assert sum(demo.parts()) == 1010
    demo.press(K.Key_T, CTRL | SHIFT)
    asked = demo.pane.asked
    assert asked.field.text() == "1000" and asked.field.selectedText() == "1000"
    assert demo.told == "The 16 other lines × 0.988764, total 1000; Lemon oil held."
    assert demo.version == before
    demo.press(K.Key_Return)
    assert asked.isHidden() and demo.pane.grid.hasFocus()
    assert demo.book.can_undo == "rescale to 1000, Lemon oil held"
    assert demo.cell("Lemon oil", "parts") == f"{HELD} 120" and demo.cell("Grapefruit oil", "parts") == "88.99"
    assert ">1000</b>\u00a0parts" in demo.pane.foot.totals.text()
    assert f"{demo.made.total_parts:.3f}" == "1000.000"
    place = demo.place("Grapefruit oil")
    index = demo.pane.model.index(place, demo.pane.model.place_of("parts"))
    whole = demo.pane.model.data(index, Qt.ItemDataRole.EditRole)
    assert whole.startswith("88.98876404") and whole in demo.pane.model.data(index, Qt.ItemDataRole.ToolTipRole)
    demo.session.undo()
    assert demo.version == before


def test_what_cannot_be_rescaled_is_said_beside_the_field_and_the_text_stays(small: Bench) -> None:
    small.go("Lemon oil")
    small.press(K.Key_H, CTRL)
    before = small.version
    small.press(K.Key_T, CTRL | SHIFT)
    asked = small.pane.asked
    for text, said in (("40", "held lines are 50 parts"), ("0", "more than 0"), ("x", "not a number"), ("50", "nothing is left")):
        small.answer(text)
        assert said in small.told and asked.told.property("role") == "wrong" and not asked.done.isEnabled()
        assert asked.field.accessibleDescription() == asked.told.text()
        small.press(K.Key_Return)
        assert asked.field.text() == text and asked.isVisible() and small.version == before
    small.answer("\b")
    assert "The total" in small.told and asked.told.property("role") == "quiet"
    small.press(K.Key_Return)
    small.answer("100 parts")
    assert small.told == "The total is 100 already."
    small.press(K.Key_Escape)
    assert asked.isHidden() and small.pane.grid.hasFocus() and small.version == before


def test_what_fills_up_is_scaled_too_and_its_total_is_offered(small: Bench) -> None:
    first, second, third = small.version.lines
    _put_lines(small, first, second, replace(third, fill_up=True), total=200.0)
    small.pane.commands["rescale"].trigger()
    assert small.pane.asked.field.text() == "200"
    small.answer("100")
    assert small.told == "All 3 lines × 0.5, total 100."
    small.qtbot.mouseClick(small.pane.asked.done, Qt.MouseButton.LeftButton)
    assert small.parts() == [25, 10, 65] and small.version.total == 100
    assert small.book.can_undo == "rescale to 100" and small.pane.grid.hasFocus()


def test_an_open_question_goes_when_the_formula_changes_under_it(small: Bench) -> None:
    small.pane.commands["rescale"].trigger()
    small.session.edit("price", replace(small.book.get(Bottle, "L-1"), price_per_g=0.2))
    assert small.pane.asked.isVisible()
    small.session.edit("elsewhere", replace(small.version, lines=small.version.lines[:2]))
    assert small.pane.asked.isHidden()
    _put_lines(small)
    assert not small.pane.commands["rescale"].isEnabled()
    small.pane.ask_rescale()
    assert small.pane.asked.isHidden()


def test_a_total_that_is_there_already_makes_no_step(small: Bench) -> None:
    first, second, third = small.version.lines
    for lines in ((first, second, third), (first, second, replace(third, fill_up=True))):
        _put_lines(small, *lines, total=100.0)
        before = small.book.can_undo, small.version
        small.pane.commands["rescale"].trigger()
        small.answer("100")
        small.press(K.Key_Return)
        assert small.pane.asked.isHidden() and (small.book.can_undo, small.version) == before


@pytest.mark.parametrize(
    "parts, shown", [(0.1, "0.1"), (0.123456, "0.123456"), (88.9887640449, "88.99"), (0.00123456789, "0.00123"), (None, "—")]
)
def test_parts_are_shown_as_typed_and_worked_out_ones_short(parts: float | None, shown: str) -> None:
    assert parts_text(parts) == shown


# exchanging a stock ---------------------------------------------------------------------------------------------------


def _same_composition(before: Composition, after: Composition) -> None:
    for name in ("total_parts", "neat_parts", "cost_per_g"):
        assert getattr(after, name) == pytest.approx(getattr(before, name), rel=1e-9), name
    for key in {*before.expanded, *after.expanded}:
        assert after.expanded.get(key, 0.0) == pytest.approx(before.expanded.get(key, 0.0), rel=1e-9, abs=1e-9)


def test_a_stock_is_exchanged_for_one_on_the_shelf_and_the_formula_stays_what_it_is(small: Bench) -> None:
    before, made = small.version, small.made
    small.go("Ambroxide", "strength")
    small.press(K.Key_E, CTRL | SHIFT)
    asked = small.pane.asked
    assert asked.field.text() == "neat" and asked.field.selectedText() == "neat"
    assert small.told == "Ambroxide 20 @ 10 % in ethanol becomes 2 neat, ethanol + 18 parts."
    offers = asked.offers.text().replace(THIN, " ")
    assert "neat (A-1)</a>" in offers and "10 % in ethanol (A-2, as here)" in offers and "5 % in ethanol (A-3)</a>" in offers
    assert small.version == before
    small.press(K.Key_Return)
    assert small.parts() == [50, 2, 48] and small.version.lines[1].strength == 1
    assert small.book.can_undo.replace(THIN, " ") == "exchange Ambroxide 10 % in ethanol for neat, composition kept"
    assert small.pane.grid.hasFocus() and asked.isHidden()
    _same_composition(made, small.made)
    small.session.undo()
    assert small.version == before


def test_the_stocks_on_the_shelf_are_chosen_by_arrows_and_by_their_links(small: Bench) -> None:
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    field = small.pane.asked.field
    small.press(K.Key_Down)
    assert field.text().replace(THIN, " ") == "5 % in ethanol" and "becomes 40 @ 5 % in ethanol, ethanol − 20 parts" in small.told
    small.press(K.Key_Down)
    assert field.text() == "neat"
    small.press(K.Key_Up)
    small.pane.asked.offers.linkActivated.emit("neat")
    assert field.text() == "neat" and field.hasFocus()
    small.answer("7")
    small.press(K.Key_Up)
    assert field.text().replace(THIN, " ") == "5 % in ethanol"
    made = small.made
    small.press(K.Key_Return)
    assert small.parts() == [50, 40, 10]
    _same_composition(made, small.made)


def test_a_stock_too_weak_is_refused_with_the_weakest_that_works(small: Bench) -> None:
    before = small.version
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    small.answer("1")
    assert "weakest strength that works is 4.000 %" in small.told
    small.press(K.Key_Return)
    assert small.version == before and small.pane.asked.isVisible()
    small.answer("10 in ethanol")
    assert small.told == "Ambroxide is 10 % in ethanol here already."
    small.answer("10 in foo")
    assert "not one material" in small.told
    small.answer("4")
    small.press(K.Key_Return)
    assert small.parts() == [50, 50, 0]


def test_another_carrier_has_to_stand_free(small: Bench) -> None:
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    small.answer("10 in dpg")
    assert "18 parts of DPG, and none stands free here: the composition would change" in small.told
    small.press(K.Key_Escape)
    _put_lines(small, *small.version.lines, Line(parts=25, material=small.book.get(Material, "Dipropylene glycol").key))
    made = small.made
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    small.answer("5 in dpg")
    assert "38 parts of DPG, 13 more than stand free" in small.told
    small.answer("10 in dpg")
    assert small.told == "Ambroxide 20 @ 10 % in ethanol becomes 20 @ 10 % in DPG, ethanol + 18 parts, DPG − 18 parts."
    small.press(K.Key_Return)
    assert small.parts() == [50, 20, 48, 7]
    _same_composition(made, small.made)


def test_a_carrier_that_has_no_line_gets_one_and_the_line_that_fills_up_needs_none(small: Bench) -> None:
    lemon, amb, ethanol = small.version.lines
    _put_lines(small, lemon, amb)
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    assert small.told.endswith("ethanol + 18 parts on a line of its own.")
    small.press(K.Key_Return)
    assert small.parts() == [50, 2, 18] and small.version.lines[2].material == ethanol.material
    small.session.undo()
    _put_lines(small, lemon, amb, replace(ethanol, fill_up=True), total=100.0)
    made = small.made
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    small.answer("1")
    assert "4.000 %" in small.told
    small.answer("5")
    small.press(K.Key_Return)
    assert small.parts() == [50, 40, 10] and small.version.lines[2].fill_up
    _same_composition(made, small.made)


def test_a_material_without_a_bottle_is_asked_for_its_strength(small: Bench) -> None:
    for code in ("A-1", "A-2", "A-3"):
        small.session.edit("gone", replace(small.book.get(Bottle, code), gone_on=small.book.now().date()))
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    asked = small.pane.asked
    assert asked.field.text() == "" and asked.offers.isHidden() and "new strength of Ambroxide" in small.told
    small.press(K.Key_Down)
    small.press(K.Key_Return)
    assert asked.isVisible() and asked.field.text() == ""


def test_the_question_asked_of_a_frozen_version_is_answered_in_a_draft(demo: Bench) -> None:
    frozen = demo.show("SR-4")
    made = demo.made
    demo.go("Ambroxide")
    demo.press(K.Key_E, CTRL | SHIFT)
    demo.pane.repaint()
    row = demo.pane.grid.visualRect(demo.pane.grid.currentIndex())
    assert demo.pane.grid.viewport().rect().contains(row)
    demo.press(K.Key_Return)
    assert demo.version.parent == frozen.key and demo.pane.asked.isHidden() and demo.pane.grid.hasFocus()
    _same_composition(made, demo.made)


def test_the_question_fits_beside_the_strips_and_follows_the_theme(small: Bench) -> None:
    small.pane.resize(340, 760)
    small.pane.set_mode("smelling")
    small.go("Ambroxide")
    small.press(K.Key_E, CTRL | SHIFT)
    asked = small.pane.asked
    assert small.pane.width() == 340
    shown = (asked.caption, asked.field, asked.done, asked.give_up)
    edges = [(part.mapTo(asked, QPoint(0, 0)).x(), part.mapTo(asked, QPoint(part.width(), 0)).x()) for part in shown]
    assert all(left[1] <= right[0] for left, right in pairwise(edges)) and edges[-1][1] <= asked.width()
    light = asked.offers.text()
    small.session.theme.choose("dark")
    assert asked.offers.text() != light
    assert all(field.accessibleName() for field in asked.findChildren(QLineEdit))
    asked.give_up.setFocus()
    small.press(K.Key_Return)
    assert asked.isHidden() and small.pane.grid.hasFocus()


def test_the_keys_are_free(small: Bench) -> None:
    keys = [key.toString() for action in small.pane.actions() for key in action.shortcuts()]
    assert len(keys) == len(set(keys)) and {"Ctrl+H", "Ctrl+Shift+T", "Ctrl+Shift+E"} <= set(keys)

# SPDX-License-Identifier: MIT
"""The Shelf by keyboard and mouse: what is found, what has to be known, the card of a bottle and what is booked on it."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book
from desktop.models.bottles import BottlesModel, shelf_rows, sought
from desktop.pages.shelf.page import ShelfPage
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, Bottle, Habit, Line, Material, Move, Note, Project, Version

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier


@dataclass
class Shelf:
    book: Book
    session: Session
    page: ShelfPage
    said: list[tuple[str, str]] = field(default_factory=list)

    def key(self, code: str) -> int:
        return self.book.get(Bottle, code).key

    def codes(self) -> list[str]:
        return [row.bottle.bottle.code for row in self.page.list.model.rows if row.bottle is not None]

    def card(self) -> str:
        card = self.page.card
        labels = (card.name, card.contents, card.drift, card.dates, card.facts, card.cautions, card.history)
        return "\n".join(label.text() for label in labels if not label.isHidden()).replace("\u2009", " ").replace("&nbsp;", " ")

    def type(self, text: str) -> None:
        for letter in text:
            if letter.isascii():
                QTest.keyClicks(QApplication.focusWidget(), letter)
            else:  # Qt's simulated keys know Latin letters only
                QApplication.focusWidget().insert(letter)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.page, key, modifier)
        QApplication.processEvents()


@pytest.fixture(scope="session")
def demo_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    from db import make_demo

    path = tmp_path_factory.mktemp("shelf") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Shelf:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    page = ShelfPage(session)
    page.resize(1216, 740)
    page.show()
    qtbot.waitExposed(page)
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    page.take_focus()
    shelf = Shelf(book, session, page)
    session.said.connect(lambda sentence, tone: shelf.said.append((sentence, tone)))
    return shelf


@pytest.fixture
def studio(demo_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Shelf]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(demo_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        shelf = shown(book, theme, tmp_path, qtbot)
        yield shelf
        shiboken6.delete(shelf.page)


@pytest.fixture
def empty(theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Shelf]:
    with Book.create(tmp_path / "empty.stillroom", "Empty", clock=clock) as book:
        shelf = shown(book, theme, tmp_path, qtbot)
        yield shelf
        shiboken6.delete(shelf.page)


# finding ---------------------------------------------------------------------------------------------------------------


def test_every_bottle_stands_under_its_material_the_one_offered_first_first(studio: Shelf) -> None:
    assert len(studio.codes()) == 49
    at = studio.codes().index("M01-1")
    assert studio.codes()[at : at + 2] == ["M01-1", "M01-2"]
    rows = studio.page.list.model.rows
    assert (rows[at].repeats, rows[at + 1].repeats) == (False, True)
    assert studio.page.list.told.text() == "49 bottles"


@pytest.mark.parametrize(
    "text, codes",
    [
        ("ambrox", ["M19-1", "K19", "K19B"]),
        ("K19B", ["K19B"]),
        ("L2411-003", ["M02-1"]),
        ("E-2", ["K19"]),
        ("ambrox ≥ 5 g", ["M19-1", "K19"]),
        ("conifer ≥5", ["M06-1", "M08-1", "M05-1"]),
        ("nothing at all", []),
    ],
)
def test_found_while_typing(studio: Shelf, text: str, codes: list[str]) -> None:
    studio.page.find()
    studio.type(text)
    found = studio.codes()
    assert found == codes if text != "E-2" else "K19" in found
    assert (studio.page.list.stack.currentWidget() is studio.page.list.grid) == bool(codes)


def test_kinds_and_what_has_to_be_known(studio: Shelf) -> None:
    side = studio.page.list
    side.kinds.buttons["accords"].click()
    assert studio.codes() == ["A-WS"]
    side.kinds.buttons["trial vials"].click()
    assert "V024" in studio.codes() and "V024-12" in studio.codes()
    side.kinds.buttons["no bottle"].click()
    assert side.model.rowCount() == 0 and "Every material" in side.nothing.text()
    side.kinds.buttons["all"].click()
    side.states.buttons["drifting"].click()
    assert studio.codes() == ["K19"]
    side.states.buttons["low"].click()
    assert studio.codes() == ["K19B"]
    side.states.buttons["due"].click()
    assert studio.codes() == ["S05-1"]
    side.states.buttons["not weighed lately"].click()
    assert "M13-1" in studio.codes() and "K19" not in studio.codes()
    side.states.buttons["not weighed lately"].click()
    assert len(studio.codes()) == 49


def test_a_bottle_far_off_its_label_says_so_in_the_list_and_on_its_card(studio: Shelf) -> None:
    page, book, key = studio.page, studio.book, studio.key("K19B")
    assert page.list.kinds.buttons["all"].text().startswith("stock")
    material = book.get(Bottle, key).material
    for share, short, words in (
        (0.01108, "89 % too weak", "89 % weaker than its label"), (0.13, "30 % too strong", "30 % stronger than its label"),
    ):  # fmt: skip
        rest = {other: part for other, part in book.contents(key).items() if other != material}
        scale = (1 - share) / sum(rest.values())
        state = book.bottles.states(key)[-1]
        book.put(replace(state, key=None, at=book.now(), reason="correction",
                         shares={material: share, **{other: part * scale for other, part in rest.items()}}))  # fmt: skip
        page.refresh()
        page.choose(key)
        place = page.list.model.place_of_bottle(key)
        model = page.list.model
        assert short in model.cell(place, model.place_of("state")).replace("\u2009", " ") and words in studio.card()
        why = model.columns[model.place_of("strength")].why(model.row(place)).replace("\u2009", " ")
        assert why.startswith("K19B by its label: 10 % in ethanol; it truly holds 1")
    page.list.states.buttons["off its label"].click()
    assert studio.codes() == ["K19B"]


def test_amber_a_month_before_and_due_on_the_day(studio: Shelf) -> None:
    def said(day: str) -> str:
        rows = shelf_rows(studio.book, date.fromisoformat(day), "all")
        row = next(row for row in rows if row.bottle is not None and row.bottle.bottle.code == "M01-1")
        return ", ".join(state.words for state in row.states if state.of == "due")

    assert said("2025-10-19") == ""
    assert said("2025-10-20").startswith("re-test 20 Nov")
    assert said("2025-11-20").startswith("re-test due")


def test_model_keeps_its_promises(studio: Shelf, clock) -> None:
    model = BottlesModel()
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    rows = shelf_rows(studio.book, clock().date(), "all")
    for wanted in (rows, sought(rows, "amb"), (), rows):
        model.show_rows(wanted)
        assert model.rowCount() == len(wanted)
    assert tester.model() is model


def test_in_large_text_the_search_says_what_it_is_and_the_count_stands(studio: Shelf, theme: Theme) -> None:
    theme.resize_text(1.6)
    theme.dress(studio.page)
    studio.page.resize(1178, 700)
    QApplication.processEvents()
    search, told = studio.page.list.search, studio.page.list.told
    try:
        assert search.fontMetrics().horizontalAdvance(search.placeholderText()) < search.width() - 2 * theme.px(10)
        assert told.text().endswith("bottles") and told.width() >= told.fontMetrics().horizontalAdvance(told.text())
    finally:
        theme.resize_text(1.0)


def test_letters_typed_in_the_list_begin_a_search(studio: Shelf) -> None:
    studio.page.list.setFocus()
    studio.type("vetiver")
    assert studio.codes() == ["M17-1"]
    studio.press(Key.Key_Down)
    assert studio.page.list.grid.hasFocus()
    studio.page.list.search.setFocus()
    studio.press(Key.Key_Escape)
    assert len(studio.codes()) == 49


def test_an_empty_shelf_says_what_belongs_there(empty: Shelf) -> None:
    assert "Begin with a delivery" in empty.page.list.nothing.text()
    assert not empty.page.card.widget().isVisible()
    assert not empty.page.commands["reweigh"].isEnabled()


# the card --------------------------------------------------------------------------------------------------------------


def test_card_says_what_a_bottle_holds_and_lost(studio: Shelf) -> None:
    studio.page.choose(studio.key("K19"))
    said = studio.card()
    assert "10.000 ± 0.007 % Ambroxide, 90.00 % ethanol" in said
    assert "0.650 g missing since 10 Jan, 0.22 g a month. If that was ethanol: 10.00 to 10.50 %." in said
    assert "Tolerance passed 9 Apr." in said
    assert "0.1208 €/g by what it truly holds" in said
    assert "re-test 10 Jan 2026" in said and "dropper cap 10 Jan 2026" in said
    assert "rubber dropper" in said
    assert "12.950 g found" in said and "0.125 g to V024" in said
    studio.page.choose(studio.key("K20"))
    assert "10.204 ± 0.007 % Moss ester, 89.80 % DPG" in studio.card()
    studio.page.choose(studio.key("A-WS"))
    assert "and 5 more" in studio.card() or "and 6 more" in studio.card()
    studio.page.card._on_link_activated("contents:all")
    assert "Geosmin" in studio.card()
    studio.page.choose(studio.key("H-0"))
    assert "What it holds is not known." in studio.card()


def test_card_follows_the_arrow_keys(studio: Shelf, qtbot) -> None:
    studio.page.choose(studio.key("M19-1"))
    studio.page.list.setFocus()
    studio.press(Key.Key_Down)
    qtbot.waitUntil(lambda: studio.page.card.row is not None and studio.page.card.row.bottle.code == "K19")


def test_smelled_still_good_renews_and_is_noted(studio: Shelf) -> None:
    studio.page.choose(studio.key("S05-1"))
    studio.page.commands["good"].trigger()
    bottle = studio.book.get(Bottle, "S05-1")
    assert bottle.retest_on == date(2025, 5, 10)  # its material is smelled again every month
    (note,) = studio.book.all(Note, bottle=bottle.key)
    assert note.text == "smelled, still good"
    studio.page.commands["cap"].trigger()
    assert studio.book.get(Bottle, "S05-1").dropper_on == date(2025, 4, 10)


def test_relabel_takes_the_strength_it_has_risen_to(studio: Shelf) -> None:
    studio.page.choose(studio.key("K19"))
    studio.page.card._on_link_activated("do:relabel")
    assert "evaporated" in studio.page.card.sure.text() and studio.book.get(Bottle, "K19").strength == 0.1
    studio.page.card.sure_button.click()
    assert round(studio.book.get(Bottle, "K19").strength, 4) == 0.105
    said = studio.card()
    assert "10.50 % Ambroxide" in said and "missing" not in said
    assert "after its loss" in said and "lost · taken for carrier that evaporated" in said


def test_throwing_away_is_asked_first(studio: Shelf) -> None:
    studio.page.choose(studio.key("K19B"))
    studio.page.commands["discard"].trigger()
    assert studio.page.card.sure.isVisible() and "0.090 g" in studio.page.card.sure.text().replace("\u2009", " ")
    studio.page.card.not_sure_button.click()
    assert studio.book.get(Bottle, "K19B").gone_on is None
    studio.page.commands["discard"].trigger()
    studio.page.card.sure_button.click()
    assert studio.book.get(Bottle, "K19B").gone_on == date(2025, 4, 10)
    assert "K19B" not in studio.codes()
    studio.page.find()
    studio.type("K19B")
    assert studio.codes() == ["K19B"]  # what is gone is found by its code


# what is booked --------------------------------------------------------------------------------------------------------


def test_weighed_again_by_keyboard_and_told_before_it_is_booked(studio: Shelf) -> None:
    page = studio.page
    page.choose(studio.key("K20"))
    page.list.setFocus()
    page.commands["reweigh"].trigger()
    page.reweigh.balance.setCurrentIndex(0)
    studio.type("53,15")  # tare 36.66
    said = page.reweigh.gross_field.remark.text().replace("\u2009", " ")
    assert "It holds 16.490 g. 2.004 g are missing" in said and "between 10.20 % and 11.44 %" in said
    studio.press(Key.Key_Return)
    row = studio.book.bottles.row(studio.key("K20"))
    assert row.found_g == 16.49 and page.side.currentWidget() is page.card and page.list.grid.hasFocus()
    (newest,) = [move for move in studio.book.bottles.moves(row.key) if move.kind == "found"][-1:]
    assert newest.read_g == 53.15 and newest.u_g == pytest.approx(0.0008 * 2**0.5)


def test_a_gross_below_the_tare_is_refused_beside_its_field(studio: Shelf) -> None:
    page = studio.page
    page.choose(studio.key("K20"))
    page.commands["reweigh"].trigger()
    for text, told in (("12", "less than its tare"), ("heavy", "not a number"), ("", "missing")):
        page.reweigh.gross.setText(text)
        page.reweigh.confirm()
        assert told in page.reweigh.gross_field.remark.text() and page.side.currentWidget() is page.reweigh
    studio.press(Key.Key_Escape)
    assert page.side.currentWidget() is page.card


def test_more_than_is_left_leaves_only_after_a_correction_with_its_reason(studio: Shelf) -> None:
    page, key = studio.page, studio.key("K19B")
    page.choose(key)
    page.commands["draw"].trigger()
    studio.type("0.2")
    studio.press(Key.Key_Return)
    assert "holds 0.090" in page.draw.mass_field.remark.text() and page.draw.why.isVisible()
    page.draw.more.click()
    assert "reason" in page.draw.why_field.remark.text()
    studio.type("a drop clung to the cap")
    page.draw.more.click()
    assert studio.book.left(key)[key] == pytest.approx(0.0)
    moves = studio.book.bottles.moves(key)
    assert [move.kind for move in moves[-2:]] == ["correction", "used"] and moves[-2].remark == "a drop clung to the cap"
    assert page.side.currentWidget() is page.card


def test_the_book_set_right_and_a_line_corrected_or_withdrawn(studio: Shelf) -> None:
    page, key = studio.page, studio.key("M17-1")
    page.choose(key)
    page.commands["set_right"].trigger()
    studio.type("23.5")
    page.set_right.confirm()
    assert "reason" in page.set_right.why_field.remark.text()
    page.set_right.why.setText("a draw was never written down")
    page.set_right.confirm()
    assert studio.book.left(key)[key] == pytest.approx(23.5)
    page.commands["draw"].trigger()
    studio.type("1.5")
    studio.press(Key.Key_Return)
    (drawn,) = [move for move in studio.book.bottles.moves(key) if move.kind == "used"][-1:]
    page.card.move_picked.emit(drawn.key)
    assert "−1.500 g used" in page.correct.told.text().replace("\u2009", " ")
    studio.type("0.5")
    studio.press(Key.Key_Return)
    assert studio.book.left(key)[key] == pytest.approx(23.0)
    (drawn,) = [move for move in studio.book.bottles.moves(key) if move.kind == "used"][-1:]
    page.card.move_picked.emit(drawn.key)
    page.correct.withdraw.click()
    assert studio.book.left(key)[key] == pytest.approx(23.5)
    assert list(studio.book.history(drawn.key))


def test_bottle_edited_in_place_each_fault_in_its_field(studio: Shelf) -> None:
    page = studio.page
    page.choose(studio.key("K19"))
    page.list.setFocus()
    studio.press(Key.Key_Return, CTRL)
    assert page.side.currentWidget() is page.form
    for name, text, told in (
        ("tare_g", "-3", "more than 0"), ("volume_ml", "0", "cannot be"), ("retest_on", "soon", "2025-03-11"),
        ("code", "K20", "taken"), ("code", "", "missing"),
    ):  # fmt: skip
        edit, before = page.form.fields[name].editor, page.form.fields[name].editor.text()
        edit.setText(text)
        page.form.confirm()
        assert told in page.form.fields[name].remark.text(), name
        assert edit.text() == text and page.side.currentWidget() is page.form
        edit.setText(before)
    page.form.fields["place"].editor.setText("E-9")
    page.form.confirm()
    assert studio.book.get(Bottle, "K19").place == "E-9" and page.side.currentWidget() is page.card
    assert studio.book.can_undo == "bottle K19"
    studio.session.undo()
    assert studio.book.get(Bottle, "K19").place == "E-2"


def test_habits_are_kept_and_felt_at_once(studio: Shelf) -> None:
    page = studio.page
    page.show_habits()
    field_, _ = page.habits.fields["drift tolerance"]
    field_.editor.setText("-1")
    page.habits.confirm()
    assert "cannot be kept" in field_.remark.text()
    field_.editor.setText("8")
    page.habits.confirm()
    assert studio.book.get(Habit, "drift tolerance").value == pytest.approx(0.08)
    page.list.states.buttons["drifting"].click()
    assert studio.codes() == ["K19"]  # not past it yet, but losing fast
    assert "past tolerance" in page.list.model.cell(0, page.list.model.place_of("state"))


def test_bench_hours_are_typed_as_a_clock_shows_them(studio: Shelf) -> None:
    page = studio.page
    page.show_habits()
    names = ("bench opens hour", "bench closes hour", "reading minutes")
    opens, closes, minutes = (page.habits.fields[name][0] for name in names)
    assert [one.editor.text() for one in (opens, closes, minutes)] == ["8:00", "22:00", "3"]
    for text, told in (("25:00", "25"), ("half past", "14:05")):
        opens.editor.setText(text)
        page.habits.confirm()
        assert told in opens.remark.text() and page.side.currentWidget() is page.habits
    opens.editor.setText("20.30")
    closes.editor.setText("4")
    page.habits.confirm()
    assert [studio.book.get(Habit, f"bench {end} hour").value for end in ("opens", "closes")] == [20.5, 4.0]
    page.show_habits()
    assert (opens.editor.text(), closes.editor.text()) == ("20:30", "4:00")
    page.habits.confirm()
    assert studio.book.can_undo == "habits of this bench" and studio.session.undo() is None
    assert studio.book.get(Habit, "bench opens hour") is None  # nothing was kept a second time


def test_what_drafts_ask_for_and_no_bottle_holds(empty: Shelf) -> None:
    book, page = empty.book, empty.page
    moss, dpg, project = book.put(
        Material("Moss ester", form="crystals"), Material("Dipropylene glycol", is_carrier=True, synonyms=("DPG",)),
        Project("SR", amount_g=10.0),
    )  # fmt: skip
    lines = (Line(100, moss.key, strength=0.1, carrier=dpg.key), Line(900, dpg.key))
    book.put(Version(project.key, "SR-1", lines), Version(project.key, "SR-2", lines))
    assert page.list.prepare.text() == "To prepare: 1"
    page.commands["prepare"].trigger()
    model = page.prepare.model
    assert [model.cell(0, at).replace("\u2009", " ").strip() for at in range(4)] == [
        "Moss ester", "10 % in DPG", "2.000", "SR-1 and SR-2",
    ]  # fmt: skip
    with QSignalCatcher(page.prepare.wanted) as wanted:
        empty.press(Key.Key_Return)
    assert wanted[0].material == moss.key


def test_what_drafts_ask_for_may_be_in_a_bottle_that_was_labelled_anew(studio: Shelf) -> None:
    book, page = studio.book, studio.page
    book.bottles.discard(studio.key("K19B"))
    book.bottles.relabel(studio.key("K19"))
    k19 = book.get(Bottle, "K19")
    project = next(book.all(Project))
    book.put(Version(project.key, "SR-99", (Line(10, k19.material, strength=0.1, carrier=k19.carrier),), reason="old strength"))
    page.show_preparations()
    assert "K19 was Ambroxide 10 % in ethanol until 10 Apr and is labelled 10.5 % now" in (
        page.prepare.told.text().replace("\u2009", " ")
    )


class QSignalCatcher(list):
    """What a signal said while it was watched; nothing else happens on it."""

    def __init__(self, signal) -> None:
        super().__init__()
        self._signal = signal

    def __enter__(self) -> "QSignalCatcher":
        self._signal.disconnect()
        self._signal.connect(self.append)
        return self

    def __exit__(self, *_: object) -> None:
        self._signal.disconnect(self.append)


def test_a_bottle_that_another_page_changes_is_read_when_the_shelf_comes_back(studio: Shelf, clock) -> None:
    page = studio.page
    page.choose(studio.key("K14"))
    page.hide()
    (balance,) = studio.book.put(Balance("B9", 0.001))
    studio.book.put(Move(at=clock(), kind="used", mass_g=6.21, from_bottle=studio.key("K14")))
    assert "76.21" in page.list.model.cell(page.list.model.place_of_bottle(studio.key("K14")), 3)
    page.show()
    assert "70.00" in page.list.model.cell(page.list.model.place_of_bottle(studio.key("K14")), 3)
    assert balance.key

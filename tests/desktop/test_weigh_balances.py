# SPDX-License-Identifier: MIT
"""Balances by keyboard: entered, tested ten times, checked and corrected, retired, and compared for a formula."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from db import Book, make_demo
from desktop import figures
from desktop.models.balances import (
    BalancesModel,
    ChecksModel,
    Repeat,
    TrialsModel,
    balance_rows,
    check_rows,
    compared,
    grams_or_mg,
    least_text,
    small_text,
    spread_text,
)
from desktop.pages.weigh.balances import CHECK, COMPARE, EMPTY, FORM, TEST, BalancesSheet
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Balance, BenchCheck, Line, Project, Refused, Version

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier
TEN = (20.0011, 20.0, 19.9997, 19.9996, 19.9998, 19.999, 19.9989, 20.0013, 20.0, 20.0006)
B1 = "B1 generic 0.001 g balance"


@dataclass
class Bench:
    book: Book
    session: Session
    sheet: BalancesSheet
    said: list[tuple[str, str]] = field(default_factory=list)
    left: list[bool] = field(default_factory=list)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.sheet, key, modifier)
        QApplication.processEvents()

    def type(self, text: str) -> None:
        QTest.keyClicks(QApplication.focusWidget(), text)
        QApplication.processEvents()

    def enter(self, *texts: str) -> None:
        for text in texts:
            self.type(text)
            self.press(Key.Key_Return)

    def fill(self, edit: QLineEdit, text: str) -> None:
        edit.setFocus()
        edit.selectAll()
        self.press(Key.Key_Backspace)
        self.type(text)

    def cells(self, name: str) -> dict[str, str]:
        model = self.sheet.model
        place = next(at for at, row in enumerate(model.rows) if row.balance.name == name)
        texts = {column.key: model.cell(place, at) for at, column in enumerate(model.columns)}
        return {key: plain(text).strip("\u2007\u2008 ") for key, text in texts.items()}

    def balance(self, name: str = B1) -> Balance:
        found = self.book.get(Balance, name)
        assert found is not None
        return found

    def checks(self, name: str = B1) -> list[BenchCheck]:
        return list(self.book.all(BenchCheck, balance=self.balance(name).key))

    def remark(self, name: str) -> str:
        return plain(self.sheet.form.fields[name].remark.text())


def plain(text: str) -> str:
    return text.replace("\u2009", " ").replace("\u2212", "-")


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("balances") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Bench:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    version = book.get(Version, "SR-4")
    if version is not None:
        session.choose_version(version.key)
    sheet = BalancesSheet(session)
    sheet.resize(1150, 700)
    sheet.show()
    qtbot.waitExposed(sheet)
    sheet.activateWindow()
    qtbot.waitUntil(sheet.isActiveWindow)
    sheet.start()
    bench = Bench(book, session, sheet)
    session.said.connect(lambda sentence, tone: bench.said.append((sentence, tone)))
    sheet.left.connect(lambda: bench.left.append(True))
    return bench


@pytest.fixture
def bench(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Bench]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        # as the studio's balances stand before anything was found on them
        checks = [check.key for check in book.all(BenchCheck)]
        made = shown(book, theme, tmp_path, qtbot)
        assert len(made.sheet.model.rows) == 2 and len(checks) == len(list(book.all(BenchCheck)))
        yield made
        shiboken6.delete(made.sheet)


@pytest.fixture
def empty(theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Bench]:
    with Book.create(tmp_path / "empty.stillroom", "Empty", clock=clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        yield made
        shiboken6.delete(made.sheet)


# the list ----------------------------------------------------------------------------------------------------------------


def test_an_empty_book_says_one_sentence_and_begins_with_the_form(empty: Bench) -> None:
    sheet = empty.sheet
    assert sheet.told.text() == EMPTY and sheet.side.currentWidget() is sheet.form
    assert not sheet.grid.isVisible() and not sheet.log.isVisible() and not sheet.chips.isVisible()
    empty.type("Mine")
    empty.press(Key.Key_Tab)
    empty.type("0,001")
    assert empty.remark("s_g") == "Not known: 0.41 mg counts, 0.41 of a step."
    empty.press(Key.Key_Return)
    assert empty.balance("Mine") == Balance("Mine", 0.001, key=empty.balance("Mine").key)
    assert sheet.grid.isVisible() and sheet.told.text() == ""
    cells = empty.cells("Mine")
    assert (cells["s"], cells["last"]) == ("not known: 0.41 d = 0.41 mg", "none yet")
    assert sheet.grid.hasFocus()
    empty.session.undo()
    assert not empty.sheet.model.rows and sheet.told.text() == EMPTY
    sheet.form.take_focus()
    empty.press(Key.Key_Escape)
    assert empty.left == [True]


def test_each_balance_with_what_it_tells_apart(bench: Bench) -> None:
    cells = bench.cells(B1)
    assert (cells["d"], cells["max"], cells["accuracy"]) == ("0.001", "200", "")
    assert [cells[f"least {share}"] for share in ("0.1", "1", "2", "5")] == ["1.60", "0.160", "0.080", "0.032"]
    other = bench.cells("B2 generic 0.01 g balance")
    assert [other[f"least {share}"] for share in ("0.1", "1", "2", "5")] == ["12.0", "1.20", "0.60", "0.24"]
    assert other["s"] == "6.0 mg, as its maker says"
    assert bench.sheet.grid.hasFocus()
    bench.press(Key.Key_Escape)
    assert bench.left == [True]


def test_what_is_retired_is_quiet_and_comes_back(bench: Bench) -> None:
    sheet = bench.sheet
    bench.press(Key.Key_E, CTRL)
    assert sheet.side.currentWidget() is sheet.form
    sheet.form.retire.click()
    assert bench.balance().retired_on == date(2025, 4, 10)
    row = sheet.model.rows[-1]
    assert row.name == f"{B1}, retired 10 Apr" and sheet.model.tone(row, sheet.model.columns[0]) == "quiet"
    assert sheet.row is row or sheet.row == row
    assert not sheet.chips.buttons[CHECK].isEnabled() and sheet.side.currentWidget() is sheet.form
    bench.press(Key.Key_D, CTRL)
    assert sheet.side.currentWidget() is sheet.form and sheet.chips.name == FORM
    sheet.form.retire.click()
    assert bench.balance().retired_on is None and sheet.chips.buttons[CHECK].isEnabled()
    bench.session.undo()
    assert bench.balance().retired_on is not None
    assert sheet.form.retire.text() == "Take it back into use"


# the form ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name, text, words",
    [
        ("name", "", "A name is missing"),
        ("name", "B2 generic 0.01 g balance", "already"),
        ("d_g", "", "A number is missing"),
        ("d_g", "0", "cannot be"),
        ("d_g", "-0.001", "cannot be"),
        ("d_g", "300", "as much as it carries"),
        ("d_g", "1.000,5", "marks for thousands"),
        ("s_g", "0", "A repeatability of 0 g cannot be"),
        ("s_g", "-1", "A repeatability of -1 g cannot be"),
        ("s_g", "250", "as much as it carries (200 g)"),
        ("accuracy_g", "fine", "not a number"),
        ("accuracy_g", "-0.1", "An accuracy of -0.1 g cannot be"),
        ("max_g", "0", "A capacity of 0 g cannot be"),
    ],
)
def test_each_fault_stands_beside_its_field(bench: Bench, name: str, text: str, words: str) -> None:
    bench.press(Key.Key_E, CTRL)
    before = bench.balance()
    bench.fill(bench.sheet.form.edit(name), text)
    bench.press(Key.Key_Return)
    assert words in bench.remark(name) and bench.sheet.form.fields[name].is_wrong
    assert bench.sheet.form.edit(name).text() == text and QApplication.focusWidget() is bench.sheet.form.edit(name)
    assert bench.balance() == before and bench.book.can_undo is None
    others = [other for other in bench.sheet.form.fields.values() if other is not bench.sheet.form.fields[name]]
    assert not any(other.is_wrong for other in others)


def test_a_change_is_one_step_and_milligrams_are_read(bench: Bench) -> None:
    sheet = bench.sheet
    bench.press(Key.Key_E, CTRL)
    bench.fill(sheet.form.edit("s_g"), "0.9")
    assert bench.remark("s_g") == "That is 900 of its steps. Meant in mg? Then write 0.9 mg."
    bench.type(" mg")
    assert bench.remark("s_g") == ""
    bench.fill(sheet.form.edit("accuracy_g"), "0.002")
    bench.press(Key.Key_Return, CTRL)
    assert (bench.balance().s_g, bench.balance().accuracy_g) == (0.0009, 0.002)
    assert bench.cells(B1)["s"] == "0.90 mg, as its maker says" and sheet.grid.hasFocus()
    bench.session.undo()
    assert (bench.balance().s_g, bench.balance().accuracy_g) == (0.0008, None)
    bench.press(Key.Key_E, CTRL)
    bench.fill(sheet.form.edit("s_g"), "0.0001")
    assert bench.remark("s_g") == "Below 0.41 of a step: 0.41 mg counts."
    bench.press(Key.Key_Escape)
    assert bench.balance().s_g == 0.0008 and sheet.grid.hasFocus()


def test_nothing_changed_is_kept_without_a_step(bench: Bench) -> None:
    bench.press(Key.Key_E, CTRL)
    bench.press(Key.Key_Return)
    assert bench.book.can_undo is None and bench.sheet.grid.hasFocus()


def test_a_new_balance_stands_in_the_list_and_is_the_chosen_one(bench: Bench) -> None:
    bench.press(Key.Key_N, CTRL)
    assert bench.sheet.form.title.text() == "A new balance"
    bench.type("A0 fine")
    bench.press(Key.Key_N, CTRL)  # a second time: what was typed stays
    assert bench.sheet.form.edit("name").text() == "A0 fine"
    bench.sheet.form.edit("d_g").setFocus()
    bench.enter("0.0001")
    assert bench.sheet.row is not None and bench.sheet.row.balance.name == "A0 fine"
    assert bench.sheet.model.rows[0].balance.name == "A0 fine"
    bench.press(Key.Key_E, CTRL)
    bench.fill(bench.sheet.form.edit("name"), "A1")
    bench.press(Key.Key_N, CTRL)  # another one is begun: it is not thrown away
    assert bench.sheet.form.edit("name").text() == "A1" and bench.said[-1][1] == "note"
    bench.sheet.grid.go_to(bench.sheet.model.index(1, 0))
    assert bench.sheet.form.edit("name").text() == "A1"
    bench.press(Key.Key_Escape)
    assert bench.sheet.row.balance.name == B1


# repeatability -----------------------------------------------------------------------------------------------------------


def test_ten_readings_typed_one_after_another(bench: Bench) -> None:
    sheet = bench.sheet
    earlier = len(bench.checks())
    bench.session.put("unknown", replace(bench.balance(), s_g=None))
    bench.press(Key.Key_R, CTRL)
    test = sheet.test
    assert sheet.side.currentWidget() is test
    if not test.weight.text():
        assert test.weight.hasFocus()
        bench.type("20")
    test.weight.setFocus()
    bench.press(Key.Key_Return)
    bench.enter("20.0011", "20.0000", "19.9997", "19.9996")
    assert "4 of at least 5 readings" in test.least.text()
    bench.enter("19.9998", "19.9990", "19.9989", "20.0013", "20.0000", "20.0006")
    assert plain(test.result.text()) == "s 0.80 mg of 10 · mean 20.0000 g"
    assert plain(test.least.text()) == (
        "Least weights with it: 1.60 g at 0.1 %, 0.160 g at 1 %, 0.080 g at 2 % and 0.032 g at 5 %."
    )
    assert not test.hint.isVisible() and test.verb.hasFocus()
    bench.press(Key.Key_Return)
    check = bench.checks()[-1]
    assert len(bench.checks()) == earlier + 1 and check.readings == TEN and check.weight_g == 20
    assert bench.balance().s_g is None
    assert plain(test.verb.text()) == "Take 0.80 mg for this balance" and test.verb.hasFocus()
    bench.press(Key.Key_Return)
    assert bench.balance().s_g == 0.0008 and bench.cells(B1)["s"] == "0.80 mg, found 10 Apr 2025"
    assert sheet.grid.hasFocus() and sheet.log_model.rows[0].check == check
    assert sheet.log_model.rows[0].read == "10 readings" and plain(sheet.log_model.rows[0].off) == "s 0.80 mg"
    bench.session.undo()
    assert bench.balance().s_g is None and len(bench.checks()) == earlier + 1


def test_fewer_than_five_are_refused_and_nothing_is_lost(bench: Bench) -> None:
    bench.press(Key.Key_R, CTRL)
    test, before = bench.sheet.test, len(bench.checks())
    test.weight.setText("20")
    test.readings[0].setFocus()
    bench.enter("20.001", "20.000", "20.002", "20.001", "")
    assert "4 readings say nothing of a spread" in test.wrong.text() and len(bench.checks()) == before
    assert [line.text() for line in test.readings[:5]] == ["20.001", "20.000", "20.002", "20.001", ""]
    bench.type("20.o")
    bench.press(Key.Key_Return)
    assert "Reading 5" in test.wrong.text() and test.readings[4].text() == "20.o"
    bench.press(Key.Key_Return, CTRL)
    assert "Reading 5" in test.wrong.text() and len(bench.checks()) == before
    bench.fill(test.readings[4], "2.000")
    assert plain(test.hint.text()) == "2.000 g is far from the others. Look at it again."
    bench.sheet.grid.setFocus()
    bench.press(Key.Key_Down)  # another balance: what was typed stays
    assert test.readings[0].text() == "20.001" and B1 in test.title.text()


def test_the_object_must_have_a_weight(bench: Bench) -> None:
    bench.press(Key.Key_R, CTRL)
    test = bench.sheet.test
    bench.fill(test.weight, "")
    test.readings[0].setFocus()
    bench.enter("20.0011", "20.0000", "19.9997", "19.9996", "19.9998")
    bench.press(Key.Key_Return, CTRL)
    assert test.weight_field.is_wrong


def test_whole_steps_that_show_no_spread_are_noticed(bench: Bench) -> None:
    bench.press(Key.Key_R, CTRL)
    test = bench.sheet.test
    test.weight.setText("20")
    test.readings[0].setFocus()
    bench.enter(*["20.000"] * 9, "20.001")
    assert "Keep the digits" in test.hint.text() and "0.41 mg counts" in plain(test.hint.text())
    assert Repeat((20.0, 20.0, 20.0, 20.001, 20.0), 3, 0.001).lost_digits
    assert not Repeat((20.0, 20.0, 20.0, 20.001, 20.0), 4, 0.001).lost_digits


def test_what_was_found_may_be_left(bench: Bench) -> None:
    bench.press(Key.Key_R, CTRL)
    test = bench.sheet.test
    test.weight.setText("20")
    test.readings[0].setFocus()
    bench.enter("20.0011", "20.0000", "19.9991", "19.9996", "20.0018", "")
    assert test.verb.text().startswith("Take ") and test.is_begun
    bench.press(Key.Key_Escape)
    assert bench.balance().s_g == 0.0008 and test.readings[0].isEnabled() and not test.readings[0].text()
    assert len(bench.checks()[-1].readings) == 5


def test_the_same_spread_is_not_offered_again(bench: Bench) -> None:
    bench.press(Key.Key_R, CTRL)
    test = bench.sheet.test
    test.weight.setText("20")
    test.readings[0].setFocus()
    bench.enter(*[f"{g:.4f}" for g in TEN])
    bench.press(Key.Key_Return)
    assert bench.sheet.grid.hasFocus() and bench.cells(B1)["s"] == "0.80 mg, found 10 Apr 2025"
    bench.sheet.log.setFocus()
    bench.sheet.log.go_to(bench.sheet.log_model.index(0, 0))
    bench.press(Key.Key_Return)
    assert bench.sheet.side.currentWidget() is test and test.readings[0].text() == "20.0011"
    bench.fill(test.readings[0], "20.0010")
    bench.press(Key.Key_Return, CTRL)
    check = bench.sheet.log_model.rows[0].check
    assert check.readings[0] == 20.001 and check.replaces is not None
    assert bench.book.history(check.key)[0].readings[0] == 20.0011


# checks of the day -------------------------------------------------------------------------------------------------------


def test_a_check_of_the_day_and_its_correction(bench: Bench, clock) -> None:
    sheet, check = bench.sheet, bench.sheet.check
    earlier = len(bench.checks())
    bench.press(Key.Key_D, CTRL)
    assert sheet.side.currentWidget() is check
    bench.fill(check.weight, "20.000")
    check.warm.setFocus()
    bench.type("35")
    check.level.buttons["yes"].click()
    check.read_line.setFocus()
    bench.type("20.001")
    assert plain(check.read_field.remark.text()) == "+0.001 g, within the ± 0.0016 g (k = 2) of this balance."
    bench.press(Key.Key_Return)
    kept = bench.checks()[-1]
    assert (kept.weight_g, kept.readings, kept.level_ok, kept.warm_up_min) == (20.0, (20.001,), True, 35.0)
    assert len(bench.checks()) == earlier + 1 and sheet.grid.hasFocus() and bench.book.can_undo is None
    assert bench.cells(B1)["last"] == "10 Apr, +0.001 g"
    clock.tick(days=3)
    bench.press(Key.Key_D, CTRL)
    assert plain(check.told.text()) == "Last checked 3 days ago: +0.001 g."
    assert check.weight.text() == "20" and check.read_line.hasFocus()
    bench.type("20.003")
    assert check.read_field.remark.property("role") == "amber" and "beyond the ± 0.0016" in check.read_field.remark.text()
    bench.press(Key.Key_Return)
    row = next(row for row in sheet.model.rows if row.balance.name == B1)
    last = sheet.model.columns[sheet.model.place_of("last")]
    assert sheet.model.tone(row, last) == "amber" and "beyond" in sheet.model.tip(row, last)
    first = sheet.log_model.rows[0]
    assert "beyond" in first.remark and sheet.log_model.tone(first, sheet.log_model.columns[3]) == "amber"
    sheet.log.setFocus()
    sheet.log.go_to(sheet.log_model.index(0, 0))
    bench.press(Key.Key_Return)
    assert check.read_line.text() == "20.003" and check.read_line.hasFocus()
    bench.fill(check.read_line, "20.000")
    bench.press(Key.Key_Return)
    first = sheet.log_model.rows[0]
    assert first.check.readings == (20.0,) and first.remark == "corrected, was 20.003" and first.off == "0.000"
    assert bench.book.history(first.check.key)[0].readings == (20.003,)
    assert first.check.at == clock.at


def test_a_correction_that_changes_nothing_and_one_of_the_level_alone(bench: Bench) -> None:
    sheet, check = bench.sheet, bench.sheet.check
    bench.press(Key.Key_D, CTRL)
    bench.fill(check.weight, "20")
    bench.fill(check.read_line, "19.999")
    bench.press(Key.Key_Return)
    place = sheet.log_model.index(0, 0)
    for level, replaced in (("not looked", False), ("no", True)):
        sheet.log.setFocus()
        sheet.log.go_to(place)
        bench.press(Key.Key_Return)
        check.level.buttons[level].click()
        check.confirm()
        first = sheet.log_model.rows[0]
        assert (first.check.replaces is not None) is replaced
    level = sheet.log_model.columns[sheet.log_model.place_of("level")]
    assert sheet.log_model.tone(first, level) == "amber" and level.text(first) == "not level"


@pytest.mark.parametrize(
    "line, text, words",
    [
        ("weight", "", "missing"),
        ("weight", "0", "more than 0"),
        ("weight", "500", "More than this balance carries (200 g)"),
        ("read", "", "missing"),
        ("read", "-20", "cannot be weighed"),
        ("warm", "-5", "0 or more"),
        ("warm", "long", "not a number"),
    ],
)
def test_a_check_that_cannot_be_stays_in_its_field(bench: Bench, line: str, text: str, words: str) -> None:
    bench.press(Key.Key_D, CTRL)
    check, before = bench.sheet.check, len(bench.checks())
    lines = {"weight": check.weight, "read": check.read_line, "warm": check.warm}
    for name, good in (("weight", "20"), ("read", "20.000"), ("warm", "30")):
        bench.fill(lines[name], text if name == line else good)
    bench.press(Key.Key_Return)
    told = {"weight": check.weight_field, "read": check.read_field, "warm": check.warm_field}[line]
    assert words in plain(told.remark.text()) and told.is_wrong and lines[line].hasFocus()
    assert len(bench.checks()) == before and lines[line].text() == text


def test_what_is_begun_is_not_thrown_away_by_a_correction(bench: Bench) -> None:
    sheet, check = bench.sheet, bench.sheet.check
    bench.press(Key.Key_D, CTRL)
    bench.fill(check.weight, "20")
    bench.enter("")
    bench.fill(check.read_line, "20.000")
    bench.press(Key.Key_Return)
    bench.press(Key.Key_D, CTRL)
    bench.type("20.0")
    sheet._on_log_entered(0)
    assert check.check is None and bench.said[-1][1] == "note"


# for a formula -----------------------------------------------------------------------------------------------------------


def test_two_balances_compared_for_the_chosen_version(bench: Bench) -> None:
    sheet, compare = bench.sheet, bench.sheet.compare
    bench.press(Key.Key_T, CTRL)
    assert sheet.side.currentWidget() is compare and compare.version.hasFocus()
    assert compare.version.currentText().startswith("SR-4") and plain(compare.tolerance.name) == "5 %"
    rows = {row.balance.name[:2]: row for row in compare.model.rows}
    assert [round(rows[name].amount_g, 9) for name in ("B1", "B2")] == [6.4, 48.0]
    assert round(rows["B2"].more_g, 9) == 41.6 and f"{rows['B2'].more_cost:.2f}" == "4.90"
    assert plain(compare.saved.text()) == f"{B1} saves 41.60 g = 4.90 € a trial against B2 generic 0.01 g balance."
    assert "0.1178 €/g" in plain(compare.told.text())
    compare.tolerance.buttons["1\u2009%"].click()
    assert [round(row.amount_g, 9) for row in compare.model.rows] == [32.0, 240.0]
    compare.tolerance.buttons["0.1\u2009%"].click()
    assert compare.noted.text() == f"More than {B1} and B2 generic 0.01 g balance can carry."
    assert compare.model.tone(compare.model.rows[0], compare.model.columns[0]) == "amber"
    compare.tolerance.buttons["5\u2009%"].click()
    bench.book.put(Balance("B3 pocket", 0.1))
    compare.grid.setFocus()
    compare.grid.go_to(compare.model.index(2, 0))
    assert plain(compare.saved.text()) == f"{B1} saves 321.60 g = 37.88 € a trial against B3 pocket."
    bench.press(Key.Key_Escape)
    assert sheet.grid.hasFocus()


def test_another_version_and_what_changes_meanwhile(bench: Bench) -> None:
    compare = bench.sheet.compare
    bench.press(Key.Key_T, CTRL)
    bench.session.choose_version(bench.book.get(Version, "SR-3").key)
    assert compare.version.currentText().startswith("SR-3")
    before = compare.model.rows[0].amount_g
    bench.session.put("coarser", replace(bench.balance(), s_g=0.0016))
    assert compare.model.rows[0].amount_g == pytest.approx(2 * before)
    bench.session.retire(bench.balance("B2 generic 0.01 g balance").key)
    assert "second balance" in compare.saved.text()
    bench.session.retire(bench.balance().key)
    assert "No balance is in use" in compare.told.text() and not compare.grid.isVisible()


def test_without_a_formula_or_a_price(empty: Bench) -> None:
    (balance,) = empty.book.put(Balance("Mine", 0.01))
    empty.sheet.start()
    empty.press(Key.Key_T, CTRL)
    compare = empty.sheet.compare
    assert "No formula" in compare.told.text()
    from perfumery import Material

    material, project = empty.book.put(Material(name="Vetiver oil"), Project(code="X", name="X"))
    bare, version = empty.book.put(
        Version(project=project.key, code="X-1"),
        Version(project=project.key, code="X-2", lines=(Line(parts=10, material=material.key),)),
    )
    found = compared(empty.book, version, (balance,), 0.05)
    assert found is not None and (found.cost_per_g, found.trials[0].cost, found.line) == (None, None, "Vetiver oil")
    assert compared(empty.book, bare, (balance,), 0.05) is None
    compare.start(balance)
    assert "no price is known" in compare.told.text()
    empty.session.choose_version(bare.key)
    assert compare.told.text() == "X-1 has no parts yet."
    empty.book.put(Balance("Yours", 0.01))
    empty.session.choose_version(version.key)
    assert compare.saved.text() == "Mine and Yours need the same."


def test_an_accord_may_be_the_smallest_line(bench: Bench) -> None:
    accord = bench.book.get(Version, "SR-3")
    (version,) = bench.book.put(
        Version(project=accord.project, code="SR-99", lines=(Line(parts=1, accord=accord.key), Line(parts=99, material=next(
            line.material for line in accord.lines if line.material is not None)))),
    )  # fmt: skip
    found = compared(bench.book, version, (bench.balance(),), 0.05)
    assert found is not None and found.line == (accord.name or accord.code) and found.smallest == pytest.approx(0.01)


# figures -----------------------------------------------------------------------------------------------------------------


def test_figures_keep_the_digits_they_have() -> None:
    assert [plain(spread_text(s)) for s in (0.0008, 0.006, 0.0125, 0.00041, 0.41)] == [
        "0.80 mg", "6.0 mg", "12.5 mg", "0.41 mg", "410 mg",
    ]  # fmt: skip
    assert small_text(0.0016) == "0.0016" and small_text(0) == "0"
    assert [least_text(g, d) for g, d in ((1.6, 0.001), (0.16, 0.001), (0.032, 0.001), (12, 0.01), (0.00164, 0.0001))] == [
        "1.60", "0.160", "0.032", "12.0", "0.0017",
    ]  # fmt: skip
    assert [plain(figures.off(g, 0.001)) for g in (0.001, -0.0014, 0.0, -0.0001)] == ["+0.001", "-0.001", "0.000", "0.000"]
    assert [grams_or_mg(text) for text in ("0.8 mg", "0,0008 g", " 0.0008")] == [0.0008] * 3
    with pytest.raises(Refused):
        grams_or_mg("mg")


def test_models_keep_their_promises(bench: Bench) -> None:
    mode = QAbstractItemModelTester.FailureReportingMode.Fatal
    balance = bench.balance()
    bench.book.put(BenchCheck(balance.key, bench.book.now(), 20.0, (20.002,), level_ok=False))
    bench.book.put(BenchCheck(balance.key, bench.book.now(), 20.0, TEN))
    found = compared(bench.book, bench.book.get(Version, "SR-4"), tuple(bench.book.all(Balance)), 0.05)
    for model, rows in (
        (BalancesModel(), balance_rows(bench.book)),
        (ChecksModel(), check_rows(bench.book, balance)),
        (TrialsModel("EUR"), found.trials),
    ):
        tester = QAbstractItemModelTester(model, mode)
        for shown_rows in (rows, rows[1:], (), rows):
            model.show_rows(shown_rows)
            assert model.rowCount() == len(shown_rows) and tester.model() is model
        assert all(
            isinstance(model.data(model.index(row, at)), str) for row in range(len(rows)) for at in range(len(model.columns))
        )
        assert {model.tip(row, column) for row in rows for column in model.columns}


def test_every_part_is_reached_by_keys_alone(bench: Bench) -> None:
    sheet = bench.sheet
    for key, name in ((Key.Key_R, TEST), (Key.Key_T, COMPARE), (Key.Key_E, FORM), (Key.Key_D, CHECK)):
        bench.press(key, CTRL)
        assert sheet.chips.name == name and sheet.side.currentWidget() is sheet.parts[name]
        assert sheet.parts[name].isAncestorOf(QApplication.focusWidget())
    bench.press(Key.Key_Escape)
    bench.press(Key.Key_Return)
    assert sheet.check.isAncestorOf(QApplication.focusWidget())
    sheet.hide()
    bench.book.put(Balance("C hidden", 0.1))
    sheet.show()
    assert [row.balance.name for row in sheet.model.rows][-1] == "C hidden"
    sheet.resize(1800, 950)
    assert sheet._right.width() > 600


def test_where_there_is_no_check_yet_head_and_sentence_stand_together_at_the_top(bench: Bench) -> None:
    sheet = bench.sheet
    sheet.resize(1800, 1000)
    (fresh,) = bench.book.put(Balance("Fine", d_g=0.001))
    sheet.start(fresh.key)
    QApplication.processEvents()
    assert sheet.log.isHidden() and sheet.log_told.text().startswith("None yet.")
    head, told = sheet.log_head.geometry(), sheet.log_told.geometry()
    assert head.top() < 40 and 0 <= told.top() - head.bottom() < 20 and told.height() < 60
    sheet.start(bench.balance().key)
    QApplication.processEvents()
    assert sheet.log.isHidden() or sheet.log.height() > 300

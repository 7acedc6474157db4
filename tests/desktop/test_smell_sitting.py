# SPDX-License-Identifier: MIT
"""Sittings by keyboard: begun, dipped one by one, read in one go, sealed and revealed, on the invented studio."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop.models.sittings import are_matched, nose_told, pacing_told
from desktop.models.stand_plan import stand_plan
from desktop.models.strips import caption
from desktop.pages.smell.sitting import SittingView
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets import tab_order
from perfumery import Nose, Pacing, Reading, Sitting, Strip, Version

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier


@dataclass
class Bench:
    book: Book
    session: Session
    view: SittingView
    said: list[tuple[str, str]] = field(default_factory=list)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.view, key, modifier)
        QApplication.processEvents()

    def type(self, text: str) -> None:
        QTest.keyClicks(QApplication.focusWidget(), text)
        QApplication.processEvents()

    def begin(self, *marked: str) -> Sitting:
        """A sitting with strips of these bottles, each dipped on its own key press."""
        self.view.begin()
        self.view.dip()
        for code in marked:
            self.view.dip_sheet.find.setText(code)
            self.press(Key.Key_Space)
        self.view.dip_sheet.find.setText("")
        for _ in marked:
            self.press(Key.Key_Return)
        return self.view.line.row.sitting

    def strips(self) -> list[Strip]:
        return list(self.book.all(Strip, sitting=self.view.line.row.sitting.key))


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("smell") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Bench:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    version = book.get(Version, "SR-4")
    session.choose_version(None if version is None else version.key)
    view = SittingView(session)
    view.focusNextPrevChild = lambda forward: tab_order.step(view, forward=forward)  # the window does it
    view.resize(1216, 720)
    view.show()
    qtbot.waitExposed(view)
    view.activateWindow()
    qtbot.waitUntil(view.isActiveWindow)
    view.take_focus()
    made = Bench(book, session, view)
    session.said.connect(lambda sentence, tone: made.said.append((sentence, tone)))
    return made


@pytest.fixture
def bench(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Bench]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T10:00:00+02:00")
    with Book.open(path, clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        for model in (made.view.sittings, made.view.due):
            QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
        yield made
        shiboken6.delete(made.view)


def test_the_list_tells_what_hangs_in_each(bench: Bench) -> None:
    lines = {line.row.sitting.code: line for line in bench.view.sittings.rows}
    assert [line.row.sitting.code for line in bench.view.sittings.rows] == [f"S{n}" for n in range(8, 0, -1)]
    assert {code for code, line in lines.items() if line.marks == "no benchmark"} == {"S2", "S3", "S4", "S6", "S7", "S8"}
    assert lines["S1"].row.strips == 5 and bench.view.title.text().startswith("S8 raw materials")
    bench.press(Key.Key_End, CTRL)
    assert bench.view.title.text().startswith("S1 first round") and len(bench.view.stand.papers) == 5
    noted = bench.view.noted.text().replace("\u2009", " ")
    assert noted.startswith("The mixes differed in age when dipped: P01 14 d, P04 6 d as concentrate.")
    assert bench.view.prompt.isHidden() and not bench.view.dip_action.isEnabled() and not bench.view.reveal_action.isEnabled()


def test_a_young_mix_has_one_age_in_the_sitting_and_under_its_strip(bench: Bench, clock) -> None:
    view, book = bench.view, bench.book
    clock.tick(minutes=-6)
    _, fresh = book.start_trial(book.get(Version, "SR-3").key, 5.0)
    clock.tick(minutes=6)
    bench.begin("V027-12", fresh.code)
    _, young = bench.strips()
    noted = view.noted.text().replace("\u2009", " ")
    assert noted.startswith("The mixes differed in age when dipped: ") and f"{young.code} 6 min as concentrate." in noted
    view.stand.chosen.emit(young.key)
    assert caption(book, view.chosen).replace("\u2009", " ").endswith("6 min as concentrate when dipped")
    clock.tick(days=1)
    view.refresh()
    assert f"{young.code} 6 min" in view.noted.text().replace("\u2009", " ")


def test_conditions_are_kept_as_they_are_typed(bench: Bench) -> None:
    view, book = bench.view, bench.book
    bench.press(Key.Key_N, CTRL)
    sitting = view.line.row.sitting
    assert (sitting.code, sitting.at) == ("S9", book.now()) and view.conditions.purpose.hasFocus()
    bench.type("does pepper show")
    bench.press(Key.Key_Tab)
    bench.type("21,5")
    bench.press(Key.Key_Tab)
    bench.type("much")
    bench.press(Key.Key_Tab)
    assert view.conditions.humidity_field.is_wrong
    bench.press(Key.Key_Space)
    kept = book.get(Sitting, sitting.key)
    assert (kept.purpose, kept.temp_c, kept.rh_percent, kept.cold) == ("does pepper show", 21.5, None, True)
    assert view.title.text() == "S9 does pepper show" and view.conditions.humidity.text() == "much"


def test_a_room_that_cannot_be_is_said_beside_its_field_and_nothing_is_lost(bench: Bench) -> None:
    conditions, book = bench.view.conditions, bench.book
    bench.press(Key.Key_N, CTRL)
    bench.press(Key.Key_Tab)
    bench.type("210")
    bench.press(Key.Key_Tab)
    bench.type("150")
    bench.press(Key.Key_Tab)
    assert "210\u2009°C" in conditions.temp_field.remark.text() and "0 to 100" in conditions.humidity_field.remark.text()
    assert (conditions.temp.text(), conditions.humidity.text()) == ("210", "150")
    conditions.humidity.setFocus()
    conditions.humidity.selectAll()
    bench.type("46 %")
    bench.press(Key.Key_Tab)
    kept = book.get(Sitting, bench.view.line.row.sitting.key)
    assert (kept.temp_c, kept.rh_percent) == (None, 46.0)
    assert conditions.temp_field.is_wrong and conditions.temp.text() == "210" and not conditions.humidity_field.is_wrong


def test_a_strip_is_not_dipped_in_a_room_that_cannot_be(bench: Bench) -> None:
    sheet = bench.view.dip_sheet
    bench.view.begin()
    bench.view.dip()
    sheet.find.setText("V027-12")
    sheet.humidity.setText("150")
    bench.press(Key.Key_Return)
    assert sheet.humidity.hasFocus() and "0 to 100" in sheet.humidity.accessibleDescription() and not bench.strips()
    sheet.humidity.setText("15")
    bench.press(Key.Key_Return)
    assert len(bench.strips()) == 1 and bench.book.get(Sitting, bench.view.line.row.sitting.key).rh_percent == 15


def test_the_marks_of_a_sitting_say_what_they_mean(bench: Bench) -> None:
    marks = bench.view.conditions.marks
    assert marks["cold"].text() == "nose has a cold" and "weaker" in marks["cold"].toolTip()
    marks["cold"].click()
    assert "a cold in the nose" in bench.view.told.text()


def test_ages_and_what_is_due_are_told_anew_when_the_page_comes_back(bench: Bench, clock) -> None:
    view = bench.view
    bench.begin("V027-12")
    (key,) = [strip.key for strip in bench.strips()]
    view.hide()
    bench.session.ticked.emit(clock.tick(hours=1))
    view.show()
    QApplication.processEvents()
    card, at = next(row for row in view.due.rows if row[0].key == key)
    assert at == clock.at and card.state == "due" and view.model.card(key).elapsed_h == pytest.approx(1.0)
    place = next(place for place, row in enumerate(view.due.rows) if row[0].key == key)
    shown = [view.due.cell(place, column).replace("\u2009", " ") for column in range(view.due.columnCount())]
    assert shown[1:] == ["SR-4", "1 h", "due now"]
    assert "1\u2009h after the dip, due now" in view.stand.papers[0].name


def test_the_benchmark_is_asked_for_and_one_key_away(bench: Bench) -> None:
    view = bench.view
    bench.begin("V027-12")
    assert view.prompt.text().startswith("H-0") and view.prompt_link.isVisible()
    view.prompt_link.click()
    assert view.dip_sheet.isVisible() and view.dip_sheet.current.text.startswith("H-0")
    bench.press(Key.Key_Return)
    assert view.prompt.isHidden() and len(bench.strips()) == 2 and view.line.marks == ""


def test_a_whole_sitting_by_keyboard(bench: Bench, clock) -> None:
    view, book = bench.view, bench.book
    bench.press(Key.Key_N, CTRL)
    view.list.setFocus()
    bench.press(Key.Key_D)
    assert view.dip_sheet.isVisible()
    for _ in range(3):
        bench.press(Key.Key_Space)
        bench.press(Key.Key_Down)
    assert "One every 5 min" in view.dip_sheet._sentence.text().replace("\u2009", " ")
    bench.press(Key.Key_Return)
    assert "in 5 min, 2 to go" in view.dip_sheet._sentence.text().replace("\u2009", " ")
    bench.session.ticked.emit(clock.tick(minutes=5))
    assert " now, 2 to go" in view.dip_sheet._sentence.text()
    bench.press(Key.Key_Return)
    clock.tick(minutes=5)
    bench.press(Key.Key_Return)
    strips = bench.strips()
    assert len(strips) == 3 and view.dip_sheet.isHidden() and [s.dipped_at.minute for s in strips] == [0, 5, 10]
    # round after round: Enter keeps a figure and goes to the next strip that is due
    for step in (timedelta(minutes=30), timedelta(hours=2)):
        bench.session.ticked.emit(clock.tick(seconds=step.total_seconds()))
        view.read_next()
        for _ in strips:
            bench.type("4")
            bench.press(Key.Key_Return, CTRL)
    assert view.reading.card is None
    assert {len(found) for found in book.readings(tuple(s.key for s in strips)).values()} == {2}


def test_r_reads_the_strip_that_is_chosen_and_what_was_typed_waits(bench: Bench, clock) -> None:
    view = bench.view
    bench.begin("V027-12", "V024-12")
    one, two = bench.strips()
    bench.session.ticked.emit(clock.tick(minutes=3))
    view.stand.chosen.emit(two.key)
    view.stand.setFocus()
    bench.press(Key.Key_R)
    assert view.reading.card.key == two.key
    bench.type("5")
    # a click on another takes the row there; nothing typed is lost, and one strip alone is marked
    view.stand.chosen.emit(one.key)
    assert view.reading.card.key == one.key == view.chosen.key and view.reading.intensity.text() == ""
    assert bench.said[-1][0] == f"What was typed for {two.code} waits there."
    bench.type("4")
    bench.press(Key.Key_Return, CTRL)
    assert view.reading.card.key == two.key and view.reading.intensity.text() == "5"
    bench.press(Key.Key_Return, CTRL)
    kept = {strip.code: bench.book.readings((strip.key,))[strip.key][0] for strip in (one, two)}
    assert (kept[one.code].intensity, kept[two.code].intensity) == (4, 5)
    # a correction that was begun waits as well
    view._on_correct_wanted(kept[two.code])
    bench.type("3")
    view.stand.chosen.emit(one.key)
    view._on_correct_wanted(kept[two.code])
    assert view.reading.intensity.text() == "3"
    view.reading.leave()
    clock.tick(hours=2)
    view.next_action.trigger()
    assert view.reading.card.key == one.key


def test_rest_is_told_after_six_smells(bench: Bench, clock) -> None:
    bench.begin("V027-12", "V024-12")
    for _ in range(3):
        for strip in bench.strips():
            clock.tick(seconds=20)
            bench.view._read(strip.key)
            bench.type("4")
            bench.press(Key.Key_Return, CTRL)
    told = [sentence.replace("\u2009", " ") for sentence, _ in bench.said]
    assert "6 smells in the last hour: rest 5 min." in told and "5 smells" not in " ".join(told)


def test_somebody_else_writes_the_codes(bench: Bench, clock) -> None:
    view, book = bench.view, bench.book
    bench.begin("V027-12", "V024-12", "V022-12")
    true = {strip.key: strip for strip in bench.strips()}
    clock.tick(minutes=3)
    view.seal_button.click()
    bench.press(Key.Key_Return)
    told = view.seal_sheet.list.text()
    codes = [strip.code for strip in bench.strips()]
    for strip in bench.strips():
        assert f"{true[strip.key].code} from " in told and told.count(strip.code) == 1 and len(strip.code) == 3
    bench.press(Key.Key_Return)
    assert view.seal_sheet.isHidden() and view.seal_sheet.list.text() == ""
    assert not view.seal_action.isEnabled() and view.line.marks == "sealed" and not view.dip_action.isEnabled()
    assert [paper.code for paper in view.stand.papers] == codes
    clock.tick(minutes=2)
    view.read_next()
    bench.type("3")
    bench.press(Key.Key_Return, CTRL)
    view.reading.leave()
    clock.tick(minutes=10)
    view.reveal_button.click()
    bench.press(Key.Key_Return)
    assert {strip.code for strip in bench.strips()} == {strip.code for strip in true.values()}
    assert view.line.row.sitting.revealed_at == book.now() and view.reveal_button.isHidden()


def test_a_sitting_that_was_read_says_so_before_it_is_sealed(bench: Bench, clock) -> None:
    view = bench.view
    bench.begin("V027-12", "V024-12", "V022-12")
    clock.tick(minutes=3)
    first, second, _ = bench.strips()
    for strip in (first, second):
        view._read(strip.key)
        bench.type("4")
        bench.press(Key.Key_Return, CTRL)
    view.reading.leave()
    view.seal_button.click()
    sheet = view.seal_sheet
    assert f"readings of {first.code} and {second.code} stand in it" in sheet.told.text() and "new sitting" in sheet.told.text()
    assert sheet.other.isHidden() and sheet.shuffle.isHidden() and sheet.leave_button.hasFocus()
    bench.press(Key.Key_Return)
    assert sheet.isHidden() and not view.line.row.sitting.is_sealed
    view.seal_button.click()
    # another one, of fresh papers, is sealed as ever
    bench.begin("V027-12", "V024-12")
    assert sheet.isHidden(), "what was said of one sitting stands over no other"
    view.seal_button.click()
    assert sheet.other.isVisible() and sheet.other.hasFocus() and sheet.told.text().startswith("Who writes")
    sheet.shuffle.click()
    codes = sheet.list.text()
    view.choose(view.sittings.rows[1].row.sitting.key)
    assert sheet.isVisible() and sheet.list.text() == codes, "codes that are not written yet are not lost"


def test_shuffled_papers_are_turned_over_by_hand(bench: Bench, clock) -> None:
    view, book = bench.view, bench.book
    bench.begin("V027-12", "V024-12")
    papers = [strip.code for strip in bench.strips()]
    view.seal_button.click()
    view.seal_sheet.shuffle.click()
    codes = sorted(strip.code for strip in bench.strips())
    assert view.seal_sheet.list.text().split() == codes and not any(paper in view.seal_sheet.list.text() for paper in papers)
    bench.press(Key.Key_Escape)
    view.reveal_button.click()
    sheet = view.reveal_sheet
    assert list(sheet.fields) == codes
    bench.type("P99")
    bench.press(Key.Key_Return)
    bench.type(papers[0].lower())
    bench.press(Key.Key_Return)
    assert sheet.fields[codes[0]].is_wrong and sheet.fields[codes[0]].editor.hasFocus() and view.line.row.sitting.is_sealed
    sheet.fields[codes[0]].editor.setText(papers[0])
    sheet.confirm()
    assert all(field.is_wrong for field in sheet.fields.values())
    sheet.fields[codes[0]].editor.setText(papers[1])
    sheet.confirm()
    found = {strip.blind_code: strip.code for strip in bench.strips()}
    assert found == {codes[0]: papers[1], codes[1]: papers[0]} and sheet.isHidden()
    assert book.check() == ()


def test_next_readings_of_all_strips_stand_in_one_list(bench: Bench, clock) -> None:
    view = bench.view
    bench.begin("V027-12", "M17-1")
    bench.session.ticked.emit(clock.tick(minutes=20))
    assert [card.subject for card, _ in view.due.rows] == ["SR-4", "Vetiver oil"]
    assert {card.state for card, _ in view.due.rows} <= {"due", "late"}
    view.choose(next(bench.book.all(Sitting)).key)
    view.due_list.setFocus()
    view.due_list.selectRow(1)
    bench.press(Key.Key_Return)
    assert view.reading.card.subject == "Vetiver oil" and view.line.row.sitting.code == "S9"


def test_times_do_not_jump_with_the_clock(bench: Bench, clock) -> None:
    clock.at = datetime.fromisoformat("2025-10-26T02:30:00+02:00")
    bench.begin("V027-12")
    (strip,) = bench.strips()
    clock.at = datetime.fromisoformat("2025-10-26T02:30:00+01:00")  # one hour later, though the wall says none
    bench.session.ticked.emit(clock())
    card = bench.view.model.card(strip.key)
    assert card.elapsed_h == pytest.approx(1.0) and card.due.due_s == 3600 and card.state == "due"


def test_skin_comes_after_paper(bench: Bench) -> None:
    view = bench.view
    view.begin()
    view.dip()
    view.dip_sheet.find.setText("V021-12")
    view.dip_sheet.skin.setChecked(True)
    assert "safety assessment" in view.dip_sheet._caution.text()
    before = len(list(bench.book.all(Strip)))
    bottle = view.dip_sheet.current.bottle
    assert any(strip.kind == "paper" for strip in bench.book.all(Strip, bottle=bottle))
    view.dip_sheet.find.setText("M27-1")
    view.dip_sheet.find.setFocus()
    bench.press(Key.Key_Return)
    assert "paper first" in view.dip_sheet._sentence.text() and len(list(bench.book.all(Strip))) == before


def test_an_empty_book_says_what_a_sitting_is(theme: Theme, tmp_path: Path, clock, qtbot) -> None:
    with Book.create(tmp_path / "empty.stillroom", "Empty", clock=clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        assert made.view.new.hasFocus() and "same conditions" in made.view.told.text() and made.view.conditions.isHidden()
        shiboken6.delete(made.view)


def test_sentences_of_ages_nose_and_rest() -> None:
    day = timedelta(days=1)
    assert are_matched(6 * day, 8 * day) and are_matched(100 * day, 81 * day) and not are_matched(21 * day, 6 * day)
    assert nose_told(None) == "" and pacing_told(Pacing(5, 0.0)) == ""
    usual = nose_told(Nose(0.1, 0.25, 0.4, (120.0,), 5))
    dull = nose_told(Nose(-1.0, 0.25, -4.0, (120.0,), 6))
    assert "as usual" in usual and "duller" in dull and "4.0 times" in dull and "6 earlier sittings" in dull
    assert pacing_told(Pacing(6, 240.0)).replace("\u2009", " ") == "6 smells in the last hour: rest 4 min."


def test_a_stand_says_what_falls_outside_bench_hours(bench: Bench) -> None:
    plan = stand_plan(bench.book, ["SR-3", "SR-4"], (120.0, 8 * 3600.0), bench.book.now() + timedelta(hours=5))
    told = plan.told(bench.book.now()).replace("\u2009", " ")
    assert told.startswith("One every ") and "Outside bench hours: SR-3 8 h at" in told
    none = stand_plan(bench.book, [f"X{n}" for n in range(9)], (120.0,), bench.book.now())
    assert none.stagger is None and "1 to 8" in none.told(bench.book.now())
    assert none.due_in(0, bench.book.now(), bench.book.now()) is None


def test_a_reading_is_corrected_from_the_log(bench: Bench) -> None:
    view, book = bench.view, bench.book
    view.choose(book.get(Sitting, "S1").key)
    strip = book.get(Strip, "P01")
    first = book.readings((strip.key,))[strip.key][0]
    view.go_to(strip)
    view.log.correct_wanted.emit(first)
    assert view.reading.is_correcting
    view.reading.intensity.setText("4")
    view.reading.keep()
    assert book.readings((strip.key,))[strip.key][0].intensity == 4 and isinstance(first, Reading)

# SPDX-License-Identifier: MIT
"""The strips on the bench by keyboard: dipping, reading with new words, hidden figures, corrections, reading times."""

import shutil
from datetime import timedelta
from types import SimpleNamespace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QApplication, QComboBox, QLineEdit

from db import Book, make_demo
from desktop.pages.bench.strips import StripsPane
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Bottle, Making, Move, Project, Reading, Sitting, Strip, Version, Word
from perfumery.smelling import READING_TIMES, SHORT_TIMES

THIN = "\u2009"
ENTER = Qt.Key.Key_Return


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    path = tmp_path_factory.mktemp("demo") / "demo.stillroom"
    make_demo(path).close()
    return path


@pytest.fixture(scope="module")
def theme(qapp):
    return Theme(qapp, "light")


@pytest.fixture
def bench(qtbot, theme, demo, tmp_path, clock):
    book = Book.open(shutil.copyfile(demo, tmp_path / "demo.stillroom"), clock)
    session = Session(book, theme, Settings(tmp_path / "settings.ini"))
    session.choose_version(book.get(Version, "SR-4").key)
    pane = StripsPane(session)
    pane.resize(396, 860)
    pane.curves.load()
    said = []
    session.said.connect(lambda text, tone: said.append((text.replace(THIN, " "), tone)))
    qtbot.addWidget(pane)
    with qtbot.waitExposed(pane):
        pane.show()
    pane.activateWindow()
    qtbot.waitUntil(pane.isActiveWindow)
    pane.stand.focus_chosen()

    def press(*keys, hold=Qt.KeyboardModifier.NoModifier):
        for key in keys:
            target = QApplication.focusWidget() or pane
            if isinstance(key, str):
                qtbot.keyClicks(target, key)
            else:
                qtbot.keyClick(target, key, hold)

    def tick(**more):
        session.ticked.emit(clock.tick(**more))

    def strip(code):
        return book.get(Strip, code)

    yield SimpleNamespace(
        book=book, session=session, pane=pane, said=said, press=press, tick=tick, strip=strip, clock=clock, qtbot=qtbot
    )
    pane.close()
    book.close()


def _dip(bench):
    """Dips the chosen version's smelling dilution by keyboard alone."""
    bench.press("d")
    bench.press(ENTER)
    return bench.pane.chosen


# what hangs there and is drawn ----------------------------------------------------------------------------------------


def test_the_demo_hangs_with_its_curves_and_closed_strips_folded(bench):
    pane = bench.pane
    assert pane._title.text() == "Strips of Slate Rain"
    assert pane.chosen.code == "P15"
    assert [c.short for c in pane.curves.curves] == ["P15", "P13", "P12", "W01", "P09", "P07", "P03", "P01"]
    assert [c.dashed for c in pane.curves.curves if c.short == "W01"] == [True]
    p03 = next(c for c in pane.curves.curves if c.short == "P03")
    assert 2.68 in [round(t, 2) for t, _ in p03.series]
    shown = [paper.code for paper in pane.stand.papers if paper.key in pane.stand.shown]
    assert shown[:2] == ["P15", "W01"] and "P06" not in shown
    assert pane.stand._fold.text() == "8 closed"
    pane.stand._fold.click()
    assert len(pane.stand.shown) == 16


def test_papers_carry_their_state_in_words(bench):
    names = {paper.code: paper.name.replace(THIN, " ") for paper in bench.pane.stand.papers}
    assert names["P15"] == "P15 SR-4, 2 d after the dip, closed, last intensity 0.5, curve shown"
    button = bench.pane.stand.button(bench.strip("P15").key)
    assert button.accessibleName().replace(THIN, " ") == names["P15"]


def test_arrows_choose_space_shows_and_hides(bench):
    bench.press(Qt.Key.Key_Right)
    assert bench.pane.chosen.code == "W01"
    assert QApplication.focusWidget() is bench.pane.stand.button(bench.strip("W01").key)
    bench.press(Qt.Key.Key_Space)
    bench.press(Qt.Key.Key_Left)
    assert "W01" not in [c.short for c in bench.pane.curves.curves]
    assert bench.pane.chosen.code == "P15"
    bench.press(Qt.Key.Key_Left)
    assert bench.pane.chosen.code == "P15"


def test_no_more_than_eight_curves(bench):
    pane = bench.pane
    pane.toggle_curve(bench.strip("P06").key)
    assert bench.said[-1][1] == "note" and len(pane.curves.curves) == 8
    pane.choose_strip(bench.strip("P06").key)
    assert next(c.short for c in pane.curves.curves) == "P06" and len(pane.curves.curves) == 8
    assert len({c.place for c in pane.curves.curves}) == 8


def test_log_figures_and_comparison_of_the_chosen_strip(bench):
    pane = bench.pane
    pane.choose_strip(bench.strip("P03").key)
    elapsed, mark = (pane.log.model.place_of(key) for key in ("elapsed", "mark"))
    assert pane.log.model.cell(3, elapsed).replace(THIN, " ") == "2.68 h late"
    assert pane.log.model.cell(3, mark).replace(THIN, " ") == "41 min late"
    assert "area 2 min–8 h 23.0" in pane.log.figures_text.replace(THIN, " ")
    assert pane.log.caption_text.replace(THIN, " ").startswith("P03 SR-2B · T-023 · 12 % in ethanol")
    pane.curves.time_picked.emit(8.0)
    assert "SR-2B 2" in pane.one_time.answer.text() and "SR-3 3" in pane.one_time.answer.text()
    pane.one_time.choose(None)
    assert pane.one_time.answer.text() == ""


def test_composing_wide_smelling_places(bench):
    pane = bench.pane
    assert not pane._is_side
    pane.resize(714, 1000)
    bench.qtbot.waitUntil(lambda: pane.stand.geometry().right() < pane.curves.geometry().left())
    assert pane._is_side
    pane.set_mode("smelling")
    pane.resize(860, 760)
    bench.qtbot.waitUntil(lambda: pane.curves.width() > 800)
    assert not pane._is_side
    pane.resize(1300, 760)
    assert pane._is_side


def test_another_project_shows_its_own_and_an_empty_one_says_what_to_do(bench):
    made = bench.session.edit("project", Project(code="ZZ", name="Zero"))
    bench.session.choose_project(made[0].key)
    pane = bench.pane
    assert pane._title.text() == "Strips of Zero"
    assert pane._empty.isVisible() and not pane.curves.isVisible()
    assert not pane.read_action.isEnabled() and pane.dip_action.isEnabled()
    bench.session.choose_version(bench.book.get(Version, "SR-4").key)
    assert not pane._empty.isVisible() and pane.chosen.code == "P15"


# dipping --------------------------------------------------------------------------------------------------------------


def test_a_strip_is_dipped_with_two_keys(bench):
    card = _dip(bench)
    strip = bench.strip("P19")
    assert card.key == strip.key
    assert strip.bottle == bench.book.get(Bottle, "V027-12").key
    assert (strip.dipped_at, strip.strength, strip.amount_g) == (bench.clock(), 0.12, 0.02)
    assert strip.carrier == bench.book.get(Bottle, "V027-12").carrier
    assert strip.reading_times == READING_TIMES
    moved = [m for m in bench.book.all(Move, from_bottle=strip.bottle) if m.remark == "P19"]
    assert [(m.kind, m.mass_g) for m in moved] == [("strip", 0.02)]
    assert bench.book.get(Sitting, strip.sitting).at == bench.clock()
    assert bench.said[-1] == ("P19 is dipped, first reading after 2 min.", "done")
    assert not bench.pane.dip_sheet.isVisible()


def test_a_stand_is_dipped_each_on_its_own_key_press_within_one_sitting(bench):
    bench.press("d", Qt.Key.Key_Space, Qt.Key.Key_Down, Qt.Key.Key_Space, Qt.Key.Key_Down)
    sheet = bench.pane.dip_sheet
    sheet.temp.setText("21,5")
    sheet.scented.setChecked(True)
    bench.press(ENTER)
    assert bench.strip("P20") is None and sheet.isVisible()
    bench.clock.tick(minutes=1)
    bench.press(ENTER)
    first, second = bench.strip("P19"), bench.strip("P20")
    assert second.dipped_at - first.dipped_at == timedelta(minutes=1)
    assert first.sitting == second.sitting
    sitting = bench.book.get(Sitting, first.sitting)
    assert (sitting.temp_c, sitting.scented, sitting.cold) == (21.5, True, False)
    assert not sheet.isVisible()


def test_the_benchmark_of_unknown_contents_can_be_dipped(bench):
    bench.press("d", "h-0")
    assert bench.pane.dip_sheet.strength.placeholderText() == "not known"
    bench.press(ENTER)
    strip = bench.strip("P19")
    assert strip.bottle == bench.book.get(Bottle, "H-0").key
    assert (strip.strength, strip.carrier) == (None, None)
    assert bench.pane.chosen.label == "P19 H-0"


def test_a_typed_strength_wins_and_nonsense_is_told_beside_it(bench):
    bench.press("d", "h-0")
    sheet = bench.pane.dip_sheet
    sheet.strength.setText("lots")
    bench.press(ENTER)
    assert bench.strip("P19") is None and sheet._strength_field.is_wrong
    sheet.strength.setText("15 %")
    bench.press(ENTER)
    strip = bench.strip("P19")
    assert (strip.strength, strip.carrier) == (0.15, bench.book.get(Project, "SR").carrier)


def test_a_raw_material_and_nothing_at_all(bench):
    bench.press("d", "zzzz", ENTER)
    assert "Nothing here to dip" in bench.pane.dip_sheet._sentence.text()
    bench.pane.dip_sheet.find.clear()
    bench.press("lemon m01-1".partition(" ")[0])
    bench.press(ENTER)
    assert bench.pane.chosen.label == "P19 Lemon oil"
    assert bench.strip("P19").carrier is None


def test_skin_comes_with_its_caution_wearer_and_site(bench):
    bench.press("d")
    sheet = bench.pane.dip_sheet
    assert not sheet._caution.isVisible()
    sheet.skin.setChecked(True)
    assert sheet._caution.isVisible() and "broken skin" in sheet._caution.text()
    assert sheet.uptake.text() == ""
    sheet.wearer.setText("Ada")
    sheet.site.setText("left forearm")
    sheet.uptake.setText("0,1")
    bench.press(ENTER)
    strip = bench.strip("W02")
    assert (strip.kind, strip.wearer, strip.site, strip.amount_g) == ("skin", "Ada", "left forearm", 0.1)
    assert bench.pane.stand.papers[0].skin


def test_a_version_without_a_vial_is_made_not_weighed(bench):
    book = bench.book
    version = book.get(Version, "SR-5")
    bench.session.choose_version(version.key)
    bench.press("d")
    assert bench.pane.dip_sheet.current.make == "trial"
    bench.press(ENTER)
    strip = bench.strip("P19")
    bottle = book.get(Bottle, strip.bottle)
    assert (bottle.kind, bottle.version, strip.strength) == ("smelling", version.key, 0.12)
    assert book.get(Version, version.key).is_frozen
    assert any(m.kind == "trial" and m.mode == "not weighed" for m in book.all(Making, version=version.key))
    assert bench.pane.chosen.label == "P19 SR-5"


def test_escape_leaves_the_sheet(bench):
    bench.press("d", Qt.Key.Key_Escape)
    assert not bench.pane.dip_sheet.isVisible()
    assert QApplication.focusWidget() is bench.pane.stand.button(bench.pane.chosen.key)


# reading --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("later", "told", "paper"),
    [
        ({"minutes": 41, "seconds": 40}, "42 min", "42 min"),
        ({"hours": 2, "minutes": 41}, "2.68 h", "2.7 h"),
        ({"days": 1, "hours": 12}, "1 d 12 h", "1.5 d"),
    ],
)
def test_the_age_of_a_strip_is_the_same_on_its_paper_and_in_its_reading(bench, later, told, paper):
    card = _dip(bench)
    bench.tick(**later)
    bench.press("r")
    row, hung = bench.pane.reading, next(one for one in bench.pane.stand.papers if one.key == card.key)
    assert row._elapsed.text().replace(THIN, " ") == told
    assert f"{told} after the dip" in hung.name.replace(THIN, " ") and hung.under.replace(THIN, " ") == paper


def test_the_scales_stand_beside_their_fields(bench):
    _dip(bench)
    bench.press("r")
    row = bench.pane.reading
    assert row._intensity_field.caption.text() == "intensity, 0–6"
    assert row._liking_field.caption.text().replace("\u2060", "") == "liking, −4…+4"


def test_a_reading_by_keyboard_alone_with_a_new_word(bench):
    card = _dip(bench)
    bench.tick(minutes=14, seconds=30)
    bench.press("r")
    row = bench.pane.reading
    assert row._head.text().replace(THIN, " ") == "P19 at 15 min"
    assert row._elapsed.text().replace(THIN, " ") == "14 min"
    bench.press("3,5")
    assert row._intensity_field.remark.text() == "distinct – strong"
    bench.press(ENTER, "30", ENTER, "+2", ENTER, "wet sl", ENTER, "flinty 2,", ENTER, "cold rain", ENTER)
    found = bench.book.readings((card.key,))[card.key]
    assert len(found) == 1
    kept = found[0]
    assert (kept.intensity, kept.distance_cm, kept.liking, kept.note) == (3.5, 30.0, 2, "cold rain")
    assert kept.words == {"wet stone": 1, "flinty": 2}
    assert (kept.at, kept.due_s) == (bench.clock(), 900.0)
    assert bench.book.get(Word, "flinty") is not None
    assert not row.isVisible()
    assert [c.series for c in bench.pane.curves.curves if c.short == "P19"] == [((14.5 / 60, 3.5),)]


def test_ctrl_enter_keeps_from_any_field_and_offers_the_next_strip(bench):
    bench.press("d", Qt.Key.Key_Space, Qt.Key.Key_Down, Qt.Key.Key_Space, ENTER)
    bench.clock.tick(minutes=1)
    bench.press(ENTER)
    bench.tick(minutes=2)
    assert bench.pane._count.text() == "2 due"
    assert bench.pane.next_action.isEnabled()
    bench.pane.next_action.trigger()
    assert bench.pane.reading.card.code == "P19"
    bench.press("5")
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)
    assert bench.pane._next.isVisible()
    assert bench.pane._next.text().replace(THIN, " ") == "Read P20 next: due now  R"
    assert QApplication.focusWidget() is bench.pane._next
    bench.press(Qt.Key.Key_Space)
    assert bench.pane.reading.card.code == "P20"
    bench.press("4")
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)
    assert not bench.pane._next.isVisible()
    assert QApplication.focusWidget() is bench.pane.stand.button(bench.strip("P20").key)
    assert bench.pane._count.text() == ""


def _keep(bench, intensity):
    bench.press(intensity)
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)


def test_the_list_and_the_form_name_the_point_that_a_late_reading_counts_for(bench):
    card = _dip(bench)
    row = bench.pane.reading

    def told():
        return bench.pane.model.card(card.key).state_text(bench.clock()).replace(THIN, " ")

    def counts():
        return row._counts.text().replace(THIN, " ") if row._counts.isVisible() else ""

    bench.tick(minutes=2)
    bench.press("r")
    assert (told(), row._head.text().replace(THIN, " "), counts()) == ("due now", "P19 at 2 min", "")
    bench.tick(minutes=3)
    assert (told(), row._head.text().replace(THIN, " ")) == ("3 min late", "P19 at 2 min")
    assert counts() == "Counts for 2 min, 3 min late."
    bench.tick(minutes=1)
    assert (told(), row._head.text().replace(THIN, " ")) == ("15 min in 9 min, 2 min unread", "P19 at 15 min")
    assert counts() == (
        "6 min is nearest to 15 min: this counts for 15 min, 9 min early, and 15 min is not asked for again. 2 min stays unread."
    )
    assert counts().partition(":")[0] in row.accessibleDescription().replace(THIN, " ")
    assert bench.pane._count.text() == ""
    # written on paper in time, it is the one of 2 min
    row.read_at.setText("3 min ago")
    assert (row._head.text().replace(THIN, " "), counts()) == ("P19 at 2 min", "")
    row.read_at.clear()
    _keep(bench, "4")
    assert told() == "30 min in 24 min"
    assert [(p.due_s, p.state) for p in bench.pane.model.card(card.key).points[:2]] == [(120, "missed"), (900, "answered")]


def test_a_point_that_was_read_already_is_read_once_more_only_knowingly(bench):
    card = _dip(bench)
    bench.tick(minutes=58)
    bench.press("r")
    _keep(bench, "4")
    bench.tick(minutes=4)
    bench.press("r")
    row = bench.pane.reading
    assert row.card.key == card.key and row._counts.isVisible()
    said = row._counts.text().replace(THIN, " ")
    assert said.startswith("1 h was read already: ") and "58 min after the dip. This is read once more; the one" in said
    # a correction is none
    row.leave()
    bench.pane.log.grid.setFocus()
    bench.pane._on_correct_wanted(bench.book.readings((card.key,))[card.key][0])
    assert not row._counts.isVisible()


@pytest.mark.parametrize("key", ["r", ENTER])
def test_after_a_reading_r_and_enter_go_where_the_link_says(bench, key):
    first, second = _dip(bench), _dip(bench)
    bench.tick(minutes=2)
    bench.pane.read_strip(first.key)
    _keep(bench, "4")
    assert bench.pane._next.text().replace(THIN, " ") == f"Read {second.code} next: due now  R" and bench.pane._next.hasFocus()
    bench.tick(minutes=2)
    assert bench.pane._next.text().replace(THIN, " ") == f"Read {second.code} next: 2 min late  R"
    bench.press(key)
    assert bench.pane.reading.card.key == second.key and not bench.pane._next.isVisible()


def test_a_paper_that_is_picked_after_a_reading_is_the_one_r_reads(bench):
    first, second = _dip(bench), _dip(bench)
    bench.tick(minutes=2)
    bench.pane.read_strip(first.key)
    _keep(bench, "4")
    bench.pane.stand.button(first.key).picked.emit(first.key)
    assert not bench.pane._next.isVisible()
    bench.pane.stand.focus_chosen()
    bench.press("r")
    assert bench.pane.reading.card.key == first.key and bench.pane.reading._counts.text()
    bench.pane.reading.leave()
    bench.pane.read_strip(first.key)
    _keep(bench, "4")
    # what was offered is due no more: nothing is left to go to
    bench.book.put(Reading(second.key, bench.clock(), intensity=3))
    bench.tick(minutes=5)
    assert not bench.pane._next.isVisible()


def test_the_chart_says_that_what_it_held_is_hidden_while_a_strip_is_read(bench):
    card = _dip(bench)
    curves = bench.pane.curves
    for key in bench.pane._shown.ticked(bench.session.project_key):
        bench.pane.toggle_curve(key)
    bench.tick(minutes=2)
    bench.press("r")
    assert not curves.curves and curves.told_empty.startswith("Curves appear here")
    _keep(bench, "4")
    assert [c.key for c in curves.curves] == [card.key]
    bench.tick(minutes=13)
    bench.press("r")
    assert not curves.curves
    assert curves.told_empty == "Earlier figures of P19 stay hidden until this reading is kept."
    assert curves.told_empty in curves.accessibleDescription()
    bench.press(Qt.Key.Key_Escape)
    assert curves.curves and "hidden" not in curves.accessibleDescription()


def test_earlier_figures_are_hidden_until_the_reading_is_kept(bench):
    card = _dip(bench)
    bench.tick(minutes=2)
    bench.press("r", "5")
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)
    paper = next(p for p in bench.pane.stand.papers if p.key == card.key)
    assert paper.tint == 5 / 6
    bench.tick(minutes=13)
    bench.press("r")
    pane = bench.pane
    paper = next(p for p in pane.stand.papers if p.key == card.key)
    assert paper.tint is None and "last intensity" not in paper.name
    assert card.key not in [c.key for c in pane.curves.curves]
    assert pane.log.is_veiled and pane.log.figures_text == ""
    pane.one_time.choose(120.0)
    assert "P19" not in pane.one_time.answer.text()
    bench.tick(seconds=10)
    assert pane.log.is_veiled
    pane.log._unveil.click()
    assert not pane.earlier_figures_action.isChecked()
    assert not pane.log.is_veiled and card.key in [c.key for c in pane.curves.curves]
    bench.press(Qt.Key.Key_Escape, "r")
    assert pane.log.is_veiled  # shown for that one time only
    pane.earlier_figures_action.setChecked(True)
    assert not pane.log.is_veiled and card.key in [c.key for c in pane.curves.curves]
    pane.earlier_figures_action.setChecked(False)
    bench.press("4")
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)
    assert not pane.log.is_veiled
    assert [v for _, v in next(c for c in pane.curves.curves if c.key == card.key).series] == [5, 4]


def test_bad_values_are_told_beside_the_field_and_nothing_is_lost(bench):
    card = _dip(bench)
    bench.tick(minutes=2)
    tab = Qt.Key.Key_Tab
    row = bench.pane.reading
    bench.press("r", "9", ENTER)
    assert row.intensity.hasFocus() and row.intensity.selectedText() == "9" and row._intensity_field.is_wrong
    bench.press(tab, "20", ENTER, "7", ENTER)
    assert row.liking.hasFocus()
    bench.press(tab, "woody 5", ENTER, ENTER, "note", ENTER)
    assert row.isVisible() and bench.book.readings((card.key,))[card.key] == ()
    assert row._intensity_field.is_wrong and row._liking_field.is_wrong and not row._distance_field.is_wrong
    assert "half steps" in row._intensity_field.remark.text()
    assert "1, 2 or 3" in row._words_field.remark.text()
    assert QApplication.focusWidget() is row.intensity
    assert (row.distance.text(), row.note.text()) == ("20", "note")
    bench.press(Qt.Key.Key_Escape)
    bench.press("r")
    assert (row.intensity.text(), row.distance.text(), row.note.text()) == ("9", "20", "note")
    row.intensity.setText("4")
    row.liking.clear()
    row.words.set_text("woody 3")
    assert row.keep()
    assert bench.book.readings((card.key,))[card.key][0].distance_cm == 20


def test_what_was_said_of_the_words_goes_when_it_is_put_right(bench):
    _dip(bench)
    bench.tick(minutes=2)
    row = bench.pane.reading
    bench.press("r")
    row.words.line.setFocus()
    bench.press("2")
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)
    assert "has no word" in row._words_field.remark.text()
    row.words.line.setFocus()
    bench.press(Qt.Key.Key_Home, "jasmine-like ")
    assert not row._words_field.is_wrong
    row.words.set_text("woody 5, ")
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)
    assert "1, 2 or 3" in row._words_field.remark.text()
    row.words.set_text("woody 3, 2")
    assert "has no word" in row._words_field.remark.text()
    row.words.set_text("jasmine-like, zorgy, ")
    assert not row._words_field.is_wrong


def test_an_empty_reading_is_not_kept(bench):
    _dip(bench)
    bench.press("r")
    bench.press(ENTER, hold=Qt.KeyboardModifier.ControlModifier)
    assert "nothing to keep" in bench.pane.reading._sentence.text()


def test_a_reading_from_paper_says_when_it_was_read_and_when_typed(bench):
    card = _dip(bench)
    bench.tick(hours=3)
    bench.press("r", "4")
    row = bench.pane.reading
    row.read_at.setText("20 min ago")
    assert row._head.text().replace(THIN, " ") == "P19 at 2 h"
    assert row.keep()
    kept = bench.book.readings((card.key,))[card.key][0]
    assert kept.at == bench.clock() - timedelta(minutes=20)
    assert (kept.entered_at, kept.due_s) == (bench.clock(), 7200.0)
    bench.press("r", "3")
    row.read_at.setText("1 d")
    assert not row.keep()
    assert "was dipped only at" in row._read_at_field.remark.text()


def test_another_strip_chosen_meanwhile_takes_the_row_and_drafts_wait(bench):
    first = _dip(bench)
    second = _dip(bench)
    bench.tick(minutes=3)
    bench.press("r", "5")
    bench.pane.choose_strip(first.key)
    row = bench.pane.reading
    assert row.card.key == first.key and row.intensity.text() == ""
    bench.pane.choose_strip(second.key)
    assert row.intensity.text() == "5"


def test_the_letter_keys_work_from_the_log_too_and_are_typed_in_fields(bench):
    card = _dip(bench)
    bench.tick(minutes=2)
    bench.press("r", "5", ENTER, ENTER, ENTER, "dry", ENTER, ENTER, "dark red", ENTER)
    kept = bench.book.readings((card.key,))[card.key][0]
    assert kept.note == "dark red" and list(kept.words) == ["dry"]
    bench.pane.log.grid.setFocus()
    bench.press("r")
    assert bench.pane.reading.card.key == card.key
    bench.pane.reading.leave()
    bench.pane.log.grid.setFocus()
    bench.press("d")
    assert bench.pane.dip_sheet.isVisible()


def test_read_strip_opens_the_row_for_the_due_line(bench):
    card = _dip(bench)
    bench.pane.choose_strip(bench.strip("P15").key)
    bench.pane.read_strip(card.key)
    assert bench.pane.chosen.key == card.key and bench.pane.reading.isVisible()


# corrections, closing, times ------------------------------------------------------------------------------------------


def test_a_correction_leaves_the_old_row_to_be_seen(bench):
    pane = bench.pane
    pane.choose_strip(bench.strip("P06").key)
    old = bench.book.readings((pane.chosen.key,))[pane.chosen.key][5]
    pane.log.grid.setFocus()
    pane.log.grid.setCurrentIndex(pane.log.model.index(5, 0))
    bench.press(ENTER)
    row = pane.reading
    assert row.is_correcting and row.intensity.text() == "3" and row._keep.text() == "Keep correction"
    assert not pane.log.is_veiled
    row.intensity.setText("2.5")
    assert row.keep()
    readings = bench.book.readings((pane.chosen.key,))[pane.chosen.key]
    assert len(readings) == 8
    assert (readings[5].intensity, readings[5].at, readings[5].replaces) == (2.5, old.at, old.key)
    assert bench.book.get(Reading, old.key).intensity == 3
    pane.log.earlier_action.setChecked(True)
    kinds = [row.kind for row in pane.log.model.rows]
    assert kinds.count("earlier") == 1 and len(kinds) == 9
    assert dict(next(c for c in pane.curves.curves if c.short == "P06").series)[8.0] == 2.5


def test_an_unchanged_correction_is_none_and_a_withdrawal_takes_the_reading_out(bench):
    pane = bench.pane
    pane.choose_strip(bench.strip("P06").key)
    pane.log.grid.setFocus()
    pane.log.grid.setCurrentIndex(pane.log.model.index(0, 0))
    bench.press(Qt.Key.Key_F2)
    assert pane.reading.is_correcting
    assert not pane.reading.keep()
    assert "Nothing is different" in pane.reading._sentence.text()
    pane.reading._withdraw.click()
    assert len(bench.book.readings((pane.chosen.key,))[pane.chosen.key]) == 7
    assert next(row.kind for row in pane.log.model.rows) == "missed"


def test_a_corrected_time_answers_another_due_point(bench):
    pane = bench.pane
    pane.choose_strip(bench.strip("P06").key)
    pane._open_reading(pane.log.model.row(5).reading)
    pane.reading.read_at.setText("20 Mar 2025 08:00")
    pane.reading.words.set_text("woody, chalky")
    assert pane.reading.keep()
    moved = bench.book.readings((pane.chosen.key,))[pane.chosen.key][5]
    assert (moved.due_s, moved.words) == (86400.0, {"woody": 1, "chalky": 1})
    assert bench.book.get(Word, "chalky") is not None


def test_a_strip_is_closed_and_hung_up_again(bench):
    card = _dip(bench)
    pane = bench.pane
    pane.close_action.trigger()
    assert bench.strip("P19").closed_at == bench.clock()
    assert pane.close_action.text() == "Hang strip up again" and not pane.read_action.isEnabled()
    pane.close_action.trigger()
    assert bench.strip("P19").closed_at is None and pane.chosen.key == card.key
    assert pane.read_action.isEnabled()


def test_reading_times_hold_from_the_next_strip_on(bench):
    before = _dip(bench)
    pane, sheet = bench.pane, bench.pane.times_sheet
    pane.times_action.trigger()
    assert sheet.line.text().startswith("2 min, 15 min, 30 min")
    sheet.line.setText("2 min, 5")
    bench.press(ENTER)
    assert sheet.isVisible() and "has no unit" in sheet._field.remark.text()
    sheet._short.click()
    bench.press(ENTER)
    assert not sheet.isVisible()
    assert bench.book.get(Project, "SR").reading_times == SHORT_TIMES
    assert _dip(bench).strip.reading_times == SHORT_TIMES
    assert bench.book.get(Strip, before.key).reading_times == READING_TIMES
    pane.times_action.trigger()
    sheet._usual.click()
    bench.press(ENTER)
    assert bench.book.get(Project, "SR").reading_times == ()


# living with the session ----------------------------------------------------------------------------------------------


def test_due_late_and_missed_come_with_the_clock(bench):
    _dip(bench)

    def paper():
        found = bench.pane.stand.papers[0]
        return found.state, found.under.replace(THIN, " ")

    assert paper() == ("", "0 s")
    bench.tick(minutes=2)
    assert paper() == ("due", "2 min")
    bench.tick(minutes=2)
    assert paper() == ("late", "4 min")
    assert bench.pane._count.text() == "1 due"
    bench.tick(minutes=30)
    assert [row.kind for row in bench.pane.log.model.rows] == ["missed", "missed"]
    bench.tick(hours=2.2)
    assert paper()[1] == "2.8 h"


def test_a_hidden_pane_reads_only_when_it_is_shown_again(bench):
    bench.pane.hide()
    version = bench.book.get(Bottle, "V027-12").key
    bench.session.edit("strip", Strip(code="P50", bottle=version, dipped_at=bench.clock()))
    assert "P50" not in [p.code for p in bench.pane.stand.papers]
    bench.tick(minutes=2)
    bench.pane.show()
    assert "P50" in [p.code for p in bench.pane.stand.papers]


def test_actions_are_named_and_stand_once(bench):
    actions = bench.pane.actions()
    assert len({a.text() for a in actions}) == len(actions)
    keys = [k.toString() for a in actions for k in a.shortcuts()]
    assert len(set(keys)) == len(keys) and "Ctrl+R" in keys


def test_theme_and_text_size_change_without_a_stumble(bench, theme):
    for change in (lambda: theme.choose("dark"), lambda: theme.resize_text(1.5)):
        change()
        assert not bench.pane.grab().isNull()
    theme.resize_text(1.0)
    theme.choose("light")


def test_every_control_has_a_name(bench):
    pane, nameless = bench.pane, []
    for opened in (pane.dip, pane.read_action.trigger, pane.times_action.trigger):
        opened()
        for kind in (QAbstractButton, QLineEdit, QComboBox, QAbstractItemView):
            for widget in pane.findChildren(kind):
                # Qt's own small buttons inside a field or a table take no focus
                if widget.isVisible() and widget.focusPolicy() != Qt.FocusPolicy.NoFocus:
                    named = widget.accessibleName() or (isinstance(widget, QAbstractButton) and widget.text())
                    nameless += [] if named else [widget]
    assert nameless == []


def test_in_a_low_window_the_strips_beside_the_one_that_is_read_stay_in_sight(bench):
    pane = bench.pane
    pane.resize(396, 700)
    shown = pane.stand.shown
    pane.read_strip(shown[1])
    beside = pane.neighbours
    assert not pane.stand.isVisible() and beside.before.isVisible() and beside.after.isVisible()
    assert beside.place.text() == f"2 of {len(shown)}"
    assert pane.model.card(shown[0]).code in beside.before.text() and pane.model.card(shown[2]).code in beside.after.text()
    bench.press("3")
    bench.qtbot.mouseClick(beside.before, Qt.MouseButton.LeftButton)
    # the first of the row has none before it; what was typed waits with its own strip
    assert pane.reading.card.key == shown[0] and not beside.before.isVisible() and pane.reading.intensity.text() == ""
    bench.qtbot.mouseClick(beside.after, Qt.MouseButton.LeftButton)
    assert pane.reading.card.key == shown[1] and pane.reading.intensity.text() == "3"
    bench.press(Qt.Key.Key_Escape)
    assert pane.stand.isVisible() and not beside.isVisible()

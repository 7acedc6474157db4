# SPDX-License-Identifier: MIT
"""Cards, log and what can be dipped, checked against the demo studio's figures."""

import shutil
from collections import deque
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester

from db import NO_BOTTLE, Book, make_demo
from desktop.models.dippable import DippableModel, MarkRole, other_rows, project_rows
from desktop.models.log import COLUMNS, LogModel, log_rows
from desktop.models.strips import StripsModel, all_at, caption, figures_line, sitting_text
from perfumery import Bottle, Line, Project, Reading, Sitting, Strip, Version

THIN = "\u2009"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    path = tmp_path_factory.mktemp("demo") / "demo.stillroom"
    make_demo(path).close()
    return path


@pytest.fixture
def book(demo, tmp_path, clock):
    path = shutil.copyfile(demo, tmp_path / "demo.stillroom")
    with Book.open(path, clock) as opened:
        yield opened


@pytest.fixture
def project(book):
    return book.get(Project, "SR").key


@pytest.fixture
def model(book, project):
    made = StripsModel(book)
    made.load(project, book.now())
    return made


def _card(model, book, code):
    return model.card(book.get(Strip, code).key)


# cards ----------------------------------------------------------------------------------------------------------------


def others(book, known):
    rest = []
    deque(other_rows(book, known, rest), maxlen=0)
    return rest


def test_a_late_reading_stands_at_its_true_time(model, book):
    card = _card(model, book, "P03")
    assert [round(t, 2) for t, _ in card.series] == [0.03, 0.25, 1, 2.68, 4, 8, 24, 48]
    late = [row for row in log_rows(book, card, book.now()) if row.is_late]
    assert len(late) == 1 and late[0].late_s == 41 * 60


@pytest.mark.parametrize(
    "code, line",
    [
        ("P01", "peak 5 at 2 min · area 2 min–8 h 21.8 · below 2.5 after 4 h · last noticed > 2 d"),
        ("P03", "peak 5.5 at 2 min · area 2 min–8 h 23.0 · below 2.5 after 4 h · last noticed > 2 d"),
        ("P04", "peak 4.5 at 2 min · area 2 min–8 h 27.9 · below 2.5 after 1 d · last noticed > 2 d"),
        ("P06", "peak 5 at 2 min · area 2 min–8 h 28.0 · below 2.5 after 13.9 h · last noticed > 2 d"),
        (
            "P05",
            "peak 4.5 at 2 min · area 2 min–8 h not known · below 2.5 after 2.21 h (between 1 h and 1 d) · "
            "last noticed > 1 d",
        ),
        ("P09", "peak 4.5 at 2 min · area 2 min–8 h not known · not below 2.5 by 1 d · last noticed > 1 d"),
    ],
)
def test_figures_of_the_curves(model, book, code, line):
    assert figures_line(_card(model, book, code)).replace(THIN, " ") == line


def test_all_strips_at_one_time(model, book):
    cards = [_card(model, book, code) for code in ("P01", "P02", "P03", "P04")]
    assert all_at(cards, 8 * 3600).replace(THIN, " ") == "all at 8 h: SR-1 2, SR-2 2, SR-2B 2, SR-3 3"
    assert all_at([_card(model, book, "P05")], 8 * 3600).endswith("H-0 —")
    both = [_card(model, book, "P13"), _card(model, book, "P02")]
    assert all_at(both, 8 * 3600).endswith("P02 SR-2 2, P13 SR-2 2")


def test_caption_says_trial_strength_and_both_ages(model, book):
    said = caption(book, _card(model, book, "P06")).replace(THIN, " ")
    assert said == "SR-4 · T-027 · 12 % in ethanol · 8 d as concentrate, 17 h in alcohol when dipped"
    worn = caption(book, _card(model, book, "W01")).replace(THIN, " ")
    assert "on skin left forearm" in worn and worn.endswith("0.100 g")


def test_sitting_says_its_conditions(model, book):
    sitting = model.sitting(_card(model, book, "P15").strip)
    assert sitting_text(sitting, book.now()).replace(THIN, " ") == "sitting 27 Mar · 21 °C, 46 % RH · tired"
    assert sitting_text(None, book.now()) == ""


def test_latest_strip_of_each_version_is_drawn_first(model, book):
    codes = [model.card(key).code for key in model.latest_of_each()]
    assert codes == ["P15", "P13", "P12", "W01", "P09", "P07", "P03", "P01"]


def test_a_blind_strip_shows_its_code_only(book, project, clock):
    sitting = Sitting(at=clock(), blind=True, key=book.new_key())
    bottle = book.get(Bottle, "V027-12").key
    strip = Strip(code="P90", bottle=bottle, dipped_at=clock(), sitting=sitting.key, key=book.new_key())
    book.put(sitting, strip)
    (code,) = book.sittings.seal(sitting.key, shuffled=False)
    model = StripsModel(book)
    model.load(project, clock())
    card = model.card(strip.key)
    assert (card.label, card.version, card.source, card.strip.bottle) == (code, None, "", NO_BOTTLE)
    assert caption(book, card) == "blind until the sitting is revealed"
    clock.tick(hours=1)
    book.on_change(lambda change: model.apply(change, clock()))
    book.sittings.reveal(sitting.key)
    late = book.put(Reading(strip.key, clock.tick(minutes=1), intensity=3))[0]
    assert [row.after_reveal for row in log_rows(book, model.card(strip.key), clock())][-1]
    assert "after reveal" in COLUMNS[-1].text(log_rows(book, model.card(strip.key), clock())[-1]) and late.intensity == 3
    assert model.card(strip.key).label == "P90 SR-4"


def book_change(book, *values):
    seen = []
    book.on_change(seen.append)
    book.put(*values)
    return seen[-1]


def test_a_strip_runs_through_its_times(book, project, clock):
    model = StripsModel(book)
    strip = Strip(code="P90", bottle=book.get(Bottle, "V027-12").key, dipped_at=clock(), key=book.new_key(),
                  reading_times=(120.0, 900.0, 3600.0))  # fmt: skip
    book.put(strip)
    model.load(project, clock())

    def stands():
        model.tick(clock())
        card = model.card(strip.key)
        return card.state, card.state_text(clock()).replace(THIN, " ")

    assert stands() == ("", "2 min in 2 min")
    clock.tick(minutes=2)
    assert stands() == ("due", "due now")
    clock.tick(minutes=2)
    assert stands() == ("late", "2 min late")
    change = book_change(book, Reading(strip=strip.key, at=clock(), intensity=4))
    assert model.apply(change, clock()) == {strip.key}
    assert stands() == ("", "15 min in 11 min")
    clock.tick(hours=2)
    card = model.card(strip.key)
    assert stands() == ("late", "1 h 4 min late")
    assert [point.state for point in model.card(strip.key).points] == ["answered", "missed", "due"]
    assert model.next_to_read().key == strip.key
    assert model.next_to_read(after=strip.key) is None
    book.put(Reading(strip=strip.key, at=clock(), intensity=1))
    model.load(project, clock())
    clock.tick(days=3)
    assert stands() == ("done", "done")
    # a finished strip tells how old it was when it was read last
    assert round(model.card(strip.key).elapsed_h, 2) == round(2 + 4 / 60, 2)
    assert card.code == "P90"


def test_elapsed_time_does_not_jump_when_the_clock_is_set(book, project, clock):
    berlin = ZoneInfo("Europe/Berlin")
    dipped = datetime(2025, 3, 30, 1, 30, tzinfo=berlin)
    strip = Strip(code="P90", bottle=book.get(Bottle, "V027-12").key, dipped_at=dipped, key=book.new_key())
    clock.at = datetime(2025, 3, 30, 3, 30, tzinfo=berlin)  # an hour later: the clock went from 2 to 3
    book.put(strip, Reading(strip=strip.key, at=clock(), intensity=4))
    model = StripsModel(book)
    model.load(project, clock())
    card = model.card(strip.key)
    assert card.series == ((1.0, 4.0),)
    assert card.elapsed_h == 1.0
    assert [row.kind for row in log_rows(book, card, clock())][-1] == "reading"


def test_running_materials_hang_in_every_stand(book, project, clock):
    strip = Strip(code="P90", bottle=book.get(Bottle, "M01-1").key, dipped_at=clock(), key=book.new_key())
    book.put(strip)
    model = StripsModel(book)
    model.load(project, clock())
    assert model.card(strip.key).label == "P90 Lemon oil"
    assert model.cards[0].key == strip.key


# log ------------------------------------------------------------------------------------------------------------------


def test_log_is_a_sound_model_through_every_change(qapp, book, model):
    log = LogModel()
    QAbstractItemModelTester(log, QAbstractItemModelTester.FailureReportingMode.Fatal)
    card = _card(model, book, "P06")
    log.show_rows(log_rows(book, card, book.now()))
    assert log.rowCount() == 8
    texts = [log.index(5, at).data() for at in range(log.columnCount())]
    assert [t.strip() for t in texts[:5]] == ["8\u2009h", "19 Mar, 17:00", "3", "11", "+3"]
    log.show_rows(log_rows(book, replace(card, readings=card.readings[:3]), book.now()))
    log.show_rows([])
    log.show_rows(log_rows(book, card, book.now()))
    spoken = log.index(5, 2).data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "int.: 3"


def test_missed_times_stand_in_the_log(book, project, clock):
    strip = Strip(code="P90", bottle=book.get(Bottle, "V027-12").key, dipped_at=clock(), key=book.new_key(),
                  reading_times=(120.0, 900.0, 3600.0))  # fmt: skip
    book.put(strip)
    book.put(Reading(strip=strip.key, at=clock.tick(minutes=16), intensity=4, words={"peel": 2}))
    model = StripsModel(book)
    model.load(project, clock())
    rows = log_rows(book, model.card(strip.key), clock())
    assert [row.kind for row in rows] == ["missed", "reading"]
    log = LogModel()
    log.show_rows(rows)
    words = log.place_of("words")
    assert [log.cell(place, words) for place in range(2)] == ["— missed", "peel"]
    assert log.tone(rows[0], log.columns[words]) == "amber"


def test_a_correction_leaves_the_old_row(book, project, clock):
    strip = book.get(Strip, "P06")
    old = book.readings((strip.key,))[strip.key][5]
    new = book.correct(old.key, intensity=2.5)
    model = StripsModel(book)
    model.load(project, clock())
    card = model.card(strip.key)
    rows = log_rows(book, card, clock())
    assert len(rows) == 8
    corrected = next(row for row in rows if row.corrected)
    assert (corrected.reading.key, corrected.reading.intensity, corrected.reading.at) == (new.key, 2.5, old.at)
    with_earlier = log_rows(book, card, clock(), earlier=True)
    assert [(row.kind, row.reading.intensity) for row in with_earlier if row.elapsed_h == 8] == [
        ("reading", 2.5), ("earlier", 3.0),
    ]  # fmt: skip


# what can be dipped ---------------------------------------------------------------------------------------------------


def test_the_chosen_version_comes_first_smelling_dilutions_before_vials(book):
    project = book.get(Project, "SR")
    rows = project_rows(book, project, book.get(Version, "SR-4").key)
    assert [row.text for row in rows[:2]] == ["SR-4 · V027-12", "SR-4 · V027"]
    assert rows[0].caption.replace(THIN, " ") == "smelling dilution · 12 % in ethanol · B-22"
    assert rows[-1].text.startswith("H-0") and "contents not known" in rows[-1].caption
    assert rows[-1].strength is None


def test_raw_materials_come_behind_and_none_twice(book):
    own = project_rows(book, book.get(Project, "SR"), None)
    rest = others(book, own)
    assert any(row.text == "Lemon oil · M01-1" for row in rest)
    assert any("10" in row.caption and row.text.startswith("Ambroxide · K19") for row in rest)
    assert {row.bottle for row in own}.isdisjoint({row.bottle for row in rest})


def test_a_version_without_a_vial_offers_a_trial_and_a_vial_alone_its_dilution(book):
    project = book.get(Project, "SR")
    version = book.get(Version, "SR-5")
    rows = project_rows(book, project, version.key)
    assert (rows[0].make, rows[0].version) == ("trial", version.key)
    _, vial = book.start_trial(version.key, 5.0)
    rows = project_rows(book, project, version.key)
    assert (rows[0].make, rows[0].bottle) == ("dilution", vial.key)
    book.smelling_dilution(vial.key, 0.12, project.carrier)
    assert project_rows(book, project, version.key)[0].make == ""
    assert project_rows(book, None, None) == []


def test_marks_keep_their_order_while_something_else_is_sought(qapp, book):
    model = DippableModel()
    QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    rows = project_rows(book, book.get(Project, "SR"), None)
    model.show_rows(rows)
    model.toggle(2)
    model.toggle(0)
    model.seek("h-0")
    assert model.rowCount() == 1
    model.toggle(0)
    assert [row.text for row in model.marked] == [rows[2].text, rows[0].text, rows[-1].text]
    assert model.index(0).data(MarkRole) == 3
    assert model.index(0).data(Qt.ItemDataRole.AccessibleTextRole).startswith("marked 3, H-0")
    model.toggle(0)
    model.unmark(rows[2])
    assert [row.text for row in model.marked] == [rows[0].text]
    model.add_rows(others(book, rows))
    model.seek("")
    assert model.rowCount() > len(rows)


def test_an_accord_of_another_project_can_be_dipped(book, clock):
    other = Project(code="ZZ", key=book.new_key())
    accord = Version(project=other.key, code="ZZ-1", lines=(Line(parts=1.0, material=1),), key=book.new_key())
    book.put(other, accord)
    book.put(Bottle(code="Z1", kind="accord", version=accord.key))
    rows = project_rows(book, book.get(Project, "SR"), accord.key)
    assert rows[0].text == "ZZ-1 · Z1"

# SPDX-License-Identifier: MIT
"""The word list edited in place, and months of readings and notes looked through by word, all by keyboard."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop.long_work import LongWork
from desktop.pages.smell.words_view import EMPTY, NOTHING, WordsView
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Material, Note, Project, Reading, Strip, Word


@dataclass
class Words:
    book: Book
    session: Session
    view: WordsView
    said: list[str] = field(default_factory=list)
    asked: list[object] = field(default_factory=list)

    def edit(self, word: str, column: str, text: str) -> bool:
        model = self.view.words
        place = next(at for at, row in enumerate(model.rows) if row.word.text == word)
        return model.setData(model.index(place, model.place_of(column)), text)

    def row(self, word: str) -> dict[str, str]:
        model = self.view.words
        place = next(at for at, row in enumerate(model.rows) if row.word.text == word)
        return {column.key: model.cell(place, at) for at, column in enumerate(model.columns)}

    def choose(self, box: str, text: str) -> None:
        combo = getattr(self.view, box)
        combo.setCurrentIndex(combo.findText(text))


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("words") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Words:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    project = next(book.all(Project), None)
    session.choose_project(None if project is None else project.key)
    view = WordsView(session)
    for model in (view.words, view.hits):
        QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal, view)
    view.resize(1216, 700)
    view.show()
    qtbot.waitExposed(view)
    view.activateWindow()
    qtbot.waitUntil(view.isActiveWindow)
    made = Words(book, session, view)
    session.said.connect(lambda text, tone: made.said.append(text))
    view.asked.connect(made.asked.append)
    return made


@pytest.fixture
def words(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Words]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T10:00:00+02:00")
    with Book.open(path, clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        yield made
        shiboken6.delete(made.view)


def test_a_synonym_is_looked_for_as_its_word(words: Words) -> None:
    view = words.view
    view.take_focus()
    assert view.sought.hasFocus()
    QTest.keyClicks(view.sought, "wet slate")
    assert view.told.text() == "44 readings on 12 paper strips and 1 on skin. Counted with wet stone and wet rock."
    assert len(view.hits.rows) == 45
    assert [one.short if isinstance(one, Material) else one.code for one in view._also] == ["Geosmin", "A-WS"]
    first = {column.key: view.hits.cell(0, at) for at, column in enumerate(view.hits.columns)}
    assert (first["strip"], first["of"], first["said"]) == ("P15", "SR-4", "wet stone, salty")
    view.also_in.linkActivated.emit("0")
    assert isinstance(words.asked[-1], Material)


def test_enter_goes_to_the_hits_and_opens_one(words: Words) -> None:
    view = words.view
    view.take_focus()
    QTest.keyClicks(view.sought, "cucumber")
    assert view.told.text() == "2 readings on 2 paper strips and 1 note."
    QTest.keyClick(view.sought, Qt.Key.Key_Return)
    assert view.grid.hasFocus()
    view.grid.go_to(view.hits.index(0, 0))
    QTest.keyClick(view.grid, Qt.Key.Key_Return)
    assert isinstance(words.asked[-1], Strip) and words.asked[-1].code == "P11"
    place = next(at for at, hit in enumerate(view.hits.rows) if isinstance(hit.value, Note))
    view.grid.go_to(view.hits.index(place, 0))
    QTest.keyClick(view.grid, Qt.Key.Key_Return)
    assert isinstance(words.asked[-1], Note)


def test_choices_narrow_what_is_found(words: Words) -> None:
    view = words.view
    view.sought.setText("wet stone")
    words.choose("kind", "skin")
    assert view.told.text() == "1 on skin. Counted with wet slate and wet rock."
    words.choose("kind", "paper and skin")
    words.choose("of", "SR-1")
    assert view.told.text() == NOTHING
    words.choose("of", "SR-4")
    assert {hit.strip.code for hit in view.hits.rows if hit.strip is not None} == {"P06", "P14", "P15", "W01"}
    words.choose("of", "raw materials")
    view.sought.setText("peel")
    assert view.hits.rows and all(hit.strip is not None and hit.strip.code == "P17" for hit in view.hits.rows)
    words.choose("of", "everything")
    words.choose("since", "30 days")
    view.sought.setText("cucumber")
    assert "note" not in view.told.text(), "the note is older"


def test_in_the_program_words_are_counted_between_its_turns(words: Words, qtbot) -> None:
    words.session.work = LongWork()
    words.view.refresh()
    assert {words.row(line.word.text)["times"] for line in words.view.words.rows} == {""}
    qtbot.waitUntil(lambda: words.row("wet stone")["times"] == "45")
    qtbot.waitUntil(lambda: words.session.work.is_idle)
    assert "" not in {words.row(line.word.text)["times"] for line in words.view.words.rows}


def test_a_word_chosen_at_the_left_is_looked_for(words: Words) -> None:
    view = words.view
    view.own.setFocus()
    QTest.keyClicks(view.own, "wet sl")
    assert [row.word.text for row in view.words.rows] == ["wet stone"]
    QTest.keyClick(view.own, Qt.Key.Key_Return)
    assert view.list.hasFocus()
    assert view.sought.text() == "wet stone"
    assert words.row("wet stone")["times"] == "45"
    assert words.row("wet stone")["also"] == "wet rock, wet slate"
    view.own.setFocus()
    view.own.selectAll()
    QTest.keyClicks(view.own, "stone")
    assert view.own_field.remark.text() == "Ctrl+Enter adds “stone” to your words."
    QTest.keyClick(view.own, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert words.book.get(Word, "stone") is not None


def test_enter_adds_a_word_that_is_not_known(words: Words) -> None:
    view = words.view
    view.own.setFocus()
    QTest.keyClicks(view.own, "flinty")
    assert view.own_field.remark.text() == "Enter adds “flinty” to your words."
    QTest.keyClick(view.own, Qt.Key.Key_Return)
    assert words.book.get(Word, "flinty") is not None
    assert not view.own_field.remark.text()
    assert words.book.undo() == "word flinty"


def test_words_are_edited_where_they_stand(words: Words) -> None:
    assert words.edit("soil", "text", "damp soil")
    assert words.row("damp soil")["also"] == "earthy, soil"
    assert words.edit("damp soil", "group", "ground")
    assert {one.group for one in words.book.all(Word) if one.text in ("damp soil", "soil", "earthy")} == {"ground"}
    assert words.edit("damp soil", "also", "soil, moss, loam")
    moss, loam, earthy = (words.book.get(Word, text) for text in ("moss", "loam", "earthy"))
    main = words.book.get(Word, "damp soil")
    assert main is not None and moss is not None and loam is not None and earthy is not None
    assert (moss.same_as, loam.same_as, earthy.same_as) == (main.key, main.key, None)
    mossy = words.book.get(Word, "mossy")
    assert mossy is not None and mossy.same_as == main.key, "a word joined brings what meant it"
    assert words.edit("damp soil", "also", "soil, moss, mossy, loam") is True
    before = words.book.can_undo
    assert words.edit("damp soil", "text", "damp soil") and words.book.can_undo == before, "nothing typed, nothing written"
    for _ in range(3):
        words.session.undo()
    assert words.row("soil")["also"] == "earthy"


@pytest.mark.parametrize(("column", "text"), [("text", ""), ("text", "pine")])
def test_what_cannot_be_a_word_is_said(words: Words, column: str, text: str) -> None:
    assert not words.edit("soil", column, text)
    assert words.said
    assert words.row("soil")


def test_a_reading_written_elsewhere_shows_at_once(words: Words) -> None:
    view = words.view
    view.sought.setText("flinty")
    assert view.told.text() == NOTHING
    strip = words.book.get(Strip, "P15")
    assert strip is not None and strip.key is not None
    words.book.put(Reading(strip.key, words.book.now(), intensity=1.0, note="flinty still"))
    assert view.told.text() == "1 reading on 1 paper strip."


def test_sealed_strips_are_of_nothing(words: Words) -> None:
    vial = next(words.book.all(Strip)).bottle
    sitting = words.book.sittings.begin(blind=True)
    (strip,) = words.book.put(Strip("P90", vial, words.book.now(), sitting=sitting.key))
    words.book.sittings.seal(sitting.key, shuffled=False)
    words.book.put(Reading(strip.key, words.book.now(), intensity=1.0, note="flinty"))
    view = words.view
    view.sought.setText("flinty")
    code = words.book.get(Strip, strip.key)
    assert code is not None
    cells = [view.hits.cell(0, at) for at in range(len(view.hits.columns))]
    assert cells[1] == code.blind_code and cells[2] == "under seal"
    words.choose("of", "SR-1")
    assert view.told.text() == NOTHING


def test_an_empty_book_says_where_words_come_from(tmp_path: Path, theme: Theme, clock, qtbot) -> None:
    with Book.create(tmp_path / "b.stillroom", "Empty", clock=clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        assert made.view.told.text() == EMPTY
        shiboken6.delete(made.view)

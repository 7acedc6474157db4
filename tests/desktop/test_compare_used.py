# SPDX-License-Identifier: MIT
"""Where used on the demo studio: doses, strip notes, what happened when it was moved, and a newer accord taken."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop import led
from desktop.long_work import LongWork
from desktop.models.use_steps import WAITING
from desktop.pages.bench.formula import FormulaPane
from desktop.pages.compare import used_view
from desktop.pages.compare.page import ComparePage
from desktop.pages.compare.used_view import EMPTY, READING, UNUSED, UsedView
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Line, Material, Project, Version


@dataclass
class Desk:
    book: Book
    session: Session
    page: ComparePage
    asked: list[object] = field(default_factory=list)

    @property
    def view(self) -> UsedView:
        return self.page.view("where used")

    def rows(self, model) -> list[list[str]]:
        return [
            [model.cell(place, at).replace("\u2009", " ").strip(" \u2007\u2008") for at in range(len(model.columns))]
            for place in range(model.rowCount())
        ]


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("used") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


@pytest.fixture
def desk(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Desk]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        session = Session(book, theme, Settings(tmp_path / "settings.ini"))
        session.choose_project(next(book.all(Project)).key)
        page = ComparePage(session)
        made = Desk(book, session, page)
        page.asked.connect(made.asked.append)
        page.resize(1216, 740)
        page.show()
        qtbot.waitExposed(page)
        page.activateWindow()
        qtbot.waitUntil(page.isActiveWindow)
        view = page.show_view("where used")
        for model in (view.things, view.uses, view.steps):
            QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal, page)
        yield made
        shiboken6.delete(page)


def test_a_trace_is_found_with_its_doses_and_what_was_said_of_it(desk: Desk) -> None:
    view = desk.view
    assert view.title.text() == EMPTY and not view.use_grid.isVisible()
    assert view.find.hasFocus()
    QTest.keyClicks(view.find, "nonadi")
    QTest.keyClick(view.find, Qt.Key.Key_Return)
    assert view.use_grid.hasFocus() and view.told.text() == "Held by 6 versions."
    assert desk.rows(view.uses)[0][:4] == ["SR-5", "SR Slate Rain", "0.005", "draft"]
    said = view.mentions.text().replace("\u2009", " ")
    assert "P02 at 2 h" in said and "P11 at 2 h" in said and said.count("\n") == 2
    QTest.keyClick(view.use_grid, Qt.Key.Key_Return)
    assert isinstance(desk.asked[-1], Version) and desk.asked[-1].code == "SR-5"


def test_what_happened_when_an_accord_was_moved(desk: Desk) -> None:
    view = desk.view
    view.go_to(desk.book.get(Version, "A-WS"))
    assert view.title.text() == "A-WS Wet slate accord" and view.uses.rowCount() == 7
    (row,) = [row for row in desk.rows(view.steps) if row[0] == "SR-1 → SR-2"]
    assert row[1:3] == ["90.00", "140.0"]
    assert row[3].startswith("wet stone 0 → 3 at 15 min, ")
    assert row[3].count("wet stone") == 1, "each word once"
    place = next(at for at, one in enumerate(view.steps.rows) if one.step.child.code == "SR-2")
    view.step_grid.setFocus()
    view.step_grid.go_to(view.steps.index(place, 0))
    assert "slate accord up" in view.step_told.text() and "55.00 parts of 1000 in all" in view.step_told.text()
    assert not view.take.isEnabled(), "there is no newer one"
    QTest.keyClick(view.step_grid, Qt.Key.Key_Return)
    assert desk.page.picker.words == ("SR-1", "SR-2")
    assert desk.page.stack.currentWidget() is desk.page.views["side by side"]


def test_a_material_names_what_moved_beside_it(desk: Desk) -> None:
    view = desk.view
    material = next(one for one in desk.book.all(Material) if one.short == "Ethylene brassylate")
    view.go_to(material)
    row = next(row for row in desk.rows(view.steps) if row[0] == "SR-2 → SR-3")
    assert "Ethylene brassylate" not in row[4] and row[4]
    assert row[3].startswith("intensity +1 at"), "beyond own noise"


def test_a_newer_accord_is_taken_into_a_child_or_a_draft(desk: Desk) -> None:
    view, book = desk.view, desk.book
    accord = book.get(Version, "A-WS")
    newer = book.put(replace(book.draft_of(accord.key), code="A-WS2", reason="less soil"))[0]
    view.go_to(accord)
    assert {use.newer.code for use in view.uses.rows} == {"A-WS2"} and view.uses.rows[0].note == "A-WS; A-WS2 is newer"

    def choose(code: str) -> None:
        place = next(at for at, row in enumerate(view.uses.rows) if row.use.head.code == code)
        view.use_grid.go_to(view.uses.index(place, 0))

    choose("SR-4")
    assert view.take.text() == "Take A-WS2 into a child of SR-4" and view.take_action.isEnabled()
    view.take.click()
    child = desk.asked[-1]
    assert isinstance(child, Version) and child.parent == book.get(Version, "SR-4").key and child.reason == "with A-WS2"
    assert [line.accord for line in child.lines if line.accord] == [newer.key]
    assert book.get(Version, "SR-4").lines != child.lines, "the frozen one stays"
    choose("SR-5")
    assert view.take.text() == "Take A-WS2 into SR-5"
    view.take.click()
    assert [line.accord for line in book.get(Version, "SR-5").lines if line.accord] == [newer.key]
    desk.session.undo()
    assert [line.accord for line in book.get(Version, "SR-5").lines if line.accord] == [accord.key]


def test_the_bench_says_who_holds_an_accord_and_that_a_newer_one_stands(desk: Desk, qtbot) -> None:
    pane = FormulaPane(desk.session)
    pane.show()
    qtbot.waitExposed(pane)
    accord = desk.book.get(Version, "A-WS")
    desk.session.choose_version(accord.key)
    assert pane.head.state.text().endswith("accord in SR-5 (draft), SR-4 and 5 others")
    desk.book.put(replace(desk.book.draft_of(accord.key), code="A-WS2", reason="less soil"))
    desk.session.choose_version(desk.book.get(Version, "SR-4").key)
    assert "A-WS2 is a newer version of the accord A-WS." in pane.foot.notices.text()
    shiboken6.delete(pane)


def test_what_no_version_holds_says_so(desk: Desk) -> None:
    (fresh,) = desk.book.put(Material("Brand new oil"))
    desk.view.go_to(fresh)
    assert desk.view.told.text() == UNUSED and desk.view.uses.rowCount() == 0
    assert "never changed" in desk.view.step_told.text()


def test_the_list_follows_the_line_above_it(desk: Desk) -> None:
    view = desk.view
    QTest.keyClicks(view.find, "slate")
    assert "A-WS Wet slate accord" in [thing.name for thing in view.things.rows]
    view.list.setFocus()
    view.list.go_to(view.things.index(view.things.rowCount() - 1, 0))
    QApplication.processEvents()
    assert view.thing == view.things.rows[-1] and view.title.text() == view.thing.name


# in pieces ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def slow(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> LongWork:
    """A window in which nothing is done at once."""
    work = LongWork()
    monkeypatch.setattr(desk.session, "work", work)
    monkeypatch.setattr(led, "AT_ONCE_S", -1.0)
    return work


def material(desk: Desk, short: str) -> Material:
    return next(one for one in desk.book.all(Material) if one.short == short)


def all_shown(view: UsedView) -> tuple[object, ...]:
    return view.title.text(), view.told.text(), view.mentions.text(), view.step_told.text(), view.uses.rows, view.steps.rows


def test_what_is_read_in_pieces_is_what_is_read_at_once(desk: Desk, slow: LongWork, monkeypatch, qtbot) -> None:
    view = desk.view
    view.go_to(material(desk, "Ethylene brassylate"))
    assert view.told.text().endswith(READING) and view.step_told.text() == READING and view.mentions.text() == ""
    seen = []
    view.steps.dataChanged.connect(lambda index, _: seen.append([row.others for row in view.steps.rows].count(WAITING)))
    qtbot.waitUntil(lambda: slow.is_idle)
    assert seen and seen == sorted(seen, reverse=True) and seen[-1] == 0, "one after the other"
    slowly = all_shown(view)
    monkeypatch.setattr(desk.session, "work", None)
    view.refresh()
    assert all_shown(view) == slowly and slowly[1].startswith("Held by ") and slowly[1].count(".") == 1


def test_what_is_chosen_meanwhile_takes_its_place(desk: Desk, slow: LongWork, qtbot) -> None:
    view = desk.view
    view.go_to(material(desk, "Ethylene brassylate"))
    view.go_to(material(desk, "2,6-Nonadienal"))
    assert view.uses.rowCount() == 0, "nothing of another one is left"
    qtbot.waitUntil(lambda: slow.is_idle)
    assert view.title.text() == "2,6-Nonadienal" and view.told.text() == "Held by 6 versions."
    assert view.uses.rowCount() == 6 and all(row.moved is not None for row in view.steps.rows)


def test_what_is_out_of_sight_is_not_read_to_its_end_after_a_change(desk: Desk, slow: LongWork, qtbot) -> None:
    view = desk.view
    view.go_to(material(desk, "Ethylene brassylate"))
    desk.page.hide()
    desk.book.put(Material("Brand new oil"))
    qtbot.waitUntil(lambda: slow.is_idle)
    assert view.told.text().endswith(READING)
    desk.page.show()
    qtbot.waitUntil(lambda: slow.is_idle and view.told.text().startswith("Held by "))
    assert not view.told.text().endswith(READING)


def test_steps_out_of_sight_are_worked_out_when_they_come_in_sight(desk: Desk, monkeypatch) -> None:
    view, book = desk.view, desk.book
    monkeypatch.setattr(used_view, "STEPS_AHEAD", 2)
    monkeypatch.setattr(used_view, "MANY", 1)
    fresh, other = book.put(Material("Brand new oil"), Material("Other oil"))
    keys = [book.new_key() for _ in range(40)]
    book.put(*(
        Version(desk.session.project_key, f"X-{n}", (Line(n + 1.0, fresh.key), Line(5.0, other.key)), key=key, reason="more",
                parent=keys[n - 1] if n else None)
        for n, key in enumerate(keys)
    ))  # fmt: skip
    view.go_to(fresh)
    QApplication.processEvents()
    is_there = [row.moved is not None for row in view.steps.rows]
    assert len(is_there) == 39 and is_there[0] and not any(is_there[20:])
    view.step_grid.go_to(view.steps.index(38, 0))
    view.step_grid.scrollToBottom()
    assert view.steps.rows[38].moved is not None and view.steps.rows[38].step.parent.code == "X-0"
    assert "Other oil" in view.step_told.text() and view.steps.rows[20].moved is None
    view.step_grid.go_to(view.steps.index(20, 0))
    assert view.steps.rows[20].moved is not None

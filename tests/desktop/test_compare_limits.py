# SPDX-License-Identifier: MIT
"""Limits on the demo studio: how versions stand, what would keep to them, limits and compositions typed in place."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import Book, make_demo
from desktop.models.constituents import COMPOSITION_COLUMNS
from desktop.pages.bench.formula import FormulaPane
from desktop.pages.compare.limits_view import CAUTION, EMPTY, LimitsView
from desktop.pages.compare.page import ComparePage
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import Constituent, Limit, Line, Material, Project, Version


@dataclass
class Desk:
    book: Book
    session: Session
    page: ComparePage
    said: list[str] = field(default_factory=list)

    @property
    def view(self) -> LimitsView:
        return self.page.view("limits")

    def row(self, name: str) -> list[str]:
        model = self.view.model
        place = next(at for at, row in enumerate(model.rows) if row.name == name)
        return [model.cell(place, at).replace("\u2009", " ").strip("\u2007\u2008") for at in range(len(model.columns))]

    def choose(self, name: str) -> str:
        view = self.view
        place = next(at for at, row in enumerate(view.model.rows) if row.name == name)
        view.grid.go_to(view.model.index(place, 0))
        return view.told.text().replace("\u2009", " ")

    def key(self, code: str) -> int:
        return self.book.get(Version, code).key


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("limits") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture(scope="module")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


def shown(book: Book, theme: Theme, folder: Path, qtbot) -> Desk:
    session = Session(book, theme, Settings(folder / "settings.ini"))
    session.choose_project(next(book.all(Project)).key)
    page = ComparePage(session)
    made = Desk(book, session, page)
    session.said.connect(lambda text, tone: made.said.append(text))
    page.resize(1216, 740)
    page.show()
    qtbot.waitExposed(page)
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    page.show_view("limits")
    QApplication.processEvents()
    return made


@pytest.fixture
def desk(studio_bytes: bytes, theme: Theme, tmp_path: Path, clock, qtbot) -> Iterator[Desk]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    with Book.open(path, clock) as book:
        made = shown(book, theme, tmp_path, qtbot)
        yield made
        shiboken6.delete(made.page)


def test_how_the_versions_stand(desk: Desk) -> None:
    assert desk.row("Vetiver oil in all") == ["Vetiver oil in all", "0.2500", "0.2544 % over", "0.2400 % close"]
    assert desk.row("Linalool in all") == ["Linalool in all", "0.8000", "≥ 0.6750 %", "≥ 0.6750 %"]
    view = desk.view
    place = next(at for at, row in enumerate(view.model.rows) if row.name == "Vetiver oil in all")
    tones = [view.model.tone(view.model.row(place), column) for column in view.model.columns]
    assert tones == ["ink", "ink", "brick", "amber"], "and both are said in a word"
    assert CAUTION in [one.text() for one in view.findChildren(type(view.empty))]


def test_what_would_keep_to_it(desk: Desk) -> None:
    said = desk.choose("Vetiver oil in all")
    assert "From Vetiver oil 0.2544 %." in said and "Most at 12 %: 20.833 ‰ of the concentrate." in said
    assert "Highest strength of this formula: 11.792 %." in said
    assert "Wet slate accord 133.8 parts instead of 140 and Vetiver oil 9.62 parts instead of 10" in said
    said = desk.choose("Linalool in all")
    assert "Not known whether in: Pine needle oil, Juniper berry oil" in said and "So it is at least this much." in said


def test_another_strength_is_worked_out_at_once(desk: Desk) -> None:
    view = desk.view
    view.strength.setFocus()
    view.strength.selectAll()
    QTest.keyClicks(view.strength, "6")
    assert desk.row("Vetiver oil in all")[2] == "0.1272 %"
    before = view.grid.mapTo(view, view.grid.rect().topLeft()).y(), view.new.y()
    QTest.keyClicks(view.strength, "00")
    QApplication.processEvents()
    assert (view.grid.mapTo(view, view.grid.rect().topLeft()).y(), view.new.y()) == before
    assert view.strength_field.is_wrong and "600" in view.strength_field.remark.text()


def test_a_category_has_its_own_limits_and_is_kept(desk: Desk) -> None:
    view = desk.view
    view.category.setEditText("bath oil")
    view.category.lineEdit().editingFinished.emit()
    assert next(desk.book.all(Project)).category == "bath oil"
    assert view.empty.isVisible() and view.empty.text() == EMPTY and not view.grid.isVisible()
    desk.book.put(Limit("Linalool", 0.01), Limit("Limonene", 0.2, "bath oil", cas="5989-27-5"))
    assert [row.name for row in view.model.rows] == ["Linalool", "Limonene"], "one for every product"
    desk.session.undo()
    desk.session.undo()
    assert len(view.model.rows) == 3


def test_a_limit_is_typed_by_keyboard(desk: Desk) -> None:
    view = desk.view
    view.take_focus()
    QTest.keyClick(view.grid, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    form = view.form
    assert form.name.hasFocus() and form.category.text() == "eau de toilette"
    QTest.keyClicks(form.name, "Lemon oil")
    QTest.keyClick(form.name, Qt.Key.Key_Tab)
    assert form.cas.text() == "8008-56-8", "of the material of that name"
    for edit, text in ((form.share, "2"), (form.budget, "phototoxic"), (form.source, "a standard"), (form.dated, "2024-06-30")):
        edit.setFocus()
        QTest.keyClicks(edit, text)
    QTest.keyClick(form.dated, Qt.Key.Key_Return)
    limit = desk.book.get(Limit, "Lemon oil")
    assert limit is not None
    assert (limit.share_max, limit.budget, limit.dated_on) == (0.02, "phototoxic", date(2024, 6, 30))
    assert limit.material == next(m.key for m in desk.book.all(Material) if m.short == "Lemon oil")
    assert desk.row("Lemon oil")[3] == "0.9000 %" and view.title.text() == "Lemon oil", "the new one is chosen"
    assert desk.row("budget phototoxic")[1:] == ["1", "0.51", "0.45"]
    assert "Lemon oil 0.450 = 0.45 of 1." in desk.choose("budget phototoxic")
    assert desk.book.undo() == "limit on Lemon oil"


def test_what_cannot_be_a_limit_is_said_beside_its_field(desk: Desk) -> None:
    view = desk.view
    desk.choose("Camphor in all")
    view.change()
    form = view.form
    for edit, text, field_ in (
        (form.cas, "76-22-3", form.cas_field), (form.share, "120", form.share_field), (form.name, " ", form.name_field),
    ):  # fmt: skip
        before = edit.text()
        edit.setText(text)
        form.confirm()
        assert field_.is_wrong, text
        edit.setText(before)
        field_.say("")
    form.share.setText("")
    form.confirm()
    assert form.share_field.is_wrong
    form.share.setText("0.04")
    form.confirm()
    assert desk.book.get(Limit, "Camphor in all").share_max == 0.0004
    assert desk.row("Camphor in all")[2].endswith("over")


def test_a_limit_on_what_nothing_is_called_is_kept_at_the_second_enter(desk: Desk) -> None:
    view = desk.view
    form = view.form
    for name, cas, told in (
        ("linal", "", "of this book is called linal. Alike: Linal"), ("Vetivr oil", "", "Alike: Vetiver oil"),
        ("Nonesuch", "127-51-5", "is called Nonesuch or has the CAS number 127-51-5. Enter"),
        ("Linalool", "127-51-5", "Linalool has the CAS number 78-70-6 in this book, and nothing has 127-51-5."),
    ):  # fmt: skip
        view.add()
        for edit, text in ((form.name, name), (form.cas, cas), (form.share, "0.5")):
            edit.setText(text)
        QTest.keyClick(form.share, Qt.Key.Key_Return)
        said = form.name_field.remark
        assert told in said.text() and said.isVisible() and desk.book.get(Limit, name) is None, name
        assert form.name_field.remark.property("role") == "amber" and form.name.hasFocus()
    assert desk.book.get(Limit, "Linalool") is None
    QTest.keyClick(form.name, Qt.Key.Key_Return)
    assert desk.book.get(Limit, "Linalool").cas == "127-51-5" and not form.isVisible()
    view.go_to(desk.book.get(Limit, "Linalool").key)
    view.change()
    form.share.setText("0.6")
    form.confirm()
    assert desk.book.get(Limit, "Linalool").share_max == 0.006, "what was kept once is not asked for again"


def test_a_limit_on_a_constituent_or_another_name_is_kept_at_once(desk: Desk) -> None:
    part = next(desk.book.all(Constituent))
    desk.view.add()
    form = desk.view.form
    form.name.setText(part.name.upper())
    form.share.setText("0.5")
    form.confirm()
    assert desk.book.get(Limit, part.name.upper()) is not None


def test_a_limit_is_taken_out_and_brought_back(desk: Desk) -> None:
    view = desk.view
    desk.choose("Camphor in all")
    QTest.keyClick(view.grid, Qt.Key.Key_Delete)
    assert "Camphor in all" not in [row.name for row in view.model.rows]
    desk.session.undo()
    assert "Camphor in all" in [row.name for row in view.model.rows]


def test_a_composition_is_typed_row_by_row(desk: Desk) -> None:
    view = desk.view
    names = [row.name for row in view.naturals.rows]
    assert names[:5] == ["Black pepper oil", "Juniper berry oil", "Labdanum absolute", "Pine needle oil", "Seaweed absolute"]
    view.natural_grid.setFocus()
    view.natural_grid.go_to(view.naturals.index(names.index("Pine needle oil"), 0))
    QTest.keyClick(view.natural_grid, Qt.Key.Key_Return)
    sheet = view.composition
    assert sheet.isVisible() and sheet.title.text() == "What Pine needle oil holds"

    def type_in(place: int, key: str, text: str) -> bool:
        at = next(at for at, column in enumerate(COMPOSITION_COLUMNS) if column.key == key)
        return sheet.model.setData(sheet.model.index(place, at), text)

    assert type_in(0, "name", "camphor")
    assert type_in(0, "cas", "76-22-2") and type_in(0, "high", "3 %") and type_in(0, "source", "certificate of the lot")
    assert not type_in(0, "low", "5"), "more at least than at most"
    assert sheet.wrong.isVisible() and "camphor" in sheet.wrong.text()
    assert not type_in(0, "applies", "perhaps") and not type_in(0, "typical", "some")
    camphor = next(one for one in desk.book.all(Constituent) if one.source == "certificate of the lot")
    assert (camphor.high, camphor.applies) == (0.03, True)
    assert desk.row("Camphor in all")[3] == "≥ 0.06120 %", "45 parts at 3 % more, at 12 %"
    assert "Pine needle oil" not in [row.name for row in view.naturals.rows if row.is_unknown]
    assert type_in(0, "applies", "no")
    assert desk.row("Camphor in all")[3] == "≥ 0.04500 %" and "Pine needle oil" in desk.choose("Camphor in all")
    view.compose()
    sheet.grid.go_to(sheet.model.index(0, 0))
    sheet.start(camphor.whole)
    sheet.grid.go_to(sheet.model.index(0, 0))
    QTest.keyClick(sheet.grid, Qt.Key.Key_Delete)
    assert sheet.model.rowCount() == 1
    sheet.back.click()
    assert view.card.isVisible()


def test_the_formula_says_what_is_over_while_it_is_written(desk: Desk, qtbot) -> None:
    pane = FormulaPane(desk.session)
    pane.show()
    qtbot.waitExposed(pane)
    desk.session.choose_version(desk.key("SR-3"))
    over = "Vetiver oil in all: 0.2544\u2009% of the product is over the 0.2500\u2009% you typed."
    assert pane.foot.notices.text().startswith(over)
    desk.session.choose_version(desk.key("SR-4"))
    assert "is close to the 0.2500" in pane.foot.notices.text()
    limit = desk.book.get(Limit, "Vetiver oil in all")
    desk.book.put(replace(limit, share_max=0.5))
    assert "Vetiver" not in pane.foot.notices.text()
    shiboken6.delete(pane)


def test_models_hold_what_qt_asks_of_them(desk: Desk) -> None:
    desk.view.compose()
    for model in (desk.view.model, desk.view.naturals, desk.view.composition.model):
        QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal, desk.page)


def test_a_book_without_limits_says_what_to_do(tmp_path: Path, theme: Theme, clock, qtbot) -> None:
    with Book.create(tmp_path / "b.stillroom", "One", clock=clock) as book:
        (lemon,) = book.put(Material("Lemon oil", form="essential oil"))
        (project,) = book.put(Project("ONE"))
        book.put(Version(project.key, "ONE-1", (Line(1.0, lemon.key),)))
        made = shown(book, theme, tmp_path, qtbot)
        assert made.view.empty.text() == EMPTY and made.view.strength.text() == "10"
        made.view.add()
        assert made.view.form.isVisible()
        shiboken6.delete(made.page)

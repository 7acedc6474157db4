# SPDX-License-Identifier: MIT
"""The table view: columns kept by key, copying, cut texts, and repainting only what changed."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import pytest
import shiboken6
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QGuiApplication, QHelpEvent
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QApplication, QMenu, QToolTip

from db import Book
from desktop.columns import Column
from desktop.models.lines import LinesModel
from desktop.models.table import TableModel
from desktop.session import Session
from desktop.settings import Settings
from desktop.theme import Theme
from desktop.widgets.grid import Grid
from perfumery import Line, Material, Project, Version

CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


@dataclass(frozen=True)
class Thing:
    name: str
    mass: float


COLUMNS = (
    Column("fold", "", lambda t: "", 24),
    Column("name", "thing", lambda t: t.name, 120),
    Column("mass", "mass", lambda t: f"{t.mass:.3f}", 80, right=True, unit="g", plain=lambda t: t.mass),
    Column("note", "note", lambda t: "-", 60, hidden=True),
)


class Things(TableModel[Thing]):
    def identity(self, row: Thing) -> str:
        return row.name


@dataclass
class Table:
    grid: Grid
    model: Things
    settings: Settings


def _table(qapp: QApplication, settings: Settings, theme: Theme, columns: Any = COLUMNS) -> Table:
    grid = Grid(theme, settings, "things", "name")
    model = Things(columns, grid)
    QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal, grid)
    model.show_rows([Thing("a", 1.0), Thing("b", 2.5), Thing("c", 0.125)])
    grid.show_model(model)
    grid.resize(400, 300)
    return Table(grid, model, settings)


@pytest.fixture
def theme(qapp: QApplication) -> Iterator[Theme]:
    theme = Theme(qapp, "light")
    yield theme
    shiboken6.delete(theme)


@pytest.fixture
def settings(tmp_path: Any) -> Settings:
    return Settings(tmp_path / "settings.ini")


@pytest.fixture
def table(qtbot: Any, qapp: QApplication, settings: Settings, theme: Theme) -> Iterator[Table]:
    table = _table(qapp, settings, theme)
    qtbot.addWidget(table.grid)
    table.grid.show()
    qtbot.waitExposed(table.grid)
    yield table
    table.grid.hide()
    shiboken6.delete(table.grid)


def _width(table: Table, key: str) -> int:
    return table.grid.horizontalHeader().sectionSize(table.model.place_of(key))


def test_widths_are_kept_by_key_though_a_column_is_put_in_before(
    table: Table, qtbot: Any, qapp: QApplication, theme: Theme
) -> None:
    table.grid.horizontalHeader().resizeSection(table.model.place_of("mass"), 111)
    assert table.settings.widths("things") == {"mass": 111}
    columns = (Column("new", "new", lambda t: "", 50), *COLUMNS)
    later = _table(qapp, table.settings, theme, columns)
    qtbot.addWidget(later.grid)
    assert _width(later, "mass") == 111 and _width(later, "new") == 50


def test_the_elastic_column_takes_what_is_left(table: Table) -> None:
    viewport = table.grid.viewport().width()
    assert _width(table, "name") == viewport - 24 - 80
    table.grid.resize(600, 300)
    assert _width(table, "name") == table.grid.viewport().width() - 24 - 80
    assert table.settings.widths("things") == {}


def test_columns_are_chosen_ordered_and_reset(table: Table, qtbot: Any, qapp: QApplication, theme: Theme) -> None:
    grid = table.grid
    assert grid.shown_columns() == ("fold", "name", "mass")
    menu = grid.column_menu()
    note = next(action for action in menu.actions() if action.text().startswith("note"))
    assert not note.isChecked()
    note.trigger()
    assert grid.shown_columns() == ("fold", "name", "mass", "note")
    head = grid.horizontalHeader()
    head.moveSection(head.visualIndex(table.model.place_of("note")), 1)
    later = _table(qapp, table.settings, theme)
    qtbot.addWidget(later.grid)
    assert later.grid.shown_columns() == ("fold", "note", "name", "mass")
    later.grid.reset_columns()
    assert later.grid.shown_columns() == ("fold", "name", "mass")
    menu.deleteLater()


def test_a_mode_may_show_fewer_columns_without_forgetting_the_choice(table: Table) -> None:
    table.grid.choose_columns(("name", "note", "mass"))
    table.grid.show_only(("mass", "name"))
    assert table.grid.shown_columns() == ("mass", "name")
    table.grid.show_only(None)
    assert table.grid.shown_columns() == ("name", "note", "mass")


def test_rows_are_copied_with_and_without_heads(table: Table, qtbot: Any) -> None:
    table.grid.setFocus()
    table.grid.selectRow(0)
    qtbot.keyClick(table.grid, Qt.Key.Key_Down, SHIFT)
    qtbot.keyClick(table.grid, Qt.Key.Key_C, CTRL)
    clipboard = QGuiApplication.clipboard()
    assert clipboard.text() == "thing\tmass g\na\t1.0\nb\t2.5\n"
    qtbot.keyClick(table.grid, Qt.Key.Key_C, CTRL | SHIFT)
    assert clipboard.text() == "a\t1.0\nb\t2.5\n"


def test_rows_are_put_in_taken_out_and_repainted_each_by_itself(table: Table) -> None:
    said: list[tuple[str, int, int]] = []
    model = table.model
    model.rowsInserted.connect(lambda _, first, last: said.append(("in", first, last)))
    model.rowsRemoved.connect(lambda _, first, last: said.append(("out", first, last)))
    model.dataChanged.connect(lambda top, bottom: said.append(("changed", top.row(), bottom.row())))
    model.modelReset.connect(lambda: said.append(("reset", 0, 0)))
    model.show_rows([Thing("a", 1.0), Thing("x", 1.0), Thing("b", 2.5), Thing("c", 0.125)])
    model.show_rows([Thing("a", 1.0), Thing("b", 2.5), Thing("c", 0.5)])
    model.show_rows([Thing("a", 1.0), Thing("b", 2.5), Thing("c", 0.5)])
    model.show_rows([Thing("a", 2.0), Thing("b", 2.5), Thing("c", 0.6)])
    assert said == [("in", 1, 1), ("out", 1, 1), ("changed", 2, 2), ("changed", 0, 0), ("changed", 2, 2)]
    model.show_rows([])
    assert said[-1] == ("out", 0, 2) and model.rowCount() == 0


def test_the_whole_of_a_cut_text_stands_in_the_tip(table: Table, monkeypatch: pytest.MonkeyPatch) -> None:
    long = "dihydromyrcenol and much else besides, more than fits into one cell of this table by far"
    table.model.show_rows([Thing(long, 1.0)])
    index = table.model.index(0, table.model.place_of("name"))
    assert table.grid.tip_of(index) == long
    table.model.show_rows([Thing("a", 1.0)])
    assert table.grid.tip_of(table.model.index(0, 1)) == ""
    table.model.show_rows([Thing(long, 1.0)])
    told: list[str] = []
    # the offscreen screen has no tool tips of its own
    monkeypatch.setattr(QToolTip, "showText", lambda point, text, widget: told.append(text))
    point = table.grid.visualRect(index).center()
    event = QHelpEvent(QEvent.Type.ToolTip, point, table.grid.viewport().mapToGlobal(point))
    QApplication.sendEvent(table.grid.viewport(), event)
    assert told == [long]


def test_rows_have_one_height_that_follows_the_window_and_the_text(table: Table, theme: Theme) -> None:
    low = table.grid.rowHeight(0)
    table.grid.resize(400, 950)
    assert table.grid.rowHeight(0) > low
    theme.resize_text(1.5)
    assert table.grid.rowHeight(0) > 28
    theme.resize_text(1.0)


def test_the_columns_are_chosen_at_the_head_or_by_a_command(table: Table, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[list[str]] = []
    monkeypatch.setattr(QMenu, "popup", lambda menu, point: opened.append([a.text() for a in menu.actions()]))
    table.grid.horizontalHeader().customContextMenuRequested.emit(QPoint(5, 5))
    table.grid.choose_columns_action.trigger()
    assert opened[0] == opened[1] == ["thing", "mass g", "note", "", "Columns as they were at first"]


# 300 lines ------------------------------------------------------------------------------------------------------------


def test_of_300_lines_only_those_that_changed_are_repainted(
    qtbot: Any, qapp: QApplication, tmp_path: Any, theme: Theme, settings: Settings, clock: Any
) -> None:
    with Book.create(tmp_path / "large.book", "large", clock=clock) as book:
        keys = [book.new_key() for _ in range(301)]
        project = book.new_key()
        lines = [Line(parts=1, material=key) for key in keys[:300]]
        lines[299] = replace(lines[299], fill_up=True)
        _, *_, version = book.put(
            *(Material(key=key, name=f"Material {at:03}") for at, key in enumerate(keys)),
            Project(key=project, code="L"),
            Version(project=project, code="L-1", lines=tuple(lines)),
        )
        session = Session(book, theme, settings)
        model = LinesModel(session)
        session.changed.connect(lambda change: model.refresh())
        session.choose_version(version.key)
        model.refresh()
        grid = Grid(theme, settings, "lines", "material")
        qtbot.addWidget(grid)
        grid.show_model(model)
        grid.resize(600, 700)
        grid.show()
        qtbot.waitExposed(grid)
        changed: list[int] = []
        model.dataChanged.connect(lambda top, bottom: changed.extend(range(top.row(), bottom.row() + 1)))
        model.setData(model.index(7, model.place_of("parts")), "2")
        assert sorted(set(changed)) == [7, 299]
        assert model.cell(299, model.place_of("parts")) == "700"
        grid.hide()
        shiboken6.delete(grid)
        shiboken6.delete(model)
        shiboken6.delete(session)


def test_arranging_is_no_choice_even_when_a_scroll_bar_comes_between(
    qapp: QApplication, settings: Settings, theme: Theme
) -> None:
    table = _table(qapp, settings, theme)
    table.grid.horizontalHeader().sectionResized.connect(lambda *_: table.grid._stretch())
    table.grid.show_only(("mass", "name"))
    table.grid.show_only(None)
    assert table.grid.shown_columns() == ("fold", "name", "mass")
    assert not settings.columns("things") and not settings.widths("things")

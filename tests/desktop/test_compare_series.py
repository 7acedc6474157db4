# SPDX-License-Identifier: MIT
"""Ladders and dose series on the demo studio: planned, made as versions, kept on paper, and dipped in one sitting."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtPrintSupport import QPrintDialog
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from db import make_demo
from desktop.app import App
from desktop.faults import Faults
from desktop.models.series import codes_after
from desktop.pages.compare.series_view import EMPTY, SeriesView
from desktop.paper import html_of
from desktop.settings import Settings
from perfumery import Version


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("series") / "demo.stillroom"
    make_demo(path).close()
    return path.read_bytes()


@pytest.fixture
def app(studio_bytes: bytes, tmp_path: Path, clock, qapp: QApplication, qtbot) -> Iterator[App]:
    path = tmp_path / "demo.stillroom"
    path.write_bytes(studio_bytes)
    clock.at = datetime.fromisoformat("2025-04-10T16:00:00+02:00")
    app = App(qapp, Settings(tmp_path / "settings.ini"), Faults(tmp_path), clock=clock)
    app.window.resize(1280, 800)
    app.window.show()
    qtbot.waitExposed(app.window)
    app.window.activateWindow()
    qtbot.waitUntil(app.window.isActiveWindow)
    app.open_book(path)
    app.session.choose_version(app.book.get(Version, "SR-4").key)
    yield app
    app.leave()


@pytest.fixture
def view(app: App) -> SeriesView:
    page = app.window.show_page("compare")
    return page.show_view("series")


def names(view: SeriesView) -> list[str]:
    return [row.name for row in view.model.rows]


def choose(view: SeriesView, box: str, text: str) -> None:
    combo = getattr(view, box)
    combo.setCurrentIndex(combo.findText(text, Qt.MatchFlag.MatchStartsWith))


def typed(view: SeriesView, **texts: str) -> None:
    for name, text in texts.items():
        edit = getattr(view, name)
        edit.setFocus()
        edit.selectAll()
        QTest.keyClicks(edit, text)


def test_doses_begin_round_the_dose_that_stands(view: SeriesView) -> None:
    assert view.line.hasFocus()
    choose(view, "line", "Ambroxide")
    assert (view.first.text(), view.last.text()) == ("10", "40")
    assert names(view) == ["10 parts", "14.1 parts", "20 parts", "28.3 parts", "40 parts"]
    assert view.told.text() == "Children of SR-4; the other lines stay."
    row = view.model.rows[0]
    assert row.weights.replace("\u2009", " ") == "Ambroxide 10 % in ethanol 0.010 g"
    assert row.label.replace("\u2009", " ") == "SR-4 10 parts Ambroxide 10 % in ethanol"
    view.made_grid.setFocus()
    QApplication.processEvents()
    room = view.line.width() - 32  # its padding and its arrow
    assert view.line.fontMetrics().horizontalAdvance(view.line.currentText()) <= room, "the end tells it from another stock"


def test_a_ladder_of_nine_steps_takes_four_and_a_half_of_each(view: SeriesView) -> None:
    view.kind.buttons["ladder"].click()
    choose(view, "line", "Lemon oil")
    choose(view, "other", "Cedarwood oil")
    typed(view, number="9", amount="1")
    assert names(view) == ["9:1", "8:2", "7:3", "6:4", "5:5", "4:6", "3:7", "2:8", "1:9"]
    assert [(row.name, round(row.need_g, 6), row.state) for row in view.needs.rows] == [
        ("Lemon oil", 4.5, ""), ("Cedarwood oil, Virginia", 4.5, ""),
    ]  # fmt: skip
    offered = [view.line.itemText(at).replace("\u2009", " ") for at in range(view.line.count())]
    assert "2,6-Nonadienal 1 % in TEC" in offered, "whatever stands on the shelf"


def test_what_is_short_stands_first(view: SeriesView) -> None:
    choose(view, "line", "Ambroxide")
    typed(view, amount="50")
    first = view.needs.rows[0]
    assert first.name == "Wet slate accord" and first.state.replace("\u2009", " ").startswith("short by 23.8")


@pytest.mark.parametrize(
    ("texts", "field"), [({"number": "1"}, ""), ({"number": "x"}, "number_field"), ({"amount": "0"}, "amount_field"),
                         ({"first": "9", "last": "9"}, ""), ({"first": "a"}, "first_field"), ({"number": "2.5"}, "")],
)  # fmt: skip
def test_what_cannot_be_is_said_and_not_made(view: SeriesView, texts: dict[str, str], field: str) -> None:
    choose(view, "line", "Ambroxide")
    typed(view, **texts)
    assert not view.steps and not view.make_button.isEnabled()
    assert getattr(view, field).is_wrong if field else view.wrong.isVisible()
    view.make()
    assert view.made.rowCount() == 0


def test_both_ends_of_a_ladder_differ(view: SeriesView) -> None:
    view.kind.buttons["ladder"].click()
    assert view.steps, "two that differ to begin with"
    view.other.setCurrentIndex(view.line.currentIndex())
    assert "same" in view.wrong.text()


def test_a_series_is_made_as_versions_in_one_step(app: App, view: SeriesView) -> None:
    choose(view, "line", "Ambroxide")
    QTest.keyClick(view.line, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    (series,) = view.made.rows
    assert series.codes == ("SR-6", "SR-7", "SR-8", "SR-9", "SR-10")
    assert series.state == "5 steps, none weighed" and not view.dip_button.isEnabled()
    made = [app.book.get(Version, code) for code in series.codes]
    assert all(one.parent == app.book.get(Version, "SR-4").key for one in made)
    assert [one.lines[view.line.currentData()].parts for one in made] == [10.0, 14.1, 20.0, 28.3, 40.0]
    assert made[0].reason.replace("\u2009", " ") == "10 parts · Ambroxide 10 % in ethanol, series 1"
    view.compare_button.click()
    assert app.window.show_page("compare").picker.words == series.codes
    app.session.undo()
    app.window.show_page("compare").show_view("series")
    assert view.made.rowCount() == 0 and app.book.get(Version, "SR-6") is None


def test_a_ladder_is_made_of_versions_of_their_own(app: App, view: SeriesView) -> None:
    view.kind.buttons["ladder"].click()
    choose(view, "line", "Lemon oil")
    choose(view, "other", "Bergamot oil")
    typed(view, number="3")
    view.make()
    first = app.book.get(Version, "SR-6")
    assert first.parent is None and [line.parts for line in first.lines] == [3.0, 1.0]
    assert first.reason == "3:1 · Lemon oil : Bergamot oil, treated, series 1"
    view.make()
    assert [one.number for one in view.made.rows] == [2, 1]


def test_the_strips_of_a_series_are_dipped_in_one_sitting(app: App, view: SeriesView, qtbot) -> None:
    choose(view, "line", "Ambroxide")
    typed(view, number="3")
    view.make()
    series = view.made.rows[0]
    for key in series.versions:
        app.book.start_trial(key, 1.0)
    series = view.made.rows[0]
    assert series.state == "3 steps, all weighed" and view.dip_button.isEnabled()
    view.dip_button.click()
    smell = app.window.show_page("smell")
    sheet = smell.views["sittings"].dip_sheet
    assert sheet.isVisible()
    assert tuple(row.bottle for row in sheet.model.marked) == tuple(series.vials[key] for key in series.versions)


def test_weights_and_labels_are_kept_on_paper(app: App, view: SeriesView, tmp_path: Path, monkeypatch) -> None:
    choose(view, "line", "Ambroxide")
    told = html_of(view.document).replace("\u2009", " ")
    label = "SR-4 14.1 parts Ambroxide 10 % in ethanol"
    for text in ("Series of Ambroxide 10 % in ethanol", "5 steps of 1.000 g each", label, "K19"):
        assert text in told, text
    path = tmp_path / "series.pdf"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    view.save_action.trigger()
    assert path.read_bytes()[:5] == b"%PDF-"
    printed = tmp_path / "printed.pdf"

    def answer(dialog: QPrintDialog) -> int:
        dialog.printer().setOutputFileName(str(printed))
        return QPrintDialog.DialogCode.Accepted

    monkeypatch.setattr(QPrintDialog, "exec", answer)
    view.print_button.click()
    assert printed.read_bytes()[:5] == b"%PDF-"
    view.number.setText("")
    QTest.keyClicks(view.number, "x")
    assert not view.print_action.isEnabled() and not view.print_button.isEnabled()


def test_a_wrong_figure_moves_nothing(view: SeriesView) -> None:
    before = view.grid.mapTo(view, view.grid.rect().topLeft()).y()
    view.number.setText("")
    QTest.keyClicks(view.number, "x")
    QApplication.processEvents()
    assert "not a number" in view.number_field.remark.text() and view.number_field.remark.isVisible()
    assert view.grid.mapTo(view, view.grid.rect().topLeft()).y() == before


def test_codes_go_on_from_the_first() -> None:
    assert codes_after("SR-6", 3) == ["SR-6", "SR-7", "SR-8"]
    assert codes_after("T-009", 2) == ["T-009", "T-010"]


def test_models_hold_what_qt_asks_of_them(view: SeriesView) -> None:
    choose(view, "line", "Ambroxide")
    view.make()
    for model in (view.model, view.needs, view.made):
        QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal, view)


def test_without_a_version_it_says_what_to_do(app: App, view: SeriesView) -> None:
    app.session.choose_version(None)
    assert view.told.text() == EMPTY and not view.make_button.isEnabled()

# SPDX-License-Identifier: MIT
"""Could I make it again today, on the demo studio: the headline, line by line, the proof, and on to the balance."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication

from db import make_demo
from desktop.app import App
from desktop.faults import Faults
from desktop.pages.compare.again_view import EMPTY, AgainView
from desktop.settings import Settings
from perfumery import Bottle, Version


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("again") / "demo.stillroom"
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
    yield app
    app.leave()


def asked_of(app: App, code: str) -> AgainView:
    page = app.window.show_page("compare")
    page.again(app.book.get(Version, code).key)
    return page.views["again today"]


def plain(text: str) -> str:
    return text.replace("\u2009", " ")


def test_what_differs_is_said_first(app: App) -> None:
    view = asked_of(app, "SR-3")
    assert view.title.text() == "SR-3: could I make it again today?" and view.amount.text() == "5"
    said = plain(view.headline.text())
    assert said.startswith("19 of 20 lines as in T-024.") and "strong: weigh 0.119 g for 0.125 g" in said
    assert view.model.rows[0].name == "Ambroxide" and not view.model.rows[0].is_identical
    assert all(row.is_identical for row in view.model.rows[1:])
    assert plain(view.model.cell(0, view.model.place_of("weigh"))) == "0.119 for 0.125"
    assert view.model.cell(1, view.model.place_of("said")) == "as before"
    assert "At most 52.571 g of it on hand" in plain(view.figures.text())
    assert "V024" in view.proof.text() and "triangle" in view.proof.text()
    QAbstractItemModelTester(view.model, QAbstractItemModelTester.FailureReportingMode.Fatal, view)


def test_another_amount_is_worked_out_at_once(app: App) -> None:
    view = asked_of(app, "SR-4")
    view.amount.setFocus()
    view.amount.selectAll()
    QTest.keyClicks(view.amount, "76.775")
    assert view.model.rowCount() == 28, "the accord is opened: its bottle holds too little"
    view.amount.selectAll()
    QTest.keyClicks(view.amount, "x")
    assert view.amount_field.is_wrong


def test_a_version_that_was_never_weighed_says_so(app: App) -> None:
    view = asked_of(app, "SR-5")
    assert view.headline.text().startswith("SR-5 was never weighed, so there is nothing to compare with.")
    assert "No vial of it is kept" in view.proof.text()


def test_a_line_leads_to_its_bottle_and_the_button_to_the_balance(app: App) -> None:
    view = asked_of(app, "SR-3")
    seen = list[object]()
    view.asked.connect(seen.append)
    view.take_focus()
    view.grid.go_to(view.model.index(0, 0))
    QTest.keyClick(view.grid, Qt.Key.Key_Return)
    assert isinstance(seen[0], Bottle) and seen[0].code == "K19"
    view = asked_of(app, "SR-3")
    view.weigh.click()
    assert app.session.version.code == "SR-3"
    assert app.window.pages.currentWidget() is app.window.page("weigh")


def test_side_by_side_asks_it_of_its_last_version(app: App) -> None:
    page = app.window.show_page("compare")
    page.compare([app.book.get(Version, code).key for code in ("SR-2", "SR-3")])
    page.views["side by side"].again.click()
    assert page.views["again today"].title.text().startswith("SR-3")


def test_without_a_version_it_says_what_to_do(app: App) -> None:
    view = app.window.show_page("compare").show_view("again today")
    app.session.choose_version(None)
    assert view.title.text() == EMPTY and not view.weigh.isVisible()


def test_one_key_asks_it_of_the_chosen_version_from_any_page(app: App) -> None:
    for page, code in (("bench", "SR-3"), ("shelf", "SR-4"), ("smell", "SR-2")):
        app.session.choose_version(app.book.get(Version, code).key)
        app.window.show_page(page)
        QTest.keyClick(app.window, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
        view = app.window.page("compare").views["again today"]
        assert view.isVisible() and view.title.text() == f"{code}: could I make it again today?"

# SPDX-License-Identifier: MIT
"""The tree of versions on the demo studio: who came from whom and why, walked by keys, and the decision written from it."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from db import make_demo
from desktop.app import App
from desktop.faults import Faults
from desktop.pages.compare.decide import NO_REASON
from desktop.pages.compare.tree_view import EMPTY, TreeView
from desktop.settings import Settings
from perfumery import Decision, Version


@pytest.fixture(scope="module")
def studio_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("tree") / "demo.stillroom"
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


def tree_of(app: App) -> TreeView:
    view = app.window.show_page("compare").show_view("tree")
    QApplication.processEvents()
    view.tree.setFocus()
    return view


def key_of(app: App, code: str) -> int:
    version = app.book.get(Version, code)
    assert version is not None and version.key is not None
    return version.key


def code_of(view: TreeView) -> str:
    assert view.node is not None
    return view.node.head.code


def press(view: TreeView, *keys: Qt.Key) -> None:
    for key in keys:
        QTest.keyClick(view.tree, key)


def test_who_came_from_whom(app: App) -> None:
    view = tree_of(app)
    codes = {node.key: node.head.code for node in view.family.nodes}
    parents = {codes[child]: codes[parent] for child, parent in view.family.parents.items()}
    assert parents == {"SR-2": "SR-1", "SR-2B": "SR-2", "SR-3": "SR-2", "SR-3B": "SR-3", "SR-4": "SR-3", "SR-5": "SR-4"}
    states = {node.head.code: node.state for node in view.family.nodes}
    assert states["SR-4"] == "chosen" and states["SR-3B"] == "rejected" and states["SR-5"] == "draft"
    assert [node.row for node in view.family.nodes] == list(range(len(view.family.nodes)))
    view.go_to(key_of(app, "SR-4"))
    told = view.told.text()
    assert "from SR-3 · takes from SR-2B" in told and "Chosen 24 Mar 2025: keeps the SR-3 base" in told
    assert "1 trial" in told and "4 strips" in told and "starred" in view.tree.accessibleDescription()
    image = view.tree.grab().toImage()
    tones = {image.pixelColor(x, y).name() for x in range(0, 400, 2) for y in range(0, image.height(), 2)}
    assert len(tones) > 5, "the tree is drawn"


def test_arrows_walk_it_and_space_ticks(app: App) -> None:
    view = tree_of(app)
    view.go_to(key_of(app, "SR-1"))
    walked = []
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Down, Qt.Key.Key_Right, Qt.Key.Key_Left, Qt.Key.Key_Up):
        press(view, key)
        walked.append(code_of(view))
    assert walked == ["SR-2", "SR-2B", "SR-3", "SR-4", "SR-3", "SR-2B"]
    page = app.window.page("compare")
    press(view, Qt.Key.Key_Space, Qt.Key.Key_Down, Qt.Key.Key_Space, Qt.Key.Key_C)
    assert page.compared.keys == (key_of(app, "SR-2B"), key_of(app, "SR-3")) and page.views["side by side"].isVisible()


def test_one_alone_stands_beside_its_parent_and_a_root_says_what_to_do(app: App) -> None:
    view = tree_of(app)
    heard = []
    app.session.said.connect(lambda text, _: heard.append(text))
    view.go_to(key_of(app, "SR-1"))
    press(view, Qt.Key.Key_C)
    assert heard[-1].startswith("Tick two versions with Space first")
    view.go_to(key_of(app, "SR-4"))
    press(view, Qt.Key.Key_C)
    assert app.window.page("compare").compared.keys == (key_of(app, "SR-3"), key_of(app, "SR-4"))


def test_enter_opens_b_branches_s_stars_del_retires(app: App) -> None:
    view = tree_of(app)
    view.go_to(key_of(app, "SR-3"))
    press(view, Qt.Key.Key_Return)
    assert app.session.version_key == key_of(app, "SR-3")
    view = tree_of(app)
    press(view, Qt.Key.Key_S)
    assert app.book.get(Version, "SR-3").starred and "★" not in view.title.text()
    press(view, Qt.Key.Key_B)
    child = app.book.get(Version, app.session.version_key)
    assert child.parent == key_of(app, "SR-3") and child.frozen_at is None
    view = tree_of(app)
    view.go_to(child.key)
    press(view, Qt.Key.Key_Delete)
    assert app.book.get(Version, child.key).retired_on is not None and view.family.node(child.key) is None
    view.retired.setChecked(True)
    assert view.family.node(child.key).state == "retired"
    view.go_to(child.key)
    press(view, Qt.Key.Key_Delete)
    assert app.book.get(Version, child.key).retired_on is None


def test_a_decision_is_kept_with_reason_rejected_cost_and_strips(app: App) -> None:
    view = tree_of(app)
    view.go_to(key_of(app, "SR-3"))
    press(view, Qt.Key.Key_D)
    sheet = view.decide_sheet
    assert sheet.isVisible() and sheet.title.text() == "Decide: SR-3 chosen"
    assert key_of(app, "A-WS") not in sheet.rejected, "the accord was never in question"
    before = len(list(app.book.all(Decision)))
    QTest.keyClick(sheet.reason, Qt.Key.Key_Return)
    assert len(list(app.book.all(Decision))) == before and sheet.reason_field.remark.text() == NO_REASON
    sheet.reason.setText("the base  holds")
    sheet.rejected[key_of(app, "SR-2B")].editor.setText("too bitter")
    QTest.keyClick(sheet.reason, Qt.Key.Key_Return)
    one = app.book.get(Decision, "DE-3")
    assert one.chosen == (key_of(app, "SR-3"),) and one.reason == "the base holds"
    assert dict(one.rejected) == {key_of(app, "SR-2B"): "too bitter"}
    assert one.made_on == app.clock().date() and one.costs[key_of(app, "SR-3")] > 0 and len(one.evidence) == 3
    assert view.card.isVisible() and view.node.state == "chosen"
    assert "Rejected 10 Apr 2025: too bitter." in (view.go_to(key_of(app, "SR-2B")) or view.told.text())
    view.correct()
    assert sheet.title.text() == "Correct: SR-3 chosen" and sheet.reason.text() == "the base holds"
    sheet.reason.setText("the base holds at 8 h")
    assert sheet.keep()
    assert view.family.decisions[0].reason == "the base holds at 8 h" and len(list(app.book.all(Decision))) == before + 1


def test_an_empty_book_says_what_will_stand_there(app: App, tmp_path: Path) -> None:
    assert app.new_book(tmp_path / "empty.stillroom", "Empty", "EUR", False)
    view = tree_of(app)
    assert view.empty.isVisible() and view.empty.text() == EMPTY and not view.card.isVisible()
    view.open(), view.compare(), view.branch(), view.star(), view.retire(), view.decide(), view.correct(), view.again()
    assert not list(app.book.all(Version))

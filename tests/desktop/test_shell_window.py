# SPDX-License-Identifier: MIT
"""The window around the pages: beginning by keyboard, menus, finding, what is due, the quiet line, and being restored."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPoint, QRect, Qt
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QLineEdit, QPushButton, QWidget

from db import Book, make_demo
from desktop import actions
from desktop.app import App
from desktop.faults import Faults
from desktop.help_text import Section
from desktop.page_commands import command_rows
from desktop.settings import Settings
from desktop.widgets.due_line import DueItem, DueLine, due_items
from desktop.widgets.find_field import hit_text
from desktop.widgets.panes import Panes
from perfumery import (
    Balance,
    Bottle,
    Decision,
    Limit,
    Making,
    Material,
    Note,
    Project,
    Reading,
    Sitting,
    Strip,
    Version,
)

Key = Qt.Key


def started(qapp: QApplication, tmp_path: Path, clock) -> App:
    app = App(qapp, Settings(tmp_path / "settings.ini"), Faults(tmp_path / "log"), clock=clock)
    app.window.first.keep_in(tmp_path)
    return app


@pytest.fixture
def app(qapp: QApplication, tmp_path: Path, clock, qtbot) -> Iterator[App]:
    made = started(qapp, tmp_path, clock)
    made.start()
    qtbot.waitExposed(made.window)
    made.window.activateWindow()
    yield made
    if made.theme.choice == "dark" or made.theme.scale != 1:
        made.theme.scale = 1.0
        made.theme.choose("light")
    end(made)


def end(app: App) -> None:
    """Closes the window and lets everything of it go, so that the next test's style is not laid over it too."""
    app.window.close()
    for thing in (app.window, app.theme, app):
        thing.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo studio's file, to be copied."""
    path = tmp_path_factory.mktemp("demo") / "Demo.stillroom"
    make_demo(path).close()
    return path


@pytest.fixture
def bench(app: App, tmp_path: Path, demo_file: Path) -> App:
    """The app with the demo studio open."""
    assert app.open_book(Path(shutil.copy(demo_file, tmp_path)))
    QApplication.processEvents()
    return app


def press(app: App, key: Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    """A key pressed where the focus is."""
    QTest.keyClick(QApplication.focusWidget() or app.window, key, modifier)


def strip_running(app: App, clock, code: str = "P90", **more) -> Strip:
    """A strip of the demo studio's last vial, dipped now, and the clock 2 h 41 min later."""
    vial = [s for s in app.book.all(Strip) if s.kind == "paper"][-1]
    times = (7200.0, 28800.0)
    fresh = {"key": None, "code": code, "dipped_at": clock(), "closed_at": None, "sitting": None, "reading_times": times}
    (kept,) = app.book.put(replace(vial, **(fresh | more)), what=f"strip {code}")
    clock.tick(hours=2, minutes=41)
    return kept


# beginning ------------------------------------------------------------------------------------------------------------


def test_first_start_shows_the_first_page_with_the_cursor_in_the_name(app: App) -> None:
    assert app.window.pages.currentWidget() is app.window.first
    assert QApplication.focusWidget() is app.window.first.name
    assert app.window.windowTitle() == "Stillroom"
    assert not app.window.rail.isVisible() and not app.window.due_line.isVisible()


def test_new_book_by_keyboard_alone(app: App, tmp_path: Path) -> None:
    QTest.keyClicks(QApplication.focusWidget(), "Sea and slate")
    press(app, Key.Key_Return)
    assert app.book is not None and app.book.name == "Sea and slate"
    assert app.book.path == tmp_path / "Sea and slate.stillroom"
    assert len(app.book.material_rows()) > 100
    assert app.window.pages.currentWidget() is app.window.bench
    assert app.window.windowTitle().startswith("Sea and slate")


def test_new_book_without_the_starting_materials(app: App) -> None:
    first = app.window.first
    first.starters.setFocus()
    press(app, Key.Key_Space)
    first.make.setFocus()
    press(app, Key.Key_Space)
    assert app.book is not None and app.book.material_rows() == ()


def test_demo_studio_by_keyboard_alone(app: App, tmp_path: Path) -> None:
    first = app.window.first
    for _ in range(30):
        if QApplication.focusWidget() is first.demo:
            break
        press(app, Key.Key_Tab)
    assert QApplication.focusWidget() is first.demo
    press(app, Key.Key_Space)
    assert app.book is not None and app.book.path == tmp_path / "Demo studio.stillroom"
    assert [p.name for p in app.book.all(Project)] == ["Slate Rain"]
    assert "Slate Rain SR-" in app.window.windowTitle()


def test_a_name_that_is_taken_is_said_beside_the_form(app: App, tmp_path: Path) -> None:
    (tmp_path / "Taken.stillroom").write_text("mine")
    first = app.window.first
    first.name.setText("Taken")
    first.place.setText(str(tmp_path / "Taken.stillroom"))
    first.make.click()
    assert first.wrong.isVisible() and "Taken.stillroom" in first.wrong.text()
    assert (tmp_path / "Taken.stillroom").read_text() == "mine"
    # the sentence goes with what it was about, and what is missing is said too
    first.name.setFocus()
    QTest.keyClicks(first.name, "n")
    assert not first.wrong.isVisible()
    first.name.clear()
    QTest.keyClick(first.name, Key.Key_Return)
    assert first.wrong.text() == "The book has no name yet. Write one." and QApplication.focusWidget() is first.name
    first.name.setText("Rain")
    first.place.clear()
    first.make.click()
    assert "where the book is to be kept" in first.wrong.text() and QApplication.focusWidget() is first.place
    assert app.book is None


def test_offered_place_is_free_and_follows_the_name_until_it_is_typed(app: App, tmp_path: Path) -> None:
    (tmp_path / "Rain.stillroom").touch()
    first = app.window.first
    first.name.clear()
    QTest.keyClicks(first.name, "Rain")
    assert first.place.text() == str(tmp_path / "Rain 2.stillroom")
    first.place.clear()
    QTest.keyClicks(first.place, "/elsewhere/x")
    QTest.keyClicks(first.name, "s")
    assert first.place.text() == "/elsewhere/x"


def test_last_book_is_opened_again_after_the_window_is_shown(qapp: QApplication, tmp_path: Path, clock, qtbot) -> None:
    make_demo(tmp_path / "D.stillroom", clock).close()
    Settings(tmp_path / "settings.ini").opened(tmp_path / "D.stillroom")
    app = started(qapp, tmp_path, clock)
    app.start()
    assert app.window.isVisible() and app.book is None
    qtbot.waitUntil(lambda: app.book is not None)
    app.window.close()
    assert app.book is None
    Book.open(tmp_path / "D.stillroom", clock).close()  # the lock is free
    end(app)


def test_recent_books_are_offered_and_a_missing_one_says_so(bench: App, tmp_path: Path) -> None:
    bench._settings.opened(tmp_path / "gone.stillroom")
    bench._settings.opened(bench.book.path)
    bench.close_book()
    shown = {b.text(): b.isEnabled() for b in bench.window.first.findChildren(QPushButton) if b.text() in ("Demo", "gone")}
    assert shown == {"Demo": True, "gone": False}
    bench.window.recent_menu.aboutToShow.emit()
    assert [(a.text(), a.isEnabled()) for a in bench.window.recent_menu.actions()] == [("Demo", True), ("gone", False)]
    next(b for b in bench.window.first.findChildren(QPushButton) if b.text() == "Demo").click()
    assert bench.book is not None


def test_version_on_screen_is_shown_again_next_time(bench: App) -> None:
    version = bench.book.get(Version, "SR-2")
    bench.session.choose_version(version.key)
    path = bench.book.path
    bench.close_book()
    assert bench.open_book(path)
    assert bench.session.version_key == version.key


# commands ----------------------------------------------------------------------------------------------------------------


def test_every_command_has_a_handler_and_no_key_is_given_twice(bench: App) -> None:
    wanted = {c.key for c in actions.COMMANDS if c.key} - actions.SUBMENUS
    assert wanted == set(bench.window.commands)
    keys = [k.toString() for a in bench.window.commands.values() for k in a.shortcuts()]
    for _, own in bench.window.bench.menus():
        keys += [k.toString() for a in own for k in a.shortcuts() if a.shortcutContext() == Qt.ShortcutContext.WindowShortcut]
    assert sorted(keys) == sorted(set(keys))


def test_commands_of_a_book_are_off_without_one(app: App) -> None:
    off = {key for key, action in app.window.commands.items() if not action.isEnabled()}
    assert off == {c.key for c in actions.COMMANDS if c.book}


def test_menus_of_the_panes_come_and_go_with_the_book(bench: App) -> None:
    titles = [a.text() for a in bench.window.menuBar().actions()]
    assert titles[:3] == ["&Book", "&Edit", "&View"] and titles[-1] == "&Help" and "&Material" in titles
    bench.close_book()
    assert [a.text() for a in bench.window.menuBar().actions()] == ["&Book", "&Edit", "&View", "&Help"]


def test_shortcut_page_names_every_key_and_escape_leaves_it(bench: App) -> None:
    named = " ".join(keys for _, _, keys in command_rows())
    keys = [k.toString(QKeySequence.SequenceFormat.PortableText) for a in bench.window.commands.values() for k in a.shortcuts()]
    assert [k for k in keys if k not in named] == []
    bench.window.commands["keys"].trigger()
    assert bench.window.pages.currentWidget() is bench.window.help
    press(bench, Key.Key_Escape)
    assert bench.window.pages.currentWidget() is bench.window.bench


def test_smelling_widths_and_drawer_are_kept_by_mode(bench: App) -> None:
    page, commands = bench.window.bench, bench.window.commands
    bench.window.resize(1280, 800)
    QApplication.processEvents()
    composing = page.split.sizes()
    assert [abs(a - b) <= 8 for a, b in zip(composing, (604, 398, 212), strict=True)] == [True] * 3
    commands["swap_widths"].trigger()
    QApplication.processEvents()
    assert page.mode == "smelling" and commands["swap_widths"].isChecked()
    assert not page.drawer.isVisible() and not commands["drawer"].isChecked()
    assert abs(page.split.sizes()[0] - 340) <= 8
    commands["drawer"].trigger()
    assert page.drawer.isVisible()
    commands["swap_widths"].trigger()
    commands["swap_widths"].trigger()
    assert page.drawer.isVisible()


def test_moved_splitter_is_remembered(bench: App, qapp: QApplication) -> None:
    page = bench.window.bench
    bench.window.resize(1280, 800)
    QApplication.processEvents()
    page.split.moveSplitter(500, 1)
    moved = page.split.sizes()
    page.split.splitterMoved.emit(500, 1)
    path = bench.book.path
    bench.close_book()
    bench.open_book(path)
    QApplication.processEvents()
    assert all(abs(a - b) <= 2 for a, b in zip(bench.window.bench.split.sizes(), moved, strict=True))


def test_theme_and_text_size_are_kept(bench: App) -> None:
    commands = bench.window.commands
    commands["theme_dark"].trigger()
    assert bench.theme.name == "dark" and bench._settings.text("look/theme") == "dark"
    commands["text_larger"].trigger()
    assert bench.theme.scale == pytest.approx(1.1) and bench._settings.number("look/text", 1) == pytest.approx(1.1)
    commands["text_normal"].trigger()
    assert bench.theme.scale == 1.0
    commands["theme_system"].trigger()
    assert commands["theme_system"].isChecked() and not commands["theme_dark"].isChecked()


def test_a_copy_is_checked_and_never_goes_over_the_book(bench: App, tmp_path: Path, qtbot) -> None:
    bench.files.save_copy(tmp_path / "copy.stillroom")
    qtbot.waitUntil(lambda: "copy.stillroom" in bench.window.notice.text)
    with Book.open(tmp_path / "copy.stillroom") as copy:
        assert copy.get(Version, "SR-4") is not None
    bench.files.save_copy(bench.book.path)
    assert "the book itself" in bench.window.notice.text


def test_check_says_that_the_book_is_sound(bench: App, qtbot) -> None:
    bench.window.commands["check_book"].trigger()
    qtbot.waitUntil(lambda: "sound" in bench.window.notice.text)


def test_export_writes_open_files(bench: App, tmp_path: Path, qtbot) -> None:
    bench.files.export(tmp_path / "out")
    # its papers are made by another process
    qtbot.waitUntil(lambda: "JSON" in bench.window.notice.text, timeout=20_000)
    assert any((tmp_path / "out").iterdir())


def test_a_second_export_within_a_minute_gets_a_number(bench: App, tmp_path: Path, monkeypatch) -> None:
    folders: list[Path] = []
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path))
    monkeypatch.setattr(bench.files, "export", folders.append)
    name = f"{bench.book.path.stem} {bench.clock():%Y-%m-%d %H.%M}"
    for _ in range(3):
        bench.files.asked["export_book"]()
        folders[-1].mkdir()
    assert [folder.name for folder in folders] == [name, f"{name} 2", f"{name} 3"]


# the quiet line and the way back -----------------------------------------------------------------------------------------


def test_an_edit_is_told_with_a_way_back_and_forth(bench: App) -> None:
    notice = bench.window.notice
    bench.session.edit("new material Test moss", Material(name="Test moss"))
    assert notice.text == "New material Test moss." and notice.offer == "undo"
    notice.findChild(QPushButton).click()
    assert notice.text == "Undone: new material Test moss." and notice.offer == "redo"
    assert bench.book.get(Material, "Test moss") is None
    notice.findChild(QPushButton).click()
    assert notice.text == "Done again: new material Test moss." and bench.book.get(Material, "Test moss") is not None


def test_a_refusal_is_told_without_a_way_back(bench: App) -> None:
    frozen = bench.book.get(Version, "SR-1")
    bench.session.edit("x", replace(frozen, lines=frozen.lines[1:]))
    assert "SR-1" in bench.window.notice.text and bench.window.notice.offer == ""
    assert bench.window.notice._words.property("role") == "wrong"


def test_a_field_takes_back_its_own_typing_first(bench: App) -> None:
    bench.session.edit("new material Test moss", Material(name="Test moss"))
    find = bench.window.find
    find.start()
    QTest.keyClicks(find, "abc")
    press(bench, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert find.text() == "" and bench.book.get(Material, "Test moss") is not None
    while find.isUndoAvailable():
        find.undo()
    press(bench, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert bench.book.get(Material, "Test moss") is None


def test_own_undo_knows_text_fields_only(qtbot) -> None:
    field = QLineEdit()
    qtbot.addWidget(field)
    assert actions.own_undo(field) is None and actions.own_undo(None) is None
    QTest.keyClicks(field, "a")
    assert actions.own_undo(field) is field
    field.setReadOnly(True)
    assert actions.own_undo(field) is None


def test_a_page_shown_for_the_first_time_has_the_cursor_where_it_wants_it(bench: App) -> None:
    bench.window.commands["page_weigh"].trigger()
    assert QApplication.focusWidget() is bench.window.show_page("weigh").begin.amount
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    there = QApplication.focusWidget()
    bench.window.commands["page_bench"].trigger()
    bench.window.commands["page_weigh"].trigger()
    assert QApplication.focusWidget() is there  # and later where it was left


# undo and what is booked -------------------------------------------------------------------------------------------------


def test_undo_after_a_booking_says_so_before_it_reaches_behind_it(bench: App, clock) -> None:
    version = bench.book.get(Version, "SR-5")
    before = version.reason
    bench.session.edit("reason of SR-5", replace(version, reason="dearer"))
    strip = strip_running(bench, clock)
    bench.session.edit("reading of P90", Reading(strip.key, clock(), intensity=4))
    bench.window.commands["undo"].trigger()
    said = bench.window.notice.text
    assert "“reading of P90” is booked" in said and "takes back “reason of SR-5”" in said
    assert bench.book.get(Version, "SR-5").reason == "dearer" and bench.book.readings((strip.key,))[strip.key]
    bench.window.commands["undo"].trigger()
    assert bench.book.get(Version, "SR-5").reason == before and "Undone: reason of SR-5" in bench.window.notice.text
    # an edit after a booking is taken back at once
    bench.session.edit("note", Reading(strip.key, clock.tick(minutes=1), intensity=3))
    bench.session.edit("reason of SR-5", replace(bench.book.get(Version, "SR-5"), reason="again"))
    bench.window.commands["undo"].trigger()
    assert bench.book.get(Version, "SR-5").reason == before


def test_a_copy_of_a_book_is_told_apart_by_its_file(bench: App, tmp_path: Path) -> None:
    name, old = bench.book.name, bench.book.path
    assert old.stem in bench.window.windowTitle()
    bench.book.backup(tmp_path / "as of yesterday.stillroom")
    assert bench.open_book(tmp_path / "as of yesterday.stillroom")
    assert bench.window.windowTitle().endswith(f"{name}, as of yesterday")
    assert bench.window.notice.text == f"as of yesterday is open; {old.stem} was closed."


# panes -------------------------------------------------------------------------------------------------------------------


def test_every_pane_stands_on_the_sheet_from_the_start(app: App, tmp_path: Path) -> None:
    assert app.new_book(tmp_path / "New.stillroom", "New", "EUR", starters=False)
    for name, parts in (("bench", lambda page: page.panes), ("shelf", lambda page: (page.list, page.side))):
        for pane in parts(app.window.show_page(name)):
            QApplication.processEvents()
            seen = pane.grab().toImage().pixelColor(pane.width() // 2, pane.height() - 3).name().upper()
            assert seen == app.theme.token("sheet"), (name, type(pane).__name__)


def test_only_what_is_on_the_screen_is_dressed_at_once(bench: App) -> None:
    window, shelf = bench.window, bench.window.show_page("shelf")
    window.show_page("bench")
    before = shelf.styleSheet()
    assert before == window.bench.styleSheet() == window.rail.styleSheet()
    bench.theme.choose("dark")
    assert window.bench.styleSheet() == window.rail.styleSheet() == window.menuBar().styleSheet() != before
    assert shelf.styleSheet() == before, "nobody sees it"
    heights = []
    bench.theme.changed.connect(lambda: heights.append(shelf.styleSheet()))
    window.show_page("shelf")
    assert heights == [window.bench.styleSheet()] == [shelf.styleSheet()], "what measures itself by its style is told"


def test_an_edge_that_was_dragged_is_found_where_it_was_left(bench: App, qtbot) -> None:
    view = bench.window.show_page("compare").show_view("tree")
    QApplication.processEvents()
    before, handle = view.split.sizes(), view.split.handle(1)
    centre = handle.rect().center()
    QTest.mousePress(handle, Qt.MouseButton.LeftButton, pos=centre)
    QTest.mouseMove(handle, centre - QPoint(60, 0))
    QTest.mouseRelease(handle, Qt.MouseButton.LeftButton, pos=centre - QPoint(60, 0))
    after = view.split.sizes()
    assert after[0] < before[0] - 40 and sum(after) == sum(before)
    again = Panes(bench.theme, bench._settings, "tree panes", (QWidget(), QWidget()), (760, 440), grows=0)
    bench.theme.dress(again)
    again.resize(view.split.size())
    qtbot.addWidget(again)
    again.show()
    assert abs(again.sizes()[0] - after[0]) <= 1


# finding -----------------------------------------------------------------------------------------------------------------


def test_find_by_keyboard_goes_to_a_version(bench: App) -> None:
    bench.session.choose_version(bench.book.get(Version, "SR-1").key)
    find = bench.window.find
    bench.window.commands["find"].trigger()
    assert QApplication.focusWidget() is find
    QTest.keyClicks(find, "SR-3B")
    assert find.is_open and find.values
    while not isinstance(find.values[find.list.currentRow()], Version):
        press(bench, Key.Key_Down)
    press(bench, Key.Key_Return)
    assert bench.session.version.code == "SR-3B"
    assert not find.is_open and find.text() == ""


def test_what_is_called_as_was_typed_is_found_first(bench: App) -> None:
    find = bench.window.find
    find.start()
    QTest.keyClicks(find, "SR-2")
    press(bench, Key.Key_Return)
    assert bench.session.version.code == "SR-2"


@pytest.mark.parametrize("asked", ["how to make a dilution", "How do I make dilutions?"])
def test_a_question_finds_the_help(bench: App, asked: str) -> None:
    find = bench.window.find
    find.start()
    QTest.keyClicks(find, asked)
    assert find.values[0].title == "Bottles and dilutions"
    press(bench, Key.Key_Return)
    page = bench.window.help
    assert page.isVisible() and page.text.textCursor().block().text() == "Bottles and dilutions"


def test_find_goes_to_a_material_and_opens_the_drawer(bench: App) -> None:
    page = bench.window.bench
    page.show_drawer(False)
    vetiver = bench.book.find_materials("vetiver oil")[0].key
    bench.window.find.found.emit(bench.book.get(Material, vetiver))
    assert page.drawer.isVisible() and page.drawer.current_key == vetiver


def test_find_says_when_there_is_nothing_and_escape_gives_the_focus_back(bench: App) -> None:
    before = bench.window.bench.drawer.search
    before.setFocus()
    find = bench.window.find
    find.start()
    QTest.keyClicks(find, "zzzzqq")
    assert find.is_open and find.values == () and find._nothing.isVisible()
    press(bench, Key.Key_Escape)
    assert not find.is_open and QApplication.focusWidget() is before


@pytest.mark.parametrize("kind", [Strip, Reading, Bottle, Note, Project])
def test_whatever_is_found_can_be_gone_to(bench: App, kind: type) -> None:
    value = next(iter(bench.book.all(kind)))
    assert hit_text(value)
    bench.window.find.found.emit(value)
    standing = kind is Bottle and value.kind not in ("trial", "smelling")
    assert bench.window.pages.currentWidget() is (bench.window.page("shelf") if standing else bench.window.bench)


def test_a_decision_a_limit_and_a_weighing_are_gone_to(bench: App) -> None:
    window, book = bench.window, bench.book

    def found(text: str) -> None:
        window.find.start()
        QTest.keyClicks(window.find, text)
        press(bench, Key.Key_Return)

    found("gives back the opening")
    assert window.pages.currentWidget() is window.page("compare")
    tree = window.page("compare").view("tree")
    assert tree.isVisible() and tree.node.head.code == "SR-4"
    limit = next(iter(book.all(Limit)))
    window.find.found.emit(limit)
    limits = window.page("compare").view("limits")
    assert limits.isVisible() and limits.row.key == limit.key
    (balance, *_) = book.all(Balance)
    window.find.found.emit(balance)
    balances = window.page("weigh").balances
    assert balances.isVisible() and balances.row.balance == balance
    trial = book.get(Making, "T-024")
    window.find.found.emit(trial)
    assert window.pages.currentWidget() is window.bench and bench.session.version.code == "SR-3"
    for value in (limit, balance, trial, next(iter(book.all(Decision)))):
        assert hit_text(value).count(" · ") >= 1


def test_commands_and_the_help_are_found_too(bench: App) -> None:
    window = bench.window
    window.find.start()
    QTest.keyClicks(window.find, "text larger")
    assert hit_text(window.find.values[0]) == "Text larger · Ctrl++ · command"
    before = window.theme.scale
    press(bench, Key.Key_Return)
    assert window.theme.scale > before
    window.find.start()
    QTest.keyClicks(window.find, "true strength")
    assert isinstance(window.find.values[-1], Section)
    while not isinstance(window.find.values[window.find.list.currentRow()], Section):
        press(bench, Key.Key_Down)
    press(bench, Key.Key_Return)
    assert window.pages.currentWidget() is window.help
    # a command that cannot be used where one is, is not offered
    window.find.start()
    QTest.keyClicks(window.find, "materials drawer")
    assert "command" not in [hit_text(value).rpartition(" · ")[2] for value in window.find.values]


def test_values_leave_the_last_places_to_commands_and_help(bench: App) -> None:
    find = bench.window.find
    find.start()
    QTest.keyClicks(find, "re")
    values = [not isinstance(value, QAction | Section) for value in find.values]
    assert len(values) == 12 and values == sorted(values, reverse=True) and values.count(False) >= 4


# due ---------------------------------------------------------------------------------------------------------------------


def test_due_line_tells_what_is_late_and_goes_there(bench: App, clock) -> None:
    strip = strip_running(bench, clock)
    bench.session.ticked.emit(bench.book.now())
    item, served = bench.window.due_line.items
    assert (served.strip, served.code) == (None, "Shelf") and served.text == "1 re-test due"
    assert (item.strip, item.code, item.late) == (strip.key, "P90", True)
    assert item.text.replace("\u2009", " ") == "2 h, 41 min late"
    gone: list[int] = []
    bench.window.bench.strips.strip_chosen.connect(gone.append)
    next(b for b in bench.window.due_line._buttons if b.item.strip == strip.key).click()
    assert gone[-1:] == [strip.key]


def test_due_line_counts_down_to_what_comes(bench: App, clock) -> None:
    strip = strip_running(bench, clock)
    bench.book.put(Reading(strip=strip.key, at=clock(), intensity=3.0), what="reading")
    clock.tick(hours=5, minutes=7)
    item, _ = due_items(bench.book, clock())
    assert item.whole.replace("\u2009", " ") == "P90 8 h in 12 min" and not item.late


def test_due_line_keeps_a_blind_strip_blind(bench: App, clock) -> None:
    (sitting,) = bench.book.put(Sitting(at=clock(), blind=True), what="sitting")
    strip = strip_running(bench, clock, sitting=sitting.key)
    (code,) = bench.book.sittings.seal(sitting.key, shuffled=False)
    assert code != strip.code and [item.code for item in due_items(bench.book, clock())] == [code, "Shelf"]
    bench.book.sittings.reveal(sitting.key)
    assert [item.code for item in due_items(bench.book, clock())] == [strip.code, "Shelf"]


def test_due_line_keeps_what_does_not_fit_behind_one_button(app: App, qtbot) -> None:
    line = DueLine(app.theme)
    app.theme.dress(line)
    qtbot.addWidget(line)
    line.resize(400, 40)
    line.show()
    line.show_items(tuple(DueItem(n, f"P{n:02}", "2 h, 41 min late", True) for n in range(1, 9)))
    fitting = [b for b in line._buttons if b.isVisible()]
    assert 1 <= len(fitting) < 8 and line._more.text() == f"and {8 - len(fitting)} more"
    assert fitting[-1].geometry().right() <= line._more.geometry().left() and line._more.geometry().right() <= 400
    with qtbot.waitSignal(line.due_chosen) as told:
        fitting[0].click()
    assert told.args == [line.items[0]]
    line.show_items(())
    assert line._buttons[0].text() == "Nothing is due." and not line._buttons[0].isEnabled()


# restoring ---------------------------------------------------------------------------------------------------------------


def test_window_left_on_a_screen_that_is_gone_comes_back_on_one_that_is_there(qapp: QApplication, tmp_path: Path, clock) -> None:
    app = started(qapp, tmp_path, clock)
    app.window.setGeometry(QRect(9000, 9000, 1280, 800))
    end(app)
    again = started(qapp, tmp_path, clock)
    screen = QGuiApplication.primaryScreen().availableGeometry()
    assert again.window.frameGeometry().intersects(screen)
    end(again)


def test_settings_forget_nothing_and_survive_nonsense(tmp_path: Path) -> None:
    settings = Settings(tmp_path / "s.ini")
    settings.keep_widths("lines", {"name": 190, "parts": 72})
    settings.keep_columns("lines", ["name", "parts"])
    for n in range(12):
        settings.opened(tmp_path / f"{n}.stillroom")
    settings.write()
    again = Settings(tmp_path / "s.ini")
    assert again.widths("lines") == {"name": 190, "parts": 72} and again.columns("lines") == ("name", "parts")
    assert again.recent[0] == tmp_path / "11.stillroom" == again.last_book and len(again.recent) == 8
    again.forget(tmp_path / "11.stillroom")
    assert again.last_book is None and again.recent[0] == tmp_path / "10.stillroom"
    again.keep("widths/lines", "{broken")
    again.keep("look/text", "large")
    assert again.widths("lines") == {} and again.number("look/text", 1.0) == 1.0 and again.columns("other") is None


def test_controls_have_names(bench: App) -> None:
    bench.window.commands["keys"].trigger()
    from PySide6.QtWidgets import QAbstractButton, QComboBox

    nameless = [
        w for kind in (QAbstractButton, QLineEdit, QComboBox) for w in bench.window.findChildren(kind)
        if w.isVisible() and not (w.accessibleName() or (isinstance(w, QAbstractButton) and w.text()))
    ]  # fmt: skip
    assert [f"{type(w).__name__} in {type(w.parent()).__name__}" for w in nameless] == []

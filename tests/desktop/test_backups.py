# SPDX-License-Identifier: MIT
"""Backups as a person meets them: listed, looked into with a way back, restored beside the book; the lock that is asked twice."""

import shutil
import socket
import threading
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QDesktopServices
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QApplication, QFileDialog, QPushButton

from db import Backup, Book, Head, backups, make_demo
from desktop.app import App
from desktop.models.backups import BackupRow, ago, made_for, rows_of, state, summary, when
from desktop.pages.backups import BackupsPage
from desktop.places import Risk
from perfumery import Material

Key = Qt.Key
CTRL = Qt.KeyboardModifier.ControlModifier
NOW = datetime.fromisoformat("2026-11-24T18:30:00+01:00")
WALL = NOW.replace(tzinfo=None)


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("studio") / "Slate.stillroom"
    make_demo(path).close()
    return path


@pytest.fixture
def desk(hand, studio: Path, tmp_path: Path, clock):
    """The hand at a book with a backup of yesterday, one of this morning, and one change since."""
    path = Path(shutil.copy(studio, tmp_path))
    clock.at = NOW - timedelta(days=1)
    with Book.open(path, clock) as book:
        book.put(Material("Yesterday's"))
        assert book.backup_if_due()
        clock.at = NOW - timedelta(hours=8)
        book.put(Material("This morning's"))
        assert book.backup_if_due()
        book.put(Material("Since"))
    clock.at = NOW
    assert hand.app.open_book(path)
    QApplication.processEvents()
    return hand


def listed(hand) -> BackupsPage:
    """The page of backups, once it knows what is in them."""
    hand.app.window.commands["backups"].trigger()
    page = hand.app.window.backups
    hand.qtbot.waitUntil(lambda: all(row.is_read for row in page.model.rows))
    return page


def column(page: BackupsPage, key: str) -> list[str]:
    return [page.model.cell(place, page.model.place_of(key)).replace("\u2009", " ") for place in range(page.model.rowCount())]


def materials(app: App) -> list[str]:
    found = {"Yesterday's", "This morning's", "Since"}
    return sorted(one.name for one in app.book.all(Material) if one.name in found)


# the list ----------------------------------------------------------------------------------------------------------------


def test_backups_are_listed_with_age_size_and_state(desk) -> None:
    page = listed(desk)
    QAbstractItemModelTester(page.model, QAbstractItemModelTester.FailureReportingMode.Fatal, page)
    assert desk.app.window.pages.currentWidget() is page and page.grid.hasFocus()
    assert page.title.text() == "Backups of Slate" and page.total.text().startswith("2 backups, together ")
    assert page.place.text().endswith("Slate backups")
    assert column(page, "when") == ["today, 10:30", "yesterday, 18:30"]
    assert column(page, "ago") == ["8 h ago", "1 d ago"]
    assert column(page, "state") == ["1 change before now", "2 changes before now"]
    assert column(page, "why") == ["by itself or asked for"] * 2
    assert all(size.endswith("kB") for size in column(page, "size")) and not page.none.isVisible()
    desk.press(Key.Key_Escape)
    assert desk.app.window.pages.currentWidget() is desk.app.window.bench


def test_help_over_the_backups_leads_back_to_them_and_on(desk) -> None:
    page = listed(desk)
    desk.app.window.commands["help"].trigger()
    assert desk.app.window.pages.currentWidget() is desk.app.window.help
    desk.app.window.commands["backups"].trigger()
    desk.app.window.commands["help"].trigger()
    desk.press(Key.Key_Escape)
    assert desk.app.window.pages.currentWidget() is page
    page.back.click()
    assert desk.app.window.pages.currentWidget() is desk.app.window.bench


def test_a_book_without_backups_says_when_the_first_comes(hand, tmp_path: Path, studio: Path) -> None:
    assert hand.app.open_book(Path(shutil.copy(studio, tmp_path / "New.stillroom")))
    hand.app.window.commands["backups"].trigger()
    page = hand.app.window.backups
    assert page.none.isVisible() and "No backup yet" in page.none.text()
    assert not page.grid.isVisible() and not page.look.isVisible() and page.now.hasFocus()
    for signal in (page.look_wanted, page.restore_wanted, page.open_wanted):
        signal.connect(lambda file: pytest.fail("there is nothing to ask for"))
    for act in (page._look, page._restore, page._open):
        act()
    hand.press(Key.Key_N, CTRL)
    hand.qtbot.waitUntil(lambda: "A backup was made" in page.said.text())
    hand.qtbot.waitUntil(lambda: column(page, "state") == ["as now"])
    hand.press(Key.Key_N, CTRL)
    hand.qtbot.waitUntil(lambda: "none was made" in page.said.text())
    assert page.grid.isVisible() and page.chosen == Book.backups_of(hand.app.book.path)[0].path


def test_without_a_book_there_is_nothing_to_list(hand) -> None:
    hand.app.keeping.show()
    assert hand.app.window.pages.currentWidget() is hand.app.window.first
    hand.app.keeping.leave_look()
    assert hand.app.book is None and not hand.app.window.commands["leave_look"].isEnabled()


def test_copy_check_and_folder_from_the_page(desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = listed(desk)
    opened: list[str] = []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "kept.stillroom"), ""))
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: opened.append(url.toLocalFile()))
    desk.press(Key.Key_S, CTRL)
    desk.qtbot.waitUntil(lambda: "kept.stillroom" in desk.app.window.notice.text)
    desk.press(Key.Key_T, CTRL)
    desk.qtbot.waitUntil(lambda: "sound" in desk.app.window.notice.text)
    page.folder.click()
    assert opened == [str(Book.backup_folder(desk.app.book.path))] and "Slate backups" in page.said.text()


def test_what_changed_while_the_page_is_open_is_seen(desk) -> None:
    page = listed(desk)
    torn = Book.backup_folder(desk.app.book.path) / "2026-11-01 10.00.00.stillroom"
    torn.write_text("no book")
    desk.clock.tick(hours=1)
    page.refresh_wanted.emit()
    assert column(page, "ago")[0] == "9 h ago"
    desk.qtbot.waitUntil(lambda: column(page, "state")[-1] == "cannot be read")
    assert page.model.tone(page.model.rows[-1], page.model.columns[page.model.place_of("state")]) == "brick"


# looking into one, and restoring it ---------------------------------------------------------------------------------------


def test_a_look_into_a_backup_and_back(desk) -> None:
    app, path = desk.app, desk.app.book.path
    page = listed(desk)
    desk.press(Key.Key_Down)
    desk.press(Key.Key_Return)
    assert app.book.read_only and materials(app) == ["Yesterday's"]
    assert "backup of 23 Nov, 18:30" in app.window.band.words.text()
    assert app.session.edit("x", Material("Lost")) is None
    assert "nothing can be kept" in app.window.notice.text
    # the page in a look holds the backups against the book that was left, and backs nothing up
    page = listed(desk)
    assert column(page, "state") == ["1 change before now", "2 changes before now"]
    assert not page.now.isVisible() and app.window.band.isVisible()
    assert app.window.commands["leave_look"].isEnabled()
    app.window.commands["leave_look"].trigger()
    assert app.book.path == path and not app.book.read_only and len(materials(app)) == 3
    assert not app.window.band.isVisible() and not app.window.commands["leave_look"].isEnabled()
    assert app.keeping.looking is None


def test_one_look_after_the_other_leads_back_to_the_book(desk) -> None:
    app, path = desk.app, desk.app.book.path
    listed(desk).look.click()
    app.window.band.buttons[2].click()
    page = app.window.backups
    desk.qtbot.waitUntil(lambda: column(page, "state") == ["1 change before now", "2 changes before now"])
    desk.press(Key.Key_Down)
    desk.press(Key.Key_Return)
    assert materials(app) == ["Yesterday's"]
    app.window.band.buttons[0].click()
    assert app.book.path == path


def test_a_backup_is_restored_beside_the_book_and_opened(desk, tmp_path: Path) -> None:
    app, path = desk.app, desk.app.book.path
    page = listed(desk)
    before = {file: file.read_bytes() for _, file, _ in Book.backups_of(path)}
    desk.press(Key.Key_R, CTRL)
    desk.qtbot.waitUntil(lambda: page.open.isVisible())
    made = tmp_path / "Slate as of 2026-11-24 10.30.stillroom"
    assert made.stem in page.said.text() and made.is_file() and page.open.hasFocus()
    assert app.book.path == path and len(materials(app)) == 3
    desk.press(Key.Key_Space)
    assert app.book.path == made and not app.book.read_only and materials(app) == ["This morning's", "Yesterday's"]
    assert path.is_file() and {file: file.read_bytes() for file in before} == before
    assert app.open_book(path) and len(materials(app)) == 3


def test_pressed_twice_one_book_is_made(desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page, go_on, restore = listed(desk), threading.Event(), Book.restore
    monkeypatch.setattr(Book, "restore", lambda *places: go_on.wait(20) and restore(*places))
    page.restore.click()
    page.restore.click()
    go_on.set()
    desk.qtbot.waitUntil(lambda: page.open.isVisible())
    assert len(list(tmp_path.glob("Slate as of *.stillroom"))) == 1
    page.restore.click()
    desk.qtbot.waitUntil(lambda: len(list(tmp_path.glob("Slate as of *.stillroom"))) == 2)


def test_a_restoring_that_was_cancelled_before_its_turn_can_be_asked_for_again(desk, tmp_path: Path) -> None:
    page, go_on = listed(desk), threading.Event()
    desk.app.work.run(lambda progress: go_on.wait(20), lambda answer: None)
    page.restore.click()
    desk.app.work.cancel()
    go_on.set()
    desk.qtbot.waitUntil(lambda: desk.app.work.is_idle)
    assert not list(tmp_path.glob("* as of *"))
    page.restore.click()
    desk.qtbot.waitUntil(lambda: page.open.isVisible())
    assert len(list(tmp_path.glob("Slate as of *.stillroom"))) == 1


def test_restored_out_of_a_look(desk, tmp_path: Path) -> None:
    page = listed(desk)
    desk.press(Key.Key_Down)
    page.look.click()
    desk.app.window.band.buttons[1].click()
    desk.qtbot.waitUntil(lambda: page.open.isVisible())
    assert (tmp_path / "Slate as of 2026-11-23 18.30.stillroom").is_file()
    assert desk.app.book.read_only and desk.app.window.pages.currentWidget() is page


def test_what_was_restored_is_told_on_another_page_too(desk) -> None:
    page = listed(desk)
    page.restore.click()
    desk.app.window.show_page("bench")
    desk.qtbot.waitUntil(lambda: "now stands beside" in desk.app.window.notice.text)
    assert not page.open.hasFocus()


def test_a_backup_that_cannot_be_read_makes_no_book(desk, tmp_path: Path) -> None:
    torn = Book.backup_folder(desk.app.book.path) / "2026-11-24 17.00.00.stillroom"
    torn.write_text("no book")
    page = listed(desk)
    page.choose(torn)
    page.restore.click()
    desk.qtbot.waitUntil(lambda: "not a Stillroom book" in desk.app.window.notice.text)
    assert not page.open.isVisible() and not list(tmp_path.glob("* as of *"))
    page.look.click()
    assert desk.app.window.pages.currentWidget() is desk.app.window.fault and len(materials(desk.app)) == 3


def test_a_look_at_a_copy_of_ones_own_leads_back_to_it(desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copy = tmp_path / "mine.stillroom"
    desk.app.book.backup(copy)
    assert desk.app.look_at(copy)
    assert "looking into mine.stillroom" in desk.app.window.band.words.text()
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "again.stillroom"), ""))
    desk.app.window.band.buttons[1].click()
    desk.qtbot.waitUntil((tmp_path / "again.stillroom").is_file)
    desk.app.window.band.buttons[0].click()
    assert desk.app.book.path == copy and not desk.app.book.read_only


# a book that cannot be opened ---------------------------------------------------------------------------------------------


def test_backups_of_a_damaged_book_are_restored_without_it(desk, tmp_path: Path) -> None:
    app, path = desk.app, desk.app.book.path
    app.close_book()
    path.write_bytes(path.read_bytes()[:5000])
    damaged = path.read_bytes()
    assert not app.open_book(path)
    fault = app.window.fault
    next(button for button in fault.buttons if button.text() == "Other backups…").click()
    page = app.window.backups
    desk.qtbot.waitUntil(lambda: column(page, "state") == ["the newest", "1 change before the newest"])
    assert not page.now.isVisible() and not page.check.isVisible()
    desk.press(Key.Key_Escape)
    assert app.window.pages.currentWidget() is fault
    app.keeping.show(path)
    desk.press(Key.Key_R, CTRL)
    desk.qtbot.waitUntil(lambda: page.open.isVisible())
    page.open.click()
    assert app.book.path == tmp_path / "Slate as of 2026-11-24 10.30.stillroom" and path.read_bytes() == damaged


def test_a_look_from_the_fault_page_leads_back_to_the_book(desk) -> None:
    app, path = desk.app, desk.app.book.path
    app.close_book()
    lock = path.with_name(path.name + ".lock")
    lock.write_bytes(b"\0" + b'{"host": "bench-2", "pid": 7, "since": "2026-11-24T17:00:00+01:00"}')
    assert socket.gethostname() != "bench-2" and not app.open_book(path)
    fault = app.window.fault
    assert "bench-2" in fault.words
    next(button for button in fault.buttons if button.text().startswith("Look at the backup")).click()
    assert app.book.read_only and "backup of 24 Nov" in app.window.band.words.text()
    app.window.band.buttons[0].click()
    assert app.window.pages.currentWidget() is fault and app.book.read_only
    # the lock is broken only when it was asked for twice, and the second answer in focus is the harmless one
    asking = next(button for button in fault.buttons if button.text().startswith("Nobody has it open"))
    asking.click()
    assert fault.sure.isVisible() and fault.sure.leave.hasFocus() and not asking.isVisible()
    desk.press(Key.Key_Space)
    assert not fault.sure.isVisible() and asking.hasFocus() and app.book.read_only
    asking.click()
    fault.sure.doing.click()
    assert app.book.path == path and not app.book.read_only


def test_a_backup_that_is_opened_as_a_book_is_only_looked_into(desk) -> None:
    app, path = desk.app, desk.app.book.path
    backup = Book.backups_of(path)[0].path
    before = backup.read_bytes()
    assert app.open_book(backup) and app.book.read_only
    assert "backup of 24 Nov" in app.window.band.words.text()
    app.window.band.buttons[0].click()
    assert app.book.path == path and backup.read_bytes() == before
    assert backup not in app._settings.recent


def test_a_book_that_is_gone_offers_its_backups_at_the_start(desk, tmp_path: Path) -> None:
    app, path = desk.app, desk.app.book.path
    app.close_book()
    assert "Its backups…" not in [button.text() for button in app.window.first.findChildren(QPushButton)]
    path.unlink()
    app.show_begin()
    next(button for button in app.window.first.findChildren(QPushButton) if button.text() == "Its backups…").click()
    page = app.window.backups
    assert app.window.pages.currentWidget() is page and page.title.text() == "Backups of Slate"
    desk.press(Key.Key_R, CTRL)
    desk.qtbot.waitUntil(lambda: page.open.isVisible())
    desk.press(Key.Key_Escape)
    assert app.window.pages.currentWidget() is app.window.first
    assert (tmp_path / "Slate as of 2026-11-24 10.30.stillroom").is_file()


# the place of the book ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind, said", [("network", "network share"), ("synchronised", "synchronised folder")])
def test_a_place_that_is_not_safe_is_told_until_it_is_understood(desk, tmp_path: Path, kind: str, said: str) -> None:
    app, band = desk.app, desk.app.window.band
    app.keeping._on_place_known(None)
    assert not band.isVisible()
    app.keeping._on_place_known(Risk(kind, tmp_path))
    assert band.isVisible() and said in band.words.text() and str(tmp_path) in band.words.text()
    band.buttons[1].click()
    assert app.window.pages.currentWidget() is app.window.help
    desk.press(Key.Key_Escape)
    band.buttons[0].click()
    assert not band.isVisible()
    app.keeping._on_place_known(Risk(kind, tmp_path))
    assert not band.isVisible()


def test_the_place_is_looked_at_after_the_first_screen(desk, tmp_path: Path) -> None:
    (tmp_path / ".stfolder").mkdir()
    assert not desk.app.window.band.isVisible()
    desk.app._look_after(desk.app.book)
    desk.qtbot.waitUntil(desk.app.window.band.isVisible)
    assert "synchronised folder" in desk.app.window.band.words.text()
    desk.app.close_book()
    assert not desk.app.window.band.isVisible()


# words --------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("at, said, since", [
    (WALL - timedelta(minutes=5), "today, 18:25", "5 min ago"), (WALL - timedelta(hours=30), "yesterday, 12:30", "1 d 6 h ago"),
    (WALL - timedelta(days=3), "21 Nov, 18:30", "3 d ago"), (WALL - timedelta(days=365), "24 Nov 2025, 18:30", "365 d ago"),
    (WALL + timedelta(hours=30), "26 Nov, 00:30", "after now by this clock"),
])  # fmt: skip
def test_when_a_backup_was_made(at: datetime, said: str, since: str) -> None:
    assert when(at, WALL) == said and ago(at, WALL).replace("\u2009", " ") == since


def test_how_far_the_book_had_come() -> None:
    one = Backup(WALL, Path("2026-11-24 18.30.00.stillroom"), 431_000)
    two = Backup(WALL, Path("2026-11-24 17.30.00 step 4.stillroom"), 569_000)
    assert made_for(one) == "by itself or asked for" and made_for(two) == "before an update of its structure (step 4)"
    assert summary((one, two)).replace("\u2009", " ") == "2 backups, together 1.0 MB"
    book = Head("a", 10)
    row = BackupRow(one, WALL, True, Head("a", 12), book)
    assert state(row) == "2 changes after the book's" and state(BackupRow(one, WALL)) == ""
    assert state(BackupRow(one, WALL, True, Head("b", 12), book)) == "another book"
    rows = rows_of((one, two), NOW, {one.path: Head("a", 3), two.path: Head("a", 4)}, None)
    assert [state(row) for row in rows] == ["the newest", "1 change after the newest"]
    assert [state(row) for row in rows_of((one, two), NOW, {one.path: None}, None)] == ["cannot be read", ""]


def test_the_page_says_the_rules_that_are_kept() -> None:
    from desktop.models.backups import RULES

    assert f"{backups.CAP_BYTES // 10**9} GB" in RULES
    # each rule by what it lets go: two of one slot just inside and just outside of it
    now = datetime(2026, 6, 30, 12)

    def gone(first: timedelta, second: timedelta) -> bool:
        newest = (now, Path("newest"), 1)
        return bool(backups.thinned([newest, *((now - age, Path(str(age)), 1) for age in (first, second))], now))

    hour = timedelta(hours=1)
    assert "All of the last two days" in RULES and not gone(timedelta(days=2), timedelta(days=2) - hour)
    assert "one a day for a month" in RULES and gone(timedelta(days=20), timedelta(days=20) + hour)
    assert not gone(timedelta(days=20), timedelta(days=21))
    assert "one a week for half a year" in RULES and gone(timedelta(days=60), timedelta(days=61))
    assert not gone(timedelta(days=60), timedelta(days=68))
    assert "one a month for ever" in RULES and gone(timedelta(days=400), timedelta(days=405))
    assert not gone(timedelta(days=400), timedelta(days=440))

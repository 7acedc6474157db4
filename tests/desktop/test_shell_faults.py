# SPDX-License-Identifier: MIT
"""A book that cannot be opened gets a calm page with ways on; a fault of the program gets a panel, a log and a report."""

import faulthandler
import logging
import os
import sys
import threading
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QLabel

import db
from db import Book, make_demo
from desktop import wording
from desktop.app import App
from desktop.faults import Faults, log_folder
from desktop.settings import Settings


@pytest.fixture
def app(qapp: QApplication, tmp_path: Path, clock, qtbot) -> Iterator[App]:
    made = App(qapp, Settings(tmp_path / "settings.ini"), Faults(tmp_path / "log"), clock=clock)
    made.window.first.keep_in(tmp_path)
    made.start()
    yield made
    made.window.close()
    for thing in (made.window, made.theme, made):
        thing.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def words_on(app: App) -> str:
    return "\n".join(label.text() for label in app.window.fault.findChildren(QLabel))


def ways_on(app: App) -> list[str]:
    return [button.text() for button in app.window.fault.buttons]


PATH = Path("/books/Slate.stillroom")
SINCE = datetime.fromisoformat("2025-04-10T11:00:00+02:00")
FAULTS = [
    (db.MissingBook(PATH), ["Try again", "Look at the backup", "Other backups…"]),
    (db.NotABook(PATH), []),
    (db.AlteredBook(PATH, ("view spy",)), ["Look at the backup", "Other backups…"]),
    (db.NewerBook(PATH, 9, 2), ["Look at the backup", "Other backups…"]),
    (db.LockedBook(PATH, "bench-2", SINCE), ["Try again", "Look at the backup", "Other backups…"]),
    (db.LockedBook(PATH, "bench-2", SINCE, elsewhere=True),
     ["Try again", "Look at the backup", "Other backups…", "Nobody has it open"]),
    (db.DamagedBook(PATH), ["Look at the backup", "Other backups…"]),
    (db.ReadOnlyBook(PATH), ["Try again"]),
    (db.DiskFull(PATH), ["Try again"]),
    (PermissionError(13, "Permission denied", str(PATH)), ["Try again"]),
]


@pytest.mark.parametrize("error, ways", FAULTS, ids=lambda x: type(x).__name__ if isinstance(x, Exception) else "")
def test_every_fault_of_opening_has_a_page(app: App, error: Exception, ways: list[str]) -> None:
    app.window.fault.show_fault(error, PATH, (datetime(2025, 4, 9, 18, 30), PATH))
    app.window.show_fault()
    shown = ways_on(app)
    assert [shown[i].startswith(way) for i, way in enumerate(ways)] == [True] * len(ways)
    assert shown[len(ways) :] == ["Choose another book", "Copy details"]
    assert wording.fault(error) in words_on(app) and wording.fault_title(error) in words_on(app)
    assert QApplication.focusWidget() is app.window.fault.buttons[0]


def test_a_backup_is_offered_only_where_there_is_one(app: App) -> None:
    app.window.fault.show_fault(db.DamagedBook(PATH), PATH, None)
    assert ways_on(app) == ["Choose another book", "Copy details"]


def test_missing_book_comes_back_by_trying_again(app: App, tmp_path: Path, clock) -> None:
    path = tmp_path / "D.stillroom"
    assert not app.open_book(path)
    assert app.window.pages.currentWidget() is app.window.fault and "not there" in words_on(app)
    make_demo(path, clock).close()
    app.window.fault.buttons[0].click()
    assert app.book is not None and app.window.pages.currentWidget() is app.window.bench


def test_a_file_that_is_no_book_is_left_alone(app: App, tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear reader, this is a letter and no book. " * 40)
    before = path.read_bytes()
    assert not app.open_book(path)
    assert "not a Stillroom book" in words_on(app) and path.read_bytes() == before
    next(b for b in app.window.fault.buttons if b.text() == "Choose another book").click()
    assert app.window.pages.currentWidget() is app.window.first


def test_locked_book_names_its_holder_and_its_backup_can_be_looked_at(app: App, tmp_path: Path, clock) -> None:
    path = tmp_path / "D.stillroom"
    with make_demo(path, clock) as held:
        held.backup_if_due()
        assert not app.open_book(path)
        assert "held by" in app.window.fault.words and str(os.getpid()) in app.window.fault.words
        look = next(b for b in app.window.fault.buttons if b.text().startswith("Look at the backup"))
        look.click()
        assert app.book is not None and app.book.read_only and "backup of" in app.window.band.words.text()
        assert "look at only" in app.window.windowTitle()


def test_nothing_can_be_changed_in_a_look(app: App, tmp_path: Path, clock) -> None:
    path = tmp_path / "D.stillroom"
    make_demo(path, clock).close()
    assert app.look_at(path)
    assert app.session.edit("x", db_material()) is None
    assert "nothing can be kept" in app.window.notice.text
    assert app._settings.last_book is None


def test_a_look_can_be_made_a_book_to_go_on_with(app: App, tmp_path: Path, clock, qtbot) -> None:
    path = tmp_path / "D.stillroom"
    make_demo(path, clock).close()
    assert app.look_at(path)
    app.files.save_copy(tmp_path / "again.stillroom")
    qtbot.waitUntil(lambda: "again.stillroom" in app.window.notice.text)
    assert app.open_book(tmp_path / "again.stillroom") and not app.book.read_only


def db_material():
    from perfumery import Material

    return Material(name="Nothing")


def test_fault_leaves_the_open_book_open(app: App, tmp_path: Path, clock) -> None:
    assert app.new_demo(tmp_path / "D.stillroom")
    assert not app.open_book(tmp_path / "gone.stillroom")
    assert app.book is not None and app.book.path == tmp_path / "D.stillroom"
    app.window.commands["page_bench"].trigger()
    assert app.window.pages.currentWidget() is app.window.bench


def test_details_can_be_copied(app: App, tmp_path: Path) -> None:
    app.open_book(tmp_path / "gone.stillroom")
    app.window.fault.buttons[-1].click()
    copied = QApplication.clipboard().text()
    assert "gone.stillroom" in copied and "PySide6" in copied


# the program's own faults -----------------------------------------------------------------------------------------------


@pytest.fixture
def faults(tmp_path: Path) -> Iterator[Faults]:
    made = Faults(tmp_path / "state" / "stillroom")
    hooks = sys.excepthook, threading.excepthook
    made.install()
    yield made
    made.remove()
    sys.excepthook, threading.excepthook = hooks
    faulthandler.enable(sys.__stderr__)  # as pytest had it


def raised(text: str) -> tuple:
    try:
        raise ValueError(text)
    except ValueError:
        return sys.exc_info()


def test_what_nobody_caught_is_logged_and_told(faults: Faults, caplog) -> None:
    told: list[str] = []
    faults.told = told.append
    sys.excepthook(*raised("a slip"))
    assert told == ["ValueError: a slip"]
    assert "a slip" in faults.file.read_text() and "a slip" in faults.report()
    assert [r.levelname for r in caplog.records] == ["ERROR"]


def test_faults_of_threads_are_told_too(faults: Faults, caplog) -> None:
    told: list[str] = []
    faults.told = told.append
    thread = threading.Thread(target=lambda: 1 / 0)
    thread.start()
    thread.join()
    assert told == ["ZeroDivisionError: division by zero"]


def test_program_runs_without_a_log_where_none_can_be_written(tmp_path: Path, caplog, capsys) -> None:
    (tmp_path / "file").touch()
    faults = Faults(tmp_path / "file" / "log")
    hooks = sys.excepthook, threading.excepthook
    faults.install()
    try:
        sys.excepthook(*raised("no log"))
    finally:
        faults.remove()
        sys.excepthook, threading.excepthook = hooks
    assert "no log" in capsys.readouterr().err and "there is no log" in faults.report()


def test_report_tells_versions_and_the_end_of_the_log(faults: Faults, qapp: QApplication) -> None:
    logging.getLogger("stillroom").info("a line of the log")
    report = faults.report("No book is open.")
    assert all(part in report for part in ("Stillroom", "Python", "Qt", "No book is open.", "a line of the log"))


def test_log_lies_in_the_folder_for_states(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    if not sys.platform.startswith("linux"):
        pytest.skip("other systems have other folders")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert log_folder() == tmp_path / "stillroom"


def test_panel_shows_and_its_report_is_copied(app: App, caplog) -> None:
    panel = app.window.report
    assert not panel.isVisible()
    app._faults._on_exception(*raised("in the middle of work"))
    QApplication.processEvents()
    assert panel.isVisible()
    panel.buttons[0].click()
    assert "in the middle of work" in QApplication.clipboard().text()
    assert "clipboard" in app.window.notice.text
    panel.buttons[1].click()
    assert not panel.isVisible()


def test_a_fault_in_the_worker_is_said_on_the_quiet_line(app: App, tmp_path: Path, qtbot) -> None:
    assert app.new_demo(tmp_path / "D.stillroom")
    app.files.save_copy(tmp_path / "no such folder" / "copy.stillroom")
    qtbot.waitUntil(lambda: app.window.notice._words.property("role") == "wrong")
    assert app.window.notice.text.endswith(".")


def test_book_can_be_opened_again_after_a_look_round(tmp_path: Path, clock, app: App) -> None:
    path = tmp_path / "D.stillroom"
    assert app.new_demo(path)
    app.close_book()
    with Book.open(path, clock) as book:
        assert book.name

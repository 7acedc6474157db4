# SPDX-License-Identifier: MIT
"""The running program: one window, at most one open book, one clock.

Only this module opens a book into the window. The window is shown first and filled after its first paint; checks and backups run
in one worker, their outcome is one quiet line.
"""

from __future__ import annotations

import gc
import logging
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Qt, QTimer, QUrl, Signal
from PySide6.QtGui import QDesktopServices, QGuiApplication
from PySide6.QtWidgets import QApplication

from db import Book, BookError, Cancelled, Progress, add_starter, make_demo, starter_words, system_clock
from desktop import figures, wording
from desktop.actions import FieldUndoFirst
from desktop.faults import Faults, program_version
from desktop.files import Files
from desktop.garbage import Garbage
from desktop.keeping import Keeping
from desktop.language import tr
from desktop.long_work import LongWork
from desktop.notices import DueNotices
from desktop.page_makers import import_pages, makers
from desktop.session import Session
from desktop.settings import Settings
from desktop.table_files import UnreadTable
from desktop.window import Window, make_window

TICK_MS = 10_000
UNSEEN_MS = 1_000
BACKUP_EVERY_TICKS = 60
CARE_AFTER_MS = 1_500
# What was begun by the program itself is named where it fails: nobody is looking at it.
NOT_DONE = {"backup": tr("No backup could be made."), "start": tr("The book could not be checked.")}
_log = logging.getLogger("stillroom.app")


class App(QObject):
    """Holds the window and the open book; `work` is the road of whatever takes long."""

    fault_told = Signal(str)

    def __init__(
        self, qt: QApplication, settings: Settings, faults: Faults, clock: Callable[[], datetime] = system_clock,
        window: Window | None = None,
    ) -> None:  # fmt: skip
        super().__init__(qt)
        self._qt, self._settings, self._faults, self._clock = qt, settings, faults, clock
        self.window = window or make_window(qt, settings)
        self.theme = self.window.theme
        self.keeping = Keeping(self, settings, self._work)
        self.files = Files(self, self._work)
        self._answers = {**self.keeping.answers, **self.files.answers}
        self._handlers = self._own_handlers()
        self.book: Book | None = None
        self.session: Session | None = None
        self._wanted: Path | None = None
        self._ticks = 0
        self.notices = DueNotices(settings, self)
        self.work = LongWork(self)
        self._garbage = Garbage()
        self.theme.turn = self.work.turn
        self._connect()
        FieldUndoFirst(qt, self)
        self._timer = QTimer(self, interval=TICK_MS)
        self._timer.setTimerType(Qt.TimerType.CoarseTimer)
        self._timer.timeout.connect(self._on_timer_timeout)
        self._timer.start()

    def clock(self) -> datetime:
        """Now, by the clock that was handed in."""
        return self._clock()

    def _own_handlers(self) -> dict[str, Callable[[], None]]:
        return {
            "new_book": self._ask_new, "open_book": self._ask_open, "demo_studio": self._ask_demo,
            "close_book": self.close_book, "about": lambda: self.window.show_about(program_version()),
            "log_folder": self._open_log_folder, "copy_report": self._copy_report,
            "again_today": self._ask_again, "backups": self.keeping.show, "leave_look": self.keeping.leave_look,
            **self.files.asked,
        }  # fmt: skip

    def _connect(self) -> None:
        window = self.window
        window.asked.connect(self._on_window_asked)
        window.left.connect(self.leave)
        window.first.new_wanted.connect(self.new_book)
        window.first.open_wanted.connect(self.open_book)
        window.first.demo_wanted.connect(self.new_demo)
        window.first.backups_wanted.connect(self.keeping.show)
        window.fault.retry_wanted.connect(self.open_book)
        window.fault.look_wanted.connect(lambda path: self.look_at(path, window.fault.path))
        window.fault.backups_wanted.connect(self.keeping.show)
        window.fault.break_wanted.connect(lambda path: self.open_book(path, break_lock=True))
        window.fault.first_wanted.connect(self.show_begin)
        window.fault.details_wanted.connect(self._copy_report)
        window.report.copy_wanted.connect(self._copy_report)
        window.recent_menu.aboutToShow.connect(self._on_recent_menu_about_to_show)
        self.notices.chosen.connect(self._on_notice_chosen)
        self.work.told.connect(window.notice.work.tell)
        self.work.ended.connect(window.notice.work.end)
        self.work.waiting.connect(self._on_work_waiting)
        self.work.turned.connect(self._on_work_turned)
        window.notice.work.cancelled.connect(self.work.cancel)
        self.fault_told.connect(self._on_fault_told)
        self._faults.told = self.fault_told.emit

    # starting and leaving ---------------------------------------------------------------------------------------------

    def start(self, path: Path | None = None) -> None:
        """Shows the window; after its first paint opens the named book, else the last one, else shows the first page."""
        self._wanted = path or self._settings.last_book
        self._show_recent()
        if self._wanted is None:
            self.window.first.start_new()
        self.window.painted.connect(self._open_wanted, Qt.ConnectionType.QueuedConnection)
        if self.window.was_painted:
            QTimer.singleShot(0, self, self._open_wanted)
        self.window.show()
        # a window that is covered or on another desktop is not painted, but its book is wanted all the same
        QTimer.singleShot(UNSEEN_MS, self, self._open_wanted)

    def raise_window(self, path: Path | None = None) -> None:
        """What a second start does to the first: its window comes up, with the book that was asked for."""
        window = self.window
        window.setWindowState(window.windowState() & ~Qt.WindowState.WindowMinimized)
        window.show()
        window.raise_()
        window.activateWindow()
        if path is not None and (self.book is None or self.book.path != path):
            self.open_book(path)

    def leave(self) -> None:
        """Closes the book and ends the program."""
        self._timer.stop()
        self._put_away()
        self._settings.write()
        self._faults.told = None
        self._qt.quit()

    # books ------------------------------------------------------------------------------------------------------------

    def open_book(self, path: Path, *, break_lock: bool = False) -> bool:
        """Opens a book in place of the present one, a backup only to look into; on a fault the page says what is the matter, and
        it is False."""
        path = Path(path).absolute()
        if self.work.is_waiting:
            # one is just being opened or made: this one comes after it
            self._wanted = path
            return False
        if self.book is not None and self.book.path == path:
            self.window.show_first()
            return True
        backed_up = Book.backed_up_by(path)
        if backed_up is not None:
            # a backup that is written to is none any more
            return self.look_at(path, backed_up)
        return self._guarded(path, lambda progress: Book.open(path, self._clock, break_lock=break_lock, progress=progress))

    def look_at(self, path: Path, of: Path | None = None) -> bool:
        """Opens a copy of a book or backup for reading only; `of` is the book one goes back to from it."""
        looking = self.keeping.about_to_look(Path(path), of)
        if not self._guarded(Path(path), lambda _: Book.look(path, self._clock)):
            return False
        self.keeping.begin_look(looking)
        return True

    def new_book(self, path: Path, name: str, currency: str, starters: bool) -> bool:
        """Makes a book and opens it; why it could not be made is said on the first page, and it is False."""

        def make() -> Book:
            book = Book.create(path, name, currency, self._clock)
            try:
                if starters:
                    add_starter(book)
                else:
                    book.put(*starter_words(book.new_key), what=tr("smell words"))
            except BaseException:
                book.close()
                path.unlink(missing_ok=True)
                raise
            return book

        return self._made(path, make)

    def new_demo(self, path: Path) -> bool:
        """Makes the demo studio and opens it."""
        return self._made(path, lambda: make_demo(path, self._clock))

    def close_book(self) -> None:
        """Closes the book and shows the first page; the next start shows it too."""
        self._put_away()
        self._settings.closed()
        self.show_begin()

    def _made(self, path: Path, make: Callable[[], Book]) -> bool:
        def made(progress: Progress) -> Book:
            path.parent.mkdir(parents=True, exist_ok=True)
            book = make()
            if not progress(0, 0):
                book.close()
                raise Cancelled(path)
            return book

        try:
            with self._garbage.held():
                book = self.work.wait(lambda progress: _made_ready(made(progress)), tr("Making {book}", book=path.stem))
        except (BookError, OSError) as error:
            if isinstance(error, Cancelled):
                # at whatever moment it was cancelled: where something else stood at this place it would not have been begun
                path.unlink(missing_ok=True)
            _log.info("could not make %s: %r", path, error)
            self.window.first.say(wording.fault(error))
            return False
        self._take_up(book)
        return True

    def _guarded(self, path: Path, opening: Callable[[Progress], Book]) -> bool:
        if self.work.is_waiting:
            return False
        try:
            with self._garbage.held():
                book = self.work.wait(lambda progress: _made_ready(opening(progress)), tr("Opening {book}", book=path.stem))
        except Cancelled:
            self.window.notice.say(tr("{book} was not opened; all that is kept in it is as it was.", book=path.stem))
            if self.book is None:
                self.show_begin()
            return False
        except (BookError, OSError) as error:
            _log.info("could not open %s: %r", path, error)
            self._faults.last = self._faults.last or f"{type(error).__name__}: {error}"
            newest = next(((at, file) for at, file, _ in Book.backups_of(path)), None)
            self.window.fault.show_fault(error, path, newest)
            self.window.show_fault()
            return False
        except Exception:
            # a fault of the program is told as one; the window does not wait for ever beside it
            if self.book is None:
                self.show_begin()
            raise
        self._take_up(book)
        return True

    def _take_up(self, book: Book) -> None:
        """Shows an opened book in place of the present one, which is closed first."""
        from desktop.pages.bench.page import BenchPage  # built after the first paint, so imported after it

        before = None if self.book is None else self.book.path
        self.work.turn()
        self._put_away()
        self.work.turn()
        self.book = book
        self.session = Session(book, self.theme, self._settings, self)
        self.session.work = self.work
        if not book.read_only:
            self._settings.opened(book.path)
        self._choose_what_was_chosen()
        if not book.read_only:
            self.session.chosen.connect(self._note_what_is_chosen)
        with self._garbage.held():
            bench = BenchPage(self.session, self.window.pages)
            self.work.turn()
            bench.formula.refresh()
            self.work.turn()
            self.window.show_book(self.session, bench, makers(self.window, self.session))
            self.work.turn()
        self.work.slices(((0, 0) for _ in book.read_ahead()), lambda _: self._on_read_ahead())
        if before is not None and not book.read_only:
            told = tr("{book} is open; {before} was closed.", book=book.path.stem, before=before.stem)
            self.window.notice.say(told, "done")
        if not book.read_only:
            self.notices.watch(self.session)
            # the first screen comes first: reading the whole file would slow the queries that fill it
            QTimer.singleShot(CARE_AFTER_MS, self, lambda: self._look_after(book))
    def _choose_what_was_chosen(self) -> None:
        """The version that was on screen last, else the newest project."""
        assert self.book is not None and self.session is not None
        from perfumery import Project, Version

        kept = int(self._settings.number(f"chosen/{self.book.uid}", 0))
        if kept and self.book.get(Version, kept) is not None:
            self.session.choose_version(kept)
            return
        projects = [p for p in self.book.all(Project) if p.retired_on is None]
        self.session.choose_project(projects[-1].key if projects else None)

    def _on_read_ahead(self) -> None:
        self.window.show_due()
        gc.freeze()

    def _note_what_is_chosen(self) -> None:
        """At once and not only at the end: a program that was cut off comes back to where it was."""
        if self.book is not None and self.session is not None and self.session.version_key is not None:
            self._settings.keep(f"chosen/{self.book.uid}", self.session.version_key)

    def _put_away(self) -> None:
        """Closes the present book, once the worker has stopped; what it was about is said where somebody had asked for it."""
        stopped = self.work.stop()
        if self.book is None:
            return
        if self.session is not None and self.session.version_key is not None and not self.book.read_only:
            self._settings.keep(f"chosen/{self.book.uid}", self.session.version_key)
        self.notices.watch(None)
        self.window.take_book()
        if stopped:
            told = tr("{work} was stopped, because its book was closed. Nothing half done was left.", work=stopped)
            self.window.notice.say(told, "refused")
        if self.session is not None:
            self.session.deleteLater()
        self.book.close()
        self.book = self.session = self.keeping.looking = None
        self._garbage.leave()

    def _look_after(self, book: Book) -> None:
        """The check and the backup of every start, in the worker."""
        if book is self.book:
            self._work(import_pages, "pages")
            self._work(book.quick_check, "start")
            self._work(book.backup_if_due, "backup")
            self.keeping.look_at_place(book)

    # the worker -------------------------------------------------------------------------------------------------------

    def _work(self, call: Callable[[Progress], Any], kind: str, *about: Any, what: str = "") -> None:
        """Runs a call in the worker, told of as `what`; what comes of it is handed to `_on_worked`."""
        self.work.run(call, lambda answer: self._on_worked(kind, about, answer), what)

    def _on_worked(self, kind: str, about: tuple[Any, ...], answer: Any) -> None:
        notice = self.window.notice
        if isinstance(answer, Cancelled):
            notice.say(self.files.stopped.get(kind, wording.fault(answer)))
        elif isinstance(answer, UnreadTable):
            notice.say(str(answer), "refused")
        elif isinstance(answer, BaseException):
            notice.say(f"{NOT_DONE.get(kind, '')} {wording.fault(answer)}".strip(), "refused")
        elif kind in self._answers:
            self._answers[kind](*about, answer)
        elif kind == "start" and answer:
            notice.say(wording.sentences(answer), "refused")
        elif kind == "backup" and answer is not None:
            _log.info("backup %s", answer)

    def _on_window_asked(self, command: str) -> None:
        if not self.work.is_waiting:
            self._handlers[command]()

    def _on_work_waiting(self, yes: bool) -> None:
        """While a book is opened or made the window is drawn, but nothing else is begun in it."""
        self.window.hold_still(yes)
        if not yes:
            QTimer.singleShot(0, self, self._open_wanted)

    def _on_work_turned(self) -> None:
        """Opens the book that was asked for while a page or another book was being shown."""
        if self._wanted is not None:
            QTimer.singleShot(0, self, self._open_wanted)

    # what the menus ask -----------------------------------------------------------------------------------------------

    def show_begin(self) -> None:
        """The first page with the books opened last."""
        self._show_recent()
        self.window.show_begin()

    def _show_recent(self) -> None:
        recent = self._settings.recent
        kept = {path for path in recent if not path.is_file() and Book.backups_of(path)}
        self.window.first.show_recent(recent, self._clock(), kept)

    def _ask_new(self) -> None:
        self.show_begin()
        self.window.first.start_new()

    def _ask_open(self) -> None:
        self.window.first.choose_file()

    def _ask_demo(self) -> None:
        self.show_begin()
        self.window.first.start_demo()

    def _ask_again(self) -> None:
        if self.session is not None:
            view = self.window.show_page("compare").show_view("again today")
            if self.session.version_key is not None:
                view.go_to(self.session.version_key)

    def _open_log_folder(self) -> None:
        folder = self._faults.folder
        if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder))):
            self.window.notice.say(tr("The log is in {folder}.", folder=folder))

    def _copy_report(self) -> None:
        about = tr("No book is open.")
        if self.book is not None:
            about = tr("Book of {size}.", size=figures.file_size(self.book.path.stat().st_size))
        QGuiApplication.clipboard().setText(self._faults.report(about))
        self.window.notice.say(tr("The report is on the clipboard (at {at}). Nothing was sent.", at=figures.clock(self._clock())))

    # what happens -----------------------------------------------------------------------------------------------------

    def _on_timer_timeout(self) -> None:
        if self.session is None or self.book is None:
            self._garbage.tick(0)
            return
        self.session.ticked.emit(self.book.now())
        self._garbage.tick(self.book.changes)
        self._ticks += 1
        if self._ticks % BACKUP_EVERY_TICKS == 0 and not self.book.read_only:
            self._work(self.book.backup_if_due, "backup")

    def _on_notice_chosen(self, strip: int) -> None:
        self.raise_window()
        self.window.read_strip(strip)

    def _open_wanted(self) -> None:
        wanted, self._wanted = self._wanted, None
        if wanted is not None:
            self.open_book(wanted)

    def _on_recent_menu_about_to_show(self) -> None:
        menu = self.window.recent_menu
        menu.clear()
        for path in self._settings.recent:
            action = menu.addAction(path.stem, lambda p=path: self.open_book(p))
            action.setToolTip(str(path))
            action.setEnabled(path.is_file())
        if menu.isEmpty():
            menu.addAction(tr("No book was opened yet")).setEnabled(False)

    def _on_fault_told(self, line: str) -> None:
        _log.info("told: %s", line)
        self.window.report.tell()


def _made_ready(book: Book) -> Book:
    """The book once what its first screen needs is read and imported, beside the screen."""
    try:
        import desktop.pages.bench.page  # noqa: F401

        # what is damaged says so where it is shown
        with suppress(BookError):
            book.material_rows()
    except BaseException:
        book.close()
        raise
    return book

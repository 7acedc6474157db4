# SPDX-License-Identifier: MIT
"""The file of a book: looked at before it is touched, locked, opened on one connection for ever, written in transactions.

Order of opening: header read (foreign, newer and damaged files are refused untouched) → lock → connection → exclusive →
structure → ladder. The file is never opened by plain `open()` while SQLite holds it: closing such a handle would drop
SQLite's lock.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import sqlite3
import stat
import tempfile
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout
from sqlalchemy import Connection, create_engine, event
from sqlalchemy.pool import StaticPool

from db import steps
from db.errors import (
    AlteredBook,
    BookExists,
    Cancelled,
    DamagedBook,
    LockedBook,
    NewerBook,
    NotABook,
    Progress,
    ReadOnlyBook,
    TakenBook,
    fault_of,
    go_on,
    told_apart,
)
from perfumery.text import fold

_MAGIC = b"SQLite format 3\x00"
_BUSY_MS = 500
# Pages copied at one go by a snapshot, and how long edits are then let through.
_SLICE_PAGES, _PAUSE_S = 200, 0.001
# Steps of SQLite's own machine between two questions whether to go on: some milliseconds.
_STEPS = 50_000


class BookFile:
    """One open file: `sql` the only connection, `raw` the driver's connection under it.

    `alone` is held by whatever must not see half a transaction of another thread. `folder` is set for a look: the folder of
    its copy, which goes when it is closed.
    """

    def __init__(self, path: Path, raw: sqlite3.Connection, lock: BookLock | None, folder: Path | None = None) -> None:
        self.path = path
        self.raw = raw
        self.folder = folder
        self.alone = threading.Lock()
        self._copying = threading.Lock()
        self._lock = lock
        self._identity = _identity(path)
        raw.create_function("folded", 1, fold, deterministic=True)
        self._engine = create_engine("sqlite://", creator=lambda: raw, poolclass=StaticPool, isolation_level="AUTOCOMMIT")
        event.listen(self._engine, "handle_error", self._tell_apart)
        self.sql: Connection = self._engine.connect()

    def _tell_apart(self, context: Any) -> None:
        """A read that meets a damaged page says so in our terms, wherever it stands."""
        fault = fault_of(self.path, context.original_exception)
        if fault is not None:
            raise fault from context.original_exception

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """One transaction: committed when the block ends, rolled back when it raises."""
        with self.alone, told_apart(self.path):
            if _identity(self.path) != self._identity:
                raise TakenBook(self.path, "moved or replaced while open")
            self.raw.execute("BEGIN IMMEDIATE")
            try:
                yield self.sql
                self.raw.execute("COMMIT")
            except BaseException:
                # a full disk may have rolled back by itself already
                if self.raw.in_transaction:
                    self.raw.execute("ROLLBACK")
                raise

    def snapshot(self, to: Path, progress: Progress = go_on) -> None:
        """Copies the book as it stands into a file, on this same connection, while edits go on between its slices. Counted in
        pages. Raises Cancelled."""
        partial = to.with_name(f".{to.name}.part-{os.getpid()}")
        try:
            with self._copying, told_apart(to):
                copy = sqlite3.connect(partial)
                try:
                    with self.alone:
                        self.raw.backup(copy, pages=_SLICE_PAGES, progress=self._between_slices(progress))
                    with stoppable(copy, to, progress):
                        said = copy.execute("PRAGMA quick_check").fetchone()[0]
                finally:
                    copy.close()
                if said != "ok":
                    raise DamagedBook(to, said)
                with partial.open("rb+") as done:
                    os.fsync(done.fileno())
                partial.replace(to)
        except DamagedBook as error:
            raise DamagedBook(self.path, error.detail) from error
        finally:
            _remove(partial)

    @contextmanager
    def copy(self, progress: Progress = go_on) -> Iterator[sqlite3.Connection]:
        """A copy of the book as it stands, in memory, for long reads in a worker: the book itself stays free for edits. Raises
        Cancelled, also from what is then asked of the copy."""
        with told_apart(self.path):
            memory = sqlite3.connect(":memory:", check_same_thread=False)
            try:
                with self._copying, self.alone:
                    self.raw.backup(memory, pages=_SLICE_PAGES, progress=self._between_slices(progress))
                with stoppable(memory, self.path, progress):
                    yield memory
            finally:
                memory.close()

    def _between_slices(self, progress: Progress) -> Callable[[int, int, int], None]:
        def pause(_: int, remaining: int, pages: int) -> None:
            # the last slice must not be copied while an edit is half written, so slices and edits take turns
            self.alone.release()
            time.sleep(_PAUSE_S)
            self.alone.acquire()
            if not progress(pages - remaining, pages):
                raise Cancelled(self.path)

        return pause

    def close(self) -> None:
        """Closes the connection once a copy that is being made is done, then frees the lock."""
        with self._copying, self.alone:
            try:
                self.sql.close()
                self._engine.dispose()
                self.raw.close()
            finally:
                if self._lock is not None:
                    self._lock.release()
                if self.folder is not None:
                    shutil.rmtree(self.folder, ignore_errors=True)


class BookLock:
    """An operating-system lock on a small file beside the book, with a note of who has it.

    The system frees it when the holder dies. The first byte is empty and the note follows it: a system that locks the first
    byte itself still lets others read the note, and a file of another program is told apart by it.
    """

    def __init__(self, book: Path) -> None:
        self._book = book
        # one lock whichever link a book is opened by
        real = Path(os.path.realpath(book))
        self.path = real.with_name(real.name + ".lock")
        self._lock = FileLock(self.path, timeout=0, thread_local=False)
        self._signed = False

    def acquire(self, *, break_lock: bool) -> None:
        """Takes the lock. Raises LockedBook with the holder's note, ReadOnlyBook where the folder cannot be written.

        A note left by another machine is believed, since its lock may not reach this one: only break_lock overrides it.
        """
        if self._lock.is_locked:
            return
        with told_apart(self._book):
            try:
                self._lock.acquire()
            except Timeout:
                who, since, _ = self._note()
                raise LockedBook(self._book, who, since) from None
        who, since, host = self._note()
        if host not in ("", socket.gethostname()) and not break_lock:
            self.release()
            raise LockedBook(self._book, who, since, elsewhere=True)

    def sign(self, now: datetime) -> None:
        """Writes the note. Raises LockedBook where the file beside the book is something else's."""
        note = {"host": socket.gethostname(), "pid": os.getpid(), "since": now.isoformat(timespec="seconds")}
        with told_apart(self._book), self.path.open("r+b") as file:
            if file.read(1) not in (b"", b"\0"):
                raise LockedBook(self._book, by_file=self.path.name)
            self._signed = True
            file.seek(0)
            file.truncate()
            file.write(b"\0" + json.dumps(note).encode())

    def release(self) -> None:
        """Frees the lock, the file taken away where it holds our note; where the system forbids that order, afterwards."""
        if self._lock.is_locked and self._signed:
            self._signed = False
            try:
                self.path.unlink(missing_ok=True)
            except OSError:
                self._lock.release()
                with suppress(OSError):
                    self.path.unlink(missing_ok=True)
        self._lock.release()

    def _note(self) -> tuple[str, datetime | None, str]:
        try:
            with self.path.open("rb") as file:
                file.seek(1)
                note = json.loads(file.read(4096))
            return f"{note['host']} ({note['pid']})", datetime.fromisoformat(note["since"]), str(note["host"])
        except (OSError, ValueError, KeyError, TypeError):
            return "", None, ""


@contextmanager
def stoppable(raw: sqlite3.Connection, path: Path, progress: Progress) -> Iterator[None]:
    """Lets one long statement of SQLite be stopped. Nobody knows how far it is. Raises Cancelled."""
    if progress is go_on:
        yield
        return
    raw.set_progress_handler(lambda: not progress(0, 0), _STEPS)
    try:
        yield
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode != sqlite3.SQLITE_INTERRUPT:
            raise
        raise Cancelled(path) from error
    finally:
        raw.set_progress_handler(None, 0)


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _remove(database: Path) -> None:
    """Takes away what is left of an unfinished database."""
    for leftover in (database, database.with_name(database.name + "-journal")):
        with suppress(OSError):
            leftover.unlink(missing_ok=True)


def _journal_of(path: Path) -> Path:
    real = Path(os.path.realpath(path))
    return real.with_name(real.name + "-journal")


def step_of(path: Path) -> int:
    """The schema step a closed file was made by, from its header alone.

    Raises MissingBook, NotABook, NewerBook, DamagedBook, ReadOnlyBook. Never call it for a file that is open.
    """
    with told_apart(path):
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise NotABook(path, "not a file" if not stat.S_ISDIR(found.st_mode) else "a folder")
        with path.open("rb") as file:
            header = file.read(100)
    if not header.startswith(_MAGIC):
        raise NotABook(path, "not an SQLite file")
    if len(header) < 100:
        raise DamagedBook(path, "cut short")
    step, application_id = int.from_bytes(header[60:64]), int.from_bytes(header[68:72])
    if application_id != steps.APPLICATION_ID:
        raise NotABook(path, f"made by another program (application id {application_id:#x})")
    if step > steps.KNOWN:
        raise NewerBook(path, step, steps.KNOWN)
    page = int.from_bytes(header[16:18])
    page = 65536 if page == 1 else page
    pages = int.from_bytes(header[28:32])
    if found.st_size < pages * page and not _journal_of(path).exists():
        raise DamagedBook(path, f"{found.st_size} bytes where {pages * page} are expected")
    return step


def create(path: Path, fill: Callable[[sqlite3.Connection], None]) -> None:
    """Makes a new book beside its place and moves it in when it is whole. Raises BookExists and the errors of a full or
    read-only folder; nothing is left behind by a failure."""
    if path.exists():
        raise BookExists(path)
    partial = path.with_name(f".{path.name}.new-{os.getpid()}")
    try:
        with told_apart(path):
            raw = sqlite3.connect(partial, isolation_level=None)
            try:
                raw.execute("BEGIN IMMEDIATE")
                steps.climb(raw, 0)
                fill(raw)
                raw.execute("COMMIT")
            finally:
                raw.close()
            # a link, not a rename: it fails where another book has been put there meanwhile
            try:
                os.link(partial, path)
            except FileExistsError as error:
                raise BookExists(path) from error
            except OSError:
                partial.rename(path)
    finally:
        _remove(partial)


def open_file(
    path: Path, now: datetime, *, break_lock: bool, before_steps: Callable[[BookFile, int], None]
) -> BookFile:
    """Opens a book for writing. `before_steps(file, from_step)` is called when steps are due, to make the backup first."""
    lock = BookLock(path)
    raw: sqlite3.Connection | None = None
    file: BookFile | None = None
    try:
        with told_apart(path):
            # where a lock file stands the book may be open, in this very process: not even its header is read before
            if lock.path.exists():
                lock.acquire(break_lock=break_lock)
            step = step_of(path)
            if not os.access(path, os.W_OK):
                raise ReadOnlyBook(path, "the file is write-protected")
            lock.acquire(break_lock=break_lock)
            lock.sign(now)
            killed = _journal_of(path).exists()
            raw = _connect(path)
            _check_structure(path, raw, step)
            raw.execute("PRAGMA journal_mode = DELETE")
            if killed:
                _take_over_journal(raw, step)
            file = BookFile(path, raw, lock)
            if step < steps.KNOWN:
                before_steps(file, step)
                with file.write():
                    steps.climb(raw, step)
        return file
    except BaseException:
        if file is not None:
            file.close()
        else:
            if raw is not None:
                raw.close()
            lock.release()
        raise


@contextmanager
def kept_beside(raw: sqlite3.Connection, folder: Path) -> Iterator[Path]:
    """A book in memory as a file in a folder, for as long as it is asked for."""
    path = folder / f".copy-{os.getpid()}.stillroom"
    disk = sqlite3.connect(path)
    try:
        raw.backup(disk)
        disk.close()
        yield path
    finally:
        disk.close()
        _remove(path)


def open_look(path: Path) -> BookFile:
    """Opens a copy of a closed book or backup for reading only; the copy goes when it is closed."""
    lock = BookLock(path)
    with told_apart(path):
        folder = Path(tempfile.mkdtemp(prefix="stillroom-look-"))
    copy = folder / path.name
    try:
        if lock.path.exists():
            # nobody writes where nobody can
            with suppress(ReadOnlyBook):
                lock.acquire(break_lock=False)
        with told_apart(path):
            step = step_of(path)
            shutil.copyfile(path, copy)
            if _journal_of(path).exists():
                shutil.copyfile(_journal_of(path), _journal_of(copy))
            raw = _connect(copy)
            try:
                _check_structure(path, raw, step)
                steps.climb(raw, step)
            finally:
                raw.close()
            raw = sqlite3.connect(f"{copy.as_uri()}?mode=ro", uri=True, isolation_level=None, check_same_thread=False)
            return BookFile(copy, raw, None, folder)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    finally:
        lock.release()


def _connect(path: Path) -> sqlite3.Connection:
    """The connection of a file that is this program's alone from now on; what a crash left half written is rolled back."""
    raw = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw", uri=True, isolation_level=None, check_same_thread=False,
        timeout=_BUSY_MS / 1000,
    )  # fmt: skip
    try:
        raw.execute("PRAGMA locking_mode = EXCLUSIVE")
        raw.execute("PRAGMA synchronous = FULL")
        raw.execute("PRAGMA foreign_keys = ON")
        raw.execute("PRAGMA trusted_schema = OFF")
        raw.execute("BEGIN EXCLUSIVE")
        raw.execute("COMMIT")
    except BaseException:
        raw.close()
        raise
    return raw


def _take_over_journal(raw: sqlite3.Connection, step: int) -> None:
    """Lets SQLite write once, so that it takes its journal away when the book is closed.

    A journal that a killed process had only just begun holds nothing and is never removed by reading; to remove it by hand
    could take the journal of a connection that has it open.
    """
    # where there is no room to write the book can be read all the same, and an empty journal does no harm
    with suppress(sqlite3.OperationalError):
        raw.execute(f"PRAGMA user_version = {step}")


def _check_structure(path: Path, raw: sqlite3.Connection, step: int) -> None:
    found, expected = steps.structure(raw), steps.expected(step)
    if found != expected:
        names = {name for name in found.keys() | expected.keys() if found.get(name) != expected.get(name)}
        raise AlteredBook(path, tuple(sorted(names)))


def new_uid() -> str:
    """A random name of a book, to tell copies of one book from other books."""
    return uuid.uuid4().hex

# SPDX-License-Identifier: MIT
"""The file of a book: looked at before it is touched, locked, opened on one connection for ever, written in transactions.

Order of opening: header read (foreign, newer and damaged files are refused untouched) → lock → connection → exclusive →
ladder. The file is never opened by plain `open()` while SQLite holds it: closing such a handle would drop SQLite's lock.
"""

from __future__ import annotations

import json
import os
import socket
import sqlite3
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from filelock import FileLock, Timeout
from sqlalchemy import Connection, create_engine
from sqlalchemy.pool import StaticPool

from db import steps
from db.errors import (
    AlteredBook,
    BookExists,
    DamagedBook,
    LockedBook,
    MissingBook,
    NewerBook,
    NotABook,
    ReadOnlyBook,
    fault_of,
    told_apart,
)

_MAGIC = b"SQLite format 3\x00"
_BUSY_MS = 500


class BookFile:
    """One open file: `sql` the only connection, `raw` the driver's connection under it."""

    def __init__(self, path: Path, raw: sqlite3.Connection, lock: BookLock | None) -> None:
        self.path = path
        self.raw = raw
        self._lock = lock
        self._identity = _identity(path)
        self._engine = create_engine("sqlite://", creator=lambda: raw, poolclass=StaticPool, isolation_level="AUTOCOMMIT")
        self.sql: Connection = self._engine.connect()

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """One transaction: committed when the block ends, rolled back when it raises."""
        if _identity(self.path) != self._identity:
            raise MissingBook(self.path, "moved or replaced while open")
        with told_apart(self.path):
            self.raw.execute("BEGIN IMMEDIATE")
            try:
                yield self.sql
                self.raw.execute("COMMIT")
            except BaseException:
                # a full disk may have rolled back by itself already
                if self.raw.in_transaction:
                    self.raw.execute("ROLLBACK")
                raise

    def snapshot(self, to: Path) -> None:
        """Copies the book as it stands into a new file, on this same connection, while edits may go on."""
        partial = to.with_name(f".{to.name}.part-{os.getpid()}")
        with told_apart(to):
            copy = None
            try:
                copy = sqlite3.connect(partial)
                self.raw.backup(copy, pages=200)
                if copy.execute("PRAGMA quick_check").fetchone()[0] != "ok":
                    raise DamagedBook(self.path, "the copy did not pass its check")
                copy.close()
                with partial.open("rb+") as done:
                    os.fsync(done.fileno())
                partial.replace(to)
            except OSError as error:
                raise fault_of(to, error) from error
            finally:
                if copy is not None:
                    copy.close()
                partial.unlink(missing_ok=True)

    def close(self) -> None:
        """Closes the connection, then frees the lock."""
        self.sql.close()
        self._engine.dispose()
        self.raw.close()
        if self._lock is not None:
            self._lock.release()


class BookLock:
    """An operating-system lock on a small file beside the book, with a note of who has it.

    The system frees it when the holder dies. The note starts at the second byte, so that a system that locks the first
    byte itself still lets others read it.
    """

    def __init__(self, book: Path) -> None:
        self._book = book
        self.path = book.with_name(book.name + ".lock")
        self._lock = FileLock(self.path, timeout=0)

    def take(self, now: datetime, *, break_lock: bool) -> None:
        """Takes the lock. Raises LockedBook with the holder's note, ReadOnlyBook where the folder cannot be written.

        A note left by another machine is believed, since its lock may not reach this one: only break_lock overrides it.
        """
        try:
            self._lock.acquire()
        except Timeout:
            who, since, _ = self._note()
            raise LockedBook(self._book, who, since) from None
        except OSError as error:
            raise fault_of(self._book, error) from error
        who, since, host = self._note()
        if host not in ("", socket.gethostname()) and not break_lock:
            self._lock.release()
            raise LockedBook(self._book, who, since, elsewhere=True)
        note = {"host": socket.gethostname(), "pid": os.getpid(), "since": now.isoformat(timespec="seconds")}
        try:
            with self.path.open("r+b") as file:
                file.truncate(1)
                file.seek(1)
                file.write(json.dumps(note).encode())
        except OSError as error:
            self.release()
            raise fault_of(self._book, error) from error

    def release(self) -> None:
        """Takes the file away and frees the lock; where the system forbids that order, the other way round."""
        try:
            self.path.unlink(missing_ok=True)
        except OSError:
            self._lock.release()
            with suppress(OSError):
                self.path.unlink(missing_ok=True)
        self._lock.release()

    @property
    def is_held(self) -> bool:
        """Whether this process has it."""
        return self._lock.is_locked

    def _note(self) -> tuple[str, datetime | None, str]:
        try:
            with self.path.open("rb") as file:
                file.seek(1)
                note = json.loads(file.read(4096))
            return f"{note['host']}, process {note['pid']}", datetime.fromisoformat(note["since"]), str(note["host"])
        except (OSError, ValueError, KeyError, TypeError):
            return "another program", None, ""


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        stat = path.stat()
    except OSError:
        return None
    return stat.st_dev, stat.st_ino


def step_of(path: Path) -> int:
    """The schema step a closed file was made by, from its header alone.

    Raises MissingBook, NotABook, NewerBook, DamagedBook, ReadOnlyBook. Never call it for a file that is open.
    """
    try:
        with path.open("rb") as file:
            header = file.read(100)
        size = path.stat().st_size
    except IsADirectoryError as error:
        raise NotABook(path, "a folder") from error
    except OSError as error:
        raise fault_of(path, error) from error
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
    journal = path.with_name(path.name + "-journal")
    if size < pages * page and not journal.exists():
        raise DamagedBook(path, f"{size} bytes where {pages * page} are expected")
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
    except OSError as error:
        raise fault_of(path, error) from error
    finally:
        with suppress(OSError):
            partial.unlink(missing_ok=True)


def open_file(
    path: Path, now: datetime, *, break_lock: bool, before_steps: Callable[[BookFile, int], None]
) -> BookFile:
    """Opens a book for writing. `before_steps(file, from_step)` is called when steps are due, to make the backup first."""
    lock = BookLock(path)
    taken_early = lock.path.exists() and path.exists()
    if taken_early:
        lock.take(now, break_lock=break_lock)
    try:
        step = step_of(path)
        if not os.access(path, os.W_OK):
            raise ReadOnlyBook(path, "the file is write-protected")
        if not taken_early:
            lock.take(now, break_lock=break_lock)
        raw = _connect(path)
    except BaseException:
        if lock.is_held:
            lock.release()
        raise
    file = None
    try:
        with told_apart(path):
            raw.execute("BEGIN EXCLUSIVE")
            raw.execute("COMMIT")
            file = BookFile(path, raw, lock)
            if step < steps.KNOWN:
                before_steps(file, step)
                with file.write():
                    steps.climb(raw, step)
            _check_structure(path, raw)
        return file
    except BaseException:
        if file is not None:
            file.close()
        else:
            raw.close()
            lock.release()
        raise


def open_look(path: Path) -> BookFile:
    """Opens a closed book or backup for reading only; the caller hands in a copy of its own."""
    step_of(path)
    raw = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None, check_same_thread=False)
    try:
        with told_apart(path):
            _check_structure(path, raw)
    except BaseException:
        raw.close()
        raise
    return BookFile(path, raw, None)


def _connect(path: Path) -> sqlite3.Connection:
    raw = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw", uri=True, isolation_level=None, check_same_thread=False,
        timeout=_BUSY_MS / 1000,
    )  # fmt: skip
    try:
        with told_apart(path):
            raw.execute("PRAGMA locking_mode = EXCLUSIVE")
            raw.execute("PRAGMA journal_mode = DELETE")
            raw.execute("PRAGMA synchronous = FULL")
            raw.execute("PRAGMA foreign_keys = ON")
            raw.execute("PRAGMA trusted_schema = OFF")
    except BaseException:
        raw.close()
        raise
    return raw


def _check_structure(path: Path, raw: sqlite3.Connection) -> None:
    found, expected = steps.structure(raw), steps.expected()
    if found != expected:
        names = {name for name in found.keys() | expected.keys() if found.get(name) != expected.get(name)}
        raise AlteredBook(path, tuple(sorted(names)))


def new_uid() -> str:
    """A random name of a book, to tell copies of one book from other books."""
    return uuid.uuid4().hex

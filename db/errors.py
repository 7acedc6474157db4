# SPDX-License-Identifier: MIT
"""What can be wrong with a book's file or its surroundings: one error a reason, each carrying its facts, no sentence."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from sqlalchemy.exc import DBAPIError

# How far a long call is: (done, of how much) → whether to go on. Where it answers False the call raises Cancelled.
Progress = Callable[[int, int], bool]


def go_on(_done: int, _of: int) -> bool:
    """The progress of a call nobody watches."""
    return True


class BookError(Exception):
    """Base of every error of a book's file; `path` is the file."""

    def __init__(self, path: Path, detail: str = "") -> None:
        super().__init__(f"{path}: {detail}" if detail else str(path))
        self.path = path
        self.detail = detail


class MissingBook(BookError):
    """There is no file at this path, or it was moved away while open."""


class TakenBook(MissingBook):
    """The file was moved away or replaced while the book was open; what is in memory is still whole."""


class BookExists(BookError):
    """A new book was to be made where something already stands."""


class NotABook(BookError):
    """The file is something else; it was not touched."""


class AlteredBook(BookError):
    """The file's structure is not the one this program makes: `names` are what was added, lost or changed."""

    def __init__(self, path: Path, names: tuple[str, ...]) -> None:
        super().__init__(path, ", ".join(names))
        self.names = names


class NewerBook(BookError):
    """Made by a later program: its step is `found`, this program knows up to `known`."""

    def __init__(self, path: Path, found: int, known: int) -> None:
        super().__init__(path, f"step {found}, known {known}")
        self.found, self.known = found, known


class LockedBook(BookError):
    """Open elsewhere: `who` has it ('host (process)', empty where nobody knows), `since` when known; `elsewhere` on another
    machine; `by_file` for a file in place of our note, which is some other program's."""

    def __init__(
        self, path: Path, who: str = "", since: datetime | None = None, *, elsewhere: bool = False, by_file: str = ""
    ) -> None:
        super().__init__(path, who or by_file)
        self.who, self.since, self.elsewhere, self.by_file = who, since, elsewhere, by_file


class DamagedBook(BookError):
    """The file is a book but cannot be read as one."""


class ReadOnlyBook(BookError):
    """The file or its folder cannot be written."""


class OnlyALook(ReadOnlyBook):
    """What is open is a copy to look at, in which nothing is kept."""


class Cancelled(BookError):
    """Somebody asked to stop; what was half done was taken back."""


class DiskFull(BookError):
    """There was no room to write; nothing of the edit was kept and nothing before it was lost."""


_BY_CODE: dict[int, type[BookError]] = {
    sqlite3.SQLITE_FULL: DiskFull,
    sqlite3.SQLITE_IOERR_WRITE: DiskFull,
    sqlite3.SQLITE_IOERR_FSYNC: DiskFull,
    sqlite3.SQLITE_IOERR_TRUNCATE: DiskFull,
    sqlite3.SQLITE_IOERR: DamagedBook,
    sqlite3.SQLITE_CORRUPT: DamagedBook,
    sqlite3.SQLITE_NOTADB: DamagedBook,
    sqlite3.SQLITE_READONLY_DBMOVED: MissingBook,
    sqlite3.SQLITE_READONLY: ReadOnlyBook,
    sqlite3.SQLITE_CANTOPEN: ReadOnlyBook,
    sqlite3.SQLITE_PERM: ReadOnlyBook,
    sqlite3.SQLITE_IOERR_DELETE: ReadOnlyBook,
}


def fault_of(path: Path, error: Exception) -> BookError | None:
    """The error of ours that an error of SQLite or of the file system means; None for one that is not about the file."""
    if isinstance(error, OSError):
        if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            return DiskFull(path, str(error))
        return (MissingBook if error.errno == errno.ENOENT else ReadOnlyBook)(path, str(error))
    cause = error.orig if isinstance(error, DBAPIError) else error
    code = getattr(cause, "sqlite_errorcode", 0)
    if code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return LockedBook(path)
    if code & 0xFF == sqlite3.SQLITE_CANTOPEN and not path.parent.is_dir():
        return MissingBook(path, "no such folder")
    fault = _BY_CODE.get(code) or _BY_CODE.get(code & 0xFF)
    return None if fault is None else fault(path, str(cause))


@contextmanager
def told_apart(path: Path) -> Iterator[None]:
    """Turns errors of SQLite and of the file system about the file into ours; anything else passes through."""
    try:
        yield
    except (sqlite3.Error, DBAPIError, OSError) as error:
        fault = fault_of(path, error)
        if fault is None:
            raise
        raise fault from error

# SPDX-License-Identifier: MIT
"""What can be wrong with a book's file or its surroundings: one error a reason, each carrying its facts, no sentence."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from sqlalchemy.exc import DBAPIError


class BookError(Exception):
    """Base of every error of a book's file; `path` is the file."""

    def __init__(self, path: Path, detail: str = "") -> None:
        super().__init__(f"{path}: {detail}" if detail else str(path))
        self.path = path
        self.detail = detail


class MissingBook(BookError):
    """There is no file at this path, or it was moved away while open."""


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
    """Open elsewhere: `who` has it (host and process), `since` when known; `elsewhere` on another machine."""

    def __init__(self, path: Path, who: str, since: datetime | None, *, elsewhere: bool = False) -> None:
        super().__init__(path, who)
        self.who, self.since, self.elsewhere = who, since, elsewhere


class DamagedBook(BookError):
    """The file is a book but cannot be read as one."""


class ReadOnlyBook(BookError):
    """The file or its folder cannot be written."""


class DiskFull(BookError):
    """There was no room to write; nothing of the edit was kept and nothing before it was lost."""


_BY_CODE: dict[int, type[BookError]] = {
    sqlite3.SQLITE_FULL: DiskFull,
    sqlite3.SQLITE_IOERR: DiskFull,
    sqlite3.SQLITE_READONLY: ReadOnlyBook,
    sqlite3.SQLITE_CANTOPEN: ReadOnlyBook,
    sqlite3.SQLITE_PERM: ReadOnlyBook,
    sqlite3.SQLITE_CORRUPT: DamagedBook,
    sqlite3.SQLITE_NOTADB: DamagedBook,
}


def fault_of(path: Path, error: OSError) -> BookError:
    """The error of ours that an error of the file system means."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return DiskFull(path, str(error))
    if error.errno == errno.ENOENT:
        return MissingBook(path, str(error))
    return ReadOnlyBook(path, str(error))


@contextmanager
def told_apart(path: Path) -> Iterator[None]:
    """Turns SQLite's errors about the file into ours; anything else passes through."""
    try:
        yield
    except (sqlite3.Error, DBAPIError) as error:
        cause = error.orig if isinstance(error, DBAPIError) else error
        code = getattr(cause, "sqlite_errorcode", 0) & 0xFF
        if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise LockedBook(path, "another program", None) from error
        if code in _BY_CODE:
            raise _BY_CODE[code](path, str(cause)) from error
        raise

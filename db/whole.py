# SPDX-License-Identifier: MIT
"""A book as one file: opened and closed, copied, checked, written out and read in again."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Self

from db import backups, exchange, file
from db.errors import Progress, go_on
from db.store import Store
from perfumery import Finding

# What an export counts in: rows first, then what is added to it.
_FINE = 1000
Clock = Callable[[], datetime]


def system_clock() -> datetime:
    """Now, with the machine's own offset."""
    return datetime.now().astimezone()


class WholeBook:
    """The half of a `Book` that is about its file."""

    uid: str
    name: str
    _changes: int

    def __init__(self, held: file.BookFile, clock: Clock | None) -> None:
        self._file = held
        self._clock = clock or system_clock
        self._store = Store(held)

    # opening and closing ----------------------------------------------------------------------------------------------

    @classmethod
    def create(cls, path: Path | str, name: str, currency: str = "EUR", clock: Clock | None = None) -> Self:
        """Makes a new, empty book at a path where nothing stands, and opens it."""

        def fill(raw: sqlite3.Connection) -> None:
            raw.execute("INSERT INTO book VALUES (1, ?, ?, ?, 1, 0)", (file.new_uid(), name, currency))

        file.create(Path(path), fill)
        return cls.open(path, clock)

    @classmethod
    def open(
        cls, path: Path | str, clock: Clock | None = None, *, break_lock: bool = False, progress: Progress = go_on
    ) -> Self:
        """Opens a book for this process alone. Raises MissingBook, NotABook, AlteredBook, NewerBook, LockedBook,
        DamagedBook, ReadOnlyBook or DiskFull; a refused file is left as it was. `break_lock` ignores a lock note left by
        another machine: only a person can know that it is stale. `progress` counts the pages of the backup that is made
        before ladder steps; Cancelled leaves the book as it was."""
        now = (clock or system_clock)()
        before_steps = backups.before_steps(now, progress)
        return cls._held(file.open_file(Path(path).absolute(), now, break_lock=break_lock, before_steps=before_steps), clock)

    @staticmethod
    def backups_of(path: Path | str) -> tuple[backups.Backup, ...]:
        """Every backup of a book, newest first; the book need not be open."""
        return backups.listed(Path(path))

    @staticmethod
    def backup_folder(path: Path | str) -> Path:
        """Where the backups of a book are kept, whether there are any or not."""
        return backups.folder_of(Path(path))

    @staticmethod
    def backed_up_by(file: Path | str) -> Path | None:
        """The book that a file is a backup of, whether that stands there or not; None for any other file."""
        return backups.book_of(Path(file))

    @staticmethod
    def head_of(backup: Path | str) -> backups.Head | None:
        """How far a book had come when a backup of it was made; None where it cannot be read. Never for a book that is open."""
        return backups.head_of(Path(backup))

    @classmethod
    def restore(cls, path: Path | str, backup: Path | str, progress: Progress = go_on) -> Path:
        """Makes a book of a backup, beside the book at `path`, whose file and backups stay as they are; returns its place. The
        book may be open, or not open at all. Raises the errors of `look` and `backup`, Cancelled among them."""
        place = backups.place_beside(Path(path), Path(backup))
        with cls.look(backup) as look:
            look.backup(place, progress)
        return place

    @classmethod
    def look(cls, path: Path | str, clock: Clock | None = None) -> Self:
        """Opens a copy of a closed book or a backup, for reading only. Raises the errors of `open`."""
        return cls._held(file.open_look(Path(path)), clock)

    @classmethod
    def _held(cls, held: file.BookFile, clock: Clock | None) -> Self:
        try:
            return cls(held, clock)
        except BaseException:
            held.close()
            raise

    def close(self) -> None:
        """Closes the file and frees the lock."""
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def path(self) -> Path:
        """The file."""
        return self._file.path

    @property
    def read_only(self) -> bool:
        """Whether this is only a look."""
        return self._file.folder is not None

    @property
    def head(self) -> backups.Head:
        """How far this book has come, to be held against the heads of its backups."""
        return backups.Head(self.uid, self._changes)

    def now(self) -> datetime:
        """The clock that was handed in."""
        return self._clock()

    # the file as a whole ------------------------------------------------------------------------------------------------

    def backup(self, path: Path | str, progress: Progress = go_on) -> None:
        """Writes a checked copy of the book as it stands; safe in a worker thread while edits go on. An older copy of this
        book is replaced; anything else that stands there is not: BookExists."""
        backups.copy(self._file, Path(path), self.uid, progress)

    def backup_if_due(self, progress: Progress = go_on) -> Path | None:
        """The regular backup: at most hourly and only after changes; returns it, or None. Older ones are thinned."""
        return None if self.read_only else backups.if_due(self._file, self.now(), self.head, progress)

    def backup_now(self, progress: Progress = go_on) -> Path | None:
        """A backup that does not wait for its hour; None where the newest one holds all of it already. Never of a look."""
        return None if self.read_only else backups.if_due(self._file, self.now(), self.head, progress, at_once=True)

    def check(self, progress: Progress = go_on) -> tuple[Finding, ...]:
        """Reads the whole file: damage, references to nothing, foreign structure. No findings: the book is sound."""
        return backups.check(self._file, progress)

    def quick_check(self, progress: Progress = go_on) -> tuple[Finding, ...]:
        """A shorter look for damage, for every start."""
        return backups.check(self._file, progress, quick=True)

    def export(
        self, folder: Path | str, also: Callable[[Path, Self, Progress], None] | None = None, progress: Progress = go_on
    ) -> None:
        """Writes everything as open files, a JSON that reads back equal and a CSV a kind, into a new folder; safe in a
        worker thread while edits go on. `also(folder, book, progress)` may add files before the folder stands: it gets a look
        into the very copy that is written. Whatever it raises leaves no folder behind. Raises Cancelled."""

        at = 0

        def half(second: bool) -> Progress:
            start = _FINE // 2 if second and also is not None else 0
            whole = _FINE if also is None else _FINE // 2

            def told(done: int, of: int) -> bool:
                nonlocal at
                at = start + (whole * done // of if of else 0)
                return progress(at, _FINE)

            return told

        # the copy also asks in the middle of long statements, and knows then of no progress of its own
        with self._file.copy(lambda *_: progress(at, _FINE)) as raw:

            def add(partial: Path) -> None:
                if also is not None:
                    with file.kept_beside(raw, partial) as copy, self.look(copy, self._clock) as look:
                        also(partial, look, half(second=True))

            exchange.export(raw, Path(folder), self.name, self.now().date(), add, half(second=False))

    @classmethod
    def read_export(
        cls, folder: Path | str, path: Path | str, clock: Clock | None = None, progress: Progress = go_on
    ) -> Self:
        """Makes a book from an exported folder, equal to the one it came from, and opens it. Counted in rows; Cancelled leaves no
        book."""
        tables = exchange.load(Path(folder))
        name, currency = exchange.head(Path(folder), tables)
        book = cls.create(path, name, currency, clock)
        try:
            exchange.restore(Path(folder), tables, book._file, book._store, progress)
        except BaseException:
            book.close()
            Path(path).unlink(missing_ok=True)
            raise
        book.close()
        return cls.open(path, clock)

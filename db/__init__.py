# SPDX-License-Identifier: MIT
"""The book: one SQLite file through SQLAlchemy Core. `Book` is the only door; values of perfumery go in and come out."""

from db.book import Book, system_clock
from db.errors import (
    AlteredBook,
    BookError,
    BookExists,
    DamagedBook,
    DiskFull,
    LockedBook,
    MissingBook,
    NewerBook,
    NotABook,
    ReadOnlyBook,
)
from db.queries import Due, MaterialRow, Origin, VersionHead
from db.starter import add_starter
from db.undo import Change
from perfumery.findings import Refused

__all__ = [
    "AlteredBook",
    "Book",
    "BookError",
    "BookExists",
    "Change",
    "DamagedBook",
    "DiskFull",
    "Due",
    "LockedBook",
    "MaterialRow",
    "MissingBook",
    "NewerBook",
    "NotABook",
    "Origin",
    "ReadOnlyBook",
    "Refused",
    "VersionHead",
    "add_starter",
    "system_clock",
]

# SPDX-License-Identifier: MIT
"""The book: one SQLite file through SQLAlchemy Core. `Book` is the only door; values of perfumery go in and come out."""

from pathlib import Path

from db.backups import Backup, Head
from db.book import Book
from db.bottle_rows import VIALS, BottleRow, ServiceDue
from db.bottles import DRAFTS
from db.errors import (
    AlteredBook,
    BookError,
    BookExists,
    Cancelled,
    DamagedBook,
    DiskFull,
    LockedBook,
    MissingBook,
    NewerBook,
    NotABook,
    OnlyALook,
    Progress,
    ReadOnlyBook,
    TakenBook,
)
from db.makings import Arrival, Poured
from db.material_rows import MaterialRow
from db.queries import Due, Origin, VersionHead
from db.seal import NO_BOTTLE
from db.sittings import SittingRow, is_current
from db.starter import add_starter, starter_words
from db.undo import Change
from db.uses import Use, UseStep
from db.whole import Clock, system_clock
from db.words import Found
from perfumery.findings import Refused


def make_demo(path: Path | str, clock: Clock | None = None) -> Book:
    """Makes the invented demo studio's book at a path where nothing stands, and opens it."""
    from db import demo  # only who asks for it pays for reading it

    return demo.make(path, clock)


__all__ = [
    "DRAFTS",
    "NO_BOTTLE",
    "AlteredBook",
    "Arrival",
    "Backup",
    "Book",
    "BookError",
    "BookExists",
    "BottleRow",
    "Cancelled",
    "Change",
    "DamagedBook",
    "DiskFull",
    "Due",
    "Found",
    "Head",
    "LockedBook",
    "MaterialRow",
    "MissingBook",
    "NewerBook",
    "NotABook",
    "OnlyALook",
    "Origin",
    "Poured",
    "Progress",
    "ReadOnlyBook",
    "Refused",
    "ServiceDue",
    "SittingRow",
    "VIALS",
    "TakenBook",
    "Use",
    "UseStep",
    "VersionHead",
    "add_starter",
    "is_current",
    "make_demo",
    "starter_words",
    "system_clock",
]

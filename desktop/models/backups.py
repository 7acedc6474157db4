# SPDX-License-Identifier: MIT
"""The backups of a book as rows: when each was made and why, and what it holds beside the book as it is now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from PySide6.QtCore import QObject

from db import Backup, Head
from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.table import TableModel

RULES = tr(
    "Backups come by themselves: at most one an hour, after changes, and one before each update of the book's structure. All of "
    "the last two days are kept, then one a day for a month, one a week for half a year and one a month for ever, together at "
    "most 2 GB."
)
NONE_YET = tr(
    "No backup yet. The first comes by itself within ten minutes of the first change, while the book is open; you can also make "
    "one now."
)
NONE_THERE = tr("There is no backup of this book: none was made yet, or its folder was moved or deleted.")
UNREADABLE = tr("cannot be read")


@dataclass(frozen=True, slots=True)
class BackupRow:
    """One backup, the local time it is seen at, and its head: `is_read` says whether that was looked for already. It is held
    against `book`, the head of the book as it is now, or of its newest backup where the book itself is not open."""

    backup: Backup
    now: datetime
    is_read: bool = False
    head: Head | None = None
    book: Head | None = None
    is_open: bool = True


def rows_of(
    backups: Sequence[Backup], now: datetime, heads: Mapping[Path, Head | None], book: Head | None
) -> list[BackupRow]:
    """The rows, newest first. Without the head of the book they are held against the newest backup that can be read."""
    wall = now.replace(tzinfo=None)
    against = book or next((head for one in backups if (head := heads.get(one.path)) is not None), None)
    return [BackupRow(one, wall, one.path in heads, heads.get(one.path), against, book is not None) for one in backups]


def when(at: datetime, now: datetime) -> str:
    """'today, 14:05', 'yesterday, 18:30', '11 Mar, 14:05', '11 Mar 2024, 14:05'."""
    days = (now.date() - at.date()).days
    if days == 0:
        return tr("today, {clock}", clock=figures.clock(at))
    return tr("yesterday, {clock}", clock=figures.clock(at)) if days == 1 else figures.moment(at, now)


def ago(at: datetime, now: datetime) -> str:
    """'3 h 5 min ago'; a clock that was set back makes a time that is still to come."""
    since = now - at
    return tr("after now by this clock") if since < timedelta(0) else tr("{time} ago", time=figures.span(since.total_seconds()))


def made_for(backup: Backup) -> str:
    """Why a backup was made."""
    if backup.step is None:
        return tr("by itself or asked for")
    return tr("before an update of its structure (step {step})", step=backup.step)


def state(row: BackupRow) -> str:
    """How far the book had come, beside how far it is; empty while that is still being read."""
    if not row.is_read:
        return ""
    if row.head is None:
        return UNREADABLE
    if row.book is None or row.head.uid != row.book.uid:
        return tr("another book")
    before = row.book.changes - row.head.changes
    if not before:
        return tr("as now") if row.is_open else tr("the newest")
    if before < 0 and row.is_open:
        return tr_count(-before, "{n} change after the book's", "{n} changes after the book's")
    if before < 0:
        return tr_count(-before, "{n} change after the newest", "{n} changes after the newest")
    if row.is_open:
        return tr_count(before, "{n} change before now", "{n} changes before now")
    return tr_count(before, "{n} change before the newest", "{n} changes before the newest")


def summary(backups: Sequence[Backup]) -> str:
    """'14 backups, together 23.4 MB'."""
    size = figures.file_size(sum(one.size for one in backups))
    return tr_count(len(backups), "{n} backup, together {size}", "{n} backups, together {size}", size=size)


COLUMNS: tuple[Column[BackupRow], ...] = (
    Column("when", tr("made"), lambda row: when(row.backup.at, row.now), 150,
           plain=lambda row: row.backup.at.isoformat(" ", "seconds")),
    Column("ago", tr("how long ago"), lambda row: ago(row.backup.at, row.now), 130),
    Column("state", tr("state of the book"), state, 210,
           tip=tr("How often the book was written to since then. Steps back and forward count too.")),
    Column("why", tr("why it was made"), lambda row: made_for(row.backup), 300),
    Column("size", tr("size"), lambda row: figures.file_size(row.backup.size), 80, right=True),
)  # fmt: skip


class BackupsModel(TableModel[BackupRow]):
    """Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: BackupRow) -> Path:
        """The file."""
        return row.backup.path

    def tone(self, row: BackupRow, column: Column[BackupRow]) -> str:
        """Brick where it is of no use, quiet what is only told beside."""
        if column.key == "state" and row.is_read and row.head is None:
            return "brick"
        return "ink" if column.key in ("when", "state") else "quiet"

    def tip(self, row: BackupRow, column: Column[BackupRow]) -> str:
        """Where it is."""
        return str(row.backup.path)

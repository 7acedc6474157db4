# SPDX-License-Identifier: MIT
"""Backups beside the book: dated copies, at most hourly, checked, thinned, capped; and the check of the file itself.

Kept: everything of the last two days, then one a day for a month, one a week for half a year, one a month for ever, as long
as all together stay under the cap. A backup is never made by copying the file, but from the open connection.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from db import steps
from db.errors import BookExists, DamagedBook, Progress, go_on, told_apart
from db.file import BookFile
from perfumery import Finding

_STAMP = "%Y-%m-%d %H.%M.%S"
_NAME = re.compile(r"(\d{4}-\d\d-\d\d \d\d\.\d\d\.\d\d)( step \d+)?\.stillroom")
_FOLDER = " backups"
_HOUR = timedelta(hours=1)
# Let go at one time: a clock that is wrong for a day must not empty the folder.
_GONE_AT_MOST = 4
CAP_BYTES = 2_000_000_000


class Backup(NamedTuple):
    """One backup beside a book: the local time it was made at, without offset, its file and its bytes."""

    at: datetime
    path: Path
    size: int

    @property
    def step(self) -> int | None:
        """The step of the book that was about to be left when it was made; None for one that came by itself or was asked for."""
        match = _NAME.fullmatch(self.path.name)
        return int(match[2].removeprefix(" step ")) if match and match[2] else None


class Head(NamedTuple):
    """What tells how far a book or a copy of it had come: the book's own name among books, and how often it was written to."""

    uid: str
    changes: int


def folder_of(book: Path) -> Path:
    """The folder that holds a book's backups."""
    return book.with_name(f"{book.stem}{_FOLDER}")


def book_of(file: Path) -> Path | None:
    """The book that a file is a backup of, by where it lies and what it is called; None for any other file."""
    folder = file.parent
    if not _NAME.fullmatch(file.name) or not folder.name.endswith(_FOLDER):
        return None
    return folder.with_name(f"{folder.name.removesuffix(_FOLDER)}.stillroom")


def listed(book: Path) -> tuple[Backup, ...]:
    """Every backup of a book, newest first."""
    found = []
    folder = folder_of(book)
    for file in folder.iterdir() if folder.is_dir() else ():
        match = _NAME.fullmatch(file.name)
        if match:
            # a day that is not in the calendar, a file taken away meanwhile: not a backup
            with suppress(ValueError, OSError):
                # the name holds local wall time on purpose: it is read by people
                found.append(Backup(datetime.strptime(match[1], _STAMP), file, file.stat().st_size))  # noqa: DTZ007
    return tuple(sorted(found, reverse=True))


def before_steps(now: datetime, progress: Progress = go_on) -> Callable[[BookFile, int], None]:
    """What the opening calls when ladder steps are due: a backup that is named after the step it was made by."""

    def make(file: BookFile, step: int) -> None:
        _make(file, now, f" step {step}", progress)

    return make


def if_due(
    file: BookFile, now: datetime, head: Head, progress: Progress = go_on, *, at_once: bool = False
) -> Path | None:
    """Makes the regular backup when the book has changed since the newest one and an hour has passed; thins the others.

    One that is asked for comes at once, but not without a change either. A backup from the future tells of a clock that was set
    back: the newest of the past counts then.
    """
    wall = now.replace(tzinfo=None)
    earlier = listed(file.path)
    past = [backup for backup in earlier if backup.at <= wall]
    if past and wall - past[0].at < _HOUR and not at_once:
        return None
    held = (head_of(backup.path) for backup in (*earlier[:1], *past[:1]))
    if head in held or (head.changes == 0 and not earlier):
        return None
    made = _make(file, now, "", progress)
    gone = [path for path in thinned(listed(file.path), wall) if path != made]
    for path in gone[-_GONE_AT_MOST:]:
        with suppress(OSError):
            path.unlink()
    return made


def copy(file: BookFile, to: Path, uid: str, progress: Progress = go_on) -> None:
    """A copy at a place of the user's. Raises BookExists where something else than an older copy of this book stands."""
    if to.exists():
        head = None if to.is_dir() or to.samefile(file.path) else head_of(to)
        if head is None or head.uid != uid:
            raise BookExists(to)
    file.snapshot(to, progress)


def place_beside(book: Path, backup: Path) -> Path:
    """A free place beside a book for what a backup of it holds, its name telling when that was."""
    match = _NAME.fullmatch(backup.name)
    # to the minute; a copy of the person's own has a name of its own
    stem = f"{book.stem} as of {match[1][:16]}" if match else f"{book.stem} from {backup.stem}"
    place, number = book.with_name(f"{stem}.stillroom"), 2
    while place.exists():
        place, number = book.with_name(f"{stem}, {number}.stillroom"), number + 1
    return place


def _make(file: BookFile, now: datetime, suffix: str, progress: Progress = go_on) -> Path:
    folder = folder_of(file.path)
    with told_apart(file.path):
        folder.mkdir(exist_ok=True)
    made = folder / f"{now.strftime(_STAMP)}{suffix}.stillroom"
    while made.exists():
        # the same second again: a clock that was set back
        now += timedelta(seconds=1)
        made = folder / f"{now.strftime(_STAMP)}{suffix}.stillroom"
    file.snapshot(made, progress)
    return made


def head_of(backup: Path) -> Head | None:
    """The head of a copy that is not open; None where it cannot be read."""
    try:
        raw = sqlite3.connect(f"{backup.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
        try:
            uid, changes = raw.execute("SELECT uid, changes FROM book").fetchone()
            return Head(str(uid), int(changes))
        finally:
            raw.close()
    except (sqlite3.Error, TypeError, ValueError):
        return None


def thinned(backups: Iterable[tuple[datetime, Path, int]], now: datetime, cap: int = CAP_BYTES) -> tuple[Path, ...]:
    """Which backups to let go, newest first. The newest is always kept; so are those made before a ladder step."""
    kept: set[tuple[str, str]] = set()
    gone: list[Path] = []
    size = 0
    for place, (at, path, bytes_) in enumerate(sorted(backups, reverse=True)):
        age = now - at
        if age <= timedelta(days=2):
            slot = ("all", at.isoformat())
        elif age <= timedelta(days=31):
            slot = ("day", at.date().isoformat())
        elif age <= timedelta(days=183):
            year, week, _ = at.isocalendar()
            slot = ("week", f"{year}-{week}")
        else:
            slot = ("month", f"{at:%Y-%m}")
        step_made = " step " in path.name
        over = size + bytes_ > cap
        if place and not step_made and (slot in kept or over):
            gone.append(path)
            continue
        if not step_made:
            kept.add(slot)
        size += bytes_
    return tuple(gone)


def check(file: BookFile, progress: Progress = go_on, *, quick: bool = False) -> tuple[Finding, ...]:
    """Findings about the file: pages that cannot be read, references to nothing, a structure not ours."""
    found: list[Finding] = []
    try:
        with file.copy(progress) as raw:
            said = [row[0] for row in raw.execute(f"PRAGMA {'quick_check' if quick else 'integrity_check'}(20)")]
            if said != ["ok"]:
                found.append(Finding("file-damaged", {"detail": "; ".join(said)}))
            elif not quick:
                broken = raw.execute("PRAGMA foreign_key_check").fetchall()
                if broken:
                    tables = tuple(sorted({row[0] for row in broken}))
                    found.append(Finding("key-broken", {"tables": tables, "count": len(broken)}))
                if steps.structure(raw) != steps.expected(steps.KNOWN):
                    found.append(Finding("file-structure"))
    except DamagedBook as error:
        found.append(Finding("file-damaged", {"detail": error.detail}))
    return tuple(found)

# SPDX-License-Identifier: MIT
"""The ladder: one module a released schema step, frozen SQL, never today's tables. A new book is the ladder run from zero."""

from __future__ import annotations

import sqlite3

from db.steps import s0001_first

STEPS = (s0001_first,)
KNOWN = len(STEPS)
# 'Stil' in ASCII: marks a file as a book of ours in the header of the SQLite file.
APPLICATION_ID = 0x5374696C


def climb(raw: sqlite3.Connection, start: int) -> None:
    """Runs the steps above `start` inside the transaction that is open; the header figures roll back with them."""
    for number, step in enumerate(STEPS, start=1):
        if number > start:
            for statement in step.STATEMENTS:
                raw.execute(statement)
            if has_fts5(raw):
                for statement in step.TEXT_INDEX:
                    raw.execute(statement)
    raw.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    raw.execute(f"PRAGMA user_version = {KNOWN}")


def has_fts5(raw: sqlite3.Connection) -> bool:
    """Whether this SQLite was built with full-text search; without it notes are searched by LIKE."""
    return any(row[0] == "ENABLE_FTS5" for row in raw.execute("PRAGMA compile_options"))


def structure(raw: sqlite3.Connection) -> dict[str, str]:
    """{name: SQL} of everything declared in a file, the text index left out because its insides vary with SQLite."""
    rows = raw.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'note_text%'")
    return dict(rows.fetchall())


def expected() -> dict[str, str]:
    """The structure the ladder makes."""
    raw = sqlite3.connect(":memory:")
    try:
        climb(raw, 0)
        return structure(raw)
    finally:
        raw.close()

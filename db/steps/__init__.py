# SPDX-License-Identifier: MIT
"""The ladder: one module a released schema step, frozen SQL, never today's tables. A new book is the ladder run from zero."""

from __future__ import annotations

import sqlite3

from db.steps import (
    s0001_first,
    s0002_bottles,
    s0003_weighing,
    s0004_smelling,
    s0005_limits,
    s0006_carriers,
    s0007_references,
)

STEPS = (s0001_first, s0002_bottles, s0003_weighing, s0004_smelling, s0005_limits, s0006_carriers, s0007_references)
KNOWN = len(STEPS)
# 'Stil' in ASCII: marks a file as a book of ours in the header of the SQLite file.
APPLICATION_ID = 0x5374696C


# The tables of the text index. Their SQL is left out of comparisons, because it varies with SQLite.
_TEXT_TABLES = tuple(f"note_text{part}" for part in ("", "_data", "_idx", "_content", "_docsize", "_config"))


def climb(raw: sqlite3.Connection, start: int, end: int | None = None) -> None:
    """Runs the steps above `start`; in a transaction that is open, the header figures roll back with them."""
    end = KNOWN if end is None else end
    for step in STEPS[start:end]:
        for statement in step.STATEMENTS:
            raw.execute(statement)
        if has_fts5(raw):
            for statement in step.TEXT_INDEX:
                raw.execute(statement)
    if start < end:
        raw.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        raw.execute(f"PRAGMA user_version = {end}")


def has_fts5(raw: sqlite3.Connection) -> bool:
    """Whether this SQLite was built with full-text search; without it notes are searched by LIKE."""
    return any(row[0] == "ENABLE_FTS5" for row in raw.execute("PRAGMA compile_options"))


def structure(raw: sqlite3.Connection) -> dict[str, str]:
    """{name: SQL} of everything declared in a file but the text index."""
    rows = raw.execute("SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
    return {name: sql for kind, name, sql in rows if not (kind == "table" and name in _TEXT_TABLES)}


def expected(step: int) -> dict[str, str]:
    """The structure the ladder makes up to a step."""
    raw = sqlite3.connect(":memory:")
    try:
        climb(raw, 0, step)
        return structure(raw)
    finally:
        raw.close()

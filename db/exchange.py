# SPDX-License-Identifier: MIT
"""Everything as open files, and back: one JSON that reads back equal, one CSV a kind for eyes and spreadsheets, a README.

The JSON holds rows as they lie in the tables, so nothing is lost in translation: superseded records and offsets included.
"""

from __future__ import annotations

import base64
import csv
import json
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any, TextIO

from sqlalchemy import Table, insert, update
from sqlalchemy.exc import StatementError

from db import seal as sealing
from db import steps
from db import tables as t
from db.errors import BookExists, Cancelled, DamagedBook, NewerBook, Progress, go_on, told_apart
from db.file import BookFile
from db.kinds import KINDS
from db.store import Store, index_text
from perfumery.cells import inert

_FORMAT = 1
_AT_ONCE = 500
_NOT_WHOLE = (OSError, ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError)
_README = """{name}, exported from a Stillroom bench book on {day}.

book.json holds everything, row by row, and can be read back into a new book.
Each CSV holds one kind of thing in UTF-8 with commas and points: materials, bottles, versions and their lines, strips, readings.
Times are milliseconds since 1970-01-01 UTC with the offset in minutes they were read at; masses are in g; strengths and
shares run from 0 to 1. Rows named in a `replaces` column were corrected later and are kept as they were.
Where there is a folder "paper", it holds the same to be read and printed: the shelf and each project as a PDF.
What is under the seal of a blind sitting or test stands in the CSV without its key; book.json holds it sealed.
Nothing here is a safety assessment.
"""


def export(
    raw: sqlite3.Connection, folder: Path, name: str, day: date, also: Callable[[Path], None] = lambda partial: None,
    progress: Progress = go_on,
) -> None:  # fmt: skip
    """Writes the folder beside its place and moves it in when it is whole; `also` may add to it before. Counted in rows. Raises
    BookExists where it stands already, Cancelled."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BookExists(folder, "the folder is not empty")
    partial = folder.with_name(f".{folder.name}.part-{os.getpid()}")
    try:
        with told_apart(folder):
            partial.mkdir(parents=True)
            with (partial / "book.json").open("w", encoding="utf-8") as whole:
                _write_tables(raw, partial, whole, _counted(raw, folder, progress))
            readme = _README.format(name=name, day=day.isoformat())
            (partial / "README.txt").write_text(readme, encoding="utf-8")
            also(partial)
            if folder.exists():
                folder.rmdir()
            partial.rename(folder)
    finally:
        shutil.rmtree(partial, ignore_errors=True)


def _counted(raw: sqlite3.Connection, folder: Path, progress: Progress) -> Callable[[int], None]:
    """Counts rows that were written. Raises Cancelled."""
    names = t.METADATA.tables
    of = sum(raw.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in names)
    done = 0

    def count(rows: int) -> None:
        nonlocal done
        done += rows
        if not progress(done, of):
            raise Cancelled(folder)

    return count


def _write_tables(raw: sqlite3.Connection, partial: Path, whole: TextIO, count: Callable[[int], None]) -> None:
    """Every table as a CSV and into the one JSON, some rows at a time: the whole would fill the memory of a small machine, and
    a single call that makes text of it would hold up the screen."""
    hidden: dict[str, list[list[Any]]] = {}
    whole.write(f'{{"format": {_FORMAT}, "step": {steps.KNOWN}, "tables": {{')
    for place, table in enumerate(t.METADATA.tables.values()):
        names, rows = _rows(raw, table)
        whole.write(f'{", " if place else ""}"{table.name}": {{"columns": {json.dumps(names)}, "rows": [')
        under_seal: list[list[Any]] = []
        with (partial / f"{table.name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(names)
            mark = ""
            for some in _chunks(rows):
                open_: list[list[Any]] = []
                for row in some:
                    (under_seal if sealing.is_sealed(raw, table.name, names, row) else open_).append(row)
                if open_:
                    whole.write(mark + json.dumps(open_, ensure_ascii=False)[1:-1])
                    mark = ", "
                    _write_rows(writer, open_)
                count(len(some))
            _write_rows(writer, (sealing.veiled_row(raw, table.name, names, row) for row in under_seal))
        whole.write("]}")
        if under_seal:
            hidden[table.name] = under_seal
    whole.write("}")
    if hidden:
        # not for secrecy, only so that no eye falls on it
        whole.write(f', "sealed": "{base64.b64encode(json.dumps(hidden).encode()).decode()}"')
    whole.write("}")


def _write_rows(writer: Any, rows: Iterable[list[Any]]) -> None:
    writer.writerows([inert(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)


def _chunks(rows: Iterator[list[Any]]) -> Iterator[list[list[Any]]]:
    while some := list(islice(rows, _AT_ONCE)):
        yield some


def load(folder: Path) -> dict[str, Any]:
    """The tables of an exported folder, one made by an earlier program too. Raises DamagedBook for a folder that is not a whole
    export, NewerBook for one of a later step."""
    try:
        whole = json.loads((folder / "book.json").read_text(encoding="utf-8"))
        tables: dict[str, Any] = whole["tables"]
        step = whole["step"] if "step" in whole else _unsaid_step(tables)
        for name, rows in json.loads(base64.b64decode(whole.get("sealed", "") or b"e30=")).items():
            tables[name]["rows"] += rows
        if step > steps.KNOWN:
            raise NewerBook(folder, step, steps.KNOWN)
        if whole["format"] != _FORMAT:
            raise DamagedBook(folder, "not a whole export")
        if step < steps.KNOWN:
            tables = _climbed(tables, step)
        if tables.keys() != t.METADATA.tables.keys() or len(tables["book"]["rows"]) != 1:
            raise DamagedBook(folder, "not a whole export")
        for name, table in t.METADATA.tables.items():
            # a column that is not known would be left out without a word
            if set(tables[name]["columns"]) != set(table.columns.keys()):
                raise DamagedBook(folder, f"other columns of {name}")
    except (*_NOT_WHOLE, sqlite3.Error) as error:
        raise DamagedBook(folder, "not a whole export") from error
    return tables


def _unsaid_step(tables: Mapping[str, Any]) -> int:
    """The step of an export that does not say it, as those up to step 3 did not: by the tables it has."""
    return 3 if "bench_check" in tables else 2 if "habit" in tables else 1


def _climbed(tables: Mapping[str, Any], step: int) -> dict[str, Any]:
    """The tables of an older export as today's are: put into a book in memory that stands at their step, which then climbs."""
    raw = sqlite3.connect(":memory:", isolation_level=None)
    try:
        steps.climb(raw, 0, step)
        declared = raw.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'note_text%'")
        names = {row[0] for row in declared}
        if tables.keys() != names:
            raise ValueError(f"other tables than those of step {step}")
        # lines come before their versions, whose freezing would refuse them
        for name in sorted(names, key=lambda name: name != "line"):
            columns = tables[name]["columns"]
            if sorted(columns) != sorted(row[1] for row in raw.execute(f'PRAGMA table_info("{name}")')):
                raise ValueError(f"other columns of {name}")
            listed, marks = ", ".join(f'"{column}"' for column in columns), ", ".join("?" * len(columns))
            raw.executemany(f'INSERT INTO "{name}" ({listed}) VALUES ({marks})', tables[name]["rows"])
        steps.climb(raw, step)
        found = {name: _rows(raw, table) for name, table in t.METADATA.tables.items()}
        return {name: {"columns": columns, "rows": list(rows)} for name, (columns, rows) in found.items()}
    finally:
        raw.close()


def head(folder: Path, tables: dict[str, Any]) -> tuple[str, str]:
    """(name, currency) of the book."""
    try:
        row = _named(tables["book"])[0]
        return str(row["name"]), str(row["currency"])
    except _NOT_WHOLE as error:
        raise DamagedBook(folder, "not a whole export") from error


def restore(
    folder: Path, tables: dict[str, Any], file: BookFile, store: Store, progress: Progress = go_on
) -> None:
    """Fills an empty book with exported rows, in one transaction. Versions are frozen only when their lines stand. Counted in
    rows that are written and then read. Raises Cancelled."""
    of, done = 2 * sum(len(table["rows"]) for table in tables.values()), 0

    def passed(rows: int) -> None:
        nonlocal done
        done += rows
        if not progress(done, of):
            raise Cancelled(folder)

    try:
        keys = [row["key"] for table in tables.values() for row in _named(table) if "key" in row]
        if len(keys) > len(set(keys)) or max(keys, default=0) >= _named(tables["book"])[0]["next_key"]:
            raise ValueError("keys that the book's counter has not given")
        with file.write() as sql:
            frozen: list[dict[str, Any]] = []
            for table in t.METADATA.tables.values():
                rows = _named(tables[table.name])
                if table is t.BOOK:
                    sql.execute(update(t.BOOK).values(rows[0]))
                    continue
                if table is t.VERSION:
                    frozen = [row for row in rows if row["frozen_at"] is not None]
                    rows = [row | {"frozen_at": None, "frozen_off": None} for row in rows]
                for start in range(0, len(rows), _AT_ONCE):
                    sql.execute(insert(table), rows[start : start + _AT_ONCE])
                    passed(len(rows[start : start + _AT_ONCE]))
            for row in _insides_first(frozen, _named(tables["line"])):
                state = {"frozen_at": row["frozen_at"], "frozen_off": row["frozen_off"]}
                sql.execute(update(t.VERSION).where(t.VERSION.c.key == row["key"]).values(state))
            if store.has_text_index:
                for row in _named(tables["note"]):
                    index_text(sql, row["key"], row["text"])
                for row in _named(tables["reading"]):
                    index_text(sql, row["key"], " ".join([*json.loads(row["words"]), row["note"]]))
        for kind in KINDS.values():
            for _ in store.select(kind):  # every row makes a value
                passed(1)
    except (*_NOT_WHOLE, StatementError, sqlite3.IntegrityError, DamagedBook) as error:
        raise DamagedBook(folder, f"not a whole export: {error}") from error


def _insides_first(frozen: list[dict[str, Any]], lines: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Frozen versions, accords before what holds them: freezing a version freezes what is inside it at the same instant."""
    waiting = {row["key"]: row for row in frozen}
    inside: dict[Any, set[Any]] = {}
    for line in lines:
        inside.setdefault(line["version"], set()).add(line["accord"])
    while waiting:
        ready = [key for key in waiting if inside.get(key, set()).isdisjoint(waiting)]
        if not ready:
            raise ValueError("a loop of accords")
        for key in ready:
            yield waiting.pop(key)


def _named(table: dict[str, Any]) -> list[dict[str, Any]]:
    return [dict(zip(table["columns"], row, strict=True)) for row in table["rows"]]


def _rows(raw: sqlite3.Connection, table: Table) -> tuple[list[str], Iterator[list[Any]]]:
    names = [column.name for column in table.columns]
    listed, order = (", ".join(f'"{name}"' for name in some) for some in (names, table.primary_key.columns.keys()))
    return names, map(list, raw.execute(f'SELECT {listed} FROM "{table.name}" ORDER BY {order}'))

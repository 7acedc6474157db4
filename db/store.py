# SPDX-License-Identifier: MIT
"""Values in and out of the tables, one at a time or many in one query. No rule of the book lives here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

from sqlalchemy import ColumnElement, Connection, Executable, Select, delete, insert, or_, select, update
from sqlalchemy import text as sql_text

from db import steps
from db import tables as t
from db.errors import DamagedBook
from db.file import BookFile
from db.kinds import KINDS, LINE, NOT_A_VALUE, Kind
from perfumery import Contents, Line, Move, Note, Reading, Value, Version

_CHUNK = 900
# What of these is put in writes into another table too, a value at a time.
_WITH_MORE = frozenset({Version, Contents, Note, Reading})


class Store:
    """Reads and writes values on one connection; transactions are the caller's."""

    def __init__(self, file: BookFile) -> None:
        self.path = file.path
        self._sql = file.sql
        names = self._sql.exec_driver_sql("SELECT name FROM sqlite_schema WHERE name = 'note_text'")
        self.has_text_index = names.first() is not None and steps.has_fts5(file.raw)
        self._ready: dict[int, tuple[Value, tuple[Any, ...]]] = {}

    # reading ----------------------------------------------------------------------------------------------------------

    def get(self, kind: Kind, key: int) -> Any:
        """The value of a key, or None."""
        return next(self.select(kind, kind.table.c.key == key), None)

    def scalar(self, question: Executable) -> Any:
        """The first figure a question answers with, None where there is none."""
        return self._sql.execute(question).scalar()

    def scalars(self, question: Select[Any]) -> Sequence[Any]:
        """The first figure of every row a question answers with."""
        return self._sql.execute(question).scalars().all()

    def rows(self, question: Select[Any]) -> Sequence[Any]:
        """The rows a question answers with."""
        return self._sql.execute(question).all()

    def find(self, key: int) -> tuple[Kind, Any] | None:
        """The kind and value of a key whose kind is not known."""
        for kind in KINDS.values():
            value = self.get(kind, key)
            if value is not None:
                return kind, value
        return None

    def many(self, kind: Kind, keys: Iterable[int]) -> dict[int, Any]:
        """{key: value} of those keys that exist."""
        found: dict[int, Any] = {}
        for some in chunks(keys):
            for value in self.select(kind, kind.table.c.key.in_(some)):
                found[value.key] = value
        return found

    def select(self, kind: Kind, *where: ColumnElement[bool], newest_first: bool = False) -> Iterator[Any]:
        """The values of a kind that match, by key; a version comes with its lines, contents with their shares."""
        order = kind.table.c.key.desc() if newest_first else kind.table.c.key
        rows = self._sql.execute(select(*kind.columns()).where(*where).order_by(order)).all()
        if kind.value is Version:
            lines = self._lines(where)
            return (self.load(kind, row, lines=tuple(lines.get(row[0], ()))) for row in rows)
        if kind.value is Contents:
            shares = self._shares(where)
            return (self.load(kind, row, shares=shares.get(row[0], {})) for row in rows)
        return (self.load(kind, row) for row in rows)

    def load(self, kind: Kind, row: Sequence[Any], **more: Any) -> Any:
        """The value of a row of `kind.columns()`. Raises DamagedBook for a row that makes none."""
        try:
            return kind.load(row, **more)
        except NOT_A_VALUE as error:
            # nothing that cannot be was ever written: these bytes have changed since
            raise DamagedBook(self.path, f"{kind.table.name} {row[0]}: {error}") from error

    def _lines(self, where: tuple[ColumnElement[bool], ...]) -> dict[int, list[Line]]:
        query: Select[Any] = select(t.LINE.c.version, *LINE.columns())
        if where:
            query = query.join(t.VERSION, t.VERSION.c.key == t.LINE.c.version).where(*where)
        found: dict[int, list[Line]] = {}
        for version, *row in self._sql.execute(query.order_by(t.LINE.c.version, t.LINE.c.position)):
            found.setdefault(version, []).append(self.load(LINE, row))
        return found

    def moves(self, bottles: Iterable[int]) -> dict[int, list[Move]]:
        """{bottle: moves in force that filled, emptied or re-weighed it, by time}; bottles without any are left out."""
        kind = KINDS[Move]
        found: dict[int, list[Move]] = {}
        for keys in map(set, chunks(bottles)):
            moved = or_(kind.table.c.from_bottle.in_(keys), kind.table.c.to_bottle.in_(keys))
            for move in sorted(self.select(kind, moved, *kind.in_force()), key=lambda m: (m.at, m.key)):
                for key in keys & {move.from_bottle, move.to_bottle}:
                    found.setdefault(key, []).append(move)
        return found

    def homes_of_lines(self, values: Iterable[Value]) -> dict[int, int]:
        """{line key: the version it stands in} of the keyed lines among these values that are in the book."""
        keys = {line.key for v in values if isinstance(v, Version) for line in v.lines if line.key is not None}
        found: dict[int, int] = {}
        for some in chunks(keys):
            standing = select(t.LINE.c.key, t.LINE.c.version).where(t.LINE.c.key.in_(some))
            found |= {row[0]: row[1] for row in self._sql.execute(standing)}
        return found

    def _shares(self, where: tuple[ColumnElement[bool], ...]) -> dict[int, dict[int, float]]:
        share = t.CONTENT_SHARE.c
        query = select(share.contents, share.material, share.share)
        if where:
            query = query.join(t.CONTENTS, t.CONTENTS.c.key == share.contents).where(*where)
        found: dict[int, dict[int, float]] = {}
        for contents, material, part in self._sql.execute(query):
            found.setdefault(contents, {})[material] = part
        return found

    # writing ----------------------------------------------------------------------------------------------------------

    def make_ready(self, value: Value) -> None:
        """Works out now how a keyed value that is put next will stand in its table."""
        assert value.key is not None
        self._ready[value.key] = value, KINDS[type(value)].figures(value)

    def _figures(self, kind: Kind, value: Any) -> tuple[Any, ...]:
        ready = self._ready.get(value.key)
        return ready[1] if ready is not None and ready[0] is value else kind.figures(value)

    def apply(self, pairs: Iterable[tuple[Any, Any]]) -> None:
        """Takes the tables from one state of each value to another: adds, changes or deletes it, in this order. Neighbours of one
        kind go in one statement."""
        for (kind, way), run in groupby(pairs, _way):
            known = KINDS[kind]
            if way == "insert" and kind not in _WITH_MORE:
                self._sql.exec_driver_sql(known.insertion, [self._figures(known, new) for _, new in run])
            elif way == "insert":
                for _, new in run:
                    self.insert(known, new)
            elif way == "delete":
                self._delete(known, [old.key for old, _ in run])
            else:
                for old, new in run:
                    self.update(known, old, new)
        self._ready.clear()

    def insert(self, kind: Kind, value: Value) -> None:
        """Adds a keyed value with what hangs on it."""
        self._sql.execute(insert(kind.table), kind.row(value))
        if isinstance(value, Version) and value.lines:
            rows = [LINE.row(line) | self._place(value, i) for i, line in enumerate(value.lines)]
            self._sql.execute(insert(t.LINE), rows)
        elif isinstance(value, Contents) and value.shares:
            shares = [{"contents": value.key, "material": m, "share": s} for m, s in value.shares.items()]
            self._sql.execute(insert(t.CONTENT_SHARE), shares)
        elif isinstance(value, Note | Reading) and self.has_text_index:
            text = value.text if isinstance(value, Note) else " ".join([*value.words, value.note])
            index_text(self._sql, value.key, text)

    def update(self, kind: Kind, old: Value, new: Value) -> None:
        """Writes what differs between two states of one value."""
        before, after = kind.row(old), kind.row(new)
        changed = {name: item for name, item in after.items() if before[name] != item}
        if isinstance(new, Version) and isinstance(old, Version) and old.frozen_at is None:
            self._update_lines(old, new)
        if changed:
            self._sql.execute(update(kind.table).where(kind.table.c.key == new.key).values(**changed))

    def _delete(self, kind: Kind, keys: list[int]) -> None:
        """Takes values out with what hangs on them."""
        for some in chunks(keys):
            if kind.value is Version:
                self._sql.execute(delete(t.LINE).where(t.LINE.c.version.in_(some)))
            self._sql.execute(delete(kind.table).where(kind.table.c.key.in_(some)))

    def _update_lines(self, old: Version, new: Version) -> None:
        before = {line.key: (place, line) for place, line in enumerate(old.lines)}
        after = {line.key: (place, line) for place, line in enumerate(new.lines)}
        for some in chunks(key for key in before if key is not None and key not in after):
            self._sql.execute(delete(t.LINE).where(t.LINE.c.key.in_(some)))
        for key, (place, line) in after.items():
            if key in before and before[key] != (place, line):
                row = LINE.row(line) | self._place(new, place)
                self._sql.execute(update(t.LINE).where(t.LINE.c.key == key).values(**row))
        added = [LINE.row(line) | self._place(new, place) for key, (place, line) in after.items() if key not in before]
        if added:
            self._sql.execute(insert(t.LINE), added)

    @staticmethod
    def _place(version: Version, position: int) -> dict[str, Any]:
        return {"version": version.key, "position": position}


def chunks(keys: Iterable[int]) -> Iterator[list[int]]:
    """The keys in order, each once, so many at a time as one question takes."""
    wanted = sorted(set(keys))
    return (wanted[start : start + _CHUNK] for start in range(0, len(wanted), _CHUNK))


def _way(pair: tuple[Any, Any]) -> tuple[type[Any], str]:
    old, new = pair
    return type(old if new is None else new), "delete" if new is None else "insert" if old is None else "update"


def index_text(sql: Connection, key: int | None, text: str) -> None:
    """Makes a note's or reading's words findable."""
    if text.strip():
        sql.execute(sql_text("INSERT INTO note_text (rowid, text) VALUES (:key, :text)"), {"key": key, "text": text})


def keyed(value: Any, next_key: Callable[[], int], homes: Mapping[int, int]) -> Any:
    """The value with a key, and every line of a version with one; `next_key()` gives fresh ones.

    A line taken over from another version (`homes` tells whose it is), or standing twice, is a new line here.
    """
    if value.key is None:
        value = replace(value, key=next_key())
    if isinstance(value, Version):
        seen: set[int] = set()
        lines = []
        for line in value.lines:
            if line.key is None or line.key in seen or homes.get(line.key, value.key) != value.key:
                line = replace(line, key=next_key())
            assert line.key is not None
            seen.add(line.key)
            lines.append(line)
        if tuple(lines) != value.lines:
            value = replace(value, lines=tuple(lines))
    return value

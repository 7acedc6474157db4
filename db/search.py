# SPDX-License-Identifier: MIT
"""Anything in the book by a text: what is called so, what is written on its label, what was noted of it."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, literal, or_, select, text

from db import tables as t
from db.kinds import KINDS, Kind
from db.material_rows import MaterialRow
from db.seal import Seal
from db.store import Store
from db.words import meanings
from perfumery import (
    Balance,
    BlindTest,
    Bottle,
    Decision,
    Limit,
    Making,
    Material,
    Note,
    Project,
    Reading,
    Sitting,
    Strip,
    Version,
    Word,
)
from perfumery.text import fold

# The index is read backwards, so a word that stands everywhere costs no more than a rare one.
_TEXT_HITS = text(
    "SELECT rowid FROM note_text WHERE note_text MATCH :terms"
    " AND NOT EXISTS (SELECT 1 FROM note WHERE note.replaces = note_text.rowid)"
    " AND NOT EXISTS (SELECT 1 FROM reading WHERE reading.replaces = note_text.rowid)"
    " AND NOT EXISTS (SELECT 1 FROM reading WHERE reading.key = note_text.rowid AND reading.withdrawn = 1)"
    " ORDER BY rowid DESC LIMIT :limit"
)
# So many values are looked through in one piece; no key is higher than this.
_BLOCK, _HIGHEST = 8_000, 2**63 - 1
# Where each kind is sought, in the order in which they are told.
_SOUGHT: tuple[tuple[Kind, tuple[ColumnElement[Any], ...]], ...] = (
    (KINDS[Version], (t.VERSION.c.code, t.VERSION.c.name, t.VERSION.c.reason)),
    (KINDS[Project], (t.PROJECT.c.code, t.PROJECT.c.name, t.PROJECT.c.brief)),
    (
        KINDS[Bottle],
        (t.BOTTLE.c.code, t.BOTTLE.c.label, t.BOTTLE.c.lot, t.BOTTLE.c.supplier, t.BOTTLE.c.supplier_no, t.BOTTLE.c.place,
         t.BOTTLE.c.container),
    ),
    (KINDS[Strip], (t.STRIP.c.code, t.STRIP.c.blind_code)),
    (KINDS[Sitting], (t.SITTING.c.code, t.SITTING.c.purpose)),
    (KINDS[BlindTest], (t.BLIND_TEST.c.code, t.BLIND_TEST.c.question)),
    (KINDS[Decision], (t.DECISION.c.code, t.DECISION.c.reason, t.DECISION.c.rejected)),
    (KINDS[Making], (t.MAKING.c.code, t.MAKING.c.remark)),
    (KINDS[Balance], (t.BALANCE.c.name,)),
    (KINDS[Limit], (t.USE_LIMIT.c.name, t.USE_LIMIT.c.cas, t.USE_LIMIT.c.source, t.USE_LIMIT.c.remark)),
)  # fmt: skip


class Search:
    """`find_materials` is that of the book's queries, whose rows are kept."""

    def __init__(
        self, sql: Connection, store: Store, seal: Seal, find_materials: Callable[[str], tuple[MaterialRow, ...]]
    ) -> None:
        self._sql, self._store, self._seal = sql, store, seal
        self._find_materials = find_materials

    def finding(self, sought: str, limit: int, kinds: Container[type[Any]] | None) -> Iterator[tuple[Any, ...]]:
        """Values of any kind, or of some, in pieces of some ms, each with all that was found up to it; see Book.search."""
        needle = fold(sought)
        found: list[Any] = []
        if not needle:
            yield ()
            return
        # a family stands among what a material is found by already
        meant = meanings(needle, self._store.select(KINDS[Word]), families=False) or (needle,)
        if kinds is None or Material in kinds:
            hits = {row.key: row for meaning in meant for row in self._find_materials(meaning)}
            rows = sorted(hits.values(), key=lambda row: not fold(row.short).startswith(needle))
            materials = self._store.many(KINDS[Material], [row.key for row in rows[:limit]])
            found += [materials[row.key] for row in rows[:limit]]
        for kind, columns in _SOUGHT:
            if kinds is not None and kind.value not in kinds:
                continue
            for block in self._blocks(kind):
                if len(found) >= limit:
                    break
                keys = self._keys_like(kind, columns, meant, limit - len(found), block)
                values = self._store.many(kind, keys)
                found += [self._seal.veil(values[key]) for key in keys if self._may_be_found(values[key], needle)]
                yield tuple(found)
        if len(found) < limit and kinds is None:
            found += self._written(meant, limit - len(found))
        yield tuple(found)

    def _blocks(self, kind: Kind) -> Iterator[tuple[int, int]]:
        """Keys of a kind in runs of so many values, the newest first."""
        column, high = kind.table.c.key, _HIGHEST
        while True:
            newest = select(column).where(column <= high).order_by(column.desc())
            low = self._sql.execute(newest.limit(1).offset(_BLOCK - 1)).scalar()
            yield low or 0, high
            if low is None:
                return
            high = low - 1

    def _may_be_found(self, value: Any, needle: str) -> bool:
        """A strip under seal is found by what stands on its free end only."""
        return not (isinstance(value, Strip) and self._seal.holds(value)) or needle in fold(value.blind_code)

    def _keys_like(
        self, kind: Kind, columns: Iterable[ColumnElement[str]], needles: Iterable[str], limit: int,
        block: tuple[int, int] = (0, _HIGHEST),
    ) -> list[int]:  # fmt: skip
        whole: ColumnElement[str] = literal("")
        for column in columns:
            whole = whole + " " + func.coalesce(column, "")
        written = func.folded(whole)
        hit = or_(*(written.contains(needle, autoescape=True) for needle in needles))
        own = (kind.table.c.key.between(*block), hit, *kind.in_force())
        query = select(kind.table.c.key).where(*own).order_by(kind.table.c.key.desc()).limit(limit)
        return [row[0] for row in self._sql.execute(query)]

    def _written(self, needles: tuple[str, ...], limit: int) -> list[Any]:
        """Notes and readings in force that hold all words of one needle, newest first."""
        note, reading = KINDS[Note], KINDS[Reading]
        if self._store.has_text_index:
            words = [needle.replace('"', " ").replace("\0", " ").split() for needle in needles]
            terms = " OR ".join("(" + " ".join(f'"{word}"*' for word in some) + ")" for some in words if some)
            hits = self._sql.execute(_TEXT_HITS, {"terms": terms, "limit": limit}) if terms else ()
            keys = [row[0] for row in hits]
        else:
            keys = self._keys_like(note, (t.NOTE.c.text,), needles, limit)
            keys += self._keys_like(reading, (t.READING.c.note, t.READING.c.words), needles, limit)
            keys = sorted(keys, reverse=True)[:limit]
        values: dict[int, Any] = self._store.many(note, keys) | self._store.many(reading, keys)
        return [values[key] for key in keys]

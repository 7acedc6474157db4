# SPDX-License-Identifier: MIT
"""The perfumer's own smell words, and where they were written in months of readings and notes. `Book.words` is the door.

A word found by one of its synonyms is found by all of them; a family finds its words. What hangs in a sealed sitting is found
by its words like everything else, but by no vial, version or project.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Select, and_, column, distinct, exists, func, or_, select, table, text

from db import tables as t
from db.kinds import KINDS
from perfumery import Note, Reading, Strip, Word
from perfumery.findings import refuse
from perfumery.instants import to_ms
from perfumery.text import fold

if TYPE_CHECKING:
    from db.book import Book
    from db.seal import Seal
    from db.store import Store

MOST = 400
_INDEX = table("note_text", column("rowid"))


@dataclass(frozen=True, slots=True)
class Found:
    """Where words stand. `hits` are readings and notes in force, the newest first and at most so many as were asked for; the
    counts are of all: `paper` and `skin` readings, the `papers` they were taken on, and `notes`. `strips` {key: strip} of the
    readings among the hits, veiled where they are sealed; `meanings` what was looked for."""

    hits: tuple[Reading | Note, ...] = ()
    strips: Mapping[int, Strip] = field(default_factory=dict)
    paper: int = 0
    papers: int = 0
    skin: int = 0
    notes: int = 0
    meanings: tuple[str, ...] = ()


class Words:
    """The word list of one book."""

    def __init__(self, book: Book, store: Store, seal: Seal) -> None:
        self._book, self._store, self._seal = book, store, seal

    # finding ----------------------------------------------------------------------------------------------------------

    def times(self, word: str) -> int:
        """How many readings and notes in force hold a word, by its own name or a synonym."""
        hit, force = self._hit(fold(word), meanings(fold(word), self._book.all(Word))), KINDS[Reading].in_force()
        readings = self._store.scalar(select(func.count()).select_from(t.READING).where(hit(t.READING), *force))
        notes = self._store.scalar(
            select(func.count()).select_from(t.NOTE).where(hit(t.NOTE), *KINDS[Note].in_force())
        )
        return int(readings) + int(notes)

    def found(
        self,
        sought: str,
        *,
        since: datetime | None = None,
        kind: str | None = None,
        project: int | None = None,
        versions: Iterable[int] | None = None,
        raw: bool = False,
        most: int = MOST,
    ) -> Found:
        """Where a text or word stands: since an instant; on 'paper' or 'skin'; on strips of a project, of some versions, or
        with `raw` of raw materials alone. An empty text finds every reading that says something in words.

        Notes are looked through where neither kind of strip, project nor version narrows it.
        """
        needle = fold(sought)
        meant = meanings(needle, self._book.all(Word)) if needle else ()
        hit = self._hit(needle, meant)
        where = self._narrowed(since, kind, project, versions, raw=raw)
        force = KINDS[Reading].in_force()
        joined = t.READING.join(t.STRIP, t.STRIP.c.key == t.READING.c.strip)
        told = or_(t.READING.c.words != "{}", t.READING.c.note != "") if not needle else hit(t.READING)
        newest = (
            select(t.READING.c.key).select_from(joined).where(told, *where, *force).order_by(t.READING.c.key.desc()).limit(most)
        )
        readings = self._store.many(KINDS[Reading], (row[0] for row in self._store.rows(newest)))
        counted: dict[str, tuple[int, int]] = {}
        if needle:
            counts: Select[Any] = (
                select(t.STRIP.c.kind, func.count(), func.count(distinct(t.STRIP.c.key)))
                .select_from(joined).where(told, *where, *force).group_by(t.STRIP.c.kind)
            )  # fmt: skip
            counted = {row[0]: (row[1], row[2]) for row in self._store.rows(counts)}
        notes: dict[int, Note] = {}
        noted = 0
        if needle and kind is None and project is None and versions is None and not raw:
            after = [] if since is None else [t.NOTE.c.at >= to_ms(since)[0]]
            those = and_(hit(t.NOTE), *after, *KINDS[Note].in_force())
            noted = int(self._store.scalar(select(func.count()).select_from(t.NOTE).where(those)))
            some = select(t.NOTE.c.key).where(those).order_by(t.NOTE.c.key.desc()).limit(most)
            notes = self._store.many(KINDS[Note], (row[0] for row in self._store.rows(some)))
        hits = sorted((*readings.values(), *notes.values()), key=lambda one: (one.at, one.key), reverse=True)[:most]
        strips = self._store.many(KINDS[Strip], {one.strip for one in hits if isinstance(one, Reading)})
        paper, skin = counted.get("paper", (0, 0)), counted.get("skin", (0, 0))
        return Found(
            hits=tuple(hits), strips={key: self._seal.veil(strip) for key, strip in strips.items()}, paper=paper[0],
            papers=paper[1], skin=skin[0], notes=noted, meanings=meant,
        )  # fmt: skip

    def _narrowed(
        self, since: datetime | None, kind: str | None, project: int | None, versions: Iterable[int] | None, *, raw: bool
    ) -> list[ColumnElement[bool]]:
        where: list[ColumnElement[bool]] = []
        if since is not None:
            where.append(t.READING.c.at >= to_ms(since)[0])
        if kind is not None:
            where.append(t.STRIP.c.kind == kind)
        of = t.BOTTLE.c.key == t.STRIP.c.bottle
        if project is not None:
            own = select(t.VERSION.c.key).where(t.VERSION.c.project == project)
            where.append(exists(select(t.BOTTLE.c.key).where(of, t.BOTTLE.c.version.in_(own))))
        if versions is not None:
            where.append(exists(select(t.BOTTLE.c.key).where(of, t.BOTTLE.c.version.in_(sorted(versions)))))
        if raw:
            where.append(exists(select(t.BOTTLE.c.key).where(of, t.BOTTLE.c.material.is_not(None))))
        if project is not None or versions is not None or raw:
            # what is under seal is of nothing that may be known
            where.append(or_(t.STRIP.c.sitting.is_(None), t.STRIP.c.sitting.not_in(sorted(self._seal.sittings))))
        return where

    def _hit(self, needle: str, meant: tuple[str, ...]) -> Any:
        """A condition on READING or NOTE: one of the meanings stands in it, or all words of a text that is no smell word."""

        def of(where: Any) -> ColumnElement[bool]:
            if self._store.has_text_index:
                terms = _terms(meant or (needle,), is_word=bool(meant))
                held = select(_INDEX.c.rowid).where(text("note_text MATCH :terms").bindparams(terms=terms))
                found: ColumnElement[bool] = where.c.key.in_(held)
                return found
            written = func.folded(where.c.text if where is t.NOTE else where.c.words + " " + where.c.note)
            if meant:
                return or_(*(written.contains(one, autoescape=True) for one in meant))
            return and_(*(written.contains(word, autoescape=True) for word in needle.split()))

        return of

    # the list ---------------------------------------------------------------------------------------------------------

    def rename(self, word: int, new: str) -> Word:
        """Another text for a word. Readings keep what was written, so the old text stays as its synonym."""
        old = self._known(word)
        if old.text == new:
            return old
        before = Word(old.text, old.group, same_as=word if old.same_as is None else old.same_as)
        renamed: Word = self._book.put(replace(old, text=new), before, what=f"{old.text} is called {new}")[0]
        return renamed

    def join(self, word: int, main: int) -> Word:
        """Makes a word a synonym of another, with every synonym it had."""
        own, other = self._known(word), self._known(main)
        root = self._known(other.same_as) if other.same_as is not None else other
        if root.key == own.key:
            raise refuse("word-itself", name=own.text)
        moved = list(self._book.all(Word, same_as=word))
        put = self._book.put(
            *(replace(one, same_as=root.key, group=root.group) for one in (own, *moved)), what=f"{own.text} means {root.text}"
        )
        joined: Word = put[0]
        return joined

    def _known(self, word: int) -> Word:
        found = self._book.get(Word, word)
        if found is None:
            raise refuse("reference-missing", kind="Word", key=word)
        return found


def meanings(needle: str, words: Iterable[Word], *, families: bool = True) -> tuple[str, ...]:
    """What a folded text stands for, itself first: where it is a word, the word it means and every synonym of that; where it
    is a family, all its words, unless those are not wanted; nothing where it is neither."""
    known = list(words)
    own = next((word for word in known if fold(word.text) == needle), None)
    if own is not None:
        roots = {own.key if own.same_as is None else own.same_as}
    else:
        roots = {word.key for word in known if families and fold(word.group) == needle}
    found = [fold(word.text) for word in known if word.key in roots or word.same_as in roots]
    return tuple(dict.fromkeys((needle, *found))) if found else ()


def _terms(meant: tuple[str, ...], *, is_word: bool) -> str:
    """The question for the text index: a word's meanings as phrases; of a text all its words, each of which may go on."""
    phrases = [" ".join(one.replace('"', " ").replace("\0", " ").split()) for one in meant]
    if is_word:
        return " OR ".join(f'"{phrase}"' for phrase in phrases)
    return " ".join(f'"{word}"*' for word in phrases[0].split()) or '""'

# SPDX-License-Identifier: MIT
"""The perfumer's own smell words, and where they were written in months of readings and notes. `Book.words` is the door.

A word found by one of its synonyms is found by all of them; a family finds its words. What hangs in a sealed sitting is found
by its words like everything else, but by no vial, version or project.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, and_, column, exists, func, or_, select, table, text

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
# So many hits, or keys where no index knows the hits, are looked at in one piece; all keys there are.
_HITS, _SPAN, _EVER = 4_000, 32_000, (1, 2**63 - 1)
# What narrows to more strips than these is asked of each hit: their readings are not listed.
_STRIPS = 2_000
_MATCHES: Any = text("note_text MATCH :terms")
_INDEX = table("note_text", column("rowid"))
# Asked of the index alone, for a word may stand in tens of thousands. A reading is withdrawn by a correction; the plus keeps what
# was replaced or withdrawn from being looked up in the index one by one.
_TIMES = text("""SELECT count(*) FROM note_text WHERE note_text MATCH :terms AND +rowid NOT IN (
    SELECT replaces FROM note WHERE replaces > 0 UNION ALL SELECT replaces FROM reading WHERE replaces > 0
    UNION ALL SELECT key FROM reading WHERE replaces > 0 AND withdrawn = 1)""")


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


@dataclass(slots=True)
class _Looked:
    """What was found so far: keys of the newest readings and notes, and counts of all."""

    meanings: tuple[str, ...]
    most: int
    readings: set[int] = field(default_factory=set)
    notes: set[int] = field(default_factory=set)
    values: dict[int, Reading | Note] = field(default_factory=dict)
    strips: dict[int, Strip] = field(default_factory=dict)
    counted: Counter[str] = field(default_factory=Counter)
    papers: set[int] = field(default_factory=set)

    def count(self, rows: Iterable[Any]) -> None:
        """Rows of (kind of a strip, strip, how many readings of it)."""
        for kind, strip, readings in rows:
            self.counted[kind] += readings
            if kind == "paper":
                self.papers.add(strip)

    def found(self) -> Found:
        """All of it."""
        hits = tuple(sorted(self.values.values(), key=lambda one: (one.at, one.key or 0), reverse=True)[: self.most])
        own = {one.strip for one in hits if isinstance(one, Reading)}
        return Found(
            hits=hits, strips={key: strip for key, strip in self.strips.items() if key in own}, paper=self.counted["paper"],
            papers=len(self.papers), skin=self.counted["skin"], notes=self.counted["note"], meanings=self.meanings,
        )  # fmt: skip


class Words:
    """The word list of one book."""

    def __init__(self, book: Book, store: Store, seal: Seal) -> None:
        self._book, self._store, self._seal = book, store, seal

    # finding ----------------------------------------------------------------------------------------------------------

    def times(self, word: str) -> int:
        """How many readings and notes in force hold a word, by its own name or a synonym."""
        meant = meanings(fold(word), self._book.all(Word))
        if self._store.has_text_index:
            return int(self._store.scalar(_TIMES.bindparams(terms=_terms(meant or (fold(word),), is_word=bool(meant)))))
        kinds = (KINDS[Reading], KINDS[Note])
        held = partial(_is_written, fold(word), meant, None, _EVER)
        asked = (select(func.count()).select_from(kind.table).where(held(kind.table), *kind.in_force()) for kind in kinds)
        return sum(int(self._store.scalar(one)) for one in asked)

    def found(self, sought: str, *, most: int = MOST, **narrow: Any) -> Found:
        """Where a text or word stands. An empty text finds every reading that says something in words. What `finding` says, in
        one piece."""
        *_, found = self.finding(sought, most=most, **narrow)
        return found

    def finding(
        self,
        sought: str,
        *,
        since: datetime | None = None,
        kind: str | None = None,
        project: int | None = None,
        versions: Iterable[int] | None = None,
        raw: bool = False,
        most: int = MOST,
    ) -> Iterator[Found]:
        """Where a text or word stands: since an instant; on 'paper' or 'skin'; on strips of a project, of some versions, or
        with `raw` of raw materials alone. Notes are looked through where neither kind of strip, project nor version narrows it.

        In pieces of some ms, the newest first, each with all that was found up to it: a word of years is long to count.
        """
        needle = fold(sought)
        meant = meanings(needle, self._book.all(Word)) if needle else ()
        of = _dipped(project, versions)
        dipped = select(t.STRIP.c.key).join(t.BOTTLE, t.BOTTLE.c.key == t.STRIP.c.bottle).where(*of) if of else None
        where = [*self._narrowed(since, kind, raw=raw, of=of), *KINDS[Reading].in_force()]
        in_notes = bool(needle) and kind is None and dipped is None and not raw
        after = [] if since is None else [t.NOTE.c.at >= to_ms(since)[0]]
        joined = t.READING.join(t.STRIP, t.STRIP.c.key == t.READING.c.strip)
        looked = _Looked(meant, most)
        for told in self._pieces(needle, meant, dipped):
            own, lacking = (told(t.READING), *where), most - len(looked.readings)
            if lacking:
                newest = select(t.READING.c.key).select_from(joined).where(*own).order_by(t.READING.c.key.desc()).limit(lacking)
                looked.readings.update(self._store.scalars(newest))
            elif not needle:
                # without a text nothing is counted
                break
            if in_notes:
                those = (told(t.NOTE), *after, *KINDS[Note].in_force())
                notes = self._store.scalars(select(t.NOTE.c.key).where(*those).order_by(t.NOTE.c.key.desc()))
                looked.notes.update(notes[: most - len(looked.notes)])
                looked.counted["note"] += len(notes)
            yield self._shown(looked)
            if needle:
                by_strip = select(t.STRIP.c.kind, t.STRIP.c.key, func.count()).select_from(joined).where(*own)
                looked.count(self._store.rows(by_strip.group_by(t.STRIP.c.key)))
        yield self._shown(looked)

    def _pieces(
        self, needle: str, meant: tuple[str, ...], dipped: Any
    ) -> Iterator[Callable[[Any], ColumnElement[bool]]]:
        """Conditions on READING or NOTE, the newest first and one at least, that a text stands in it; `dipped` asks for the
        strips whose readings alone count."""
        if needle and self._store.has_text_index:
            terms = _terms(meant or (needle,), is_word=bool(meant))
            # as one text, for there may be a hundred thousand
            listed = self._store.scalar(select(func.json_group_array(_INDEX.c.rowid)).where(_MATCHES.bindparams(terms=terms)))
            keys = sorted(json.loads(listed), reverse=True)
            if dipped is not None:
                strips = self._store.scalars(dipped.limit(_STRIPS))
                if len(strips) < _STRIPS:
                    own = set(self._store.scalars(select(t.READING.c.key).where(t.READING.c.strip.in_(_listed(strips)))))
                    keys = [key for key in keys if key in own]
            for start in range(0, max(len(keys), 1), _HITS):
                yield partial(_is_one, keys[start : start + _HITS])
            return
        last = max(self._store.scalar(select(func.max(one.c.key))) or 1 for one in (t.READING, t.NOTE))
        for top in range(last, 0, -_SPAN):
            yield partial(_is_written, needle, meant, dipped, (top - _SPAN + 1, top))

    def _shown(self, looked: _Looked) -> Found:
        """What was found, with the values behind it."""
        looked.values |= self._store.many(KINDS[Reading], looked.readings - looked.values.keys())
        looked.values |= self._store.many(KINDS[Note], looked.notes - looked.values.keys())
        strips = {one.strip for one in looked.values.values() if isinstance(one, Reading)} - looked.strips.keys()
        looked.strips |= {key: self._seal.veil(strip) for key, strip in self._store.many(KINDS[Strip], strips).items()}
        return looked.found()

    def _narrowed(
        self, since: datetime | None, kind: str | None, *, raw: bool, of: list[ColumnElement[bool]]
    ) -> list[ColumnElement[bool]]:
        where: list[ColumnElement[bool]] = []
        if since is not None:
            where.append(t.READING.c.at >= to_ms(since)[0])
        if kind is not None:
            where.append(t.STRIP.c.kind == kind)
        if raw:
            of = [*of, t.BOTTLE.c.material.is_not(None)]
        if of:
            where.append(exists(select(t.BOTTLE.c.key).where(t.BOTTLE.c.key == t.STRIP.c.bottle, *of)))
            # what is under seal is of nothing that may be known
            where.append(or_(t.STRIP.c.sitting.is_(None), t.STRIP.c.sitting.not_in(sorted(self._seal.sittings))))
        return where

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


def _dipped(project: int | None, versions: Iterable[int] | None) -> list[ColumnElement[bool]]:
    """That a bottle is of a project or of versions, nothing where neither is asked for."""
    own = select(t.VERSION.c.key).where(t.VERSION.c.project == project)
    wanted = [own] if project is not None else []
    if versions is not None:
        wanted.append(_listed(versions))
    return [t.BOTTLE.c.version.in_(one) for one in wanted]


def _listed(keys: Iterable[int]) -> Any:
    """Asks for these keys, of which there may be more than a question takes one by one."""
    listed = func.json_each(json.dumps(list(keys))).table_valued("value")
    return select(listed.c.value)


def _is_one(keys: Sequence[int], where: Any) -> ColumnElement[bool]:
    """That a row of READING or NOTE is one of these."""
    found: ColumnElement[bool] = where.c.key.in_(_listed(keys))
    return found


def _is_written(needle: str, meant: tuple[str, ...], dipped: Any, span: tuple[int, int], where: Any) -> ColumnElement[bool]:
    """That a row of READING or NOTE within a run of keys holds one of the meanings, or all words of a text that is no smell
    word, or where there is none, anything at all."""
    if where is t.NOTE:
        said, written = where.c.text != "", func.folded(where.c.text)
    else:
        said, written = or_(where.c.words != "{}", where.c.note != ""), func.folded(where.c.words + " " + where.c.note)
    hits = [written.contains(one, autoescape=True) for one in meant or needle.split()]
    held = [or_(*hits) if meant else and_(*hits)] if needle else []
    of = [] if dipped is None or where is t.NOTE else [where.c.strip.in_(dipped)]
    return and_(where.c.key.between(*span), said, *held, *of)


def _terms(meant: tuple[str, ...], *, is_word: bool) -> str:
    """The question for the text index: a word's meanings as phrases; of a text all its words, each of which may go on."""
    phrases = [" ".join(one.replace('"', " ").replace("\0", " ").split()) for one in meant]
    if is_word:
        return " OR ".join(f'"{phrase}"' for phrase in phrases)
    return " ".join(f'"{word}"*' for word in phrases[0].split()) or '""'

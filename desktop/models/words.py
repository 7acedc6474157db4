# SPDX-License-Identifier: MIT
"""The word list with what is edited in it, and the readings and notes in which words were found."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, Qt

from db import Book, Found
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models.log import words_text
from desktop.models.table import TableModel
from perfumery import Note, Reading, Strip, Word
from perfumery.instants import hours
from perfumery.text import fold

_EDITABLE = ("text", "also", "group")


@dataclass(frozen=True, slots=True)
class WordLine:
    """One word that stands for itself, with the texts of its synonyms."""

    word: Word
    also: tuple[str, ...] = ()


def word_lines(words: Iterable[Word], sought: str = "") -> list[WordLine]:
    """The words by family and name, each with its synonyms; of a text only those that hold it in any of these."""
    known = list(words)
    also: dict[int | None, list[str]] = {}
    for word in known:
        if word.same_as is not None:
            also.setdefault(word.same_as, []).append(word.text)
    keys = {word.key for word in known}
    own = [word for word in known if word.same_as is None or word.same_as not in keys]
    needle = fold(sought)
    lines = [WordLine(word, tuple(sorted(also.get(word.key, ()), key=fold))) for word in own]
    lines = [one for one in lines if needle in fold("\n".join((one.word.text, one.word.group, *one.also)))]
    return sorted(lines, key=lambda one: (not one.word.group, fold(one.word.group), fold(one.word.text)))


class WordsModel(TableModel[WordLine]):
    """The list. A cell that is edited calls `rewrite(line, column, text)`, which says whether it was taken; how often a word
    was written is asked when its cell is first shown."""

    def __init__(self, times: Callable[[str], str], rewrite: Callable[[WordLine, str, str], bool], parent: QObject | None = None):
        self._rewrite = rewrite
        columns: tuple[Column[WordLine], ...] = (
            Column("text", tr("word"), lambda line: line.word.text, 104),
            Column("also", tr("also"), lambda line: ", ".join(line.also), 92,
                   tip=tr("words that mean the same, kept apart by commas")),
            Column("group", tr("family"), lambda line: line.word.group, 100),
            Column("times", tr("times"), lambda line: times(line.word.text), 44, right=True,
                   tip=tr("readings and notes that hold it, or a word that means the same")),
        )  # fmt: skip
        super().__init__(columns, parent)

    def identity(self, row: WordLine) -> int | None:
        """The word."""
        return row.word.key

    def tone(self, row: WordLine, column: Column[WordLine]) -> str:
        """Words first."""
        return "ink" if column.key == "text" else "quiet"

    def flags(self, index: QModelIndex | QPersistentModelIndex) -> Qt.ItemFlag:
        can = super().flags(index)
        return can | Qt.ItemFlag.ItemIsEditable if self.columns[index.column()].key in _EDITABLE else can

    def setData(self, index: QModelIndex | QPersistentModelIndex, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        column = self.columns[index.column()]
        if role != Qt.ItemDataRole.EditRole or column.key not in _EDITABLE:
            return False
        return self._rewrite(self.row(index.row()), column.key, " ".join(str(value).split()))

    def forget_times(self, word: str | None = None) -> None:
        """The count of a word, or of all, is asked anew when it is shown next."""
        at = self.place_of("times")
        places = [place for place, row in enumerate(self._rows) if word in (None, row.word.text)]
        for place in places:
            self._cells[place][at] = None
        if places:
            self.dataChanged.emit(self.index(places[0], at), self.index(places[-1], at))


def rewritten(book: Book, line: WordLine, column: str, text: str) -> Callable[[], object] | None:
    """What an edit of a word does, to be called; None where it changes nothing. An emptied name or family word is Refused
    when it is done."""
    word = line.word
    assert word.key is not None
    key = word.key
    if column == "text":
        return None if text == word.text else lambda: book.words.rename(key, text)
    if column == "group":
        own = [word, *book.all(Word, same_as=key)]
        what = tr("family of {word}", word=word.text)
        return None if text == word.group else lambda: book.put(*(replace(one, group=text) for one in own), what=what)
    wanted = list(dict.fromkeys(" ".join(part.split()) for part in text.split(",") if part.strip()))
    return None if wanted == list(line.also) else lambda: _keep_synonyms(book, word, wanted)


def _keep_synonyms(book: Book, word: Word, wanted: list[str]) -> None:
    """Makes these the synonyms of a word: new ones are added, known ones joined to it, those left out stand alone again."""
    known = {fold(one.text): one for one in book.all(Word)}
    names = {fold(text) for text in wanted} - {fold(word.text)}
    values: list[Word] = []
    for text in wanted:
        one = known.get(fold(text))
        if one is None:
            values.append(Word(text, word.group, same_as=word.key))
        elif one.key != word.key and one.same_as != word.key:
            # with the synonyms it had
            moved = [other for other in known.values() if other.same_as == one.key]
            values += [replace(other, same_as=word.key, group=word.group) for other in (one, *moved)]
    values += [replace(one, same_as=None) for text, one in known.items() if one.same_as == word.key and text not in names]
    if values:
        book.put(*values, what=tr("words that mean {word}", word=word.text))


# what was found -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Hit:
    """One reading on its strip, or one note."""

    value: Reading | Note
    strip: Strip | None = None


def hits_of(found: Found) -> list[Hit]:
    """The hits with their strips."""
    return [Hit(one, found.strips.get(one.strip) if isinstance(one, Reading) else None) for one in found.hits]


def _elapsed(hit: Hit) -> str:
    if hit.strip is None:
        return hit.value.stage if isinstance(hit.value, Note) else ""
    return figures.elapsed(hours(hit.strip.dipped_at, hit.value.at))


def _intensity(hit: Hit) -> str:
    value = None if isinstance(hit.value, Note) else hit.value.intensity
    return "" if value is None else figures.parts(value)


def _said(hit: Hit) -> str:
    if isinstance(hit.value, Note):
        return hit.value.text
    words = ", ".join(words_text(hit.value, weights=False))
    return " — ".join(part for part in (words, hit.value.note) if part)


class HitsModel(TableModel[Hit]):
    """Read only; what a strip or a note is of is asked when its cell is first shown."""

    def __init__(self, subject: Callable[[Hit], str], parent: QObject | None = None) -> None:
        columns: tuple[Column[Hit], ...] = (
            Column("at", tr("read"), lambda hit: figures.day(hit.value.at), 92, plain=lambda hit: hit.value.at.isoformat()),
            Column("strip", tr("strip"), lambda hit: tr("note") if hit.strip is None else hit.strip.code, 52),
            Column("of", tr("of"), subject, 116),
            Column("elapsed", tr("elapsed"), _elapsed, 64, tip=tr("time since the dip; of a note, its stage")),
            Column("intensity", tr("intensity"), _intensity, 62, right=True),
            Column("said", tr("words and note"), _said, 240),
        )  # fmt: skip
        super().__init__(columns, parent)

    def identity(self, row: Hit) -> int | None:
        """The reading or note."""
        return row.value.key

    def tone(self, row: Hit, column: Column[Hit]) -> str:
        """What was said in ink."""
        return "ink" if column.key in ("said", "strip", "intensity") else "quiet"

    def tip(self, row: Hit, column: Column[Hit]) -> str:
        """The moment it was read."""
        return figures.moment(row.value.at) if column.key == "at" else ""

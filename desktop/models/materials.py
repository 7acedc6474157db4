# SPDX-License-Identifier: MIT
"""The materials as a list of two-line rows, filtered while typing.

Filtering swaps one tuple of rows for another; the two strings of a row are made when the row is first painted and kept
until the book changes, so that 10,000 materials cost no more than the dozen on screen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, Qt

from desktop.language import tr
from perfumery.text import fold

CaptionRole = Qt.ItemDataRole.UserRole + 1
KeyRole = Qt.ItemDataRole.UserRole + 2
RetiredRole = Qt.ItemDataRole.UserRole + 3

# Where the needle was found, in the order in which it is said, each as it is shown.
FIELDS = {
    "name": tr("name"), "cas": tr("CAS number"), "form": tr("form"), "word": tr("smell word"), "synonym": tr("synonym"),
}  # fmt: skip
# The field is told from so many rows: enough for a true word, and no wait for a single letter in 10,000 names.
TOLD_FROM = 200
# Rows whose second lines are asked for together.
AT_ONCE = 24


class MaterialsModel(QAbstractListModel):
    """Rows of the door's MaterialRow. `captions(rows)` gives the second line of each; it is asked for as many rows as a screen
    shows when the first of them is shown."""

    def __init__(self, captions: Callable[[Sequence[Any]], Sequence[str]], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._captions = captions
        self._rows: Sequence[Any] = ()
        self._ready: dict[int, tuple[Any, tuple[str, str]]] = {}

    def show_rows(self, rows: Sequence[Any]) -> None:
        """Shows these rows; strings that are ready stay so."""
        self.beginResetModel()
        self._rows = rows
        self.endResetModel()

    def forget(self, keys: Iterable[int] | None = None) -> None:
        """Drops the ready strings of these materials, of all where None."""
        if keys is None:
            self._ready.clear()
            changed = range(len(self._rows))
        else:
            gone = {key for key in keys if self._ready.pop(key, None)}
            changed = [place for place, row in enumerate(self._rows) if row.key in gone] if gone else []
        if changed:
            self.dataChanged.emit(self.index(changed[0]), self.index(changed[-1]))

    def row_at(self, place: int) -> Any:
        """The row at a place."""
        return self._rows[place]

    def place_of(self, key: int | None) -> int:
        """The place of a material, −1 where it is not shown."""
        return next((place for place, row in enumerate(self._rows) if row.key == key), -1)

    def rowCount(self, parent: QModelIndex = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._rows)

    def data(self, index: QModelIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        row = self._rows[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return self._strings(index.row())[0]
        if role == CaptionRole:
            return self._strings(index.row())[1]
        if role == KeyRole:
            return row.key
        if role == RetiredRole:
            return bool(row.retired)
        if role == Qt.ItemDataRole.ToolTipRole:
            return row.name
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return ", ".join(filter(None, self._strings(index.row())))
        return None

    def _strings(self, place: int) -> tuple[str, str]:
        row = self._rows[place]
        if not self._is_ready(row):
            fresh = [other for other in self._rows[place : place + AT_ONCE] if not self._is_ready(other)]
            for other, told in zip(fresh, self._captions(fresh), strict=True):
                caption = " · ".join(filter(None, (tr("retired"), told))) if other.retired else told
                self._ready[other.key] = other, (other.short, caption)
        return self._ready[row.key][1]

    def _is_ready(self, row: Any) -> bool:
        """Whether the strings of just this row are there: a changed material is another row of the same key."""
        known = self._ready.get(row.key)
        return known is not None and known[0] is row


def fields_found(rows: Sequence[Any], text: str) -> tuple[str, ...]:
    """In which fields the words of a search stand, for the line that says how many were found."""
    needles = fold(text).split()
    found = {field for row in rows[:TOLD_FROM] for field in _fields_of(row, needles)}
    return tuple(shown for field, shown in FIELDS.items() if field in found)


def _fields_of(row: Any, needles: list[str]) -> Iterable[str]:
    """The field each needle stands in; families are told by no field of a row, so they count as smell words."""
    names = fold(f"{row.short}\n{row.name}")
    words = fold(" ".join(row.words))
    for needle in needles:
        if needle in names:
            yield "name"
        elif needle in row.cas:
            yield "cas"
        elif needle in fold(row.form):
            yield "form"
        elif needle in words:
            yield "word"
        else:
            yield "synonym" if _is_named(row, needle) else "word"


def _is_named(row: Any, needle: str) -> bool:
    """Whether a field of the haystack before the smell words holds it: botanical name, INCI name or synonym.

    The haystack keeps its fields in the order names, synonyms, words, families.
    """
    fields = row.hay.split("\n")
    first_word = fold(row.words[0]) if row.words else None
    before = fields[: len(fields) - 1 - fields[::-1].index(first_word)] if first_word in fields else fields
    return any(needle in field for field in before)

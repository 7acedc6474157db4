# SPDX-License-Identifier: MIT
"""A table of ready strings: cells are made once when rows change, and only rows that differ are said to have changed."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Any, Generic, TypeVar

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, Qt

from desktop import figures
from desktop.columns import Column

R = TypeVar("R")

# Figures stand on their decimal point up to so many decimals.
DECIMALS = 3

# Looked up once: an enumeration taken apart at every call of data() is what makes a table slow.
_DISPLAY, _EDIT = Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole
_ALIGNMENT, _TIP = Qt.ItemDataRole.TextAlignmentRole, Qt.ItemDataRole.ToolTipRole
_SPOKEN = Qt.ItemDataRole.AccessibleTextRole
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_HORIZONTAL = Qt.Orientation.Horizontal


class TableModel(QAbstractTableModel, Generic[R]):
    """Rows R shown through declared columns. Subclasses say what a row is by `identity`, and override `tip`, `tone`,
    `edit_text`, `flags` and `setData` where they have more to say; `decimals` are those of a column other than the usual."""

    decimals: Mapping[str, int] = {}

    def __init__(self, columns: Sequence[Column[R]], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns: tuple[Column[R], ...] = tuple(columns)
        self._rows: list[R] = []
        self._cells: list[tuple[str, ...]] = []

    # rows -------------------------------------------------------------------------------------------------------------

    def identity(self, row: R) -> Hashable:
        """What makes a row the same row after a change."""
        return id(row)

    def show_rows(self, rows: Sequence[R]) -> None:
        """Shows these rows: new ones are put in, gone ones taken out, and those that differ repainted."""
        fresh, cells = list(rows), self._made(rows)
        old, new = [self.identity(row) for row in self._rows], [self.identity(row) for row in fresh]
        start = 0
        while start < min(len(old), len(new)) and old[start] == new[start]:
            start += 1
        end = 0
        while end < min(len(old), len(new)) - start and old[-1 - end] == new[-1 - end]:
            end += 1
        nowhere = QModelIndex()
        if len(old) - end > start:
            self.beginRemoveRows(nowhere, start, len(old) - end - 1)
            del self._rows[start : len(old) - end], self._cells[start : len(old) - end]
            self.endRemoveRows()
        if len(new) - end > start:
            self.beginInsertRows(nowhere, start, len(new) - end - 1)
            self._rows[start:start] = fresh[start : len(new) - end]
            self._cells[start:start] = cells[start : len(new) - end]
            self.endInsertRows()
        before = self._rows, self._cells
        self._rows, self._cells = fresh, cells
        self._say_changed([at for at in range(len(new)) if before[1][at] != cells[at] or before[0][at] != fresh[at]])

    def _made(self, rows: Sequence[R]) -> list[tuple[str, ...]]:
        """The ready strings, figures of a column filled up so that their decimal points stand below each other."""
        by_column = []
        for column in self.columns:
            texts = [column.text(row) for row in rows]
            if column.right:
                places = max((len(t.partition(".")[2]) for t in texts if t[-1:].isdigit()), default=0)
                # one line of traces must not push the figures of all others to the left
                places = min(places, self.decimals.get(column.key, DECIMALS))
                texts = [figures.on_point(text, places) for text in texts] if places else texts
            by_column.append(texts)
        return list(zip(*by_column, strict=True)) if rows else []

    def _say_changed(self, places: list[int]) -> None:
        last = len(self.columns) - 1
        start = previous = None
        for place in [*places, None]:
            if start is not None and place != previous + 1:
                self.dataChanged.emit(self.index(start, 0), self.index(previous, last))
                start = None
            start = place if start is None else start
            previous = place

    # what a view asks -------------------------------------------------------------------------------------------------

    def row(self, place: int) -> R:
        """The row at a place."""
        return self._rows[place]

    @property
    def rows(self) -> tuple[R, ...]:
        """All rows."""
        return tuple(self._rows)

    def cell(self, place: int, column: int) -> str:
        """The ready string of a cell."""
        return self._cells[place][column]

    def place_of(self, key: str) -> int:
        """The place of a column by its key."""
        return next(at for at, column in enumerate(self.columns) if column.key == key)

    def tip(self, row: R, column: Column[R]) -> str:
        """What the pointer resting on a cell shows; the view shows the whole text by itself where it is cut."""
        return ""

    def tone(self, row: R, column: Column[R]) -> str:
        """The theme's token a cell is written in."""
        return "ink"

    def edit_text(self, row: R, column: Column[R]) -> str:
        """What an editor starts with."""
        return column.text(row)

    def rowCount(self, parent: QModelIndex | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self._rows)

    def columnCount(self, parent: QModelIndex | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self.columns)

    def data(self, index: QModelIndex, role: int = _DISPLAY) -> Any:
        if not index.isValid():
            return None
        if role == _DISPLAY:
            return self._cells[index.row()][index.column()]
        column = self.columns[index.column()]
        if role == _ALIGNMENT:
            return _RIGHT if column.right else _LEFT
        row = self._rows[index.row()]
        if role == _EDIT:
            return self.edit_text(row, column)
        if role == _TIP:
            return self.tip(row, column) or None
        if role == _SPOKEN:
            return f"{column.head or column.tip}: {column.text(row) or 'empty'}"
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _DISPLAY) -> Any:
        if orientation != _HORIZONTAL or not 0 <= section < len(self.columns):
            return None
        column = self.columns[section]
        if role == _DISPLAY:
            return column.head
        if role == _TIP:
            return column.tip or None
        if role == _ALIGNMENT:
            return _RIGHT if column.right else _LEFT
        return None

# SPDX-License-Identifier: MIT
"""A table of ready strings: a cell is made once, when it is first shown, and only rows that differ are said to have changed."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Any, Generic, TypeVar

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, Qt

from desktop import figures
from desktop.columns import Column, decimals_of
from desktop.help_text import sums
from desktop.language import tr

R = TypeVar("R")

# Looked up once: an enumeration taken apart at every call of data() is what makes a table slow.
_DISPLAY, _EDIT = Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole
_ALIGNMENT, _TIP = Qt.ItemDataRole.TextAlignmentRole, Qt.ItemDataRole.ToolTipRole
_SPOKEN, _DESCRIBED = Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.AccessibleDescriptionRole
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
        self._cells: list[list[str | None]] = []
        self._places: dict[int, int] = {}
        self._pads: dict[int, int] = {}
        # decimals of the figures in each cell of a column of texts, as far as they were looked at
        self._digits: list[list[int | None]] = []

    # rows -------------------------------------------------------------------------------------------------------------

    def identity(self, row: R) -> Hashable:
        """What makes a row the same row after a change."""
        return id(row)

    def show_rows(self, rows: Sequence[R]) -> None:
        """Shows these rows: new ones are put in, gone ones taken out, and those that differ repainted."""
        fresh = list(rows)
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
            del self._rows[start : len(old) - end], self._cells[start : len(old) - end], self._digits[start : len(old) - end]
            self.endRemoveRows()
        if len(new) - end > start:
            self.beginInsertRows(nowhere, start, len(new) - end - 1)
            self._rows[start:start] = fresh[start : len(new) - end]
            self._cells[start:start] = self._blank(len(new) - end - start)
            self._digits[start:start] = self._blank(len(new) - end - start)
            self.endInsertRows()
        before, places = self._rows, self._places
        self._rows, self._places = fresh, self._decimals(fresh)
        self._pads = {}
        if places == self._places:
            changed = [at for at in range(len(new)) if before[at] is not fresh[at] and before[at] != fresh[at]]
        else:
            changed = list(range(len(new)))
        for at in changed:
            self._forget(at)
        self._say_changed(changed)

    def _forget(self, place: int) -> None:
        """The strings of a row are made anew."""
        self._cells[place], self._digits[place] = self._blank(1)[0], self._blank(1)[0]

    def _blank(self, rows: int) -> list[list[Any]]:
        columns = len(self.columns)
        return [[None] * columns for _ in range(rows)]

    def _decimals(self, rows: Sequence[R]) -> dict[int, int]:
        """{column: decimals} of the columns of worked-out figures."""
        return {
            at: decimals_of(map(column.figure, rows), *column.decimals)
            for at, column in enumerate(self.columns)
            if column.figure is not None
        }

    def _made(self, place: int, at: int) -> str:
        """The string of one cell; figures of a column stand with their decimal points below each other."""
        column, row = self.columns[at], self._rows[place]
        if column.figure is not None:
            figure, places = column.figure(row), self._places.get(at, column.decimals[0])
            if figure is not None and (not figure or abs(figure) >= 0.5 * 10**-places):
                return figures.fixed(figure, places)
            return column.text(row)
        text = column.text(row)
        if not column.right:
            return text
        if at not in self._pads:
            self._pads[at] = max(self._digits_in(other, at) for other in range(len(self._rows)))
        return figures.on_point(text, self._pads[at]) if self._pads[at] else text

    def _digits_in(self, place: int, at: int) -> int:
        found = self._digits[place][at]
        if found is None:
            text = self.columns[at].text(self._rows[place])
            found = self._digits[place][at] = figures.decimals_shown(text) if text[-1:].isdigit() else 0
        return found

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
        text = self._cells[place][column]
        if text is None:
            text = self._cells[place][column] = self._made(place, column)
        return text

    def place_of(self, key: str) -> int:
        """The place of a column by its key."""
        return next(at for at, column in enumerate(self.columns) if column.key == key)

    def tip(self, row: R, column: Column[R]) -> str:
        """What the pointer resting on a cell shows; the view shows the whole text by itself where it is cut."""
        return ""

    def tone(self, row: R, column: Column[R]) -> str:
        """The theme's token a cell is written in."""
        return "ink"

    def sum_of(self, row: R, column: Column[R]) -> str:
        """The sum, by its name in the help, that a cell is worked out by; '' for what is no sum."""
        return column.sum

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
            return self.cell(index.row(), index.column())
        column = self.columns[index.column()]
        if role == _ALIGNMENT:
            return _RIGHT if column.right else _LEFT
        row = self._rows[index.row()]
        if role == _EDIT:
            return self.edit_text(row, column)
        if role in (_TIP, _DESCRIBED):
            return self.tip(row, column) or None
        if role == _SPOKEN:
            return f"{column.head or column.tip}: {column.text(row) or tr('empty')}"
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _DISPLAY) -> Any:
        if orientation != _HORIZONTAL or not 0 <= section < len(self.columns):
            return None
        column = self.columns[section]
        if role == _DISPLAY:
            return column.head
        if role == _TIP:
            return "\n".join(filter(None, (column.tip, sums()[column.sum].tip if column.sum else ""))) or None
        if role == _ALIGNMENT:
            return _RIGHT if column.right else _LEFT
        return None

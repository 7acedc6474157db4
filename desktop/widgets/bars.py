# SPDX-License-Identifier: MIT
"""Changes as bars in a column of a table: to the right what there is more of, to the left what there is less of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF
from PySide6.QtGui import QPainter, QPen
from PySide6.QtWidgets import QStyleOptionViewItem

from desktop.theme import Theme
from desktop.widgets.grid import Grid, GridDelegate

HEIGHT, EDGE = 8, 4


class BarDelegate(GridDelegate):
    """`length(row)` is −1..1 of half the column, None where there is nothing to draw; the sign also stands in the figures."""

    def __init__(self, theme: Theme, grid: Grid, column: str, length: Callable[[Any], float | None]) -> None:
        self._column, self._length = column, length
        super().__init__(theme, grid)

    def restyle(self) -> None:
        super().restyle()
        self._axis = QPen(self._theme.colour("hairline"))
        self._more, self._less = self._theme.colour("juniper"), self._theme.colour("amber")

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().paint(painter, option, index)
        model = self._grid.table
        if model.columns[index.column()].key != self._column:
            return
        rect = self._grid.visualRect(QModelIndex(index))
        middle, half = rect.center().x(), rect.width() / 2 - EDGE
        painter.setPen(self._axis)
        painter.drawLine(middle, rect.top(), middle, rect.bottom())
        length = self._length(model.row(index.row()))
        if not length:
            return
        wide = max(abs(length) * half, 2.0)
        left = middle if length > 0 else middle - wide
        painter.fillRect(QRectF(left, rect.center().y() - HEIGHT / 2, wide, HEIGHT), self._more if length > 0 else self._less)

# SPDX-License-Identifier: MIT
"""A row that goes on in a next line where it is too long: large text or a narrow pane cuts no button then."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class Flow(QLayout):
    """Parts one after another, each as wide as it likes to be; in a line they stand at the top, or the bottom where their
    alignment says so."""

    def __init__(self, parent: QWidget | None = None, *, spacing: int = 8) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        # a layout is asked hundreds of times between two changes of it
        self._heights: dict[int, int] = {}
        self.setContentsMargins(0, 0, 0, 0)
        self.setSpacing(spacing)

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, at: int) -> QLayoutItem | None:
        return self._items[at] if 0 <= at < len(self._items) else None

    def takeAt(self, at: int) -> QLayoutItem | None:
        return self._items.pop(at) if 0 <= at < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        if width not in self._heights:
            lines = list(self._lines(width))
            self._heights[width] = sum(height for _, height in lines) + self.spacing() * max(len(lines) - 1, 0)
        return self._heights[width]

    def invalidate(self) -> None:
        self._heights.clear()
        super().invalidate()

    def sizeHint(self) -> QSize:
        shown = [item.sizeHint() for item in self._items if not item.isEmpty()]
        room = self.spacing() * max(len(shown) - 1, 0)
        return QSize(sum(size.width() for size in shown) + room, max((size.height() for size in shown), default=0))

    def minimumSize(self) -> QSize:
        shown = [item.minimumSize() for item in self._items if not item.isEmpty()]
        return QSize(max((size.width() for size in shown), default=0), max((size.height() for size in shown), default=0))

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        y = rect.top()
        for line, height in self._lines(rect.width()):
            x = rect.left()
            for item in line:
                size = item.sizeHint()
                size.setWidth(min(size.width(), rect.width()))
                down = height - size.height() if item.alignment() & Qt.AlignmentFlag.AlignBottom else 0
                item.setGeometry(QRect(QPoint(x, y + down), size))
                x += size.width() + self.spacing()
            y += height + self.spacing()

    def _lines(self, width: int) -> Iterator[tuple[list[QLayoutItem], int]]:
        """(parts, height) of each line, as they fall at a width."""
        line: list[QLayoutItem] = []
        used = 0
        for item in self._items:
            if item.isEmpty():
                continue
            wanted = item.sizeHint().width()
            if line and used + self.spacing() + wanted > width:
                yield line, max(one.sizeHint().height() for one in line)
                line, used = [], 0
            used += wanted + (self.spacing() if line else 0)
            line.append(item)
        if line:
            yield line, max(one.sizeHint().height() for one in line)

# SPDX-License-Identifier: MIT
"""The quiet panel for a fault of the program itself: nothing is sent, but a report can be copied."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from desktop.theme import Theme
from desktop.widgets.labels import label

WORDS = (
    "Something went wrong in the program. What the book has kept is safe. If it happens again, a report helps to find "
    "out why: copy it and send it to whom you trust with it. Nothing is sent by itself."
)


class ReportPanel(QWidget):
    """Hidden until a fault is told. `copy_wanted()`."""

    copy_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._copy = QPushButton("Copy report")
        self._copy.clicked.connect(self.copy_wanted)
        close = QPushButton("Close")
        close.setAccessibleName("Close this message")
        close.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 9, 16, 8)
        row.setSpacing(12)
        row.addWidget(label(WORDS, wrap=True), 1)
        row.addWidget(self._copy)
        row.addWidget(close)
        self.setAccessibleName("A fault of the program")
        self.hide()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.colour("sheet"))
        painter.fillRect(0, 0, 3, self.height(), self._theme.colour("brick"))
        painter.setPen(self._theme.colour("hairline"))
        painter.drawLine(0, 0, self.width(), 0)

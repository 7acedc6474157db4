# SPDX-License-Identifier: MIT
"""A band across the window for what holds until somebody answers it: some sentences and the ways on. Not modal, and it stays."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QAccessibleEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from desktop.theme import Theme
from desktop.widgets.labels import label


class Way(NamedTuple):
    """One way on: its words, what it does, and the call that does it."""

    words: str
    tip: str
    call: Callable[[], object]


class Band(QWidget):
    """Hidden while it has nothing to say. `stripe` is the token of the mark at its left edge."""

    def __init__(self, theme: Theme, stripe: str = "amber", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._stripe = theme, stripe
        self.words = label("", wrap=True)
        self.buttons: tuple[QPushButton, ...] = ()
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(16, 9, 16, 8)
        self._row.setSpacing(12)
        self._row.addWidget(self.words, 1)
        theme.changed.connect(self.update)
        self.hide()

    def say(self, words: str, *ways: Way) -> None:
        """Shows these sentences with these ways on, in place of what stood there."""
        self._take_buttons()
        self.words.setText(words)
        made = []
        for way in ways:
            button = QPushButton(way.words, self)
            button.setToolTip(way.tip)
            button.setAccessibleDescription(way.tip)
            button.clicked.connect(lambda _=False, call=way.call: call())
            self._row.addWidget(button, 0, Qt.AlignmentFlag.AlignVCenter)
            made.append(button)
        self.buttons = tuple(made)
        self.show()
        QAccessible.updateAccessibility(QAccessibleEvent(self.words, QAccessible.Event.Alert))

    def clear(self) -> None:
        """Takes the band away."""
        self.hide()
        self.words.setText("")
        self._take_buttons()

    def _take_buttons(self) -> None:
        for button in self.buttons:
            # later: it may be the one that is just being pressed
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = ()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.colour("sheet"))
        painter.fillRect(0, 0, 3, self.height(), self._theme.colour(self._stripe))
        painter.setPen(self._theme.colour("hairline"))
        painter.drawLine(0, 0, self.width(), 0)
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)

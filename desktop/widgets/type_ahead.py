# SPDX-License-Identifier: MIT
"""A field that offers what its text could mean in a list below it; the first stands chosen, Enter takes it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QHideEvent, QKeyEvent, QMoveEvent
from PySide6.QtWidgets import QFrame, QLabel, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from desktop.language import tr
from desktop.theme import Theme

LEAST_WIDTH = 300


class TypeAhead(QLineEdit):
    """`seek(text)` gives what could be meant, each with a `label` and a `hint`. `picked(one)` on Enter or a click, with
    None where there is nothing to take. The list belongs to the window: a popup of its own would take the typing away."""

    picked = Signal(object)

    def __init__(self, theme: Theme, seek: Callable[[str], Sequence[Any]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._seek = seek
        self._found: tuple[Any, ...] = ()
        self._frame: QFrame | None = None
        self._list: QListWidget | None = None
        self._ask: QLabel | None = None
        self.setProperty("role", "cell")
        self.textEdited.connect(self.offer)

    @property
    def found(self) -> tuple[Any, ...]:
        """What is offered."""
        return self._found

    @property
    def chosen(self) -> Any:
        """What Enter would take; None where nothing is offered."""
        at = self._list.currentRow() if self._list is not None else -1
        return self._found[at] if 0 <= at < len(self._found) else None

    @property
    def question(self) -> str:
        """The sentence asked below the list; empty when there is none."""
        return "" if self._ask is None or self._ask.isHidden() else self._ask.text()

    def offer(self, text: str = "") -> None:
        """Looks again for what the text could mean."""
        self._found = tuple(self._seek(self.text()))
        self.ask("")

    def ask(self, sentence: str) -> None:
        """Shows a sentence under the list, for what is still missing."""
        if not self._found and not sentence:
            self.close_list()
            return
        self._build()
        assert self._frame is not None and self._list is not None and self._ask is not None
        self._list.clear()
        for one in self._found:
            item = QListWidgetItem(f"{one.label}   {one.hint}".rstrip(), self._list)
            if getattr(one, "new_name", ""):
                # what would be made is not to be taken for what is there
                font = item.font()
                font.setItalic(True)
                item.setFont(font)
                item.setForeground(QColor(self._theme.token("amber")))
        self._list.setVisible(bool(self._found))
        self._list.setCurrentRow(0 if self._found else -1)
        self._ask.setText(sentence)
        self._ask.setVisible(bool(sentence))
        self.setAccessibleDescription(sentence)
        self._place()

    def close_list(self) -> None:
        """Takes the list away; what was typed stays."""
        self._found = ()
        if self._frame is not None:
            self._frame.hide()

    @property
    def is_open(self) -> bool:
        """Whether the list is on screen."""
        return self._frame is not None and self._frame.isVisible()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Down, Qt.Key.Key_Up) and self.is_open and self._list is not None and self._found:
            step = 1 if key == Qt.Key.Key_Down else -1
            self._list.setCurrentRow((self._list.currentRow() + step) % len(self._found))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.picked.emit(self.chosen)
        elif key == Qt.Key.Key_Escape and self.is_open:
            self.close_list()
        else:
            super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.close_list()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self.close_list()

    def moveEvent(self, event: QMoveEvent) -> None:
        super().moveEvent(event)
        if self.is_open:
            self._place()

    def _build(self) -> None:
        if self._frame is not None:
            return
        self._frame = QFrame(self.window())
        self._frame.setObjectName("offered")
        self._list = QListWidget(self._frame)
        self._list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._list.setAccessibleName(tr("What it could be"))
        self._list.setUniformItemSizes(True)
        self._list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._list.itemClicked.connect(lambda item: self.picked.emit(self.chosen))
        self._ask = QLabel(self._frame)
        self._ask.setWordWrap(True)
        self._ask.setMargin(6)
        self._ask.setProperty("role", "amber")
        rows = QVBoxLayout(self._frame)
        # its frame keeps room for the lines around it
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(0)
        rows.addWidget(self._list)
        rows.addWidget(self._ask)
        self.destroyed.connect(self._frame.deleteLater)

    def _place(self) -> None:
        assert self._frame is not None and self._list is not None and self._ask is not None
        theme, window = self._theme, self.window()
        theme.dress(self._frame)
        width = max(self.width(), theme.px(LEAST_WIDTH))
        self._frame.show()
        self._frame.raise_()
        row = self._list.sizeHintForRow(0) if self._found else 0
        asked = self._ask.heightForWidth(width - 2) if not self._ask.isHidden() else 0
        listed = row * len(self._found) + 4 if self._found else 0
        # else the list takes what it would like to have, and the sentence below it is cut
        self._list.setFixedHeight(listed)
        height = 2 + listed + asked
        corner = self.mapTo(window, QPoint(0, self.height()))
        # near the foot of the window the list opens upwards
        if corner.y() + height > window.height():
            corner = self.mapTo(window, QPoint(0, -height))
        left = max(0, min(corner.x(), window.width() - width))
        self._frame.setGeometry(left, max(0, corner.y()), width, height)

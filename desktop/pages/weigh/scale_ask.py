# SPDX-License-Identifier: MIT
"""One figure asked for in place, below the one that is weighed: what was spilled, how many drops make a millilitre."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop.session import Session
from desktop.widgets.emptied import empty


class AskRow(QFrame):
    """`answered(key, text)` with the key of the button, Enter for the first; `left` on Escape."""

    answered = Signal(str, str)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._keys: tuple[str, ...] = ()
        self.setProperty("role", "inline")
        self.question = QLabel(self)
        self.edit = QLineEdit(self)
        self.edit.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.edit.returnPressed.connect(lambda: self._answer(self._keys[0]))
        self.buttons: dict[str, QPushButton] = {}
        self.said = QLabel(self)
        self.said.setProperty("role", "wrong")
        self.said.setWordWrap(True)
        self.said.hide()
        self._row = QHBoxLayout()
        self._row.setSpacing(12)
        self._row.addWidget(self.question)
        self._row.addWidget(self.edit)
        self._row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.addLayout(self._row)
        column.addWidget(self.said)
        self.hide()

    def ask(self, question: str, answers: Sequence[tuple[str, str]], hint: str = "") -> None:
        """Asks for a figure; `answers` are (key, words) of the buttons, the first one that of Enter."""
        self.question.setText(question)
        self.edit.setAccessibleName(question)
        self.edit.setPlaceholderText(hint)
        self.edit.setFixedWidth(self._session.theme.px(96))
        empty(self.edit)
        self.say("")
        for button in self.buttons.values():
            button.hide()
            button.deleteLater()
        self._keys, self.buttons = tuple(key for key, _ in answers), {}
        for place, (key, words) in enumerate(answers):
            button = QPushButton(words, self)
            button.setAutoDefault(False)
            button.setToolTip("Enter" if not place else "")
            button.clicked.connect(lambda _=False, key=key: self._answer(key))
            self._row.insertWidget(2 + place, button)
            self.buttons[key] = button
        self.show()
        self.edit.setFocus(Qt.FocusReason.OtherFocusReason)

    def say(self, sentence: str) -> None:
        """What is wrong with what was typed, '' nothing."""
        self.said.setText(sentence)
        self.said.setVisible(bool(sentence))
        self.edit.setAccessibleDescription(sentence)

    def leave(self) -> None:
        """Puts the question away."""
        self.hide()
        self.left.emit()

    def _answer(self, key: str) -> None:
        self.answered.emit(key, self.edit.text())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        elif event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)

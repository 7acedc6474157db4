# SPDX-License-Identifier: MIT
"""What a short form beside the shelf is made of: a title, what it means, fields, one thing to do, and a way to leave."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QScrollArea, QVBoxLayout, QWidget

from desktop import wording
from desktop.language import tr
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Refused


class Sheet(QScrollArea):
    """A form of its own kind overrides `keep`; Ctrl+Enter and Enter in a field keep, Escape leaves. `left` when it is done."""

    left = Signal()

    def __init__(self, session: Session, verb: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # its fields have it
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        body = QFrame()
        body.setProperty("role", "sheet")
        self.title = QLabel()
        self.title.setProperty("role", "heading")
        self.title.setWordWrap(True)
        self.told = QLabel()
        self.told.setProperty("role", "quiet")
        self.told.setWordWrap(True)
        self.wrong = QLabel()
        self.wrong.setProperty("role", "wrong")
        self.wrong.setWordWrap(True)
        self.wrong.hide()
        self.verb = QPushButton(verb)
        self.verb.setProperty("role", "primary")
        self.verb.setToolTip("Ctrl+Enter")
        self.leave = QPushButton(tr("Leave it"))
        for button, slot in ((self.verb, self.confirm), (self.leave, self.left)):
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        self.column = QVBoxLayout()
        self.column.setSpacing(10)
        self.buttons = QHBoxLayout()
        self.buttons.addWidget(self.verb)
        self.buttons.addWidget(self.leave)
        self.buttons.addStretch(1)
        whole = QVBoxLayout(body)
        whole.setContentsMargins(16, 12, 16, 16)
        whole.setSpacing(10)
        for part in (self.title, self.told):
            whole.addWidget(part)
        whole.addLayout(self.column)
        whole.addWidget(self.wrong)
        whole.addLayout(self.buttons)
        whole.addStretch(1)
        self.setWidget(body)

    @property
    def is_begun(self) -> bool:
        """Whether something was typed into it that is not kept yet."""
        return any(edit.isModified() for edit in self.findChildren(QLineEdit))

    def line(self, caption: str, *, tip: str = "", width: int = 0, onto: Any = None) -> tuple[QLineEdit, Field]:
        """A field of one line of text; Enter in it keeps the form."""
        edit = QLineEdit()
        if width:
            edit.setMaximumWidth(self._session.theme.px(width))
        field = Field(caption, edit, tip=tip)
        edit.returnPressed.connect(self.confirm)
        edit.textEdited.connect(lambda _: field.say(""))
        (self.column if onto is None else onto).addWidget(field)
        return edit, field

    def tell(self, text: str) -> None:
        """Says what the form is about to do."""
        self.told.setText(text)
        self.told.setVisible(bool(text))

    def say(self, sentence: str) -> None:
        """Says why it could not be kept, over the buttons."""
        self.wrong.setText(sentence)
        self.wrong.setVisible(bool(sentence))

    def confirm(self) -> None:
        """Keeps the form; what cannot be stays in its field with the reason below."""
        self.say("")
        try:
            done = self.keep()
        except Refused as fault:
            self.say(wording.sentences(fault.findings))
            return
        if done:
            self.left.emit()

    def keep(self) -> bool:
        """Does what the form is for; whether it was done. Raises Refused for what cannot be."""
        raise NotImplementedError

    def read(self, field: Field, parse: Callable[[str], Any], *, empty: Any = None, needed: bool = False) -> Any:
        """What a field says; its own fault is said below it and raised again. An empty one is `empty` unless it is needed."""
        assert isinstance(field.editor, QLineEdit)
        text = field.editor.text().strip()
        if not text and not needed:
            field.say("")
            return empty
        try:
            value = parse(text)
        except Refused as fault:
            field.say(wording.sentences(fault.findings))
            field.editor.setFocus()
            raise Refused() from fault
        field.say("")
        return value

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif is_enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            # a field has kept the form already when the key comes on to here
            if not isinstance(self.focusWidget(), QLineEdit):
                self.confirm()
        else:
            super().keyPressEvent(event)

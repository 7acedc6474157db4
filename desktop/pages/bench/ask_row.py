# SPDX-License-Identifier: MIT
"""One question below the table, answered in one field: what the answer would do is said while it is typed.

Enter does it, Escape leaves; what cannot be is said in the same place, and the text stays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import wording
from desktop.language import tr
from desktop.theme import Theme
from perfumery import Refused

FIELD_LEAST, FIELD_MOST = 64, 150


@dataclass(frozen=True, slots=True)
class Offer:
    """An answer that stands ready: what would be typed, and what is said of it. Without `text` it is only told."""

    text: str
    shown: str


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked. `tell(text)` says what an answer would do and `do(text)` does it; both raise Refused where it cannot
    be. `hint` is said while nothing is typed; `offers` are answers to choose from, under the words `offered`."""

    name: str
    caption: str
    text: str
    hint: str
    button: str
    tell: Callable[[str], str]
    do: Callable[[str], bool]
    offered: str = ""
    offers: tuple[Offer, ...] = ()


class AskRow(QFrame):
    """`left(had the focus)` when it was answered or given up."""

    left = Signal(bool)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.question: Question | None = None
        self.setProperty("role", "inline")
        self.caption = QLabel(self)
        self.caption.setProperty("role", "caption")
        self.field = QLineEdit(self)
        self.field.setAccessibleName(tr("Answer"))
        self.field.textChanged.connect(lambda _: self.tell())
        self.caption.setBuddy(self.field)
        self.done = QPushButton(self)
        self.done.clicked.connect(self.take)
        self.give_up = QPushButton(tr("Leave it"), self)
        self.give_up.setProperty("role", "link")
        self.give_up.clicked.connect(self.leave)
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setTextFormat(Qt.TextFormat.PlainText)
        self.offers = QLabel(self)
        self.offers.setWordWrap(True)
        self.offers.setTextFormat(Qt.TextFormat.RichText)
        flags = Qt.TextInteractionFlag
        self.offers.setTextInteractionFlags(flags.LinksAccessibleByMouse | flags.LinksAccessibleByKeyboard)
        self.offers.linkActivated.connect(self._on_offer_chosen)
        row = QHBoxLayout()
        row.setSpacing(8)
        for part in (self.caption, self.field, self.done, self.give_up):
            row.addWidget(part)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(4)
        column.addLayout(row)
        column.addWidget(self.told)
        column.addWidget(self.offers)
        theme.changed.connect(self._show_offers)
        self.hide()

    def ask(self, question: Question) -> None:
        """Shows a question with its usual answer, ready to be typed over."""
        self.question = question
        self.setAccessibleName(question.name)
        self.caption.setText(question.caption)
        self.field.setAccessibleName(question.name)
        self.field.setMinimumWidth(self._theme.px(FIELD_LEAST))
        self.field.setMaximumWidth(self._theme.px(FIELD_MOST))
        self.done.setText(question.button)
        self.field.setText(question.text)
        self._show_offers()
        self.tell()
        self.show()
        self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.field.selectAll()

    def tell(self) -> None:
        """Says what the text would do as things are now, or why it cannot be."""
        if self.question is None:
            return
        text = self.field.text().strip()
        if not text:
            self._say(self.question.hint, "quiet")
            self.done.setEnabled(False)
            return
        try:
            self._say(self.question.tell(text), "quiet")
            self.done.setEnabled(True)
        except Refused as fault:
            self._say(wording.sentences(fault.findings), "wrong")
            self.done.setEnabled(False)

    def take(self) -> None:
        """Does what is asked for and leaves; stays where it cannot be."""
        text = self.field.text().strip()
        if self.question is None or not text:
            return
        try:
            done = self.question.do(text)
        except Refused as fault:
            self._say(wording.sentences(fault.findings), "wrong")
            return
        if done:
            self.leave()

    def leave(self) -> None:
        """Puts the row away."""
        if self.question is not None:
            self.question = None
            had_focus = self.isAncestorOf(self.window().focusWidget() or self.window())
            self.hide()
            self.left.emit(had_focus)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # the field hands on what it has no use for
        key = event.key()
        if key == Qt.Key.Key_Escape:
            self.leave()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            (self.leave if self.give_up.hasFocus() else self.take)()
        elif key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self._step(1 if key == Qt.Key.Key_Down else -1)
        else:
            super().keyPressEvent(event)

    def _step(self, by: int) -> None:
        """The next answer that stands ready, into the field."""
        texts = [offer.text for offer in self.question.offers if offer.text] if self.question else []
        if texts:
            at = texts.index(self.field.text()) + by if self.field.text() in texts else (0 if by > 0 else -1)
            self._on_offer_chosen(texts[at % len(texts)])

    def _on_offer_chosen(self, text: str) -> None:
        self.field.setText(text)
        self.field.setFocus(Qt.FocusReason.OtherFocusReason)
        self.field.selectAll()

    def _show_offers(self) -> None:
        offers = () if self.question is None else self.question.offers
        self.offers.setVisible(bool(offers))
        if self.question is None or not offers:
            return
        ink, link = self._theme.token("quiet"), self._theme.token("juniper")
        shown = [
            f'<a href="{escape(one.text)}" style="color:{link}; text-decoration:none">{escape(one.shown)}</a>'
            if one.text
            else escape(one.shown)
            for one in offers
        ]
        self.offers.setText(f'<span style="color:{ink}">{escape(self.question.offered)} {" · ".join(shown)}</span>')

    def _say(self, sentence: str, role: str) -> None:
        if self.told.property("role") != role:
            self.told.setProperty("role", role)
            self.told.style().unpolish(self.told)
            self.told.style().polish(self.told)
        self.told.setText(sentence)
        self.told.setVisible(bool(sentence))
        self.field.setAccessibleDescription(sentence)

# SPDX-License-Identifier: MIT
"""A line for smell words typed ahead: what may be meant stands below the line, never in a window over it.

Enter or a comma takes the marked offer, the arrows mark another, the last one is the text itself as a new word. With
nothing begun Enter goes on. A figure or plus signs behind a word weigh it.
"""

from __future__ import annotations

from html import escape

from PySide6.QtCore import QRect, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QSizePolicy, QVBoxLayout, QWidget

from desktop.language import tr
from desktop.models.vocabulary import Offer, Typed, Vocabulary, split_weight, with_weight
from desktop.theme import Theme

HINT = tr("Enter takes a word, ↑ ↓ choose, “woody 3” or “woody+” weighs it")


class SmellWords(QWidget):
    """The line and its offers. `finished` when Enter is pressed with no word begun."""

    finished = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._vocabulary = Vocabulary(())
        self._offers: tuple[Offer, ...] = ()
        self._marked = 0
        self.line = _Line(self)
        self.line.textEdited.connect(self._on_line_edited)
        self.line.setPlaceholderText(tr("type: wet st…"))
        self._below = _Below()
        self._below.setProperty("role", "caption")
        self._below.setWordWrap(True)
        self._below.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self._below.setTextFormat(Qt.TextFormat.RichText)
        self._below.linkActivated.connect(self._on_offer_clicked)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self._below.setSizePolicy(policy)
        self._below.setMinimumWidth(60)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(self.line)
        column.addWidget(self._below)
        self.setFocusProxy(self.line)
        theme.changed.connect(self._show_offers)
        self._show_offers()

    def set_vocabulary(self, vocabulary: Vocabulary) -> None:
        """The words that are offered from now on."""
        self._vocabulary = vocabulary

    def setAccessibleName(self, name: str) -> None:
        super().setAccessibleName(name)
        self.line.setAccessibleName(name)

    def setAccessibleDescription(self, text: str) -> None:
        super().setAccessibleDescription(text)
        self.line.setAccessibleDescription(text)

    def set_text(self, text: str) -> None:
        """Fills the line."""
        self.line.setText(text)
        self._on_line_edited()

    @property
    def text(self) -> str:
        """The line as it stands."""
        return self.line.text()

    @property
    def offers(self) -> tuple[Offer, ...]:
        """What may be meant by the word begun."""
        return self._offers

    @property
    def marked(self) -> Offer | None:
        """The offer that Enter takes."""
        return self._offers[self._marked] if self._offers else None

    def read(self) -> Typed:
        """The words of the line; a word begun is taken first."""
        self.take()
        return self._vocabulary.read(self.line.text())

    @property
    def wrong(self) -> str:
        """What cannot be read in the line as it stands, a word begun included; '' where all can."""
        return self._vocabulary.read(self.line.text()).wrong

    def take(self) -> bool:
        """Puts the marked offer in the place of the word begun. False where no word is begun."""
        text, weight = split_weight(self._begun)
        if not text:
            return False
        word = self.marked.word if self.marked is not None else text
        before = self.line.text()[: len(self.line.text()) - len(self._begun_raw)]
        self.line.setText(f"{before}{' ' if before else ''}{with_weight(word, weight)}, ".lstrip())
        self._on_line_edited()
        return True

    @property
    def _begun_raw(self) -> str:
        return self.line.text().rpartition(",")[2]

    @property
    def _begun(self) -> str:
        return self._begun_raw.strip()

    def _weigh_last(self) -> bool:
        """With no word begun a plus weighs the word before: 'woody, ' becomes 'woody 2, '."""
        before, comma, _ = self.line.text().rpartition(",")
        if not comma or self._begun:
            return False
        head, comma, last = before.rpartition(",")
        word, weight = split_weight(last)
        if not word:
            return False
        self.line.setText(f"{head}{comma}{' ' if head else ''}{with_weight(word, min(weight + 1, 3))}, ")
        return True

    def handle_key(self, event: QKeyEvent) -> bool:
        """Whether the key was one of this line's own."""
        key = event.key()
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            return False
        if key in (Qt.Key.Key_Down, Qt.Key.Key_Up) and self._offers:
            self._marked = (self._marked + (1 if key == Qt.Key.Key_Down else -1)) % len(self._offers)
            self._show_offers()
            return True
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if not self.take():
                self.finished.emit()
            return True
        if event.text() == "," and self._begun and self.line.cursorPosition() == len(self.line.text()):
            return self.take()
        if event.text() == "+":
            return self._weigh_last()
        # the space behind the comma is there already
        return event.text() == " " and not self._begun and self.line.text().endswith(" ")

    def _on_line_edited(self) -> None:
        text, _ = split_weight(self._begun)
        self._offers = self._vocabulary.offers(text)
        self._marked = 0
        self._show_offers()

    def _show_offers(self) -> None:
        accent = self._theme.token("juniper")
        quiet = self._theme.token("quiet")
        if not self._offers:
            self._below.setText(escape(HINT) if self.line.hasFocus() else "")
            self._below.setToolTip("")
            return
        shown: list[str] = []
        for place, offer in enumerate(self._offers):
            colour, weight = (accent, 600) if place == self._marked else (quiet, 400)
            style = f"color: {colour}; font-weight: {weight}; text-decoration: none"
            shown.append(f'<a href="{place}" style="{style}">{escape(offer.text)}</a>')
        # the marked one first in sight, however narrow the line is
        self._below.setText(" · ".join(shown[self._marked :] + shown[: self._marked]))
        self.line.setAccessibleDescription(tr("Offered: {words}", words=", ".join(offer.text for offer in self._offers)))

    def _on_offer_clicked(self, place: str) -> None:
        self._marked = int(place)
        self.take()
        self.line.setFocus()

    def on_focus_changed(self, *, inside: bool) -> None:
        """Leaving the line takes the word begun, as Enter would."""
        if not inside:
            self.take()
        self._show_offers()


class _Below(QLabel):
    """As many lines as the hint takes, whatever it holds: nothing below jumps while words are offered."""

    def heightForWidth(self, width: int) -> int:
        room = QRect(0, 0, max(width, 1), 1)
        return self.fontMetrics().boundingRect(room, int(Qt.TextFlag.TextWordWrap), HINT).height() + 2

    def minimumSizeHint(self) -> QSize:
        return QSize(super().minimumSizeHint().width(), self.heightForWidth(self.width()))

    def sizeHint(self) -> QSize:
        return QSize(super().sizeHint().width(), self.heightForWidth(self.width()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.updateGeometry()


class _Line(QLineEdit):
    """The line edit that asks its owner about keys first."""

    def __init__(self, owner: SmellWords) -> None:
        super().__init__(owner)
        self._owner = owner

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self._owner.handle_key(event):
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self._owner.on_focus_changed(inside=True)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() not in (Qt.FocusReason.ActiveWindowFocusReason, Qt.FocusReason.PopupFocusReason):
            self._owner.on_focus_changed(inside=False)

# SPDX-License-Identifier: MIT
"""One quiet line at the foot of the window: what was just done, with a way back, or what was refused and why."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy, QWidget

from desktop.language import tr
from desktop.theme import Theme
from desktop.widgets.labels import ElidedLabel
from desktop.widgets.work_part import WorkPart

ROLES = {"done": "quiet", "note": "quiet", "refused": "wrong"}


class NoticeLine(QWidget):
    """Shows one sentence at a time with at most one link; `followed` names the link that was taken: 'undo' or 'redo'. At the
    right, how far long work is."""

    followed = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._offer = ""
        self._words = ElidedLabel(self)
        self._words.setAccessibleDescription(tr("Notice"))
        self._link = QPushButton(self)
        self._link.setProperty("role", "link")
        self._link.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self._link.clicked.connect(lambda: self.followed.emit(self._offer))
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 1, 16, 1)
        row.setSpacing(12)
        row.addWidget(self._words)
        row.addWidget(self._link)
        row.addStretch(1)
        row.setStretch(0, 0)
        self.work = WorkPart(theme, self)
        row.addWidget(self.work)
        self._on_theme_changed()
        theme.changed.connect(self._on_theme_changed)
        self.clear()

    @property
    def text(self) -> str:
        """The sentence that stands there; empty when there is none."""
        return self._words.text()

    @property
    def offer(self) -> str:
        """The link that stands beside it: 'undo', 'redo' or empty."""
        return self._offer

    def clear(self) -> None:
        """Takes the sentence away; the line keeps its height, so that nothing jumps."""
        self.say("")

    def say(self, sentence: str, tone: str = "note", offer: str = "") -> None:
        """Shows a sentence. tone: 'done', 'note' or 'refused'; offer: 'undo', 'redo' or '' for no link."""
        self._offer = offer
        self._words.setText(sentence)
        self._words.setProperty("role", ROLES[tone])
        self._words.style().unpolish(self._words)
        self._words.style().polish(self._words)
        self._link.setVisible(bool(offer))
        self._link.setText({"undo": tr("Undo"), "redo": tr("Do it again")}.get(offer, ""))
        self._link.setAccessibleName(f"{self._link.text()}: {sentence}" if offer else "")
        if sentence:
            QAccessible.updateAccessibility(QAccessibleEvent(self._words, QAccessible.Event.Alert))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.colour("ground"))
        painter.setPen(self._theme.colour("hairline"))
        painter.drawLine(0, 0, self.width(), 0)

    def _on_theme_changed(self) -> None:
        self.setFixedHeight(self._theme.px(23))
        self._link.setCursor(Qt.CursorShape.PointingHandCursor)
        self.update()

# SPDX-License-Identifier: MIT
"""A strip that falls due while something is weighed: read beside the balance, nothing of the weighing is touched."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from db import Book
from desktop.language import tr
from desktop.models.strips import StripsModel, caption
from desktop.pages.bench.reading import ReadingRow
from desktop.session import Session
from desktop.widgets.due_line import due_items
from desktop.widgets.labels import label
from perfumery import Strip


def due_now(book: Book, now: datetime) -> tuple[int, str] | None:
    """(strip, its code as it may be shown) of the strip that is due longest; None where none is due yet."""
    waiting = next((due.strip.key for due in book.due(now) if due.at <= now), None)
    if waiting is None:
        return None
    return waiting, next((item.code for item in due_items(book, now) if item.strip == waiting), "")


class StripSide(QFrame):
    """`left` when the reading was kept or put away."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._model = StripsModel(session.book)
        self.setProperty("role", "sheet")
        self.title = label("", "heading")
        self.what = label("", "quiet", wrap=True)
        self.reading = ReadingRow(session, self)
        self.reading.kept.connect(lambda _: self.left.emit())
        self.reading.left.connect(self.left)
        session.ticked.connect(self.reading.tick)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 16, 16, 16)
        column.setSpacing(8)
        for part in (self.title, self.what, self.reading):
            column.addWidget(part)
        column.addStretch(1)

    def open(self, strip: int) -> bool:
        """Opens the reading of a strip; whether it could be found."""
        book = self._session.book
        standing = book.get(Strip, strip)
        self._model.load_strips(() if standing is None else (standing,), book.now())
        card = self._model.card(strip)
        if card is None:
            return False
        self.title.setText(tr("Read {strip}", strip=card.label))
        self.what.setText(caption(book, card))
        self.reading.open(card)
        return True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.reading.tick(self._session.book.now())

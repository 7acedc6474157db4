# SPDX-License-Identifier: MIT
"""What is known of the chosen strip: its caption, the figures of its curve, and the dated log."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QStackedWidget, QVBoxLayout, QWidget

from desktop.language import tr
from desktop.models.log import MIDDLE, NARROW, LogModel, log_rows
from desktop.models.strips import StripCard, caption, figures_line
from desktop.pages.bench.hung import hidden_told
from desktop.session import Session
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from perfumery import Reading

# Below these widths the log leaves columns out, whatever was chosen; what they hold stands in the tips.
MEDIUM, WIDE = 560, 760


class StripLog(QWidget):
    """`correct_wanted(reading)` for a row that shall be corrected, `unveil_wanted()` to see earlier figures after all."""

    correct_wanted = Signal(object)
    unveil_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._card: StripCard | None = None
        self._captions: dict[int, str] = {}
        self.model = LogModel(self)
        self._caption = QLabel()
        self._caption.setWordWrap(True)
        self._caption.setTextFormat(Qt.TextFormat.RichText)
        self._caption.setMinimumWidth(120)
        self._figures = label("", "caption", wrap=True)
        self._figures.setMinimumWidth(120)
        self.grid = Grid(session.theme, session.settings, "strip log", "words")
        self.grid.setAccessibleName(tr("Log of the strip"))
        self.grid.show_model(self.model)
        self.earlier_action = QAction(tr("Earlier wordings of corrected readings"), self, checkable=True)
        self.earlier_action.toggled.connect(self._on_earlier_toggled)
        self.correct_action = QAction(tr("Correct reading…"), self)
        self.correct_action.triggered.connect(self._on_correct_triggered)
        self.grid.addActions([self.correct_action, self.earlier_action])
        self.grid.entered.connect(self._correct)
        self.grid.toggle_asked.connect(self._correct)
        self.grid.doubleClicked.connect(lambda index: self._correct(index.row()))
        self.grid.removal_asked.connect(lambda places: self._correct(places[0]))
        QShortcut(QKeySequence("F2"), self.grid, self._on_correct_triggered, context=Qt.ShortcutContext.WidgetShortcut)
        self._veil = QWidget()
        self._veil_text = label("", "quiet", wrap=True)
        self._unveil = QPushButton(tr("Show them"))
        self._unveil.setProperty("role", "link")
        self._unveil.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self._unveil.clicked.connect(self.unveil_wanted)
        veil = QVBoxLayout(self._veil)
        veil.setContentsMargins(0, 8, 0, 0)
        veil.addWidget(self._veil_text)
        veil.addWidget(self._unveil)
        veil.addStretch(1)
        self._stack = QStackedWidget()
        # what the log would like to have must not be what it needs: Qt takes it so beside texts that wrap
        self._stack.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Ignored)
        self._stack.addWidget(self.grid)
        self._stack.addWidget(self._veil)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(self._caption)
        column.addWidget(self._figures)
        column.addWidget(self._stack, 1)

    @property
    def is_veiled(self) -> bool:
        """Whether the earlier figures are hidden."""
        return self._stack.currentWidget() is self._veil

    @property
    def figures_text(self) -> str:
        """The line of figures as shown; empty while hidden."""
        return "" if self._figures.isHidden() else self._figures.text()

    @property
    def caption_text(self) -> str:
        """What the strip is, in plain text."""
        return "" if self._card is None else f"{self._card.code} {self._captions.get(self._card.key, '')}".strip()

    def forget(self) -> None:
        """Drops the captions that are kept: bottles or versions changed."""
        self._captions.clear()

    def show_card(self, card: StripCard | None, today: datetime, *, veiled: bool) -> None:
        """Shows a strip; veiled while it is being read and its earlier figures must not be seen."""
        self._card = card
        # of a strip not read yet there is nothing to hide
        veiled = veiled and card is not None and bool(card.readings)
        self.setVisible(card is not None)
        if card is None:
            self.model.show_rows([])
            return
        if card.key not in self._captions:
            self._captions[card.key] = caption(self._session.book, card)
        quiet = self._session.theme.token("quiet")
        self._caption.setText(f'<b>{card.code}</b> <span style="color:{quiet}">{self._captions[card.key]}</span>')
        self._figures.setVisible(not veiled)
        self._figures.setText("" if veiled else figures_line(card))
        self._veil_text.setText(hidden_told(card))
        self._stack.setCurrentWidget(self._veil if veiled else self.grid)
        if not veiled:
            earlier = self.earlier_action.isChecked()
            self.model.show_rows(log_rows(self._session.book, card, today, earlier=earlier))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.grid.show_only(None if self.width() >= WIDE else MIDDLE if self.width() >= MEDIUM else NARROW)

    def _correct(self, place: int) -> None:
        row = self.model.row(place)
        if row.kind == "reading" and isinstance(row.reading, Reading):
            self.correct_wanted.emit(row.reading)

    def _on_correct_triggered(self) -> None:
        if self.grid.currentIndex().isValid() and not self.is_veiled:
            self._correct(self.grid.currentIndex().row())

    def _on_earlier_toggled(self) -> None:
        if self._card is not None:
            self.show_card(self._card, self._session.book.now(), veiled=self.is_veiled)

# SPDX-License-Identifier: MIT
"""How far long work is: what is done, how much of how much, a slim bar, and the way to stop it; Escape stops it too."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QSizePolicy, QWidget

from desktop import figures
from desktop.language import tr
from desktop.theme import Theme
from desktop.widgets.labels import label

WIDE, HIGH = 120, 5
# The bar counts in these, whatever is counted: it takes no more than 31 bits. So many or more are told in per cent.
FINE = 1000


class WorkPart(QWidget):
    """Hidden while nothing runs. `cancelled` when somebody wants it stopped."""

    cancelled = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.words: QLabel = label("", "quiet")
        self.bar = QProgressBar(self)
        self.bar.setTextVisible(False)
        self.bar.setRange(0, FINE)
        self.cancel = QPushButton(tr("Cancel"), self)
        self.cancel.setProperty("role", "link")
        self.cancel.setToolTip(tr("Esc, while the focus is here"))
        self.cancel.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.cancel.clicked.connect(lambda _=False: self._stop())
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(10)
        for part in (self.words, self.bar, self.cancel):
            row.addWidget(part, 0, Qt.AlignmentFlag.AlignVCenter)
        self._on_theme_changed()
        theme.changed.connect(self._on_theme_changed)
        self.hide()

    def tell(self, what: str, done: int, of: int) -> None:
        """Shows what is done and how far it is; `of` 0 where nobody knows how much there is."""
        told = f"{what}…"
        if of >= FINE:
            told = f"{what}: {figures.unit(str(round(100 * done / of)), '%')}"
        elif of:
            told = tr("{work}: {done} of {all}", work=what, done=done, all=of)
        if self.cancel.isEnabled() or not self.isVisible():
            self.words.setText(told)
        self.bar.setVisible(bool(of))
        self.bar.setValue(round(FINE * done / of) if of else 0)
        self.bar.setAccessibleName(what)
        self.cancel.setAccessibleName(tr("Cancel: {work}", work=what))
        if not self.isVisible():
            self.cancel.setEnabled(True)
            self.show()

    def end(self) -> None:
        """Nothing runs any more."""
        self.hide()
        self.cancel.setEnabled(True)

    def _stop(self) -> None:
        self.cancel.setEnabled(False)
        self.words.setText(tr("Stopping…"))
        self.cancelled.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.cancel.isEnabled():
            self._stop()
        else:
            super().keyPressEvent(event)

    def _on_theme_changed(self) -> None:
        self.bar.setFixedSize(self._theme.px(WIDE), self._theme.px(HIGH))

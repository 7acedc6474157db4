# SPDX-License-Identifier: MIT
"""The quiet panel for a fault of the program itself: nothing is sent, but a report can be copied."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from desktop.language import tr
from desktop.theme import Theme
from desktop.widgets.band import Band, Way

WORDS = tr(
    "Something went wrong in the program. What the book has kept is safe. If it happens again, a report helps to find out why: "
    "copy it and send it to whom you trust with it. Nothing is sent by itself."
)


class ReportPanel(Band):
    """Hidden until a fault is told. `copy_wanted()`."""

    copy_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "brick", parent)
        self.setAccessibleName(tr("A fault of the program"))

    def tell(self) -> None:
        """Says that there was a fault."""
        copy = Way(tr("Copy report"), tr("Puts the report on the clipboard"), self.copy_wanted.emit)
        self.say(WORDS, copy, Way(tr("Close"), tr("Close this message"), self.clear))

# SPDX-License-Identifier: MIT
"""Two pages to read: the keys of every command, and what this program is and is not."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QPushButton, QVBoxLayout, QWidget

from desktop.theme import Theme
from desktop.widgets.centred import CentredPage
from desktop.widgets.labels import label

# Keys that belong to no menu, because they act where the focus is.
ELSEWHERE = (
    ("At the balance", "The last figure was mistyped", "F2"),
    ("At the balance", "Read the strip that is due", "F4"),
    ("At the balance", "The bottle is empty", "F6"),
    ("At the balance", "Spilled", "F7"),
    ("At the balance", "This line later", "F9"),
    ("At the balance", "Take the link of a sentence, or an answer", "Alt+0, or Alt and its number"),
    ("Everywhere", "Next field, field before", "Tab or Shift+Tab"),
    ("Everywhere", "Leave a field, a list or a sheet", "Esc"),
    ("Everywhere", "Menus", "Alt, then the letters"),
)
NOTICES = (
    "When a strip comes due while another window is in front, a notice on the desktop says which; a click on it opens that "
    "reading. “Tell me outside the window when a strip is due” in the View menu turns this off. It keeps quiet outside "
    "the hours in “Habits of this bench” (Shelf menu) and tells what came due meanwhile when the bench opens. A desktop "
    "without such notices shows none; the line at the top of the window always says what is due."
)
CAUTIONS = (
    "Stillroom keeps formulas, strips and what was smelled, and does the sums between them. It decides nothing. "
    "Whether a perfume is safe and allowed is for a qualified person to judge, with the rules in force where it is sold.",
    "Starting materials are named by generic, botanical or chemical name and CAS number. Their figures say where they "
    "come from; some are written from memory and say so. Look at a supplier's papers before you rely on one.",
    "Undiluted materials can burn, irritate and sensitise. Smell from a strip, weigh with gloves and good air, and keep "
    "solvents away from flames.",
    "The demo studio is invented: its perfumer, formulas, prices, limits and readings. Do not make it.",
    "Everything stays on this computer. There is no account and no network. Backups lie in a folder beside the book; "
    "keep a copy on another disk as well.",
)


class ReadingPage(CentredPage):
    """A page of words; Escape or the button goes back to where one was: `left`."""

    left = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def show_keys(self, rows: Sequence[tuple[str, str, str]]) -> None:
        """Shows (group, words, keys) of every command."""
        column = self._headed("Keyboard shortcuts")
        table = QGridLayout()
        table.setHorizontalSpacing(24)
        table.setVerticalSpacing(4)
        table.setColumnStretch(1, 5)
        table.setColumnStretch(2, 4)
        group = ""
        for place, (menu, words, keys) in enumerate((*rows, *ELSEWHERE)):
            if menu != group:
                group = menu
                table.setRowMinimumHeight(place * 2, self._theme.px(12))
                table.addWidget(label(menu, "quiet"), place * 2 + 1, 0)
            table.addWidget(label(words, wrap=True), place * 2 + 1, 1)
            table.addWidget(label(keys, "strong", wrap=True), place * 2 + 1, 2)
        column.addLayout(table)
        column.addStretch(1)

    def show_about(self, version: str) -> None:
        """Shows what this program is, its version and its cautions."""
        column = self._headed("About and cautions")
        column.addWidget(label(f"Stillroom, a perfumer's bench book. Version: {version}. MIT licence.", wrap=True))
        for text in (*CAUTIONS, NOTICES):
            column.addWidget(label(text, wrap=True))
        column.addStretch(1)

    def _headed(self, title: str) -> QVBoxLayout:
        column = self.begin(top=24)
        back = QPushButton("Back")
        back.setToolTip("Back to where you were (Esc)")
        back.clicked.connect(self.left)
        column.addWidget(label(title, "title"))
        column.addWidget(back, 0, Qt.AlignmentFlag.AlignLeft)
        self.setAccessibleName(title)
        return column

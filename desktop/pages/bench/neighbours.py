# SPDX-License-Identifier: MIT
"""The strips that hang left and right of the one that is read, in one line: a low window has no room for the stand then."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from desktop.language import tr
from desktop.widgets.labels import label
from desktop.widgets.stand import Paper


class Neighbours(QWidget):
    """`chosen(key)` for a strip beside; what is typed into the reading waits with its strip."""

    chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._keys: dict[str, int] = {}
        self.before, self.after = QPushButton(), QPushButton()
        self.place = label("", "caption")
        for button, way in ((self.before, "before"), (self.after, "after")):
            button.setProperty("role", "link")
            button.clicked.connect(lambda _=False, way=way: self.chosen.emit(self._keys[way]))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.before)
        row.addStretch(1)
        row.addWidget(self.place, 0, Qt.AlignmentFlag.AlignCenter)
        row.addStretch(1)
        row.addWidget(self.after)

    def show_for(self, papers: Sequence[Paper], shown: Sequence[int], chosen: int | None) -> None:
        """Shows which papers hang beside the chosen one, and where in the row it hangs."""
        by_key = {paper.key: paper for paper in papers}
        at = shown.index(chosen) if chosen in shown else -1
        self._keys = {}
        for button, way, beside in ((self.before, "before", at - 1), (self.after, "after", at + 1)):
            there = at >= 0 and 0 <= beside < len(shown)
            button.setVisible(there)
            if not there:
                continue
            paper = by_key[shown[beside]]
            self._keys[way] = paper.key
            told = " ".join(filter(None, (paper.code, paper.state or paper.under)))
            button.setText(f"‹ {told}" if way == "before" else f"{told} ›")
            button.setToolTip(paper.name)
            button.setAccessibleName(tr("Read {strip}", strip=paper.name))
        self.place.setText(tr("{place} of {number}", place=at + 1, number=len(shown)) if at >= 0 else "")

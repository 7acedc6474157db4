# SPDX-License-Identifier: MIT
"""When Python's collector of garbage walks through everything: it stops the program while it does, in a full book for longer
than a hand should wait.

Nearly all garbage is young and found by the small collections. The whole walk is put off until nobody does anything; what stands
as long as the book is open (its pages, its long lists) is taken out of it by `gc.freeze`.
"""

from __future__ import annotations

import gc

from PySide6.QtGui import QCursor
from PySide6.QtWidgets import QApplication

# Small collections between two whole walks that nobody asked for; so many make a walk worth it when nobody does anything.
RARELY, WORTH = 200, 5


class Garbage:
    """Asked at every tick whether to walk now."""

    def __init__(self) -> None:
        young, middle, _ = gc.get_threshold()
        gc.set_threshold(young, middle, RARELY)
        self._before: tuple[object, ...] = ()

    def tick(self, changes: int) -> None:
        """Walks where neither pointer, focus, text nor book (by the number of its changes) moved since the tick before."""
        focus = QApplication.focusWidget()
        text = getattr(focus, "text", str)
        now = (QCursor.pos(), focus, text() if callable(text) else "", changes)
        if now == self._before and gc.get_count()[2] >= WORTH:
            gc.collect()
        self._before = now

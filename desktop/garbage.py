# SPDX-License-Identifier: MIT
"""When Python's collector of garbage walks through everything: it stops the program while it does, in a full book for longer
than a hand should wait.

Nearly all garbage is young and found by the small collections. The whole walk is put off until nobody does anything; what stands
as long as the book is open (its pages, its long lists) is taken out of it by `gc.freeze`.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

from PySide6.QtGui import QCursor
from PySide6.QtWidgets import QApplication

# Small collections between two whole walks that nobody asked for; so many make a walk worth it when nobody does anything.
RARELY, WORTH = 200, 5


class Garbage:
    """Held while a book is opened, and asked at every tick whether to walk now."""

    def __init__(self) -> None:
        young, middle, _ = gc.get_threshold()
        gc.set_threshold(young, middle, RARELY)
        self._before: tuple[object, ...] = ()
        self._is_owed = False

    @contextmanager
    def held(self) -> Iterator[None]:
        """While a book is opened nothing is walked through; what then stands is not walked through as long as it is open."""
        gc.disable()
        try:
            yield
        finally:
            gc.enable()
            gc.freeze()

    def leave(self) -> None:
        """A book is closed: what stood for it is garbage, and is looked for when nobody does anything."""
        gc.unfreeze()
        self._is_owed = True

    def tick(self, changes: int) -> None:
        """Walks where neither pointer, focus, text nor book (by the number of its changes) moved since the tick before."""
        focus = QApplication.focusWidget()
        text = getattr(focus, "text", str)
        now = (QCursor.pos(), focus, text() if callable(text) else "", changes)
        if now == self._before and self._is_owed:
            self._is_owed = False
            gc.unfreeze()
            gc.collect()
            gc.freeze()
        elif now == self._before and gc.get_count()[2] >= WORTH:
            gc.collect()
        self._before = now

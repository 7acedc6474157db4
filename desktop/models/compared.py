# SPDX-License-Identifier: MIT
"""Which versions stand side by side: two to six of one book, in the order they were chosen."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QObject, Signal

from db import Change
from desktop.session import Session
from perfumery import Version

FEWEST, MOST = 2, 6


class Compared(QObject):
    """`changed` when other versions were chosen, or one of them was edited or is gone. Until somebody chose, it is the version on
    screen beside the one it came from."""

    changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._chosen: tuple[int, ...] | None = None
        session.chosen.connect(self._on_session_chosen)
        session.changed.connect(self._on_session_changed)

    @property
    def keys(self) -> tuple[int, ...]:
        """The versions' keys; fewer than two where there is nothing to compare yet."""
        if self._chosen is not None:
            return self._chosen
        version = self._session.version
        if version is None or version.key is None:
            return ()
        if version.parent is not None:
            return (version.parent, version.key)
        # the first of a family stands beside the first that came from it
        children = [head.key for head in self._session.book.version_heads(version.project) if head.parent == version.key]
        return (version.key, children[0]) if children else (version.key,)

    @property
    def versions(self) -> tuple[Version, ...]:
        """The versions as they stand in the book."""
        found = (self._session.book.get(Version, key) for key in self.keys)
        return tuple(version for version in found if version is not None)

    def choose(self, keys: Iterable[int]) -> None:
        """Puts these side by side; of more than six the first six."""
        self._chosen = tuple(dict.fromkeys(keys))[:MOST] or None
        self.changed.emit()

    def add(self, key: int) -> bool:
        """One more at the right; False where six stand there already."""
        if key in self.keys:
            return True
        if len(self.keys) >= MOST:
            return False
        self.choose((*self.keys, key))
        return True

    def remove(self, key: int) -> None:
        """Takes one out."""
        self._chosen = tuple(one for one in self.keys if one != key)
        self.changed.emit()

    def _on_session_chosen(self) -> None:
        version = self._session.version
        if self._chosen is None:
            self.changed.emit()
        elif version is not None and any(own.project != version.project for own in self.versions):
            # another project is on screen: what was chosen in the last one is no answer to what is asked now
            self._chosen = None
            self.changed.emit()

    def _on_session_changed(self, change: Change) -> None:
        if not change.touches(Version):
            return
        gone = {old.key for old, new in change.pairs if new is None and isinstance(old, Version)}
        if self._chosen is not None and gone & set(self._chosen):
            self._chosen = tuple(key for key in self._chosen if key not in gone)
        self.changed.emit()

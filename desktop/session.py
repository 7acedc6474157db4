# SPDX-License-Identifier: MIT
"""What the pages share: the open book, what is chosen in it, and the one road on which an edit goes and comes back.

A page calls `edit`; the book writes one transaction; its Change comes back to every page by `changed`. A write that fails
changes nothing and is said once, by `said`; the page gets None.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from db import Book, BookError, Change
from desktop import steps, wording
from desktop.language import tr
from desktop.settings import Settings
from desktop.theme import Theme
from perfumery import (
    Answer,
    BenchCheck,
    BlindTest,
    Contents,
    Decision,
    Making,
    Move,
    Note,
    Project,
    Reading,
    Refused,
    Sitting,
    Strip,
    Value,
    Version,
)

if TYPE_CHECKING:
    from desktop.long_work import LongWork


# Kinds whose values are never taken back.
BOOKED = (Answer, BenchCheck, BlindTest, Contents, Decision, Making, Move, Note, Reading, Sitting, Strip)


class Session(QObject):
    """One open book on screen. Signals: `changed(Change)`, `ticked(now)`, `chosen()` for project or version,
    `said(sentence, tone)` with tone 'done', 'note' or 'refused'. `work` takes what is long; None where there is no window."""

    changed = Signal(object)
    ticked = Signal(object)
    chosen = Signal()
    said = Signal(str, str)

    def __init__(self, book: Book, theme: Theme, settings: Settings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.book = book
        self.theme = theme
        self.settings = settings
        self.project_key: int | None = None
        self.version_key: int | None = None
        self._shown: dict[type[Any], Any] = {}
        self._came_back: int | None = None
        self._booked = ""
        self.why_not = ""
        self.work: LongWork | None = None
        book.on_change(self._on_book_changed)

    @property
    def project(self) -> Project | None:
        """The chosen project as it stands in the book."""
        return self._standing(Project, self.project_key)

    @property
    def version(self) -> Version | None:
        """The chosen version as it stands in the book."""
        return self._standing(Version, self.version_key)

    def turn(self) -> None:
        """Between building a part of the window and showing it: lets be drawn what is waiting."""
        if self.work is not None:
            self.work.turn()

    def _standing(self, kind: Any, key: int | None) -> Any:
        """The chosen value; kept from one change to the next, because a hundred cells ask for it."""
        held = self._shown.get(kind)
        if held is None or held.key != key:
            held = None if key is None else self.book.get(kind, key)
            self._shown[kind] = held
        return held

    def choose_version(self, key: int | None) -> None:
        """Shows a version everywhere, and the project it belongs to."""
        version = None if key is None else self.book.get(Version, key)
        self.version_key = None if version is None else version.key
        if version is not None:
            self.project_key = version.project
        self.chosen.emit()

    def choose_project(self, key: int | None) -> None:
        """Shows a project: its starred version, else its newest."""
        self.project_key = key
        own = [] if key is None else [v for v in self.book.version_heads(key) if not v.retired]
        best = max(own, key=lambda v: (v.starred, v.made_at, v.key), default=None)
        self.version_key = None if best is None else best.key
        self.chosen.emit()

    def edit(self, what: str, *values: Value) -> tuple[Value, ...] | None:
        """Puts values as one undo step; None where the book refused, which has then been said."""
        return self._guarded(self.book.put, *values, what=what)

    def put(self, what: str, *values: Value) -> tuple[Value, ...] | None:
        """As `edit`, but what a value cannot be is raised as Refused, for the field that says it beside itself."""
        put: tuple[Value, ...] | None = self.do(self.book.put, *values, what=what)
        return put

    def do(self, call: Any, *args: Any, **kwargs: Any) -> Any:
        """As `attempt`, but what cannot be is raised as Refused, for the field that says it beside itself."""
        try:
            return call(*args, **kwargs)
        except BookError as fault:
            self._say_fault(fault)
        return None

    def correct(self, key: int, what: str, **fields: Any) -> Value | None:
        """Corrects a record by a row that replaces it; None where the book refused."""
        return self._guarded(self.book.correct, key, what=what, **fields)

    def retire(self, key: int) -> Any:
        """Takes a value off the lists without deleting it."""
        return self._guarded(self.book.retire, key)

    def undo(self) -> None:
        """Takes the last step back and says which."""
        if self.book.can_undo is None:
            self.said.emit(tr("There is nothing to take back. What is booked is corrected where it stands, not undone."), "note")
            return
        booked, self._booked = self._booked, ""
        if booked:
            # whoever asks now means this, and not the step before it, which may be out of sight
            self.said.emit(
                tr(
                    "“{booked}” is booked and is not taken back: correct it where it stands. "
                    "Ctrl+Z once more takes back “{before}”.", booked=steps.told(booked), before=steps.told(self.book.can_undo),
                ), "note",
            )  # fmt: skip
            return
        what = self._guarded(self.book.undo)
        if what:
            self.said.emit(steps.undone(what), "done")

    def redo(self) -> None:
        """Does the last undone step again and says which; a version that comes back is shown where undo left its parent."""
        self._came_back = None
        what = self._guarded(self.book.redo)
        if self._came_back is not None:
            self.choose_version(self._came_back)
        if what:
            self.said.emit(steps.redone(what), "done")

    def attempt(self, call: Any, *args: Any, **kwargs: Any) -> Any:
        """Any other call that writes into the book; None where the book refused, which has then been said."""
        return self._guarded(call, *args, **kwargs)

    def _guarded(self, call: Any, *args: Any, **kwargs: Any) -> Any:
        try:
            return call(*args, **kwargs)
        except Refused as refused:
            self.said.emit(" ".join(wording.sentence(f) for f in refused.findings), "refused")
        except BookError as fault:
            self._say_fault(fault)
        return None

    def _say_fault(self, fault: BookError) -> None:
        """Says it at the foot, and keeps it for a field that holds what could not be kept."""
        self.why_not = wording.fault(fault)
        self.said.emit(self.why_not, "refused")

    def _on_book_changed(self, change: Change) -> None:
        self._booked = change.what if change.touches(*BOOKED) else ""
        # an import of thousands is looked through only where it may concern what is shown
        pairs = change.pairs if change.touches(Version, *self._shown) else ()
        for old, new in pairs:
            kind = type(new if new is not None else old)
            if kind in self._shown:
                self._shown[kind] = new if new is not None and new.key == getattr(self._shown[kind], "key", None) else None
        born = (new for old, new in pairs if old is None and isinstance(new, Version))
        self._came_back = next((new.key for new in born if new.parent == self.version_key), None)
        gone = {old.key for old, new in pairs if new is None and isinstance(old, Version)}
        if self.version_key in gone:
            old = next(old for old, _ in change.pairs if old is not None and old.key == self.version_key)
            self.version_key = getattr(old, "parent", None)
            self.changed.emit(change)
            self.chosen.emit()
            return
        self.changed.emit(change)

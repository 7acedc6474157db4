# SPDX-License-Identifier: MIT
"""The perfumer's own notes on a material, by stage on the strip, on a version or a bottle: read, added and corrected in place.

A correction is a dated row of its own; the earlier wording stays one click away. What was typed and not kept waits with its
material or version until it is kept or left.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPlainTextEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures
from desktop.language import tr
from desktop.session import Session
from desktop.theme import CAPTION
from perfumery import Bottle, Material, Note, Version

# {stage as the book keeps it: as it is shown}
STAGES = {"fresh": tr("fresh"), "1 h": tr("1 h"), "next day": tr("next day")}
_KINDS = {"material": Material, "version": Version, "bottle": Bottle}
EDITOR_LINES = 4


@dataclass(frozen=True, slots=True)
class _Target:
    """What the editor writes: a new note of a stage, or the correction of one."""

    key: int
    stage: str
    note: int | None = None


class NoteText(QPlainTextEdit):
    """A few lines of text; Ctrl+Enter keeps, Escape leaves."""

    def __init__(self, parent: Notes) -> None:
        super().__init__(parent)
        self._notes = parent
        self.setTabChangesFocus(True)

    def event(self, event: QEvent) -> bool:
        # Ctrl+Enter is a command of the drawer too; while a note is written it keeps the note
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and _is_keep(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if _is_keep(event):
            self._notes.keep()
        elif event.key() == Qt.Key.Key_Escape:
            self._notes.leave()
        else:
            super().keyPressEvent(event)


def _is_keep(event: QKeyEvent) -> bool:
    is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
    return is_enter and bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)


class Notes(QWidget):
    """The notes on one thing, `about` 'material', 'version' or 'bottle', and the one editor for them. Signal:
    `opened(widget)` when the editor is to be seen."""

    opened = Signal(object)

    def __init__(self, session: Session, about: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._about = about
        self._stages = tuple(STAGES) if about == "material" else ()
        self._key: int | None = None
        self._target: _Target | None = None
        self._drafts: dict[_Target, str] = {}
        self._opened: set[int] = set()
        self.label = QLabel(self)
        self.label.setWordWrap(True)
        self.label.setTextFormat(Qt.TextFormat.RichText)
        self.label.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        self.label.setAccessibleDescription(tr("Notes"))
        self.label.linkActivated.connect(self._on_link_activated)
        self.head = QLabel(self)
        self.head.setProperty("role", "caption")
        self.text = NoteText(self)
        self.keep_button = QPushButton(tr("Keep note"), self)
        self.leave_button = QPushButton(tr("Leave it"), self)
        for button, slot in ((self.keep_button, self.keep), (self.leave_button, self.leave)):
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        self.head.setBuddy(self.text)
        self._editor = (self.head, self.text, self.keep_button, self.leave_button)
        buttons = QHBoxLayout()
        buttons.addWidget(self.keep_button)
        buttons.addWidget(self.leave_button)
        buttons.addStretch()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        for part in (self.label, self.head, self.text):
            column.addWidget(part)
        column.addLayout(buttons)
        self._show_editor()

    def show_for(self, key: int | None) -> None:
        """Shows the notes on a material or version; text not kept on another one waits there."""
        if key != self._key:
            self._put_by()
            self._key = key
            self._opened.clear()
            self._target = next((target for target in self._drafts if target.key == key), None)
            self._show_editor()
        self.label.setText(self._html())

    def keep(self) -> None:
        """Puts what the editor holds, a correction where it corrects; an empty text keeps nothing."""
        target, text = self._target, self.text.toPlainText().strip()
        if target is None or not text:
            self.leave()
            return
        thing = self._session.book.get(_KINDS[self._about], target.key)
        name = getattr(thing, "short", "") or getattr(thing, "code", "")
        what = tr("note on {name}", name=name) if name else tr("note")
        if target.note is None:
            note = Note(text=text, at=self._session.book.now(), stage=target.stage, **{self._about: target.key})
            kept = self._session.edit(what, note)
        else:
            kept = self._session.correct(target.note, what, text=text)
        if kept is not None:
            self.leave()

    def leave(self) -> None:
        """Closes the editor and drops what it holds."""
        if self._target is not None:
            self._drafts.pop(self._target, None)
        self._target = None
        self._show_editor()
        self.label.setText(self._html())
        self.label.setFocus()

    def write(self, stage: str, note: Note | None = None) -> None:
        """Opens the editor for a new note of a stage, or to correct one."""
        if self._key is None:
            return
        self._put_by()
        self._target = _Target(self._key, stage, None if note is None else note.key)
        if note is not None:
            self._drafts.setdefault(self._target, note.text)
        self._show_editor()
        self.text.setFocus()
        self.opened.emit(self.keep_button)

    def _put_by(self) -> None:
        """Keeps a started text with its material, so that a look at another one loses nothing."""
        if self._target is not None:
            text = self.text.toPlainText()
            if text.strip():
                self._drafts[self._target] = text
            else:
                self._drafts.pop(self._target, None)

    def _show_editor(self) -> None:
        target = self._target
        for part in self._editor:
            part.setVisible(target is not None)
        if target is None:
            return
        verb = tr("correct") if target.note is not None else tr("new note")
        stage = STAGES.get(target.stage, target.stage)
        self.head.setText(f"{verb}, {stage}" if stage else verb)
        self.text.setAccessibleName(tr("Note, {stage}", stage=stage) if stage else tr("Note"))
        self.text.setFixedHeight(self.text.fontMetrics().lineSpacing() * EDITOR_LINES + 14)
        self.text.setPlainText(self._drafts.get(target, ""))

    def _on_link_activated(self, link: str) -> None:
        verb, _, rest = link.partition(":")
        if verb == "add":
            self.write(rest)
            return
        key = int(rest)
        if verb == "correct":
            note = self._session.book.get(Note, key)
            if note is not None:
                self.write(note.stage, note)
        else:
            self._opened ^= {key}
            self.label.setText(self._html())

    def _html(self) -> str:
        """All notes as one text: those of the stages first, in their order; then the links to add."""
        if self._key is None:
            return ""
        notes = sorted(self._session.book.all(Note, **{self._about: self._key}), key=_in_stages)
        paragraphs = [self._paragraph(note) for note in notes]
        links = [self._link(f"add:{stage}", STAGES[stage]) for stage in self._stages]
        if links:
            links.append(self._link("add:", tr("any time")))
            paragraphs.append(self._small(tr("add a note: {links}", links=" · ".join(links))))
        else:
            link = self._link("add:", tr("write one"))
            paragraphs.append(self._small(tr("notes: {link}", link=link)))
        return "".join(f"<p style='margin:0 0 3px 0'>{text}</p>" for text in paragraphs)

    def _paragraph(self, note: Note) -> str:
        now = self._session.book.now()
        stage = f"<b>{escape(STAGES.get(note.stage, note.stage))}:</b> " if note.stage else ""
        tail = [figures.day(note.at, now).replace(" ", "&nbsp;"), self._link(f"correct:{note.key}", tr("correct"))]
        text = f"{stage}{escape(note.text)}"
        if note.replaces is None or note.key is None:
            return f"{text} {self._small(' · '.join(tail))}"
        tail.append(self._link(f"earlier:{note.key}", tr("earlier wording")))
        text = f"{text} {self._small(' · '.join(tail))}"
        if note.key in self._opened:
            for old in self._session.book.history(note.key):
                text += "<br>" + self._small(f"{figures.day(old.at, now)}: {escape(old.text)}")
        return text

    def _small(self, text: str) -> str:
        theme = self._session.theme
        return f"<span style='color:{theme.token('quiet')}; font-size:{theme.px(CAPTION)}px'>{text}</span>"

    def _link(self, target: str, text: str) -> str:
        style = f"color:{self._session.theme.token('juniper')}; text-decoration:none"
        return f"<a style='{style}' href='{escape(target)}'>{escape(text)}</a>"


def _in_stages(note: Note) -> tuple[int, float]:
    place = list(STAGES).index(note.stage) if note.stage in STAGES else len(STAGES)
    return place, note.at.timestamp() if note.at else 0.0

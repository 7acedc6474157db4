# SPDX-License-Identifier: MIT
"""The sheet in which a project's reading times are set; they hold for the strips dipped from then on."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures
from desktop.language import tr, tr_count
from desktop.models.moments import Unreadable, parse_times, times_text
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.labels import label
from perfumery.smelling import READING_TIMES, SHORT_TIMES


class TimesSheet(QFrame):
    """`left` when it is put away, kept or not."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("Reading times"))
        self._title = label("", "caption", wrap=True)
        self.line = QLineEdit()
        self._field = Field(tr("reading times after the dip"), self.line, tip=tr("2 min, 15 min, 1 h, 1 d"), reserve=True)
        self._keep = QPushButton(tr("Keep times"))
        self._keep.setProperty("role", "primary")
        self._usual, self._short, self._leave = (self._link(text) for text in (tr("Usual"), tr("Short"), tr("Leave")))
        self._usual.setToolTip(times_text(READING_TIMES))
        self._short.setToolTip(times_text(SHORT_TIMES))
        row = QHBoxLayout()
        row.setSpacing(16)
        for button in (self._usual, self._short, self._leave):
            row.addWidget(button)
        row.addStretch(1)
        row.addWidget(self._keep)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.setSpacing(6)
        column.addWidget(self._title)
        column.addWidget(self._field)
        column.addLayout(row)
        self.line.textChanged.connect(self._on_line_changed)
        self.line.returnPressed.connect(self.keep)
        self._keep.clicked.connect(self.keep)
        self._usual.clicked.connect(lambda: self.line.setText(times_text(READING_TIMES)))
        self._short.clicked.connect(lambda: self.line.setText(times_text(SHORT_TIMES)))
        self._leave.clicked.connect(self.leave)

    def _link(self, text: str) -> QPushButton:
        button = QPushButton(text)
        button.setProperty("role", "link")
        return button

    def open(self) -> None:
        """Shows the times of the chosen project."""
        project = self._session.project
        if project is None:
            return
        self._title.setText(tr("For strips of {project} dipped from now on.", project=project.name or project.code))
        self.line.setText(times_text(project.reading_times or READING_TIMES))
        self.show()
        self.line.setFocus(Qt.FocusReason.OtherFocusReason)

    def keep(self) -> None:
        """Keeps the times; what cannot be read is said beside the line."""
        project = self._session.project
        if project is None:
            return
        try:
            times = parse_times(self.line.text())
        except Unreadable as sentence:
            self._field.say(str(sentence))
            self.line.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        kept = () if times == READING_TIMES else times
        what = tr("reading times of {project}", project=project.name or project.code)
        if kept == project.reading_times or self._session.edit(what, replace(project, reading_times=kept)):
            self.leave()

    def leave(self) -> None:
        """Puts the sheet away."""
        self.hide()
        self.left.emit()

    def _on_line_changed(self, text: str) -> None:
        try:
            times = parse_times(text)
        except Unreadable:
            self._field.say("")
            return
        last = figures.due_text(times[-1])
        told = tr_count(len(times), "{n} reading, the last after {time}", "{n} readings, the last after {time}", time=last)
        self._field.say(told, "quiet")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)

# SPDX-License-Identifier: MIT
"""The few words a new project begins with, typed in place."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import wording
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Project, Refused


class NewProject(QWidget):
    """Name, code and brief. `made(key)` when the project stands, `left` when it was given up."""

    made = Signal(int)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.name, self.code, self.brief = QLineEdit(self), QLineEdit(self), QLineEdit(self)
        self.code.setMaximumWidth(90)
        self.name.textEdited.connect(self._on_name_edited)
        self.name_field = Field("name of the project", self.name, self)
        self.code_field = Field("code", self.code, self, tip="Begins the codes of its versions, as SR in SR-1")
        self.brief_field = Field("brief: what it is to be, in a sentence", self.brief, self)
        make = QPushButton("Make the project", self)
        make.setProperty("role", "primary")
        make.clicked.connect(self.make)
        leave = QPushButton("Leave it", self)
        leave.clicked.connect(self.left)
        names, buttons = QHBoxLayout(), QHBoxLayout()
        names.addWidget(self.name_field, 1)
        names.addWidget(self.code_field)
        for button in (make, leave):
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 8)
        column.addLayout(names)
        column.addWidget(self.brief_field)
        column.addLayout(buttons)
        column.addStretch(1)
        for field in (self.name, self.code, self.brief):
            field.returnPressed.connect(self.make)

    def start(self) -> None:
        """Begins empty, with the cursor in the name."""
        for field in (self.name, self.code, self.brief):
            field.setText("")
        self.code_field.say("")
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def make(self) -> None:
        """Makes the project; what is missing is said beside its field."""
        try:
            project = Project(
                code=self.code.text().strip(), name=self.name.text().strip(), brief=self.brief.text().strip(),
                started_on=self._session.book.now().date(),
            )  # fmt: skip
            made = self._session.put(f"new project {project.code}", project)
        except Refused as fault:
            self.code_field.say(wording.sentences(fault.findings))
            self.code.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        if made is not None:
            self.made.emit(made[0].key)

    def _on_name_edited(self, text: str) -> None:
        """Offers the initials for the code until one is typed."""
        if not self.code.isModified():
            words = text.split()
            initials = "".join(word[0] for word in words[:3]) if len(words) > 1 else text.strip()[:3]
            self.code.setText(initials.upper())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return
        super().keyPressEvent(event)

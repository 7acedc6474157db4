# SPDX-License-Identifier: MIT
"""Makes a trial of the chosen version without weighing it here: says first what that means, in place."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from db import BookError
from desktop import figures, wording
from desktop.language import tr
from desktop.models.lines import READABILITY_G
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Bottle, Making, Refused, parse_number


class TrialSheet(QWidget):
    """Amount and confirmation. `made(making, bottle)` when the vial stands; `left` when it was given up;
    `reason_asked` where a child version still lacks its reason."""

    made = Signal(object, object)
    left = Signal()
    reason_asked = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.title = QLabel(self)
        self.title.setProperty("role", "title")
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.amount = QLineEdit(self)
        self.amount.setMaximumWidth(140)
        self.field = Field(tr("amount, g"), self.amount, self, reserve=True)
        self.make = QPushButton(tr("Make the trial"), self)
        self.make.setProperty("role", "primary")
        self.make.clicked.connect(self.confirm)
        self.amount.returnPressed.connect(self.confirm)
        leave = QPushButton(tr("Leave it"), self)
        leave.clicked.connect(self.left)
        buttons = QHBoxLayout()
        buttons.addWidget(self.make)
        buttons.addWidget(leave)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(12)
        for part in (self.title, self.told, self.field):
            column.addWidget(part)
        column.addLayout(buttons)
        column.addStretch(1)
        self._lacks_reason = False
        self.amount.textEdited.connect(lambda: self._said(""))
        session.changed.connect(self._on_session_changed)

    def start(self) -> None:
        """Begins with the amount of the project."""
        version, project = self._session.version, self._session.project
        if version is None or project is None:
            self.left.emit()
            return
        self.title.setText(tr("A trial of {code}", code=version.code))
        if version.is_frozen:
            frozen = tr("{code} is frozen already and stays as it is.", code=version.code)
        else:
            frozen = tr(
                "{code} and the accords in it freeze: their lines, parts, strengths and carriers never change again. "
                "A later edit makes a new version. This cannot be undone.",
                code=version.code,
            )
        counts = tr("The trial counts as made at this hour, as intended, not weighed line by line.")
        self.told.setText(f"{counts} {frozen}")
        self.amount.setText(figures.mass(project.amount_g, READABILITY_G))
        self._said("")
        self.amount.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.amount.selectAll()

    def confirm(self) -> None:
        """Makes the trial; what is missing is said beside the amount."""
        version = self._session.version
        if version is None:
            return
        try:
            amount = parse_number(self.amount.text().casefold().removesuffix("g"))
            making, bottle = self._session.book.start_trial(version.key, amount)
        except Refused as fault:
            lacks = any(finding.code == "reason-missing" for finding in fault.findings)
            self._said(wording.sentences(fault.findings), lacks_reason=lacks)
            if lacks:
                self.reason_asked.emit()
            return
        except BookError as fault:
            self._said(wording.fault(fault))
            return
        self._told_made(making, bottle)
        self.made.emit(making, bottle)

    def _said(self, sentence: str, *, lacks_reason: bool = False) -> None:
        self._lacks_reason = lacks_reason
        self.field.say(sentence)

    def _on_session_changed(self) -> None:
        version = self._session.version
        if self._lacks_reason and version is not None and version.reason:
            self._said("")

    def _told_made(self, making: Making, bottle: Bottle) -> None:
        mass = figures.mass_text(making.target_g, READABILITY_G)
        said = tr("Trial {code} is made: {mass} in vial {vial}.", code=making.code, mass=mass, vial=bottle.code)
        self._session.said.emit(said, "done")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return
        super().keyPressEvent(event)

# SPDX-License-Identifier: MIT
"""What a natural holds, typed row by row: each figure a step of its own, with its source."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from db import Change
from desktop import wording
from desktop.language import tr
from desktop.models.constituents import CompositionModel, CompositionRow
from desktop.session import Session
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from perfumery import Constituent, Material, Refused

TOLD = tr(
    "Shares are of the natural. Limits are kept to the most of each. What is not written here is not zero: until the "
    "composition is known, limits say “at least”. Take figures from the certificate of your own lot where you can."
)


class CompositionSheet(QWidget):
    """`left` when it is put away. Delete takes a row out."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._material: Material | None = None
        self.title = label("", "heading", wrap=True)
        self.model = CompositionModel(self._keep, self._on_row_refused, self)
        self.grid = Grid(session.theme, session.settings, "constituents", "source", self)
        self.grid.setAccessibleName(tr("Constituents"))
        self.grid.show_model(self.model)
        self.wrong = label("", "wrong", wrap=True)
        self.wrong.setVisible(False)
        self.back = QPushButton(tr("Back to the limits"), self)
        column, buttons = QVBoxLayout(self), QHBoxLayout()
        column.setContentsMargins(8, 0, 0, 0)
        column.setSpacing(8)
        for part in (self.title, label(TOLD, "quiet", wrap=True)):
            column.addWidget(part)
        column.addWidget(self.grid, 1)
        column.addWidget(self.wrong)
        buttons.addWidget(self.back)
        buttons.addStretch(1)
        column.addLayout(buttons)
        self.back.clicked.connect(lambda _=False: self.left.emit())
        self.grid.removal_asked.connect(self._remove)
        self.grid.given_up.connect(lambda _: self.left.emit())
        session.changed.connect(self._on_session_changed)

    def start(self, material: int) -> None:
        """Shows the composition of a material, the cursor in its empty row."""
        self._material = self._session.book.get(Material, material)
        self._say("")
        self.refresh()
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        self.grid.go_to(self.model.index(self.model.rowCount() - 1, 0))

    def refresh(self) -> None:
        """The rows as they stand, and an empty one."""
        if self._material is None or self._material.key is None:
            return
        self.title.setText(tr("What {material} holds", material=self._material.short))
        own = [one for one in self._session.book.all(Constituent, whole=self._material.key) if one.retired_on is None]
        self.model.whole = self._material.key
        self.model.show_rows([*(CompositionRow(one) for one in own), CompositionRow()])

    def _keep(self, one: Constituent) -> bool:
        self._say("")
        assert self._material is not None
        try:
            step = tr("{constituent} in {material}", constituent=one.name, material=self._material.short)
            return self._session.put(step, one) is not None
        except Refused as fault:
            self._on_row_refused(fault)
            return False

    def _on_row_refused(self, fault: Refused) -> None:
        self._say(wording.sentences(fault.findings))

    def _remove(self, places: list[int]) -> None:
        gone = [one for place in places if (one := self.model.row(place).one) is not None]
        today = self._session.book.now().date()
        if gone:
            names = ", ".join(one.name for one in gone)
            self._session.edit(tr("{names} taken out", names=names), *(replace(one, retired_on=today) for one in gone))

    def _say(self, sentence: str) -> None:
        self.wrong.setText(sentence)
        self.wrong.setVisible(bool(sentence))

    def _on_session_changed(self, change: Change) -> None:
        if self.isVisible() and change.touches(Constituent, Material):
            self.refresh()

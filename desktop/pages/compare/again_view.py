# SPDX-License-Identifier: MIT
"""Could I make it again today? Line by line the bottle then and now, what differs in words, and the proof that is offered."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from db import Change
from desktop import figures, wording
from desktop.models.again import AgainModel, headline, in_figures, ordered, proof
from desktop.models.compared import Compared
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from perfumery import Bottle, Contents, Making, Material, Move, Project, Reading, Refused, Strip, Version, parse_number
from perfumery.again import AgainToday

EMPTY = "Choose a version on the Bench: whether it can be made again today is told here."


class AgainView(QWidget):
    """Follows the version on screen until `go_to` shows another. `asked(value)` for a bottle on the Shelf,
    `weighing_asked(version)` to weigh it again."""

    asked = Signal(object)
    weighing_asked = Signal(int)

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self._version: int | None = None
        self.found: AgainToday | None = None
        self.title = label("", "title")
        self.amount = QLineEdit(self)
        self.amount.setMaximumWidth(session.theme.px(110))
        self.amount_field = Field("amount, g", self.amount, self)
        self.headline = label("", wrap=True)
        self.headline.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.headline.setAccessibleName("Could I make it again today")
        self.figures = label("", "quiet", wrap=True)
        self.model = AgainModel(self)
        self.grid = Grid(session.theme, session.settings, "again", "said", self)
        self.grid.setAccessibleName("Line by line, then and today")
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.line_told = label("", wrap=True)
        self.line_told.setAccessibleName("The chosen line")
        self.proof = label("", "quiet", wrap=True)
        self.weigh = QPushButton("Weigh it again", self)
        self.weigh.setProperty("role", "primary")
        head, buttons = QHBoxLayout(), QHBoxLayout()
        head.addWidget(self.title, 1)
        head.addWidget(self.amount_field)
        buttons.addWidget(self.weigh)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 16, 8)
        column.setSpacing(8)
        column.addLayout(head)
        for part in (self.headline, self.figures):
            column.addWidget(part)
        column.addWidget(self.grid, 1)
        for part in (self.line_told, self.proof):
            column.addWidget(part)
        column.addLayout(buttons)
        self.amount.textEdited.connect(lambda _: self._show())
        self.grid.selectionModel().currentRowChanged.connect(lambda *_: self._tell_line())
        self.grid.entered.connect(self._open)
        self.grid.doubleClicked.connect(lambda index: self._open(index.row()))
        self.weigh.clicked.connect(lambda _=False: self._ask_weighing())
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._on_session_chosen)

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """Nothing of its own in the menu."""
        return ()

    def take_focus(self) -> None:
        """The focus to the lines."""
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def go_to(self, version: int) -> None:
        """Asks of this version."""
        self._version = version
        self.refresh()

    def refresh(self) -> None:
        """Begins with the amount of the version's project."""
        self._is_stale = False
        version = self._session.book.get(Version, self._version or self._session.version_key or 0)
        project = None if version is None else self._session.book.get(Project, version.project)
        if project is not None and not self.amount.isModified():
            self.amount.setText(figures.parts(project.amount_g))
        self._show()

    def _show(self) -> None:
        version = self._session.book.get(Version, self._version or self._session.version_key or 0)
        has_one = version is not None
        for part in (self.amount_field, self.figures, self.grid, self.line_told, self.proof, self.weigh):
            part.setVisible(has_one)
        self.amount_field.say("")
        if version is None or version.key is None:
            self.title.setText(EMPTY)
            self.headline.setText("")
            return
        self.title.setText(f"{version.code}: could I make it again today?")
        try:
            amount = parse_number(self.amount.text().casefold().removesuffix("g").strip())
            found = self._session.book.again_today(version.key, amount)
        except Refused as fault:
            self.amount_field.say(wording.sentences(fault.findings))
            return
        self.found = found
        self.headline.setText(headline(found))
        self.figures.setText(in_figures(found, self._session.book.currency))
        self.model.show_rows(ordered(found.lines))
        if self.model.rowCount() and not self.grid.currentIndex().isValid():
            self.grid.go_to(self.model.index(0, 0))
        self.proof.setText(proof(found))
        self._tell_line()

    def _tell_line(self) -> None:
        """All that is said of the chosen line, which its row may cut."""
        index = self.grid.currentIndex()
        row = self.model.row(index.row()) if index.isValid() and index.row() < self.model.rowCount() else None
        said = "" if row is None else " ".join(map(wording.sentence, row.findings)) or "As before."
        self.line_told.setText("" if row is None else f"{row.name}: {said}")

    def _open(self, place: int) -> None:
        today: Bottle | None = self.model.row(place).today
        if today is not None:
            self.asked.emit(today)

    def _ask_weighing(self) -> None:
        if self.found is not None and self.found.version.key is not None:
            self.weighing_asked.emit(self.found.version.key)

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(Version, Bottle, Contents, Making, Material, Move, Project, Reading, Strip):
            self._refresh_or_note()

    def _on_session_chosen(self) -> None:
        self._version = None
        self._refresh_or_note()

    def _refresh_or_note(self) -> None:
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()

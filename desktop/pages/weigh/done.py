# SPDX-License-Identifier: MIT
"""What a weighing became: intended and as weighed side by side, and what can be done with it next."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.mix_words import strength_with_u
from desktop.models.modes import TARE_EACH
from desktop.models.weighed import BY_LINE, BY_MATERIAL, WeighedModel, by_line, by_material
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.emptied import empty
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from perfumery import Balance, Bottle, Making, Refused, Version

MATERIALS, LINES = "material", "line"


class DoneSheet(QWidget):
    """`left`; `smelling_asked(vial)` to thin the trial for smelling; `added_to(making)` where more goes into its vial;
    `shelf_asked(bottle)` to see it among the others."""

    left = Signal()
    smelling_asked = Signal(int)
    added_to = Signal(int)
    shelf_asked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._bottle: Bottle | None = None
        self._making: Making | None = None
        self.title = QLabel(self)
        self.title.setProperty("role", "title")
        self.told = QLabel(self)
        self.told.setProperty("role", "quiet")
        self.told.setWordWrap(True)
        self.views = Chips({MATERIALS: tr("by material"), LINES: tr("by line")}, tr("what the rows are"), self)
        self.model = WeighedModel(BY_MATERIAL, self)
        self.lines = WeighedModel(BY_LINE, self)
        self.grid = Grid(session.theme, session.settings, "weighed", "name", self)
        self.line_grid = Grid(session.theme, session.settings, "weighed lines", "name", self)
        self.grid.setAccessibleName(tr("Intended and as weighed by material"))
        self.line_grid.setAccessibleName(tr("Intended and as weighed by line"))
        for grid, model in ((self.grid, self.model), (self.line_grid, self.lines)):
            grid.enter_edits = False
            grid.show_model(model)
        self.smell = QPushButton(tr("Thin it for smelling"), self)
        self.smell.setProperty("role", "primary")
        self.shelf = QPushButton(tr("See it on the Shelf"), self)
        self.again = QPushButton(tr("Weigh another"), self)
        self.sheet, self.print = QPushButton(tr("Sheet as PDF…"), self), QPushButton(tr("Print the sheet…"), self)
        self.add = QPushButton(tr("Add to it…"), self)
        self.add.setToolTip(tr("What more goes in makes a trial of its own; strips from this one keep what it was"))
        self.keep = QPushButton(tr("Keep as a version…"), self)
        self.keep.setToolTip(tr("A formula of what was poured, under a code of its own, in the project on the Bench"))
        for button, slot in (
            (self.smell, self._on_smell_clicked), (self.shelf, self._on_shelf_clicked), (self.again, self.left),
            (self.sheet, self._on_sheet_clicked), (self.print, self._on_print_clicked), (self.add, self._on_add_clicked),
            (self.keep, self._on_keep_clicked),
        ):  # fmt: skip
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        self.name = QLineEdit(self)
        self.name_field = Field(tr("name of the version"), self.name, tip=tr("May stay empty"))
        self.why = QLineEdit(self)
        self.why_field = Field(tr("why it was made"), self.why, tip=tr("In a sentence; found again by it"))
        self.keep_it = QPushButton(tr("Keep"), self)
        self.keep_it.setAutoDefault(False)
        self.keep_it.clicked.connect(self.keep_version)
        for field in (self.name, self.why):
            field.returnPressed.connect(self.keep_version)
        # not by keyPressEvent: the Enter that keeps a version must not click the button that gets the focus then
        clicked_by_enter(self.smell, self.shelf, self.again, self.sheet, self.print, self.add, self.keep, self.keep_it)
        self.naming = QWidget(self)
        self.views.chosen.connect(lambda _: self._show_view())
        self._build()

    def _build(self) -> None:
        naming = QHBoxLayout(self.naming)
        naming.setContentsMargins(0, 0, 0, 0)
        naming.setSpacing(12)
        for field, wide in ((self.name_field, 1), (self.why_field, 2)):
            naming.addWidget(field, wide, Qt.AlignmentFlag.AlignTop)
        # below an empty caption, so that it stays in line with the fields when a sentence comes below one of them
        naming.addWidget(Field("\u00a0", self.keep_it), 0, Qt.AlignmentFlag.AlignTop)
        self.keep_it.setAccessibleName(self.keep_it.text())
        self.keep_it.setToolTip("Enter")
        buttons = QHBoxLayout()
        buttons.setSpacing(12)
        for part in (self.smell, self.shelf, self.again, self.add, self.keep):
            buttons.addWidget(part)
        buttons.addStretch(1)
        for button in (self.sheet, self.print):
            buttons.addWidget(button)
        head = QHBoxLayout()
        head.addWidget(self.title)
        head.addStretch(1)
        head.addWidget(self.views)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 12)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.told)
        column.addWidget(self.grid, 1)
        column.addWidget(self.line_grid, 1)
        column.addWidget(self.naming)
        column.addLayout(buttons)

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, bottle: int) -> None:
        """Shows what was last weighed into a bottle."""
        book = self._session.book
        found = book.get(Bottle, bottle)
        making = max(book.all(Making, into_bottle=bottle), key=lambda one: one.key or 0, default=None)
        if found is None or making is None:
            return
        self._bottle, self._making = found, making
        self.model.show_rows(by_material(book, making))
        self.lines.show_rows(by_line(book, making))
        self.title.setText(tr("{code} as weighed", code=making.code or found.code))
        self.told.setText(self._about(found, making))
        is_trial = making.kind == "trial"
        for button, shown in (
            (self.smell, is_trial), (self.shelf, not is_trial), (self.sheet, is_trial), (self.print, is_trial),
            (self.add, is_trial), (self.keep, is_trial and making.version is None),
        ):  # fmt: skip
            button.setVisible(shown)
        self.again.setText(tr("Weigh another") if is_trial else tr("Back to weighing"))
        self.naming.hide()
        self._show_view()
        (self.smell if is_trial else self.shelf).setFocus(Qt.FocusReason.OtherFocusReason)

    def _about(self, bottle: Bottle, making: Making) -> str:
        book = self._session.book
        mass = figures.mass_text(book.book_mass(bottle.key or 0), self._step(making))
        version = None if making.version is None else book.get(Version, making.version)
        if making.kind == "trial":
            if version is None:
                told = tr("{mass} in {bottle}, poured freely.", mass=mass, bottle=bottle.code)
            else:
                told = tr("{mass} in {bottle} of {version}.", mass=mass, bottle=bottle.code, version=version.code)
            kept = tr("Strips from it belong to what was weighed; intended and as weighed stay side by side for ever.")
            return f"{told} {kept}"
        told = tr("{mass} in {bottle}.", mass=mass, bottle=bottle.code)
        if bottle.material is not None:
            share = book.contents(bottle.key or 0).get(bottle.material, 0.0)
            known = book.bottles.uncertainty(bottle.key or 0)
            u = None if known is None else known.get(bottle.material)
            told = tr(
                "{mass} in {bottle}, truly {share}; its label says {strength}.",
                mass=mass, bottle=bottle.code, share=strength_with_u(share, u), strength=figures.strength_text(bottle.strength),
            )
        taken = tr("Formulas weighed from it take what it truly holds.")
        return f"{told} {taken}"

    def _step(self, making: Making) -> float:
        balance = None if making.balance is None else self._session.book.get(Balance, making.balance)
        return 0.001 if balance is None else balance.d_g

    def _show_view(self) -> None:
        is_lines = self.views.name == LINES
        self.grid.setVisible(not is_lines)
        self.line_grid.setVisible(is_lines)

    # what is done -----------------------------------------------------------------------------------------------------

    def keep_version(self) -> None:
        """A version of what was poured; what speaks against it is said beside the fields."""
        session, making = self._session, self._making
        project = session.project
        if making is None or making.key is None or project is None or project.key is None:
            return
        self.name_field.say("")
        code = session.book.next_code(Version, f"{project.code}-", project=project.key)
        try:
            kept: Any = session.do(
                session.book.weighings.keep_as_version, making.key, project.key, code, name=self.name.text().strip(),
                reason=self.why.text().strip(),
            )  # fmt: skip
        except Refused as fault:
            self.name_field.say(wording.sentences(fault.findings))
            self.name.setFocus()
            return
        if kept is not None:
            session.choose_version(kept.key)
            self.start(making.into_bottle)
            where = project.name or project.code
            told = tr("{code} is in {project}: what was poured, parts per thousand.", code=kept.code, project=where)
            session.said.emit(told, "done")

    def _on_keep_clicked(self) -> None:
        if self._session.project is None:
            self._session.said.emit(tr("Choose a project on the Bench first; the version is kept in it."), "refused")
            return
        empty(self.name, self.why)
        self.naming.show()
        self.name.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_add_clicked(self) -> None:
        book, vial, making = self._session.book, self._bottle, self._making
        if vial is None or vial.key is None or making is None:
            return
        code = book.next_code(Making, "T-")
        into = Bottle(
            code=book.next_code(Bottle, "V"), kind="trial", label=f"{code} from {vial.code}", container=vial.container,
            liner=vial.liner, tare_g=vial.tare_g, volume_ml=vial.volume_ml,
        )  # fmt: skip
        mode = TARE_EACH if making.mode == "not weighed" else making.mode
        begun = self._session.attempt(book.weighings.add_to, vial.key, into, balance=making.balance, mode=mode, code=code)
        if begun is not None:
            self.added_to.emit(begun.key)

    def _on_smell_clicked(self) -> None:
        if self._bottle is not None:
            self.smelling_asked.emit(self._bottle.key)

    def _on_shelf_clicked(self) -> None:
        if self._bottle is not None:
            self.shelf_asked.emit(self._bottle.key)

    def _on_sheet_clicked(self) -> None:
        from desktop.pages.weigh.sheet_pdf import ask_sheet

        if self._making is not None and self._making.key is not None:
            ask_sheet(self, self._session, self._making.key)

    def _on_print_clicked(self) -> None:
        from desktop.pages.weigh.sheet_pdf import print_sheet

        if self._making is not None and self._making.key is not None:
            print_sheet(self, self._session, self._making.key)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            if self.naming.isVisible():
                self.naming.hide()
                self.keep.setFocus(Qt.FocusReason.OtherFocusReason)
            else:
                self.left.emit()
            return
        super().keyPressEvent(event)

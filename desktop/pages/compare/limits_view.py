# SPDX-License-Identifier: MIT
"""Limits: how the compared versions stand to what was typed, where it comes from, and what would keep to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from db import Change
from desktop import figures, wording
from desktop.language import tr
from desktop.models.compared import Compared
from desktop.models.constituents import NaturalsModel, naturals
from desktop.models.limit_rows import LimitRow, LimitsModel, Standing, categories, standing, told
from desktop.pages.compare.composition import CompositionSheet
from desktop.pages.compare.limit_form import LimitForm
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.field_row import FieldRow
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from desktop.widgets.panes import Panes
from perfumery import Constituent, Limit, Material, Project, Refused, Version, parse_strength

CAUTION = tr(
    "These are limits that you typed, worked out on the finished product. Whether a perfume is safe and may be given or sold is "
    "decided by your local law and a qualified safety assessor."
)
EMPTY = tr("No limit was typed for these products yet. Add one with its source; it then counts for every version.")
USUAL_STRENGTH = 0.1


class LimitsView(QWidget):
    """`asked(value)` for what stands on another page."""

    asked = Signal(object)

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._compared = compared
        self._is_stale = True
        self._row_key: int | None = None
        self.stand: Standing | None = None
        self.category = QComboBox(self)
        self.category.setEditable(True)
        self.category.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.category_field = Field(tr("product category of the project"), self.category, self)
        self.strength = QLineEdit(self)
        self.strength_field = Field(tr("finished at, %"), self.strength, self, tip=tr("Mass of concentrate in the product"))
        self.new = QPushButton(tr("Add a limit…"), self)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.model = LimitsModel((), self)
        self.grid = Grid(session.theme, session.settings, "limits", "name", self)
        self.grid.setAccessibleName(tr("Limits"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.naturals = NaturalsModel(self)
        self.natural_grid = Grid(session.theme, session.settings, "naturals", "name", self)
        self.natural_grid.setAccessibleName(tr("Naturals and what is known of them"))
        self.natural_grid.enter_edits = False
        self.natural_grid.show_model(self.naturals)
        self.card = QWidget(self)
        self.title = label("", "heading", wrap=True)
        self.from_where = label("", "quiet", wrap=True)
        self.told = label("", wrap=True)
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.told.setAccessibleDescription(tr("What is said of this limit"))
        self.edit = QPushButton(tr("Change it…"), self)
        self.remove = QPushButton(tr("Take it out"), self)
        self.form = LimitForm(session, self)
        self.composition = CompositionSheet(session, self)
        self.side = QStackedWidget(self)
        for part in (self.card, self.form, self.composition):
            self.side.addWidget(part)
        self._lay_out()
        self.commands = (
            self._action(tr("Add a limit…"), self.add, "Ctrl+N"), self._action(tr("Change the limit…"), self.change, "F2"),
            self._action(tr("What a natural holds…"), self.compose, "Ctrl+Return"),
        )  # fmt: skip
        self._connect()

    def _action(self, text: str, slot: Callable[[], Any], keys: str) -> QAction:
        action = QAction(text, self)
        action.setShortcut(QKeySequence(keys))
        action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.triggered.connect(lambda _=False: slot())
        self.addAction(action)
        return action

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        row = FieldRow(self._session.theme, ((self.category_field, 260), (self.strength_field, 110)))
        row.removeWidget(self.strength_field.remark)
        row.addWidget(self.strength_field.remark, 2, 0, 1, 3)  # from the left edge on: beside its field it would need two lines
        row.addWidget(self.new, 0, 2, Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignLeft)
        self.category_field.setMinimumWidth(self._session.theme.px(200))
        tables = Panes(
            self._session.theme, self._session.settings, "limits tables", (self.grid, self.natural_grid), (300, 200), upright=True
        )
        left = QWidget(self)
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(8)
        column.addLayout(row)
        column.addWidget(self.empty)
        column.addWidget(tables, 1)
        for button in (self.edit, self.remove):
            buttons.addWidget(button)
        buttons.addStretch(1)
        card = QVBoxLayout(self.card)
        card.setContentsMargins(8, 0, 0, 0)
        card.setSpacing(8)
        for part in (self.title, self.from_where, self.told):
            card.addWidget(part)
        card.addLayout(buttons)
        card.addStretch(1)
        self.split = Panes(self._session.theme, self._session.settings, "limits panes", (left, self.side), (700, 500), grows=0)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(16, 8, 16, 8)
        whole.setSpacing(8)
        whole.addWidget(self.split, 1)
        whole.addWidget(label(CAUTION, "caption", wrap=True))

    def _connect(self) -> None:
        self.category.activated.connect(lambda _: self._keep_category())
        line = self.category.lineEdit()
        if line is not None:
            line.editingFinished.connect(self._keep_category)
        self.strength.textEdited.connect(lambda _: self._show())
        self.new.clicked.connect(lambda _=False: self.add())
        self.edit.clicked.connect(lambda _=False: self.change())
        self.remove.clicked.connect(lambda _=False: self._remove())
        self.grid.entered.connect(lambda _: self.change())
        self.grid.removal_asked.connect(lambda _: self._remove())
        self.natural_grid.entered.connect(lambda _: self.compose())
        self.natural_grid.doubleClicked.connect(lambda _: self.compose())
        self.form.left.connect(self._on_form_left)
        self.composition.left.connect(self._on_composition_left)
        self._compared.changed.connect(self._refresh_or_note)
        self._session.changed.connect(self._on_session_changed)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return self.commands

    def take_focus(self) -> None:
        """The focus to the limits."""
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    # showing ----------------------------------------------------------------------------------------------------------

    @property
    def project(self) -> Project | None:
        """The project of the compared versions."""
        versions = self._compared.versions
        return self._session.book.get(Project, versions[0].project) if versions else self._session.project

    def refresh(self) -> None:
        """Reads the project's category and strength, and works everything out anew."""
        self._is_stale = False
        project = self.project
        category = "" if project is None else project.category
        names = list(dict.fromkeys(filter(None, (category, *categories(self._session.book)))))
        self.category.blockSignals(True)
        self.category.clear()
        self.category.addItems(names)
        self.category.setEditText(category)
        self.category.blockSignals(False)
        if not self.strength.isModified():
            usual = project.strength if project is not None and project.strength is not None else USUAL_STRENGTH
            self.strength.setText(figures.parts(float(f"{usual * 100:.12g}")))
        self._show()

    def _show(self) -> None:
        versions = self._compared.versions
        self.strength_field.say("")
        try:
            strength = parse_strength(self.strength.text())
            self.stand = standing(self._session.book, versions, self.category.currentText(), strength) if versions else None
        except Refused as fault:
            self.strength_field.say(wording.sentences(fault.findings))
            return
        rows = [] if self.stand is None else list(self.stand.rows)
        self.empty.setVisible(not rows)
        self.grid.setVisible(bool(rows))
        if [column.head for column in self.model.columns] != [column.head for column in LimitsModel(versions).columns]:
            self.model = LimitsModel(versions, self)
            self.grid.show_model(self.model)
            self.grid.selectionModel().currentRowChanged.connect(lambda index, _: self._on_row_chosen(index.row()))
        self.model.show_rows(rows)
        self.naturals.show_rows([] if self.stand is None else naturals(self.stand))
        self._choose_row()

    def _choose_row(self) -> None:
        """The row that was chosen stays so; else the worst of the last version."""
        rows = self.model.rows
        place = next((at for at, row in enumerate(rows) if row.key == self._row_key), None)
        if place is None and rows:
            place = max(range(len(rows)), key=lambda at: rows[at].states[-1].ratio)
        if place is not None:
            self._row_key = rows[place].key
            self.grid.go_to(self.model.index(place, 0))
        self._show_card()

    def go_to(self, limit: int) -> None:
        """Chooses a limit."""
        self._row_key = limit
        self._choose_row()

    @property
    def row(self) -> LimitRow | None:
        """The chosen limit."""
        return next((row for row in self.model.rows if row.key == self._row_key), None)

    def _show_card(self) -> None:
        """What is said of the chosen limit; a form or a composition that is open stays open over it."""
        row, stand = self.row, self.stand
        has_limit = row is not None and row.limit is not None
        self.edit.setVisible(has_limit)
        self.remove.setVisible(has_limit)
        if row is None or stand is None:
            for part in (self.title, self.from_where, self.told):
                part.setText("")
            return
        self.title.setText(row.name)
        limit = row.limit
        if limit is not None:
            dated = "" if limit.dated_on is None else figures.day(limit.dated_on)
            said = (
                tr("at most {share} of the product", share=figures.percent_text(limit.share_max)),
                limit.category or tr("every product"), limit.cas, limit.source or tr("no source given"), dated, limit.remark,
            )  # fmt: skip
            self.from_where.setText(" · ".join(filter(None, said)))
        else:
            self.from_where.setText(tr("The parts of each limit together are at most 1."))
        lines = []
        for place, version in enumerate(stand.versions):
            lines.append(f"{version.code}: {row.text(place)}")
            lines += [f"   {sentence}" for sentence in told(stand, place, row)]
        self.told.setText("\n".join(lines))

    # doing ------------------------------------------------------------------------------------------------------------

    def add(self) -> None:
        """A new limit for the category shown."""
        self.side.setCurrentWidget(self.form)
        self.form.start(None, self.category.currentText().strip())

    def change(self) -> None:
        """The chosen limit, changed."""
        row = self.row
        if row is not None and row.limit is not None:
            self.side.setCurrentWidget(self.form)
            self.form.start(row.limit)

    def _remove(self) -> None:
        """Takes the chosen limit off the lists; undo brings it back."""
        row = self.row
        if row is not None and row.limit is not None:
            today = self._session.book.now().date()
            self._session.edit(tr("limit on {name} taken out", name=row.name), replace(row.limit, retired_on=today))

    def compose(self) -> None:
        """What the chosen natural holds."""
        index = self.natural_grid.currentIndex()
        place = index.row() if index.isValid() else 0
        if self.naturals.rowCount():
            self.side.setCurrentWidget(self.composition)
            self.composition.start(self.naturals.row(place).key)

    def _keep_category(self) -> None:
        project, text = self.project, " ".join(self.category.currentText().split())
        if project is not None and text != project.category:
            self._session.edit(tr("category of {code}", code=project.code), replace(project, category=text))
        self._show()

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_form_left(self) -> None:
        if self.form.kept is not None:
            self._row_key, self.form.kept = self.form.kept, None
        self.side.setCurrentWidget(self.card)
        self._show()
        self.take_focus()

    def _on_composition_left(self) -> None:
        self.side.setCurrentWidget(self.card)
        self.natural_grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_row_chosen(self, place: int) -> None:
        if 0 <= place < len(self.model.rows) and self.model.row(place).key != self._row_key:
            self._row_key = self.model.row(place).key
            self._show_card()

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(Limit, Constituent, Material, Version, Project):
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

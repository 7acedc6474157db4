# SPDX-License-Identifier: MIT
"""Series: one line at several doses, or two liquids from one to the other, made as versions, weighed and smelled together."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QComboBox, QLineEdit, QPushButton, QVBoxLayout, QWidget

from db import Change
from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.compared import MOST, Compared
from desktop.models.series import (
    NeedsModel,
    Series,
    SeriesModel,
    StepsModel,
    codes_after,
    line_name,
    need_rows,
    reason_for,
    series_of,
    step_rows,
    stocks,
)
from desktop.paper import Document, ask_and_keep, ask_and_print, file_name, head_part, notes_part, pdf_of, plain_table, put_whole
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.field import Field
from desktop.widgets.flow import Flow
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from desktop.widgets.panes import Panes
from perfumery import Bottle, Line, Making, Material, Move, Project, Refused, Shelf, Version, parse_number
from perfumery.findings import refuse
from perfumery.ladders import EVEN, GEOMETRIC, Step, dose_series, doses, ladder

DOSES, LADDER = "doses", "ladder"
EMPTY = tr("A series is made of the version on the Bench. Write one there first.")
NO_SERIES = tr("No series was made in this project yet.")
USUAL_STEPS, USUAL_AMOUNT_G = 5, 1.0


class SeriesView(QWidget):
    """`compare_asked(keys)`, `asked(version)` to open one on the Bench, `dip_asked(bottles)` to dip its vials in one sitting."""

    asked = Signal(object)
    compare_asked = Signal(object)
    dip_asked = Signal(object)

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self._shelf = Shelf()
        self._offered = ""
        self._ends: list[tuple[str, Line]] = []
        self.steps: tuple[Step, ...] = ()
        self.kind = Chips({DOSES: tr("doses"), LADDER: tr("ladder")}, tr("series"), self)
        self.line, self.other, self.spacing = QComboBox(self), QComboBox(self), QComboBox(self)
        for spacing, shown in ((GEOMETRIC, tr("equal ratios")), (EVEN, tr("even steps"))):
            self.spacing.addItem(shown, spacing)
        self.first, self.last, self.number, self.amount = (QLineEdit(self) for _ in range(4))
        self.line_field = Field(tr("line"), self.line, self)
        self.other_field = Field(tr("to"), self.other, self)
        self.first_field = Field(tr("from, parts"), self.first, self)
        self.last_field = Field(tr("to, parts"), self.last, self)
        self.number_field = Field(tr("steps"), self.number, self)
        self.spacing_field = Field(tr("in"), self.spacing, self)
        self.amount_field = Field(tr("of each, g"), self.amount, self)
        self._typed = (self.first_field, self.last_field, self.number_field, self.amount_field)
        self.told = label("", "quiet", wrap=True)
        self.wrong = label("", "wrong", wrap=True)
        self.model, self.needs, self.made = StepsModel(self), NeedsModel(self), SeriesModel(self)
        self.grid = self._grid(self.model, "series steps", "weights", tr("Steps of the series"), {"label": 300})
        self.need_grid = self._grid(self.needs, "series needs", "name", tr("What the series takes"))
        self.made_grid = self._grid(self.made, "series", "what", tr("Series made before"))
        self.none_made = label(NO_SERIES, "quiet", wrap=True)
        self.make_button = QPushButton(tr("Make these versions"), self)
        self.make_button.setProperty("role", "primary")
        self.save_button = QPushButton(tr("Weights and labels…"), self)
        self.print_button = QPushButton(tr("Print them…"), self)
        self.compare_button = QPushButton(tr("Put side by side"), self)
        self.dip_button = QPushButton(tr("Dip them in one sitting"), self)
        self.open_button = QPushButton(tr("Open the first on the Bench"), self)
        self._lay_out()
        self.make_action = self._action(tr("Make the series as versions"), self.make, "Ctrl+Return")
        self.save_action = self._action(tr("Weights and labels of the series…"), self.save, "Ctrl+S")
        self.print_action = self._action(tr("Print weights and labels of the series…"), self.print_out, "Ctrl+P")
        self._connect()

    def _grid(self, model: Any, view: str, elastic: str, name: str, roomy: Mapping[str, int] | None = None) -> Grid:
        grid = Grid(self._session.theme, self._session.settings, view, elastic, self, roomy=roomy)
        grid.setAccessibleName(name)
        grid.enter_edits = False
        grid.show_model(model)
        return grid

    def _action(self, text: str, slot: Callable[[], Any], keys: str) -> QAction:
        action = QAction(text, self)
        action.setShortcut(QKeySequence(keys))
        action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.triggered.connect(lambda _=False: slot())
        self.addAction(action)
        return action

    def _lay_out(self) -> None:
        px = self._session.theme.px
        row, buttons, further = Flow(spacing=12), Flow(), Flow()
        for field, width in ((self.line_field, 190), (self.other_field, 190), (self.spacing_field, 120)):
            field.setMinimumWidth(px(width))
        for box in (self.line, self.other):
            # a stock is told from another of the same material by its end
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        for edit in (self.first, self.last, self.number, self.amount):
            edit.setMaximumWidth(px(64))
        for field in (self.line_field, self.other_field, self.first_field, self.last_field, self.number_field, self.spacing_field,
                      self.amount_field):  # fmt: skip
            row.addWidget(field)
        for button in (self.make_button, self.save_button, self.print_button):
            buttons.addWidget(button)
        for button in (self.dip_button, self.compare_button, self.open_button):
            further.addWidget(button)
        plan, before = QWidget(self), QWidget(self)
        tables = Panes(
            self._session.theme, self._session.settings, "series tables", (self.grid, self.need_grid), (260, 200), upright=True
        )
        column = QVBoxLayout(plan)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(8)
        column.addWidget(self.kind)
        column.addLayout(row)
        # in the place of what is told, as wide as the pane: a wrong field moves nothing
        for part in (self.told, self.wrong, *(field.remark for field in self._typed)):
            column.addWidget(part)
        column.addWidget(tables, 1)
        column.addLayout(buttons)
        second = QVBoxLayout(before)
        second.setContentsMargins(8, 0, 0, 0)
        second.setSpacing(8)
        second.addWidget(label(tr("Series made before"), "heading"))
        second.addWidget(self.none_made)
        second.addWidget(self.made_grid, 1)
        second.addStretch(0)
        second.addLayout(further)
        self.split = Panes(self._session.theme, self._session.settings, "series panes", (plan, before), (740, 460), grows=0)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(16, 8, 16, 8)
        whole.addWidget(self.split)

    def _connect(self) -> None:
        self.kind.chosen.connect(lambda _: self._plan())
        for box in (self.line, self.other, self.spacing):
            box.currentIndexChanged.connect(lambda _: self._plan())
        for edit in (self.first, self.last, self.number, self.amount):
            edit.textEdited.connect(lambda _: self._plan())
            edit.returnPressed.connect(lambda: self.grid.setFocus(Qt.FocusReason.ShortcutFocusReason))
        self.make_button.clicked.connect(lambda _=False: self.make())
        self.save_button.clicked.connect(lambda _=False: self.save())
        self.print_button.clicked.connect(lambda _=False: self.print_out())
        self.compare_button.clicked.connect(lambda _=False: self._compare())
        self.dip_button.clicked.connect(lambda _=False: self._dip())
        self.open_button.clicked.connect(lambda _=False: self._open())
        self.made_grid.entered.connect(lambda _: self._compare())
        self.made_grid.selectionModel().currentRowChanged.connect(lambda *_: self._update_buttons())
        self._session.changed.connect(self._on_session_changed)
        self._session.chosen.connect(self._refresh_or_note)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return (self.make_action, self.save_action, self.print_action)

    def take_focus(self) -> None:
        """The focus to the line that is to differ."""
        self.line.setFocus(Qt.FocusReason.OtherFocusReason)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Offers the lines of the version on screen, and the series made before."""
        self._is_stale = False
        version = self._session.version
        self._offer(version)
        self._part_ends()
        if not self.number.text():
            self.number.setText(str(USUAL_STEPS))
            self.amount.setText(figures.parts(USUAL_AMOUNT_G))
        self._plan()
        project = self._session.project_key
        self.made.show_rows([] if project is None else series_of(self._session.book, project))
        self.none_made.setVisible(not self.made.rowCount())
        self.made_grid.setVisible(bool(self.made.rowCount()))
        if self.made.rowCount() and not self.made_grid.currentIndex().isValid():
            self.made_grid.go_to(self.made.index(0, 0))
        self._update_buttons()

    def _part_ends(self) -> None:
        """Two ends that differ, where there are two."""
        if self.other.currentIndex() == self.line.currentIndex() and self.other.count() > 1:
            self.other.blockSignals(True)
            self.other.setCurrentIndex((self.line.currentIndex() + 1) % self.other.count())
            self.other.blockSignals(False)

    def _offer(self, version: Version | None) -> None:
        """The lines of the version for doses; for a ladder whatever stands on the shelf as well."""
        self._offered = self.kind.name
        book = self._session.book
        lines = () if version is None else version.lines
        shelf = Shelf() if version is None else book.shelf(version)
        own = [(line_name(line, shelf), place) for place, line in enumerate(lines) if not line.fill_up]
        self._ends = stocks(book, version) if self.kind.name == LADDER else []
        choices = [(name, at) for at, (name, _) in enumerate(self._ends)] if self._ends else own
        for box in (self.line, self.other):
            kept = box.currentText()
            box.blockSignals(True)
            box.clear()
            for name, at in choices:
                box.addItem(name, at)
            box.setCurrentIndex(max(box.findText(kept), 0))
            box.blockSignals(False)

    @property
    def amount_g(self) -> float:
        """g of every step, as it was read last."""
        return parse_number(self.amount.text().casefold().removesuffix("g").strip())

    def _plan(self) -> None:
        """Works the steps out of what is chosen; what cannot be is said, and nothing can be made of it."""
        is_doses = self.kind.name == DOSES
        self.other_field.setVisible(not is_doses)
        for field in (self.first_field, self.last_field, self.spacing_field):
            field.setVisible(is_doses)
        for field in self._typed:
            field.say("")
        self.wrong.setText("")
        self.steps = ()
        version = self._session.version
        if self._offered != self.kind.name:
            self._offer(version)
            self._part_ends()
        if version is None or not self.line.count():
            self.told.setText(EMPTY)
        else:
            try:
                self.steps = self._doses(version) if is_doses else self._ladder(version)
            except Refused as fault:
                if fault.findings:
                    self.wrong.setText(wording.sentences(fault.findings))
        is_wrong = bool(self.wrong.text())
        self.wrong.setVisible(is_wrong)
        self.told.setVisible(not is_wrong and not any(field.is_wrong for field in self._typed))
        self._show_steps()

    def _read(self, field: Field, parse: Callable[[str], Any]) -> Any:
        assert isinstance(field.editor, QLineEdit)
        try:
            return parse(field.editor.text())
        except Refused as fault:
            field.say(wording.sentences(fault.findings))
            raise Refused() from fault

    def _whole(self, text: str) -> int:
        value = parse_number(text)
        return int(value) if value == int(value) else -1

    def _doses(self, version: Version) -> tuple[Step, ...]:
        place = self.line.currentData()
        standing = version.lines[place].parts
        if not self.first.isModified() and not self.last.isModified():
            self.first.setText(figures.parts(float(f"{standing / 2:.3g}")))
            self.last.setText(figures.parts(float(f"{standing * 2:.3g}")))
        number = self._read(self.number_field, self._whole)
        first, last = self._read(self.first_field, parse_number), self._read(self.last_field, parse_number)
        self._read(self.amount_field, lambda _: _positive(self.amount_g))
        found = doses(first, last, number, self.spacing.currentData())
        return dose_series(version, place, found)

    def _ladder(self, version: Version) -> tuple[Step, ...]:
        number = self._read(self.number_field, self._whole)
        self._read(self.amount_field, lambda _: _positive(self.amount_g))
        a, b = (self._ends[box.currentData()][1] for box in (self.line, self.other))
        return ladder(a, b, number)

    def _show_steps(self) -> None:
        book, version = self._session.book, self._session.version
        self._shelf = book.shelf(*(Version(project=0, code="-", lines=step.lines) for step in self.steps[:1]))
        place = self.line.currentData() if self.kind.name == DOSES else None
        code = "" if version is None or self.kind.name != DOSES else version.code
        rows = step_rows(self.steps, self._shelf, self.amount_g, place, code) if self.steps else []
        self.model.show_rows(rows)
        self.needs.show_rows(need_rows(book, self.steps, self._shelf, self.amount_g) if self.steps else [])
        if self.steps and version is not None:
            if place is None:
                self.told.setText(tr("Versions of their own, two lines each."))
            elif any(line.fill_up for line in version.lines):
                self.told.setText(tr("Children of {code}; its fill-up line gives way.", code=version.code))
            else:
                self.told.setText(tr("Children of {code}; the other lines stay.", code=version.code))
        of_steps = (self.make_button, self.save_button, self.print_button, self.make_action, self.save_action, self.print_action)
        for one in of_steps:
            one.setEnabled(bool(self.steps))

    @property
    def what(self) -> str:
        """What the series is of."""
        first = self.line.currentText()
        return first if self.kind.name == DOSES else f"{first} : {self.other.currentText()}"

    # doing ------------------------------------------------------------------------------------------------------------

    def make(self) -> None:
        """Puts every step as a version, all of them one undo step."""
        version, book = self._session.version, self._session.book
        project = self._session.project
        if not self.steps or version is None or project is None or project.key is None:
            return
        number = 1 + max((one.number for one in series_of(book, project.key)), default=0)
        codes = codes_after(book.next_code(Version, f"{project.code}-", project=project.key), len(self.steps))
        is_doses = self.kind.name == DOSES
        values = [
            Version(
                project.key, code, step.lines, parent=version.key if is_doses else None,
                reason=reason_for(f"{step.name} parts" if is_doses else step.name, self.what, number),
                total=version.total if is_doses else sum(line.parts for line in step.lines),
            )
            for code, step in zip(codes, self.steps, strict=True)
        ]  # fmt: skip
        if self._session.edit(tr("series {number} of {liquid}", number=number, liquid=self.what), *values) is not None:
            said = tr(
                "Series {number} is made, {first} to {last}. They are weighed on Weigh.",
                number=number, first=codes[0], last=codes[-1],
            )  # fmt: skip
            self._session.said.emit(said, "done")
            self.made_grid.go_to(self.made.index(0, 0))

    def save(self) -> None:
        """Keeps the weights and labels of the planned series as a PDF."""
        if self.steps:
            what = self.line.currentText()
            if self.kind.name == LADDER:
                what = tr("{first} to {last}", first=what, last=self.other.currentText())
            ask_and_keep(
                self, self._session, tr("Save weights and labels"), file_name(tr("Series"), what, ending=""),
                [(".pdf", lambda path: put_whole(path, pdf_of(self.document)))],
            )  # fmt: skip

    def print_out(self) -> None:
        """Prints the weights and labels of the planned series."""
        if self.steps:
            ask_and_print(self, self._session, self.document)

    @property
    def document(self) -> Document:
        """The planned series on paper: what is weighed for each step, its label, and what all take together."""
        title = tr("Series of {liquid}", liquid=self.what)
        rows = [(row.name, row.weights, row.label) for row in self.model.rows]
        taken = [(row.name, figures.mass(row.need_g), row.bottle, row.state) for row in self.needs.rows]
        mass = figures.mass_text(self.amount_g)
        about = tr_count(len(self.steps), "{n} step of {mass} each", "{n} steps of {mass} each", mass=mass)
        step_heads = [(tr("step"), "14%", ""), (tr("to weigh"), "", ""), (tr("label"), "34%", "")]
        taken_heads = [(tr("takes"), "", ""), ("g", "12%", "right"), (tr("from"), "14%", ""), ("", "26%", "")]
        parts = (
            head_part(title, about), plain_table(step_heads, rows), plain_table(taken_heads, taken, tr("What it takes")),
            notes_part([(tr("cautions"), tr("Gloves and goggles on, air moving, no flame. Not a safety assessment."))]),
        )
        return Document(title, title, parts)

    @property
    def series(self) -> Series | None:
        """The chosen series of those made before."""
        index = self.made_grid.currentIndex()
        return self.made.row(index.row()) if index.isValid() and index.row() < self.made.rowCount() else None

    def _update_buttons(self) -> None:
        series = self.series
        for button in (self.compare_button, self.open_button):
            button.setEnabled(series is not None)
        self.dip_button.setEnabled(series is not None and len(series.vials) > 1)
        self.dip_button.setToolTip("" if self.dip_button.isEnabled() else tr("Weigh at least two of them first"))

    def _compare(self) -> None:
        if self.series is not None:
            self.compare_asked.emit(_spread(self.series.versions, MOST))

    def _dip(self) -> None:
        series = self.series
        if series is not None:
            self.dip_asked.emit(tuple(series.vials[key] for key in series.versions if key in series.vials))

    def _open(self) -> None:
        series = self.series
        version = None if series is None else self._session.book.get(Version, series.versions[0])
        if version is not None:
            self.asked.emit(version)

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(Version, Material, Project, Bottle, Move, Making):
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


def _positive(value: float) -> float:
    if not value > 0:
        raise refuse("mass-not-positive", mass_g=value)
    return value


def _spread(keys: tuple[int, ...], most: int) -> tuple[int, ...]:
    """At most so many of them, both ends among them."""
    if len(keys) <= most:
        return keys
    return tuple(keys[round(at * (len(keys) - 1) / (most - 1))] for at in range(most))

# SPDX-License-Identifier: MIT
"""Could I make it again today? Line by line the bottle then and now, what differs in words, and the proof that is offered."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence, QShowEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from db import Change
from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.again import AgainModel, AgainRow, row_of, rows_of
from desktop.models.again_words import PROOF_G, Proof, headline, in_figures, proof, told_of
from desktop.models.compared import Compared
from desktop.pages.masses import mass_of
from desktop.session import Session
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from perfumery import Bottle, Contents, Habit, Making, Material, Move, Project, Reading, Refused, Sitting, Strip, Version
from perfumery.again import AgainToday

EMPTY = tr("Choose a version on the Bench: whether it can be made again today is told here.")
NO_REMAKE = tr("Weigh it again first: a test takes two vials")
_SHOWN = (Version, Bottle, Contents, Habit, Making, Material, Move, Project, Reading, Sitting, Strip)


class AgainView(QWidget):
    """Follows the version on screen until `go_to` shows another. `asked(value)` for a bottle on the Shelf,
    `weighing_asked(version, g, {line: bottle})` to weigh it again, `test_asked(kept vial, remake)` to plan a triangle test."""

    asked = Signal(object)
    weighing_asked = Signal(int, float, object)
    test_asked = Signal(int, int)

    def __init__(self, session: Session, compared: Compared, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self._version: int | None = None
        self._unfolded = False
        self._carriers: dict[int, str] = {}
        self.found: AgainToday | None = None
        self.proven = Proof("")
        self.title = label("", "title")
        self.amount = QLineEdit(self)
        self.amount.setMaximumWidth(session.theme.px(110))
        self.amount_field = Field(tr("amount, g"), self.amount, self, reserve=True)
        self.headline = label("", "heading", wrap=True)
        self.headline.setAccessibleDescription(tr("Could I make it again today"))
        self.figures = label("", "quiet", wrap=True)
        self.model = AgainModel(self)
        self.grid = Grid(session.theme, session.settings, "again", "said", self, roomy={"then": 300, "today": 180, "stock": 160})
        self.grid.setAccessibleName(tr("Line by line, then and today"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.line_told = label("", wrap=True)
        self.line_told.setAccessibleDescription(tr("The chosen line"))
        self.proof = label("", "quiet", wrap=True)
        for part in (self.headline, self.figures, self.line_told, self.proof):
            part.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.weigh, self.weigh_all, self.test = (QPushButton(self) for _ in range(3))
        self.weigh.setProperty("role", "primary")
        self.weigh.setToolTip("Ctrl+Enter")
        self._lay_out()
        self.weigh_action, self.weigh_all_action, self.test_action, self.fold_action, self.save_action, *_ = self._commands = [
            self._command(*row) for row in (
                (tr("Weigh a little again"), "Ctrl+Return", self._on_weigh_asked),
                (tr("Weigh the whole amount again"), "Ctrl+Shift+Return", self._on_weigh_all_asked),
                (tr("Plan a triangle test against the kept vial"), "Ctrl+T", self._on_test_asked),
                (tr("Show or fold the lines as before"), "Ctrl+E", self.toggle_fold),
                (tr("Save the answer…"), "Ctrl+S", self.save),
                (tr("Print the answer…"), "Ctrl+P", self.print_out),
                (tr("Copy the answer"), "", self.copy),
            )
        ]  # fmt: skip
        self._connect()

    def _lay_out(self) -> None:
        head, buttons = QGridLayout(), QHBoxLayout()
        head.setColumnStretch(0, 1)
        head.setVerticalSpacing(2)
        for at, part in enumerate((self.title, self.amount_field)):
            head.addWidget(part, 0, at, Qt.AlignmentFlag.AlignTop)
        # as wide as the page, in a line that is kept free for it
        self.amount_field.remark.setAlignment(Qt.AlignmentFlag.AlignRight)
        head.addWidget(self.amount_field.remark, 1, 0, 1, 2)
        buttons.setSpacing(12)
        for button in (self.weigh, self.weigh_all, self.test):
            button.setAutoDefault(False)
            buttons.addWidget(button)
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

    def _command(self, text: str, keys: str, slot: Callable[[], object]) -> QAction:
        made = QAction(text, self, shortcut=QKeySequence(keys))
        made.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        made.triggered.connect(lambda _=False: slot())
        self.addAction(made)
        return made

    def _connect(self) -> None:
        session = self._session
        self.amount.textEdited.connect(lambda _: self._show())
        self.amount.returnPressed.connect(self.take_focus)
        self.grid.selectionModel().currentRowChanged.connect(lambda *_: self._tell_line())
        self.grid.entered.connect(self._open)
        self.grid.doubleClicked.connect(lambda index: self._open(index.row()))
        self.grid.clicked.connect(lambda index: self._on_row_toggled(index.row()))
        self.grid.toggle_asked.connect(self._on_row_toggled)
        for button, slot in (
            (self.weigh, self._on_weigh_asked), (self.weigh_all, self._on_weigh_all_asked), (self.test, self._on_test_asked),
        ):  # fmt: skip
            button.clicked.connect(lambda _=False, slot=slot: slot())
        clicked_by_enter(self.weigh, self.weigh_all, self.test)
        session.changed.connect(self._on_session_changed)
        session.chosen.connect(self._on_session_chosen)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return tuple(self._commands)

    def take_focus(self) -> None:
        """The focus to the lines."""
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def go_to(self, version: int) -> None:
        """Asks of this version."""
        self._begin_with(version)
        self.refresh()

    # showing ----------------------------------------------------------------------------------------------------------

    def _begin_with(self, version: int | None) -> None:
        """Another version: what was typed or chosen for the last one is no answer for it."""
        self._version = version
        self.amount.setModified(False)
        self.model.show_rows(())

    def refresh(self) -> None:
        """Begins with the amount of the version's project, where no other was typed."""
        self._is_stale = False
        self._carriers = {row.key: row.carrier_name or row.short for row in self._session.book.material_rows()}
        version = self._shown_version()
        project = None if version is None else self._session.book.get(Project, version.project)
        if project is not None and not self.amount.isModified():
            self.amount.setText(figures.parts(project.amount_g))
        self._show()

    def _shown_version(self) -> Version | None:
        return self._session.book.get(Version, self._version or self._session.version_key or 0)

    def _show(self) -> None:
        version, book = self._shown_version(), self._session.book
        has_one = version is not None
        for part in (self.amount_field, self.headline, self.figures, self.grid, self.line_told, self.proof, self.weigh,
                     self.test):  # fmt: skip
            part.setVisible(has_one)
        self.amount_field.say("")
        self.found = None
        if version is None or version.key is None:
            self.title.setText(EMPTY)
            self._show_buttons()
            return
        self.title.setText(tr("{code}: could I make it again today?", code=version.code))
        try:
            self.found = found = book.again_today(version.key, mass_of(self.amount.text()))
        except Refused as fault:
            self.amount_field.say(wording.sentences(fault.findings))
            self._show_buttons()
            return
        self.headline.setText(headline(found))
        self.figures.setText(in_figures(found, book.currency))
        self.proven = proof(found, book.now())
        self.proof.setText(self.proven.text)
        self._show_rows()
        self._show_buttons()

    def _show_rows(self) -> None:
        if self.found is None:
            return
        self.model.show_rows(rows_of(self.found, self._carriers, unfolded=self._unfolded))
        if self.model.rowCount() and not self.grid.currentIndex().isValid():
            self.grid.go_to(self.model.index(0, 0))
        self._tell_line()

    def _show_buttons(self) -> None:
        found = self.found
        can = found is not None and bool(found.lines)
        can_test = self.proven.remake is not None and found is not None
        self.weigh.setText(self._weigh_text(self._little_g))
        self.weigh_all.setText("" if found is None else self._weigh_text(found.amount_g))
        self.weigh_all.setVisible(can and found is not None and found.amount_g != self._little_g)
        kept = self.proven.kept
        if kept is None:
            self.test.setText(tr("Plan a triangle test"))
        else:
            self.test.setText(tr("Plan a triangle test against {code}", code=kept.bottle.code))
        self.test.setToolTip("Ctrl+T" if can_test else NO_REMAKE)
        self.test.setEnabled(can_test)
        self.weigh.setEnabled(can)
        for action in self._commands:
            action.setEnabled(can)
        self.test_action.setEnabled(can_test)

    def _weigh_text(self, amount_g: float) -> str:
        mass = figures.mass_text(amount_g)
        was_weighed = self.found is not None and self.found.trial is not None
        return tr("Weigh {mass} again", mass=mass) if was_weighed else tr("Weigh {mass}", mass=mass)

    @property
    def _little_g(self) -> float:
        """What the first button weighs: enough for the proof where there is a vial to hold it against, else the amount."""
        if self.found is None or self.proven.kept is None or self.proven.remake is not None:
            return PROOF_G if self.found is None else self.found.amount_g
        return min(PROOF_G, self.found.amount_g)

    def _row(self, place: int) -> AgainRow | None:
        return self.model.row(place) if 0 <= place < self.model.rowCount() else None

    def _tell_line(self) -> None:
        """All that is said of the chosen line, which its row may cut."""
        row, found = self._row(self.grid.currentIndex().row()), self.found
        if row is None or row.line is None or found is None:
            self.line_told.setText("")
        else:
            self.line_told.setText(told_of(row.line, self._session.book.currency, is_compared=found.trial is not None))

    def toggle_fold(self) -> None:
        """Shows the lines that are as before, or folds them into one row."""
        self._unfolded = not self._unfolded
        self._show_rows()

    # doing ------------------------------------------------------------------------------------------------------------

    def _ask_weighing(self, amount_g: float) -> None:
        if self.found is not None and self.found.version.key is not None:
            self.weighing_asked.emit(self.found.version.key, amount_g, self.found.bottles)

    def _on_weigh_asked(self) -> None:
        self._ask_weighing(self._little_g)

    def _on_weigh_all_asked(self) -> None:
        if self.found is not None:
            self._ask_weighing(self.found.amount_g)

    def _on_test_asked(self) -> None:
        kept, remake = self.proven.kept, self.proven.remake
        if kept is not None and remake is not None:
            self.test_asked.emit(kept.bottle.key, remake.bottle.key)

    def _on_row_toggled(self, place: int) -> None:
        row = self._row(place)
        if row is not None and row.line is None:
            self.toggle_fold()

    def _open(self, place: int) -> None:
        row = self._row(place)
        if row is None or row.line is None:
            self._on_row_toggled(place)
        elif row.line.today is not None:
            self.asked.emit(row.line.today)

    def _told(self) -> tuple[str, str, list[AgainRow], list[tuple[str, str]]]:
        """What is kept or copied: the title, the headline, every line, and what else was said."""
        assert self.found is not None
        is_compared = self.found.trial is not None
        rows = [row_of(line, self._carriers, is_compared=is_compared) for line in self.found.lines]
        day = figures.day(self._session.book.now())
        mass = figures.mass_text(self.found.amount_g)
        title = tr("{code}, {mass}, made again on {day}", code=self.found.version.code, mass=mass, day=day)
        notes = [(tr("on hand"), self.figures.text()), (tr("proof"), self.proof.text())]
        return title, self.headline.text(), sorted(rows, key=lambda row: row.is_identical), notes

    def save(self) -> None:
        """Keeps the answer as a PDF."""
        from desktop.pages.compare.again_paper import document_of
        from desktop.paper import ask_and_keep, file_name, pdf_of, put_whole

        if self.found is not None:
            document = document_of(*self._told())
            ask_and_keep(
                self, self._session, tr("Save the answer"), file_name(tr("Again"), self.found.version.code, ending=""),
                [(".pdf", lambda path: put_whole(path, pdf_of(document)))],
            )  # fmt: skip

    def print_out(self) -> None:
        """Prints the answer."""
        from desktop.pages.compare.again_paper import document_of
        from desktop.paper import ask_and_print

        if self.found is not None:
            ask_and_print(self, self._session, document_of(*self._told()))

    def copy(self) -> None:
        """Puts the whole answer on the clipboard; Ctrl+C takes the rows that are selected."""
        from desktop.pages.compare.again_paper import text_of

        if self.found is not None:
            QGuiApplication.clipboard().setText(text_of(*self._told()))
            count = len(self.found.lines)
            self._session.said.emit(tr_count(count, "{n} line on the clipboard.", "{n} lines on the clipboard."), "done")

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(*_SHOWN):
            self._refresh_or_note()

    def _on_session_chosen(self) -> None:
        self._begin_with(None)
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

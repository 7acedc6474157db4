# SPDX-License-Identifier: MIT
"""Blind tests: planned, answered set by set, evaluated, revealed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QKeySequence, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from db import Change
from desktop.columns import Column
from desktop.language import tr
from desktop.models.blind_tests import LETTERS, BlindLine, BlindTestsModel, lines_of, sample_name, samples_named, told, why
from desktop.models.shown import METHODS
from desktop.models.table import TableModel
from desktop.pages.smell.answering import RIGHT, WRONG, Answering
from desktop.pages.smell.plan_sheet import PlanSheet
from desktop.session import Session
from desktop.widgets.enter import clicked_by_enter
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from desktop.widgets.panes import Panes
from perfumery import Answer, BlindTest, Bottle, Version
from perfumery.blind import is_right, served
from perfumery.smelled import RANKING

LIST_WIDTH = 400
EMPTY = tr(
    "A blind test says whether a difference can be smelled at all: papers under codes, an answer for each set, and how likely "
    "mere guessing does as well. Plan one between two vials."
)
FOR_ANOTHER = tr(
    "For whoever prepares the papers: the codes of every set with what goes on them. Copy it or write it down now; it is hidden "
    "for good when the first answer is kept."
)


@dataclass(frozen=True, slots=True)
class SetLine:
    """One set after the reveal: what was served, what was answered, whether that was right."""

    place: int
    sets: str
    chosen: str
    right: bool | None
    note: str


SET_COLUMNS: tuple[Column[SetLine], ...] = (
    Column("place", tr("set"), lambda line: str(line.place + 1), 40, right=True),
    Column("served", tr("served"), lambda line: line.sets, 260, tip=tr("each code with the letter of the sample on its paper")),
    Column("chosen", tr("answer"), lambda line: line.chosen, 120),
    Column("right", "", lambda line: "" if line.right is None else RIGHT if line.right else WRONG, 70),
    Column("note", tr("note"), lambda line: line.note, 160),
)


class SetsModel(TableModel[SetLine]):
    """Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(SET_COLUMNS, parent)

    def identity(self, row: SetLine) -> int:
        """The place of the set."""
        return row.place


class BlindTestsView(QWidget):
    """Tests at the left; at the right a plan, the set to be answered, or what came out."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_stale = True
        self._chosen: int | None = None
        self._stopped: set[int] = set()
        self.model, self.sets = BlindTestsModel(self), SetsModel(self)
        self.list = Grid(session.theme, session.settings, "blind tests", "result", self)
        self.list.setAccessibleName(tr("Blind tests"))
        self.set_list = Grid(session.theme, session.settings, "sets", "note", self)
        self.set_list.setAccessibleName(tr("Sets and answers"))
        for grid, model in ((self.list, self.model), (self.set_list, self.sets)):
            grid.enter_edits = False
            grid.show_model(model)
        self.new = QPushButton(tr("Plan a test…"), self)
        self.new.setToolTip("Ctrl+N")
        self.plan_sheet = PlanSheet(session, self)
        self.answering = Answering(session, self)
        self.title = label("", "heading")
        self.named = label("", "quiet", wrap=True)
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setTextFormat(Qt.TextFormat.PlainText)
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.go_on = QPushButton(tr("Go on answering"), self)
        self.reveal_button = QPushButton(tr("Reveal"), self)
        self.reveal_button.setToolTip(tr("Which code was which; no answer is taken any more"))
        self.serving_told = label(FOR_ANOTHER, "quiet", wrap=True)
        self.serving = QLabel(self)
        self.serving.setTextFormat(Qt.TextFormat.PlainText)
        self.serving.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.serving.setAccessibleName(tr("Serving sheet"))
        self.begin_button = QPushButton(tr("It is prepared: hide this and begin"), self)
        self.begin_button.setProperty("role", "primary")
        self._lay_out()
        self.new_action = self._action(tr("Plan a blind test…"), self.plan, "Ctrl+N")
        self.reveal_action = self._action(tr("Reveal the blind test"), self.reveal)
        self._connect()

    def _action(self, text: str, slot: Any, keys: str = "") -> QAction:
        action = QAction(text, self)
        if keys:
            action.setShortcut(QKeySequence(keys))
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.triggered.connect(lambda _=False: slot())
        self.addAction(action)
        return action

    def _lay_out(self) -> None:
        left = QWidget(self)
        column = QVBoxLayout(left)
        column.setContentsMargins(16, 8, 8, 8)
        column.setSpacing(6)
        column.addWidget(self.new, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.list, 1)
        self.blank, self.result_part, self.serving_part = QWidget(self), QWidget(self), QWidget(self)
        column = QVBoxLayout(self.blank)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(label(EMPTY, "quiet", wrap=True))
        column.addStretch(1)
        buttons = QHBoxLayout()
        buttons.setSpacing(12)
        for button in (self.go_on, self.reveal_button):
            button.setAutoDefault(False)
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self.result_part)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        for part in (self.title, self.named, self.told):
            column.addWidget(part)
        column.addLayout(buttons)
        column.addWidget(self.set_list, 1)
        column.addStretch(0)
        column = QVBoxLayout(self.serving_part)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        for part in (self.serving_told, self.serving):
            column.addWidget(part)
        column.addWidget(self.begin_button, 0, Qt.AlignmentFlag.AlignLeft)
        column.addStretch(1)
        self.stack = QStackedWidget(self)
        for part in (self.blank, self.plan_sheet, self.serving_part, self.answering, self.result_part):
            self.stack.addWidget(part)
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(16, 8, 16, 8)
        column.addWidget(self.stack)
        split = Panes(self._session.theme, self._session.settings, "tests panes", (left, right), (LIST_WIDTH, 900), grows=1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(split)

    def _connect(self) -> None:
        session = self._session
        for button, slot in (
            (self.new, self.plan), (self.go_on, self._on_go_on_clicked), (self.reveal_button, self.reveal),
            (self.begin_button, self._on_begin_clicked),
        ):  # fmt: skip
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        clicked_by_enter(self.new, self.go_on, self.reveal_button, self.begin_button)
        self.list.selectionModel().currentRowChanged.connect(self._on_list_chosen)
        self.list.entered.connect(lambda _: self._take_part())
        self.plan_sheet.planned.connect(self._on_planned)
        self.plan_sheet.left.connect(self._on_plan_left)
        self.answering.ended.connect(self._on_answering_ended)
        session.changed.connect(self._on_session_changed)
        session.theme.changed.connect(self._refresh_or_note)

    # what the page asks -----------------------------------------------------------------------------------------------

    def actions(self) -> tuple[QAction, ...]:  # type: ignore[override]
        """What stands in the menu."""
        return (self.new_action, self.reveal_action)

    def take_focus(self) -> None:
        """The focus to the answer that is asked for, else to the list, else to where a test is planned."""
        if self.stack.currentWidget() is self.answering:
            self.answering.line.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            (self.list if self.model.rowCount() else self.new).setFocus(Qt.FocusReason.OtherFocusReason)

    def go_to(self, value: BlindTest) -> None:
        """Shows a test."""
        self.refresh()
        self.choose(value.key)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads the tests anew; a set that is being answered stays."""
        self._is_stale = False
        self.model.show_rows(lines_of(self._session.book))
        keys = [line.test.key for line in self.model.rows]
        if self._chosen not in keys:
            self._chosen = keys[0] if keys else None
        self._mark_chosen()
        if self.stack.currentWidget() in (self.blank, self.result_part):
            self._show()

    def choose(self, test: int | None) -> None:
        """Shows one test: what is still to be answered, or what came out."""
        self._chosen = test
        self._mark_chosen()
        self._show()

    def _mark_chosen(self) -> None:
        place = next((at for at, line in enumerate(self.model.rows) if line.test.key == self._chosen), None)
        if place is not None and self.list.currentIndex().row() != place:
            self.list.selectionModel().blockSignals(True)
            self.list.selectRow(place)
            self.list.selectionModel().blockSignals(False)

    @property
    def line(self) -> BlindLine | None:
        """The chosen test."""
        return next((line for line in self.model.rows if line.test.key == self._chosen), None)

    def _show(self) -> None:
        line, book = self.line, self._session.book
        self.reveal_action.setEnabled(line is not None and line.test.revealed_at is None and line.answered > 0)
        if line is None or line.test.key is None:
            self.stack.setCurrentWidget(self.blank)
            return
        test = line.test
        assert test.key is not None
        following = book.tests.next_set(test.key)
        is_open = test.revealed_at is None and following is not None
        if is_open and test.key not in self._stopped:
            if line.answered == 0 and not test.shuffled:
                self._show_serving(test)
            else:
                self.answering.open(book.get(BlindTest, test.key) or test, following or 0)
                self.stack.setCurrentWidget(self.answering)
            return
        self._show_result(line)

    def _show_serving(self, test: BlindTest) -> None:
        assert test.key is not None
        book = self._session.book
        names = {letter: sample_name(book, key) for letter, key in zip(LETTERS, test.samples, strict=False)}
        rows = []
        for place, one in enumerate(book.tests.serving(test.key), 1):
            told_of = "   ".join(f"{code} {names[letter]}" for code, letter in served(one))
            rows.append(f"{place:>3}.   {told_of}")
        self.serving.setText("\n".join(rows))
        self.stack.setCurrentWidget(self.serving_part)

    def _show_result(self, line: BlindLine) -> None:
        test, book = line.test, self._session.book
        assert test.key is not None
        self.serving.clear()
        result = book.tests.result(test.key)
        self.title.setText(f"{test.code} {test.remark or test.question or METHODS[test.method]}")
        answered = tr("{answered} of {sets} sets answered", answered=line.answered, sets=len(test.sets))
        self.named.setText(f"{METHODS[test.method]}: {samples_named(book, test)}; {answered}")
        self.told.setText("" if result is None else "\n".join(told(book, test, result)))
        self.told.setToolTip("" if result is None else why(result))
        is_open = test.revealed_at is None
        self.go_on.setVisible(is_open and book.tests.next_set(test.key) is not None)
        self.reveal_button.setVisible(is_open)
        self.sets.show_rows([] if is_open else self._set_lines(test))
        self.set_list.setVisible(not is_open)
        self.stack.setCurrentWidget(self.result_part)

    def _set_lines(self, test: BlindTest) -> list[SetLine]:
        assert test.key is not None
        answers = self._session.book.tests.answers(test.key)
        rows = []
        for place, one in enumerate(test.sets):
            answer = answers.get(place)
            right = None if answer is None else answer.right
            if answer is not None and right is None and test.method != RANKING:
                right = is_right(test.method, one, answer.chosen)
            shown = "  ".join(f"{code} {letter}" for code, letter in served(one))
            chosen, note = ("", "") if answer is None else (answer.chosen, answer.note)
            rows.append(SetLine(place, shown, chosen, right, note))
        return rows

    # what is done -----------------------------------------------------------------------------------------------------

    def plan(self) -> None:
        """A new test."""
        self.plan_these(())

    def plan_these(self, samples: tuple[int, ...]) -> None:
        """A new test; of these bottles, where there are any, a triangle."""
        self.stack.setCurrentWidget(self.plan_sheet)
        self.plan_sheet.open(samples)

    def reveal(self) -> None:
        """The key comes back, and no answer is taken any more."""
        line = self.line
        if line is None or line.test.key is None or not self.reveal_action.isEnabled():
            return
        if self._session.attempt(self._session.book.tests.reveal, line.test.key) is not None:
            self.refresh()
            self._show()
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def _take_part(self) -> None:
        if self.stack.currentWidget() is self.answering:
            self.answering.line.setFocus(Qt.FocusReason.OtherFocusReason)

    # slots ------------------------------------------------------------------------------------------------------------

    def _on_list_chosen(self) -> None:
        place = self.list.currentIndex().row()
        if 0 <= place < self.model.rowCount() and self.model.row(place).test.key != self._chosen:
            self.choose(self.model.row(place).test.key)

    def _on_planned(self, key: int) -> None:
        self._chosen = key
        self.stack.setCurrentWidget(self.blank)
        self.refresh()
        self._show()
        if self.stack.currentWidget() is self.serving_part:
            self.begin_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_plan_left(self) -> None:
        self.stack.setCurrentWidget(self.blank)
        self._show()
        self.take_focus()

    def _on_begin_clicked(self) -> None:
        line = self.line
        self.serving.clear()
        if line is not None and line.test.key is not None:
            self.answering.open(line.test, 0)
            self.stack.setCurrentWidget(self.answering)
            self.take_focus()

    def _on_go_on_clicked(self) -> None:
        self._stopped.discard(self._chosen or 0)
        self._show()
        self.take_focus()

    def _on_answering_ended(self) -> None:
        if self._chosen is not None:
            self._stopped.add(self._chosen)
        self.refresh()
        self._show()
        self.reveal_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_session_changed(self, change: Change) -> None:
        if change.touches(BlindTest, Answer, Bottle, Version):
            self._refresh_or_note()

    def _refresh_or_note(self, *_: object) -> None:
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()
            self._show()

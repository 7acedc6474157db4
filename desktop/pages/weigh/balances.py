# SPDX-License-Identifier: MIT
"""The balances of this bench: what each can tell apart, how it was found, what its checks showed, what a formula needs."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from db import Change
from desktop import figures
from desktop.language import tr, tr_count
from desktop.models.balances import BalanceRow, BalancesModel, ChecksModel, balance_rows, check_rows, is_test
from desktop.pages.shelf.sheet import Sheet
from desktop.pages.weigh.balance_cable import CableSheet
from desktop.pages.weigh.balance_check import CheckSheet
from desktop.pages.weigh.balance_compare import CompareView
from desktop.pages.weigh.balance_form import BalanceForm
from desktop.pages.weigh.balance_test import RepeatSheet
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from perfumery import Balance, BenchCheck, Bottle, Material, Project, Version

EMPTY = tr("Balances stand here, each with what it can tell apart, its repeatability and its checks. Enter yours.")
NO_CHECKS = tr("None yet. A check weight read once shows drift; one object ten times gives the repeatability.")
BEGUN = tr("Something begun at the right is not kept yet. Keep it or leave it first.")
CHECK, TEST, COMPARE, FORM, CABLE = "check", "repeatability", "formula", "edit", "cable"
CHIPS = {CHECK: tr("check"), TEST: tr("repeatability"), COMPARE: tr("for a formula"), FORM: tr("edit"), CABLE: tr("by cable")}
WORDS = {
    CHECK: tr("Check of the day"), TEST: tr("Test of repeatability"), COMPARE: tr("Balances for a formula"),
    FORM: tr("Edit the balance"), CABLE: tr("Read it by cable"),
}  # fmt: skip
KEYS = {CHECK: "Ctrl+D", TEST: "Ctrl+R", COMPARE: "Ctrl+T", FORM: "Ctrl+E", CABLE: "Ctrl+I"}
# (of the whole, of this side) in px: the side grows along with the window
_NARROW, _WIDE = (1150, 514), (1832, 640)
ROWS_AT_LEAST, ROWS_AT_MOST = 3, 7


class BalancesSheet(QWidget):
    """The list above, the checks of the chosen balance below it at the left, what is done with it at the right. `left` when
    it is put away."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._stale = True
        self._chosen: int | None = None
        self.title = label(tr("Balances"), "title")
        self.told = label("", "quiet", wrap=True)
        self.new = QPushButton(tr("New balance"), self)
        self.new.setToolTip("Ctrl+N")
        self.leave = QPushButton(tr("Back to weighing"), self)
        self.leave.setToolTip("Esc")
        self.model = BalancesModel(self)
        self.grid = Grid(session.theme, session.settings, "balances", "last", self, roomy={"name": 320, "s": 240})
        self.grid.setAccessibleName(tr("Balances"))
        self.grid.enter_edits = False
        self.grid.setSelectionMode(Grid.SelectionMode.SingleSelection)
        self.grid.show_model(self.model)
        self.log_head = label("", "heading")
        self.log_told = label("", "quiet", wrap=True)
        self.log_model = ChecksModel(self)
        self.log = Grid(session.theme, session.settings, "balance checks", "remark", self)
        self.log.setAccessibleName(tr("Checks of this balance"))
        self.log.enter_edits = False
        self.log.show_model(self.log_model)
        self.chips = Chips(CHIPS, tr("what is done"), self)
        for name, keys in KEYS.items():
            self.chips.buttons[name].setToolTip(f"{WORDS[name]} ({keys})")
        self.check = CheckSheet(session)
        self.test = RepeatSheet(session)
        self.compare = CompareView(session)
        self.form = BalanceForm(session)
        self.cable = CableSheet(session)
        self.parts: dict[str, Any] = {CHECK: self.check, TEST: self.test, COMPARE: self.compare, FORM: self.form,
                                      CABLE: self.cable}  # fmt: skip
        self.side = QStackedWidget(self)
        for part in self.parts.values():
            self.side.addWidget(part)
        self._build()
        self._build_actions()
        self._connect()

    def _build(self) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(16, 10, 16, 0)
        head.setSpacing(10)
        head.addWidget(self.title)
        head.addWidget(self.told, 1)
        head.addWidget(self.new)
        head.addWidget(self.leave)
        self._lists = QWidget(self)
        over = QVBoxLayout(self._lists)
        over.setContentsMargins(16, 0, 16, 0)
        over.addWidget(self.grid)
        self._logs = QWidget(self)
        log = QVBoxLayout(self._logs)
        log.setContentsMargins(16, 10, 12, 12)
        log.setSpacing(6)
        for part in (self.log_head, self.log_told):
            log.addWidget(part)
        log.addWidget(self.log, 1)
        log.addStretch()  # takes the room where there is no check yet, so that head and sentence stand together at the top
        self._right = QWidget(self)
        right = QVBoxLayout(self._right)
        right.setContentsMargins(0, 8, 0, 0)
        right.setSpacing(0)
        chips = QHBoxLayout()
        chips.setContentsMargins(12, 0, 12, 0)
        chips.addWidget(self.chips)
        chips.addStretch(1)
        right.addLayout(chips)
        right.addWidget(self.side, 1)
        self._below = QHBoxLayout()
        self._below.setContentsMargins(0, 0, 0, 0)
        self._below.setSpacing(0)
        self._below.addWidget(self._logs, 1)
        self._below.addWidget(self._right)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self._lists)
        column.addLayout(self._below, 1)

    def _build_actions(self) -> None:
        rows: list[tuple[str, str, Any]] = [(tr("New balance"), "Ctrl+N", self.enter_new)]
        rows += [(WORDS[name], keys, lambda name=name: self.show_part(name)) for name, keys in KEYS.items()]
        for text, keys, handler in rows:
            action = QAction(text, self)
            action.setShortcut(QKeySequence(keys))
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            action.triggered.connect(lambda _=False, handler=handler: handler())
            self.addAction(action)

    def _connect(self) -> None:
        self.new.clicked.connect(self.enter_new)
        self.leave.clicked.connect(self.left)
        self.grid.selectionModel().currentRowChanged.connect(self._on_row_changed)
        self.grid.entered.connect(lambda _: self.show_part(self.chips.name))
        self.grid.doubleClicked.connect(lambda _: self.show_part(FORM))
        self.grid.given_up.connect(lambda _: self.left.emit())
        self.log.entered.connect(self._on_log_entered)
        self.log.doubleClicked.connect(lambda index: self._on_log_entered(index.row()))
        self.log.given_up.connect(lambda _: self.take_focus())
        self.chips.chosen.connect(self.show_part)
        self.form.kept.connect(self._on_form_kept)
        for part in self.parts.values():
            part.left.connect(self._on_part_left)
        self._session.changed.connect(self._on_session_changed)
        self._session.chosen.connect(self._on_version_chosen)
        self._session.theme.changed.connect(self._fit)

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, chosen: int | None = None) -> None:
        """Reads the balances anew and shows one of them; the cursor into the list, or into the form where there is none."""
        self._chosen = self._chosen if chosen is None else chosen
        self.refresh()
        if not self.is_begun:
            self._show_chosen()
        self.take_focus()

    @property
    def row(self) -> BalanceRow | None:
        """The chosen balance."""
        return next((row for row in self.model.rows if row.balance.key == self._chosen), None)

    @property
    def is_begun(self) -> bool:
        """Whether something was typed at the right that is not kept yet."""
        part = self.side.currentWidget()
        return isinstance(part, Sheet) and part.is_begun

    def take_focus(self) -> None:
        """The focus to the list, or to the form of the first balance."""
        if self.model.rowCount():
            self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.form.take_focus()

    def refresh(self) -> None:
        """Reads list and checks anew; what is being typed stays."""
        self._stale = False
        rows = balance_rows(self._session.book)
        self.model.show_rows(rows)
        there = bool(rows)
        for part in (self._lists, self._logs, self.chips, self.new):
            part.setVisible(there)
        self.told.setText("" if there else EMPTY)
        if there:
            keys = [row.balance.key for row in rows]
            if self._chosen not in keys:
                self._chosen = keys[0]
                if not self.is_begun:
                    self._show_chosen()
            place = keys.index(self._chosen)
            if self.grid.currentIndex().row() != place:
                self.grid.go_to(self.model.index(place, 0))
        else:
            self._chosen = None
            if self.side.currentWidget() is not self.form or self.form.balance is not None:
                self._begin_form(None)
        self._show_log()
        self._fit()

    def _show_log(self) -> None:
        row = self.row
        rows = () if row is None else check_rows(self._session.book, row.balance)
        self.log_model.show_rows(rows)
        self.log.setVisible(bool(rows))
        if row is None:
            return
        self.log_head.setText(tr("Checks of {name}", name=row.balance.name))
        if not rows:
            self.log_told.setText(NO_CHECKS)
        else:
            daily = sum(not is_test(one.check) for one in rows)
            tests = len(rows) - daily
            told = [tr_count(daily, "{n} check", "{n} checks")] if daily else []
            told += [tr_count(tests, "{n} test of repeatability", "{n} tests of repeatability")] if tests else []
            there = figures.listed(told)
            self.log_told.setText(tr("{checks}. Enter corrects one; what was kept stays in the book.", checks=there))

    def _show_chosen(self) -> None:
        """Begins what stands at the right for the chosen balance."""
        row = self.row
        if row is None:
            return
        retired = row.balance.retired_on is not None
        for name in (CHECK, TEST, CABLE):
            self.chips.buttons[name].setEnabled(not retired)
        name = self.chips.name
        if retired and name in (CHECK, TEST, CABLE):
            name = FORM
            self.chips.choose(name)
        self.parts[name].start(row.balance)
        self.side.setCurrentWidget(self.parts[name])

    def show_part(self, name: str) -> None:
        """One of the things done with a balance, begun for the chosen one; what was begun before is taken up."""
        row, part = self.row, self.parts[name]
        if row is None or not self.chips.buttons[name].isEnabled():
            self.chips.choose(next(own for own, other in self.parts.items() if other is self.side.currentWidget()))
            return
        self.chips.choose(name)
        if not (isinstance(part, Sheet) and part.is_begun):
            part.start(row.balance)
        self.side.setCurrentWidget(part)
        part.take_focus()

    def enter_new(self) -> None:
        """The form of a new balance."""
        if self.form.is_begun and self.form.balance is not None:
            self._session.said.emit(BEGUN, "note")
        elif not self.form.is_begun:
            self._begin_form(None)
        self.chips.choose(FORM)
        self.side.setCurrentWidget(self.form)
        self.form.take_focus()

    def _begin_form(self, balance: Balance | None) -> None:
        self.form.start(balance)
        self.chips.choose(FORM)
        self.side.setCurrentWidget(self.form)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._fit()
        if self._stale:
            self.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """The list as high as its rows, the right side as wide as the window allows."""
        (narrow, least), (wide, most) = _NARROW, _WIDE
        along = min(max((self.width() - narrow) / (wide - narrow), 0.0), 1.0)
        if self.model.rowCount():
            self._right.setFixedWidth(min(self._session.theme.px(least + (most - least) * along), self.width() * 3 // 5))
        else:
            self._right.setFixedWidth(min(self._session.theme.px(most), max(self.width(), 1)))
        self._below.setAlignment(self._right, Qt.AlignmentFlag(0) if self.model.rowCount() else Qt.AlignmentFlag.AlignLeft)
        rows = min(max(self.model.rowCount(), ROWS_AT_LEAST), ROWS_AT_MOST)
        height = self.grid.horizontalHeader().sizeHint().height() + rows * self.grid.verticalHeader().defaultSectionSize() + 2
        self.grid.setFixedHeight(height)

    # what happens -----------------------------------------------------------------------------------------------------

    def _on_session_changed(self, change: Change) -> None:
        if not self.isVisible():
            self._stale = True
        elif change.touches(Balance, BenchCheck):
            self.refresh()
            if not self.is_begun and self.row is not None:
                self._follow(change)
        if self.compare.isVisible() and change.touches(Balance, Version, Material, Bottle, Project):
            self.compare.refresh()

    def _follow(self, change: Change) -> None:
        """What stands at the right, not begun, is shown of the balance as it is after an undo or a change."""
        part = self.side.currentWidget()
        is_old = part is self.form and self.form.balance is not None
        if change.touches(Balance) and (is_old or part is self.check):
            self._show_chosen()

    def _on_version_chosen(self) -> None:
        if self.compare.isVisible() and self.row is not None:
            self.compare.start(self.row.balance)

    def _on_row_changed(self, current: QModelIndex, before: QModelIndex) -> None:
        if not current.isValid() or current.row() >= self.model.rowCount():
            return
        key = self.model.row(current.row()).balance.key
        if key == self._chosen:
            return
        self._chosen = key
        self._show_log()
        # a form that was begun stays, its title says for which balance
        if not self.is_begun:
            self._show_chosen()

    def _on_log_entered(self, place: int) -> None:
        row = self.log_model.row(place)
        name = TEST if is_test(row.check) else CHECK
        part = self.parts[name]
        self.chips.choose(name)
        if part.is_begun:
            self._session.said.emit(BEGUN, "note")
        else:
            part.start(row.balance, row.check)
        self.side.setCurrentWidget(part)
        part.take_focus()

    def _on_form_kept(self, key: int) -> None:
        self._chosen = key
        self.refresh()

    def _on_part_left(self) -> None:
        if not self.model.rowCount():
            self.form.start(None)
            self.left.emit()
            return
        row = self.row
        part = self.side.currentWidget()
        if row is not None and isinstance(part, Sheet):
            part.start(row.balance)  # type: ignore[attr-defined]
        self._show_chosen()
        self.take_focus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return
        super().keyPressEvent(event)

# SPDX-License-Identifier: MIT
"""A blind test planned: which method, which samples, how many sets it takes to see the difference that is looked for."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QFrame, QGridLayout, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import wording
from desktop.language import tr
from desktop.models.blind_tests import LETTERS, WITH_QUESTION, asks, effort_told, sample_name
from desktop.models.pouring import Pourable, pourable
from desktop.models.shown import METHODS as METHOD_NAMES
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from desktop.widgets.labels import label
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Refused, parse_number, trials
from perfumery.methods import METHODS, PAIRED, PAIRED_ONE_SIDED, TRIANGLE
from perfumery.smelled import RANKING

RISKS = {"1 %": 0.01, "5 %": 0.05, "10 %": 0.10}
OTHERS, MYSELF = "others", "myself"
WHO = {OTHERS: tr("somebody else prepares"), MYSELF: tr("I prepare and shuffle")}
FEWEST = 2
SHARE, POWER, SETS = "50", "80", "12"


class PlanSheet(QFrame):
    """`planned(test key)`; `left` when it is put away."""

    planned = Signal(int)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.samples: list[int] = []
        self.setProperty("role", "inline")
        self.setAccessibleName(tr("Plan a blind test"))
        self.method = QComboBox(self)
        for method, shown in METHOD_NAMES.items():
            self.method.addItem(shown, method)
        self.method_field = Field(tr("method"), self.method, self)
        self.asks = label("", "quiet", wrap=True)
        self.sample = TypeAhead(session.theme, lambda text: pourable(session.book, text), self)
        self.sample.setProperty("role", "")
        tip = tr("A bottle by its code, or what is in it; Enter takes it")
        self.sample_field = Field(tr("add a sample"), self.sample, self, tip=tip)
        self.named = label("", "strong", wrap=True)
        self.fewer = QPushButton(tr("Take the last one out"), self)
        self.fewer.setProperty("role", "link")
        self.question = QLineEdit(self)
        self.question_field = Field(tr("quality asked about"), self.question, self, tip=tr("wet stone, sweet, strong …"))
        self.risk = Chips(tuple(RISKS), tr("risk of calling chance a difference"), self)
        self.risk.choose("5 %")
        self.share, self.power, self.count = QLineEdit(SHARE, self), QLineEdit(POWER, self), QLineEdit(SETS, self)
        told = tr("In how many of 100 sets the difference is truly smelled, not guessed; the smaller, the more sets it takes")
        self.share_field = Field(tr("difference to find, told in %"), self.share, self, tip=told)
        told = tr("How often the test finds such a difference; 80 is usual")
        self.power_field = Field(tr("chance to find it, %"), self.power, self, tip=told)
        told = tr("A set is one question: papers under codes, and one answer")
        self.count_field = Field(tr("sets to answer"), self.count, self, tip=told)
        self.effort = label("", wrap=True)
        self.who = Chips(WHO, tr("who prepares"), self)
        self.plan = QPushButton(tr("Plan it"), self)
        self.plan.setProperty("role", "primary")
        self.plan.setToolTip("Ctrl+Enter")
        self.leave_button = QPushButton(tr("Leave"), self)
        self.leave_button.setProperty("role", "link")
        self.wrong = label("", "wrong", wrap=True)
        self._lay_out()
        self.method.currentTextChanged.connect(lambda _: self._show())
        self.sample.picked.connect(self._on_sample_picked)
        self.risk.chosen.connect(lambda _: self._reckon())
        for line in (self.share, self.power):
            line.textEdited.connect(lambda _: self._reckon())
        for button, slot in ((self.plan, self.confirm), (self.leave_button, self.left), (self.fewer, self._on_fewer_clicked)):
            button.setAutoDefault(False)
            button.clicked.connect(slot)

    def _lay_out(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        top = Qt.AlignmentFlag.AlignTop
        grid.addWidget(self.method_field, 0, 0, top)
        grid.addWidget(self.asks, 0, 1, 1, 3, Qt.AlignmentFlag.AlignBottom)
        grid.addWidget(self.sample_field, 1, 0, top)
        grid.addWidget(self.named, 1, 1, 1, 2, Qt.AlignmentFlag.AlignBottom)
        grid.addWidget(self.fewer, 1, 3, Qt.AlignmentFlag.AlignBottom)
        grid.addWidget(self.question_field, 2, 0, 1, 2, top)
        grid.setColumnStretch(2, 1)
        figures = QHBoxLayout()
        figures.setSpacing(12)
        for field in (self.share_field, self.power_field, self.count_field):
            field.setMinimumWidth(self._session.theme.px(170))
            figures.addWidget(field, 0, top)
        figures.addStretch(1)
        buttons = QHBoxLayout()
        buttons.setSpacing(12)
        buttons.addWidget(self.plan)
        buttons.addWidget(self.leave_button)
        buttons.addStretch(1)
        risk = QHBoxLayout()
        risk.addWidget(label(tr("risk of calling chance a difference"), "caption"))
        risk.addWidget(self.risk)
        risk.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 12)
        column.setSpacing(8)
        for layout in (grid, figures, risk):
            column.addLayout(layout)
        for part in (self.effort, self.who, self.wrong):
            column.addWidget(part)
        column.addLayout(buttons)
        column.addStretch(1)

    # showing ----------------------------------------------------------------------------------------------------------

    def open(self, samples: tuple[int, ...] = ()) -> None:
        """An empty plan, or that of a triangle test of these bottles."""
        self.samples = list(samples)
        if samples:
            self.method.setCurrentIndex(self.method.findData(TRIANGLE))
        empty(self.sample, self.question)
        self._show()
        self.show()
        (self.plan if samples else self.method).setFocus(Qt.FocusReason.OtherFocusReason)

    @property
    def _method(self) -> str:
        method: str = self.method.currentData()
        return method

    @property
    def _most(self) -> int:
        return 8 if self._method == RANKING else 2

    def _show(self) -> None:
        method = self._method
        self.wrong.setText("")
        self.asks.setText(asks(method))
        del self.samples[self._most :]
        named = [f"{LETTERS[place]} {sample_name(self._session.book, key)}" for place, key in enumerate(self.samples)]
        self.named.setText(", ".join(named))
        self.fewer.setVisible(bool(named))
        self.sample_field.setEnabled(len(self.samples) < self._most)
        self.question_field.setVisible(method in WITH_QUESTION)
        for field in (self.share_field, self.power_field):
            field.setVisible(method != RANKING)
        self._reckon()

    def _reckon(self) -> None:
        """How many sets it takes; what cannot be is said beside its field."""
        method = self._method
        for field in (self.share_field, self.power_field):
            field.say("")
        self.effort.setText("")
        if method == RANKING:
            return
        try:
            share, chance = (parse_number(line.text().strip().rstrip("%")) / 100 for line in (self.share, self.power))
            alpha, block = RISKS[self.risk.name], len(METHODS[method].orders)
            found = trials(method, discriminators=share, alpha=alpha, power=chance, block=block)
        except Refused as refused:
            code = refused.findings[0].code
            (self.power_field if code == "power-range" else self.share_field).say(wording.sentences(refused.findings))
            return
        papers = 2 if method in (PAIRED, PAIRED_ONE_SIDED) else 3
        self.effort.setText(effort_told(found, papers))
        self.count.setText(str(found.n))

    # what is done -----------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Plans it; what is missing is said beside it."""
        session, method = self._session, self._method
        self.count_field.say("")
        self.sample_field.say("")
        if len(self.samples) < FEWEST:
            self.sample_field.say(tr("Two samples are needed: type a code, and Enter."))
            self.sample.setFocus()
            return
        try:
            count = round(parse_number(self.count.text()))
        except Refused as refused:
            self.count_field.say(wording.sentences(refused.findings))
            self.count.setFocus()
            return
        try:
            test = session.do(
                session.book.tests.plan, method, tuple(self.samples), count, question=self.question.text().strip(),
                alpha=RISKS[self.risk.name], project=session.project_key, shuffled=self.who.name == MYSELF,
            )  # fmt: skip
        except Refused as refused:
            code = refused.findings[0].code
            if code == "answers-range":
                self.count_field.say(wording.sentences(refused.findings))
            elif code in ("same-sample", "serving-range"):
                self.sample_field.say(wording.sentences(refused.findings))
            else:
                self.wrong.setText(wording.sentences(refused.findings))
            return
        if test is not None:
            self.planned.emit(test.key)

    def _on_sample_picked(self, one: Pourable | None) -> None:
        if one is None:
            self.sample_field.say(tr("No bottle on the shelf is called that.") if self.sample.text().strip() else "")
            return
        self.sample_field.say("")
        empty(self.sample)
        self.sample.close_list()
        if one.row.key in self.samples:
            self.sample_field.say(tr("That one is in already."))
            return
        self.samples.append(one.row.key)
        self._show()
        rest = self.question if self.question_field.isVisible() else self.plan
        following = self.sample if len(self.samples) < self._most else rest
        following.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_fewer_clicked(self) -> None:
        self.samples.pop()
        self._show()
        self.sample.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif is_enter and (event.modifiers() & Qt.KeyboardModifier.ControlModifier or self.plan.hasFocus()):
            self.confirm()
        elif is_enter:
            self.focusNextChild()
        else:
            super().keyPressEvent(event)



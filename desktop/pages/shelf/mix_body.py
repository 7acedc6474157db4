# SPDX-License-Identifier: MIT
"""One mixture from question to booking: what is wanted, the bottle that is filled, the masses really read."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from PySide6.QtCore import QEvent, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from db import Change
from desktop import figures, wording
from desktop.language import tr
from desktop.models.mix import READABILITY_G, Plan, made_up, truth
from desktop.models.mix_booking import Booking
from desktop.models.mix_words import in_words, said, strength_with_u
from desktop.pages.masses import BalanceBox
from desktop.pages.shelf.mix_ask import Ask
from desktop.pages.shelf.mix_parts import BottleBox, BottlePart
from desktop.pages.shelf.mix_rows import MassRows
from desktop.session import Session
from desktop.widgets.field import Field
from desktop.widgets.labels import label
from perfumery import Balance, Bottle, Finding, Refused

# The fields of a question that hold a figure.
FIGURES = ("amount", "strength")


class MixBody(QWidget):
    """`booked(bottle)` when it stands in the book, `begun(making key)` when it is weighed line by line instead, `left()` on
    Escape, `asked(Lack)` for a bottle that has to be made first."""

    booked = Signal(object)
    begun = Signal(int)
    left = Signal()
    asked = Signal(object)

    def __init__(self, session: Session, ask: Ask, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._plan: Plan | None = None
        self._is_stale = False
        self.ask = ask
        self.booking = Booking(session.book, ask.mixing.known)
        self.title = label(ask.title, "heading", wrap=True)
        self.result = label("", "strong", wrap=True)
        self.holds = label("", "quiet", wrap=True)
        self.bottle = BottlePart(session, brief=ask.brief)
        self.balance = BalanceBox(session)
        self.balance_field = Field(tr("balance"), self.balance)
        self.rows = MassRows(session)
        self.truth = label("", wrap=True)
        self.sentence = label("", "wrong", wrap=True)
        self.book_button = QPushButton(tr("Book it"))
        self.book_button.setProperty("role", "primary")
        self.book_button.setToolTip(tr("Writes bottle, masses and contents into the book (Ctrl+Enter)"))
        self.weigh_button = QPushButton(tr("Weigh it line by line"))
        self.weigh_button.setToolTip(tr("On the Weigh page, one liquid at a time, every figure kept at once (Ctrl+Shift+Enter)"))
        self.leave_button = QPushButton(tr("Leave it"))
        self.leave_button.setToolTip(tr("What was typed waits here (Escape)"))
        self._lay_out()
        self._connect()
        self.balance.refresh()
        self.bottle.propose_vessel(ask.vessels)
        if ask.brief:
            self.bottle.fill(ask.base())
        self.update_plan()
        self._first = ask.typed()

    def _lay_out(self) -> None:
        sheet = QFrame()
        sheet.setProperty("role", "sheet")
        column = QVBoxLayout(sheet)
        column.setContentsMargins(16, 12, 16, 16)
        column.setSpacing(10)
        column.addWidget(self.title)
        column.addWidget(self.ask)
        results = QVBoxLayout()
        results.setSpacing(2)
        results.addWidget(self.result)
        results.addWidget(self.holds)
        column.addLayout(results)
        column.addWidget(_rule())
        column.addWidget(label(tr("Its bottle") if self.ask.brief else tr("The bottle"), "strong"))
        column.addWidget(self.bottle)
        self._read_parts = (_rule(), label(tr("What was read"), "strong"))
        for part in self._read_parts:
            column.addWidget(part)
        column.addWidget(self.balance_field)
        column.addWidget(self.rows)
        column.addStretch(1)
        self._area = QScrollArea(self)
        self._area.setFrameShape(QFrame.Shape.NoFrame)
        self._area.setWidgetResizable(True)
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setWidget(sheet)
        foot = QFrame(self)
        foot.setProperty("role", "sheet")
        below = QVBoxLayout(foot)
        below.setContentsMargins(16, 8, 16, 12)
        below.setSpacing(8)
        buttons = QHBoxLayout()
        buttons.setSpacing(12)
        buttons.addWidget(self.book_button)
        buttons.addWidget(self.weigh_button)
        buttons.addWidget(self.leave_button)
        buttons.addStretch(1)
        below.addWidget(self.truth)
        below.addWidget(self.sentence)
        below.addLayout(buttons)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self._area, 1)
        whole.addWidget(_rule())
        whole.addWidget(foot)

    def _connect(self) -> None:
        self.ask.edited.connect(self.update_plan)
        self.bottle.edited.connect(self._show_checks)
        self.balance.currentIndexChanged.connect(lambda _: self.update_plan())
        self.rows.edited.connect(self._show_truth)
        self.rows.chosen.connect(self.ask.choose)
        self.rows.asked.connect(self.asked)
        self.rows.more.connect(self.book_it)
        self.rows.finished.connect(lambda: self.book_button.setFocus(Qt.FocusReason.TabFocusReason))
        self.book_button.clicked.connect(self.book_it)
        self.leave_button.clicked.connect(self.left)
        self.weigh_button.clicked.connect(self.weigh_it)
        for button in (self.book_button, self.weigh_button, self.leave_button):
            button.setAutoDefault(False)
        for modifier, does in (("Ctrl", self.book_it), ("Ctrl+Shift", self.weigh_it)):
            for key in ("Return", "Enter"):
                shortcut = QShortcut(QKeySequence(f"{modifier}+{key}"), self)
                shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
                shortcut.activated.connect(does)
        self._session.changed.connect(self._on_book_changed)
        self._session.theme.changed.connect(self._dress)
        QApplication.instance().focusChanged.connect(self._on_focus_changed)  # type: ignore[union-attr]
        self._dress()

    # showing ----------------------------------------------------------------------------------------------------------

    @property
    def plan(self) -> Plan | None:
        """What is to be weighed, as far as the fields say it."""
        return self._plan

    @property
    def is_begun(self) -> bool:
        """Whether something was typed into it that is not booked yet."""
        return self.ask.typed() != self._first or self.bottle.is_typed or self.rows.is_begun

    def start(self) -> None:
        """Puts the cursor where typing begins; while nothing was read, on the balance that was chosen last."""
        if not self.rows.is_begun:
            self.balance.refresh()
            self.update_plan()
        first: Any = self.ask.first
        first.setFocus(Qt.FocusReason.OtherFocusReason)
        if hasattr(first, "selectAll"):
            first.selectAll()

    def update_plan(self) -> None:
        """Reckons anew from the fields and shows all that follows from it."""
        self._plan = plan = self.ask.plan()
        self.bottle.propose(**self.ask.proposed())
        self.sentence.setText("")
        self.sentence.hide()
        self.result.setText("" if plan is None else said(plan, self._d))
        holds = {} if plan is None else plan.contents()
        told = in_words(self.ask.mixing.known.material, holds, None if plan is None else plan.subject)
        self.holds.setText(tr("It will hold {told}.", told=told) if told else "")
        for one in (self.result, self.holds):
            one.setVisible(bool(one.text()))
        self._show_checks()
        self._show_truth()

    def _show_checks(self) -> None:
        plan, balance = self._plan, self._balance
        found = [] if plan is None else self.ask.mixing.checks(plan, self.bottle.vessel, balance)
        dissolves = any(one.code == "dissolve-solid" for one in found)
        if dissolves == self.bottle.fields["ready"].isHidden():
            days = self.ask.mixing.known.habits()["dissolve days"]
            self.bottle.show_ready(self._session.book.now().date() + timedelta(days=round(days)) if dissolves else None)
        self.bottle.tell(found)
        rest = [one for one in found if one.code not in ("too-little", "beyond-left") or not self.ask.tell(one)]
        self.rows.show_plan(plan, balance, rest)
        for part in (*self._read_parts, self.balance_field, self.rows):
            part.setVisible(plan is not None)

    def _show_truth(self) -> None:
        plan, reads = self._plan, self.rows.reads()
        self.truth.setVisible(plan is not None)
        if plan is None:
            return
        if reads is None or len(reads) != len(plan.legs) or not all(read > 0 for read in reads):
            self.truth.setText(self._next_sentence(plan))
            return
        found = truth(plan, reads, self._balance)
        total = figures.mass_text(found.total_g, self._d)
        if found.strength is not None:
            strength = strength_with_u(found.strength, found.u)
            self.truth.setText(tr("True strength {strength}; {total} in the bottle.", strength=strength, total=total))
        elif abs(found.total_g - plan.total_g) > 1e-9:
            meant = figures.mass_text(plan.total_g, self._d)
            self.truth.setText(tr("{total} in the bottle, {meant} meant.", total=total, meant=meant))
        else:
            self.truth.setText(tr("{total} in the bottle.", total=total))

    def _next_sentence(self, plan: Plan) -> str:
        """What helps while the masses are read: what the second liquid has to be where the first came out otherwise."""
        first = self.rows.shown[0].value() if self.rows.shown else None
        needed = None if first is None else made_up(plan, first)
        if first is None or needed is None or abs(first - plan.legs[0].target_g) < self._d / 2:
            return tr("What was really read tells how it came out.")
        return tr(
            "With {read} read, {needed} {liquid} would bring it to {strength}.",
            read=figures.mass_text(first, self._d), needed=figures.mass_text(needed, self._d), liquid=plan.legs[1].called,
            strength=figures.strength_text(plan.strength),
        )  # fmt: skip

    @property
    def _d(self) -> float:
        balance = self._balance
        return READABILITY_G if balance is None else balance.d_g

    @property
    def _balance(self) -> Balance | None:
        return self.balance.balance

    # booking ----------------------------------------------------------------------------------------------------------

    def _ready(self) -> tuple[Plan, Bottle] | None:
        """The plan and its bottle; None where something is missing, which has then been said beside it."""
        self.update_plan()
        plan = self._plan
        if plan is None:
            self._show_missing()
            return None
        lacking = next((row for row in self.rows.shown if row.leg is not None and row.leg.source is None), None)
        if lacking is not None:
            self._bring_up(lacking)
            (lacking.box if lacking.link.isHidden() else lacking.link).setFocus(Qt.FocusReason.OtherFocusReason)
            return None
        into = self.bottle.bottle(self.ask.base())
        if into is None:
            self._bring_up(next(field for field in self.bottle.fields.values() if field.is_wrong).editor)
            return None
        return plan, into

    def weigh_it(self) -> None:
        """Begins to weigh it line by line, with nothing read yet."""
        ready = self._ready()
        if ready is None:
            return
        if ready[0].poured:
            self.sentence.setText(tr("What is poured already is typed in here: book it below the figures."))
            self.sentence.show()
            return
        try:
            making = self._session.do(self.booking.begin, *ready, self._balance, settle=self.ask.settle)
        except Refused as refused:
            for finding in refused.findings:
                self._place(finding)
            return
        if making is not None:
            self.begun.emit(making.key)

    def book_it(self) -> None:
        """Writes it into the book; what is refused is said beside what it concerns, and what was typed stays."""
        ready = self._ready()
        reads = None if ready is None else self.rows.check()
        if ready is None or reads is None:
            return
        plan, into = ready
        try:
            made = self._session.do(
                self.booking.book_it, plan, into, reads, self._balance, settle=self.ask.settle,
                more=self.rows.agreed(),
            )  # fmt: skip
        except Refused as refused:
            for finding in refused.findings:
                self._place(finding)
            return
        if made is not None:
            self._tell_made(made)
            self.booked.emit(made)

    def _tell_made(self, made: Bottle) -> None:
        row = self._session.book.bottles.row(made.key or 0)
        named = made.code if not made.label or made.label == made.code else f"{made.code} ({made.label})"
        if row is None or row.left_g is None:
            told = tr("{bottle} is in the book.", bottle=named)
        else:
            told = tr("{bottle} is in the book, {mass}.", bottle=named, mass=figures.mass_text(row.left_g))
        self._session.said.emit(told, "done")

    def _show_missing(self) -> None:
        """Says of the first field that is empty that something is missing there."""
        for name, field in self.ask.fields.items():
            editor: Any = field.editor
            if isinstance(editor, BottleBox) and editor.is_gone:
                self._bring_up(editor)
                return
            if field.isHidden() or not hasattr(editor, "text"):
                continue
            if field.is_wrong or not editor.text().strip():
                if not field.is_wrong:
                    field.say(wording.sentence(Finding("number-empty" if name in FIGURES else "name-empty")))
                self._bring_up(editor)
                return

    def _place(self, finding: Finding) -> None:
        """Says a refusal beside what it concerns: a row of masses, a field of the bottle or of the question, else above the
        button."""
        code = str(finding.data.get("code", ""))
        row = self.rows.row_of(code)
        if finding.code in ("beyond-left", "contents-unknown", "source-itself") and row is not None:
            row.say(wording.sentence(finding))
            self._bring_up(row.read)
            if finding.code == "beyond-left":
                row.offer_more(finding.data["wanted_g"] - finding.data["left_g"])
                self._bring_up(row.correct, focus=False)
            return
        where = {"code-taken": "code", "code-empty": "code", "volume-not-positive": "volume"}.get(finding.code)
        if where is not None:
            self.bottle.fields[where].say(wording.sentence(finding))
            self._bring_up(self.bottle.line(where))
        elif self.ask.place(finding):
            self._bring_up(self.ask.fields[self.ask.field_of(finding) or ""].editor)
        else:
            self.sentence.setText(wording.sentence(finding))
            self.sentence.show()

    def _bring_up(self, widget: QWidget, *, focus: bool = True) -> None:
        if focus:
            widget.setFocus(Qt.FocusReason.OtherFocusReason)
        # what was just said has not its height yet
        QTimer.singleShot(0, self, lambda: self._area.ensureWidgetVisible(widget, 0, 48))

    # slots and keys ---------------------------------------------------------------------------------------------------

    def _on_book_changed(self, change: Change) -> None:
        if not (self.ask.mixing.known.forget(change) or change.touches(Balance)):
            return
        if self.isVisible():
            self.refresh()
        else:
            self._is_stale = True

    def refresh(self) -> None:
        """Looks again at what the book has; what was typed stays."""
        self._is_stale = False
        self.balance.refresh(keep=True)
        try:
            self.ask.refresh()
        except Refused as refused:
            # what it was about is not in the book any more
            self._session.said.emit(wording.sentences(refused.findings), "refused")

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._is_stale:
            self.refresh()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, focused = event.key(), self.focusWidget()
        if key == Qt.Key.Key_Escape:
            self.left.emit()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if isinstance(focused, QPushButton):
                focused.click()
            else:
                self.focusNextChild()
        else:
            super().keyPressEvent(event)

    def _on_focus_changed(self, old: QWidget | None, new: QWidget | None) -> None:
        """The sheet follows the cursor."""
        inside = self._area.widget()
        if new is not None and inside is not None and inside.isAncestorOf(new):
            self._area.ensureWidgetVisible(new, 0, 40)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._dress()

    def _dress(self) -> None:
        """Marks of a choice in our own colours."""
        token = self._session.theme.token
        self.ask.setStyleSheet(
            f"QRadioButton::indicator {{ width: 11px; height: 11px; border: 1px solid {token('quiet')}; border-radius: 6px;"
            f" background: {token('sheet')}; }}"
            f"QRadioButton::indicator:checked {{ width: 5px; height: 5px; border: 4px solid {token('juniper')};"
            f" border-radius: 6px; background: {token('sheet')}; }}"
            f"QRadioButton:focus {{ color: {token('juniper')}; }}"
            f"QRadioButton:disabled {{ color: {token('quiet')}; }}"
        )


def _rule() -> QFrame:
    """A hairline between two parts."""
    line = QFrame()
    line.setFrameShape(QFrame.Shape.HLine)
    line.setFrameShadow(QFrame.Shadow.Plain)
    line.setForegroundRole(line.palette().ColorRole.Mid)
    line.setFixedHeight(1)
    return line

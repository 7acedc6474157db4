# SPDX-License-Identifier: MIT
"""Where the nose leads: a bottle chosen, weighed, smelled, and the next one. It becomes a trial, and a version when asked.

Nothing is in the book before the first figure; from then on every figure stands at once, as at any weighing.
"""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from db import BottleRow
from desktop import figures, wording
from desktop.language import tr
from desktop.models.modes import RUNNING_TOTAL, TARE_EACH
from desktop.models.pouring import Pourable, PouredModel, pourable, poured_rows
from desktop.models.shown import MODES, shown
from desktop.models.weigh import Plan, taken_up, waiting
from desktop.pages.masses import BalanceBox, mass_of
from desktop.pages.weigh.scale_mishaps import GIVEN_UP, HOW_TAKEN_UP, WHY_MORE
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from desktop.widgets.field_row import FieldRow
from desktop.widgets.grid import Grid
from desktop.widgets.type_ahead import TypeAhead
from perfumery import Balance, Bottle, Making, Planned, Refused

WAYS = {mode: MODES[mode] for mode in (TARE_EACH, RUNNING_TOTAL)}
BIG = 28


class FreePour(QWidget):
    """`left` when it is put by; `finished(vial key)` when it was closed."""

    left = Signal()
    finished = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.making: Making | None = None
        self.plan = Plan(())
        self._row: BottleRow | None = None
        self._short: float | None = None
        self.head = QLabel(self)
        self.head.setProperty("role", "quiet")
        self.balance = BalanceBox(session, self)
        self.balance_field = Field(tr("balance"), self.balance)
        self.vial = QLineEdit(self)
        self.vial_field = Field(tr("vial"), self.vial)
        self.tare = QLineEdit(self)
        why_tare = tr("Weighed empty; taken off when it is weighed again later")
        self.tare_field = Field(tr("empty vessel, g"), self.tare, tip=why_tare)
        self.modes = Chips(WAYS, tr("how"), self)
        self.bottle = TypeAhead(session.theme, self._seek, self)
        self.bottle.setProperty("role", "")
        self.bottle.setAccessibleName(tr("Bottle"))
        how = tr("Its code, or a part of what is in it; Enter takes it")
        self.bottle_field = Field(tr("from which bottle"), self.bottle, tip=how)
        self.name, self.where, self.waits = QLabel(self), QLabel(self), QLabel(self)
        self.waits.setProperty("role", "amber")
        self.waits.setWordWrap(True)
        self.figure = QLineEdit(self)
        self.figure.setAccessibleName(tr("What the balance shows, g"))
        self.figure.setPlaceholderText(tr("figure, g"))
        self.figure.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.said = QLabel(self)
        self.said.setWordWrap(True)
        self.more = QPushButton(tr("There was more: book it so"), self)
        self.more.setProperty("role", "link")
        self.more.setToolTip(tr("Sets the book right by name, and accepts the figure"))
        self.accept = QPushButton(tr("Accept"), self)
        self.accept.setProperty("role", "primary")
        self.accept.setToolTip("Enter")
        self.finish = QPushButton(tr("Finish"), self)
        self.finish.setToolTip("Ctrl+Enter")
        self.put_by = QPushButton(tr("Put it by"), self)
        self.put_by.setToolTip(tr("Esc: every accepted figure is kept; it is taken up again from the first view"))
        self.give_up = QPushButton(tr("Give it up"), self)
        self.give_up.setProperty("role", "link")
        self.give_up.setToolTip(tr("What is in the vial goes to waste; the figures stay in the book"))
        self.model = PouredModel(self)
        self.grid = Grid(session.theme, session.settings, "poured", "name", self)
        self.grid.setAccessibleName(tr("What is in the vial"))
        self.grid.enter_edits = False
        self.grid.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.grid.show_model(self.model)
        for button, slot in ((self.accept, self.confirm), (self.finish, self.close_pour), (self.put_by, self.put_away),
                             (self.give_up, self._on_give_up_clicked), (self.more, self._on_more_clicked)):  # fmt: skip
            button.setAutoDefault(False)
            button.clicked.connect(slot)
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            shortcut = QShortcut(QKeySequence(keys), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(self.close_pour)
        self.bottle.picked.connect(self._on_bottle_picked)
        self.figure.returnPressed.connect(self.confirm)
        self.figure.textEdited.connect(lambda _: self._say(""))
        self._build()
        self.restyle()
        session.theme.changed.connect(self.restyle)

    def _build(self) -> None:
        fields = FieldRow(self._session.theme, ((self.balance_field, 230), (self.vial_field, 110), (self.tare_field, 130)))
        keys = QHBoxLayout()
        keys.setSpacing(12)
        for button in (self.accept, self.finish, self.put_by):
            keys.addWidget(button)
        keys.addStretch(1)
        keys.addWidget(self.give_up)
        big = QVBoxLayout()
        big.setContentsMargins(24, 12, 24, 16)
        big.setSpacing(8)
        big.addWidget(self.head)
        big.addLayout(fields)
        big.addWidget(self.modes)
        big.addStretch(1)
        for part in (self.bottle_field, self.name, self.where, self.waits, self.figure, self.said):
            big.addWidget(part)
        big.addWidget(self.more, 0, Qt.AlignmentFlag.AlignLeft)
        big.addStretch(2)
        big.addLayout(keys)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addLayout(big, 3)
        row.addWidget(self.grid, 2)

    def restyle(self) -> None:
        """Takes the sizes from the theme anew: name, place and figure are read from 80 cm."""
        theme = self._session.theme
        self.name.setFont(theme.font(BIG, bold=True))
        self.where.setFont(theme.font(BIG))
        self.bottle.setFont(theme.font(16))
        self.bottle.setMinimumHeight(theme.px(40))
        self.figure.setFont(theme.font(48))
        self.figure.setMaximumWidth(theme.px(420))
        self.figure.setMinimumHeight(theme.px(72))
        for part in (self.said, self.waits):
            part.setFont(theme.font(16))
        for button in (self.accept, self.finish, self.put_by):
            button.setMinimumSize(theme.px(132), theme.px(44))
            button.setFont(theme.font(16))
        for field, width in ((self.balance_field, 230), (self.vial_field, 110), (self.tare_field, 130), (self.bottle_field, 420)):
            field.setMaximumWidth(theme.px(width))

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, making: int | None = None) -> None:
        """A pour that is still to begin, or one taken up where it stands."""
        book = self._session.book
        self.making = None if making is None else book.get(Making, making)
        self.balance.refresh()
        if self.making is None:
            self.vial.setText(book.next_code(Bottle, "V"))
            empty(self.tare)
        self._take_row(None)
        empty(self.bottle)
        self.refresh()
        self.take_focus()

    def refresh(self) -> None:
        """Reads the figures anew."""
        book, making = self._session.book, self.making
        if making is not None and making.key is not None:
            making = self.making = book.get(Making, making.key)
        self.plan = Plan(()) if making is None else taken_up(book, making)
        self.model.show_rows(poured_rows(self.plan.rows))
        for part in (self.balance_field, self.vial_field, self.tare_field, self.modes):
            part.setVisible(making is None)
        self.finish.setEnabled(making is not None and self.plan.in_vessel_g > 0)
        # one whose first figure was refused is in the book too, and must not stay open for ever
        self.give_up.setEnabled(making is not None)
        if making is None:
            self.head.setText(tr("A free pour: nothing is in the book before its first figure."))
            return
        vial = book.get(Bottle, making.into_bottle)
        code = making.code if vial is None else tr("{code} in {vial}", code=making.code, vial=vial.code)
        inside = tr("{mass} in it", mass=figures.mass_text(self.plan.in_vessel_g, self._step()))
        self.head.setText(" · ".join(filter(None, (code, shown(MODES, making.mode), self._balance_name(), inside))))

    def take_focus(self) -> None:
        """The cursor to the bottle, or to the figure of the one chosen."""
        (self.bottle if self._row is None else self.figure).setFocus(Qt.FocusReason.OtherFocusReason)

    def _balance(self) -> Balance | None:
        if self.making is None:
            return self.balance.balance
        return None if self.making.balance is None else self._session.book.get(Balance, self.making.balance)

    def _balance_name(self) -> str:
        balance = self._balance()
        return "" if balance is None else balance.name

    def _step(self) -> float:
        balance = self._balance()
        return 0.001 if balance is None else balance.d_g

    def _seek(self, text: str) -> tuple[Pourable, ...]:
        return pourable(self._session.book, text, None if self.making is None else self.making.into_bottle)

    def _take_row(self, row: BottleRow | None) -> None:
        self._row = row
        for part in (self.name, self.where, self.figure, self.accept):
            part.setVisible(row is not None)
        found = None if row is None else waiting(row.bottle, self._session.book.now().date())
        self.waits.setText("" if found is None else wording.sentence(found))
        self.waits.setVisible(found is not None)
        self._say("")
        empty(self.figure)
        if row is None:
            return
        bottle = row.bottle
        stock = "" if bottle.material is None else figures.stock_text(bottle.strength, row.carrier_name)
        self.name.setText(" ".join(filter(None, (row.what, stock))))
        left = tr("mass not known") if row.left_g is None else tr("{mass} left", mass=figures.mass_text(row.left_g))
        self.where.setText(" · ".join(filter(None, (bottle.code, bottle.place, left))))

    # what is done -----------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Accepts the figure: on disk at once."""
        row = self._row
        if row is None:
            self._say(tr("Choose a bottle first: type its code, or a part of what is in it."))
            self.bottle.setFocus()
            return
        try:
            mass = self._mass()
            if mass is not None:
                self._pour(row, mass)
        except Refused as fault:
            self._say(wording.sentences(fault.findings))
            codes = {finding.code for finding in fault.findings}
            if codes & {"code-taken", "code-empty"}:
                self.vial_field.say(wording.sentences(fault.findings))
                self.vial.setFocus()
            lacking = (f.data["wanted_g"] - f.data["left_g"] for f in fault.findings if f.code == "beyond-left")
            self._short = next(lacking, None)
            self.more.setVisible(self._short is not None)

    def _mass(self) -> float | None:
        shown, inside = mass_of(self.figure.text()), self.plan.in_vessel_g
        if not self._is_running:
            return shown
        if shown <= inside:
            self._say(tr("{mass} are in already; the total cannot be less.", mass=figures.mass_text(inside, self._step())))
            return None
        return round(shown - inside, 9)

    @property
    def _is_running(self) -> bool:
        return (self.modes.name if self.making is None else self.making.mode) == RUNNING_TOTAL

    def _pour(self, row: BottleRow, mass: float) -> None:
        session, weighings = self._session, self._session.book.weighings
        begun = self.making
        if begun is None:
            begun = self._begin(row)
        elif all(planned.bottle != row.key for planned in begun.plan):
            begun = session.do(weighings.pour_from, begun.key, row.key)
        if begun is None or begun.key is None:
            return
        if self.making is None:
            self.making = begun
            self.refresh()
        self.making = begun
        if session.do(weighings.accept, begun.key, row.key, mass) is None:
            return
        self.refresh()
        told = figures.mass_text(mass, self._step())
        self._take_row(None)
        empty(self.bottle)
        self._say(tr("{code}: {mass} is in. Smell, then the next bottle.", code=row.bottle.code, mass=told), "quiet")
        self.bottle.setFocus(Qt.FocusReason.OtherFocusReason)

    def _begin(self, row: BottleRow) -> Any:
        book = self._session.book
        self.vial_field.say("")
        self.tare_field.say("")
        try:
            tare = mass_of(self.tare.text()) if self.tare.text().strip() else None
        except Refused as fault:
            self.tare_field.say(wording.sentences(fault.findings))
            self.tare.setFocus()
            return None
        code, balance = book.next_code(Making, "T-"), self.balance.balance
        into = Bottle(code=self.vial.text().strip(), kind="trial", label=f"{code} free pour", tare_g=tare)
        return self._session.do(
            book.weighings.begin, "trial", into, [Planned(0.0, bottle=row.key)], code=code, mode=self.modes.name,
            balance=None if balance is None else balance.key,
        )  # fmt: skip

    def close_pour(self) -> None:
        """The pour is done: a trial, with what is in it."""
        if self.making is None or self.making.key is None or not self.finish.isEnabled():
            return
        vial = self._session.attempt(self._session.book.weighings.finish, self.making.key)
        if vial is not None:
            inside = figures.mass_text(self.plan.in_vessel_g, self._step())
            told = tr("{code} is poured: {mass} in {vial}.", code=self.making.code, mass=inside, vial=vial.code)
            self._session.said.emit(told, "done")
            self.making = None
            self.finished.emit(vial.key)

    def step_back(self) -> None:
        """What was typed or chosen goes first, one thing a press; with nothing of it the pour is put by."""
        if self.figure.text():
            empty(self.figure)
            self._say("")
        elif self._row is not None or self.bottle.text():
            self._take_row(None)
            empty(self.bottle)
            self.bottle_field.say("")
            self.bottle.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.put_away()

    def put_away(self) -> None:
        """The pour waits, where one was begun; how it is taken up again is said."""
        if self.making is not None:
            waits = tr("{code} waits.", code=self.making.code)
            self._session.said.emit(f"{waits} {HOW_TAKEN_UP}", "note")
        self.left.emit()

    def _on_bottle_picked(self, one: Pourable | None) -> None:
        if one is None:
            self.bottle_field.say(tr("No bottle on the shelf is called that.") if self.bottle.text().strip() else "")
            return
        self.bottle_field.say("")
        self.bottle.setText(one.row.bottle.code)
        self.bottle.close_list()
        self._take_row(one.row)
        self.figure.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_more_clicked(self) -> None:
        """The balance is right: the book is set right by name, and the figure accepted."""
        row = self._row
        if row is None or self._short is None:
            return
        short = round(self._short, 9)
        if self._session.attempt(self._session.book.bottles.correct_mass, row.key, short, WHY_MORE) is not None:
            self.confirm()

    def _on_give_up_clicked(self) -> None:
        if self.making is not None and self.making.key is not None:
            code = self.making.code
            self._session.attempt(self._session.book.weighings.abandon, self.making.key, GIVEN_UP)
            told = tr("{code} is given up; its figures stay in the book, what was in it is waste.", code=code)
            self._session.said.emit(told, "done")
            self.making = None
            self.left.emit()

    def _say(self, text: str, role: str = "wrong") -> None:
        self.more.hide()
        self._short = None
        self.said.setProperty("role", role)
        self.said.style().unpolish(self.said)
        self.said.style().polish(self.said)
        self.said.setText(text)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.step_back()
        else:
            super().keyPressEvent(event)

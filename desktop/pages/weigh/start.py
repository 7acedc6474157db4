# SPDX-License-Identifier: MIT
"""Before the first drop: what is weighed, how much, on which balance, in which order, and what speaks against it."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models import relabelled
from desktop.models.before import LAST, ORDERS, OWN, SUGGESTED, Ways, too_heavy
from desktop.models.before_words import about, missing, reasons, stocks_lacking, summary
from desktop.models.modes import CHOICES
from desktop.models.plan_basis import Basis
from desktop.models.plan_rows import PlanModel, views
from desktop.models.weigh import Plan, plan_of
from desktop.pages.masses import BalanceBox, mass_of
from desktop.pages.weigh.beside import Beside
from desktop.pages.weigh.cut_off import CutOff
from desktop.pages.weigh.plan_grid import PlanGrid
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from desktop.widgets.field_row import FieldRow
from desktop.widgets.flow import Flow
from desktop.widgets.labels import label
from perfumery import Balance, Bottle, Making, Refused

if TYPE_CHECKING:
    from desktop.pages.weigh.sheet_pdf import Intended


class StartSheet(QWidget):
    """`begun(making key)`; `taken_up(making key)` for one that was cut off; `balances_asked`; `typed_asked` for a sheet
    that was weighed on paper; `pour_asked` where the nose leads."""

    begun = Signal(int)
    taken_up = Signal(int)
    balances_asked = Signal()
    typed_asked = Signal()
    pour_asked = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._basis: Basis | None = None
        self._plan: Plan | None = None
        self._amount_g = 0.0
        self._ways = Ways()
        self._shown: tuple[int | None, bool] = (None, False)
        self.title = label("", "title")
        self.told = label("", "quiet", wrap=True)
        self.open_ones = CutOff(session)
        self.amount = QLineEdit(self)
        self.amount_field = Field(tr("amount, g"), self.amount)
        self.balance = BalanceBox(session)
        self.balance.setMinimumContentsLength(20)
        self.balance_field = Field(tr("balance"), self.balance)
        self.vial = QLineEdit(self)
        self.vial_field = Field(tr("vial"), self.vial)
        self.tare = QLineEdit(self)
        why_tare = tr("Weighed empty; taken off when it is weighed again later")
        self.tare_field = Field(tr("empty vessel, g"), self.tare, tip=why_tare)
        self.modes = Chips(CHOICES, tr("how"), self)
        self.orders = Chips(ORDERS, tr("order"), self)
        self.orders.buttons[OWN].setToolTip(tr("Alt+Up and Alt+Down move the current line"))
        self.same_mass = QCheckBox(tr("same mass, though a bottle is off its written strength"), self)
        self.model = PlanModel(self._step, self, before=True)
        self.grid = PlanGrid(session, self.model, self)
        self.beside = Beside(session, self)
        self.wrong = label("", "wrong", wrap=True)
        self.wrong.hide()
        self.begin = QPushButton(tr("Begin weighing"), self)
        self.begin.setProperty("role", "primary")
        self.begin.setToolTip("Ctrl+Enter")
        self.total = label("", wrap=True)
        self.cannot = label("", "amber", wrap=True)
        self.pour, self.balances = QPushButton(tr("Pour freely…"), self), QPushButton(tr("Balances…"), self)
        self.sheet, self.print = QPushButton(tr("Sheet as PDF…"), self), QPushButton(tr("Print the sheet…"), self)
        self.typed = QPushButton(tr("Type in a sheet from paper…"), self)
        self.pour.setToolTip(tr("The nose leads: a bottle chosen, weighed, smelled, and the next one (Ctrl+Shift+P)"))
        for button in (self.pour, self.balances, self.sheet, self.print, self.typed):
            button.setProperty("role", "link")
        self._build()
        self._connect()

    def _build(self) -> None:
        head, middle, foot = (QHBoxLayout() for _ in range(3))
        narrow = ((self.amount_field, 110), (self.balance_field, 230), (self.vial_field, 110), (self.tare_field, 130))
        fields = FieldRow(self._session.theme, narrow)
        ways = Flow(spacing=16)
        head.addWidget(self.title)
        head.addStretch(1)
        head.addWidget(self.pour)
        head.addWidget(self.balances)
        for part in (self.modes, self.orders, self.same_mass):
            ways.addWidget(part)
        middle.setSpacing(16)
        middle.addWidget(self.grid, 1)
        middle.addWidget(self.beside)
        foot.setSpacing(16)
        beside = QVBoxLayout()
        beside.setSpacing(0)
        beside.addWidget(self.cannot)
        beside.addWidget(self.total)
        foot.addWidget(self.begin)
        foot.addLayout(beside, 1)
        for link in (self.sheet, self.print, self.typed):
            foot.addWidget(link)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 12)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.told)
        for layout in (self.open_ones, fields, ways):
            column.addLayout(layout)
        column.addLayout(middle, 1)
        column.addWidget(self.wrong)
        column.addLayout(foot)

    def _connect(self) -> None:
        self.open_ones.asked.connect(self.taken_up)
        self.amount.textEdited.connect(self._show_plan)
        self.tare.textEdited.connect(self._show_plan)
        self.amount.returnPressed.connect(self.confirm)
        self.balance.currentIndexChanged.connect(self._show_plan)
        self.orders.chosen.connect(self._on_order_chosen)
        self.same_mass.toggled.connect(self._show_plan)
        self.grid.selectionModel().currentRowChanged.connect(self._show_row)
        self.grid.entered.connect(lambda _: self.beside.line.take_focus())
        self.grid.doubleClicked.connect(lambda _: self.beside.line.take_focus())
        self.grid.move_asked.connect(self.move_line)
        line, noticed = self.beside.line, self.beside.noticed
        line.bottle_chosen.connect(self._on_bottle_chosen)
        line.accord_chosen.connect(lambda key, way: self._take_ways(self._ways.with_accord((key,), way)))
        line.linked.connect(self._on_linked)
        line.left.connect(self._to_grid)
        noticed.linked.connect(self._on_linked)
        noticed.tolerance_chosen.connect(self._show_plan)
        self.begin.clicked.connect(self.confirm)
        self.pour.clicked.connect(self.pour_asked)
        self.balances.clicked.connect(self.balances_asked)
        self.sheet.clicked.connect(self._on_sheet_clicked)
        self.print.clicked.connect(self._on_print_clicked)
        self.typed.clicked.connect(self.typed_asked)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads the chosen version, the balances and what was cut off anew."""
        session, book = self._session, self._session.book
        version, project = session.version, session.project
        self.balance.refresh()
        self.beside.balances = [balance for balance in book.all(Balance) if balance.retired_on is None]
        self.beside.noticed.refresh()
        self.open_ones.refresh()
        self.title.setText(tr("Weigh") if version is None else tr("Weigh {code}", code=version.code))
        there = version is not None and bool(version.lines)
        for part in (self.amount_field, self.balance_field, self.vial_field, self.tare_field, self.modes, self.orders,
                     self.same_mass, self.grid, self.beside, self.begin, self.total, self.sheet, self.print,
                     self.typed):  # fmt: skip
            part.setVisible(there)
        self._say_cannot("")
        if version is None or not there:
            self._basis = self._plan = None
            for field in (self.amount_field, self.vial_field, self.tare_field):
                field.say("")
            self.told.setText(tr("Choose a version with lines on the Bench; it is weighed here, line by line. Or pour freely."))
            return
        self.told.setText(about(version))
        self.beside.fit(self.width())
        self._basis = Basis(book, version)
        self.model.reasons = reasons(self._basis)
        shown = version.key, bool(self._basis.remembered)
        self.orders.buttons[LAST].setEnabled(shown[1])
        if self._shown[0] != version.key and project is not None:
            self.amount.setText(figures.mass(project.amount_g, 0.001))
            empty(self.tare)
            self.vial.setModified(False)
            self._ways = Ways()
        if self._shown != shown:
            self.orders.choose(LAST if shown[1] else SUGGESTED)
            self._shown = shown
        if not self.vial.isModified():
            # a code that was typed stays
            self.vial.setText(book.next_code(Bottle, "V"))
            self.vial_field.say("")
        self._show_plan()

    def begin_with(self, amount_g: float, bottles: Mapping[int, int]) -> None:
        """Takes an amount, and {line: bottle} where a line is to come from another bottle than is offered first."""
        self.amount.setText(figures.mass(amount_g, 0.001))
        self._take_ways(Ways(chosen=bottles))

    def _step(self) -> float:
        balance = self.balance.balance
        return 0.001 if balance is None else balance.d_g

    def _show_plan(self, *_: object) -> None:
        """Makes the plan anew, and says what was noticed of it."""
        basis = self._basis
        self.amount_field.say("")
        self.wrong.hide()
        if basis is None:
            return
        plan = self._plan = self._made(basis)
        lacking = [] if plan is None else missing(plan)
        self.begin.setEnabled(plan is not None and not lacking)
        if plan is None:
            self._say_cannot(tr("It cannot begin: the amount cannot be read."))
        else:
            cannot = tr("It cannot begin: no bottle holds {stocks}.", stocks=figures.listed(lacking))
            self._say_cannot(cannot if lacking else "")
        for link in (self.sheet, self.print):
            link.setEnabled(plan is not None)
        for part in (self.beside, self.total):
            part.setVisible(plan is not None)
        if plan is None:
            self.model.show_rows(())
            return
        was, balance, tolerance = self.grid.current, self.balance.balance, self.beside.noticed.tolerance
        self.model.tolerance = tolerance
        self.model.show_rows(views(plan.rows, balance, None, tolerance, basis.today))
        self.grid.fit_columns(opened=any(row.inside for row in plan.rows))
        self.grid.go_to_line(was)
        self._show_row()
        said = [wording.sentence(finding) for finding in too_heavy(balance, self._amount_g, self._tare_g())]
        if lacking:
            names = figures.listed(lacking)
            lack = tr("No bottle holds {stocks}. Make it on the Shelf first (Ctrl+2, To prepare).", stocks=names)
            said[:0] = map(escape, (lack, *relabelled.sentences(self._session.book, stocks_lacking(basis, plan))))
        self.beside.tell(basis, plan, self._ways, self._amount_g, balance, said, same_mass=self.same_mass.isChecked())
        self.total.setText(summary(basis, plan, self._step(), self._amount_g))

    def _say_cannot(self, why: str) -> None:
        """What keeps the weighing from being begun, beside the button, '' nothing."""
        self.cannot.setText(why)
        self.cannot.setVisible(bool(why))
        self.begin.setAccessibleDescription(why)

    def _made(self, basis: Basis) -> Plan | None:
        """The plan as it was asked for; None where the amount cannot be read, which is then said."""
        ways = self._ways
        try:
            self._amount_g = mass_of(self.amount.text())
        except Refused as fault:
            self.amount_field.say(wording.sentences(fault.findings))
            return None
        return plan_of(
            self._session.book, basis.version, self._amount_g, same_mass=self.same_mass.isChecked(), basis=basis,
            order=ways.order_of(self.orders.name, basis), opened=ways.opened, closed=ways.closed, chosen=ways.chosen,
        )  # fmt: skip

    def _tare_g(self) -> float:
        try:
            return mass_of(self.tare.text())
        except Refused:
            return 0.0

    # the current line -------------------------------------------------------------------------------------------------

    def _show_row(self, *_: object) -> None:
        if self._basis is not None and self._plan is not None:
            place = self.grid.currentIndex().row()
            row = self.grid.current
            why = "" if row is None else self.model.reasons.get(row.planned.line, "")
            self.beside.show_row(
                self._basis, self._plan, place, why, self._amount_g, self.balance.balance, same_mass=self.same_mass.isChecked()
            )

    def _to_grid(self) -> None:
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def move_line(self, place: int, by: int) -> None:
        """Moves a line of the plan up or down: the order is then an own one, and kept with the weighing."""
        if self._plan is not None and 0 <= place < len(self._plan.rows):
            self.orders.choose(OWN)
            self._take_ways(self._ways.moved(self._plan, place, by))

    def _on_order_chosen(self, name: str) -> None:
        if name == OWN and self._plan is not None and not self._ways.order:
            self._ways = self._ways.moved(self._plan, 0, 0)
        self._show_plan()

    def _on_bottle_chosen(self, line: int, bottle: int) -> None:
        self._take_ways(self._ways.with_bottle((line,), bottle))
        self._to_grid()

    def _take_ways(self, ways: Ways) -> None:
        self._ways = ways
        self._show_plan()

    def _on_linked(self, target: str) -> None:
        verb, first, second = (*target.split(":"), "", "")[:3]
        if verb == "row":
            self.grid.go_to(self.model.index(int(first), 0))
            self._to_grid()
        elif verb == "bottle":
            self._take_ways(self._ways.with_bottle(map(int, first.split(",")), int(second)))
        elif verb == "amount" and self._basis is not None:
            self.amount.setText(first)
            self._take_ways(self._ways.with_accord(self._basis.accord_lines, second) if second else self._ways)
            self.amount.setFocus(Qt.FocusReason.OtherFocusReason)

    # beginning --------------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Begins; what is missing is said in its place, and what was typed stays."""
        basis, plan, book = self._basis, self._plan, self._session.book
        if basis is None or plan is None or not self.begin.isEnabled():
            return
        self.tare_field.say("")
        self.vial_field.say("")
        try:
            tare = mass_of(self.tare.text()) if self.tare.text().strip() else None
        except Refused as fault:
            self.tare_field.say(wording.sentences(fault.findings))
            self.tare.setFocus()
            return
        version, code, vial = basis.version, book.next_code(Making, "T-"), self.vial.text().strip()
        try:
            into = Bottle(code=vial, kind="trial", label=f"{version.code} {code}", version=version.key, tare_g=tare)
            making = self._session.do(
                book.weighings.begin, "trial", into, [row.planned for row in plan.rows], code=code, version=version.key,
                balance=None if self.balance.balance is None else self.balance.balance.key, mode=self.modes.name,
                target_g=self._amount_g,
            )  # fmt: skip
        except Refused as fault:
            codes = {finding.code for finding in fault.findings}
            if codes & {"code-taken", "code-empty"}:
                self.vial_field.say(wording.sentences(fault.findings))
                self.vial.setFocus()
            else:
                self.wrong.setText(wording.sentences(fault.findings))
                self.wrong.show()
            return
        if making is not None:
            empty(self.tare)
            self.vial.setModified(False)
            self.begun.emit(making.key)

    def _on_sheet_clicked(self) -> None:
        from desktop.pages.weigh.sheet_pdf import ask_sheet

        if (meant := self._meant()) is not None:
            ask_sheet(self, self._session, meant)

    def _on_print_clicked(self) -> None:
        from desktop.pages.weigh.sheet_pdf import print_sheet

        if (meant := self._meant()) is not None:
            print_sheet(self, self._session, meant)

    def _meant(self) -> Intended | None:
        """What the sheet is of."""
        from desktop.pages.weigh.sheet_pdf import Intended

        if self._basis is None or self._plan is None:
            return None
        vial, mode = self.vial.text().strip(), self.modes.name
        return Intended(self._basis.version, self._plan, self._amount_g, vial, self.balance.balance, mode, self.tare.text())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.beside.fit(self.width())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.confirm()
            return
        super().keyPressEvent(event)

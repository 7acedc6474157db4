# SPDX-License-Identifier: MIT
"""Before the first drop: what is weighed, how much, on which balance, in which order, and what speaks against it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.models.plan_rows import PlanModel, views
from desktop.models.weigh import TOLERANCE, Plan, materials_of, plan_of, suggested_lines
from desktop.pages.masses import BalanceBox, mass_of
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from perfumery import Balance, Bottle, Finding, Making, Refused, Version, least_weight
from perfumery.order import reason_of, tools
from perfumery.weighing import smallest_amount

MODES = {"tare each": "tare each", "stop at": "running total", "by difference": "by difference"}
ORDERS = ("suggested", "as last time", "as written")
CAUTION = "Gloves and goggles on, air moving, no flame: as the suppliers' safety data sheets say."


class StartSheet(QWidget):
    """`begun(making key)`; `taken_up(making key)` for one that was cut off; `balances_asked`; `typed_asked` for a sheet
    that was weighed on paper."""

    begun = Signal(int)
    taken_up = Signal(int)
    balances_asked = Signal()
    typed_asked = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._plan: Plan | None = None
        self._version: Version | None = None
        self._amount_of: int | None = None
        self.title = QLabel(self)
        self.title.setProperty("role", "title")
        self.told = QLabel(self)
        self.told.setProperty("role", "quiet")
        self.told.setWordWrap(True)
        self.open_ones = QVBoxLayout()
        self.open_ones.setSpacing(0)
        self.amount = QLineEdit(self)
        self.amount_field = Field("amount, g", self.amount)
        self.balance = BalanceBox(session)
        self.balance_field = Field("balance", self.balance)
        self.vial = QLineEdit(self)
        self.vial_field = Field("vial", self.vial)
        self.tare = QLineEdit(self)
        self.tare_field = Field("empty vessel, g", self.tare, tip="Weighed empty; taken off when it is weighed again later")
        self.modes = Chips(tuple(MODES), "how", self)
        self.orders = Chips(ORDERS, "order", self)
        self.same_mass = QCheckBox("same mass, though a bottle is off its written strength", self)
        self.model = PlanModel(self._step, self)
        self.grid = Grid(session.theme, session.settings, "plan", "name", self, roomy={"stock": 170, "inside": 150})
        self.grid.setAccessibleName("What is to be weighed")
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.noted = QLabel(self)
        self.noted.setProperty("role", "amber")
        self.noted.setWordWrap(True)
        self.total = QLabel(self)
        self.caution = QLabel(CAUTION, self)
        self.caution.setProperty("role", "caption")
        self.begin = QPushButton("Begin weighing", self)
        self.begin.setProperty("role", "primary")
        self.begin.setToolTip("Ctrl+Enter")
        self.begin.clicked.connect(self.confirm)
        self.balances = QPushButton("Balances…", self)
        self.balances.setProperty("role", "link")
        self.balances.clicked.connect(self.balances_asked)
        self.sheet = QPushButton("Sheet as PDF…", self)
        self.sheet.clicked.connect(self._on_sheet_clicked)
        self.typed = QPushButton("Type in a sheet from paper…", self)
        self.typed.clicked.connect(self.typed_asked)
        for link in (self.sheet, self.typed):
            link.setProperty("role", "link")
        self.wrong = QLabel(self)
        self.wrong.setProperty("role", "wrong")
        self.wrong.setWordWrap(True)
        self.wrong.hide()
        self._build()
        self.amount.textEdited.connect(lambda _: self._show_plan())
        self.amount.returnPressed.connect(self.confirm)
        self.balance.currentIndexChanged.connect(lambda _: self._show_plan())
        self.orders.chosen.connect(lambda _: self._show_plan())
        self.same_mass.toggled.connect(lambda _: self._show_plan())

    def _build(self) -> None:
        head = QHBoxLayout()
        head.addWidget(self.title)
        head.addStretch(1)
        head.addWidget(self.balances)
        fields = QHBoxLayout()
        fields.setSpacing(12)
        for field, width in ((self.amount_field, 110), (self.balance_field, 230), (self.vial_field, 110), (self.tare_field, 130)):
            field.setMaximumWidth(self._session.theme.px(width))
            fields.addWidget(field, 0, Qt.AlignmentFlag.AlignTop)
        fields.addStretch(1)
        ways = QHBoxLayout()
        ways.setSpacing(16)
        for part in (self.modes, self.orders):
            ways.addWidget(part)
        ways.addStretch(1)
        foot = QHBoxLayout()
        foot.addWidget(self.begin)
        foot.addWidget(self.total)
        foot.addStretch(1)
        foot.setSpacing(16)
        foot.addWidget(self.sheet)
        foot.addWidget(self.typed)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 12)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.told)
        column.addLayout(self.open_ones)
        column.addLayout(fields)
        column.addLayout(ways)
        column.addWidget(self.same_mass)
        column.addWidget(self.grid, 1)
        for part in (self.noted, self.wrong, self.caution):
            column.addWidget(part)
        column.addLayout(foot)

    # showing ----------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Reads the chosen version, the balances and what was cut off anew."""
        session, book = self._session, self._session.book
        self._version = session.version
        self.balance.refresh()
        self._show_open()
        version, project = self._version, session.project
        self.title.setText("Weigh" if version is None else f"Weigh {version.code}")
        there = version is not None and bool(version.lines)
        for part in (self.amount_field, self.balance_field, self.vial_field, self.tare_field, self.modes, self.orders,
                     self.same_mass, self.grid, self.begin, self.total, self.caution, self.sheet, self.typed):  # fmt: skip
            part.setVisible(there)
        if not there:
            self.told.setText("Choose a version with lines on the Bench; it is weighed here, line by line.")
            self.noted.hide()
            return
        assert version is not None
        self.told.setText(self._about(version))
        if self._amount_of != version.key and project is not None:
            self.amount.setText(figures.mass(project.amount_g, 0.001))
            self._amount_of = version.key
            self.tare.clear()
        self.vial.setText(book.next_code(Bottle, "V"))
        remembered = bool(version.key and book.weighings.remembered(version.key))
        self.orders.buttons["as last time"].setEnabled(remembered)
        if remembered and self.orders.name == "suggested":
            self.orders.choose("as last time")
        self._show_plan()

    def _about(self, version: Version) -> str:
        reason = f" · {version.reason}" if version.reason else ""
        frozen = "frozen" if version.is_frozen else "a draft: it freezes with the first figure"
        return f"{version.name or version.code}{reason} · {frozen}"

    def _show_open(self) -> None:
        while (item := self.open_ones.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.deleteLater()
        book = self._session.book
        for making in book.weighings.unfinished():
            vial = book.get(Bottle, making.into_bottle)
            done = len({move.line or move.from_bottle for move in book.weighings.poured(making.key or 0)})
            name = making.code or ("" if vial is None else vial.code)
            into = "" if vial is None else f" in {vial.code}"
            at = f"line {min(done + 1, len(making.plan))} of {len(making.plan)}"
            button = QPushButton(f"{name}{into} was cut off at {at}: go on")
            button.setProperty("role", "link")
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, key=making.key: self.taken_up.emit(key))
            self.open_ones.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

    def _step(self) -> float:
        balance = self.balance.balance
        return 0.001 if balance is None else balance.d_g

    def _show_plan(self) -> None:
        version = self._version
        self.amount_field.say("")
        self.wrong.hide()
        if version is None or version.key is None:
            return
        try:
            amount = mass_of(self.amount.text())
        except Refused as fault:
            self.amount_field.say(wording.sentences(fault.findings))
            self._plan = None
            self.model.show_rows(())
            self.begin.setEnabled(False)
            self.sheet.setEnabled(False)
            return
        book = self._session.book
        order = self._order(version)
        self._plan = plan_of(book, version, amount, same_mass=self.same_mass.isChecked(), order=order)
        balance = self.balance.balance
        self.model.show_rows(views(self._plan.rows, balance, None, TOLERANCE))
        self.model.tolerance = TOLERANCE
        missing = [f"{row.name} {row.stock}".strip() for row in self._plan.rows if row.bottle is None]
        said = [wording.sentence(finding) for finding in (*self._plan.findings, *self._too_heavy(amount))]
        if missing:
            said.insert(0, f"No bottle holds {figures.listed(missing)}. Make it on the Shelf first (Ctrl+2, To prepare).")
        said += self._too_small()
        self.noted.setText("\n".join(said))
        self.noted.setVisible(bool(said))
        lines = figures.count(len(self._plan.rows), "line")
        self.total.setText(f"{lines}, {figures.mass_text(self._plan.total_g, self._step())}")
        self._show_tools(version)
        self.begin.setEnabled(not missing)
        self.sheet.setEnabled(True)

    def _order(self, version: Version) -> tuple[int, ...]:
        name, book = self.orders.name, self._session.book
        if name == "as last time" and version.key is not None:
            return book.weighings.remembered(version.key)
        if name == "as written":
            return tuple(line.key for line in version.lines if line.key is not None)
        return suggested_lines(book, version)

    def _show_tools(self, version: Version) -> None:
        """Why each line stands where it stands, and what to lay ready."""
        assert self._plan is not None
        inner = (version, *self._session.book.shelf(version).accords.values())
        lines = {line.key: line for own in inner for line in own.lines}
        materials = materials_of(self._session.book, version)
        taken = [(lines[row.planned.line], row.bottle) for row in self._plan.rows if row.planned.line in lines]
        self.model.reasons = {
            line.key: wording.sentence(Finding(f"order-{reason_of(line, materials)}")) for line, _ in taken
        }  # fmt: skip
        pipettes, boats = tools([line for line, _ in taken], [row and row.bottle for _, row in taken], materials)
        ready = f"{figures.count(pipettes, 'pipette')}, {figures.count(boats, 'boat')} to lay ready"
        self.total.setText(f"{self.total.text()} · {ready}")

    def _too_small(self) -> list[str]:
        balance = self.balance.balance
        if balance is None or self._plan is None:
            return []
        least = least_weight(balance, TOLERANCE)
        small = [row.name for row in self._plan.rows if row.planned.target_g < least]
        if not small:
            return []
        total = self._plan.total_g
        smallest = min(row.planned.target_g for row in self._plan.rows)
        larger = smallest_amount((row.planned.target_g / total for row in self._plan.rows), balance, TOLERANCE)
        finer = [
            other.name for other in self._session.book.all(Balance)
            if other.retired_on is None and least_weight(other, TOLERANCE) <= smallest
        ]  # fmt: skip
        mends = [f"{figures.mass_text(larger, 0.01)} in all", f"stocks {least / smallest:.2g} times weaker", *finer[:1]]
        return [
            f"{balance.name} weighs less than {figures.mass_text(least, self._step())} with an error over {TOLERANCE * 100:g} %: "
            f"{figures.listed(small)}. What would do: {', or '.join(mends)}."
        ]

    def _too_heavy(self, amount: float) -> list[Finding]:
        balance = self.balance.balance
        if balance is None or balance.max_g is None:
            return []
        try:
            vessel = mass_of(self.tare.text()) if self.tare.text().strip() else 0.0
        except Refused:
            vessel = 0.0
        if amount + vessel <= balance.max_g:
            return []
        return [Finding("over-capacity", {"mass_g": amount + vessel, "max_g": balance.max_g})]

    # beginning --------------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Begins; what is missing is said in its place, and what was typed stays."""
        version, plan, book = self._version, self._plan, self._session.book
        if version is None or plan is None or not self.begin.isEnabled():
            return
        self.tare_field.say("")
        try:
            tare = mass_of(self.tare.text()) if self.tare.text().strip() else None
        except Refused as fault:
            self.tare_field.say(wording.sentences(fault.findings))
            self.tare.setFocus()
            return
        code = book.next_code(Making, "T-")
        vial = self.vial.text().strip()
        try:
            into = Bottle(code=vial, kind="trial", label=f"{version.code} {code}", version=version.key, tare_g=tare)
            making = self._session.do(
                book.weighings.begin, "trial", into, [row.planned for row in plan.rows], code=code, version=version.key,
                balance=None if self.balance.balance is None else self.balance.balance.key, mode=MODES[self.modes.name],
                target_g=mass_of(self.amount.text()),
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
            self.tare.clear()
            self.begun.emit(making.key)

    def _on_sheet_clicked(self) -> None:
        from desktop.pages.weigh.sheet_pdf import Intended, ask_sheet

        if self._version is not None and self._plan is not None:
            amount, vial, mode = mass_of(self.amount.text()), self.vial.text().strip(), MODES[self.modes.name]
            meant = Intended(self._version, self._plan, amount, vial, self.balance.balance, mode, self.tare.text())
            ask_sheet(self, self._session, meant)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.confirm()
            return
        super().keyPressEvent(event)

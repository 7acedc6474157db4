# SPDX-License-Identifier: MIT
"""A sheet that was weighed by hand, typed in from paper: one figure a line, booked for the hour it was really weighed.

Everything is looked at before anything is booked. What was typed stays, also where it cannot be read, and while the sheet is
away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemDelegate, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.modes import CHOICES, RUNNING_TOTAL
from desktop.models.moments import Unreadable
from desktop.models.right_bottle import named
from desktop.models.weigh import plan_of, suggested_lines
from desktop.pages.masses import BalanceBox, mass_of
from desktop.pages.shelf.delivery_grid import is_booking
from desktop.pages.weigh.typed_rows import EDITABLE, TypedModel, TypedRow, at_hand, example, hour_of, judged
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from desktop.widgets.field_row import FieldRow
from desktop.widgets.grid import Grid, GridDelegate
from desktop.widgets.labels import label
from perfumery import Bottle, Finding, Making, Planned, Project, Refused, Version
from perfumery.text import fold

REMARK = "typed in from paper"  # as it stands in the book
HOW = tr(
    "Weighed by hand on a printed sheet: every bottle is taken for what it held at that hour. Nothing is booked before all of it "
    "can be."
)
KEYS = tr("Enter: next line · Tab: next cell · a dash where a line was left out · Ctrl+Enter: book it")


class TypedDelegate(GridDelegate):
    """Ctrl+Enter in a cell keeps what is typed in it and books."""

    def __init__(self, session: Session, grid: Grid, book: Callable[[], None]) -> None:
        super().__init__(session.theme, grid)
        self._book = book

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if not isinstance(watched, QLineEdit) or not is_booking(event):
            return super().eventFilter(watched, event)
        if event.type() == QEvent.Type.ShortcutOverride:
            # elsewhere this key may be a command of the window
            event.accept()
        elif event.type() == QEvent.Type.KeyPress:
            self.commitData.emit(watched)
            self.closeEditor.emit(watched, QAbstractItemDelegate.EndEditHint.NoHint)
            self._book()
        return True


# the sheet --------------------------------------------------------------------------------------------------------------


class TypedInSheet(QWidget):
    """`left` when it was put away; `finished(vial key)` when the weighing stands in the book."""

    left = Signal()
    finished = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._version: Version | None = None
        self._held: dict[int, tuple[float | None, str]] = {}
        self._at: datetime | None = None
        self._open: Making | None = None
        self.title = label(tr("Type in a sheet"), "title")
        self.told = label("", "quiet", wrap=True)
        self.amount, self.weighed_on, self.vial, self.tare = (QLineEdit(self) for _ in range(4))
        self.weighed_on.setPlaceholderText(example())
        self.balance = BalanceBox(session)
        self.amount_field = Field(tr("amount, g"), self.amount)
        self.hour_field = Field(tr("weighed on, at"), self.weighed_on, tip=tr("The day and time it was really weighed; or now"))
        self.balance_field = Field(tr("balance"), self.balance)
        self.vial_field = Field(tr("vial"), self.vial)
        self.tare_field = Field(tr("empty vessel, g"), self.tare, tip=tr("Where it was weighed empty"))
        self.modes = Chips(CHOICES, tr("how"), self)
        self.model = TypedModel(self._step, self._keep, self)
        self.grid = Grid(session.theme, session.settings, "typed in", "told", self, roomy={"name": 230, "stock": 150})
        self.grid.setAccessibleName(tr("Figures of the sheet"))
        self.grid.setItemDelegate(TypedDelegate(session, self.grid, self.book))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.said = label("", "amber", wrap=True)
        self.wrong = label("", "wrong", wrap=True)
        self.keys = label(KEYS, "caption", wrap=True)
        self.counted = label("", "quiet", wrap=True)
        self.book_button = QPushButton(tr("Book the weighing"), self)
        self.book_button.setProperty("role", "primary")
        self.book_button.setToolTip("Ctrl+Enter")
        self.leave_button = QPushButton(tr("Leave it"), self)
        self.leave_button.setToolTip(tr("Escape; what was typed is kept here"))
        self._build()
        self._connect()

    def _build(self) -> None:
        buttons = QHBoxLayout()
        narrow = (
            (self.amount_field, 110), (self.hour_field, 190), (self.balance_field, 230), (self.vial_field, 110),
            (self.tare_field, 130),
        )  # fmt: skip
        fields = FieldRow(self._session.theme, narrow)
        buttons.setSpacing(10)
        for part in (self.book_button, self.leave_button):
            part.setAutoDefault(False)
            buttons.addWidget(part)
        buttons.addWidget(self.counted, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 12)
        column.setSpacing(8)
        for part in (self.title, self.told):
            column.addWidget(part)
        column.addLayout(fields)
        column.addWidget(self.modes, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.grid, 1)
        for part in (self.keys, self.said, self.wrong):
            column.addWidget(part)
        column.addLayout(buttons)

    def _connect(self) -> None:
        self.amount.editingFinished.connect(self._show_plan)
        self.weighed_on.editingFinished.connect(self._read_hour)
        self.balance.currentIndexChanged.connect(lambda _: self._judge())
        self.modes.chosen.connect(lambda _: self._judge())
        for field in (self.amount, self.weighed_on, self.vial, self.tare):
            field.returnPressed.connect(self._on_field_returned)
        self.grid.entered.connect(self._go_down)
        self.grid.given_up.connect(lambda _: self.left.emit())
        self.grid.selectionModel().currentChanged.connect(lambda *_: self._say_of_row())
        self.book_button.clicked.connect(self.book)
        self.leave_button.clicked.connect(self.left)
        for part in (self.grid, self.amount, self.weighed_on, self.vial, self.tare):
            part.installEventFilter(self)

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, version: int | None = None) -> None:
        """Shows the sheet of a version, or of the chosen one: empty, or as it was left."""
        session, book = self._session, self._session.book
        key = session.version_key if version is None else version
        chosen = None if key is None else book.get(Version, key)
        kept = self._version if self._open is None else None
        self._open = None
        self.balance.refresh()
        if chosen is None or kept is None or kept.key != chosen.key:
            project = None if chosen is None else book.get(Project, chosen.project)
            self.model.show_rows(())
            self.amount.setText("" if project is None else figures.mass(project.amount_g, 0.001))
            empty(self.weighed_on, self.tare)
            self.vial.setModified(False)
        self._version = chosen
        self._at = None
        if self.weighed_on.text().strip():
            self._read_hour()
        for part in (self.amount_field, self.hour_field, self.vial_field, self.tare_field):
            part.say("")
        if not self.vial.isModified():
            self.vial.setText(book.next_code(Bottle, "V"))
        self.title.setText(tr("Type in a sheet") if chosen is None else tr("Type in {code} from paper", code=chosen.code))
        there = chosen is not None and bool(chosen.lines)
        self.told.setText(HOW if there else tr("Choose a version with lines on the Bench first."))
        self._say(self.wrong, "")
        self._show_plan()
        self.book_button.setVisible(there)
        (self.grid if self.weighed_on.text() else self.weighed_on).setFocus(Qt.FocusReason.OtherFocusReason)

    def _step(self) -> float:
        balance = self.balance.balance
        return 0.001 if balance is None else balance.d_g

    def _show_plan(self) -> None:
        """The lines for the amount; what was typed stays with its line."""
        version, book = self._version, self._session.book
        self.amount_field.say("")
        self._held.clear()
        if version is None or version.key is None:
            self.model.show_rows(())
            return
        try:
            amount = mass_of(self.amount.text())
        except Refused as fault:
            self.amount_field.say(wording.sentences(fault.findings))
            return
        order = book.weighings.remembered(version.key) or suggested_lines(book, version)
        typed: dict[int | None, list[TypedRow]] = {}
        for row in self.model.rows:
            typed.setdefault(row.row.planned.line, []).append(row)
        rows = []
        for place, planned in enumerate(plan_of(book, version, amount, order=order).rows):
            same = typed.get(planned.planned.line)
            before = same.pop(0) if same else None
            code = "" if planned.bottle is None else planned.bottle.bottle.code
            was = "" if before is None or before.row.bottle is None else before.row.bottle.bottle.code
            if before is not None and before.code != was:
                code = before.code  # another one was typed
            rows.append(TypedRow(place, planned, code, "" if before is None else before.figure))
        self._show(rows)
        if rows and not self.grid.currentIndex().isValid():
            self._go_to(0, "figure")

    def _judge(self) -> None:
        self._show(self.model.rows)

    def _show(self, rows: Sequence[TypedRow]) -> None:
        book = self._session.book
        shelf = {fold(row.bottle.code): row for row in (*book.bottles.rows(vials=True), *book.bottles.rows())}
        for code in {row.code for row in rows} - {""}:
            # what is gone since, and was weighed from
            if fold(code) not in shelf and (bottle := named(book, code)) is not None and bottle.key is not None:
                shelf |= {fold(row.bottle.code): row for row in book.bottles.rows_of((bottle.key,)).values()}
        running = self.modes.name == RUNNING_TOTAL
        on = (self._at or book.now()).date()
        self.model.show_rows(judged(rows, shelf, self._can_give, is_running=running, balance=self.balance.balance, on=on))
        self._say_of_row()

    def _can_give(self, bottle: int) -> tuple[float | None, str]:
        """What could be drawn from a bottle at the hour of the sheet, and why nothing of it can be reckoned with."""
        if bottle not in self._held:
            book = self._session.book
            at = self._at or book.now()
            why = ""
            if not book.contents(bottle, at):
                held = book.get(Bottle, bottle)
                code = "" if held is None else held.code
                why = wording.sentence(Finding("contents-unknown", {"code": code}))
                if book.contents(bottle):
                    when = figures.moment(at)
                    why = tr("What {code} held on {when} is not in the book: it came or was made later.", code=code, when=when)
            self._held[bottle] = at_hand(book, bottle, at), why
        return self._held[bottle]

    def _read_hour(self) -> datetime | None:
        """The hour of the sheet; None where it cannot be read, which is then said beside it."""
        try:
            at: datetime | None = hour_of(self.weighed_on.text(), self._session.book.now())
        except (Unreadable, Refused) as fault:
            at = None
            said = wording.sentences(fault.findings) if isinstance(fault, Refused) else str(fault)
            self.hour_field.say(said)
        else:
            self.hour_field.say("")
        if at != self._at:
            self._at = at
            self._held.clear()
            self._judge()
        return at

    def _say_of_row(self) -> None:
        rows = self.model.rows
        place = self.grid.currentIndex().row()
        row = rows[place] if 0 <= place < len(rows) else None
        told = "" if row is None or not (row.wrong or row.noted) else f"{row.name}: {row.wrong or row.noted}"
        self._say(self.said, told)
        self.counted.setText(self._count(rows) if rows else "")

    def _count(self, rows: Sequence[TypedRow]) -> str:
        """'12 of 20 figures, 3.250 g; 1 line left out; 2 lines to be mended.'"""
        done = [one for one in rows if one.mass_g is not None]
        out, waiting = sum(one.is_out for one in rows), sum(bool(one.wrong) and not one.is_open for one in rows)
        said = [tr_count(len(rows), "{done} of {n} figure", "{done} of {n} figures", done=len(done))]
        if done:
            said[0] += f", {figures.mass_text(sum(one.mass_g or 0.0 for one in done), self._step())}"
        if out:
            said.append(tr_count(out, "{n} line left out", "{n} lines left out"))
        if waiting:
            said.append(tr_count(waiting, "{n} line to be mended", "{n} lines to be mended"))
        return f"{'; '.join(said)}."

    @staticmethod
    def _say(part: QLabel, text: str) -> None:
        part.setText(text)
        part.setVisible(bool(text))

    # typing -----------------------------------------------------------------------------------------------------------

    def _keep(self, place: int, key: str, text: str) -> bool:
        """Keeps what was typed into a cell; whether it could be read."""
        rows = list(self.model.rows)
        old = rows[place]
        if key == "figure":
            rows[place] = replace(old, figure=text.strip())
        else:
            usual = "" if old.row.bottle is None else old.row.bottle.bottle.code
            rows[place] = replace(old, code=text.strip() or usual)
        self._show(rows)
        fresh = self.model.row(place)
        if key == "bottle" and fresh.bottle is not None and fresh.code != fresh.bottle.bottle.code:
            rows[place] = replace(rows[place], code=fresh.bottle.bottle.code)
            self._show(rows)
        return not (fresh.wrong and fresh.cell == key)

    def _go_to(self, place: int, key: str) -> None:
        self.grid.go_to(self.model.index(place, self.model.place_of(key)))

    def _go_down(self, place: int) -> None:
        """To the figure of the next line, from the last one to the button that books."""
        if place + 1 < self.model.rowCount():
            key = self.model.columns[self.grid.currentIndex().column()].key
            self._go_to(place + 1, key if key in EDITABLE else "figure")
        else:
            self.book_button.setFocus(Qt.FocusReason.TabFocusReason)

    def _on_field_returned(self) -> None:
        self.grid.setFocus(Qt.FocusReason.TabFocusReason)

    # booking ----------------------------------------------------------------------------------------------------------

    def book(self) -> None:
        """Looks at everything, and books only when all of it can be; goes to what has to be mended and says why there."""
        if self._open is not None or self._version is None or not self.book_button.isVisibleTo(self):
            return
        # what is being typed is kept first
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        self._say(self.wrong, "")
        self.tare_field.say("")
        self.vial_field.say("")
        at = self._read_hour()
        if at is None:
            self.weighed_on.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        try:
            amount = mass_of(self.amount.text())
        except Refused as fault:
            self._refuse(self.amount_field, fault)
            return
        try:
            tare = mass_of(self.tare.text()) if self.tare.text().strip() else None
        except Refused as fault:
            self._refuse(self.tare_field, fault)
            return
        # the version may have been edited since, and the bottles drawn from
        self._version = self._session.book.get(Version, self._version.key or 0)
        self._show_plan()
        if self._all_ready():
            self._put(at, amount, tare)

    def _refuse(self, field: Field, fault: Refused) -> None:
        field.say(wording.sentences(fault.findings))
        field.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def _all_ready(self) -> bool:
        """Whether every line has a figure that can be booked, or was left out; else goes to the first that has not."""
        rows = self.model.rows
        place = next((row.place for row in rows if (row.wrong or row.is_open) and not row.is_out), None)
        if place is not None:
            row = rows[place]
            if row.wrong and not row.is_open:
                self._go_to(place, row.cell)
                said = tr("{line}: {why} Nothing was booked.", line=row.name, why=row.wrong)
            else:
                self._go_to(place, "figure")
                said = tr(
                    "{line}: it has no figure. Type it, or a dash where it was left out. Nothing was booked.", line=row.name
                )
            self._say(self.wrong, said)
            return False
        if all(row.is_out for row in rows):
            self._say(self.wrong, tr("Every line is left out: there is nothing to book."))
            return False
        return True

    def _put(self, at: datetime, amount: float, tare: float | None) -> None:
        """Begins, books every figure for the hour of the sheet, and finishes."""
        book, session, version = self._session.book, self._session, self._version
        assert version is not None
        rows = [row for row in self.model.rows if row.mass_g is not None and row.bottle is not None]
        out = [row.name for row in self.model.rows if row.is_out]
        code, balance = book.next_code(Making, "T-"), self.balance.balance
        plan = [Planned(row.row.planned.target_g, row.row.planned.line, row.bottle and row.bottle.key) for row in rows]
        remark = REMARK + (f"; left out: {', '.join(out)}" if out else "")
        try:
            into = Bottle(self.vial.text().strip(), "trial", f"{version.code} {code}", version=version.key, tare_g=tare)
            making = session.do(
                book.weighings.begin, "trial", into, plan, code=code, version=version.key, target_g=amount, remark=remark,
                balance=None if balance is None else balance.key, mode=self.modes.name, at=at,
            )  # fmt: skip
        except Refused as fault:
            is_code = any(finding.code in ("code-taken", "code-empty") for finding in fault.findings)
            if is_code:
                self._refuse(self.vial_field, fault)
            else:
                self._say(self.wrong, wording.sentences(fault.findings))
            return
        if making is None:
            return
        self._go_through(making, rows, at)

    def _go_through(self, making: Making, rows: Sequence[TypedRow], at: datetime) -> None:
        """Every figure of a weighing that was begun; one that is refused leaves it open, by name."""
        book, session = self._session.book, self._session
        assert making.key is not None
        for count, row in enumerate(rows):
            assert row.bottle is not None and row.mass_g is not None
            try:
                done = session.do(
                    book.weighings.accept, making.key, row.bottle.key, row.mass_g, line=row.row.planned.line,
                    target_g=row.row.planned.target_g, at=at,
                )  # fmt: skip
                why = ""
            except Refused as fault:
                done, why = None, wording.sentences(fault.findings)
            if done is None:
                said = tr("{name} was not booked, line {line} of {count}.", name=row.name, line=count + 1, count=len(rows))
                self._stays_open(making, f"{said} {why}".strip())
                return
        try:
            vial = session.do(book.weighings.finish, making.key, at=at)
            why = ""
        except Refused as fault:
            vial, why = None, wording.sentences(fault.findings)
        if vial is None:
            said = tr("All figures are in, but it could not be finished.")
            self._stays_open(making, f"{said} {why}".strip())
            return
        inside = figures.mass_text(sum(row.mass_g or 0.0 for row in rows), self._step())
        when = figures.moment(at)
        said = tr("{code} is booked for {when}: {mass} in {vial}.", code=making.code, when=when, mass=inside, vial=vial.code)
        session.said.emit(said, "done")
        self._version = None
        self.model.show_rows(())
        self.finished.emit(vial.key)

    def _stays_open(self, making: Making, why: str) -> None:
        self._open = making
        self.book_button.hide()
        vial = self.vial.text().strip()
        stays = tr(
            "{code} stays open in {vial}: leave this sheet and go on with it at the balance, or give it up there.",
            code=making.code, vial=vial,
        )
        self._say(self.wrong, f"{why} {stays}")

    # keys -------------------------------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if is_booking(event) and event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
            return True
        if is_booking(event) and event.type() == QEvent.Type.KeyPress:
            self.book()
            return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if is_booking(event):
            self.book()
        elif event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

# SPDX-License-Identifier: MIT
"""The repeatability of a balance, found by hand: one object ten times, each figure typed as it is shown; then taken or left."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.balances import (
    READINGS,
    TOLERANCES,
    Repeat,
    check_rows,
    decimals,
    is_test,
    least_text,
    spread_text,
    two_digits,
)
from desktop.pages.masses import grams, mass_of
from desktop.pages.shelf.sheet import Sheet
from desktop.pages.weigh.balance_check import CORRECTS
from desktop.session import Session
from desktop.widgets.labels import label
from perfumery import Balance, BenchCheck, Refused, weighing
from perfumery.weighing import LEAST_READINGS, least_weight

HOW = tr(
    "Put the same object on ten times, zeroed before each, and type every figure with all the digits it shows; Enter goes on. "
    "The check mode of many balances shows one digit more."
)
ACROSS = 5


class ReadingLine(QLineEdit):
    """One reading. Enter goes on to the next; with Ctrl it keeps, as everywhere."""

    entered = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.entered.emit()
        else:
            super().keyPressEvent(event)


class RepeatSheet(Sheet):
    """Ten readings, what they tell as they are typed, and the offer to take it for the balance."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep the test"), parent)
        self.weight, self.weight_field = self.line(tr("the object weighs about, g"), width=120)
        self.weight.returnPressed.disconnect(self.confirm)
        self.weight.returnPressed.connect(lambda: self.readings[0].setFocus())
        self.readings = tuple(ReadingLine() for _ in range(READINGS))
        grid = QGridLayout()
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(6)
        for at, line in enumerate(self.readings):
            line.setAccessibleName(tr("reading {number}, g", number=at + 1))
            line.setAlignment(Qt.AlignmentFlag.AlignRight)
            line.entered.connect(lambda at=at: self._on_reading_entered(at))
            line.returnPressed.connect(self.confirm)
            line.textEdited.connect(lambda _: self._show())
            cell = QVBoxLayout()
            cell.setSpacing(0)
            cell.addWidget(label(str(at + 1), "caption"))
            cell.addWidget(line)
            grid.addLayout(cell, at // ACROSS, at % ACROSS)
        self.column.addLayout(grid)
        self.result = label("", "strong", wrap=True)
        self.least = label("", "quiet", wrap=True)
        self.hint = label("", "amber", wrap=True)
        for part in (self.result, self.least, self.hint):
            self.column.addWidget(part)
        self.balance: Balance | None = None
        self.check: BenchCheck | None = None
        self.offered: float | None = None

    @property
    def is_begun(self) -> bool:
        """Whether something was typed, or an offer stands."""
        return self.offered is not None or super().is_begun

    def start(self, balance: Balance, check: BenchCheck | None = None) -> None:
        """Begins for a balance, or with a test that is to be corrected."""
        self.balance, self.check, self.offered = balance, check, None
        if check is None:
            self.title.setText(tr("Repeatability: {balance}", balance=balance.name))
            self.tell(HOW)
            self.verb.setText(tr("Keep the test"))
        else:
            self.title.setText(tr("A test corrected: {balance}", balance=balance.name))
            self.tell(CORRECTS)
            self.verb.setText(tr("Keep the correction"))
        self.verb.setAutoDefault(False)
        self.leave.setText(tr("Leave it"))
        texts = [""] * READINGS
        weight = "" if (last := self._last(balance)) is None else figures.parts(last.weight_g)
        if check is not None:
            weight = figures.parts(check.weight_g)
            places = max(decimals(balance.d_g), *(decimals(g) for g in check.readings))
            texts = [f"{g:.{places}f}" for g in check.readings[:READINGS]] + texts[len(check.readings) :]
        self.weight.setText(weight)
        self.weight_field.say("")
        for line, text in zip(self.readings, texts, strict=True):
            line.setText(text)
        for line in (self.weight, *self.readings):
            line.setEnabled(True)
        self.say("")
        self._show()

    def take_focus(self) -> None:
        """The cursor to the next figure that is missing."""
        line = next((line for line in (self.weight, *self.readings) if not line.text()), self.readings[0])
        line.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _last(self, balance: Balance) -> BenchCheck | None:
        return next((row.check for row in check_rows(self._session.book, balance) if is_test(row.check)), None)

    # while it is typed ------------------------------------------------------------------------------------------------

    def _parsed(self, at: int) -> float | None:
        """A reading; None for an empty or unreadable one."""
        try:
            return grams(self.readings[at].text())
        except Refused:
            return None

    def repeat(self) -> Repeat:
        """What was typed so far, unreadable readings left out."""
        assert self.balance is not None
        typed = [line.text() for at, line in enumerate(self.readings) if self._parsed(at) is not None]
        places = max((_typed_places(text) for text in typed), default=0)
        values = (self._parsed(at) for at in range(READINGS))
        return Repeat(tuple(g for g in values if g is not None), places, self.balance.d_g)

    def _show(self) -> None:
        """Spread, mean and the least weights to come, as far as they can be told."""
        assert self.balance is not None
        self.say("")
        repeat = self.repeat()
        number = len(repeat.readings)
        if not number:
            self._tell_result("", "", "")
            return
        mean = figures.unit(f"{repeat.mean_g:.{repeat.places}f}", "g")
        if number < LEAST_READINGS:
            few = tr("{number} of at least {least} readings.", number=number, least=LEAST_READINGS)
            self._tell_result(tr("mean {mass}", mass=mean), few, self._slip(repeat))
            return
        s_g = two_digits(repeat.s_g)
        result = tr("s {spread} of {number} · mean {mass}", spread=spread_text(s_g), number=number, mass=mean)
        to_come = replace(self.balance, s_g=s_g or None)
        least = []
        for error, share in TOLERANCES.items():
            mass = figures.unit(least_text(least_weight(to_come, share), self.balance.d_g), "g")
            least.append(tr("{mass} at {error}", mass=mass, error=error))
        told = tr("Least weights with it: {masses}.", masses=figures.listed(least))
        self._tell_result(result, told, self._slip(repeat) or self._digits(repeat))

    def _tell_result(self, result: str, least: str, hint: str) -> None:
        told: tuple[tuple[QLabel, str], ...] = ((self.result, result), (self.least, least), (self.hint, hint))
        for part, text in told:
            part.setText(text)
            part.setVisible(bool(text))

    def _slip(self, repeat: Repeat) -> str:
        if repeat.slip is None or len(repeat.readings) < 3:
            return ""
        off = figures.unit(f"{repeat.readings[repeat.slip]:.{repeat.places}f}", "g")
        return tr("{mass} is far from the others. Look at it again.", mass=off)

    def _digits(self, repeat: Repeat) -> str:
        if not repeat.lost_digits:
            return ""
        step = figures.unit(figures.parts(repeat.d_g), "g")
        floor = spread_text(weighing.FLOOR_OF_D * repeat.d_g)
        return tr(
            "Keep the digits: figures in whole steps of {step} cannot give so small a spread. Type one digit more where the "
            "balance shows it; otherwise {spread} counts, {share} of a step.",
            step=step, spread=floor, share=figures.parts(weighing.FLOOR_OF_D),
        )

    def _on_reading_entered(self, at: int) -> None:
        text = self.readings[at].text().strip()
        if not text:
            # Enter in an empty one: that was all
            self.confirm()
            return
        try:
            grams(text)
        except Refused as fault:
            self.say(tr("Reading {number}: {why}", number=at + 1, why=wording.sentences(fault.findings)))
            self.readings[at].selectAll()
            return
        self.say("")
        empty = next((other for other in range(at + 1, READINGS) if not self.readings[other].text().strip()), None)
        if empty is None:
            self.verb.setAutoDefault(True)
            self.verb.setFocus()
        else:
            self.readings[empty].setFocus()

    # keeping ----------------------------------------------------------------------------------------------------------

    def keep(self) -> bool:
        """Keeps the readings as a record; then the same button takes what they gave for the balance."""
        if self.offered is not None:
            return self._take()
        assert self.balance is not None and self.balance.key is not None
        for at, line in enumerate(self.readings):
            if line.text().strip() and self._parsed(at) is None:
                self._on_reading_entered(at)
                line.setFocus()
                return False
        repeat = self.repeat()
        try:
            s = two_digits(repeat.s_g)
        except Refused:
            next(line for line in self.readings if not line.text().strip()).setFocus()
            raise
        weight = self.read(self.weight_field, mass_of, needed=True)
        session = self._session
        if self.check is None:
            what = tr("repeatability of {name}", name=self.balance.name)
            check = BenchCheck(balance=self.balance.key, at=session.book.now(), weight_g=weight, readings=repeat.readings)
            done = session.put(what, check) is not None
        else:
            assert self.check.key is not None
            fields = {"weight_g": weight, "readings": repeat.readings}
            fresh = {name: value for name, value in fields.items() if value != getattr(self.check, name)}
            what = tr("repeatability of {name} corrected", name=self.balance.name)
            done = not fresh or session.do(session.book.correct, self.check.key, what, **fresh) is not None
        if done:
            return not self._offer(s)
        return False

    def _offer(self, s_g: float) -> bool:
        """Offers what was found; whether there is anything to take."""
        assert self.balance is not None
        standing = self._session.book.get(Balance, self.balance.key or 0) or self.balance
        if not s_g > 0 or s_g == standing.s_g:
            return False
        self.offered = s_g
        for line in (self.weight, *self.readings):
            line.setModified(False)
            line.setEnabled(False)
        if standing.s_g is None:
            self.tell(tr("The test is kept. For this balance it is not known until you take what was found."))
        else:
            now = spread_text(standing.s_g)
            self.tell(tr("The test is kept. For this balance it is {spread} until you take what was found.", spread=now))
        self.verb.setText(tr("Take {spread} for this balance", spread=spread_text(s_g)))
        self.verb.setAutoDefault(True)
        self.verb.setFocus(Qt.FocusReason.OtherFocusReason)
        self.leave.setText(tr("Leave it as it is"))
        return True

    def _take(self) -> bool:
        assert self.balance is not None and self.offered is not None
        standing = self._session.book.get(Balance, self.balance.key or 0) or self.balance
        wanted = replace(standing, s_g=self.offered)
        return self._session.put(tr("repeatability of {name}", name=wanted.name), wanted) is not None


def _typed_places(text: str) -> int:
    """Decimals of a figure as typed, zeros at its end too: they are digits the balance showed."""
    _, _, behind = text.strip().casefold().removesuffix("g").strip().replace(",", ".").partition(".")
    return sum(letter.isdigit() for letter in behind)

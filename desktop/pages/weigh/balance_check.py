# SPDX-License-Identifier: MIT
"""The check of the day: level looked at, how long it was on, what it showed for a known weight. A record, corrected, never
overwritten."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from desktop import figures, wording
from desktop.language import tr, tr_count
from desktop.models.balances import beyond_g, check_rows, decimals, is_beyond, is_test, small_text
from desktop.pages.masses import grams, mass_of
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.field import Field
from perfumery import Balance, BenchCheck, Refused, parse_number
from perfumery.findings import refuse

LEVEL: dict[str, bool | None] = {"not looked": None, "yes": True, "no": False}
LEVEL_SHOWN = {"not looked": tr("not looked"), "yes": tr("yes"), "no": tr("no")}
CORRECTS = tr("What was kept stays in the book; this counts from now on.")
BEYOND = tr("Level it, let it warm up, clean the pan and read again; if it stays so, have it adjusted.")


def _minutes(text: str) -> float:
    """'30' or '30 min'."""
    return parse_number(text.casefold().removesuffix("min"))


def _mass_read(text: str) -> float:
    """A mass that was read: 0 or more."""
    value = grams(text)
    if value < 0:
        raise refuse("mass-not-positive", mass_g=value)
    return value


class CheckSheet(Sheet):
    """Begun for a balance, or for a check of it that is to be corrected."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep the check"), parent)
        self.weight, self.weight_field = self.line(tr("check weight, g"), width=120)
        self.read_line, self.read_field = self.line(tr("it shows, g"), tip=tr("Zeroed before"))
        self.warm, self.warm_field = self.line(tr("on for, min"), width=90)
        self.level = Chips(LEVEL_SHOWN, tr("level"), self)
        self.level_field = Field(tr("level"), self.level, tip=tr("Whether its bubble stands in the ring"))
        self.remark, self.remark_field = self.line(tr("remark"))
        self.read_line.setMaximumWidth(session.theme.px(120))
        masses = QHBoxLayout()
        masses.setSpacing(12)
        for field in (self.weight_field, self.warm_field):
            self.column.removeWidget(field)
            masses.addWidget(field, 0, Qt.AlignmentFlag.AlignTop)
        masses.addWidget(self.level_field, 0, Qt.AlignmentFlag.AlignTop)
        masses.addStretch(1)
        self.column.insertLayout(0, masses)
        for line in (self.weight, self.read_line):
            line.textEdited.connect(lambda _: self._show())
        self.balance: Balance | None = None
        self.check: BenchCheck | None = None
        self._shown: dict[QLineEdit, str] = {}

    def start(self, balance: Balance, check: BenchCheck | None = None) -> None:
        """Begins; a new check with the weight used last."""
        self.balance, self.check = balance, check
        if check is None:
            self.title.setText(tr("A check: {balance}", balance=balance.name))
            self.verb.setText(tr("Keep the check"))
            self.tell(self._last(balance))
        else:
            self.title.setText(tr("A check corrected: {balance}", balance=balance.name))
            self.verb.setText(tr("Keep the correction"))
            self.tell(CORRECTS)
        texts = {self.weight: "", self.read_line: "", self.warm: "", self.remark: ""}
        self.level.choose("not looked")
        if check is not None:
            places = max(decimals(balance.d_g), decimals(check.readings[0]))
            warm = "" if check.warm_up_min is None else figures.parts(check.warm_up_min)
            read = f"{check.readings[0]:.{places}f}"
            texts = {self.weight: figures.parts(check.weight_g), self.read_line: read, self.warm: warm, self.remark: check.remark}
            self.level.choose(next(word for word, is_level in LEVEL.items() if is_level == check.level_ok))
        else:
            last = next((row.check for row in check_rows(self._session.book, balance) if not is_test(row.check)), None)
            if last is not None:
                texts[self.weight] = figures.parts(last.weight_g)
        self._shown = texts
        for line, text in texts.items():
            line.setText(text)
        for field in (self.weight_field, self.read_field, self.warm_field, self.remark_field):
            field.say("")
        self.say("")
        self._show()

    def take_focus(self) -> None:
        """The cursor to the weight, or to what is read where the weight stands."""
        line = self.read_line if self.weight.text() else self.weight
        line.setFocus(Qt.FocusReason.ShortcutFocusReason)
        line.selectAll()

    def _last(self, balance: Balance) -> str:
        book = self._session.book
        last = next((row for row in check_rows(book, balance) if not is_test(row.check)), None)
        if last is None:
            return tr("It was not checked yet.")
        days = (book.now().date() - last.check.at.date()).days
        off = figures.unit(last.off, "g")
        if not days:
            return tr("Last checked today: {off}.", off=off)
        if days == 1:
            return tr("Last checked yesterday: {off}.", off=off)
        return tr_count(days, "Last checked {n} day ago: {off}.", "Last checked {n} days ago: {off}.", off=off)

    def _show(self) -> None:
        """What the reading says, beside it, before it is kept."""
        assert self.balance is not None
        try:
            weight, read = mass_of(self.weight.text()), grams(self.read_line.text())
        except Refused:
            self.read_field.say("")
            return
        off = round(read - weight, 9)
        places = max(decimals(self.balance.d_g), decimals(read))
        shown = figures.unit(figures.off(off, 10.0**-places), "g")
        own = f"± {figures.unit(small_text(beyond_g(self.balance)), 'g')} (k = 2)"
        check = BenchCheck(balance=0, at=self._session.book.now(), weight_g=weight, readings=(read,))
        if is_beyond(check, self.balance):
            told = tr("{off}, beyond the {error} of this balance.", off=shown, error=own)
            self.read_field.say(f"{told} {BEYOND}", "amber")
        else:
            self.read_field.say(tr("{off}, within the {error} of this balance.", off=shown, error=own), "quiet")

    def keep(self) -> bool:
        """Puts the check, or the one that replaces it."""
        assert self.balance is not None and self.balance.key is not None
        found: dict[str, Any] = {}
        wrong = False
        for name, field, parse in (("weight_g", self.weight_field, mass_of), ("readings", self.read_field, _mass_read),
                                   ("warm_up_min", self.warm_field, _minutes)):  # fmt: skip
            try:
                value = self.read(field, parse, needed=name != "warm_up_min")
                if name == "warm_up_min" and value is not None and value < 0:
                    field.say(tr("Minutes are 0 or more."))
                    wrong = True
                found[name] = (value,) if name == "readings" else value
            except Refused:
                wrong = True
        if wrong:
            next(field.editor for field in (self.weight_field, self.read_field, self.warm_field) if field.is_wrong).setFocus()
            return False
        most = self.balance.max_g
        if most is not None and found["weight_g"] > most:
            self.weight_field.say(tr("More than this balance carries ({mass}).", mass=figures.unit(figures.parts(most), "g")))
            self.weight.setFocus()
            return False
        found |= {"level_ok": LEVEL[self.level.name], "remark": self.remark.text().strip()}
        return self._put(found)

    def _put(self, found: dict[str, Any]) -> bool:
        session, balance = self._session, self.balance
        assert balance is not None and balance.key is not None
        if self.check is None:
            what = tr("check of {name}", name=balance.name)
            return session.put(what, BenchCheck(balance=balance.key, at=session.book.now(), **found)) is not None
        assert self.check.key is not None
        fresh = {name: value for name, value in found.items() if value != getattr(self.check, name)}
        try:
            what = tr("check of {name} corrected", name=balance.name)
            return not fresh or session.do(session.book.correct, self.check.key, what, **fresh) is not None
        except Refused as fault:
            self.say(wording.sentences(fault.findings))
            return False

# SPDX-License-Identifier: MIT
"""What is booked on one bottle: weighed again, drawn from, set right by name, a record corrected."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QPushButton, QWidget

from db import BottleRow
from desktop import figures, wording
from desktop.language import tr
from desktop.pages.masses import BalanceBox, grams, mass_of
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from desktop.widgets.emptied import empty
from desktop.widgets.field import Field
from perfumery import Move, Refused, weighing

DRAWS = {"used": tr("used up otherwise"), "spill": tr("spilled"), "given": tr("given away")}


class ReweighSheet(Sheet):
    """What the bottle weighs now; says at once what that means for its strength."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Book what was found"), parent)
        self.balance = BalanceBox(session)
        self.balance_field = Field(tr("balance"), self.balance)
        self.column.addWidget(self.balance_field)
        self.gross, self.gross_field = self.line(tr("gross, g"), width=140, tip=tr("Bottle, cap and what is in it"))
        self.net, self.net_field = self.line(tr("net, g"), width=140, tip=tr("What is in it alone"))
        self.remark, _ = self.line(tr("remark"))
        self.gross.textEdited.connect(lambda _: self._show())
        self.net.textEdited.connect(lambda _: self._show())
        self.balance.currentIndexChanged.connect(lambda _: self._show())
        self._row: BottleRow | None = None
        self._doubted: float | None = None

    def start(self, row: BottleRow) -> None:
        """Begins for a bottle; by its gross figure where its tare is known."""
        self._row = row
        self.title.setText(tr("{code} weighed again", code=row.bottle.code))
        self.balance.refresh()
        empty(self.gross, self.net, self.remark)
        for field in (self.gross_field, self.net_field):
            field.say("")
        self._doubted = None
        has_tare = row.bottle.tare_g is not None
        self.gross_field.setVisible(has_tare)
        self.net_field.setVisible(not has_tare)
        self.tell(" ".join(_known(row)) or tr("How much it holds was never booked; this begins its ledger."))
        self.say("")
        (self.gross if has_tare else self.net).setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _figures(self) -> tuple[float, float | None]:
        """(net, gross or None). Raises Refused."""
        assert self._row is not None
        tare = self._row.bottle.tare_g
        if tare is None:
            return self.read(self.net_field, grams, needed=True), None
        gross = self.read(self.gross_field, grams, needed=True)
        if gross < tare:
            mass = figures.mass_text(tare)
            self.gross_field.say(tr("That is less than its tare of {mass}. Weigh it with its cap, or mend the tare.", mass=mass))
            raise Refused()
        return gross - tare, gross

    def _show(self) -> None:
        """The sentence below the field: what is missing and what that says of the strength, before it is booked."""
        row = self._row
        field = self.gross_field if row is not None and row.bottle.tare_g is not None else self.net_field
        try:
            net, _ = self._figures()
        except Refused:
            field.say("")
            return
        if row is not None:
            field.say(self._meaning(row, round(net, 6)), "quiet")

    def _meaning(self, row: BottleRow, net: float) -> str:
        book_g = self._session.book.book_mass(row.key) if row.book_g is not None else None
        said = [tr("It holds {mass}.", mass=figures.mass_text(net))]
        if book_g is not None and book_g > 0:
            said += self._against_book(row, net, book_g)
        return " ".join(said)

    def _against_book(self, row: BottleRow, net: float, book_g: float) -> list[str]:
        missing = round(book_g - net, 6)
        balance = self.balance.balance
        noise = None if balance is None else weighing.K * weighing.found_u(balance)
        if noise is not None and abs(missing) <= noise:
            return [tr("That is the book, as near as this balance sees (± {noise}).", noise=figures.mass_text(noise))]
        if missing < 0:
            return [tr("{mass} more than booked: a draw may be booked that was none.", mass=figures.mass_text(-missing))]
        said = [tr("{mass} are missing against the book.", mass=figures.mass_text(missing))]
        share = None if row.bottle.material is None else row.strength
        if share and net > 0 and row.bottle.carrier is not None:
            said.append(tr(
                "If that was {carrier}, its strength is now between {low} and {high}.", carrier=row.carrier_name,
                low=figures.percent_text(share), high=figures.percent_text(min(share * book_g / net, 1.0)),
            ))  # fmt: skip
        return said

    def _believes(self, net: float) -> bool:
        """A mass far beyond all that ever came in is asked about once; kept again, it is kept."""
        assert self._row is not None
        came = self._row.arrived_g
        if came is None or net <= 1.5 * came or net == self._doubted:
            return True
        self._doubted = net
        field = self.gross_field if self._row.bottle.tare_g is not None else self.net_field
        field.say(tr(
            "{mass} is far more than the {came} that ever came into it. Look at the figure again; Enter once more keeps it.",
            mass=figures.mass_text(net), came=figures.mass_text(came),
        ), "amber")  # fmt: skip
        return False

    def keep(self) -> bool:
        """Books the mass found, by the tare as it stands now."""
        assert self._row is not None
        self._row = self._session.book.bottles.row(self._row.key) or self._row
        net, gross = self._figures()
        if not self._believes(net):
            return False
        done = self._session.do(
            self._session.book.bottles.reweigh, self._row.key, round(net, 9), read_g=gross, balance=self.balance.balance,
            remark=self.remark.text().strip(),
        )  # fmt: skip
        return done is not None


class DrawSheet(Sheet):
    """Mass that left the bottle otherwise than by a weighing; more than is there only after a correction by name."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Book it"), parent)
        self.kind = QComboBox()
        for key, words in DRAWS.items():
            self.kind.addItem(words, key)
        self.column.addWidget(Field(tr("how"), self.kind))
        self.mass, self.mass_field = self.line(tr("mass, g"), width=140)
        self.mass.textEdited.connect(lambda _: self._offer_more(False))
        self.remark, _ = self.line(tr("remark"))
        self.why, self.why_field = self.line(tr("why there was more than booked"))
        self.why.returnPressed.disconnect(self.confirm)
        self.why.returnPressed.connect(self._on_more_clicked)
        self.more = QPushButton(tr("Book the rest as a correction, then this"))
        self.more.setProperty("role", "link")
        self.more.setAutoDefault(False)
        self.more.clicked.connect(self._on_more_clicked)
        self.column.addWidget(self.more)
        self._row: BottleRow | None = None

    def start(self, row: BottleRow) -> None:
        """Begins for a bottle."""
        self._row = row
        self.title.setText(tr("Drawn from {code}", code=row.bottle.code))
        if row.left_g is None:
            left = tr("How much is in it was never booked.")
        else:
            left = tr("{mass} are left.", mass=figures.mass_text(row.left_g))
        self.tell(" ".join((left, tr("What goes into another bottle is booked where that is made."))))
        empty(self.mass, self.remark, self.why)
        for field in (self.mass_field, self.why_field):
            field.say("")
        self._offer_more(False)
        self.say("")
        self.mass.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _offer_more(self, offered: bool) -> None:
        self.why_field.setVisible(offered)
        self.more.setVisible(offered)

    def keep(self) -> bool:
        """Books the draw; where it is more than there is, the correction is offered in place."""
        return self._draw(self.read(self.mass_field, mass_of, needed=True))

    def _draw(self, mass: float, more_g: float = 0.0) -> bool:
        assert self._row is not None
        try:
            done = self._session.do(
                self._session.book.bottles.draw, self._row.key, self.kind.currentData(), mass,
                remark=self.remark.text().strip(), more_g=more_g, why=self.why.text().strip(),
            )  # fmt: skip
        except Refused as fault:
            codes = {finding.code for finding in fault.findings}
            field = self.why_field if "correction-unnamed" in codes else self.mass_field
            field.say(wording.sentences(fault.findings))
            if "beyond-left" in codes:
                self._offer_more(True)
            if codes & {"beyond-left", "correction-unnamed"}:
                self.why.setFocus()
            return False
        return done is not None

    def _on_more_clicked(self) -> None:
        assert self._row is not None
        try:
            mass = self.read(self.mass_field, mass_of, needed=True)
        except Refused:
            return
        left = self._session.book.left(self._row.key).get(self._row.key, 0.0)
        if self._draw(mass, round(max(mass - left, 0.0), 9)):
            self.left.emit()


class CorrectMassSheet(Sheet):
    """The book set right by name, where no record of its own is wrong."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Book the correction"), parent)
        self.mass, self.mass_field = self.line(tr("there is really, g"), width=140)
        self.why, self.why_field = self.line(tr("why the book was wrong"))
        self._row: BottleRow | None = None

    def start(self, row: BottleRow) -> None:
        """Begins for a bottle."""
        self._row = row
        self.title.setText(tr("The book of {code} set right", code=row.bottle.code))
        left = tr("nothing") if row.left_g is None else figures.mass_text(row.left_g)
        self.tell(tr(
            "The book says {left}. A correction stays to be seen in its history, with its reason. What evaporated is found by "
            "weighing it again, not here.", left=left,
        ))  # fmt: skip
        empty(self.mass, self.why)
        for field in (self.mass_field, self.why_field):
            field.say("")
        self.say("")
        self.mass.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def keep(self) -> bool:
        """Books the difference."""
        assert self._row is not None
        self._row = self._session.book.bottles.row(self._row.key) or self._row
        really = self.read(self.mass_field, grams, needed=True)
        if really < 0:
            self.mass_field.say(tr("Less than nothing cannot be in it. Write 0 or more."))
            return False
        difference = round(really - (self._row.left_g or 0.0), 9)
        if not difference:
            self.mass_field.say(tr("That is what the book says already."))
            return False
        try:
            return self._session.do(
                self._session.book.bottles.correct_mass, self._row.key, difference, self.why.text().strip()
            ) is not None  # fmt: skip
        except Refused as fault:
            self.why_field.say(wording.sentences(fault.findings))
            self.why.setFocus()
            return False


class CorrectMoveSheet(Sheet):
    """One line of the ledger corrected, or withdrawn; the earlier one stays in the book."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep the correction"), parent)
        self.mass, self.mass_field = self.line(tr("mass, g"), width=140)
        self.remark, self.remark_field = self.line(tr("remark"))
        self.withdraw = QPushButton(tr("It never was: withdraw it"))
        self.withdraw.setProperty("role", "link")
        self.withdraw.setAutoDefault(False)
        self.withdraw.clicked.connect(self._on_withdraw_clicked)
        self.column.addWidget(self.withdraw)
        self._move: Move | None = None

    def start(self, move: Move, words: str) -> None:
        """Begins for a line of the ledger."""
        self._move = move
        self.title.setText(tr("A line of the ledger corrected"))
        told = tr("{line}. The line as it was stays in the book; this one counts from now on.", line=words)
        is_pour = move.kind == "pour"
        if is_pour:
            again = tr("What its vessel holds is told anew; a bottle that was topped up is set right by hand.")
            told = f"{told} {again}"
        self.tell(told)
        # a pour is told without a remark, and what was poured is in the vessel whatever the figure was
        for part in (self.remark_field, self.withdraw):
            part.setVisible(not is_pour)
        self.mass.setText(figures.parts(move.mass_g))
        self.remark.setText(move.remark)
        self.mass_field.say("")
        self.say("")
        self.mass.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.mass.selectAll()

    def keep(self) -> bool:
        """Puts the line that replaces it."""
        assert self._move is not None and self._move.key is not None
        fields: dict[str, object] = {"remark": self.remark.text().strip()}
        if self.mass.isModified():
            # what was not touched keeps every digit it had
            fields["mass_g"] = self.read(self.mass_field, mass_of, needed=True)
            if self._move.kind == "pour" and not self._move.estimated:
                fields["read_g"] = fields["mass_g"]
        return self._session.do(self._session.book.correct, self._move.key, tr("ledger corrected"), **fields) is not None

    def _on_withdraw_clicked(self) -> None:
        assert self._move is not None and self._move.key is not None
        try:
            done = self._session.do(self._session.book.correct, self._move.key, tr("ledger line withdrawn"), kind="withdrawn")
        except Refused as fault:
            self.say(wording.sentences(fault.findings))
            return
        if done is not None:
            self.left.emit()


def _known(row: BottleRow) -> list[str]:
    """What the book knows of a bottle before it is weighed again, in sentences."""
    said, tare = [], row.bottle.tare_g
    if tare is not None:
        mass = figures.mass_text(tare)
        if row.bottle.tare_inferred:
            said.append(tr("Its tare of {mass}, inferred when it came, is taken off.", mass=mass))
        else:
            said.append(tr("Its tare of {mass} is taken off.", mass=mass))
    if row.book_g is not None:
        book = figures.mass_text(row.book_g)
        if row.found_g is not None and row.left_g is not None:
            left = figures.mass_text(row.left_g)
            said.append(tr("By the book it holds {book}, by its last weighing {left}.", book=book, left=left))
        else:
            said.append(tr("By the book it holds {book}.", book=book))
    return said

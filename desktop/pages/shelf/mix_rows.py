# SPDX-License-Identifier: MIT
"""The table of masses: for each liquid what is meant and what the balance showed, and beside it what speaks against it."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.mix import Lack, Leg, Plan
from desktop.models.mix_words import role_of
from desktop.pages.masses import mass_of
from desktop.pages.shelf.mix_parts import NONE, UNBOOKED, BottleBox
from desktop.session import Session
from desktop.theme import Theme
from desktop.widgets.field import Field
from desktop.widgets.labels import label, name_choices
from perfumery import Balance, Finding, Refused

# So many rows of fields are made in one turn.
ROWS_AT_ONCE = 12

TARGET_WIDTH, READ_WIDTH = 84, 92


class OwnEnterLine(QLineEdit):
    """A line in which Enter has a meaning of its own: on from a reading to the next, a correction to be booked."""

    entered = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.entered.emit()
        else:
            super().keyPressEvent(event)


class MassRow(QWidget):
    """One liquid."""

    edited = Signal()
    chosen = Signal(int, int)
    asked = Signal(object)
    more = Signal()

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.leg: Leg | None = None
        # (g there was more in it than booked, why), once the person has said so
        self.agreed: tuple[float, str] | None = None
        self._difference_g = 0.0
        self.name = label("", wrap=True)
        self.box = BottleBox(self)
        self.code = label("", "caption", wrap=True)
        self.target = QLabel(self)
        self.target.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.target.setFixedWidth(theme.px(TARGET_WIDTH))
        self.read = OwnEnterLine(self)
        self.read.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.read.setFixedWidth(theme.px(READ_WIDTH))
        self.remark = label("", wrap=True)
        self.link = self._link("")
        self.reason = OwnEnterLine(self)
        self.reason.setPlaceholderText(tr("why the book was wrong"))
        self.reason_field = Field(tr("reason of the correction"), self.reason, self)
        self.correct = self._link("")
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(2)
        grid.setColumnStretch(0, 1)
        names = QVBoxLayout()
        names.setSpacing(1)
        # text stands on the line of the text in the field beside it
        names.setContentsMargins(0, 4, 0, 0)
        self.target.setContentsMargins(0, 4, 0, 0)
        named: tuple[QWidget, ...] = (self.name, self.box, self.code)
        for part in named:
            names.addWidget(part)
        grid.addLayout(names, 0, 0)
        grid.addWidget(self.target, 0, 1, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.read, 0, 2, Qt.AlignmentFlag.AlignTop)
        below = QVBoxLayout()
        below.setSpacing(4)
        under: tuple[QWidget, ...] = (self.remark, self.link, self.reason_field, self.correct)
        for part in under:
            below.addWidget(part)
        grid.addLayout(below, 1, 0, 1, 3)
        self.read.textChanged.connect(self._on_read_changed)
        self.box.changed.connect(self._on_box_changed)
        self.link.clicked.connect(self._on_link_clicked)
        self.correct.clicked.connect(self.confirm_more)
        self.reason.entered.connect(self.confirm_more)
        for part in under:
            part.hide()

    def _link(self, text: str) -> QPushButton:
        made = QPushButton(text, self)
        made.setProperty("role", "link")
        made.setAutoDefault(False)
        return made

    # showing ----------------------------------------------------------------------------------------------------------

    def show_leg(self, leg: Leg, d: float, findings: Iterable[Finding], before: str = "") -> None:
        """Shows a liquid; what was read stays. `before` says what was read of it from another bottle."""
        self.leg = leg
        unbooked = leg.unbooked is not None
        several = len(leg.choices) > 1 or bool(leg.gone) or (unbooked and bool(leg.choices))
        self.name.setText(leg.name or leg.code)
        self.box.setVisible(several)
        if several:
            self.box.show_rows(leg.choices, NONE if leg.gone else leg.source, of=leg.line, unbooked=unbooked)
            name_choices(self.box, tr("bottle of {name}", name=leg.name))
        known = [leg.code] if leg.name else []
        if leg.left_g is not None:
            known.append(tr("{mass} left", mass=figures.mass_text(leg.left_g)))
        if unbooked:
            known.append(tr("not in the book yet"))
        self.code.setText("" if several or leg.lack is not None else " · ".join(known))
        self.code.setVisible(bool(self.code.text()))
        self.target.setText(figures.mass(leg.target_g, d))
        self.read.setAccessibleName(tr("read g of {called}", called=leg.called))
        self.read.setEnabled(leg.source is not None)
        self._show_state(leg, tuple(findings), before)

    def _show_state(self, leg: Leg, findings: tuple[Finding, ...], before: str) -> None:
        self.hide_more()
        if leg.lack is not None:
            bought = leg.lack.accord is None and leg.lack.strength == 1
            if bought:
                self.say(tr("No bottle of {name} in the book.", name=leg.name), "amber")
            else:
                self.say(tr("No bottle of {name}: make it first.", name=leg.name), "amber")
            self.link.setText(tr("It stands here, only not in the book yet") if bought else tr("Make it now"))
            self.link.show()
            return
        self.link.hide()
        told = [wording.sentences(findings)]
        if leg.gone:
            told.append(tr("{bottle} is not offered here any more: choose another one.", bottle=leg.gone))
        if before:
            told.append(before)
        if self.agreed is not None:
            told.append(tr("{mass} more than booked go into the book as a correction.", mass=figures.mass_text(self.agreed[0])))
        is_amber = leg.gone or before or any(role_of(one) == "amber" for one in findings)
        self.say(" ".join(filter(None, told)), "amber" if is_amber else "quiet")

    def say(self, sentence: str, role: str = "wrong") -> None:
        """Shows a sentence below the liquid, '' none."""
        self.remark.setProperty("role", role)
        self.remark.style().unpolish(self.remark)
        self.remark.style().polish(self.remark)
        self.remark.setText(sentence)
        self.remark.setVisible(bool(sentence))
        self.read.setAccessibleDescription(sentence)

    @property
    def said(self) -> str:
        """The sentence below the liquid."""
        return "" if self.remark.isHidden() else self.remark.text()

    def value(self) -> float | None:
        """The mass read; None where there is none yet or it cannot be read."""
        try:
            return mass_of(self.read.text())
        except Refused:
            return None

    def check(self) -> float | None:
        """As `value`, and says beside it what is wrong."""
        try:
            return mass_of(self.read.text())
        except Refused as refused:
            self.say(wording.sentences(refused.findings))
            return None

    # more than booked -------------------------------------------------------------------------------------------------

    def offer_more(self, difference_g: float) -> None:
        """Offers to book that there was so much more than the book says."""
        self._difference_g = difference_g
        mass = figures.mass_text(difference_g)
        self.correct.setText(tr("There was more: book {mass} as a correction, then go on", mass=mass))
        self.reason_field.say("")
        self.reason_field.show()
        self.correct.show()
        self.reason.setFocus(Qt.FocusReason.OtherFocusReason)

    def hide_more(self) -> None:
        """Takes the offer away; a reason that was typed stays."""
        self.reason_field.hide()
        self.correct.hide()

    def confirm_more(self) -> None:
        """Agrees to a correction, which is booked together with the mixture; one without a reason is none."""
        why = self.reason.text().strip()
        if not why:
            self.reason_field.say(wording.sentence(Finding("correction-unnamed")))
            self.reason.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        already = 0.0 if self.agreed is None else self.agreed[0]
        self.agreed = (round(already + self._difference_g, 9), why)
        self.more.emit()

    def _on_read_changed(self) -> None:
        if self.remark.property("role") == "wrong" or self.agreed is not None:
            self.say("")
        self.edited.emit()

    def take_back(self) -> None:
        """A correction was for the masses that were read: it goes with them."""
        self.agreed = None
        self.hide_more()

    def _on_box_changed(self) -> None:
        key = self.box.currentData()
        if self.leg is not None and self.leg.line is not None and key is not None:
            self.chosen.emit(self.leg.line, key)

    def _on_link_clicked(self) -> None:
        lack: Lack | None = None if self.leg is None else self.leg.lack
        if self.leg is None or lack is None:
            return
        if lack.accord is None and lack.strength == 1 and self.leg.line is not None:
            self.chosen.emit(self.leg.line, UNBOOKED)
        else:
            self.asked.emit(lack)


class MassRows(QWidget):
    """All liquids of a plan. Signals: `edited`, `chosen(line, bottle)`, `asked(Lack)`, `more()` where a correction was agreed to,
    and `finished` where Enter was pressed in the last reading."""

    edited = Signal()
    chosen = Signal(int, int)
    asked = Signal(object)
    more = Signal()
    finished = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = session.theme
        self.rows: list[MassRow] = []
        self._wanted: tuple[Leg, ...] = ()
        self._typed: dict[object, str] = {}
        self._latest: dict[object, tuple[object, str]] = {}
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(8)
        head = QHBoxLayout()
        head.setSpacing(12)
        captions = [label(text, "caption") for text in (tr("liquid"), tr("target g"), tr("read g"))]
        for caption, width in zip(captions, (0, TARGET_WIDTH, READ_WIDTH), strict=True):
            if width:
                caption.setAlignment(Qt.AlignmentFlag.AlignRight)
                caption.setFixedWidth(self._theme.px(width))
            head.addWidget(caption, 0 if width else 1)
        self._column.addLayout(head)

    def show_plan(self, plan: Plan | None, balance: Balance | None, findings: Iterable[Finding]) -> None:
        """A row for each liquid; a reading stays with its liquid and the bottle it was taken from."""
        legs = () if plan is None else plan.legs
        told = tuple(findings)
        for row in self.rows:
            if row.leg is not None:
                self._note(row.leg, row.read.text().strip())
        self._wanted = legs
        while len(self.rows) < len(legs):
            self._add_row()
            if not len(self.rows) % ROWS_AT_ONCE:
                # a row of fields takes its time to be made, and a long formula has many
                self._theme.turn()
                if self._wanted is not legs:
                    # another plan came meanwhile
                    return
        for row in self.rows[len(legs) :]:
            row.hide()
            row.leg = None
        d = 0.001 if balance is None else balance.d_g
        for row, leg in zip(self.rows, legs, strict=False):
            own = [one for one in told if _concerns(one, leg)]
            if row.leg is None or _of(row.leg) != _of(leg):
                row.agreed = None
                with QSignalBlocker(row.read):
                    row.read.setText(self._typed.get(_of(leg), ""))
            row.show_leg(leg, d, own, "" if row.read.text().strip() else self._before(leg))
            row.show()

    def _note(self, leg: Leg, text: str) -> None:
        of = _of(leg)
        self._typed[of] = text
        if text:
            self._latest[_liquid(leg)] = of, tr(
                "{reading} was read from {code} before: read anew what is taken from this one.", reading=text, code=leg.code
            )
        elif self._latest.get(_liquid(leg), ("", ""))[0] == of:
            # taken out by hand
            del self._latest[_liquid(leg)]

    def _before(self, leg: Leg) -> str:
        """What was read last of a liquid, where that was from another bottle."""
        of, told = self._latest.get(_liquid(leg), (_of(leg), ""))
        return "" if of == _of(leg) or leg.lack is not None else told

    @property
    def is_begun(self) -> bool:
        """Whether a mass was read, for what is shown or for what was shown before."""
        return any(row.read.text().strip() for row in self.shown) or any(self._typed.values())

    def agreed(self) -> dict[int, tuple[float, str]]:
        """{bottle: (g there was more in it than booked, why)} as far as the person has said so."""
        return {row.leg.bottle: row.agreed for row in self.shown
                if row.agreed is not None and row.leg is not None and row.leg.bottle is not None}  # fmt: skip

    @property
    def shown(self) -> list[MassRow]:
        """The rows in use."""
        return [row for row in self.rows if row.leg is not None]

    def reads(self) -> list[float] | None:
        """Every reading; None while one is missing."""
        values = [row.value() for row in self.shown]
        known = [value for value in values if value is not None]
        return known if known and len(known) == len(values) else None

    def check(self) -> list[float] | None:
        """As `reads`, and says beside each row what is wrong; the first such row gets the cursor."""
        values = [(row, row.check()) for row in self.shown if row.leg is not None and row.leg.source is not None]
        wrong = next((row for row, value in values if value is None), None)
        if wrong is not None:
            wrong.read.setFocus(Qt.FocusReason.OtherFocusReason)
            return None
        return [value for _, value in values if value is not None]

    def row_of(self, code: str) -> MassRow | None:
        """The row of a bottle by its code."""
        return next((row for row in self.shown if row.leg is not None and row.leg.code == code), None)

    def _add_row(self) -> None:
        row = MassRow(self._theme, self)
        row.edited.connect(lambda: self._on_edited(row))
        row.chosen.connect(self.chosen)
        row.asked.connect(self.asked)
        row.more.connect(self.more)
        row.read.entered.connect(lambda: self._go_on(row))
        self.rows.append(row)
        self._column.addWidget(row)

    def _on_edited(self, edited: MassRow) -> None:
        """What was agreed of a bottle was agreed for all that is taken from it."""
        for row in self.shown:
            if edited.leg is not None and row.leg is not None and row.leg.bottle == edited.leg.bottle:
                row.take_back()
        self.edited.emit()

    def _go_on(self, row: MassRow) -> None:
        shown = self.shown
        for later in shown[shown.index(row) + 1 :]:
            if later.read.isEnabled():
                later.read.setFocus(Qt.FocusReason.TabFocusReason)
                later.read.selectAll()
                return
        self.finished.emit()


def _of(leg: Leg) -> object:
    """What a reading belongs to: the liquid from this bottle and no other."""
    return _liquid(leg), leg.source


def _liquid(leg: Leg) -> object:
    """The line of a formula, else the liquid by its name."""
    return leg.line if leg.line is not None else leg.name


def _concerns(finding: Finding, leg: Leg) -> bool:
    if finding.code == "below-readability":
        return bool(finding.data["mass_g"] == leg.target_g)
    return bool(finding.data.get("code") == leg.code)

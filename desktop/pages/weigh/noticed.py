# SPDX-License-Identifier: MIT
"""What was noticed before the first drop, beside the plan: what is missing, what is too small, what to take care of."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from desktop import wording
from desktop.language import tr
from desktop.models.balances import TOLERANCES
from desktop.pages.weigh.told import Told
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.labels import label
from perfumery import Finding

USUAL = 0.05
NOTHING_SMALL = tr("Nothing is too small for this balance.")
NO_BALANCE = tr("Say which balance it is weighed on: then what is too small for it is told here.")


class Noticed(QWidget):
    """`linked(target)` for a link in it, `tolerance_chosen()`; the tolerance is kept for the book."""

    linked = Signal(str)
    tolerance_chosen = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.stock = Told(session.theme, tr("What is missing"), self, tone="amber")
        self.head = label(tr("an error that is small enough"), "caption")
        self.chips = Chips(tuple(TOLERANCES), tr("an error that is small enough"), self)
        self.small = Told(session.theme, tr("What is too small for the balance"), self, tone="amber")
        self.cautions = Told(session.theme, tr("What to take care of"), self, tone="quiet")
        self.cautions.setProperty("role", "caption")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.stock)
        column.addSpacing(4)
        for part in (self.head, self.chips, self.small):
            column.addWidget(part)
        column.addSpacing(4)
        column.addWidget(self.cautions)
        self.chips.chosen.connect(self._on_tolerance_chosen)
        for told in (self.stock, self.small):
            told.linkActivated.connect(self.linked)

    def refresh(self) -> None:
        """Shows the tolerance that was chosen last for this book."""
        kept = self._session.settings.number(self._kept_as, USUAL)
        self.chips.choose(next((words for words, share in TOLERANCES.items() if share == kept), "") or self._usual)

    @property
    def tolerance(self) -> float:
        """The relative error of a line up to which nothing is said."""
        return TOLERANCES[self.chips.name]

    def tell(self, stock: Sequence[str], small: Sequence[str], cautions: Sequence[Finding], *, has_balance: bool) -> None:
        """Shows what was noticed, each a list of sentences."""
        self.stock.tell("<br>".join(stock))
        for part in (self.head, self.chips):
            part.setVisible(has_balance)
        nothing = NOTHING_SMALL if has_balance else NO_BALANCE
        self.small.tell("<br>".join(small) or nothing, "amber" if small else "quiet")
        self.cautions.tell("<br>".join(escape(wording.sentence(caution)) for caution in cautions))

    @property
    def _usual(self) -> str:
        return next(words for words, share in TOLERANCES.items() if share == USUAL)

    @property
    def _kept_as(self) -> str:
        return f"tolerance/{self._session.book.uid}"

    def _on_tolerance_chosen(self, _: str) -> None:
        self._session.settings.keep(self._kept_as, self.tolerance)
        self.tolerance_chosen.emit()

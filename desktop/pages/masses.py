# SPDX-License-Identifier: MIT
"""A mass as it is typed, and the balance that showed it: every sheet that takes a mass reads it here."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QWidget

from desktop.session import Session
from perfumery import Balance, parse_number
from perfumery.findings import refuse

_BALANCE = "weigh/balance"


def grams(text: str) -> float:
    """'12.95' or '12,95 g' in g, as typed."""
    return parse_number(text.casefold().removesuffix("g"))


def mass_of(text: str) -> float:
    """The same, refused where it is not more than nothing."""
    mass = grams(text)
    if not mass > 0:
        raise refuse("mass-not-positive", mass_g=mass)
    return mass


class BalanceBox(QComboBox):
    """Which balance showed the figure; the one used last comes first, "not said" is allowed."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.activated.connect(lambda _: session.settings.keep(_BALANCE, self.currentText()))

    def refresh(self) -> None:
        """Reads the balances of the book anew."""
        kept = self._session.settings.text(_BALANCE)
        self.clear()
        balances = [balance for balance in self._session.book.all(Balance) if balance.retired_on is None]
        for balance in balances:
            self.addItem(balance.name, balance)
        self.addItem("not said", None)
        self.setCurrentIndex(max(self.findText(kept), 0))

    @property
    def balance(self) -> Balance | None:
        """The chosen balance."""
        found = self.currentData()
        return found if isinstance(found, Balance) else None

# SPDX-License-Identifier: MIT
"""A mass as it is typed, and the balance that showed it: every sheet that takes a mass takes both from here."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QComboBox, QWidget

from desktop.language import tr
from desktop.models.masses import grams, mass_of, millilitres
from desktop.session import Session
from perfumery import Balance

# kept in the settings, and shown as `NO_BALANCE`
NOT_SAID = "not said"
NO_BALANCE = tr("not said")
__all__ = ["NOT_SAID", "NO_BALANCE", "BalanceBox", "grams", "mass_of", "millilitres"]


class BalanceBox(QComboBox):
    """Which balance showed the figure: the one chosen last in this book, whichever sheet it was; before that the only one there
    is, else "not said". A choice by hand is told by `activated`. The wheel leaves it alone while something else is typed in."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(10)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.activated.connect(lambda _: self._keep())

    def refresh(self, *, keep: bool = False) -> None:
        """Reads the balances of the book anew, without telling of it. The one chosen last is shown; with `keep` what the box
        shows stays as long as it is there, for a sheet on which figures stand already."""
        known = [balance for balance in self._session.book.all(Balance) if balance.retired_on is None]
        choices = [*(str(balance.key) for balance in known), NOT_SAID]
        shown = self._chosen if keep and self.count() else self._session.settings.text(self._kept_as)
        with QSignalBlocker(self):
            self.clear()
            for balance in known:
                self.addItem(balance.name, balance)
            self.addItem(NO_BALANCE, None)
            usual = 0 if len(known) == 1 and not shown else len(known)
            self.setCurrentIndex(choices.index(shown) if shown in choices else usual)

    def choose(self, key: int | None) -> None:
        """Chooses a balance as by hand; None says none."""
        keys = [getattr(self.itemData(at), "key", None) for at in range(self.count())]
        if key in keys:
            self.setCurrentIndex(keys.index(key))
            self._keep()

    @property
    def balance(self) -> Balance | None:
        """The chosen balance."""
        found = self.currentData()
        return found if isinstance(found, Balance) else None

    @property
    def _kept_as(self) -> str:
        return f"balance/{self._session.book.uid}"

    def _keep(self) -> None:
        self._session.settings.keep(self._kept_as, self._chosen)

    @property
    def _chosen(self) -> str:
        return NOT_SAID if self.balance is None else str(self.balance.key)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()

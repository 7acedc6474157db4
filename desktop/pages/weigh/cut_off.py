# SPDX-License-Identifier: MIT
"""Weighings that were cut off, each as a link that takes it up again."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout

from desktop.language import tr
from desktop.session import Session
from desktop.widgets.emptied import take_out
from perfumery import Bottle


class CutOff(QVBoxLayout):
    """One link a weighing; `asked(making key)`."""

    asked = Signal(int)

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self.setSpacing(0)

    def refresh(self) -> None:
        """Reads what is open anew."""
        take_out(self)
        book = self._session.book
        for making in book.weighings.unfinished():
            vial = book.get(Bottle, making.into_bottle)
            done = len({move.line or move.from_bottle for move in book.weighings.poured(making.key or 0)})
            name = making.code or ("" if vial is None else vial.code)
            named = name if vial is None or vial.code == name else tr("{code} in {vial}", code=name, vial=vial.code)
            count = len(making.plan)
            at = min(done + 1, count)
            said = tr("{weighing} was cut off at line {line} of {count}: go on", weighing=named, line=at, count=count)
            button = QPushButton(said)
            button.setProperty("role", "link")
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, key=making.key: self.asked.emit(key))
            self.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

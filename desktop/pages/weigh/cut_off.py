# SPDX-License-Identifier: MIT
"""Weighings that were cut off, each as a link that takes it up again."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout

from desktop.language import tr
from desktop.session import Session
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
        while (item := self.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.deleteLater()
        book = self._session.book
        for making in book.weighings.unfinished():
            vial = book.get(Bottle, making.into_bottle)
            done = len({move.line or move.from_bottle for move in book.weighings.poured(making.key or 0)})
            name = making.code or ("" if vial is None else vial.code)
            into = "" if vial is None else tr(" in {code}", code=vial.code)
            at = tr("line {min} of {plan}", min=min(done + 1, len(making.plan)), plan=len(making.plan))
            button = QPushButton(tr("{name}{into} was cut off at {at}: go on", name=name, into=into, at=at))
            button.setProperty("role", "link")
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, key=making.key: self.asked.emit(key))
            self.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

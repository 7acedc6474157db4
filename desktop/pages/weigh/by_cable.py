# SPDX-License-Identifier: MIT
"""Below the figure field: a stable reading of the balance's cable fills it, and this says so. Enter accepts, as always."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QWidget

from desktop.language import tr
from desktop.models.cable import FigureByCable, kept_cable
from desktop.serial_balance import SerialBalance
from desktop.session import Session
from perfumery import Balance

MARK = tr("by cable")
SIZE = 16


class ByCable(QLabel):
    """Listens while it is on screen and its balance has a port on this computer; else it is empty. `is_wanted` says whether
    the field takes a figure now: it may ask for the code of a bottle first."""

    def __init__(
        self, session: Session, figure: QLineEdit, parent: QWidget | None = None, *, is_wanted: Callable[[], bool] = lambda: True
    ) -> None:
        super().__init__(parent)
        self._session = session
        self._field = figure
        self._is_wanted = is_wanted
        self._balance: Balance | None = None
        self._mode = ""
        self._fault = ""
        self._figure = FigureByCable()
        self.port = SerialBalance(self)
        self.port.opened.connect(lambda: self._say_fault(""))
        self.port.failed.connect(self._say_fault)
        self.port.read.connect(self._on_port_read)
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setAccessibleName(tr("The cable of the balance"))
        self._restyle()
        session.theme.changed.connect(self._restyle)
        figure.textEdited.connect(self._on_figure_edited)
        figure.textChanged.connect(lambda _: self._show())

    @property
    def is_own(self) -> bool:
        """Whether what stands in the field came by cable."""
        return self._figure.is_own(self._field.text())

    def watch(self, balance: Balance | None, mode: str) -> None:
        """The balance of the weighing that begins or is taken up, and how it is weighed."""
        self._balance, self._mode = balance, mode
        if self.isVisible():
            self._listen()

    def accepted(self) -> None:
        """The figure is on disk: what the balance shows now is not offered for the next line."""
        self._figure.was_accepted()
        self._show()

    def _listen(self) -> None:
        cable = None
        if self._balance is not None and self._balance.key is not None:
            cable = kept_cable(self._session.settings, self._session.book.uid, self._balance.key)
        if cable is not None and cable == self.port.cable:
            return
        self._say_fault("")
        if cable is not None and cable.port:
            self.port.start(cable)
        else:
            self.port.stop()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if not event.spontaneous():
            self._listen()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        if not event.spontaneous():
            self.port.stop()

    def _restyle(self) -> None:
        self.setFont(self._session.theme.font(SIZE))

    def _say_fault(self, sentence: str) -> None:
        self._fault = sentence
        self._show()

    def _show(self) -> None:
        """The fault, else whether what the field holds came by cable."""
        role = "amber" if self._fault else "quiet"
        if self.property("role") != role:
            self.setProperty("role", role)
            self.style().unpolish(self)
            self.style().polish(self)
        self.setText(self._fault or (MARK if self.is_own else ""))

    def _on_port_read(self, mass_g: float, is_stable: bool) -> None:
        if self._balance is None or not self._field.isVisible():
            return
        is_offered = is_stable and self._is_wanted()
        text = self._figure.take(self._field.text(), mass_g, is_offered, self._balance.d_g, self._mode)
        if text is not None:
            self._field.setText(text)
            # so that a figure typed by hand takes its place whole
            self._field.selectAll()
        if self._fault:
            self._say_fault("")

    def _on_figure_edited(self, text: str) -> None:
        held = self._figure.was_typed(text, self._mode)
        if held is not None:
            self._field.setText(held)
        self._show()

# SPDX-License-Identifier: MIT
"""What has to be made before the open drafts can be weighed, most wanted first; Enter makes it."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from db import DRAFTS
from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from desktop.models import relabelled
from desktop.models.table import TableModel
from desktop.session import Session
from desktop.widgets.grid import Grid
from perfumery import Material
from perfumery.preparing import Preparation


class PreparationsModel(TableModel[Preparation]):
    """One row a stock that is asked for."""

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        def name(row: Preparation) -> str:
            material = session.book.get(Material, row.material)
            return "" if material is None else material.short

        def stock(row: Preparation) -> str:
            carrier = None if row.carrier is None else session.book.get(Material, row.carrier)
            return figures.stock_text(row.strength, "" if carrier is None else carrier.carrier_name)

        columns = (
            Column("what", tr("material"), name, 150),
            Column("strength", tr("strength"), stock, 120),
            Column("needed", tr("needed"), lambda row: figures.mass(row.needed_g, 0.001), 70, right=True, unit="g"),
            Column("for", tr("for"), lambda row: figures.listed(row.versions), 100),
        )
        super().__init__(columns, parent)

    def identity(self, row: Preparation) -> tuple[int, float, int | None]:
        """The stock."""
        return row.material, row.strength, row.carrier


class PrepareSheet(QWidget):
    """`left`; `wanted(preparation)` when one is to be made."""

    left = Signal()
    wanted = Signal(object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.model = PreparationsModel(session, self)
        title = QLabel(tr("To prepare"), self)
        title.setProperty("role", "heading")
        self.told = QLabel(self)
        self.told.setProperty("role", "quiet")
        self.told.setWordWrap(True)
        self.grid = Grid(session.theme, session.settings, "preparations", "what", self)
        self.grid.setAccessibleName(tr("To prepare"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.make = QPushButton(tr("Make this one"), self)
        self.make.setProperty("role", "primary")
        leave = QPushButton(tr("Leave it"), self)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 16)
        column.setSpacing(10)
        for part in (title, self.told):
            column.addWidget(part)
        column.addWidget(self.grid, 1)
        buttons = QHBoxLayout()
        for button in (self.make, leave):
            buttons.addWidget(button)
        buttons.addStretch(1)
        column.addLayout(buttons)
        self._rest = QWidget(self)
        column.addWidget(self._rest, 1)
        self.make.clicked.connect(self._on_make_clicked)
        self.grid.entered.connect(lambda _: self._on_make_clicked())
        self.grid.doubleClicked.connect(lambda _: self._on_make_clicked())
        leave.clicked.connect(self.left)

    def start(self) -> None:
        """Reads anew what is asked for."""
        rows = self._session.book.bottles.preparations()
        self.model.show_rows(rows)
        if rows:
            told = tr("Written in drafts that were not weighed yet, and in no bottle. Needed is what those drafts take together.")
            stocks = ((row.material, row.strength, row.carrier) for row in rows)
            told = "\n".join((told, *relabelled.sentences(self._session.book, stocks)))
        else:
            told = tr(
                "Everything that open drafts ask for stands on the shelf (the newest {drafts} are asked).", drafts=DRAFTS
            )
        self.told.setText(told)
        self.make.setVisible(bool(rows))
        self.grid.setVisible(bool(rows))
        self._rest.setVisible(not rows)
        if rows:
            self.grid.go_to(self.model.index(0, 0))
            self.grid.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _on_make_clicked(self) -> None:
        place = self.grid.currentIndex().row()
        if 0 <= place < self.model.rowCount():
            self.wanted.emit(self.model.row(place))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return
        super().keyPressEvent(event)

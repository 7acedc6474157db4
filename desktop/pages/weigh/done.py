# SPDX-License-Identifier: MIT
"""What a trial became: intended and as weighed side by side, each share with what the balance leaves open."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from desktop import figures
from desktop.columns import Column
from desktop.models.table import TableModel
from desktop.session import Session
from desktop.widgets.grid import Grid
from perfumery import Bottle, Making, Material, Version, compose


@dataclass(frozen=True, slots=True)
class WeighedRow:
    """One material of a trial: what was meant and what it truly is, parts per thousand, expanded."""

    material: int
    name: str
    intended: float
    weighed: float

    @property
    def change(self) -> float | None:
        """The relative change from what was meant, None where nothing was."""
        return None if not self.intended else self.weighed / self.intended - 1


def _change(row: WeighedRow) -> str:
    return "new" if row.change is None else figures.signed(round(row.change * 100, 2))


COLUMNS: tuple[Column[WeighedRow], ...] = (
    Column("name", "material", lambda row: row.name, 200),
    Column("intended", "intended", lambda row: figures.per_thousand(row.intended), 90, right=True, unit="‰"),
    Column("weighed", "as weighed", lambda row: figures.per_thousand(row.weighed), 100, right=True, unit="‰"),
    Column("change", "change", _change, 90, right=True, unit="%"),
)


class WeighedModel(TableModel[WeighedRow]):
    """Read only."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(COLUMNS, parent)

    def identity(self, row: WeighedRow) -> int:
        """The material."""
        return row.material


class DoneSheet(QWidget):
    """`left`; `smelling_asked(vial)` to thin the trial for smelling."""

    left = Signal()
    smelling_asked = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._vial: int | None = None
        self._making: int | None = None
        self.title = QLabel(self)
        self.title.setProperty("role", "title")
        self.told = QLabel(self)
        self.told.setProperty("role", "quiet")
        self.model = WeighedModel(self)
        self.grid = Grid(session.theme, session.settings, "weighed", "name", self)
        self.grid.setAccessibleName("Intended and as weighed")
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.smell = QPushButton("Thin it for smelling", self)
        self.smell.setProperty("role", "primary")
        self.smell.clicked.connect(self._on_smell_clicked)
        leave = QPushButton("Weigh another", self)
        leave.clicked.connect(self.left)
        self.sheet = QPushButton("Sheet as PDF…", self)
        self.sheet.clicked.connect(self._on_sheet_clicked)
        buttons = QHBoxLayout()
        buttons.addWidget(self.smell)
        buttons.addWidget(leave)
        buttons.addWidget(self.sheet)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 12)
        column.setSpacing(8)
        column.addWidget(self.title)
        column.addWidget(self.told)
        column.addWidget(self.grid, 1)
        column.addLayout(buttons)

    def start(self, vial: int) -> None:
        """Shows the trial in a vial."""
        book = self._session.book
        self._vial = vial
        bottle = book.get(Bottle, vial)
        making = next(iter(book.all(Making, into_bottle=vial)), None)
        if bottle is None or making is None or making.key is None:
            return
        self._making = making.key
        version = None if making.version is None else book.get(Version, making.version)
        meant: dict[int, float] = {}
        if version is not None:
            composed = compose(version, book.shelf(version))
            meant = {key: parts / composed.total_parts * 1000 for key, parts in composed.expanded.items()}
        true = book.as_weighed(making.key)
        rows = []
        for key in sorted({*meant, *true}, key=lambda key: -true.get(key, 0.0)):
            material = book.get(Material, key)
            name = "" if material is None else material.short
            rows.append(WeighedRow(key, name, meant.get(key, 0.0), true.get(key, 0.0)))
        self.model.show_rows(rows)
        self.title.setText(f"{making.code or bottle.code} as weighed")
        mass = figures.mass_text(book.book_mass(vial), 0.001)
        self.told.setText(f"{mass} in {bottle.code}{f' of {version.code}' if version else ''}. Strips from it belong to what was "
                          "weighed; intended and as weighed stay side by side for ever.")  # fmt: skip
        self.smell.setVisible(bottle.kind == "trial")
        self.smell.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_smell_clicked(self) -> None:
        if self._vial is not None:
            self.smelling_asked.emit(self._vial)

    def _on_sheet_clicked(self) -> None:
        from desktop.pages.weigh.sheet_pdf import ask_sheet

        if self._making is not None:
            ask_sheet(self, self._session, self._making)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return
        super().keyPressEvent(event)

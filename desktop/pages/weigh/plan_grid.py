# SPDX-License-Identifier: MIT
"""The plan before the first drop as a grid: Alt+Up and Alt+Down move a line, Enter leads to its bottles."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QWidget

from desktop.language import tr
from desktop.models.plan_rows import PlanModel
from desktop.models.weigh import PlanRow
from desktop.session import Session
from desktop.widgets.grid import Grid

VIEW = "plan before"


class PlanGrid(Grid):
    """The column of accords is there only while one is opened, unless the columns were chosen by hand."""

    def __init__(self, session: Session, model: PlanModel, parent: QWidget | None = None) -> None:
        super().__init__(session.theme, session.settings, VIEW, "name", parent, roomy={"stock": 170, "inside": 170})
        self.setAccessibleName(tr("What is to be weighed"))
        self.enter_edits = False
        self.show_model(model)

    def fit_columns(self, *, opened: bool) -> None:
        """Takes the column of accords away while none is opened."""
        by_hand = self._settings.columns(VIEW) is not None
        usual = tuple(column.key for column in self.table.columns if column.key != "inside")
        self.show_only(None if opened or by_hand else usual)

    @property
    def current(self) -> PlanRow | None:
        """The row the keys act on."""
        place, model = self.currentIndex().row(), self.table
        row: PlanRow | None = model.row(place).row if 0 <= place < model.rowCount() else None
        return row

    def go_to_line(self, was: PlanRow | None) -> None:
        """To where a row stands now: its line, what its accord was opened into, or the accord it was opened from; else the
        first."""
        rows = [view.row for view in self.table.rows]
        ways = () if was is None else (
            [at for at, row in enumerate(rows) if row.planned.line == was.planned.line],
            [at for at, row in enumerate(rows) if was.accord_line is not None and row.accord_line == was.accord_line],
        )  # fmt: skip
        place = next((found[0] for found in ways if found), 0)
        self.go_to(self.table.index(place, max(self.currentIndex().column(), 0)))

    def choose_columns(self, keys: Iterable[str]) -> None:
        """As any grid; what a hand chose is no longer fitted."""
        super().choose_columns(keys)
        self.show_only(None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if is_enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            event.ignore()  # the page begins with it, wherever the focus is
            return
        super().keyPressEvent(event)

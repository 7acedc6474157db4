# SPDX-License-Identifier: MIT
"""The current line of a plan: why it stands there, which bottle it comes from, what would do where it is too small."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeyEvent
from PySide6.QtWidgets import QFrame, QLabel, QVBoxLayout, QWidget

from desktop.language import tr
from desktop.models.before import OPENED, WHOLE
from desktop.models.bottle_choices import ChoiceModel, choices
from desktop.models.weigh import PlanRow
from desktop.pages.weigh.told import Told
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label

WAYS = {WHOLE: tr("from its bottle"), OPENED: tr("opened")}
SHOWN = 4
CHIP_PADDING = 24


class LinePanel(QFrame):
    """`bottle_chosen(line, bottle)`, `accord_chosen(accord line, way)`, `linked(target)` for a remedy, `left` on Escape."""

    bottle_chosen = Signal(int, int)
    accord_chosen = Signal(int, str)
    linked = Signal(str)
    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._row: PlanRow | None = None
        self.setProperty("role", "inline")
        self.name = label("", "strong", wrap=True)
        self.why = label("", "quiet", wrap=True)
        self.ways = Chips(WAYS, tr("accord"), self)
        self.model = ChoiceModel(self)
        self.grid = Grid(session.theme, session.settings, "bottles of a line", "lot", self)
        self.grid.setAccessibleName(tr("Bottles this line can come from"))
        self.grid.enter_edits = False
        self.grid.setVerticalScrollMode(Grid.ScrollMode.ScrollPerPixel)
        self.grid.show_model(self.model)
        self.none = QLabel(tr("No bottle holds it. Make it on the Shelf (Ctrl+2, To prepare)."), self)
        self.none.setProperty("role", "amber")
        self.none.setWordWrap(True)
        self.remedies = Told(session.theme, tr("What would do for this line"), self)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(4)
        for part in (self.name, self.why, self.ways, self.grid, self.none, self.remedies):
            column.addWidget(part)
        self.ways.chosen.connect(self._on_way_chosen)
        self.grid.entered.connect(self._take)
        self.grid.toggle_asked.connect(self._take)
        self.grid.clicked.connect(lambda index: self._take(index.row()))
        self.grid.given_up.connect(lambda _: self.left.emit())
        self.remedies.linkActivated.connect(self.linked)

    def show_row(self, row: PlanRow | None, amount: str, why: str, remedies: Sequence[str], *, has_bottle: bool) -> None:
        """Shows a line; `has_bottle` whether a bottle of the accord stands that it is, or was opened from."""
        self._row = row
        self.setVisible(row is not None)
        if row is None:
            return
        self.name.setText(" · ".join(filter(None, (f"{row.name} {row.stock}".strip(), amount))))
        self.why.setText(tr("{why} Of {accord}.", why=why, accord=row.inside) if row.inside else why)
        self.ways.setVisible(row.accord_line is not None)
        self.ways.choose(OPENED if row.version is None else WHOLE)
        self.ways.buttons[WHOLE].setEnabled(has_bottle)
        self.ways.buttons[WHOLE].setToolTip("" if has_bottle else tr("No bottle of it stands on the shelf"))
        taken = None if row.bottle is None else row.bottle.key
        self.model.show_rows(choices(row.choices, taken, row.planned.target_g, self._session.book.now().date()))
        place = next((at for at, choice in enumerate(self.model.rows) if choice.is_taken), 0)
        self.grid.go_to(self.model.index(place, 0))
        self.grid.setVisible(bool(row.choices))
        self.none.setVisible(not row.choices)
        self.remedies.tell("<br>".join(remedies))
        self.fit()

    def take_focus(self) -> None:
        """The focus to the bottles, or to the chips of an accord that has none."""
        if self._row is not None and self._row.choices:
            self.grid.setFocus(Qt.FocusReason.ShortcutFocusReason)
        elif self._row is not None and self._row.accord_line is not None:
            self.ways.buttons[self.ways.name].setFocus(Qt.FocusReason.ShortcutFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def fit(self) -> None:
        """As high as its bottles, up to a few: more of them are scrolled to; as wide as the chosen word, which is bold."""
        rows = min(max(self.model.rowCount(), 1), SHOWN)
        head = self.grid.horizontalHeader().sizeHint().height()
        self.grid.setFixedHeight(head + rows * self._session.theme.row_height(self.window().height()) + 2)
        bold = QFontMetrics(self._session.theme.font(bold=True))
        for button in self.ways.buttons.values():
            button.setMinimumWidth(bold.horizontalAdvance(button.text()) + CHIP_PADDING)

    def _take(self, place: int) -> None:
        row = self._row
        if row is not None and row.planned.line is not None and 0 <= place < self.model.rowCount():
            self.bottle_chosen.emit(row.planned.line, self.model.row(place).row.key)

    def _on_way_chosen(self, way: str) -> None:
        if self._row is not None and self._row.accord_line is not None:
            self.accord_chosen.emit(self._row.accord_line, way)

# SPDX-License-Identifier: MIT
"""Which balance a formula needs: on each the smallest trial whose smallest line can still be weighed, and what that costs."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.balances import TOLERANCES, Comparison, TrialsModel, compared
from desktop.session import Session
from desktop.widgets.chips import Chips
from desktop.widgets.field import Field
from desktop.widgets.grid import Grid
from desktop.widgets.labels import label
from perfumery import Balance, Refused, Version

ROWS_AT_MOST = 6
# More versions of other projects than anybody looks through in a list.
OTHERS = 500
DEFAULT = 0.05


class CompareView(QWidget):
    """Every balance in use side by side; `left` on Escape."""

    left = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._against: int | None = None
        self.title = label(tr("The smallest trial on each balance"), "heading", wrap=True)
        self.version = QComboBox(self)
        tip = tr("Of other projects only the newest are offered: choose an older one on the Bench before.")
        self.version_field = Field(tr("version"), self.version, self, tip=tip)
        self.tolerance = Chips(tuple(TOLERANCES), tr("error of its smallest line"), self)
        self.tolerance.choose(next(words for words, share in TOLERANCES.items() if share == DEFAULT))
        self.tolerance_field = Field(tr("its smallest line may err by"), self.tolerance, self)
        self.told = label("", "quiet", wrap=True)
        self.model = TrialsModel(session.book.currency, self)
        self.grid = Grid(session.theme, session.settings, "balances compared", "name", self)
        self.grid.setAccessibleName(tr("The smallest trial on each balance"))
        self.grid.enter_edits = False
        self.grid.show_model(self.model)
        self.saved = label("", "strong", wrap=True)
        self.noted = label("", "amber", wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(10)
        for part in (self.title, self.version_field, self.tolerance_field, self.told, self.grid, self.saved, self.noted):
            column.addWidget(part)
        column.addStretch(1)
        self.version.activated.connect(lambda _: self.refresh())
        self.tolerance.chosen.connect(lambda _: self.refresh())
        self.grid.selectionModel().currentRowChanged.connect(self._on_row_changed)
        self.grid.given_up.connect(lambda _: self.left.emit())

    def start(self, against: Balance | None) -> None:
        """Begins with the version chosen elsewhere; what is saved is told against this balance."""
        self._against = None if against is None else against.key
        self._fill(self._session.version_key)
        self.refresh()

    def take_focus(self) -> None:
        """The focus to the version."""
        self.version.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _fill(self, chosen: int | None) -> None:
        """The versions of the chosen project first, the newest first; then the newest of the others."""
        own = self._session.project_key
        standing = [(key, project == own, f"{code}  {name}".strip())
                    for key, project, gone, name, code in sorted(self._session.book.version_names()) if not gone]  # fmt: skip
        first = [(key, shown) for key, is_own, shown in reversed(standing) if is_own]
        others = [(key, shown) for key, is_own, shown in reversed(standing) if not is_own]
        self.version.clear()
        for key, shown in (*first, *others[:OTHERS]):
            self.version.addItem(shown, key)
        self.version.setCurrentIndex(max(self.version.findData(chosen), 0) if self.version.count() else -1)

    def refresh(self) -> None:
        """Reckons anew."""
        book = self._session.book
        key = self.version.currentData()
        version = None if key is None else book.get(Version, key)
        balances = [balance for balance in book.all(Balance) if balance.retired_on is None]
        tolerance = TOLERANCES[self.tolerance.name]
        found, wrong = None, ""
        if version is not None:
            try:
                found = compared(book, version, balances, tolerance)
            except Refused as fault:
                wrong = wording.sentences(fault.findings)
        self.model.show_rows(() if found is None else found.trials)
        self.grid.setVisible(found is not None)
        self.told.setText(self._about(found) if found is not None else wrong or self._missing(version, balances))
        self.saved.setText("" if found is None else self._saving(found))
        heavy = [] if found is None else [trial.balance.name for trial in found.trials if trial.is_too_heavy]
        self.noted.setText(tr("More than {balances} can carry.", balances=figures.listed(heavy)) if heavy else "")
        for part in (self.saved, self.noted):
            part.setVisible(bool(part.text()))
        self._fit()

    def _missing(self, version: Version | None, balances: list[Balance]) -> str:
        if version is None:
            return tr("No formula was written yet. Write one on the Bench; here stands what each balance needs of it.")
        if not balances:
            return tr("No balance is in use. Enter one, or take one back into use.")
        return tr("{code} has no parts yet.", code=version.code)

    def _about(self, found: Comparison) -> str:
        share = figures.percent_text(found.smallest)
        if found.cost_per_g is None:
            return tr("Its smallest line is {line}, {share} of it; no price is known.", line=found.line, share=share)
        price = figures.money(found.cost_per_g, self._session.book.currency, at_least=found.at_least)
        return tr("Its smallest line is {line}, {share} of it; a gram costs {price}.", line=found.line, share=share, price=price)

    def _saving(self, found: Comparison) -> str:
        best, *others = found.trials
        other = next((trial for trial in others if trial.balance.key == self._against), others[0] if others else None)
        if other is None:
            return tr("Enter a second balance to compare.")
        if not other.more_g > 0:
            return tr("{balance} and {other} need the same.", balance=best.balance.name, other=other.balance.name)
        named = {"balance": best.balance.name, "other": other.balance.name}
        mass = figures.unit(figures.fixed(other.more_g, 2), "g")
        if other.more_cost is None:
            return tr("{balance} saves {mass} a trial against {other}.", mass=mass, **named)
        sign = figures.SYMBOLS.get(self._session.book.currency, self._session.book.currency)
        cost = figures.unit(figures.fixed(other.more_cost, 2), sign)
        if found.at_least:
            return tr("{balance} saves {mass} = at least {cost} a trial against {other}.", mass=mass, cost=cost, **named)
        return tr("{balance} saves {mass} = {cost} a trial against {other}.", mass=mass, cost=cost, **named)

    def _on_row_changed(self, current: QModelIndex, before: QModelIndex) -> None:
        """What is saved is told against the balance that is pointed at."""
        if self.grid.hasFocus() and current.isValid():
            self._against = self.model.row(current.row()).balance.key
            self.refresh()

    def _fit(self) -> None:
        """As high as its rows."""
        rows = min(max(self.model.rowCount(), 1), ROWS_AT_MOST)
        grid = self.grid
        grid.setFixedHeight(grid.horizontalHeader().sizeHint().height() + rows * grid.verticalHeader().defaultSectionSize() + 4)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return
        super().keyPressEvent(event)

# SPDX-License-Identifier: MIT
"""All shown strips at one reading time: 'all at 8 h' and what each was then."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QComboBox, QHBoxLayout, QWidget

from desktop import figures
from desktop.language import tr
from desktop.models.strips import StripCard, all_at
from desktop.widgets.labels import label, name_choices


class OneTime(QWidget):
    """A chooser of reading times and the line that answers it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._cards: Sequence[StripCard] = ()
        self.times = QComboBox()
        name_choices(self.times, tr("Compare all curves at"))
        self.answer = label("", "caption", wrap=True)
        self.answer.setMinimumWidth(60)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.times)
        row.addWidget(self.answer, 1)
        self.times.currentIndexChanged.connect(self._on_times_chosen)

    def show_cards(self, cards: Sequence[StripCard]) -> None:
        """Compares these strips; the time chosen before stays chosen."""
        self._cards = cards
        times = sorted({point.due_s for card in cards for point in card.points})
        if self._known != times:
            kept = self.times.currentData()
            self.times.blockSignals(True)
            self.times.clear()
            self.times.addItem(tr("all at…"), None)
            for due in times:
                self.times.addItem(tr("all at {time}", time=figures.due_text(due)), due)
            self.times.setCurrentIndex(max(self.times.findData(kept), 0))
            self.times.blockSignals(False)
        self._on_times_chosen()

    def choose(self, due_s: float | None) -> None:
        """Compares at a reading time, in seconds after the dip; None compares nothing."""
        self.times.setCurrentIndex(0 if due_s is None else max(self.times.findData(due_s), 0))

    def choose_near(self, hours: float) -> None:
        """Compares at the reading time nearest to an elapsed time."""
        if self._known:
            self.choose(min(self._known, key=lambda due: abs(due - hours * 3600)))

    @property
    def _known(self) -> list[float]:
        return [self.times.itemData(place) for place in range(1, self.times.count())]

    def _on_times_chosen(self) -> None:
        due = self.times.currentData()
        self.answer.setText("" if due is None else all_at(self._cards, due).partition(": ")[2])

# SPDX-License-Identifier: MIT
"""A row of words to filter by: one of them is chosen, or none where that is allowed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from PySide6.QtCore import QEvent, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QShowEvent
from PySide6.QtWidgets import QSizePolicy, QToolButton, QWidget

from desktop.widgets.flow import Flow

SHORT = 240


class Chips(QWidget):
    """`chosen(name)`, '' for none. Left and right move along the row, Space chooses. `names` are the words themselves, or
    {name: word as it is shown}."""

    chosen = Signal(str)

    def __init__(
        self, names: Iterable[str] | Mapping[str, str], label: str, parent: QWidget | None = None, *, optional: bool = False
    ) -> None:
        super().__init__(parent)
        self._optional = optional
        self._shown = dict(names) if isinstance(names, Mapping) else {name: name for name in names}
        self._choosing = False
        self.setAccessibleName(label)
        self.buttons = {name: QToolButton(self) for name in self._shown}
        row = Flow(self, spacing=2)
        for name, button in self.buttons.items():
            button.setText(self._shown[name])
            button.setCheckable(True)
            button.setProperty("role", "chip")
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            button.setAccessibleName(f"{label}: {self._shown[name]}")
            # not `clicked`: a screen reader toggles what can be checked
            button.toggled.connect(lambda on, name=name: self._on_toggled(name, on))
            row.addWidget(button)
        policy = QSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        if not optional and self._shown:
            self.choose(next(iter(self._shown)))
        self._fit()

    @property
    def name(self) -> str:
        """What is chosen, '' for none."""
        return next((name for name, button in self.buttons.items() if button.isChecked()), "")

    def minimumSizeHint(self) -> QSize:
        # a short row stays in one line, a long one goes on in the next rather than push its neighbours away
        one_line, least = self.sizeHint(), super().minimumSizeHint()
        return QSize(max(min(one_line.width(), SHORT), least.width()), least.height())

    def choose(self, name: str) -> None:
        """Chooses one without being asked; '' none."""
        self._choosing = True
        for own, button in self.buttons.items():
            button.setChecked(own == name)
        self._choosing = False

    def count(self, counts: dict[str, int]) -> None:
        """Shows behind each word how many it would leave; a word that would leave none is not offered unless chosen."""
        for name, button in self.buttons.items():
            number = counts.get(name, 0)
            button.setText(f"{self._shown[name]} {number}" if number else self._shown[name])
            button.setEnabled(bool(number) or button.isChecked())
        self._fit()

    def _fit(self) -> None:
        """Room for the word that is chosen: it is written bold, and Qt sizes a button by its other font."""
        for button in self.buttons.values():
            usual = button.font()
            bold = QFont(usual)
            bold.setBold(True)
            wider = QFontMetrics(bold).horizontalAdvance(button.text()) - QFontMetrics(usual).horizontalAdvance(button.text())
            button.setMinimumWidth(0)
            button.setMinimumWidth(button.sizeHint().width() + max(wider, 0))

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange) and hasattr(self, "buttons"):
            self._fit()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._fit()

    def _on_toggled(self, name: str, on: bool) -> None:
        if not self._choosing:
            self.choose(name if on or not self._optional else "")
            self.chosen.emit(self.name)

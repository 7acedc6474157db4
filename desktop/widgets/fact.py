# SPDX-License-Identifier: MIT
"""One figure about the whole, with its caption above: read at a glance, changed by typing over it."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt, Signal
from PySide6.QtGui import QFocusEvent, QFontMetrics, QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QSizePolicy, QVBoxLayout, QWidget

from desktop.help_text import sums
from desktop.theme import CAPTION, Theme
from desktop.widgets.why import Why

# How far a flat field's text stands in from its edge: border, padding and the line edit's own margin.
INDENT = 6


class Fact(QWidget):
    """`committed(text)` when something else was typed. A text that was refused stays until mended or Escape. `sum` names the sum
    in the help that it is worked out by."""

    committed = Signal(str)

    def __init__(
        self, theme: Theme, caption: str, *, editable: bool = True, sum: str = "", parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._sum = sum
        self._shown = ""
        self._editing = ""
        self.caption = QLabel(caption, self)
        self.caption.setProperty("role", "caption")
        self.field = _FactField(self)
        self.field.setProperty("role", "flat")
        self.field.setReadOnly(not editable)
        self.field.setAccessibleName(caption)
        self.caption.setBuddy(self.field)
        self.field.editingFinished.connect(self._on_field_finished)
        self.field.textChanged.connect(self._fit)
        self.field.left.connect(self.reset)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.caption)
        column.addWidget(self.field)
        self.caption.setContentsMargins(INDENT, 0, 0, 0)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed()

    @property
    def text(self) -> str:
        """What stands in the field."""
        return self.field.text()

    def show_text(self, text: str, tip: str = "", tone: str = "ink") -> None:
        """Shows a figure; a text being typed or refused is left alone."""
        tip = "\n".join(filter(None, (tip, sums()[self._sum].tip if self._sum else "")))
        self.field.setToolTip(tip)
        self.field.setAccessibleDescription(tip)
        if self.field.text() == self._shown or not self.field.isModified():
            self._shown = text
            self.field.setText(text)
            self.field.setCursorPosition(0)
        self._shown = text
        if self.field.property("tone") != tone:
            self.field.setProperty("tone", tone)
            self.field.style().unpolish(self.field)
            self.field.style().polish(self.field)

    def why(self) -> Why | None:
        """The sum of this figure."""
        if not self._sum or not self._shown:
            return None
        place = QRect(self.field.mapToGlobal(self.field.rect().topLeft()), self.field.size())
        return Why(self._sum, f"{self.caption.text()}: {self._shown}", place)

    def accept(self) -> None:
        """The typed text was taken: the next figure may be shown over it."""
        self.field.setModified(False)

    def reset(self) -> None:
        """Gives the typed text up for the figure in force."""
        self.field.setModified(False)
        self.field.setText(self._shown)

    def _on_field_finished(self) -> None:
        text = self.field.text().strip()
        if not self.field.isModified() or self.field.isReadOnly():
            return
        if text == self._shown:
            self.reset()
        self.committed.emit(text)

    def _fit(self, text: str) -> None:
        metrics = QFontMetrics(self._theme.font(bold=True))
        caption = QFontMetrics(self._theme.font(CAPTION)).horizontalAdvance(self.caption.text())
        self.field.setFixedWidth(max(metrics.horizontalAdvance(text) + 16, caption + 10, self._theme.px(44)))

    def _on_theme_changed(self) -> None:
        self.field.setFont(self._theme.font(bold=True))
        self._fit(self.field.text())


class _FactField(QLineEdit):
    """Selects all when it is reached, so that a new figure is typed over the old one."""

    left = Signal()
    _is_reached = False

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self._is_reached = event.reason() == Qt.FocusReason.MouseFocusReason and not self.isModified()
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason,
                              Qt.FocusReason.ShortcutFocusReason):  # fmt: skip
            self.selectAll()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        # the press that gave the focus set the cursor; the next one sets it for good
        super().mouseReleaseEvent(event)
        if self._is_reached and not self.hasSelectedText():
            self.selectAll()
        self._is_reached = False

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.isModified():
            self.left.emit()
            self.selectAll()
            return
        super().keyPressEvent(event)

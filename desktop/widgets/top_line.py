# SPDX-License-Identifier: MIT
"""The line over every page: what is due at the left, the field that finds at the right."""

from __future__ import annotations

from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget

from desktop.theme import Theme
from desktop.widgets.due_line import DueLine
from desktop.widgets.find_field import FindField


class TopLine(QWidget):
    """Both, with a hairline below."""

    def __init__(self, theme: Theme, due: DueLine, find: FindField) -> None:
        super().__init__()
        self._theme, self._find = theme, find
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 0, 16, 1)
        row.setSpacing(16)
        row.addWidget(due, 1)
        row.addWidget(find)
        self._on_theme_changed()
        theme.changed.connect(self._on_theme_changed)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.colour("ground"))
        painter.setPen(self._theme.colour("hairline"))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)

    def _on_theme_changed(self) -> None:
        self.setFixedHeight(self._theme.px(36))
        self._find.setFixedWidth(self._theme.px(210))
        self.update()

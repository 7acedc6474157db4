# SPDX-License-Identifier: MIT
"""A page of words and few fields: one column of readable width in the middle."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from desktop.theme import Theme

WIDTH = 640


class CentredPage(QScrollArea):
    """Scrolls where it is too long for the window. `begin` gives a fresh column to fill."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._column: QWidget | None = None
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # its fields have it
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        theme.changed.connect(self._on_theme_changed)

    def begin(self, top: int = 48, spacing: int = 12) -> QVBoxLayout:
        """An empty column in place of what was there, `top` px below the edge."""
        inner, self._column = QWidget(), QWidget()
        across = QHBoxLayout(inner)
        across.setContentsMargins(24, top, 24, 24)
        across.addStretch(1)
        across.addWidget(self._column, 1000)
        across.addStretch(1)
        rows = QVBoxLayout(self._column)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(spacing)
        self._on_theme_changed()
        self.setWidget(inner)
        return rows

    def _on_theme_changed(self) -> None:
        if self._column is not None:
            self._column.setMaximumWidth(self._theme.px(WIDTH))

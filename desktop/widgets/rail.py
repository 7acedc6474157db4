# SPDX-License-Identifier: MIT
"""The rail at the left: one word and one drawing for each page."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QRect, QSize, Qt, Signal
from PySide6.QtGui import QAction, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QVBoxLayout, QWidget

from desktop.language import tr
from desktop.theme import CAPTION, Theme
from desktop.widgets.icons import pixmap

NARROW, WIDE = 64, 88
WIDE_FROM = 1600
ICON = 24


class Rail(QWidget):
    """Buttons that follow checkable actions, one for each page; wider in a wide window."""

    chosen = Signal(str)

    def __init__(self, theme: Theme, pages: Sequence[tuple[str, QAction]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setAccessibleName(tr("Pages"))
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 12, 0, 0)
        rows.setSpacing(4)
        for name, action in pages:
            rows.addWidget(_RailButton(theme, name, action, self))
        rows.addStretch(1)
        self.fit(0)
        theme.changed.connect(self.update)

    def fit(self, window_width: int) -> None:
        """Takes the width that suits a window of this width."""
        self.setFixedWidth(self._theme.px(WIDE if window_width >= WIDE_FROM else NARROW))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.colour("rail"))
        painter.setPen(self._theme.colour("hairline"))
        painter.drawLine(self.width() - 1, 0, self.width() - 1, self.height())


class _RailButton(QAbstractButton):
    """A drawing over its word; a bar at the edge marks the page that is open, so not by colour alone."""

    def __init__(self, theme: Theme, name: str, action: QAction, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme, self._name, self._action = theme, name, action
        self.setCheckable(True)
        self.setChecked(action.isChecked())
        self.setText(action.text().replace("&", ""))
        self.setAccessibleName(tr("Page {name}", name=self.text()))
        self.setToolTip(f"{self.text()} ({action.shortcut().toString()})")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        # by itself `clicked` is not enough: a screen reader toggles what can be checked
        self.toggled.connect(self._on_toggled)
        self.clicked.connect(lambda: action.trigger())
        action.toggled.connect(self.setChecked)

    def sizeHint(self) -> QSize:
        return QSize(self._theme.px(NARROW), self._theme.px(56))

    def _on_toggled(self, on: bool) -> None:
        if on and not self._action.isChecked():
            self._action.trigger()
        self.setChecked(self._action.isChecked())

    def nextCheckState(self) -> None:
        """The action says which page is open; a click does not."""

    def enterEvent(self, event: QEvent) -> None:
        self.update()

    def leaveEvent(self, event: QEvent) -> None:
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, on = self._theme, self.isChecked()
        ink = theme.colour("juniper" if on else "ink" if self.underMouse() else "quiet")
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if on:
            painter.fillRect(0, 6, 3, self.height() - 12, ink)
        size = theme.px(ICON)
        painter.drawPixmap(
            (self.width() - size) // 2, theme.px(7), pixmap(self._name, ink, size, self.devicePixelRatioF())
        )
        painter.setPen(ink)
        painter.setFont(theme.font(CAPTION, bold=on))
        words = QRect(0, theme.px(32), self.width(), theme.px(18))
        painter.drawText(words, Qt.AlignmentFlag.AlignCenter, self.text())
        if self.hasFocus():
            painter.setPen(QPen(theme.colour("juniper"), 2))
            painter.drawRoundedRect(self.rect().adjusted(6, 2, -4, -2), 4, 4)

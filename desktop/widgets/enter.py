# SPDX-License-Identifier: MIT
"""Buttons of a page that Enter clicks too: by itself Qt does so in dialogs only, and a hand that kept twenty answers by Enter
expects it. A shortcut of the button, not the page's keyPressEvent: the key that brought the focus here must not click it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QPushButton


def clicked_by_enter(*buttons: QPushButton) -> None:
    """Lets Enter on a button that has the focus click it."""
    for button in buttons:
        for key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            shortcut = QShortcut(QKeySequence(key), button)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(button.click)

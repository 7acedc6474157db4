# SPDX-License-Identifier: MIT
"""Fields and rows emptied for good. Ctrl+Z in a field must not bring an accepted figure back, which one Enter would
book a second time. `QLineEdit.clear` keeps what undo brings back."""

from __future__ import annotations

from PySide6.QtWidgets import QLayout, QLineEdit


def empty(*edits: QLineEdit) -> None:
    """Empties them for good."""
    for edit in edits:
        edit.setText("")


def take_out(row: QLayout) -> None:
    """Takes every part out of a layout. They are deleted in a later turn, and what is drawn before that is without them."""
    while (item := row.takeAt(0)) is not None:
        part = item.widget()
        if part is not None:
            part.hide()
            part.deleteLater()

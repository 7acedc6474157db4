# SPDX-License-Identifier: MIT
"""Fields emptied after what stood in them was taken: Ctrl+Z there must not bring an accepted figure back, which one Enter would
book a second time. `QLineEdit.clear` keeps what undo brings back."""

from __future__ import annotations

from PySide6.QtWidgets import QLineEdit


def empty(*edits: QLineEdit) -> None:
    """Empties them for good."""
    for edit in edits:
        edit.setText("")

# SPDX-License-Identifier: MIT
"""One field of a form: its caption above, the editor, and the sentence beside it when something is wrong."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QLabel, QVBoxLayout, QWidget


class Field(QWidget):
    """A caption over an editor with room for one sentence below, shown only when there is one."""

    def __init__(self, caption: str, editor: QWidget, parent: QWidget | None = None, *, tip: str = "") -> None:
        super().__init__(parent)
        self.editor = editor
        self.caption = QLabel(caption, self)
        self.caption.setProperty("role", "caption")
        self.caption.setWordWrap(True)
        self.caption.setBuddy(editor)
        editor.setAccessibleName(caption)
        if isinstance(editor, QComboBox) and (line := editor.lineEdit()) is not None:
            line.setAccessibleName(caption)
        editor.setToolTip(tip)
        self.remark = QLabel(self)
        self.remark.setWordWrap(True)
        self.remark.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        for part in (self.caption, editor, self.remark):
            column.addWidget(part)

    @property
    def is_wrong(self) -> bool:
        """Whether the sentence shown says that this cannot be kept."""
        return not self.remark.isHidden() and self.remark.property("role") == "wrong"

    def say(self, sentence: str, role: str = "wrong") -> None:
        """Shows a sentence, '' none; role 'wrong' forbids keeping, 'quiet' and 'amber' only tell."""
        if self.remark.property("role") != role:
            self.remark.setProperty("role", role)
            self.remark.style().unpolish(self.remark)
            self.remark.style().polish(self.remark)
        self.remark.setText(sentence)
        self.remark.setVisible(bool(sentence))
        self.editor.setAccessibleDescription(sentence)

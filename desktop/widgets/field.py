# SPDX-License-Identifier: MIT
"""One field of a form: its caption above, the editor, and the sentence beside it when something is wrong."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QLabel, QSizePolicy, QVBoxLayout, QWidget

# Keeps the line of a sentence where there is none.
NO_SENTENCE = "\u00a0"


class Field(QWidget):
    """A caption over an editor with room for one sentence below, shown only when there is one; `reserve` keeps its line free, so
    that nothing below moves when it comes."""

    def __init__(
        self, caption: str, editor: QWidget, parent: QWidget | None = None, *, tip: str = "", reserve: bool = False
    ) -> None:
        super().__init__(parent)
        self.editor = editor
        self._none = NO_SENTENCE if reserve else ""
        self.caption = QLabel(caption, self)
        self.caption.setProperty("role", "caption")
        self.caption.setWordWrap(True)
        self.caption.setBuddy(editor)
        editor.setAccessibleName(caption)
        if isinstance(editor, QComboBox) and (line := editor.lineEdit()) is not None:
            line.setAccessibleName(caption)
        editor.setToolTip(tip)
        self.remark = QLabel(self._none, self)
        self.remark.setWordWrap(True)
        self.remark.setVisible(reserve)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        for part in (self.caption, editor, self.remark):
            column.addWidget(part)
        if not editor.sizePolicy().verticalPolicy().value & QSizePolicy.PolicyFlag.ExpandFlag.value:
            # where the sentence of a neighbour makes the row higher, the editor stays in its place
            column.addStretch(0)

    @property
    def is_wrong(self) -> bool:
        """Whether the sentence shown says that this cannot be kept."""
        return bool(self.remark.text().strip()) and self.remark.property("role") == "wrong"

    def say(self, sentence: str, role: str = "wrong") -> None:
        """Shows a sentence, '' none; role 'wrong' forbids keeping, 'quiet' and 'amber' only tell."""
        if self.remark.property("role") != role:
            self.remark.setProperty("role", role)
            self.remark.style().unpolish(self.remark)
            self.remark.style().polish(self.remark)
        self.remark.setText(sentence or self._none)
        self.remark.setVisible(bool(sentence or self._none))
        self.editor.setAccessibleDescription(sentence)

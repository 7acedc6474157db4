# SPDX-License-Identifier: MIT
"""Narrow fields side by side, the sentence of each below it as wide as the page: nothing jumps when one comes."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QGridLayout

from desktop.theme import CAPTION, Theme
from desktop.widgets.field import Field
from desktop.widgets.labels import label

# Between a field and its sentence, px. Not the spacing of the rows, which even an empty one would take.
GAP = 2


class FieldRow(QGridLayout):
    """The fields with their widths in px; a line is kept free for the first sentence."""

    def __init__(self, theme: Theme, fields: Sequence[tuple[Field, int]]) -> None:
        super().__init__()
        self._theme = theme
        self._widths = tuple(fields)
        self.setHorizontalSpacing(12)
        self.setVerticalSpacing(0)
        self.restyle()
        theme.changed.connect(self.restyle)
        for at, (field, _) in enumerate(fields):
            self.addWidget(field, 0, at, Qt.AlignmentFlag.AlignTop)
            field.remark.setContentsMargins(0, GAP, 0, 0)
            # a row each, so that two sentences do not lie upon each other
            self.addWidget(field.remark, 1 + at, at, 1, len(fields) + 1 - at)
        self.setColumnStretch(len(fields), 1)
        # as high as a sentence is in the style in force, beside all of them: room for whichever comes first
        free = label("\u00a0", wrap=True)
        free.setContentsMargins(0, GAP, 0, 0)
        self.addWidget(free, 1, len(fields), len(fields), 1)

    def restyle(self) -> None:
        """Takes the widths from the theme anew: a caption that does not fit would push its field out of the row."""
        metrics = QFontMetrics(self._theme.font(CAPTION))
        for field, width in self._widths:
            most = self._theme.px(width)
            field.setMaximumWidth(most)
            field.setMinimumWidth(min(most, metrics.horizontalAdvance(field.caption.text()) + 2))

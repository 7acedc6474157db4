# SPDX-License-Identifier: MIT
"""Narrow fields side by side, the sentence of each below it as wide as the page: nothing jumps when one comes."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout

from desktop.theme import Theme
from desktop.widgets.field import Field
from desktop.widgets.labels import label


class FieldRow(QGridLayout):
    """The fields with their widths in px; a line is kept free for the first sentence."""

    def __init__(self, theme: Theme, fields: Sequence[tuple[Field, int]]) -> None:
        super().__init__()
        self.setHorizontalSpacing(12)
        self.setVerticalSpacing(2)
        for at, (field, width) in enumerate(fields):
            field.setMaximumWidth(theme.px(width))
            self.addWidget(field, 0, at, Qt.AlignmentFlag.AlignTop)
            # a row each, so that two sentences do not lie upon each other
            self.addWidget(field.remark, 1 + at, at, 1, len(fields) + 1 - at)
        self.setColumnStretch(len(fields), 1)
        # as high as a sentence is in the style in force
        self.addWidget(label("\u00a0", wrap=True), 1, len(fields))

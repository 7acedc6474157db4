# SPDX-License-Identifier: MIT
"""The conditions of a sitting, kept as they are typed."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.conditions import MARKS, ROOM
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Refused, Sitting

# a field of a figure is as wide as the figure, but for the sentence of one that cannot be
NARROW, WIDE = 96, 200


class Conditions(QWidget):
    """Purpose, room and nose. Each is put into the book when its field is left, or at once for a mark."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._sitting: Sitting | None = None
        self.purpose, self.temp, self.humidity = QLineEdit(self), QLineEdit(self), QLineEdit(self)
        self.purpose_field = Field(tr("purpose"), self.purpose, tip=tr("What this sitting is to find out"))
        self.temp_field = Field(tr("room °C"), self.temp, tip=tr("The temperature of the room"))
        self.humidity_field = Field(tr("RH %"), self.humidity, tip=tr("The relative humidity of the room"))
        self.marks = {name: QCheckBox(mark.caption, self) for name, mark in MARKS.items()}
        row, marks = QHBoxLayout(), QHBoxLayout()
        for line in (row, marks):
            line.setSpacing(12)
        top = Qt.AlignmentFlag.AlignTop
        row.addWidget(self.purpose_field, 1, top)
        for field in (self.temp_field, self.humidity_field):
            field.setMaximumWidth(session.theme.px(NARROW))
            row.addWidget(field, 0, top)
        for name, box in self.marks.items():
            box.setToolTip(MARKS[name].tip)
            box.toggled.connect(lambda on, name=name: self._on_mark_toggled(name, on))
            marks.addWidget(box)
        marks.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(row)
        column.addLayout(marks)
        self.purpose.editingFinished.connect(lambda: self._keep(purpose=self.purpose.text().strip()))
        self.temp.editingFinished.connect(lambda: self._keep_figure("temp_c", self.temp_field))
        self.humidity.editingFinished.connect(lambda: self._keep_figure("rh_percent", self.humidity_field))

    def show_sitting(self, sitting: Sitting | None) -> None:
        """Shows the conditions of a sitting; what is being typed stays."""
        is_other = (None if sitting is None else sitting.key) != (None if self._sitting is None else self._sitting.key)
        self._sitting = sitting
        self.setEnabled(sitting is not None)
        if sitting is None:
            return
        shown = (
            (self.purpose_field, self.purpose, sitting.purpose), (self.temp_field, self.temp, _figure(sitting.temp_c)),
            (self.humidity_field, self.humidity, _figure(sitting.rh_percent)),
        )  # fmt: skip
        for field, line, text in shown:
            # what is being typed, and what could not be read, stays
            if is_other or not (line.hasFocus() or field.is_wrong):
                line.setText(text)
                # a long purpose is read from its beginning
                line.setCursorPosition(0)
        for name, box in self.marks.items():
            box.setChecked(getattr(sitting, name))
        if is_other:
            for field in (self.purpose_field, self.temp_field, self.humidity_field):
                self._say(field, "")

    def _on_mark_toggled(self, name: str, on: bool) -> None:
        if self._sitting is not None and getattr(self._sitting, name) is not on:
            self._keep(**{name: on})

    def _keep_figure(self, name: str, field: Field) -> None:
        line = field.editor
        assert isinstance(line, QLineEdit)
        try:
            value = ROOM[name](line.text()) if line.text().strip() else None
        except Refused as refused:
            self._say(field, wording.sentences(refused.findings))
            return
        self._say(field, "")
        self._keep(**{name: value})

    def _say(self, field: Field, sentence: str) -> None:
        if field is not self.purpose_field:
            field.setMaximumWidth(self._session.theme.px(WIDE if sentence else NARROW))
        field.say(sentence)

    def _keep(self, **conditions: Any) -> None:
        sitting = self._sitting
        if sitting is None or sitting.key is None or all(getattr(sitting, name) == value for name, value in conditions.items()):
            return
        kept = self._session.attempt(self._session.book.sittings.set, sitting.key, **conditions)
        if kept is not None:
            self._sitting = kept


def _figure(value: float | None) -> str:
    return "" if value is None else figures.parts(value)
